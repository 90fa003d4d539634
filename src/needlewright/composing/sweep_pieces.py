"""What the sweep videos of a job say, from what was followed in them."""

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from needlewright.composing.evidence_piece import Material, Piece, Place
from needlewright.composing.sweeps import events_of_document
from needlewright.families.model import Family
from needlewright.findings.supply import Together, fails_together, together_evidence
from needlewright.findings.sweep_parts import SweepFinding, judge_sweep, sweep_evidence
from needlewright.readings.track import track_of_angles
from needlewright.records.families import load_version
from needlewright.records.sweeps import followed_sweep, sweeps_of
from needlewright.records.views.sweeps import SweepView


def sweeps(material: Material) -> Iterator[Piece]:
    """Every sweep video of a job that was followed.

    Parameters
    ----------
    material
        The job.

    Yields
    ------
    Piece
        What each says of each dial, and of all of them together.
    """
    for view in sweeps_of(material.shop, material.job.tag):
        document = followed_sweep(material.shop, material.job.tag, view.id).document
        if document is None or not document["frames"]:
            continue
        seen_in = f"sweep {view.name}" if view.name else f"sweep {view.id}"
        judged = judged_document(_family(material, view), document)
        pieces = [piece for found in judged for piece in sweep_evidence(found, seen_in)]
        pieces += together_evidence(_together(document), len(judged), seen_in)
        for piece in pieces:
            at = Place("sweep", view.id)
            yield Piece(piece, _sentence(piece.words), seen_in, at, view.rehearsed)


def judged_document(family: Family, document: Mapping[str, Any]) -> tuple[SweepFinding, ...]:
    """Judge a stored sweep.

    Parameters
    ----------
    family
        The cluster design.
    document
        As `needlewright sweep --json` writes it.

    Returns
    -------
    tuple of SweepFinding
        Of the dials the document has.
    """
    frames = document["frames"]
    t_s = np.array([frame["t_s"] for frame in frames], np.float64)
    tracks = {}
    for name in frames[0]["dials"]:
        seen = [frame["dials"][name] for frame in frames]
        angle = np.array([np.nan if one is None else one["angle_deg"] for one in seen])
        tracks[name] = track_of_angles(name, t_s, angle, 0.0, 0.0)
    told = document.get("told") or {}
    dials = [dial for dial in family.dials if dial.id in tracks]
    commanded = frozenset(told.get("dials", ()))
    return judge_sweep(dials, tracks, events_of_document(document), commanded)


def _together(document: Mapping[str, Any]) -> Together:
    frames = document["frames"]
    return fails_together(events_of_document(document), frames[-1]["t_s"] - frames[0]["t_s"])


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:].rstrip('.')}."


def _family(material: Material, view: SweepView) -> Family:
    if view.family_version_id == material.job.family_version_id:
        return material.family
    return load_version(material.shop, view.family_version_id)
