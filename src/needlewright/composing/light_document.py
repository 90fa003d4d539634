"""What was found of a face's lamps, as a document and as a sheet to draw."""

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

from needlewright.composing.light_measuring import SIGN_MM
from needlewright.composing.light_series import DisplaySeries
from needlewright.composing.lights import CAUTION, LightReport
from needlewright.families.model import Family
from needlewright.findings.evidence_file import evidence_documents
from needlewright.findings.lamps.fading import Fading
from needlewright.findings.lamps.zones import STATES, ZoneState
from needlewright.papers.light_sheet import LightSheet, SheetMark, SheetZone

LIKELY: Final = 0.5
"""A sign or a halo from here on is told."""


def light_document(
    family: Family,
    report: LightReport | None,
    series: Sequence[DisplaySeries],
    picture: Path | None,
) -> dict[str, Any]:
    """The document of `needlewright light --json`.

    Parameters
    ----------
    family
        The cluster design.
    report
        Of the photos; None: only a series was given.
    series
        Of each display; empty: no series was given.
    picture
        The picture that was written; None: none was.

    Returns
    -------
    dict
        As docs/json/light.schema.json has it.
    """
    face = None if report is None else report.face
    evidence = [*(report.evidence if report else ()), *(e for s in series for e in s.evidence)]
    return {
        "family": family.name,
        "zones_by": None if report is None else report.zoning.source,
        "reference": None if face is None else face.face.reference,
        "healthy": None if report is None or report.healthy is None else str(report.healthy),
        "exposure": None if face is None else face.face.exposure,
        "photos": [] if report is None else _photos(report),
        "zones": [] if face is None else [_zone(one) for one in face.zones],
        "no_zones": None if report is None else report.no_zones,
        "evenness": None
        if face is None or face.evenness is None
        else _rounded(asdict(face.evenness)),
        "signs": [] if report is None else [_rounded(asdict(one)) for one in report.signs],
        "hubs": [] if report is None else [_rounded(asdict(one)) for one in report.hubs],
        "series": [_series(one) for one in series],
        "evidence": evidence_documents(evidence),
        "cautions": [CAUTION],
        "picture": None if picture is None else str(picture),
    }


def _photos(report: LightReport) -> list[dict[str, Any]]:
    return [
        {
            "photo": str(one.path),
            "problem": one.problem,
            "placed_by": one.placed_by,
            "room": _six(one.room),
            "factor": None if one.zones is None else _six(one.zones.factor),
        }
        for one in report.photos
    ]


def _zone(one: ZoneState) -> dict[str, Any]:
    seen = one.seen
    mirror, found = seen.against_mirror, one.probabilities
    return {
        "number": seen.zone.number,
        "id": seen.zone.id,
        "lamp": seen.zone.lamp,
        "mirror": seen.zone.mirror,
        "light": _six(seen.light),
        "u_light": _six(seen.u_light),
        "against_mirror": None
        if mirror is None
        else {"light": _six(mirror.light), "u_light": _six(mirror.u_light)},
        "state": one.state,
        "against": None if found is None else one.against,
        "probabilities": None if found is None else {s: _six(found[s]) for s in STATES},
        "why": seen.why,
        "cells": seen.cells,
        "saturated": _six(seen.saturated),
        "black": _six(seen.black),
    }


def _series(one: DisplaySeries) -> dict[str, Any]:
    return {
        "display": one.display,
        "fading": None if one.fading is None else _fading(one.fading),
        "left_out": [{"photo": photo, "why": why} for photo, why in one.left_out],
    }


def _fading(fading: Fading) -> dict[str, Any]:
    document = _rounded(asdict(fading))
    document["points"] = [_rounded(asdict(point)) for point in fading.points]
    return document


def _rounded(document: dict[str, Any]) -> dict[str, Any]:
    return {
        name: _six(value) if isinstance(value, float) else value for name, value in document.items()
    }


def _six(number: float | None) -> float | None:
    return None if number is None else float(f"{number:.6g}")


def light_sheet(family: Family, report: LightReport) -> LightSheet | None:
    """What the picture shows.

    Parameters
    ----------
    family
        The cluster design.
    report
        Of the photos.

    Returns
    -------
    LightSheet or None
        None where no photo shows the face lit.
    """
    face, seen, zones = report.face, report.seen, report.zone_of
    if face is None or seen is None or zones is None:
        return None
    by = "its lamps" if report.zoning.source == "lamps" else "an even division round its dials"
    against = (
        "a healthy unit's photo" if face.face.reference == "healthy" else "the family's own print"
    )
    lines = [
        f"zones by {by}; light in that of the brightest zones, against {against}; ± is U, k = 2; "
        "hatched: dim wide, dark close"
    ]
    return LightSheet(
        f"Lamp check, family {family.name}",
        seen,
        zones,
        report.px_per_mm,
        tuple(
            SheetZone(one.seen.zone.number, one.state or "not seen", zone_words(one))
            for one in face.zones
        ),
        _marks(family, report),
        tuple(lines),
    )


def zone_words(one: ZoneState) -> str:
    """A zone in words: which, how bright, what it is."""
    seen = one.seen
    if seen.light is None or seen.u_light is None or one.probabilities is None or not one.state:
        return f"{seen.zone.id}: not seen, {seen.why}"
    sure = 100 * one.probabilities[one.state]
    by = "" if one.against == "brightest" else ", by its mirror image"
    return (
        f"{seen.zone.id}: {one.state} at {'over 99' if sure > 99 else f'{sure:.0f}'} %, "
        f"light {100 * seen.light:.0f} ± {200 * seen.u_light:.0f} %{by}"
    )


def _marks(family: Family, report: LightReport) -> tuple[SheetMark, ...]:
    placed = {lamp.id: lamp for lamp in family.tell_tales}
    marks = []
    for sign in report.signs:
        lamp = placed.get(sign.id)
        if lamp is not None and lamp.centre_mm is not None and (sign.dark or 0.0) > LIKELY:
            reach = lamp.reach_mm or SIGN_MM
            marks.append(SheetMark(lamp.centre_mm, reach, f"{sign.id}: did not light"))
    for hub in report.hubs:
        dial = family.dial(hub.dial)
        if dial is not None and (hub.halo or 0.0) > LIKELY:
            reach = dial.needle.hub_radius_mm
            marks.append(SheetMark(dial.centre_mm, reach, f"{dial.id}: halo"))
    return tuple(marks)
