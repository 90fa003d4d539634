"""The days of a job: a cluster cannot leave before it came."""

from datetime import date

from needlewright.errors import RecordError
from needlewright.records.tables import Job, Received, Returned


def left_before_it_came(received: Received, returned: Returned, today: date | None = None) -> str:
    """What is wrong with the two days.

    Parameters
    ----------
    received
        How it came in.
    returned
        How it goes out.
    today
        Taken for the day of return where none is stated; None: nothing is.

    Returns
    -------
    str
        One clause; empty where nothing is wrong, or a day is not stated.
    """
    leaves = returned.day or today
    if leaves is None or received.day is None or leaves >= received.day:
        return ""
    return (
        f"the day of return, {leaves}, lies before the day of receipt, {received.day}; correct the "
        "one that is wrong"
    )


def refuse_return_before_receipt(job: Job, received: Received, returned: Returned) -> None:
    """Raise RecordError where a job is said to have left before it came."""
    if wrong := left_before_it_came(received, returned):
        raise RecordError(f"job {job.tag}: {wrong}")
