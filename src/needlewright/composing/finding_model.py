"""The findings of a job as they are shown: cards, evidence, and what to do next."""

from dataclasses import dataclass
from typing import Final, Literal

from needlewright.composing.after_work import AfterWork
from needlewright.composing.evidence_piece import Place
from needlewright.findings.signatures.words import LIKELY, PROBABLE
from needlewright.findings.troubleshooting.next_test import Kind
from needlewright.records.views import OpinionView

Sureness = Literal["most probably", "probably", "not certain"]
"""As docs/findings.md states them: from 0.9, from 0.6, and below."""
System = Literal["lamps", "display", "supply", "board", "vehicle"]
SYSTEMS: Final[dict[System, tuple[str, ...]]] = {
    "lamps": ("lamp_out", "lamp_dim", "tell_tale_dead"),
    "display": ("display_dim", "display_dead"),
    "supply": ("supply_joint",),
    "board": ("corrosion",),
    "vehicle": ("ground", "bus", "battery"),
}
"""Causes of the whole by system; one that is named nowhere belongs to the board, or the vehicle."""
HOUR: Final = 60
"""Minutes."""
StepKind = Kind | Literal["finish_run", "mend", "prove", "over"]
Speaks = Literal["for", "against", "neither"]
Outcome = Literal["sound", "faulty", "undecided"]


@dataclass(frozen=True, slots=True)
class Share:
    """One cause, or `sound`, with its probability."""

    cause: str
    words: str
    probability: float
    inside: bool


@dataclass(frozen=True, slots=True)
class PartShare:
    """One part inside a dial, with the probability that its fault lies there."""

    part: str
    words: str
    probability: float


@dataclass(frozen=True, slots=True)
class Seen:
    """One piece of evidence on a card.

    Parameters
    ----------
    kind
        `answer`: a person answered; `run`: a dial weighed by a run; `seen`: an analysis.
    words
        Sentences for people.
    seen_in
        Where, in words.
    speaks
        For something being wrong, against it, or for neither.
    strength
        How strongly, in words; empty where it cannot be put in one figure.
    finding, dial, yes
        Of an answer: which, and what was said; else what it speaks of, and None.
    at
        Where it can be looked at.
    counts
        False where a person's answer stands in for it.
    rehearsed
        What was rehearsed, with the number that chance was begun with, as the records keep it;
        None: a real cluster was seen, or a person answered.
    """

    kind: Literal["answer", "run", "seen"]
    words: str
    seen_in: str
    speaks: Speaks
    strength: str
    finding: str | None
    dial: str | None
    yes: bool | None
    at: Place | None
    counts: bool = True
    rehearsed: str | None = None


@dataclass(frozen=True, slots=True)
class Card:
    """What is believed of one dial or one system.

    Parameters
    ----------
    id
        The dial's id, or the system.
    dial
        Its id; None: of a system.
    system
        None: of a dial.
    title
        For people.
    shares
        Its causes and `sound`, most probable first. Those of a dial exclude one another and add up
        to one; causes of a system may be there together, and `sound` is that none is.
    faulty
        Probability that anything of it is wrong.
    verdict
        The sentence on top; of what nothing was seen, that it was not.
    sureness
        How sure the tool is of it.
    parts
        Of a dial, most probable first; what is missing to one is a sound dial, or a cause in no
        part that is told apart.
    evidence
        What it rests on, what speaks first.
    opinion
        What a person decided; it stands over what the tool says.
    older_opinions
        Those it took the place of, newest first.
    """

    id: str
    dial: str | None
    system: System | None
    title: str
    shares: tuple[Share, ...]
    faulty: float
    verdict: str
    sureness: Sureness
    parts: tuple[PartShare, ...]
    evidence: tuple[Seen, ...]
    opinion: OpinionView | None
    older_opinions: tuple[OpinionView, ...]

    @property
    def top(self) -> Share:
        """The most probable of its shares."""
        return self.shares[0]

    @property
    def is_unseen(self) -> bool:
        """Whether nothing was seen, said or decided of it, and nothing else points at it.

        Its shares then are how often each cause is met, which is no finding.
        """
        return self.top.cause == "sound" and not self.evidence and self.opinion is None

    @property
    def overruled(self) -> bool:
        """Whether a person decided otherwise than the tool says now."""
        if self.opinion is None:
            return False
        decided = set(self.opinion.decided) or {"sound"}
        return self.top.cause not in decided


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that can be done next.

    Parameters
    ----------
    kind
        `test`, `send` to the bench, or a way to stop: `run_as_found` before anything is opened,
        `open`, `outside`, `sound`. Once a run as left was begun, what that asks for: `finish_run`
        (also to look again at what was wrong and was not seen as left), `mend` what is still
        wrong, `prove` it by a paper, or `over`.
    finding
        Of a test: what is answered by it; else None.
    dial
        Of which dial.
    words
        For people.
    reason
        Why, in a sentence.
    minutes
        What it takes itself; None of a stop.
    expected_minutes
        Of the whole search that begins with it; None after the work.
    spares_minutes
        Of a test: what it spares against the best way to stop, on average.
    yes
        Of a test: how likely the answer is yes.
    then
        Of a stop: what is tried in which order, in words; after the work, what it is about.
    """

    kind: StepKind
    finding: str | None
    dial: str | None
    words: str
    reason: str
    minutes: float | None
    expected_minutes: float | None
    spares_minutes: float | None
    yes: float | None
    then: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """A question or test that can be answered at any time."""

    finding: str
    dial: str | None
    place: str
    words: str
    minutes: float
    answer: bool | None
    """None: none that counts."""
    not_known: bool
    """It was asked, and is not known."""


@dataclass(frozen=True, slots=True)
class CustomerText:
    """A text to the customer, to be copied."""

    outcome: Outcome
    text: str


@dataclass(frozen=True, slots=True)
class JobFindings:
    """What is believed of a job, why, and what to do next.

    Parameters
    ----------
    tag, family
        Of the job.
    at
        Where the cluster is: `asking`, `vehicle`, `bench`.
    complaint
        In the owner's words, as the job holds it; no evidence.
    named
        Dials that the complaint in words names: what to ask about first. The words are read for
        nothing else.
    complained
        Whether anything at all speaks for a fault.
    cards
        Dials in the family's order, then systems.
    steps
        Best first; empty while nothing speaks for a fault.
    questions
        All there are, with their answers.
    contradictions
        What does not go together, in sentences.
    not_used
        What was left out, and why.
    outcome
        Which text fits.
    texts
        For each outcome one, that which fits first.
    after_work
        Lamps and currents as left beside as found; None: no run as left looked at any. It says what
        the work did, speaks of no cause and teaches nothing.
    learned_from
        Finished jobs of the shop that moved the priors.
    version
        Of the job sheet.
    """

    tag: str
    family: str
    at: str
    complaint: str
    named: tuple[str, ...]
    complained: bool
    cards: tuple[Card, ...]
    steps: tuple[Step, ...]
    questions: tuple[Question, ...]
    contradictions: tuple[str, ...]
    not_used: tuple[str, ...]
    outcome: Outcome
    texts: tuple[CustomerText, ...]
    after_work: AfterWork | None
    learned_from: int
    version: int

    def card(self, name: str) -> Card:
        """The card of a dial or a system."""
        return next(one for one in self.cards if one.id == name)


def sureness_of(probability: float) -> Sureness:
    """The words for a probability, as docs/findings.md measured them."""
    if probability >= LIKELY:
        return "most probably"
    return "probably" if probability >= PROBABLE else "not certain"


def about(minutes: float) -> str:
    """A time for people: minutes below an hour, then to ten minutes."""
    if minutes < HOUR - 0.5:
        return f"about {minutes:.0f} min"
    hours, rest = divmod(10 * round(minutes / 10), HOUR)
    return f"about {hours} h {rest} min" if rest else f"about {hours} h"
