"""What is known of causes, of what they show, and of what cures them."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

Scope = Literal["dial", "whole"]
"""Whether there is one of it for every dial, or one for the whole cluster and vehicle."""
SOUND: Final = "sound"
Place = Literal["asked", "vehicle", "bench"]
"""Where a finding is made: told by the owner, seen in the vehicle, seen at the bench."""


@dataclass(frozen=True, slots=True)
class Cause:
    """Something that can be wrong.

    Parameters
    ----------
    code
        Of the vocabulary of faults.
    scope
        Of which there is one a dial, or one for all. The causes of a dial exclude one another;
        those of the whole do not.
    inside
        Whether it lies in the cluster; else in the vehicle.
    prior
        Its probability beforehand, nothing that leads to it being there: of one dial, or of the
        whole.
    words
        For people.
    brings
        Causes it leads to, with the probability that it does.
    parts
        Of a cause of a dial: in which part it lies, how often of all times it is there; sums to
        one. Empty: in none that is told apart.
    source
        Where the figures come from.
    """

    code: str
    scope: Scope
    inside: bool
    prior: float
    words: str
    brings: Mapping[str, float]
    parts: Mapping[str, float]
    source: str

    @property
    def states(self) -> tuple[str, ...]:
        """Of a dial that has it: `code/part` for each of its parts, `code` without any."""
        return tuple(f"{self.code}/{part}" for part in self.parts) or (self.code,)


@dataclass(frozen=True, slots=True)
class Finding:
    """A question or a test with two answers, and how often each cause says yes.

    Parameters
    ----------
    id
        Its name.
    scope
        Whether it is asked of every dial, or once.
    place
        Where it is found out.
    words
        The question, for people; `{dial}` stands for the dial.
    shown_by
        Probability by cause that it alone makes the answer yes; `code/part` goes before `code`.
    otherwise
        Probability of a yes without any cause.
    minutes
        What it takes.
    risk_minutes
        What it may spoil, as expected minutes of more work.
    opens
        Whether it is asked of every dial; the others are asked of dials with a yes.
    source
        Where the figures come from.
    """

    id: str
    scope: Scope
    place: Place
    words: str
    shown_by: Mapping[str, float]
    otherwise: float
    minutes: float
    risk_minutes: float
    opens: bool
    source: str

    @property
    def cost_minutes(self) -> float:
        """What it takes and may spoil."""
        return self.minutes + self.risk_minutes


@dataclass(frozen=True, slots=True)
class Remedy:
    """What may be done about causes.

    Parameters
    ----------
    id
        Its name.
    scope
        Whether it is done to one dial, or once.
    inside
        Whether the cluster must be open for it.
    words
        For people; `{dial}` stands for the dial.
    cures
        Probability by cause that it takes it away; `code/part` goes before `code`.
    minutes
        What it takes, parts included at the shop's rate.
    source
        Where the figures come from.
    includes
        Ids of remedies that are done with it: not tried after it, and what they cure it cures.
    """

    id: str
    scope: Scope
    inside: bool
    words: str
    cures: Mapping[str, float]
    minutes: float
    source: str
    includes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Work:
    """What it takes to come to the inside of a cluster, minutes."""

    send_minutes: float
    """Taken out of the vehicle, packed, sent, and put back."""
    open_minutes: float
    """Opened at the bench and closed."""
    check_minutes: float
    """A check after a remedy."""
    give_up_minutes: float
    """Nothing helped: another cluster is found and fitted."""
    source: str


@dataclass(frozen=True, slots=True)
class Knowledge:
    """The whole knowledge file, checked."""

    causes: Mapping[str, Cause]
    findings: Mapping[str, Finding]
    remedies: Mapping[str, Remedy]
    work: Work
    prior_weight: float
    """Cases the priors are worth against those a shop has seen."""
    parts: Mapping[str, str]
    """Parts inside a dial, with their words for people."""
    pointing: float
    """How much likelier an analysis that points at a part points at the right one than at
    another."""

    def of_scope(self, scope: Scope) -> tuple[Cause, ...]:
        """Its causes of one scope; of the whole, a cause after those that lead to it."""
        found = tuple(cause for cause in self.causes.values() if cause.scope == scope)
        return found if scope == "dial" else _led_to_last(found)

    @property
    def states(self) -> tuple[str, ...]:
        """What a dial can be: `sound`, or one of its causes in one of its parts."""
        return (SOUND, *(state for cause in self.of_scope("dial") for state in cause.states))


@dataclass(frozen=True, slots=True)
class Answer:
    """What was found out.

    Parameters
    ----------
    finding
        Id of the finding.
    yes
        The answer.
    dial
        Of which dial; None: of the whole.
    """

    finding: str
    yes: bool
    dial: str | None = None


@dataclass(frozen=True, slots=True)
class Weighed:
    """What an analysis says of one dial: how likely what it saw is under each cause.

    Parameters
    ----------
    dial
        Its id.
    likelihood
        By code, `sound` included, in any common unit, `code/part` before `code`; a code that is
        not there could show anything and gets the mean of those that are.
    said_by
        What says so, for people.
    instead_of
        Id of the finding that it answers with more than yes and no, which then is not asked any
        more; None: of none.
    """

    dial: str
    likelihood: Mapping[str, float]
    said_by: str
    instead_of: str | None = None


def code_of(state: str) -> str:
    """Of `code/part`, the code."""
    return state.partition("/")[0]


def part_of(state: str) -> str | None:
    """Of `code/part`, the part; None: in none that is told apart."""
    return state.partition("/")[2] or None


def of_state(shares: Mapping[str, float], state: str, otherwise: float = 0.0) -> float:
    """What a table says of a state: `code/part` goes before `code`.

    Parameters
    ----------
    shares
        By `code` or `code/part`.
    state
        Of a dial.
    otherwise
        Where it says nothing.

    Returns
    -------
    float
        Its figure.
    """
    return shares.get(state, shares.get(code_of(state), otherwise))


def _led_to_last(causes: tuple[Cause, ...]) -> tuple[Cause, ...]:
    """Every cause after those that lead to it; the file has no circle."""
    left, ordered = list(causes), list[Cause]()
    while left:
        ready = [one for one in left if not any(one.code in other.brings for other in left)]
        ordered += ready
        left = [one for one in left if one not in ready]
    return tuple(ordered)
