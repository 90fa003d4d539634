"""What a tolerance rule is to the rest of the project."""

from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits of the shown value at one true value, in the dial's unit; None: not limited."""

    lower: float | None
    upper: float | None
    lower_slope: float = 1.0
    """How far the lower limit moves per unit of true value; an uncertain stimulus enters by it."""
    upper_slope: float = 1.0
    """How far the upper limit moves per unit of true value."""

    def margin(self, shown: float) -> float:
        """Distance to the nearer limit, negative outside; infinite where nothing limits."""
        return min(
            float("inf") if self.lower is None else shown - self.lower,
            float("inf") if self.upper is None else self.upper - shown,
        )


class Rule(Protocol):
    """A tolerance rule bound to one dial's unit and scale."""

    @property
    def code(self) -> str:
        """As a family names it: `un-r39`, `us-393.82`, `jp-148`, `house`."""

    @property
    def title(self) -> str:
        """For people and papers."""

    @property
    def source(self) -> str:
        """Document and clause."""

    @property
    def formula(self) -> str:
        """What must hold, V1 shown and V2 true, for people and papers."""

    @property
    def applies(self) -> str:
        """Where the rule is applied, for people and papers."""

    @property
    def unit(self) -> str:
        """Unit of every value that goes in or comes out: the dial's."""

    @property
    def allows_reading_low(self) -> bool:
        """Whether a shown value below the true one can conform."""

    def limits(self, true_value: float) -> Limits | None:
        """Limits of the shown value at a true value; None where the rule says nothing."""

    def check_points(self) -> tuple[float, ...]:
        """True values a complete check must contain, for the dial's range; empty: none named."""

    def covers(self, point: float, true_value: float, shown: float) -> bool:
        """Whether a row told `true_value` and showing `shown` stands for that check point."""
