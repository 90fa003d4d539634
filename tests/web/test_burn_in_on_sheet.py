"""A burn-in that is on, as the job sheet and the shelf know it: watched, and not taken back."""

import re
from html import unescape
from pathlib import Path

from typer.testing import CliRunner

from needlewright.cli.main import app
from needlewright.records.burn_ins import burn_in
from needlewright.records.views.burn_ins import BurnInView
from web.quick_bench import WITHIN_S, Bench, bench_at, few_frames
from web.sheet_desk import BY, TAG, part_of, words_of
from web.test_burn_in import PLACE, begun, session

__all__ = ["few_frames"]
HELD = "and it is on; nothing was taken back; stop it first, then take it back"


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

        # by form, by script, by the API and by command: the power would stay on, off the record
        answer = at.desk.post(f"/jobs/{TAG}/undo")
        assert answer.status_code == 409
        shown = words_of(part_of(answer.text, 'id="saved-line"', "</form>"))
        assert "and it is on; nothing was taken back" in unescape(shown)
        assert "stop it first, then take it back" in shown.lower()
        for where in (f"/jobs/{TAG}/undo", f"/api/jobs/{TAG}/undo"):
            answer = at.desk.script(where)
            assert answer.status_code == 409, answer.text
            assert "stop it first" in answer.text
        told = CliRunner().invoke(
            app, ["jobs", "undo", TAG, "--by", BY, "--shop", str(at.desk.folder)]
        )
        assert told.exit_code != 0
        assert HELD in str(told.exception)
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
