"""`needlewright in-vehicle` by command line, on drawn photos and logs python-can wrote."""

import io
import json
import re
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path

import can
import pytest
from jsonschema import Draft202012Validator
from PIL import ExifTags, Image

from needlewright.cli.main import run
from needlewright.composing.in_vehicle import check_in_vehicle, in_vehicle_evidence, moments_of
from needlewright.families.folder import load_family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.readings.batch import read_photos
from needlewright.signals.port_log.reading import read_port_log

DEMO = Path(str(files("needlewright") / "demo_data"))
SCHEMA = Path(__file__).parents[2] / "docs" / "json" / "in-vehicle.schema.json"
BEGIN = datetime(2026, 3, 2, 9, 15, tzinfo=UTC).timestamp()
# What the drawn cluster was told for these photos (demo_data/as-found/commands.csv), as bytes of
# SAE J1979: 80 km/h, 3200 r/min, 72 degC, 40 % of the tank.
TOLD = ("03410D50", "04410C3200", "03410570", "03412F66")


@pytest.fixture(scope="module")
def vehicle(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a log and two photos of its forty-first second."""
    folder = tmp_path_factory.mktemp("vehicle")
    with can.Logger(folder / "drive.log") as writer:
        for i in range(120):
            for place, told in enumerate(TOLD):
                data = bytes.fromhex(told.ljust(16, "5"))
                writer.on_message_received(
                    can.Message(
                        timestamp=BEGIN + 0.5 * i + 0.01 * place,
                        arbitration_id=0x7E8,
                        is_extended_id=False,
                        data=data,
                        channel=0,
                    )
                )
    for name, run_name in (("found.jpg", "as-found"), ("left.jpg", "as-left")):
        content = (DEMO / run_name / "03-up.jpg").read_bytes()
        exif = Image.open(io.BytesIO(content)).getexif()
        exif.get_ifd(ExifTags.IFD.Exif).update(
            {
                ExifTags.Base.DateTimeOriginal: "2026:03:02 10:15:40",
                ExifTags.Base.OffsetTimeOriginal: "+01:00",
            }
        )
        (folder / name).write_bytes(_with_exif(content, exif.tobytes()))
    return folder


def _with_exif(jpeg: bytes, exif: bytes) -> bytes:
    """The same picture, its APP1 segments replaced (JPEG, ITU-T T.81, annex B)."""
    at, kept = 2, b""
    while jpeg[at + 1] != 0xDA:
        end = at + 2 + int.from_bytes(jpeg[at + 2 : at + 4])
        if jpeg[at + 1] != 0xE1:
            kept += jpeg[at:end]
        at = end
    segment = b"\xff\xe1" + (len(exif) + 2).to_bytes(2) + exif
    return jpeg[:2] + segment + kept + jpeg[at:]


def called(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(["in-vehicle", "--family", str(DEMO / "family"), *map(str, words)])
    said = capsys.readouterr()
    return int(left.value.code or 0), said.out, said.err


def test_a_cluster_as_found(capsys, vehicle, tmp_path) -> None:
    chart = tmp_path / "chart.svg"
    log, photo = vehicle / "drive.log", vehicle / "found.jpg"
    code, out, err = called(capsys, "--log", log, "--out", chart, "--json", photo)
    assert (code, err) == (0, "")
    document = json.loads(out)
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(document)
    # As drawn: the engine's needle sits 3.4 degrees low; the speedometer slips only later on.
    dials = {one["dial"]: one for one in document["dials"]}
    assert {name: one["verdict"] for name, one in dials.items()} == {
        "engine": "does_not",
        "speed": "shows_what_it_is_told",
        "temp": "shows_what_it_is_told",
        "fuel": "undecided",
    }
    assert dials["engine"]["size_deg"] == pytest.approx(-3.4, abs=0.2)
    assert dials["speed"]["pid"] == "0D"
    (row,) = dials["speed"]["photos"]
    assert (row["told"], row["expected"]) == (80.0, pytest.approx(83.1, abs=0.01))
    assert row["shown"] == pytest.approx(83.0, abs=0.4)
    (photo_said,) = document["photos"]
    assert photo_said["at_s"] == BEGIN + 40.5
    assert photo_said["doubt_s"] == 1.5
    drawn = chart.read_text(encoding="utf-8")
    assert "what a sound unit shows of what the port said" in drawn
    assert "found.jpg" in drawn


def test_people_get_sentences_and_the_caution(capsys, vehicle) -> None:
    log, photo = vehicle / "drive.log", vehicle / "left.jpg"
    code, out, err = called(capsys, "--log", log, "--steady", "20", photo)
    assert (code, err) == (0, "")
    assert "speed: SHOWS WHAT IT IS TOLD" in out
    assert "test the sender, not the cluster" in " ".join(out.split())
    assert "a wrong sender makes both wrong alike" in " ".join(out.split())
    assert "taken by a passenger" in " ".join(out.split())


def test_one_probability_and_which_way_a_needle_is_off(capsys, vehicle) -> None:
    """As drawn: the engine's needle sits 3.4 degrees low."""
    code, out, _ = called(capsys, "--log", vehicle / "drive.log", vehicle / "found.jpg")
    assert code == 0
    heading = re.search(r"engine: DOES NOT SHOW WHAT IT IS TOLD, (over )?(\d+) %\n", out)
    assert heading is not None
    assert int(heading[2]) >= 90
    off = re.search(r"found.jpg: needle (3\.\d) ± \d\.\d degrees too low; a sound one at most", out)
    assert off is not None
    assert float(off[1]) == pytest.approx(3.4, abs=0.2)
    assert "fuel: UNDECIDED\n" in out
    assert "100.0 %" not in out
    assert "± of a shown value: reading it from the photo" in out


def test_the_evidence_for_troubleshooting(vehicle) -> None:
    family, log = load_family(DEMO / "family"), read_port_log(vehicle / "drive.log")
    photos = [str(vehicle / "found.jpg")]
    moments = moments_of(log, photos)
    check = check_in_vehicle(family, log, moments, read_photos(family, photos))
    found = {one.dial: one for one in in_vehicle_evidence(check)}
    together = found.pop(None)
    assert (together.finding, together.ratio) == ("wrong_together", found["speed"].ratio)
    assert {one.finding for one in found.values()} == {"port_is_right"}
    assert found["engine"].ratio > 5
    assert found["speed"].ratio < 0.05
    assert found["speed"].seen_in == "drive.log with found.jpg"


def test_what_it_says_to_test_is_what_troubleshooting_then_suspects(
    capsys, vehicle, tmp_path
) -> None:
    """A wrong engine gauge makes no cause of the whole that explains a sound speedometer."""
    _, seen, _ = called(capsys, "--log", vehicle / "drive.log", "--json", vehicle / "found.jpg")
    (tmp_path / "iv.json").write_text(seen, encoding="utf-8")
    words = ["troubleshoot", "--family", str(DEMO / "family"), "--at", "vehicle", "--json"]
    words += ["--answer", "speed: reads_wrong yes"]
    found = []
    for more in ([], ["--evidence", str(tmp_path / "iv.json")]):
        with pytest.raises(SystemExit):
            run([*words, *more])
        found.append(json.loads(capsys.readouterr().out))
    before, after = found
    known = load_knowledge()
    of_speed = [one for one in after["responsible"] if one["dial"] in ("speed", None)]
    assert (of_speed[0]["cause"], of_speed[0]["dial"]) == ("sender", "speed")
    for code in ("supply_joint", "ground", "bus", "battery"):
        assert after["whole"][code] < after["dials"]["speed"]["sender"]
    assert after["whole"]["supply_joint"] < before["whole"]["supply_joint"]
    # what a photo would have shown is gone; what shows in the cold alone may be there still
    shown = known.findings["port_is_right"].shown_by
    sure = [code for code, p in shown.items() if p >= 0.8]
    assert len(sure) >= 5
    for code in sure:
        assert after["dials"]["speed"][code] < 0.1 * after["dials"]["speed"]["sender"]
    assert after["dials"]["speed"]["cold_stall"] < after["dials"]["speed"]["sender"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--log", "nowhere.asc"), "nowhere.asc: is no file"),
        (("--log", "drive.log", "--clock-offset", "-7200"), "runs from 2026-03-02 09:15:00 UTC"),
        (("--log", "drive.log", "--clock-doubt", "-1"), "expected seconds, 0 or more"),
        (("--log", "drive.log", "--steady", "0"), "expected seconds above 0"),
        (("--log", "drive.log", "--steady", "1000"), "drive.log is 60 s long"),
        (("--log", "commands.csv"), "a table headed time,pid,value,unit or time,answer"),
        (("--log", "drive.log", "--steady", "5", "--at", "3"), "--steady needs no moment"),
        (("--log", "drive.log", "--at", "3", "--clock-offset", "3"), "leave --clock-offset out"),
        (("--log", "drive.log", "--out", "no/such/chart.svg"), "no such folder"),
    ],
)
def test_slips_are_one_sentence_and_come_before_the_reading(
    capsys, monkeypatch, vehicle, words, says
) -> None:
    monkeypatch.chdir(vehicle)
    (vehicle / "commands.csv").write_bytes((DEMO / "as-found" / "commands.csv").read_bytes())
    code, out, err = called(capsys, *words, "found.jpg")
    assert code in (1, 2)
    assert out == ""
    assert says in err
    assert err.count("\n") == 1


def test_a_photo_without_a_time(capsys, monkeypatch, vehicle) -> None:
    monkeypatch.chdir(vehicle)
    photo = DEMO / "as-left" / "03-up.jpg"
    code, _, err = called(capsys, "--log", "drive.log", photo)
    assert code == 1
    assert "states no time of its own; say with --at when it was taken" in err
