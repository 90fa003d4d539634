"""Burn-ins on the page: planned, begun on the rehearsal, stopped, gone on with, reported."""

import re
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest

from needlewright.bench.burn_in.alone import alone
from needlewright.composing.burn_in_job import folder_of
from needlewright.composing.burn_in_warranty import usual_warranty
from needlewright.errors import RunError
from needlewright.families.model import Family
from needlewright.records.burn_in_journals import journal_kept
from needlewright.records.burn_ins import burn_in, burn_ins_of
from needlewright.records.families import load_version
from needlewright.records.sheet import job_sheet
from needlewright.records.undo import undo_last
from needlewright.rehearsal.cluster.cluster import with_signals
from needlewright.signals.settings import BenchSettings, BusSettings, SupplySettings
from needlewright.web.burn_in_forms import CHECKS, Typed, require_unattended
from needlewright.web.burn_in_session import BurnInSession
from needlewright.web.posted import SentForm
from needlewright.web.sheet_burn_in import burn_in_on_sheet
from needlewright.web.texts import texts_in
from web.quick_bench import WITHIN_S, Bench, bench_at, few_frames
from web.sheet_desk import BY, TAG, open_job

__all__ = ["few_frames"]
PLACE = f"/jobs/{TAG}/burn-in"
SHORT = {
    "act": "begin",
    "bench": "rehearsal",
    "seed": "3",
    "hours": "0.002",
    "dwell": "1",
    "sweeps_each": "0",
    "check_every": "1",
    "lamps": "yes",
    "told-speed": "yes",
    "points-speed": "40",
    "warranty_hours": "500",
    "warranty_sweeps": "10000",
}


@pytest.fixture(scope="module")
def at(tmp_path_factory: pytest.TempPathFactory):
    with bench_at(tmp_path_factory.mktemp("burn-in") / "shop") as one:
        yield one


VIRTUAL = BusSettings(interface="virtual")


def families_model(at: Bench) -> Family:
    return load_version(at.shop, job_sheet(at.shop, TAG).family_version_id)


def begun(at: Bench, **fields: str) -> int:
    answer = at.desk.script(PLACE, SHORT | fields)
    assert answer.status_code == 200, answer.text
    return int(answer.json()["where"].split("/")[-1])


def session(at: Bench, number: int) -> BurnInSession:
    found = at.desk.client.app.state.house.burn_ins.at(number)  # type: ignore[attr-defined]
    assert isinstance(found, BurnInSession)
    return found


def now(at: Bench, number: int) -> dict:
    return dict(at.desk.client.get(f"{PLACE}/{number}/now").json())


def over(at: Bench, number: int) -> dict:
    assert session(at, number).ended.wait(WITHIN_S)
    return now(at, number)


def plain(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def pdf_text(content: bytes) -> str:
    pages = pypdfium2.PdfDocument(content)
    return "".join(page.get_textpage().get_text_bounded() for page in pages)


def test_what_it_is_worth_is_worked_out_before_it_begins(at: Bench):
    shown = plain(at.desk.get(PLACE))
    # 1 - exp(-(1000 / 4e5)^0.5 - (20000 / 2e7)^0.5) of the usual laws
    assert "7.8% of such clusters fail within 1 000 h and 20 000 sweeps of warranty" in shown
    assert "24 months at 14 000 km a year (the catalogue that comes with the program)" in shown
    assert "a mean of at least 8.01 h between failures" in shown
    assert "Costs" not in shown
    assert "never unattended without a current limit" in shown.lower()
    assert "a lamp" not in shown
    before = burn_ins_of(at.shop, TAG)
    typed = SHORT | {"act": "look", "hours": "48", "cost_hour": "0.01", "cost_return": "180.00"}
    answer = at.desk.post(PLACE, typed | {"dwell": "280", "sweeps_each": "1"})
    assert answer.status_code == 200
    worked = plain(answer.text)
    assert "48 h with the power on, about 576 sweeps." in worked
    assert "80 h of burn-in cost least" in worked
    assert "EUR for each unit" in worked
    assert "planned, 48 h" in worked
    assert "Warranty: as stated." in worked
    laws = {"sweeps_shape": "0,6", "sweeps_scale": "3 000 000"}
    stated = plain(at.desk.post(PLACE, typed | laws).text)
    assert "movements: shape 0.6, scale 3 000 000 sweeps (stated)" in stated
    assert "electronics: shape 0.5, scale 400 000 h" in stated
    assert burn_ins_of(at.shop, TAG) == before, "working it out begins nothing"


def test_everything_that_is_wrong_is_said_at_once_and_beside_its_field(at: Bench):
    typed = {"hours": "-4", "dwell": "0", "points-speed": "x", "cost_hour": "0", "chamber": "0"}
    answer = at.desk.post(PLACE, SHORT | typed)
    assert answer.status_code == 422
    assert "5 fields cannot be used. They are marked below." in plain(answer.text)
    assert answer.text.count('aria-invalid="true"') == 5
    field = answer.text.partition('id="burn-hours"')[2].partition('class="field"')[0]
    assert "Found −4. Give more than 0 and at most 10 000 h." in plain(field)
    assert "<details open>" in answer.text


@pytest.mark.parametrize(
    ("fields", "wrong"),
    [
        ({"hours": "a day"}, "expected a number, found 'a day'"),
        ({"hours": "0"}, "give more than 0 and at most 10 000 hours"),
        ({"sweeps_each": "1.5"}, "sweeps in a turn: expected a whole number"),
        ({"points-speed": "80, 40"}, "check points must rise"),
        ({"told-speed": ""}, "no dial can be told anything"),
        ({"chamber": "cold"}, "chamber: expected HOUR=DEGC"),
        ({"warranty_hours": "-1"}, "it must hold more than 0 hours, found -1"),
        ({"cost_hour": "1"}, "type both, or neither"),
        (
            {"cost_hour": "x", "cost_return": "1"},
            "cost of an hour at the bench: expected an amount",
        ),
        ({"shape": "0.5"}, "scale of the electronics: expected a number"),
        ({"sweeps_scale": "2e7"}, "shape of the movements: expected a number"),
        ({"sweeps_shape": "0", "sweeps_scale": "1"}, "movements: the shape must be above 0"),
        ({"shape": "-1", "scale": "4e5"}, "the shape must be above 0"),
        ({"shape": "1e9", "scale": "1"}, "the shape must lie between 0.02 and 50"),
        ({"chamber": "0=nan"}, "chamber: expected HOUR=DEGC"),
        ({"chamber": "0=1e400"}, "chamber: expected HOUR=DEGC"),
        (
            {"cost_hour": "sNaN", "cost_return": "1"},
            "cost of an hour at the bench: expected an amount",
        ),
        ({"bench": ""}, "bench: none was chosen"),
        ({"bench": "bench.toml"}, "there is no such settings file"),
        ({"faults": "speed:nonsense=1"}, "nonsense"),
    ],
)
def test_what_cannot_be_begun_is_one_sentence_and_what_was_typed_stays(at: Bench, fields, wrong):
    before = burn_ins_of(at.shop, TAG)
    answer = at.desk.post(PLACE, SHORT | fields)
    assert 400 <= answer.status_code < 500
    shown = " ".join(answer.text.replace("&#39;", "'").split())
    assert wrong.lower() in shown.lower()
    assert 'value="0.002"' in shown or "hours" in fields
    assert burn_ins_of(at.shop, TAG) == before


def test_none_begins_on_a_cluster_that_never_came(at: Bench):
    open_job(at.shop, "EX-9")
    place = "/jobs/EX-9/burn-in"
    early = plain(at.desk.get(place))
    assert "Before you begin: the cluster is not received, and no work is begun before" in early
    assert "its needles are not set yet" in early
    refused = at.desk.post(place, SHORT)
    assert refused.status_code == 422
    assert "no work before the cluster is received: finish Received first" in plain(refused.text)
    assert burn_ins_of(at.shop, "EX-9") == ()


def test_how_long_a_rehearsal_works_is_told_before_it_begins(at: Bench):
    typed = SHORT | {"act": "look", "dwell": "280", "sweeps_each": "1"}
    said = {}
    for hours in ("24", "48"):
        page = plain(at.desk.post(PLACE, typed | {"hours": hours}).text)
        found = re.search(r"some ([0-9.]+) (s|min|h) of work for this computer", page)
        assert found
        said[hours] = float(found[1]) * {"s": 1, "min": 60, "h": 3600}[found[2]]
    assert said["48"] == pytest.approx(2 * said["24"], rel=0.1)
    wrong = plain(at.desk.post(PLACE, typed | {"hours": "x"}).text)
    assert "A simulated cluster, its clock let loose. It proves nothing" in wrong


def test_a_real_cluster_is_not_left_alone_unlooked_at(at: Bench):
    (at.desk.folder / "bench.toml").write_text('[supply]\nresource = "ASRL9::INSTR"\n')
    answer = at.desk.script(PLACE, SHORT | {"bench": "bench.toml"})
    assert answer.status_code == 422
    assert "states no current limit" in answer.text
    (at.desk.folder / "bench.toml").unlink()
    sent = SentForm([*SHORT.items(), *((f"checked-{one}", "yes") for one in CHECKS[1:])])
    family = with_signals(families_model(at))
    plan = Typed(sent, usual_warranty()).plan(family)
    bench = BenchSettings(supply=SupplySettings(resource="ASRL9::INSTR"), bus=VIRTUAL)
    with pytest.raises(RunError, match="1 of 4 are not ticked; look at each at the bench"):
        require_unattended(plan, family, bench, Typed(sent, usual_warranty()))
    sent.fields.append(("checked-limit", "yes"))
    require_unattended(plan, family, bench, Typed(sent, usual_warranty()))
    with pytest.raises(RunError, match="has no supply that the program can limit and switch off"):
        require_unattended(plan, family, BenchSettings(bus=VIRTUAL), Typed(sent, usual_warranty()))
    dark = plan.model_copy(update={"dark_lamps": True})
    with pytest.raises(RunError, match="need a bench light that the program can switch"):
        require_unattended(dark, family, bench, Typed(sent, usual_warranty()))
    by_hand = plan.model_copy(update={"points": {**plan.points, "fuel": (0.5,)}})
    with pytest.raises(RunError, match="dial 'fuel': this bench tells it nothing with nobody"):
        require_unattended(by_hand, family, bench, Typed(sent, usual_warranty()))


@pytest.mark.parametrize("step", ["alone", "write_whole", "take_up", "Keeper"])
def test_what_fails_after_the_records_have_it_is_set_aside(at: Bench, monkeypatch, step: str):
    def full(*_: object) -> None:
        raise RunError("choice.json: cannot be written (No space left on device); make room")

    before = burn_ins_of(at.shop, TAG)
    with monkeypatch.context() as patched:
        patched.setattr(f"needlewright.web.burn_in_desk.{step}", full)
        answer = at.desk.script(PLACE, SHORT)
    assert 400 <= answer.status_code < 500
    assert "No space left on device" in answer.text
    *earlier, last = burn_ins_of(at.shop, TAG)
    assert tuple(earlier) == before
    assert (last.counts, last.set_aside_why) == (
        False,
        "not begun: choice.json: cannot be written (No space left on device); make room",
    )
    assert "Not finished:" not in plain(at.desk.get())
    assert at.desk.client.app.state.house.burn_ins.at(last.id) is None


def test_a_burn_in_from_the_form_to_the_report(at: Bench):
    number = begun(at, faults="")
    first = at.desk.get(f"{PLACE}/{number}")
    assert "Rehearsed: nothing of this is seen on a real cluster." in first
    done = over(at, number)
    assert (done["phase"], done["count"], done["sweeps"]) == ("finished", 0, 0)
    assert done["hours"] >= 0.002
    kept = burn_in(at.shop, number)
    assert (kept.state, kept.by, kept.unit) == ("finished", BY, TAG)
    assert kept.lines == len(journal_kept(at.shop, number).lines) > 3
    shown = plain(at.desk.get(f"{PLACE}/{number}"))
    assert f"Finished: {kept.said['line']}" in shown
    assert "on a real cluster, and it proves nothing" in shown
    pdf = at.desk.client.get(f"{PLACE}/{number}/report.pdf")
    assert (pdf.headers["content-type"], pdf.content[:4]) == ("application/pdf", b"%PDF")
    svg = at.desk.client.get(f"{PLACE}/{number}/drift.svg")
    assert "hours with the power on" in svg.text
    sheet = plain(at.desk.get())
    assert f"rehearsed, {kept.said['line']}" in sheet
    on_sheet = burn_in_on_sheet(at.shop, TAG, texts_in())
    assert on_sheet.state == "finished", "in an invented shop, and there alone"
    assert replace(on_sheet, invented=False).state == "in_hand"
    assert at.desk.client.get(f"/jobs/{TAG}/burn-in/{number}/picture.jpg").status_code == 200
    assert 'data-phase="finished" data-says-nothing' in at.desk.get(f"{PLACE}/{number}")
    text = pdf_text(pdf.content)
    assert "Rehearsal finished: no failures" in text
    again = at.desk.post(f"{PLACE}/{number}/go-on")
    assert again.status_code == 409
    assert "is finished, and nothing of it is left to do" in plain(again.text)
    assert at.desk.post(f"{PLACE}/{number}/stop").status_code == 303  # it is off, as was asked
    assert burn_in(at.shop, number).lines == kept.lines
    for act in ("stop", "go-on", "set-aside", "done"):
        assert at.desk.post(f"{PLACE}/99/{act}", {"why": "x"}).status_code == 404
        assert at.desk.post(f"/jobs/EX-9999/burn-in/{number}/{act}").status_code == 404
    lost = at.desk.client.get(f"{PLACE}/99")
    assert lost.status_code == 404
    assert f"job {TAG}: has no burn-in 99" in plain(lost.text).replace("&#39;", "'")
    aside = at.desk.post(f"{PLACE}/{number}/set-aside", {"why": ""})
    assert "say why the burn-in is set aside" in aside.text
    assert at.desk.post(f"{PLACE}/{number}/set-aside", {"why": "only tried"}).status_code == 303
    other_window = at.desk.post(f"{PLACE}/{number}/set-aside", {"why": "tried twice"})
    assert "this burn-in is set aside already" in plain(other_window.text)
    assert "this burn-in is set aside" in at.desk.script(f"{PLACE}/{number}/go-on").text
    assert "Set aside: only tried" in plain(at.desk.get(PLACE))


def test_one_at_a_time_stopped_and_gone_on_with_after_a_restart(tmp_path: Path):
    folder = tmp_path / "shop"
    with bench_at(folder) as at:
        at.cable.held.clear()
        number = begun(at)
        for where, form, wrong in (
            (f"/jobs/{TAG}/bench/found", {"bench": "rehearsal", "key_ons": "1"}, "takes one at a"),
            (PLACE, SHORT, "takes one at a time"),
            (f"{PLACE}/{number}/go-on", {}, "takes one at a time"),
        ):
            answer = at.desk.script(where, form | {"told-speed": "yes", "points-speed": "40"})
            assert (answer.status_code, wrong in answer.text) == (409, True), answer.text
        assert "Look on" in at.desk.get(PLACE)
        at.desk.script(f"{PLACE}/{number}/stop")
        at.cable.held.set()
        stopped = over(at, number)
        assert (stopped["phase"], stopped["words"]) == (
            "stopped",
            "Stopped by the person at the bench",
        )
        assert "It goes on from there." in at.desk.get(f"{PLACE}/{number}")
        assert "has a burn-in that is not finished" in at.desk.script(PLACE, SHORT).text
    with bench_at(folder) as at:  # the workbench was started anew
        assert "Not finished:" in plain(at.desk.get())
        with alone(folder_of(at.shop, number)):
            assert now(at, number)["phase"] == "elsewhere"
            stop = at.desk.script(f"{PLACE}/{number}/stop")
            assert (stop.status_code, "is on in another program" in stop.text) == (409, True)
            assert "On in another program" in at.desk.get(f"{PLACE}/{number}")
        choice = folder_of(at.shop, number) / "choice.json"
        chosen = choice.read_bytes()
        choice.unlink()
        lost = at.desk.script(f"{PLACE}/{number}/go-on")
        assert "does not know at which bench" in lost.text
        choice.write_bytes(chosen)
        before = burn_in(at.shop, number).lines
        assert at.desk.post(f"{PLACE}/{number}/go-on").status_code == 303
        # its beginning is taken back while it is on: it stops, and what it gave is kept
        undo_last(at.shop, TAG, BY)
        assert session(at, number).ended.wait(WITHIN_S)
        assert now(at, number)["phase"] in ("stopped", "finished")
        after = burn_in(at.shop, number)
        assert (after.counts, after.set_aside_why) == (False, "undone")
        assert after.lines > before
        gone = at.desk.script(f"{PLACE}/{number}/go-on")
        assert "this burn-in is set aside" in gone.text
        lost = at.desk.script(f"{PLACE}/{number}/done", {"asked": "1"})
        assert lost.status_code == 409
