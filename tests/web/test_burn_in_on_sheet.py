"""A burn-in that is on, as the job sheet and the shelf know it: watched, and not taken back."""

import re
from pathlib import Path

from typer.testing import CliRunner

from needlewright.cli.main import app
from needlewright.records.burn_ins import burn_in
from needlewright.records.undo import history
from needlewright.records.views.burn_ins import BurnInView
from web.quick_bench import WITHIN_S, Bench, bench_at, few_frames
from web.sheet_desk import BY, TAG, part_of, words_of
from web.test_burn_in import PLACE, begun, session

__all__ = ["few_frames"]


def kept(at: Bench, number: int) -> BurnInView:
    return burn_in(at.shop, number)


def panel(page: str) -> str:
    return part_of(page, 'id="part-burn_in"', "</details>")


def test_one_that_is_on_is_watched_from_the_sheet_and_not_taken_back(tmp_path: Path) -> None:
    with bench_at(tmp_path / "shop") as at:
        at.cable.held.clear()
        number = begun(at)
        place = f'href="{PLACE}/{number}"'
        page = at.desk.get()
        assert "On now, 0.00 of 0.002 h" in words_of(panel(page))
        assert "Not finished" not in page
        assert "Go on with the burn-in" not in page
        assert place in panel(page)
        far = re.search(r'data-progress="([^"]+)" data-unread="1"', panel(page))
        assert far
        said = at.desk.client.get(far.group(1)).json()
        assert (said["ended"], said["trouble"]) == (False, "On now, 0.00 of 0.002 h")
        shelf = at.desk.get("/")
        assert "Burn-in on now, 0.00 of 0.002 h" in words_of(shelf)
        assert place in shelf

        # by form, by script and by command what was saved before it is taken back, and it goes on:
        # without it the power would stay on, off the record
        before = [edit.what for edit in history(at.shop, TAG)]
        assert before[0] == "burn-in of 0.002 h begun"
        line = words_of(part_of(page, 'id="saved-line"', "</div>"))
        assert f"Saved: {before[1]}" in line
        assert "Undo passes over what is on at the bench: burn-in of 0.002 h begun" in line
        assert at.desk.post(f"/jobs/{TAG}/undo").status_code == 303
        told = CliRunner().invoke(
            app, ["jobs", "undo", TAG, "--by", BY, "--shop", str(at.desk.folder)]
        )
        assert told.exit_code == 0, told.exception
        assert told.stdout.startswith(f"taken back: {before[2]} (")
        assert f"passed over: {before[0]}, which is on and goes on" in told.stdout
        answer = at.desk.script(f"/api/jobs/{TAG}/undo")
        assert answer.status_code == 422
        assert f"'{before[0]}' is on and was passed over" in answer.text
        assert [edit.what for edit in history(at.shop, TAG) if edit.undone] == before[1:3]
        assert kept(at, number).counts

        at.desk.script(f"{PLACE}/{number}/stop")
        at.cable.held.set()
        assert session(at, number).ended.wait(WITHIN_S)
        page = at.desk.get()
        assert "Not finished: " in words_of(panel(page))
        assert 'data-unread="1"' not in panel(page)
        assert "Burn-in on now" not in at.desk.get("/")
        assert at.desk.script(f"/jobs/{TAG}/undo").status_code == 200
        assert (kept(at, number).counts, kept(at, number).set_aside_why) == (False, "undone")
