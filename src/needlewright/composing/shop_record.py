"""How often what was said of a shop's own jobs was so, for people."""

from dataclasses import dataclass
from typing import Final

from needlewright.composing.shop_priors import experience_of
from needlewright.findings.signatures.words import LIKELY
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.past_opinions import TrackRecord, track_record
from needlewright.records.opening import Shop

FEW: Final = 10
"""Fewer statements than this say little, and that is said."""


@dataclass(frozen=True, slots=True)
class SureOnes:
    """What was said with 90 % and more in the shop's returned jobs.

    Parameters
    ----------
    statements
        How many there were.
    held
        How many of them were so, as a person decided.
    said
        Their mean probability; None: there was none.
    share_low, share_high
        Interval of the share that holds, 95 %; None: there was none.
    """

    statements: int
    held: int
    said: float | None = None
    share_low: float | None = None
    share_high: float | None = None


@dataclass(frozen=True, slots=True)
class ShopRecord:
    """How often what was said of a shop's returned jobs was so.

    Parameters
    ----------
    jobs
        Returned jobs of which a person decided something.
    opinions
        Decisions beside which something had been said.
    overruled
        Decisions that took something else for what was most probable.
    sure
        What was said with 90 % and more.
    calibration_error
        Mean distance between probability and share that held (expected calibration error); None:
        nothing was ever said.
    words
        All of it in sentences.
    """

    jobs: int
    opinions: int
    overruled: int
    sure: SureOnes
    calibration_error: float | None
    words: str


def shop_record(shop: Shop) -> ShopRecord:
    """How often what was said was so, in this shop.

    Parameters
    ----------
    shop
        The shop.

    Returns
    -------
    ShopRecord
        A person's decision is taken for the truth, and people see what was said before they
        decide: it flatters, and the words say so.

    Raises
    ------
    RecordError
        If a family cannot be loaded.
    """
    cases = experience_of(shop, load_knowledge(None)).cases
    record = track_record(opinion for case in cases for opinion in case.opinions)
    sure = SureOnes(0, 0) if record is None else _sure(record)
    return ShopRecord(
        jobs=len(cases),
        opinions=0 if record is None else record.opinions,
        overruled=0 if record is None else record.overruled,
        sure=sure,
        calibration_error=None if record is None else round(record.expected_error, 6),
        words=_words(record, sure),
    )


def _sure(record: TrackRecord) -> SureOnes:
    for one in record.bins:
        if one.low >= LIKELY:
            return SureOnes(
                one.count,
                one.held,
                round(one.said, 6),
                round(one.share_low, 6),
                round(one.share_high, 6),
            )
    return SureOnes(0, 0)


def _words(record: TrackRecord | None, sure: SureOnes) -> str:
    if record is None:
        return (
            "No job was returned yet of which somebody decided what it had: how often the findings "
            "were right is not known here."
        )
    said = f"{record.opinions} decision{'' if record.opinions == 1 else 's'} of returned jobs, "
    said += f"{record.overruled} against what was most probable."
    if not sure.statements or sure.share_low is None or sure.share_high is None:
        return f"{said} Nothing was said with 90 % or more."
    said += (
        f" What was said with 90 % or more was so in {sure.held} of {sure.statements}; "
        f"between {100 * sure.share_low:.0f} and {100 * sure.share_high:.0f} % are to be expected."
    )
    if sure.statements < FEW:
        said += " That is too few to go by."
    return f"{said} Whoever decides sees what is said first, so this flatters."
