import re
from datetime import date
from importlib.resources import files
from pathlib import Path

import pytest

from needlewright.errors import JobError
from needlewright.proofs.job_facts import Instrument, JobFacts, NoticeFacts, OdometerEntry
from needlewright.proofs.job_file import load_job

GOOD = """
shop = "Test Bench"
place = "2 Test Road"
customer = "C. Ustomer"
vehicle = "an invented van"
tag = "T-77"
serial = "S-123"
condition = "two screws missing"
received = 2026-03-02
work = 2026-03-05
issued = 2026-03-06
authorised_by = "A. Uthor"

[odometer]
unit = "km"
as_received = 184213.5
as_returned = 184213.5

[[instruments]]
name = "thermometer"
number = "TH-9"
due = 2026-09-30
"""


def load(tmp_path: Path, text: str):
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    return load_job(path)


def complaint(tmp_path: Path, text: str) -> str:
    with pytest.raises(JobError) as caught:
        load(tmp_path, text)
    sentence = str(caught.value)
    assert sentence.startswith(str(tmp_path / "job.toml"))
    assert "\n" not in sentence
    return sentence


def test_a_good_file_is_read_as_typed(tmp_path):
    job = load(tmp_path, GOOD)
    assert job.received == date(2026, 3, 2)
    assert job.odometer.facts.as_received == 184213.5
    assert job.instruments[0].due == date(2026, 9, 30)
    assert job.paper_name == "T-77-20260306"


def test_days_may_be_typed_as_text(tmp_path):
    assert load(tmp_path, GOOD.replace("2026-03-02", '"2026-03-02"')).received.day == 2


SLIPS = {
    "misspelt": ("shop =", "shopp =", "the field 'shopp' is not known; is 'shop' meant?"),
    "missing": ('shop = "Test Bench"', "", "the field is missing: 'shop' is the shop's name"),
    "empty": ('"Test Bench"', '"  "', "shop: expected the shop's name, found '  '"),
    "number as text": ('"S-123"', "123", "found 123; write it in double quotes"),
    "no day": ("2026-03-02", '"2 March"', "received: expected a day such as 2026-03-02, found"),
    "a moment": ("2026-03-02", "2026-03-02T08:00:00", "received: expected a day"),
    "order": ("2026-03-02", "2026-03-12", "received 2026-03-12, work 2026-03-05"),
    "nan": ("as_received = 184213.5", "as_received = nan", "as_received: expected the mileage"),
    "negative": ("as_received = 184213.5", "as_received = -1", "found -1"),
    "unit": ('unit = "km"', 'unit = "miles"', "unit: expected 'km' or 'mi', found 'miles'"),
    "no mileage": ("as_received = 184213.5", "", "'as_received' is missing"),
    "inside a table": ('number = "TH-9"', "", "[instruments 1]: the field is missing: 'number'"),
    "a path for a number": ('tag = "T-77"', 'tag = "../T"', "number: expected letters, digits"),
    "kept ending": ('tag = "T-77"', 'tag = "T-77"\nnumber = "A-label"', "kept for file names"),
    "version alone": ('tag = "T-77"', 'tag = "T-77"\nversion = 2', "must name the paper it repl"),
    "version false": ('tag = "T-77"', 'tag = "T-77"\nversion = true', "whole number from 1 to 99"),
    "no TOML": ('shop = "Test', "shop = Test", "not valid TOML"),
}


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_gets_one_sentence(tmp_path, slip):
    typed, instead, said = SLIPS[slip]
    assert typed in GOOD
    assert said in complaint(tmp_path, GOOD.replace(typed, instead, 1))


def test_fields_missing_beside_each_other_are_named_together(tmp_path):
    said = complaint(tmp_path, GOOD.replace('shop = "Test Bench"', "").replace("issued", "#issued"))
    assert "fields are missing: 'shop' is the shop's name; 'issued' is a day" in said


def test_no_odometer_and_a_mileage_contradict(tmp_path):
    said = complaint(tmp_path, GOOD.replace('unit = "km"', 'none_fitted = "rev counter"'))
    assert "says there is no odometer, and 'as_received' is stated" in said


def test_a_new_version_names_an_older_one(tmp_path):
    new = 'tag = "T-77"\nnumber = "N-1"\nversion = 2\nreplaces = "{}"\nreplaces_because = "x"'
    bad = complaint(tmp_path, GOOD.replace('tag = "T-77"', new.format("N-2")))
    assert "such as 'N-1', found 'N-2'" in bad
    job = load(tmp_path, GOOD.replace('tag = "T-77"', new.format("N-1")))
    assert job.paper_name == "N-1 version 2"


@pytest.mark.parametrize("content", [b"\xff\xfe", b"x = 1\n" * 60_000])
def test_files_that_are_no_job(tmp_path, content):
    path = tmp_path / "job.toml"
    path.write_bytes(content)
    with pytest.raises(JobError):
        load_job(path)


def test_a_folder_and_a_hole(tmp_path):
    with pytest.raises(JobError, match="found a folder"):
        load_job(tmp_path)
    with pytest.raises(JobError, match="no such file"):
        load_job(tmp_path / "none.toml")


# the page that documents it

PAGE = (Path(__file__).parents[2] / "docs" / "papers.md").read_text(encoding="utf-8")


def test_the_documented_example_is_a_job(tmp_path):
    example = PAGE.split("```toml\n")[1].split("```")[0]
    assert load(tmp_path, example).paper_name == "EX-2026-0412"


@pytest.mark.parametrize("model", [JobFacts, OdometerEntry, NoticeFacts, Instrument])
def test_every_field_is_documented(model):
    table = PAGE.split("## The facts of a job")[1].split("\n## ")[0]
    words = set(re.findall(r"[a-z_]+", table))
    assert set(model.model_fields) <= words


def test_the_demonstrations_job_is_one_and_says_it_is_invented():
    job = load_job(Path(str(files("needlewright") / "demo_data" / "job.toml")))
    assert job.invented
