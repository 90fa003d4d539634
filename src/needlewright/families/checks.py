"""Checks of one dial that involve two fields at once: each complaint names field, value, wish."""

from collections.abc import Iterator
from difflib import get_close_matches
from itertools import pairwise
from typing import Final

from pydantic import BaseModel

from needlewright.errors import UnusableInput
from needlewright.families.model import Dial
from needlewright.families.notes import Kind
from needlewright.families.schema import DialFile, NeedleFile
from needlewright.families.signal_checks import signal_complaints
from needlewright.rules.book import rule_for

REST_REACH_DEG: Final = 45.0
"""How far from its scale a needle may rest: half the gap of a scale of three quarters of a turn
(common practice, no source)."""
REST_SLACK_DEG: Final = 0.5
"""A rest angle this close to the first mark is on it."""

Complaint = tuple[Kind, str, str]
"""Kind, field inside the dial, what is wrong with it."""


def shape_complaints(
    dial: DialFile, face_size_mm: tuple[float, float] | None
) -> Iterator[Complaint]:
    """What bars a dial from use: its marks, its place, its needle, its rest, its programme.

    Parameters
    ----------
    dial
        As the file states it.
    face_size_mm
        Width and height of the face; None when the file's own is not usable.

    Yields
    ------
    Complaint
        Errors only.
    """
    marks_wrong = list(_marks(dial))
    yield from marks_wrong
    if face_size_mm is not None:
        yield from _centre(dial.centre_mm, face_size_mm)
    yield from _needle(dial.needle)
    if not marks_wrong:
        yield from _rest(dial)
    yield from _programme(dial)


def _marks(dial: DialFile) -> Iterator[Complaint]:
    for i, ((v0, _), (v1, _)) in enumerate(pairwise(dial.scale)):
        if v1 <= v0:
            yield (
                "error",
                f"scale[{i + 1}][0]",
                f"expected the values of the marks to rise, found {v1:g} after {v0:g}",
            )
    angles = [angle for _, angle in dial.scale]
    sense = 1 if dial.direction == "cw" else -1
    turns = [sense * (b - a) for a, b in pairwise(angles)]
    if all(turn < 0 for turn in turns):
        other, way = ("ccw", "fall") if sense > 0 else ("cw", "rise")
        yield (
            "error",
            "direction",
            f"expected '{other}', as the angles of the marks {way} from {angles[0]:g} to "
            f"{angles[-1]:g} deg while the value rises, found '{dial.direction}'",
        )
        return
    way = "rise" if sense > 0 else "fall"
    for i, turn in enumerate(turns):
        if turn <= 0:
            yield (
                "error",
                f"scale[{i + 1}][1]",
                f"expected the angles of the marks to {way}, as the direction is "
                f"'{dial.direction}', found {angles[i + 1]:g} after {angles[i]:g} deg",
            )
    if abs(angles[-1] - angles[0]) >= 360:
        yield (
            "error",
            "scale",
            "expected the marks to span less than one turn of the needle, found "
            f"{abs(angles[-1] - angles[0]):g} deg",
        )


def _centre(
    centre_mm: tuple[float, float], face_size_mm: tuple[float, float]
) -> Iterator[Complaint]:
    if not all(0 <= c <= size for c, size in zip(centre_mm, face_size_mm, strict=True)):
        width, height = face_size_mm
        yield (
            "error",
            "centre_mm",
            f"expected a point on the face, x from 0 to {width:g} and y from 0 to {height:g} mm "
            f"from its top-left corner, found [{centre_mm[0]:g}, {centre_mm[1]:g}]",
        )


def _needle(needle: NeedleFile) -> Iterator[Complaint]:
    shorter = (("tail_mm", needle.tail_mm), ("hub_radius_mm", needle.hub_radius_mm))
    for field, length in shorter:
        if length >= needle.length_mm:
            yield (
                "error",
                f"needle.{field}",
                f"expected less than the needle's length_mm of {needle.length_mm:g}, "
                f"found {length:g}",
            )
    if needle.thickness_mm > needle.height_mm:
        yield (
            "error",
            "needle.thickness_mm",
            "expected no more than height_mm, the needle's top above the face, of "
            f"{needle.height_mm:g}, found {needle.thickness_mm:g}",
        )


def _rest(dial: DialFile) -> Iterator[Complaint]:
    low, high = sorted((dial.scale[0][1], dial.scale[-1][1]))
    rest = dial.rest_angle_deg

    def away(angle: float) -> float:
        return max(low - angle, angle - high, 0.0)

    if away(rest) > REST_REACH_DEG:
        turned = min((rest + 360.0 * n for n in range(-3, 4)), key=away)
        hint = f"; give it as {turned:g}" if away(turned) <= REST_REACH_DEG else ""
        yield (
            "error",
            "rest_angle_deg",
            f"expected an angle within {REST_REACH_DEG:g} deg of the marks, which run from "
            f"{dial.scale[0][1]:g} to {dial.scale[-1][1]:g} deg, on the same turn, "
            f"found {rest:g}{hint}",
        )


def _programme(dial: DialFile) -> Iterator[Complaint]:
    points = dial.programme or []
    for i, ((t0, s0), (t1, s1)) in enumerate(pairwise(points)):
        if t1 <= t0:
            yield (
                "error",
                f"programme[{i + 1}][0]",
                f"expected the true values to rise, found {t1:g} after {t0:g}",
            )
        if s1 < s0:  # a flat stretch is right: temperature gauges are steadied on purpose
            yield (
                "error",
                f"programme[{i + 1}][1]",
                f"expected the shown values not to fall, found {s1:g} after {s0:g}",
            )


def meaning_complaints(file: DialFile, dial: Dial) -> Iterator[Complaint]:
    """What a well-formed dial still gets wrong, and what it leaves to defaults.

    Parameters
    ----------
    file
        As the file states it.
    dial
        What was made of it.

    Yields
    ------
    Complaint
        Errors and remarks.
    """
    yield from _graduation(dial)
    yield from _reach(dial)
    yield from _rule(dial)
    yield from signal_complaints(dial)
    yield from _remarks(file, dial)


def _graduation(dial: Dial) -> Iterator[Complaint]:
    step = dial.scale.smallest_step
    if dial.graduation is not None and dial.graduation > step * (1 + 1e-9):
        yield (
            "error",
            "graduation",
            f"expected no more than {step:g} {dial.unit}, the smallest interval between the "
            f"marks, found {dial.graduation:g}",
        )


def _reach(dial: Dial) -> Iterator[Complaint]:
    for i, (true, shown) in enumerate(
        zip(dial.programme.true_values, dial.programme.shown_values, strict=True)
    ):
        try:
            dial.scale.angle_at(shown)
        except UnusableInput:
            yield (
                "error",
                f"programme[{i}][1]",
                f"expected a value the needle can show, at most {dial.scale.beyond_deg:g} deg "
                f"past the marks from {dial.scale.values[0]:g} to {dial.scale.values[-1]:g}, "
                f"found {shown:g} shown at {true:g}",
            )


def _rule(dial: Dial) -> Iterator[Complaint]:
    if dial.rule is None:
        return
    try:
        rule_for(
            dial.rule,
            unit=dial.unit,
            scale_values=(dial.scale.values[0], dial.scale.values[-1]),
            graduation=dial.graduation,
        )
    except UnusableInput as error:
        yield "error", "rule", str(error)


def _misspelt(file: BaseModel, inside: str = "") -> Iterator[Complaint]:
    """Unknown fields are kept; one that looks like a known one was probably meant to be it."""
    known = type(file).model_fields
    for name in file.model_extra or {}:
        near = get_close_matches(name, [k for k in known if k not in file.model_fields_set], 1, 0.8)
        if near:
            words = f"'{name}' is not known and is left alone; is '{near[0]}' meant?"
            yield "remark", f"{inside}{name}", words


def _remarks(file: DialFile, dial: Dial) -> Iterator[Complaint]:
    movement, needle = dial.movement, dial.needle
    yield from _misspelt(file)
    yield from _misspelt(file.needle, "needle.")
    if file.movement is not None:
        yield from _misspelt(file.movement, "movement.")
    if file.signal is not None:
        yield from _misspelt(file.signal, "signal.")
    if file.programme is None:
        yield (
            "remark",
            "programme",
            "no programme stated: a sound unit is taken to show the true value",
        )
    elif dial.is_speedometer and dial.programme.shown_at(0.0) > 0:
        shown = dial.programme.shown_at(0.0)
        yield (
            "remark",
            "programme",
            f"shows {shown:g} {dial.unit} at standstill, so a needle parked at zero counts as "
            "reading low; usual is [0, 0] first and the rise just above it",
        )
    if dial.rule is None:
        yield "remark", "rule", "no rule stated: the dial is read and not judged"
    if file.movement is None:
        yield (
            "remark",
            "movement",
            f"no movement stated: taken as a {movement.kind} of {movement.cycle_deg:g} deg a "
            f"cycle, stop {movement.stop_below_deg:g} deg below rest, repeatability "
            f"{movement.repeatability_deg:g} deg",
        )
    if needle.tip_width_mm > needle.base_width_mm:
        yield (
            "remark",
            "needle.tip_width_mm",
            f"the tip, {needle.tip_width_mm:g} mm, is wider than the base, "
            f"{needle.base_width_mm:g} mm; are they swapped?",
        )
    above_first_deg = dial.scale.sense * (dial.rest_angle_deg - dial.scale.angles_deg[0])
    if above_first_deg > REST_SLACK_DEG:
        yield (
            "remark",
            "rest_angle_deg",
            f"the needle rests on the scale, {above_first_deg:.1f} deg above the first mark",
        )
    elif not dial.rest_pin and above_first_deg < -REST_SLACK_DEG:
        yield (
            "remark",
            "rest_angle_deg",
            f"the needle rests {-above_first_deg:.1f} deg below the first mark with no pin on "
            "the face; usual is a rest on the first mark",
        )
