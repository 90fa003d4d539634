"""What a gauge shows with another sender than its own: what is asked and told."""

from dataclasses import dataclass
from typing import Final

from needlewright.errors import SumError
from needlewright.plans.sums.gauge_table import FIVE_POINTS
from needlewright.plans.sums.model import Amount, Figure, Given, Judged, Step, Sum, Told
from needlewright.plans.sums.sender_substitute import shown_with
from needlewright.plans.sums.wording import number
from needlewright.signals.line_table import LineTable

BACKWARDS: Final = (
    "The sender falls where the gauge's own rises: the needle runs backwards, full where it is "
    "empty."
)


@dataclass(frozen=True, slots=True)
class SenderOnGauge:
    """A sender on a gauge; % of full."""

    sender: LineTable
    gauge: LineTable
    shown: tuple[tuple[float, float], ...]
    """What is in the tank, and what is shown."""
    allowed: float

    @property
    def backwards(self) -> bool:
        """Whether more in the tank shows less."""
        return self.shown[-1][1] < self.shown[0][1]

    @property
    def worst(self) -> float:
        """The furthest it shows wrong."""
        return max((shown - there for there, shown in self.shown), key=abs)


def _work(given: Given) -> SenderOnGauge:
    tables = []
    for which, words in (("sender", "Sender, full"), ("gauge", "The gauge's own, full")):
        empty, full = given.number(f"{which}-empty"), given.number(f"{which}-full")
        if empty == full:
            raise SumError(
                f"{words}: {full:g} ohm is what it has empty too; correct one of the two"
            )
        tables.append(LineTable((0.0, 100.0), (empty, full)))
    sender, gauge = tables
    shown = tuple((there, shown_with(gauge, sender, there)) for there in FIVE_POINTS)
    return SenderOnGauge(sender, gauge, shown, given.number("allowed"))


def _told(on: SenderOnGauge) -> Told:
    figures = tuple(
        Figure(f"shows_{there:g}", f"At {there:g} % of full it shows", shown, "%")
        for there, shown in on.shown
    )
    (_, at_empty), last = on.shown[0], on.shown[-1]
    e0, e1 = on.gauge.levels
    sender = on.sender.levels[0]
    return Told(
        figures,
        (
            Step(
                "At empty, linear in ohms",
                "(R − R empty) / (R full − R empty)",
                f"({sender:g} − {e0:g}) / ({e1:g} − {e0:g}) = {number(at_empty)} %",
            ),
            Step("At full", "the same with the sender's full", f"{number(last[1])} %"),
        ),
        (_judged(on),),
        _notes(on),
    )


def _judged(on: SenderOnGauge) -> Judged:
    if on.backwards:
        return Judged("bad", BACKWARDS)
    worst = f"{number(abs(on.worst))} % too {'high' if on.worst > 0 else 'low'}"
    if abs(on.worst) > on.allowed:
        more = " It shows fuel that is not there." if on.worst > 0 else ""
        return Judged("bad", f"It shows up to {worst}: this is not the gauge's sender.{more}")
    return Judged("good", f"It shows at most {worst}: the sender fits the gauge.")


def _notes(on: SenderOnGauge) -> tuple[str, ...]:
    past = [shown for _, shown in on.shown if not -1e-9 <= shown <= 100 + 1e-9]
    if past:
        return ("What is below 0 or above 100 % is past the end marks, or at the stop.",)
    return ()


SENDER_ON_GAUGE: Final = Sum(
    name="sender-on-gauge",
    title="Another sender on a gauge",
    what_for=(
        "What a fuel gauge shows with a sender that is not its own, as when a gauge that always "
        "stands near full is complained of."
    ),
    inputs=(
        Amount("sender-empty", "Sender, empty", "ohm", 0.0, 1e5, 75.0),
        Amount("sender-full", "Sender, full", "ohm", 0.0, 1e5, 10.0),
        Amount(
            "gauge-empty", "The gauge's own, empty", "ohm", 0.0, 1e5, 240.0,
            "known pairs: 240-33, 73-10, 75-10, 0-90, 0-30, 10-180, 16-158, 40-250",
        ),
        Amount("gauge-full", "The gauge's own, full", "ohm", 0.0, 1e5, 33.0),
        Amount("allowed", "It may show wrong by", "%", 0.1, 50.0, 5.0, "of full"),
    ),
    work=_work,
    told=_told,
    source=(
        "Linear in ohms, derivation: (R − R empty) / (R full − R empty) of the gauge's own sender. "
        "Pairs of senders: common practice, no source"
    ),
    limits=(
        "Gauges whose needle follows the resistance in a straight line. Many do not between their "
        "ends: measure three points before a verdict."
    ),
    drawing="What is shown over what is in the tank, beside the line of a gauge that is right.",
    cautions=(
        "Petrol vapour burns: no work at the tank or its sender, and no sparks near it.",
    ),
)  # fmt: skip
