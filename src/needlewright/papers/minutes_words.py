"""Minutes of work with how far they vary, said one way on papers, pages and in commands."""

from typing import Final

from needlewright.papers.wording import grouped, plus_minus

COARSE: Final = 0.95
"""Standard deviation, min, from which whole minutes say it."""


def minutes_words(minutes: float, u_minutes: float | None) -> str:
    """Minutes and their spread.

    Parameters
    ----------
    minutes
        Expected, min.
    u_minutes
        Their standard deviation, min; None: not known.

    Returns
    -------
    str
        `134 ± 8`; with a decimal where the spread is below a minute, `2.5 ± 0.8`: never `± 0`.
        Minutes that do not vary stand alone.
    """
    if u_minutes is None or u_minutes == 0:
        return grouped(minutes, 0 if minutes == round(minutes) or u_minutes is None else 1)
    if u_minutes >= COARSE:
        return f"{grouped(minutes)} ± {grouped(u_minutes)}"
    return plus_minus(minutes, u_minutes, 1)
