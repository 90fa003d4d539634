"""Photos of lamps, and a log of the vehicle, taken in on the findings' page."""

import pickle
from importlib.resources import files
from pathlib import Path
from threading import Event

import cv2
import pytest

from needlewright.records.sheet import job_sheet
from needlewright.web.findings_desk import AnalysisDesk
from needlewright.web.findings_worker import AnalysisJob, analyse_into
from readings.light.lit_demo import exposed, photo
from web.sheet_desk import TAG, Desk, desk, words_of

AT = f"/jobs/{TAG}/findings"
DASHBOARD = (files("needlewright") / "demo_data" / "as-found" / "03-up.jpg").read_bytes()
LOG = "time,pid,value,unit\n" + "".join(
    f"{t},0D,80,km/h\n{t}.1,0C,3200,rpm\n{t}.2,05,72,degC\n{t}.3,2F,40,%\n" for t in range(30)
)
"""What the drawn cluster was told for that photo (demo_data/as-found/commands.csv)."""


def here(job: AnalysisJob, folder: Path, stopped: Event) -> None:
    """In this process, which is quicker to begin; what is sent to another must survive the way."""
    analyse_into(pickle.loads(pickle.dumps(job)), folder)


@pytest.fixture
def one(tmp_path: Path):
    with desk(tmp_path / "shop") as opened:
        opened.client.app.state.house.analyses.run = here
        yield opened


def looked_at(one: Desk, fields: dict, given: list) -> str:
    """The findings' page once the files were looked at."""
    said = one.post(f"{AT}/files", fields, files=given)
    assert said.status_code == 303, said.text
    analyses: AnalysisDesk = one.client.app.state.house.analyses
    hand = analyses._hands.get(job_sheet(one.shop, TAG).id)
    if hand is not None:
        hand.thread.join()
    assert one.client.get(f"{AT}/files/progress").json()["ended"]
    return one.get(AT)


def test_a_dead_lamp_in_a_photo_becomes_evidence_and_undo_takes_it_back(one: Desk) -> None:
    dead = {"behind-engine": 0.0, "behind-speed": 1.0, "behind-small": 1.0}
    picture = cv2.imencode(".png", exposed(photo(dead), 0.7))[1].tobytes()
    page = looked_at(one, {"kind": "lamps"}, [("photos", ("my night.png", picture))])
    card = page.split('id="system-lamps"', 1)[1].split("</article>", 1)[0]
    assert 'data-top="lamp_out"' in card
    assert "my night.png" in words_of(card)
    assert "photos of its lamps" in page.split('id="analyses-list"', 1)[1].split("</div>", 1)[0]
    one.post(f"{AT}/undo")
    assert "my night.png" not in one.get(AT)


def test_a_log_and_a_photo_of_the_dashboard_become_evidence(one: Desk) -> None:
    fields = {"kind": "vehicle", "steady": "10"}
    given = [("photos", ("dash.jpg", DASHBOARD)), ("log", ("port.csv", LOG.encode()))]
    page = looked_at(one, fields, given)
    (kept,) = job_sheet(one.shop, TAG).analyses
    assert kept.name == "the log of its vehicle"
    assert {piece["seen_in"] for piece in kept.pieces} == {"port.csv with dash.jpg"}
    assert {piece["finding"] for piece in kept.pieces} == {"port_is_right", "wrong_together"}
    ratios = {piece["dial"]: piece["ratio"] for piece in kept.pieces}
    assert ratios["engine"] > 20  # the port is right and the drawn needle 3.4 degrees low
    assert ratios["temp"] < 1  # that one shows what it is told
    assert "port.csv with dash.jpg" in page


@pytest.mark.parametrize(
    ("fields", "given", "says"),
    [
        ({"kind": "lamps"}, [], "no photo was chosen"),
        ({"kind": "vehicle"}, [("photos", ("d.jpg", b"x"))], "no log was chosen"),
        (
            {"kind": "vehicle", "steady": "long"},
            [("photos", ("d.jpg", b"x")), ("log", ("p.csv", b"x"))],
            "&#39;long&#39; are no seconds above 0",
        ),
        (
            {"kind": "vehicle", "steady": "5", "taken_at": "12"},
            [("photos", ("d.jpg", b"x")), ("log", ("p.csv", b"x"))],
            "not both",
        ),
    ],
)
def test_what_is_missing_is_said_in_its_form(one: Desk, fields, given, says) -> None:
    said = one.post(f"{AT}/files", fields, files=given or {"none": ("", b"")})
    assert said.status_code == 422
    place = said.text.split(f'data-wrong-of="files-{fields["kind"]}"', 1)[1]
    assert says in place.split("</form>", 1)[0]


@pytest.mark.parametrize(
    ("fields", "given", "says"),
    [
        ({"kind": "lamps"}, [("photos", ("night.jpg", b"no picture"))], "night.jpg"),
        (
            {"kind": "vehicle", "steady": "5"},
            [("photos", ("dash.jpg", DASHBOARD)), ("log", ("port.csv", b"a,b\n1,2\n"))],
            "port.csv",
        ),
    ],
)
def test_what_cannot_be_used_is_said_on_the_page(one: Desk, fields, given, says) -> None:
    page = looked_at(one, fields, given)
    alert = page.split('id="files"', 1)[1].split("<details", 1)[0]
    assert says in alert
    assert "needlewright-findings" not in alert  # no folder of ours
    assert job_sheet(one.shop, TAG).analyses == ()


def test_it_can_be_stopped_and_nothing_is_kept(one: Desk) -> None:
    begun = Event()

    def waits(job: AnalysisJob, folder: Path, stopped: Event) -> None:
        begun.set()
        stopped.wait()

    one.client.app.state.house.analyses.run = waits
    given = [("photos", ("dash.jpg", b"x"))]
    assert one.post(f"{AT}/files", {"kind": "lamps"}, files=given).status_code == 303
    begun.wait()
    page = one.get(AT)
    assert f'data-progress="{AT}/files/progress"' in page
    again = one.post(f"{AT}/files", {"kind": "lamps"}, files=given)
    assert (again.status_code, "looked at already" in again.text) == (409, True)
    assert one.post(f"{AT}/files/stop").status_code == 303
    assert "data-progress" not in one.get(AT)
    assert job_sheet(one.shop, TAG).analyses == ()
