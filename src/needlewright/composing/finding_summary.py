"""What the findings of a job came to, in one line."""

from collections.abc import Iterator

from needlewright.composing.finding_model import Card, JobFindings, sureness_of
from needlewright.findings.troubleshooting.model import SOUND
from needlewright.findings.wording import share_words


def result_of(found: JobFindings) -> str:
    """Say what the findings of a job are in one line.

    Parameters
    ----------
    found
        The findings.

    Returns
    -------
    str
        What is wrong first, with its probability or as a person decided it; then what is sound,
        and which gauges nothing was seen of. Empty while nothing speaks of anything.
    """
    spoken = [card for card in found.cards if card.evidence or card.opinion is not None]
    if not spoken:
        return ""
    wrong = [card for card in found.cards if not is_sound(card)]
    parts = [f"{card.id}: {head_of(card)}" for card in wrong]
    sound = [card for card in spoken if is_sound(card) and card.dial is not None]
    unseen = [c for c in found.cards if c.dial is not None and c not in spoken and is_sound(c)]
    parts += _groups(sound, "sound", others=bool(wrong) and not unseen)
    parts += _groups(unseen, "nothing seen of it" if len(unseen) == 1 else "nothing seen of them")
    return "; ".join(parts)


def is_sound(card: Card) -> bool:
    """Whether nothing of a dial or a system is taken to be wrong; a person's word goes first."""
    if card.opinion is not None:
        return not card.opinion.decided
    return card.top.cause == SOUND and sureness_of(card.top.probability) != "not certain"


def head_of(card: Card) -> str:
    """What one card says, in a few words, with its probability or that a person decided it."""
    words = {one.cause: one.words for one in card.shares}
    if card.opinion is not None:
        said = ", ".join(words.get(code, code) for code in card.opinion.decided)
        return f"{said or words[SOUND]} (decided)"
    if card.is_unseen:
        return "nothing seen of it"
    if sureness_of(card.top.probability) == "not certain":
        return f"not certain, first {_first_fault(card)}"
    return f"{card.top.words} ({share_words(card.top.probability)})"


def _first_fault(card: Card) -> str:
    first = next((one for one in card.shares if one.cause != SOUND), card.top)
    return f"{first.words} ({share_words(first.probability)})"


def _groups(cards: list[Card], words: str, *, others: bool = False) -> Iterator[str]:
    if not cards:
        return
    yield f"others {words}" if others else f"{', '.join(card.id for card in cards)}: {words}"
