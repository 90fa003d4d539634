"""Where on the page a check is done: every command of a guide has a place, and it is there."""

import tomllib
from importlib import resources

import pytest

from needlewright.plans.sums.catalogue import SUMS
from needlewright.web.work_places import place_of_check, place_of_step

TEXTS = resources.files("needlewright.plans.guides") / "texts"
COMMANDS = sorted(
    {
        check["command"]
        for file in TEXTS.iterdir()
        if file.name.endswith(".toml")
        for check in tomllib.loads(file.read_text("utf-8")).get("check", ())
        if "command" in check
    }
)


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_of_a_guide_has_a_place(command: str) -> None:
    there = place_of_check(command, "EX-1")
    if command.startswith(("needlewright family", "needlewright signal")):
        assert there is None
        return
    assert there is not None
    if there.words == "sums":
        assert there.url.removeprefix("/sums/") in {one.name for one in SUMS}
    else:
        assert there.url.startswith("/jobs/EX-1")


@pytest.mark.parametrize(
    ("kind", "words", "url"),
    [
        ("close", "needle on lightly: home it; then press its needle on", "/jobs/EX-1/needle-set"),
        ("work", "set speed's needle anew: seat, height, angle", "/jobs/EX-1/needle-set"),
        ("check", "burn-in: set it running, look in, end it", "/jobs/EX-1/burn-in"),
        ("check", "speed swept from stop to stop and back, without a jump", "/jobs/EX-1#sweeps"),
        ("check", "speed read at every check point, from below", "/jobs/EX-1#final"),
    ],
)
def test_a_step_leads_to_where_it_is_done(kind: str, words: str, url: str) -> None:
    there = place_of_step(kind, words, "EX-1")
    assert there is not None
    assert there.url == url


def test_what_is_done_at_the_bench_alone_leads_nowhere() -> None:
    assert place_of_step("open", "mark and pull speed's needle, press nothing", "EX-1") is None
    assert place_of_step("work", "replace speed's movement", "EX-1") is None
    assert place_of_check(None, "EX-1") is None


def test_outside_a_job_a_place_has_words_and_no_address() -> None:
    there = place_of_check("needlewright sweep VIDEO --family DIR", None)
    assert there is not None
    assert (there.words, there.url) == ("sweep", "")
