"""What the work of a plan is made of, once it is put together with what is ticked of it."""

from dataclasses import dataclass
from typing import Final

from needlewright.records.tick_lines import plan_sheet
from needlewright.records.views import StageState
from needlewright.records.views.plans import AcceptanceView
from needlewright.records.views.ticks import TickView

OF_PLANS: Final = plan_sheet("")


@dataclass(frozen=True, slots=True)
class StepPart:
    """A part a step needs from the stock."""

    id: str
    words: str
    count: int


@dataclass(frozen=True, slots=True)
class RebuildStep:
    """One step of the work.

    Parameters
    ----------
    number
        From 1, in its order.
    key
        The same for the same step of another plan.
    kind
        `open`, `work`, `close` or `check`.
    words, dial, operation
        What is done, to which dial, by which operation of the catalogue.
    minutes
        Expected; None: none are stated, as for a check.
    u_minutes
        Their standard deviation; None: none is stated, as for a check.
    reasons, cautions, parts
        Why; what to mind before it; what is pulled from the stock for it.
    guide
        That tells how; None: there is none.
    guide_missing
        Whether the plan names a guide that is not there, or the work has none.
    done
        Who ticked it and when; under which plan, its `sheet` says.
    notes
        Made at it, oldest first.
    """

    number: int
    key: str
    kind: str
    words: str
    dial: str | None
    operation: str | None
    minutes: float | None
    u_minutes: float | None
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    parts: tuple[StepPart, ...]
    guide: str | None
    guide_missing: bool
    done: TickView | None
    notes: tuple[TickView, ...]


@dataclass(frozen=True, slots=True)
class PulledPart:
    """A part that is pulled from the stock for the work; ticked once it lies at the bench."""

    key: str
    id: str
    words: str
    count: int
    done: TickView | None


@dataclass(frozen=True, slots=True)
class OlderWork:
    """Something ticked or noted that is no step of the plan as it now is."""

    number: str
    """Of the plan it was done under."""
    line: TickView


@dataclass(frozen=True, slots=True)
class JobRebuild:
    """The work of a job.

    Parameters
    ----------
    tag, version
        Of the job.
    number
        Of its plan.
    option, title
        Whose work it is.
    acceptance
        What the customer agreed to; None: nothing, and the work is that of the recommended option.
    needs_new_acceptance
        Whether they agreed to an older plan, and not to this one.
    steps, parts
        In their order.
    older
        Done or noted, and no line of this work.
    minutes_left, u_minutes_left
        Expected minutes of the steps that are not ticked, and their standard deviation where
        every step is slow or quick by itself.
    guides_trouble
        Why guides of the shop's own or of the family's cannot be used; empty: they can.
    """

    tag: str
    version: int
    number: str
    option: str
    title: str
    acceptance: AcceptanceView | None
    needs_new_acceptance: bool
    steps: tuple[RebuildStep, ...]
    parts: tuple[PulledPart, ...]
    older: tuple[OlderWork, ...]
    minutes_left: float
    u_minutes_left: float
    guides_trouble: str

    @property
    def done(self) -> int:
        """How many steps are ticked."""
        return sum(one.done is not None for one in self.steps)

    @property
    def state(self) -> StageState:
        """As of a part of the work: done once every step is ticked."""
        if not self.steps or not (self.done or any(one.done for one in self.parts)):
            return "to_do"
        return "finished" if self.done == len(self.steps) else "in_hand"

    @property
    def now(self) -> RebuildStep | None:
        """The first step that is not ticked; None: every one is."""
        return next((one for one in self.steps if one.done is None), None)

    @property
    def carried(self) -> tuple[str, ...]:
        """Numbers of older plans under which some of these steps were ticked."""
        sheets = [one.done.sheet for one in self.steps if one.done is not None]
        numbers = dict.fromkeys(sheet.removeprefix(OF_PLANS) for sheet in sheets)
        return tuple(number for number in numbers if number != self.number)
