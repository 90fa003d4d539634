"""Commands joined with readings: the rows of a run, and the slips caught on the way."""

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from PIL import Image

from needlewright.errors import RunError
from needlewright.readings.commands import Command, approach_remarks, read_commands
from needlewright.readings.join import join_run
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.readings.photo_order import check_pictures, match_photos
from readings.drawn_runs import FAMILY, drawn_run, truth_lines

HEAD = "photo,step,dial,commanded,unit,approach,temperature_c\n"
LINES = (
    "a.jpg,0,speed,,km/h,rest,21.5\n"
    "a.jpg,0,fuel,,fraction of full,rest,21.5\n"
    "b.jpg,1,speed,40,km/h,up,21.5\n"
    "b.jpg,1,fuel,0.2,fraction of full,up,21.5\n"
    "c.jpg,2,speed,80,km/h,up,21.5\n"
    "c.jpg,2,fuel,0.4,fraction of full,up,21.5\n"
)


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "commands.csv"
    path.write_text(HEAD + LINES)
    return path


def edited(table: Path, old: str, new: str) -> Path:
    text = table.read_text()
    assert old in text
    table.write_text(text.replace(old, new, 1))
    return table


def photo(path: Path, grey: int = 0, taken: datetime | None = None) -> str:
    exif = Image.Exif()
    if taken is not None:
        exif.get_ifd(0x8769)[0x9003] = taken.strftime("%Y:%m:%d %H:%M:%S")
    Image.new("L", (80, 80), grey).save(path, exif=exif)
    return str(path)


def test_the_table_of_the_drawn_job_is_read_in_full(tmp_path: Path) -> None:
    lines = truth_lines("as-found")
    path = tmp_path / "commands.csv"
    path.write_text(
        HEAD
        + "".join(
            f"{int(q['step']):02d}.jpg,{q['step']},{q['dial']},{q['commanded']},{q['unit']},"
            f"{q['approach']},21.5\n"
            for q in lines
        )
    )
    commands = read_commands(path, FAMILY)
    assert len(commands) == 48
    assert (commands[0].dial, commands[0].commanded, commands[0].approach) == (
        "engine",
        None,
        "rest",
    )
    assert (commands[47].photo, commands[47].step, commands[47].commanded) == ("11.jpg", 11, 0.0)
    assert {c.temperature_c for c in commands} == {21.5}
    assert approach_remarks(commands) == ()


def test_steps_are_put_in_order(table: Path) -> None:
    swapped = HEAD + "".join(reversed(LINES.splitlines(keepends=True)))
    table.write_text(swapped)
    assert [c.step for c in read_commands(table, FAMILY)] == [0, 0, 1, 1, 2, 2]


def test_without_steps_the_order_of_the_lines_holds(table: Path) -> None:
    table.write_text(
        "photo;dial;commanded;unit;approach\nb.jpg;speed;80,5;km/h;up\na.jpg;speed;40;km/h;down\n"
    )
    commands = read_commands(table, FAMILY)
    assert [(c.photo, c.commanded, c.step) for c in commands] == [
        ("b.jpg", 80.5, None),
        ("a.jpg", 40.0, None),
    ]


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("1,speed,40", "1,boost,40", r"line 4, column 'dial': given 'boost'; family 'fam-job' has"),
        (
            "40,km/h",
            "40,mph",
            r"line 4, column 'unit': given 'mph', .* scaled in km/h; .* silently",
        ),
        ("40,km/h", "40,kph", r"line 4, column 'unit': given 'kph'; unit 'kph' is not known"),
        ("b.jpg,1,fuel", "b.jpg,1,speed", r"line 5, column 'unit': given 'fraction of full'"),
        ("c.jpg,2,speed", "b.jpg,1,speed", r"line 6, column 'photo': given 'b.jpg'; .* line 4 too"),
        ("c.jpg,2,speed", "b.jpg,2,temp", r"line 6, column 'unit'"),
        ("b.jpg,1,fuel", "a.jpg,1,fuel", r"line 5, column 'photo': given 'a.jpg'; .* line 3 too"),
        ("c.jpg,2,fuel", "c.jpg,3,fuel", r"line 7, column 'step': given '3'; photo 'c.jpg' is"),
        ("c.jpg,2,speed", "c.jpg,1,speed", r"line 6, column 'step': given '1'; .* photo 'b.jpg'"),
        ("1,speed,40", "1,speed,", r"line 4, column 'commanded': given ''; type the value"),
        ("a.jpg,0,speed,,", "a.jpg,0,speed,0,", r"line 2, column 'commanded': given '0'; at rest"),
        ("c.jpg,2,fuel", ",2,fuel", r"line 7, column 'photo' is empty"),
        ("temperature_c", "temperature", r"column 'temperature' .* is 'temperature_c' meant\?"),
    ],
)
def test_a_slip_in_the_table_is_named(table: Path, old: str, new: str, sentence: str) -> None:
    with pytest.raises(RunError, match=sentence) as error:
        read_commands(edited(table, old, new), FAMILY)
    assert str(error.value).startswith(str(table))


def test_km_h_told_to_an_mph_dial_is_said_so(table: Path) -> None:
    speed = FAMILY.dial("speed")
    assert speed is not None
    mph = replace(FAMILY, dials=(replace(speed, unit="mph"),))
    table.write_text(HEAD + "b.jpg,1,speed,40,km/h,up,21.5\n")
    with pytest.raises(RunError, match=r"given 'km/h', but dial 'speed' is scaled in mph"):
        read_commands(table, mph)


def test_an_approach_against_the_order_of_the_values_is_remarked(table: Path) -> None:
    commands = read_commands(edited(table, "80,km/h,up", "80,km/h,down"), FAMILY)
    assert approach_remarks(commands) == (
        "'c.jpg' (step 2): dial 'speed' goes up from 40 to 80 km/h, but the approach says down",
    )


def test_photos_are_matched_by_name(table: Path, tmp_path: Path) -> None:
    commands = read_commands(table, FAMILY)
    given = [photo(tmp_path / name) for name in ("c.jpg", "a.jpg", "b.jpg")]
    assert match_photos(table, commands, given) == {
        "a.jpg": given[1],
        "b.jpg": given[2],
        "c.jpg": given[0],
    }
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    moved = [photo(elsewhere / name) for name in ("a.jpg", "b.jpg", "c.jpg")]
    assert list(match_photos(table, commands, moved).values()) == moved


def test_photos_missing_left_over_twice_and_ambiguous(table: Path, tmp_path: Path) -> None:
    commands = read_commands(table, FAMILY)
    a, b, c, d = (photo(tmp_path / f"{name}.jpg") for name in "abcd")
    with pytest.raises(RunError, match=r"names the photo 'c.jpg', .* among the 2 photos given"):
        match_photos(table, commands, [a, b])
    with pytest.raises(RunError, match=r"d.jpg: is given, but no line of .* what was commanded"):
        match_photos(table, commands, [a, b, c, d])
    with pytest.raises(RunError, match=r"a.jpg: is given twice"):
        match_photos(table, commands, [a, b, c, str(tmp_path / "." / "a.jpg")])
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
    doubles = [photo(tmp_path / name / "a.jpg") for name in ("one", "two")]
    with pytest.raises(RunError, match=r"'a.jpg' could be .*one/a.jpg or .*two/a.jpg"):
        match_photos(table, commands, [*doubles, b, c])


NOON = datetime(2031, 5, 4, 12, 0, 0)


def shot(table: Path, folder: Path, minutes: dict[str, int | None], same: bool = False) -> dict:
    given = [
        photo(
            folder / name,
            0 if same else 40 * i,
            None if minute is None else NOON + timedelta(minutes=minute),
        )
        for i, (name, minute) in enumerate(minutes.items())
    ]
    return match_photos(table, read_commands(table, FAMILY), given)


def test_the_same_picture_for_two_steps_is_refused(table: Path, tmp_path: Path) -> None:
    matched = shot(table, tmp_path, {"a.jpg": 0, "b.jpg": 1, "c.jpg": 2})
    Path(matched["c.jpg"]).write_bytes(Path(matched["b.jpg"]).read_bytes())
    with pytest.raises(
        RunError, match=r"'b.jpg' \(step 1\) and 'c.jpg' \(step 2\) are the same picture \(SHA-256"
    ):
        check_pictures(read_commands(table, FAMILY), matched)


def test_photos_taken_in_another_order_than_the_steps_are_refused(
    table: Path, tmp_path: Path
) -> None:
    matched = shot(table, tmp_path, {"a.jpg": 0, "b.jpg": 2, "c.jpg": 1})
    commands = read_commands(table, FAMILY)
    with pytest.raises(
        RunError,
        match=r"'c.jpg' \(step 2\) was taken at 2031-05-04 12:01:00, before photo 'b.jpg' "
        r"\(step 1\) at 2031-05-04 12:02:00",
    ):
        check_pictures(commands, matched)
    check_pictures(commands, matched, any_order=True)


@pytest.mark.parametrize(
    "minutes",
    [
        {"a.jpg": 0, "b.jpg": 1, "c.jpg": 2},
        {"a.jpg": 0, "b.jpg": 0, "c.jpg": 0},
        {"a.jpg": None, "b.jpg": None, "c.jpg": None},
        {"a.jpg": 0, "b.jpg": None, "c.jpg": 1},
    ],
)
def test_photos_in_order_or_without_times_pass(table: Path, tmp_path: Path, minutes) -> None:
    check_pictures(read_commands(table, FAMILY), shot(table, tmp_path, minutes))


def test_a_photo_without_a_time_between_hides_nothing(table: Path, tmp_path: Path) -> None:
    matched = shot(table, tmp_path, {"a.jpg": 5, "b.jpg": None, "c.jpg": 1})
    with pytest.raises(RunError, match="was taken at"):
        check_pictures(read_commands(table, FAMILY), matched)


def seen(dial: str, angle: float) -> Reading:
    found = FAMILY.dial(dial)
    assert found is not None
    value = found.scale.value_at(angle)
    return Reading(dial, "read", found.unit, None, angle, 0.06, value, 0.2, 0.0, ("glare",))


def test_rows_carry_what_was_told_and_what_was_seen(table: Path, tmp_path: Path) -> None:
    commands = read_commands(table, FAMILY)
    refused = Reading("fuel", "refused", "fraction of full", "second estimator disagrees")
    nothing = tuple(Reading(d.id, "refused", d.unit, "face not found") for d in FAMILY.dials)
    fuel_pin = FAMILY.dials[3].rest_angle_deg
    photos = tmp_path / "photos"
    readings = {
        "a.jpg": PhotoReadings(
            str(photos / "a.jpg"), True, None, (seen("speed", -110.3), seen("fuel", fuel_pin))
        ),
        "b.jpg": PhotoReadings(str(photos / "b.jpg"), True, None, (seen("speed", -66.2), refused)),
        "c.jpg": PhotoReadings(str(photos / "c.jpg"), False, "face not found", nothing),
    }
    joined = join_run("as-found", FAMILY, commands, readings, tmp_path / "runs")
    assert joined.remarks == ()
    rows = joined.run.rows
    assert [(r.dial, r.step, r.commanded, r.photo) for r in rows] == [
        ("speed", 0, None, "../photos/a.jpg"),
        ("fuel", 0, None, "../photos/a.jpg"),
        ("speed", 1, 40.0, "../photos/b.jpg"),
        ("fuel", 1, 0.2, "../photos/b.jpg"),
        ("speed", 2, 80.0, "../photos/c.jpg"),
        ("fuel", 2, 0.4, "../photos/c.jpg"),
    ]
    assert rows[0].angle_deg == -110.3
    assert rows[0].flags == ("glare",)
    assert rows[1].flags == ("glare", "on_stop")
    # 40..60 lie 20.807 degrees apart from -68.706 on.
    assert rows[2].indicated == pytest.approx(40 + 20 * (68.706 - 66.2) / 20.807, abs=1e-6)
    assert (rows[2].u_angle_deg, rows[2].u_indicated) == (0.06, 0.2)
    assert (rows[3].angle_deg, rows[3].indicated) == (None, None)
    assert rows[3].flags == ("second_estimator_disagrees",)
    assert rows[4].flags == rows[5].flags == ("face_not_found",)
    assert {r.temperature_c for r in rows} == {21.5}


def test_a_commanded_photo_that_was_not_read_is_an_error(table: Path) -> None:
    with pytest.raises(RunError, match=r"photo 'a.jpg' is commanded and was not read"):
        join_run("r", FAMILY, read_commands(table, FAMILY), {}, table.parent)


def test_a_needle_half_a_turn_off_is_remarked(table: Path) -> None:
    commands = [c for c in read_commands(table, FAMILY) if c.dial == "speed"]
    speed = FAMILY.dial("speed")
    assert speed is not None

    def readings(off: float) -> dict[str, PhotoReadings]:
        return {
            c.photo: PhotoReadings(
                c.photo,
                True,
                None,
                (
                    Reading(
                        "speed",
                        "read",
                        "km/h",
                        None,
                        speed.programme_angle_deg(c.commanded or 0.0) + off,
                        0.06,
                    ),
                ),
            )
            for c in commands
        }

    half = join_run("r", FAMILY, commands, readings(176.0), table.parent)
    assert [remark.split(";")[0] for remark in half.remarks] == [
        "dial 'speed': the needle stands about 176 degrees from every command"
    ]
    assert join_run("r", FAMILY, commands, readings(90.0), table.parent).remarks == ()


def test_a_drawn_run_joined_is_the_drawn_run() -> None:
    """Every row of the drawn job survives the join: nothing is shifted, lost or doubled."""
    run = drawn_run("as-found")
    by_step: dict[int, list[Reading]] = {}
    for row in run.rows:
        dial = FAMILY.dial(row.dial)
        assert dial is not None
        assert row.step is not None
        by_step.setdefault(row.step, []).append(
            Reading(row.dial, "read", row.unit, None, row.angle_deg, row.u_angle_deg)
        )
    readings = {
        f"{step}.jpg": PhotoReadings(f"{step}.jpg", True, None, tuple(of_step))
        for step, of_step in by_step.items()
    }
    commands = _commands_of(run)
    joined = join_run("as-found", FAMILY, commands, readings, Path())
    assert [r.angle_deg for r in joined.run.rows] == [r.angle_deg for r in run.rows]
    assert [r.commanded for r in joined.run.rows] == [r.commanded for r in run.rows]
    assert joined.remarks == ()


def _commands_of(run):
    return [
        Command(
            f"{r.step}.jpg",
            r.dial,
            r.unit,
            r.approach,
            r.step,
            r.commanded,
            21.5,
            None,
            None,
            None,
            None,
        )
        for r in run.rows
    ]
