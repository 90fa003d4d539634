"""Hypothesis strategies shared by every property test."""

from itertools import accumulate
from typing import Any, Literal

from hypothesis import strategies as st

from needlewright.families.scale import Scale
from needlewright.rules.book import rule_codes
from needlewright.units import UNITS

Direction = Literal["cw", "ccw"]

directions: st.SearchStrategy[Direction] = st.sampled_from(["cw", "ccw"])
WIDEST_SCALE_DEG = 330.0


@st.composite
def scales(draw: st.DrawFn, direction: Direction | None = None, most_marks: int = 13) -> Scale:
    """A scale of 2 marks or more, linear or not, turning either way or the one asked for."""
    way = draw(directions) if direction is None else direction
    count = draw(st.integers(1, most_marks - 1))
    steps = draw(st.lists(st.floats(0.05, 50.0), min_size=count, max_size=count))
    widest = WIDEST_SCALE_DEG / count
    turns = draw(st.lists(st.floats(1.0, widest), min_size=count, max_size=count))
    first_value = draw(st.floats(-50.0, 100.0))
    first_angle = draw(st.floats(-180.0, 180.0))
    sense = 1.0 if way == "cw" else -1.0
    return Scale(
        values=tuple(accumulate(steps, initial=first_value)),
        angles_deg=tuple(accumulate((sense * turn for turn in turns), initial=first_angle)),
        beyond_deg=draw(st.floats(0.0, 30.0)),
    )


@st.composite
def reachable_angles(draw: st.DrawFn, scale: Scale) -> float:
    """An angle at which the scale states a value."""
    low, high = sorted((scale.angles_deg[0], scale.angles_deg[-1]))
    return draw(st.floats(low - scale.beyond_deg, high + scale.beyond_deg))


def json_values() -> st.SearchStrategy[Any]:
    """Anything a JSON file may hold, small."""
    leaves = st.none() | st.booleans() | st.integers(-1000, 1000) | st.text(max_size=8)
    leaves |= st.floats(-1e6, 1e6) | st.sampled_from(["cw", "ccw", "km/h", "un-r39", "un-r40"])
    return st.recursive(
        leaves,
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner),
        max_leaves=6,
    )


@st.composite
def dial_documents(draw: st.DrawFn, dial_id: str) -> dict[str, Any]:
    """A usable dial of a family.json, core fields and some optional ones, unknown ones too."""
    scale = draw(scales(most_marks=4))
    way = "cw" if scale.sense > 0 else "ccw"
    length = draw(st.floats(10.0, 60.0))
    dial: dict[str, Any] = {
        "id": dial_id,
        "quantity": draw(st.sampled_from(["road speed", "fuel level"])),
        "unit": draw(st.sampled_from(sorted(UNITS))),
        "centre_mm": [draw(st.floats(0.0, 200.0)), draw(st.floats(0.0, 100.0))],
        "scale": [list(mark) for mark in zip(scale.values, scale.angles_deg, strict=True)],
        "direction": way,
        "rest_angle_deg": scale.angles_deg[0] - scale.sense * draw(st.floats(0.0, 40.0)),
        "rest_pin": draw(st.booleans()),
        "needle": {
            "length_mm": length,
            "tail_mm": draw(st.floats(0.0, 9.0)),
            "base_width_mm": draw(st.floats(0.5, 4.0)),
            "tip_width_mm": draw(st.floats(0.2, 2.0)),
            "hub_radius_mm": draw(st.floats(0.5, 9.0)),
            "height_mm": draw(st.floats(1.0, 6.0)),
            "thickness_mm": draw(st.floats(0.1, 1.0)),
        },
    }
    optional: dict[str, st.SearchStrategy[Any]] = {
        "programme": st.just([list(mark) for mark in zip(scale.values, scale.values, strict=True)]),
        "rule": st.just({"house": {"of_span": 0.01}}),
        "movement": st.fixed_dictionaries({}, optional={"cycle_deg": st.floats(0.5, 4.0)}),
        "graduation": st.just(scale.smallest_step / 2),
        "rest_mark": st.sampled_from(["rest", "first_mark"]),
        "note of ours": json_values(),
    }
    if dial["unit"] in ("km/h", "mph"):
        optional["rule"] |= st.sampled_from(sorted(rule_codes())[:1])
    for field, values in optional.items():
        if draw(st.booleans()):
            dial[field] = draw(values)
    return dial


@st.composite
def family_documents(draw: st.DrawFn) -> dict[str, Any]:
    """A usable family.json with unknown fields at any depth and keys in any order."""
    ids = draw(st.permutations(["speed", "fuel-1", "é", "oil.left"]))[: draw(st.integers(1, 3))]
    document: dict[str, Any] = {
        "name": draw(st.text(min_size=1, max_size=12)),
        "face_size_mm": [200.0, 100.0],
        "px_per_mm": draw(st.integers(2, 40)),
        "dials": [draw(dial_documents(dial_id)) for dial_id in ids],
    }
    if draw(st.booleans()):
        document["variants"] = [{"id": "a", "seen on": draw(json_values())}]
    if draw(st.booleans()):
        document["kept by the shop"] = draw(json_values())
    keys = draw(st.permutations(list(document)))
    return {key: document[key] for key in keys}
