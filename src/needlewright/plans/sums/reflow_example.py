"""An invented recording of two thermocouples, for the page to begin with."""

from itertools import pairwise
from typing import Final

BOARD: Final = (
    (0.0, 24.0), (20.0, 50.0), (74.0, 150.0), (164.0, 201.0), (178.0, 217.0), (206.0, 243.0),
    (216.0, 245.0), (226.0, 242.0), (252.0, 210.0), (300.0, 110.0), (340.0, 70.0),
)  # fmt: skip
CONNECTOR: Final = (
    (0.0, 24.0), (30.0, 50.0), (92.0, 150.0), (182.0, 201.0), (194.0, 217.0), (214.0, 231.0),
    (222.0, 232.0), (232.0, 230.0), (258.0, 204.0), (308.0, 110.0), (340.0, 80.0),
)  # fmt: skip
"""Seconds and degC: knots of straight lines. Invented: a connector's body lags behind the board."""
EVERY_S: Final = 4


def _at(knots: tuple[tuple[float, float], ...], t_s: float) -> float:
    (t0, c0), (t1, c1) = next(pair for pair in pairwise(knots) if t_s <= pair[1][0])
    return c0 + (c1 - c0) * (t_s - t0) / (t1 - t0)


def _rows() -> str:
    times = range(0, round(BOARD[-1][0]) + 1, EVERY_S)
    return "".join(f"{t},{_at(BOARD, t):.1f},{_at(CONNECTOR, t):.1f}\n" for t in times)


EXAMPLE: Final = "time_s,board_c,connector_c\n" + _rows()
