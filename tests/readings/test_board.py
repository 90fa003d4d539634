"""Photos of a drawn board laid over each other, against the homographies they were drawn with."""

import json
import runpy
from pathlib import Path

import numpy as np
import pytest

from needlewright.errors import PictureError
from needlewright.readings.board.alignment import align_board
from needlewright.readings.board.changes import find_changes
from needlewright.readings.picture import picture_from_array
from needlewright.rehearsal.board import HEIGHT_PX, WIDTH_PX
from readings.drawn_boards import DAMAGES, after_shot, before_shot, through

DOCS = Path(__file__).parents[2] / "docs"


def grid() -> np.ndarray:
    across, down = np.meshgrid(
        np.linspace(20, WIDTH_PX - 20, 9), np.linspace(20, HEIGHT_PX - 20, 7)
    )
    return np.stack([across.ravel(), down.ravel()], axis=1)


@pytest.mark.parametrize(
    ("seed", "there"),
    [(0, {}), (2, {"turn_deg": 180.0}), (1, {"turn_deg": -35.0, "chips_off_px": (5.0, -3.0)})],
    ids=["as before", "on its head", "chips seen aside"],
)
def test_every_place_of_the_board_is_found_to_a_tenth_of_a_pixel(seed, there):
    first, second = before_shot(seed=seed), after_shot(seed=seed, **there)
    found = align_board(first.picture, second.picture, "a", "b")
    one, other = through(first.matrix, grid()), through(second.matrix, grid())
    off = np.linalg.norm(found.to_after(one) - other, axis=1)
    assert np.median(off) < 0.03
    assert off.max() < 0.1
    assert np.abs(found.to_before(found.to_after(one)) - one).max() < 1e-6
    assert found.scatter_px < 0.3
    assert found.agreeing >= 200


def test_what_was_mended_is_where_it_changed_and_nothing_else_is():
    first, second = before_shot(), after_shot()
    found = find_changes(
        first.picture, second.picture, align_board(first.picture, second.picture, "a", "b")
    )
    for damage in DAMAGES:
        x, y = first.share(damage)
        strongest = [p for p in found.places[:4] if _holds(p, x, y)]
        assert strongest, damage
        assert strongest[0].score > 3
    assert len(found.places) <= 6
    assert found.after.shape == found.before.shape
    # the light of the after photo, a quarter darker and sloped, is that of the before photo
    seen = found.after.max(axis=2) > 0
    apart = found.after[seen].astype(float) - found.before[seen]
    assert abs(float(np.median(apart))) < 1.0
    same = after_shot(damages=DAMAGES)
    aligned = align_board(first.picture, same.picture, "a", "b")
    assert find_changes(first.picture, same.picture, aligned).places == ()


def _holds(place, x: float, y: float) -> bool:
    wide = place.left - 0.01 <= x <= place.left + place.width + 0.01
    return wide and place.top - 0.01 <= y <= place.top + place.height + 0.01


@pytest.mark.parametrize(
    ("second", "said"),
    [
        ({"side": "back"}, "b: does not show the same side of the same board as a"),
        ({"seed": 4}, "b: does not show the same side of the same board as a"),
        ({"blur_px": 6.0}, "b: is too blurred to see vias and joints"),
    ],
    ids=["other side", "another board", "blurred"],
)
def test_what_is_not_the_same_side_is_refused_in_one_sentence(second, said):
    with pytest.raises(PictureError, match=said) as refused:
        align_board(before_shot().picture, after_shot(**second).picture, "a", "b")
    assert "\n" not in str(refused.value)


def test_the_same_photo_twice_a_mirrored_one_and_a_dark_one_are_refused():
    first = before_shot().picture
    with pytest.raises(PictureError, match="b: is the same photo as a; choose the photo that"):
        align_board(first, first, "a", "b")
    mirrored = picture_from_array(np.ascontiguousarray(after_shot().picture.pixels[:, ::-1]))
    with pytest.raises(PictureError, match="does not show the same side"):
        align_board(first, mirrored, "a", "b")
    dark = picture_from_array(after_shot().picture.pixels // 10)
    with pytest.raises(PictureError, match="b: is too dark"):
        align_board(first, dark, "a", "b")


def test_the_page_states_what_was_measured_last():
    page = (DOCS / "board.md").read_text(encoding="utf-8")
    made = runpy.run_path(str(DOCS / "make_board.py"))["filled"]
    assert made(page) == page, "run docs/make_board.py"
    measured = json.loads((DOCS / "measured" / "board.json").read_text(encoding="utf-8"))
    laid = dict(measured["tables"]["laid over each other"])
    assert float(laid["median error of a board, px: median of boards"]) < 0.05
    refused = f"{measured['boards']} of {measured['boards']}"
    assert (laid["refused: the other side"], laid["refused: another board"]) == (refused, refused)
