"""How far the reading of a job's photos is."""

from needlewright.web.background import Outlook, ReadingQueue
from needlewright.web.pages import Asking

NOBODY = Outlook(0, 0, None, None)


def wake(asked: Asking) -> None:
    """Say that photos were added."""
    queue = _queue(asked)
    if queue is not None:
        queue.wake()


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
    queue = _queue(asked)
    return NOBODY if queue is None else queue.outlook(tag)


def _queue(asked: Asking) -> ReadingQueue | None:
    queue = getattr(asked.request.app.state, "reading", None)
    return queue if isinstance(queue, ReadingQueue) else None
