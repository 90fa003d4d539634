"""Answers and opinions of a job, as plain values."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from needlewright.records.words import AnswerSource


@dataclass(frozen=True, slots=True)
class AnswerView:
    """A question or test that was answered; dial None: of the whole."""

    finding: str
    dial: str | None
    yes: bool | None
    """None: it is not known."""
    source: AnswerSource
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class AnalysisView:
    """What an analysis of files outside the records saw."""

    id: int
    name: str
    pieces: tuple[Mapping[str, str | float | None], ...]
    """Pieces of evidence, as docs/json/evidence.schema.json has them."""
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class OpinionView:
    """What a person decided a dial or a system has, beside what was said of it."""

    dial: str | None
    """None: of a system of the whole."""
    system: str | None
    said: Mapping[str, float]
    """Cause to probability, as the program had it at that moment."""
    decided: tuple[str, ...]
    """Codes of the causes there are, at most one of a dial; empty: it is sound."""
    part: str | None
    why: str
    by: str
    at: datetime
    counts: bool
    """False where a later one of the same dial or system took its place."""


@dataclass(frozen=True, slots=True)
class FinishedJob:
    """A job that was returned, with its answers and the opinions on it that count."""

    tag: str
    family: str
    family_version_id: int
    opinions: tuple[OpinionView, ...]
    answers: tuple[AnswerView, ...]
