from datetime import timedelta
from io import BytesIO

import pytest
from pypdf import PdfReader

from needlewright.records.jobs import decide, edit_job
from needlewright.records.returning import record_return
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import add_instrument
from needlewright.records.stages import finish_stage
from web.sheet_desk import (
    TAG,
    Desk,
    desk,
    next_words,
    part_of,
    taken_run,
    to_needles,
    words_of,
)


@pytest.fixture
def at(tmp_path):
    with desk(tmp_path) as one:
        yield one


def pdf_text(content: bytes) -> str:
    return " ".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages)


def to_certificate(at: Desk) -> None:
    to_needles(at, {"engine": -4.0})
    edit_job(at.shop, TAG, {"work_done": ["engine: needle turned 4.0° clockwise"]})
    finish_stage(at.shop, TAG, "needles")
    taken_run(at, "left", {"engine": 0.03})
    record_return(at.shop, TAG, {"odometer_out": 771627})


def test_a_needle_is_told_in_degrees_tip_widths_and_graduations(at: Desk):
    to_needles(at, {"engine": -4.0})
    page = at.get()
    assert next_words(page).startswith("Set the engine needle: 4.0")
    assert next_words(page).endswith("clockwise")
    needle = words_of(part_of(page, 'id="needle-engine"', "</section>"))
    assert "Turn the needle 4.0 ±" in needle
    # 4 degrees of a 46 mm needle 1.59 mm wide at its tip: 2.0 widths
    dial = at.family.dial("engine")
    widths = dial.tip_widths(4.0)
    assert f"tip widths {widths:.1f}" in needle
    assert "graduations of 1 ×1000 r/min" in needle
    speed = words_of(part_of(page, 'id="needle-speed"', "</section>"))
    assert "Leave it as it sits" in speed


def test_what_was_turned_is_written_down_and_stands_as_work_done(at: Desk):
    to_needles(at, {"engine": -4.0})
    page = at.get()
    assert 'value="needle turned 4.0° clockwise"' in page
    at.post(f"/jobs/{TAG}/needles/engine/done", {"what": "needle turned 4.0° clockwise"})
    assert job_sheet(at.shop, TAG).work_done == ("engine: needle turned 4.0° clockwise",)
    page = at.get()
    assert "Written down: needle turned 4.0° clockwise" in words_of(page)
    assert next_words(page) == "Finish Needles"
    at.post(f"/jobs/{TAG}/needles/temp/left", {"why": "it conforms"})
    assert job_sheet(at.shop, TAG).decisions[0].text == "temp: needle left as it sits"
    assert at.script(f"/jobs/{TAG}/needles/engine/done", {"what": " "}).status_code == 422


def test_a_needle_says_why_by_its_rows(at: Desk):
    to_needles(at, {"engine": -4.0})
    said = words_of(at.get(f"/jobs/{TAG}/why-needle/engine"))
    assert "s = −4.00°" in said
    assert "eᵢ = needle angle − angle of the programme" in said
    assert said.count("−4.00°") >= 10
    assert "docs/needle-set.md" in said


def test_the_run_as_left_is_told_the_same_steps_and_stands_beside_the_one_as_found(at: Desk):
    to_certificate(at)
    steps = at.get(f"/jobs/{TAG}/runs/left/steps")
    assert 'name="step-2-told-speed" inputmode="decimal" autocomplete="off" value="40"' in steps
    table = words_of(part_of(at.get(), 'id="left-dial-engine"', "</table>"))
    assert "error as found" in table
    assert "4.8 up" in table or "5 up" in table


def test_a_certificate_is_looked_at_then_issued_then_downloaded(at: Desk):
    to_certificate(at)
    assert next_words(at.get()) == "Issue the certificate"
    before = words_of(at.get(f"/jobs/{TAG}/papers/certificate"))
    assert "speed conforms" in before
    assert "engine: needle turned 4.0° clockwise" in before
    assert "once issued it is never changed" in before
    assert job_sheet(at.shop, TAG).papers == ()
    answer = at.post(f"/jobs/{TAG}/papers/certificate", {})
    assert answer.status_code == 303
    (paper,) = job_sheet(at.shop, TAG).papers
    page = at.get()
    assert next_words(page) == "Finish the final check"
    assert f'href="/papers/{paper.name}/label"' in page
    pdf = at.client.get(f"/papers/{paper.name}/pdf")
    assert pdf.headers["content-type"] == "application/pdf"
    assert f'filename="{paper.number}.pdf"' in pdf.headers["content-disposition"]
    text = pdf_text(pdf.content)
    assert paper.name in text
    assert "A. Sample" in text
    assert "771 627 km" in text
    assert at.client.get(f"/papers/{paper.name}/json").json()["name"] == paper.name
    assert TAG in pdf_text(at.client.get(f"/papers/{paper.name}/label").content)


def test_a_correction_is_a_new_version_that_names_the_old(at: Desk):
    to_certificate(at)
    at.post(f"/jobs/{TAG}/papers/certificate", {})
    first = job_sheet(at.shop, TAG).papers[0]
    edit_job(at.shop, TAG, {"owner": "A. Sample and daughter"})
    form = at.get(f"/jobs/{TAG}/papers/certificate")
    assert f"Why a new version replaces {first.name}" in form
    bare = at.post(f"/jobs/{TAG}/papers/certificate", {})
    assert bare.status_code == 422
    assert "say why a new version replaces it" in words_of(bare.text).lower()
    at.post(f"/jobs/{TAG}/papers/certificate", {"because": "the owner's name"})
    papers = job_sheet(at.shop, TAG).papers
    assert [p.name for p in papers] == [first.name, f"{first.name} version 2"]
    page = words_of(at.get())
    assert f"replaced by {first.name} version 2" in page
    assert f"Replaces {first.name}, because: the owner's name".replace("'", "&#39;") in page


def test_a_failed_speedometer_gets_no_certificate(at: Desk):
    to_needles(at)
    finish_stage(at.shop, TAG, "needles")
    taken_run(at, "left", {"speed": -6.0})
    record_return(at.shop, TAG, {"odometer_out": 771627})
    said = words_of(at.get(f"/jobs/{TAG}/papers/certificate"))
    assert "Speedometer speed: does not conform" in said
    assert "Issue this report: not conforming" in said
    at.post(f"/jobs/{TAG}/papers/certificate", {})
    (paper,) = job_sheet(at.shop, TAG).papers
    assert paper.kind == "not_conforming_report"
    assert paper.label_sha256 is None
    assert "label" not in part_of(at.get(), 'class="paper-list"', "</ul>")


def test_a_report_as_found_is_issued_from_the_bench_check(at: Desk):
    to_needles(at, {"engine": -4.0})
    assert "See what the report will say" in at.get()
    at.post(f"/jobs/{TAG}/papers/report", {})
    (paper,) = job_sheet(at.shop, TAG).papers
    assert paper.kind == "as_found_report"
    assert paper.name.endswith("-as-found")


def test_what_a_paper_lacks_is_said_before_it_is_issued(at: Desk):
    to_certificate(at)
    edit_job(at.shop, TAG, {"owner": ""})
    said = words_of(at.get(f"/jobs/{TAG}/papers/certificate"))
    assert "before this is stated: the owner" in said
    assert "Issue this" not in said
    assert at.post(f"/jobs/{TAG}/papers/certificate", {}).status_code == 422


def returned_but(at: Desk, out: float) -> None:
    to_needles(at)
    for part in ("needles",):
        finish_stage(at.shop, TAG, part)
    taken_run(at, "left")
    finish_stage(at.shop, TAG, "final_check")
    decide(at.shop, TAG, "goes back without one", "the owner asked for it", kind="no_paper")
    record_return(
        at.shop,
        TAG,
        {
            "odometer_out": out,
            "packing": "double box",
            "carrier": "parcel 123",
            "contents": [{"what": "cluster", "ticked": True}],
        },
    )


def test_the_same_mileage_lets_the_job_go(at: Desk):
    returned_but(at, 771627)
    page = at.get()
    assert next_words(page) == "Finish: it has left the house"
    assert "Lawful. The odometer shows 771 627 km" in words_of(page)
    at.post(f"/jobs/{TAG}/parts/returned/finish")
    page = at.get()
    assert next_words(page) == "Nothing left to do: returned."
    assert 'class="button main"' not in part_of(page, 'class="sheet-head"', "</header>")


def test_a_day_of_return_before_the_receipt_is_refused_where_it_was_typed(at: Desk):
    returned_but(at, 771627)
    came = job_sheet(at.shop, TAG).received.day
    before = (came - timedelta(1)).isoformat()
    shown = at.post(f"/jobs/{TAG}/returned", {"form": "returned", "day": before})
    place = part_of(shown.text, 'data-wrong-of="returned"', "</form>")
    assert shown.status_code == 422
    assert f"the day of return, {before}, lies before the day of receipt, {came}" in place
    assert f'value="{before}"' in place
    assert job_sheet(at.shop, TAG).returned.day is None
    assert at.post(f"/jobs/{TAG}/returned", {"day": came.isoformat()}).status_code == 303


def test_another_mileage_is_refused_until_the_lawful_procedure_is_recorded(at: Desk):
    returned_but(at, 0)
    page = at.get()
    assert next_words(page) == "Follow the odometer's law".replace("'", "&#39;")
    assert "Not lawful yet." in page
    refused = at.post(f"/jobs/{TAG}/parts/returned/finish")
    assert refused.status_code == 422
    assert "49 USC 32704(a)" in refused.text
    half = at.post(f"/jobs/{TAG}/returned", {"form": "odometer-law", "law": "us", "notice_day": ""})
    assert half.status_code == 422
    assert "the notice needs its two fields" in part_of(
        half.text, 'id="odometer-procedure"', "</form>"
    )
    day = job_sheet(at.shop, TAG).received.day.isoformat()
    recorded = at.post(
        f"/jobs/{TAG}/returned",
        {"law": "us", "notice_mileage_before": "771 627", "notice_day": day},
    )
    assert recorded.status_code == 303
    assert next_words(at.get()) == "Print the odometer&#39;s notice"
    at.post(f"/jobs/{TAG}/notice", {})
    (notice,) = job_sheet(at.shop, TAG).papers
    text = pdf_text(at.client.get(f"/papers/{notice.name}/pdf").content)
    assert "771\u202f627 km" in text
    assert next_words(at.get()) == "Finish: it has left the house"


def test_a_mileage_that_is_neither_the_same_nor_zero_is_never_lawful(at: Desk):
    returned_but(at, 12)
    assert "Not lawful yet." in at.get()
    said = words_of(at.get(f"/jobs/{TAG}/why-odometer"))
    assert "771 627 km" in said
    assert "12 km" in said
    assert "49 USC 32704(a)" in said
    refused = at.post(f"/jobs/{TAG}/parts/returned/finish")
    assert refused.status_code == 422
    assert job_sheet(at.shop, TAG).closed_at is None


def test_instruments_are_ticked_for_the_certificate(at: Desk):
    to_certificate(at)
    at.script(f"/jobs/{TAG}/instruments", {"number": "EX-T1"})
    assert [i.number for i in job_sheet(at.shop, TAG).instruments] == ["EX-T1"]
    assert 'value="EX-T1" checked' in at.get()


def test_an_overdue_instrument_is_told_at_the_run_where_it_is_ticked_and_on_the_paper(at: Desk):
    to_certificate(at)
    run = next(run for run in job_sheet(at.shop, TAG).runs if run.side == "left")
    day = run.started_at.astimezone().date()
    due = day - timedelta(1)
    add_instrument(at.shop, "ohmmeter", "EX-R9", due, "an invented lab")
    add_instrument(at.shop, "voltmeter", "EX-V9", day)
    before = words_of(at.get())
    assert "was due on" not in before
    at.script(f"/jobs/{TAG}/instruments", {"number": ["EX-R9", "EX-V9"]})
    page = at.get()
    said = (
        f"ohmmeter, number EX-R9: its calibration by an invented lab was due on {due}, before it "
        f"was used on {day}; have it calibrated or use another one; papers name it as overdue"
    )
    for side in ("found", "left"):
        assert said in words_of(part_of(page, f'id="{side}-run"', f'id="{side}-more"'))
    ticked = part_of(page, 'id="instruments"', "</form>")
    assert words_of(ticked).count("overdue") == 1
    assert said in words_of(at.get(f"/jobs/{TAG}/papers/certificate"))
    assert "EX-V9: its calibration" not in page
    at.post(f"/jobs/{TAG}/papers/certificate", {})
    paper = job_sheet(at.shop, TAG).papers[-1]
    text = " ".join(pdf_text(at.client.get(f"/papers/{paper.name}/pdf").content).split())
    assert f"ohmmeter, number EX-R9, was due on {due}, before the day of the work." in text
    assert f"ohmmeter EX-R9 {due.day}" in text
    assert "voltmeter, number EX-V9, was due" not in text
