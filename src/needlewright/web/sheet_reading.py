"""How far the reading of a job's photos is."""

from needlewright.web.background import Outlook
from needlewright.web.pages import Asking


def wake(asked: Asking) -> None:
    """Say that photos were added."""
    asked.house.reading.wake()


def outlook(asked: Asking, tag: str) -> Outlook:
    """How far the photos of a job are.

    Parameters
    ----------
    asked
        The request.
    tag
        Of the job, as the records write it.

    Returns
    -------
    Outlook
        Of this moment.
    """
    return asked.house.reading.outlook(tag)
