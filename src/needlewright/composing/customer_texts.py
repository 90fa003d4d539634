"""Texts to the customer out of a job's findings, in plain words, to be copied."""

from collections.abc import Iterator, Sequence
from typing import Final

from needlewright.composing.finding_model import (
    Card,
    CustomerText,
    Outcome,
    Step,
    about,
)
from needlewright.findings.signatures.words import PROBABLE
from needlewright.findings.troubleshooting.model import Knowledge
from needlewright.findings.wording import share_words

SLIPS: Final = "lost_steps"
CREEPS: Final = ("key_helps", "creeps_home")
"""Findings that a slipping movement comes home by itself, for a while."""
RELIEF: Final = (
    "Turning the key off and on several times may bring the needle back to its place. That is "
    "relief for days, not a repair: the movement will slip again."
)
MOST_EVIDENCE: Final = 3
FIRST_MEASURED: Final = (
    "We have not measured the cluster yet. We do that first, and tell you if it shows otherwise."
)
BY_ITSELF: Final = "We tested the cluster by itself."
NOT_IN_VEHICLE: Final = "We have not tested the vehicle, and promise nothing about it."
KEY_HELPED: Final = (
    "That turning the key brings a needle back is relief for days, not a repair. If it goes astray "
    "again, send the cluster again: then it is not sound."
)
IN_VEHICLE: Final = (
    "In the vehicle we only compared the gauges with what its diagnostic port said. Senders, wires "
    "and grounds were not tested, and we promise nothing about them."
)
BATTERY_WAIT: Final = (
    "Only somebody who may work there should do this: with the battery off and ten minutes' wait "
    "before anything near the steering column, unless the vehicle's own manual says otherwise."
)


def outcome_of(cards: Sequence[Card], *, looked_at: bool) -> Outcome:
    """Which text fits.

    Parameters
    ----------
    cards
        Of the job.
    looked_at
        Whether the cluster was looked at; one that was not is never called sound.

    Returns
    -------
    Outcome
        `faulty` where a person said so, or a cause inside is probable; `sound` where nothing
        inside is; else `undecided`.
    """
    inside = [_inside(card) for card in cards]
    if max(inside, default=0.0) >= PROBABLE:
        return "faulty"
    return "sound" if looked_at and max(inside, default=0.0) < 1.0 - PROBABLE else "undecided"


def texts_of(
    tag: str,
    cards: Sequence[Card],
    steps: Sequence[Step],
    knowledge: Knowledge,
    fits: Outcome,
) -> tuple[CustomerText, ...]:
    """The three texts.

    Parameters
    ----------
    tag
        Of the job.
    cards
        Of the job.
    steps
        What is to be done next.
    knowledge
        With the remedies in the vehicle.
    fits
        Which of them fits; it comes first.

    Returns
    -------
    tuple of CustomerText
        Plain text.
    """
    texts = {
        "sound": _joined(_sound(tag, cards, knowledge)),
        "faulty": _joined(_faulty(tag, cards, steps)),
        "undecided": _joined(_undecided(tag, cards, steps)),
    }
    order = sorted(texts, key=lambda outcome: outcome != fits)
    return tuple(CustomerText(one, texts[one]) for one in order)  # type: ignore[arg-type]


def _joined(paragraphs: Iterator[str]) -> str:
    return "\n\n".join(paragraphs) + "\n"


def _inside(card: Card) -> float:
    """Probability that something inside the cluster is wrong; a person's word is certain."""
    if card.opinion is not None:
        inside = {one.cause for one in card.shares if one.inside}
        return 1.0 if inside & set(card.opinion.decided) else 0.0
    if card.dial is None:
        return card.faulty if card.system != "vehicle" else 0.0
    return sum(one.probability for one in card.shares if one.inside and one.cause != "sound")


def _sound(tag: str, cards: Sequence[Card], knowledge: Knowledge) -> Iterator[str]:
    yield f"About your instrument cluster ({tag})."
    said = [*_evidence(cards, "against")]
    yield (
        "We found it sound: in our tests it showed what it was told. There is nothing in it that "
        "we could honestly repair."
        if said
        else "Nothing we know of speaks for a fault in it. It has not been measured yet, so this "
        "is not a test result."
    )
    if said:
        yield "What we looked at:\n" + "\n".join(said)
    if _key_helped(cards):
        yield KEY_HELPED
    if unseen := [
        card.title.lower() for card in cards if card.dial is not None and not card.evidence
    ]:
        yield f"Not tested: {', '.join(unseen)}."
    yield _of_vehicle(cards)
    outside = [*_outside(cards, knowledge)] if said else []
    if outside:
        yield (
            "So the cause of the complaint is more likely in the vehicle. What to test there, in "
            "this order:\n" + "\n".join(f"- {one}" for one in outside)
        )
    else:
        yield (
            "If the complaint comes back in the vehicle, have sender, wires, plugs and grounds "
            "tested there."
        )
    yield BATTERY_WAIT


def _of_vehicle(cards: Sequence[Card]) -> str:
    """What was tested of the vehicle, and what was not."""
    seen = [one for card in cards for one in card.evidence if one.kind != "answer"]
    if any(one.finding == "port_is_right" for one in seen):
        return IN_VEHICLE
    return f"{BY_ITSELF} {NOT_IN_VEHICLE}" if seen else NOT_IN_VEHICLE


def _key_helped(cards: Sequence[Card]) -> bool:
    """Whether a needle was seen, or is said, to come home with the key."""
    return any(
        one.finding in CREEPS and one.speaks == "for" for card in cards for one in card.evidence
    )


def _outside(cards: Sequence[Card], knowledge: Knowledge) -> Iterator[str]:
    """Remedies in the vehicle, by how probable it is that one is what is needed."""
    ranked = list[tuple[float, str]]()
    for remedy in knowledge.remedies.values():
        if remedy.inside:
            continue
        for card in cards:
            if (card.dial is None) != (remedy.scope == "whole"):
                continue
            helps = sum(
                one.probability * remedy.cures.get(one.cause, 0.0)
                for one in card.shares
                if one.cause != "sound"
            )
            if helps >= 0.01:
                words = remedy.words.replace("{dial}", f"the {card.title.lower()}")
                ranked.append((helps / remedy.minutes, words))
    for _, words in sorted(ranked, key=lambda one: -one[0])[:4]:
        yield words


def _faulty(tag: str, cards: Sequence[Card], steps: Sequence[Step]) -> Iterator[str]:
    yield f"About your instrument cluster ({tag})."
    found = [card for card in cards if _inside(card) >= PROBABLE]
    lines = [f"- {card.title}: {_found(card)}" for card in found]
    yield "We found this:\n" + ("\n".join(lines) or "- nothing that is probable enough to name")
    if said := [*_evidence(found, "for")]:
        yield "What shows it:\n" + "\n".join(said)
    if _is_relief(cards):
        yield RELIEF
    inner = (one for one in steps if one.kind in ("open", "run_as_found") and one.then)
    stop = next(inner, None)
    if stop is not None and stop.kind == "run_as_found":
        yield FIRST_MEASURED
    if stop is not None:
        yield "What we would do, one after the other until it is right:\n" + "\n".join(
            f"- {one}" for one in stop.then
        )
    if any(
        not _inside_sound(card) for card in cards if card.dial is not None and card not in found
    ):
        yield "The other gauges are not settled yet."
    yield _of_vehicle(cards)
    yield "We begin when you tell us to."


def _inside_sound(card: Card) -> bool:
    return _inside(card) < 1.0 - PROBABLE and bool(card.evidence or card.opinion)


def _found(card: Card) -> str:
    if card.opinion is None:
        return f"{card.verdict[:1].lower()}{card.verdict[1:]}"
    words = {one.cause: one.words for one in card.shares}
    return ", ".join(words[code] for code in card.opinion.decided if code in words) + "."


def _undecided(tag: str, cards: Sequence[Card], steps: Sequence[Step]) -> Iterator[str]:
    yield f"About your instrument cluster ({tag})."
    seen = [card for card in cards if not card.is_unseen]
    thought = sorted(seen, key=lambda card: -card.faulty)[:3]
    lines = [
        f"- {card.title}: {one.words}, {share_words(one.probability)}"
        for card in thought
        for one in card.shares[:2]
        if one.cause != "sound" and one.probability >= 0.05
    ]
    yield "We are not certain yet. What we think of:\n" + ("\n".join(lines) or "- nothing yet")
    if _is_relief(cards):
        yield RELIEF
    tests = list(steps[:3])
    if tests:
        yield (
            "Please decide how we go on. What is possible:\n"
            + "\n".join(f"- {_way(one)}" for one in tests)
        )
        yield "Times are our estimate of the whole search, on average."
    else:
        yield "Please tell us more: which gauge is wrong, when, and after what."


def _way(step: Step) -> str:
    if step.expected_minutes is None:
        return step.words
    return f"{step.words} ({about(step.expected_minutes)} in all)"


def _is_relief(cards: Sequence[Card]) -> bool:
    """Whether a needle comes home by itself, so that somebody may take it for a repair."""
    for card in cards:
        slips = next((one.probability for one in card.shares if one.cause == SLIPS), 0.0)
        said = card.opinion is not None and SLIPS in card.opinion.decided
        helped = any(one.finding in CREEPS and one.speaks == "for" for one in card.evidence)
        if said or (slips >= PROBABLE) or (helped and card.top.cause == SLIPS):
            return True
    return False


def _evidence(cards: Sequence[Card], speaks: str) -> Iterator[str]:
    for card in cards:
        own = [
            one
            for one in card.evidence
            if one.speaks == speaks and one.counts and (card.dial is not None or speaks == "for")
        ]
        for one in own[:MOST_EVIDENCE]:
            yield f"- {card.title}: {one.words}"
