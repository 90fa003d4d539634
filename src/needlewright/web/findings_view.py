"""The findings as the page lays them out: what is on top, what folds away, what is asked where."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from needlewright.composing.complaint_words import named_words
from needlewright.composing.finding_model import (
    Card,
    JobFindings,
    PartShare,
    Question,
    Seen,
    Share,
    about,
)
from needlewright.composing.finding_summary import is_sound
from needlewright.findings.board_pins import Pin
from needlewright.findings.wording import share_words
from needlewright.records.views.board import BoardView
from needlewright.web.sheet_view import SheetView
from needlewright.web.texts import Texts

SHOWN: Final = 3
LEAST_SHOWN: Final = 0.02
"""Causes below it fold away, but for the first."""
PLACES: Final = ("bench", "vehicle", "asked")


@dataclass(frozen=True, slots=True)
class Asked:
    """Questions of one place, with their heading."""

    place: str
    questions: tuple[Question, ...]


@dataclass(frozen=True, slots=True)
class Crop:
    """A photo of one dial: of which run, which photo, what was told and what it showed."""

    run: int
    photo: int
    told: str
    shown: str


@dataclass(frozen=True, slots=True)
class Pinned:
    """A photo of the board with the pins that have a place on it."""

    id: int
    name: str
    pins: tuple[Pin, ...]


def question_id(finding: str, dial: str | None) -> str:
    """A question or test as a form names the one it shows."""
    return f"{finding} {dial or ''}".strip()


class FindingsView:
    """What the template asks for.

    Parameters
    ----------
    found
        The findings.
    t
        The page's texts.
    board
        Of the job, with its pins.
    """

    def __init__(self, found: JobFindings, t: Texts, board: BoardView) -> None:
        self.found = found
        self.t = t
        self._board = board

    @property
    def is_wrong(self) -> bool:
        """Whether anything is not sound: something can be planned against it."""
        return any(not is_sound(card) for card in self.found.cards)

    percent = staticmethod(share_words)
    about = staticmethod(about)
    question = staticmethod(question_id)

    @staticmethod
    def place_id(card: Card) -> str:
        """Where a card stands on the page."""
        return f"card-{card.dial}" if card.dial is not None else f"system-{card.system}"

    @staticmethod
    def top(card: Card) -> tuple[Share, ...]:
        """The causes that are seen at once."""
        first = [s for s in card.shares[:SHOWN] if s.probability >= LEAST_SHOWN]
        return tuple(first) or card.shares[:1]

    def rest(self, card: Card) -> tuple[Share, ...]:
        """Those that fold away."""
        return card.shares[len(self.top(card)) :]

    def can_agree(self, card: Card) -> bool:
        """Whether one tap may agree: what is said is probable, and can be confirmed there."""
        there = self.found.at == "vehicle" or (self.found.at == "bench" and card.top.inside)
        probable = card.sureness != "not certain" and bool(self.saying(card))
        return there and probable and card.opinion is None

    @staticmethod
    def parts(card: Card) -> tuple[PartShare, ...]:
        """Where in a dial its fault may lie; nothing of a sound one."""
        if card.top.cause == "sound":
            return ()
        return tuple(one for one in card.parts if one.probability >= LEAST_SHOWN)

    @staticmethod
    def causes(card: Card) -> tuple[Share, ...]:
        """What a person may decide, in the card's order, without sound."""
        return tuple(one for one in card.shares if one.cause != "sound")

    def decided(self, card: Card) -> str:
        """What a person decided, in words."""
        if card.opinion is None:
            return ""
        words = {one.part: one.words for one in card.parts}
        part = card.opinion.part
        said = self.in_words(card, card.opinion.decided)
        return said if part is None else f"{said} ({words.get(part, part)})"

    def in_words(self, card: Card, causes: Sequence[str]) -> str:
        """Causes in words; none is sound."""
        words = {one.cause: one.words for one in card.shares}
        said = [words.get(code, code) for code in causes]
        return ", ".join(said) or self.t("findings.sound")

    @staticmethod
    def said(card: Card) -> tuple[tuple[str, str], ...]:
        """What was said when a person decided: causes in words, and how probable."""
        if card.opinion is None:
            return ()
        words = {one.cause: one.words for one in card.shares}
        return tuple(
            (words.get(code, code), share_words(p))
            for code, p in card.opinion.said.items()
            if p >= LEAST_SHOWN
        )

    def asked_of(self, dial: str | None) -> tuple[Asked, ...]:
        """Questions and tests of a dial, or of the whole, by where they are found out."""
        own = [one for one in self.found.questions if one.dial == dial]
        found = (Asked(place, tuple(q for q in own if q.place == place)) for place in PLACES)
        return tuple(one for one in found if one.questions)

    def opening(self) -> tuple[Question, ...]:
        """What to ask first, while nothing speaks for a fault: the first question of each dial.

        Dials that the complaint names come first.
        """
        first = next((one.finding for one in self.found.questions if one.dial is not None), None)
        asked = [one for one in self.found.questions if one.finding == first]
        return tuple(sorted(asked, key=lambda one: one.dial not in self.found.named))

    def named(self) -> str:
        """The gauges that the complaint in words names; empty: none."""
        titles = {card.id: card.title.lower() for card in self.found.cards}
        return named_words(self.found.named, titles) if self.found.named else ""

    @staticmethod
    def has_strip(card: Card) -> bool:
        """Whether a run shows something of it."""
        return card.dial is not None and any(one.kind == "run" for one in card.evidence)

    @staticmethod
    def crop(view: SheetView, card: Card) -> Crop | None:
        """The photo of a dial that shows best what is said of it: its largest error as found."""
        run = view.run("found")
        dial = None if run is None else next((d for d in run.dials if d.dial == card.dial), None)
        if run is None or dial is None:
            return None
        photos = {step.number: step.photo for step in run.steps if step.state in ("read", "partly")}
        judged = dial.judged.document["found"]["rows"]
        largest = sorted(
            zip(judged, dial.rows, strict=True),
            key=lambda one: (one[0]["basis"] == "rest", -abs(one[0]["deviation"] or 0.0)),
        )
        for _, row in largest:
            photo = photos.get(row.step or -1)
            if photo is not None:
                return Crop(run.sheet.id, photo.id, row.told, row.shown)
        return None

    def pinned(self) -> tuple[Pinned, ...]:
        """Photos of the board with the pins on them."""
        found = []
        for photo in self._board.photos:
            pins = [one.pin for one in self._board.pins if one.photo_id == photo.id]
            placed = tuple(one for one in pins if one.x is not None and one.y is not None)
            if placed:
                found.append(Pinned(photo.id, photo.name, placed))
        return tuple(found)

    @staticmethod
    def saying(card: Card) -> tuple[Seen, ...]:
        """Evidence that speaks for a fault or against one; what counts first."""
        said = [one for one in card.evidence if one.speaks != "neither"]
        return tuple(sorted(said, key=lambda one: not one.counts))

    @staticmethod
    def silent(card: Card) -> tuple[Seen, ...]:
        """Evidence that says nothing."""
        return tuple(one for one in card.evidence if one.speaks == "neither")
