"""The steps of an option as the page lays them out: a caution whole where it begins, then short."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from needlewright.papers.plan_sheet import beginning_of

Document = Mapping[str, Any]
LONG: Final = 6
"""Lines of a list from which the page folds it, with their number."""


@dataclass(frozen=True, slots=True)
class CautionAgain:
    """A caution that was said whole at a step before.

    Parameters
    ----------
    short
        Its first words.
    whole
        All of it.
    step
        Number of the step at which it began, from 1.
    """

    short: str
    whole: str
    step: int


@dataclass(frozen=True, slots=True)
class StepShown:
    """A step with its cautions parted.

    Parameters
    ----------
    number
        From 1.
    step
        As the plan's document has it.
    begins
        Cautions that are said here first.
    again
        Those that were said before and hold here too.
    """

    number: int
    step: Document
    begins: tuple[str, ...]
    again: tuple[CautionAgain, ...]


def steps_shown(option: Document) -> tuple[StepShown, ...]:
    """Part the cautions of an option's steps: none is left out at any of them.

    Parameters
    ----------
    option
        Of a plan's document.

    Returns
    -------
    tuple of StepShown
        In the order of the work.
    """
    return tuple(_shown(option["steps"]))


def is_long(lines: Sequence[object]) -> bool:
    """Whether a list is folded."""
    return len(lines) > LONG


def _shown(steps: Sequence[Document]) -> Iterator[StepShown]:
    begun: dict[str, int] = {}
    for number, step in enumerate(steps, start=1):
        first = {one: begun.setdefault(one, number) for one in step["cautions"]}
        yield StepShown(
            number,
            step,
            tuple(one for one, at in first.items() if at == number),
            tuple(
                CautionAgain(beginning_of(one).removesuffix(" …"), one, at)
                for one, at in first.items()
                if at != number
            ),
        )
