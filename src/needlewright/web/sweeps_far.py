"""How far the sweep videos of a job are, all together."""

from needlewright.records.views.sweeps import SweepView
from needlewright.web.pages import Asking


def shares(asked: Asking, sweeps: tuple[SweepView, ...]) -> tuple[int, int, str | None]:
    """How far they are.

    Parameters
    ----------
    asked
        The request.
    sweeps
        Of the job.

    Returns
    -------
    tuple
        Hundredths of videos done, of how many, and what keeps them from being followed.
    """
    done, trouble = 0, None
    for sweep in sweeps:
        if sweep.followed_at is not None:
            done += 100
            continue
        far = asked.house.sweeps.following(sweep.id)
        done += min(99, 100 * far.read // far.of) if far.of else 0
        trouble = far.trouble
    return done, 100 * len(sweeps), trouble
