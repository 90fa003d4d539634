"""Straight lines between the points of a table, both ways."""

from bisect import bisect_right
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class LineTable:
    """Values and the level that states each: values rise, levels rise or fall all the way."""

    values: tuple[float, ...]
    levels: tuple[float, ...]

    def level_of(self, value: float) -> float:
        """The level that states a value; the end lines are continued past the ends."""
        i = _segment(self.values, value)
        v0, v1 = self.values[i], self.values[i + 1]
        l0, l1 = self.levels[i], self.levels[i + 1]
        return l0 + (value - v0) * (l1 - l0) / (v1 - v0)

    def value_at(self, level: float) -> float:
        """The value a level states; the end lines are continued past the ends."""
        i = self._segment_at(level)
        v0, v1 = self.values[i], self.values[i + 1]
        l0, l1 = self.levels[i], self.levels[i + 1]
        return v0 + (level - l0) * (v1 - v0) / (l1 - l0)

    def slope_at(self, level: float) -> float:
        """Units of value for one unit of the level, without sign."""
        i = self._segment_at(level)
        rise = self.levels[i + 1] - self.levels[i]
        return abs((self.values[i + 1] - self.values[i]) / rise)

    def _segment_at(self, level: float) -> int:
        sense = 1.0 if self.levels[-1] > self.levels[0] else -1.0
        return _segment(tuple(sense * each for each in self.levels), sense * level)


def _segment(rising: tuple[float, ...], at: float) -> int:
    return min(max(bisect_right(rising, at) - 1, 0), len(rising) - 2)
