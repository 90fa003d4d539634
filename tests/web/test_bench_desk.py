"""A run at the bench behind the page: carried out, held, stopped, gone on with, and kept."""

import json
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from needlewright.bench.keeping import KeptRun
from needlewright.composing.bench_folder import folder_of, is_unfinished
from needlewright.errors import CameraError, RunError
from needlewright.records.measured import joined
from needlewright.records.runs import set_aside_run
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import add_person
from needlewright.records.stages import what_is_missing
from needlewright.records.undo import undo_last
from web.quick_bench import Bench, bench_at, few_frames
from web.sheet_desk import TAG, next_words, words_of

__all__ = ["few_frames"]
STAYS = {"key_ons": "", "points-speed": "20"}
"""One step."""
SHORT = {**STAYS, "key_ons": "0"}
"""Two: at rest, and one point."""


def sentence(answer: object) -> str:
    """What is wrong, as a script gets it."""
    return json.dumps(answer.json()["error"])  # type: ignore[attr-defined]


def steps_of(bench: Bench, run_id: int) -> list[tuple[int | None, str, float | None]]:
    rows = joined(bench.shop, run_id).run.rows
    return [(row.step, row.approach, row.commanded) for row in rows]


def test_a_whole_run_lands_in_the_records_step_by_step(tmp_path: Path):
    with bench_at(tmp_path / "shop") as bench:
        fault = {"faults": "speed:needle_offset=2.5", "seed": "3"}
        run_id = bench.begin(**SHORT, **fault)
        now = bench.ended(run_id)
        assert (now["phase"], now["done"], now["of"]) == ("finished", 2, 2)
        assert [step["state"] for step in now["steps"]] == ["seen"] * 2
        assert [one["dial"] for one in now["results"]] == ["speed"]
        run = bench.run(run_id)
        assert run.rehearsed == "rehearsed, speed:needle_offset=2.5, 23 degC, seed 3"
        assert [photo.name for photo in run.photos] == [
            f"bench-found-step-{n:02}.png" for n in range(2)
        ]
        assert all(photo.found and photo.overlay_sha256 for photo in run.photos)
        rows = joined(bench.shop, run_id).run.rows
        assert [(row.approach, row.commanded, row.key_cycle) for row in rows] == [
            ("rest", None, 0),
            ("up", 20.0, 1),
        ]
        dial = bench.session(run_id).kept.family.dial("speed")
        assert dial is not None
        for row in rows[1:]:
            assert row.angle_deg is not None
            assert row.commanded is not None
            assert (row.temperature_c, row.u_commanded is None) == (23.0, False)
            error = row.angle_deg - dial.programme_angle_deg(row.commanded)
            assert error == pytest.approx(2.5, abs=3 * dial.movement.repeatability_deg)
        assert not folder_of(bench.shop, run_id).exists()
        assert what_is_missing(bench.shop, TAG, "bench_check") == ()
        page = bench.desk.get()
        assert "nothing of this run was seen on a real cluster" in page
        assert next_words(page) == "Finish the bench check"
        again = bench.desk.script(bench.place(run_id, "go-on"))
        assert "the bench knows nothing that is left to do of this run" in sentence(again)
        bench.cable.held.clear()
        left = bench.run(bench.begin("left", seed="4"))
        assert (left.side, left.rehearsed) == ("left", "rehearsed, sound, 23 degC, seed 4")
        told = [(row.step, row.approach, row.commanded, row.key_cycle) for row in left.told]
        assert told == [(row.step, row.approach, row.commanded, row.key_cycle) for row in run.told]


def test_a_run_is_held_a_point_left_out_one_taken_again_and_stopped(tmp_path: Path):
    with bench_at(tmp_path / "shop") as bench:
        run_id = bench.begin()

        def act(act: str, at: int) -> object:
            return bench.desk.script(bench.place(run_id, "act"), {"act": act, "at": str(at)})

        bench.until(run_id, lambda now: now["phase"] == "running")
        act("pause", 0)
        now = bench.until(run_id, lambda now: now["phase"] == "paused")
        done = now["done"]
        assert "nothing was changed" in sentence(act("skip", done + 1))
        assert act("skip", done).status_code == 200  # type: ignore[attr-defined]
        now = bench.until(run_id, lambda now: now["done"] == done + 1)
        assert now["phase"] == "paused"
        assert now["steps"][done]["state"] == "skipped"
        act("redo", done + 1)
        now = bench.until(run_id, lambda now: now["done"] == done)
        assert now["phase"] == "paused"
        act("skip", done)
        bench.until(run_id, lambda now: now["done"] == done + 1)
        bench.desk.script(bench.place(run_id, "stop"))
        now = bench.ended(run_id)
        assert (now["phase"], now["done"]) == ("stopped", done + 1)
        assert "nothing was changed" in sentence(act("pause", 0))
        assert is_unfinished(bench.shop, run_id)
        assert next_words(bench.desk.get()) == f"Go on at the bench: step {done + 2} of 3"
        assert "This run waits at the bench" in bench.desk.get()
        bench.desk.script(bench.place(run_id, "go-on"))
        now = bench.ended(run_id)
        assert now["phase"] == "finished"
        all_steps = [(0, "up", 20.0), (1, "up", 80.0), (2, "down", 20.0)]
        assert steps_of(bench, run_id) == [s for s in all_steps if s[0] != done]
        assert undo_last(bench.shop, TAG).what == "note"  # on what the cluster drew
        looked = undo_last(bench.shop, TAG)  # and what was made of it
        assert looked.what == "analysis lamps and currents of run as-found, no. 1"
        undone = undo_last(bench.shop, TAG)
        assert undone.what == f"run as-found: left out at the bench: step {done}"
        assert bench.run(run_id).steps_without_photo == (done,)


def test_what_fails_is_one_sentence_and_the_run_goes_on_from_there(tmp_path: Path):
    with bench_at(tmp_path / "shop") as bench:
        cable = bench.cable
        stored = bench.desk.client.app.state.house.bench  # type: ignore[attr-defined]
        run_id = bench.begin(**SHORT)
        bench.until(run_id, lambda now: now["done"] == 1)
        cable.bus_is_out = True
        now = bench.ended(run_id)
        assert now["phase"] == "failed"
        assert now["words"].startswith("The bus has been down for")
        assert now["words"].endswith("then go on from the same check point.")
        kept = now["done"]
        assert len(bench.run(run_id).photos) == kept >= 1
        refused = bench.desk.script(bench.place(run_id, "go-on"))
        assert refused.status_code == 422
        assert "cannot be opened" in sentence(refused)
        assert not stored.is_on(run_id)
        cable.bus_is_out, cable.camera_is_out = False, True
        bench.desk.script(bench.place(run_id, "go-on"))
        now = bench.ended(run_id)
        assert (now["phase"], now["done"]) == ("failed", kept)
        assert now["words"] == "Camera 0: sends no pictures any more; look at its cable."
        cable.camera_is_out = False
        page = words_of(bench.desk.get(bench.place(run_id)))
        assert "Go on" in page
        bench.desk.script(bench.place(run_id, "go-on"))
        assert bench.ended(run_id)["phase"] == "finished"
        assert [photo.step for photo in bench.run(run_id).photos] == [0, 1]


def test_a_workbench_that_ends_keeps_the_run_and_offers_to_go_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    with bench_at(tmp_path / "shop") as bench:
        run_id = bench.begin(**SHORT)
        bench.until(run_id, lambda now: now["done"] == 1)
    with bench_at(tmp_path / "shop") as bench:
        add_person(bench.shop, "B. Sample")  # and this browser has not said who is at it
        now = bench.now(run_id)
        assert (now["phase"], now["done"], now["of"]) == ("stopped", 1, 2)
        assert [step["state"] for step in now["steps"]] == ["seen", "to_come"]
        assert len(bench.run(run_id).photos) == 1
        whole = KeptRun.keep_step

        def killed(*asked: object) -> None:
            monkeypatch.setattr(KeptRun, "keep_step", whole)
            raise RunError("ended between the records and the files")

        monkeypatch.setattr(KeptRun, "keep_step", killed)
        bench.desk.script(bench.place(run_id, "go-on"))
        assert bench.ended(run_id)["done"] == 1
        assert [photo.step for photo in bench.run(run_id).photos] == [0, 1]
        bench.desk.script(bench.place(run_id, "go-on"))
        assert bench.ended(run_id)["phase"] == "finished"
        run = bench.run(run_id)
        assert [photo.step for photo in run.photos] == [0, 1]
        assert [photo.step for photo in run.older_photos] == [1]


def test_what_is_done_by_hand_is_asked_and_waited_for(tmp_path: Path):
    with bench_at(tmp_path / "shop", invented=False) as bench:
        run_id = bench.begin(**STAYS, bench="hand", seed="")
        session = bench.session(run_id)
        live = bench.desk.client.app.state.house.live  # type: ignore[attr-defined]
        family = session.kept.family
        with pytest.raises(CameraError, match="looks at a run that is on at the bench"):
            live.open(run_id, "somebody", family, print, 0)

        def say(number: int, **more: str) -> object:
            return bench.desk.script(bench.place(run_id, "done"), {"asked": str(number), **more})

        def asked() -> dict[str, object] | None:
            """What is waited for, or None when the run is over."""
            now = bench.until(run_id, waits)
            return None if session.ended.is_set() else now["hand"]

        def waits(now: dict[str, object]) -> bool:
            hand = now["hand"]
            return session.ended.is_set() or bool(hand and hand["asked"])  # type: ignore[index]

        told = []
        while (hand := asked()) is not None:
            told += hand["lines"][:1]  # type: ignore[index]
            number = int(hand["asked"])  # type: ignore[call-overload]
            assert "the run has gone on meanwhile" in sentence(say(number + 1))
            assert say(number).status_code == 200  # type: ignore[attr-defined]
        assert told == [
            "Switch the cluster off (key and supply)",
            "Switch the cluster on (key and supply)",
            "Speed: 20 km/h, exactly",
            "Switch the cluster off (key and supply)",
        ]
        assert bench.now(run_id)["phase"] == "finished"
        run = bench.run(run_id)
        assert (run.rehearsed, len(run.photos)) == (None, 1)
        run_id = bench.begin(**STAYS, bench="hand", seed="")
        session = bench.session(run_id)
        hand = asked()
        assert hand is not None
        say(int(hand["asked"]), cannot="yes")  # type: ignore[call-overload]
        now = bench.ended(run_id)
        assert (now["phase"], now["done"]) == ("failed", 0)
        assert now["words"].startswith("The key was not turned: given up at the bench")
        bench.desk.script(bench.place(run_id, "go-on"))
        session = bench.session(run_id)
        assert asked() is not None
        bench.desk.script(bench.place(run_id, "stop"))
        assert bench.ended(run_id)["phase"] == "stopped"
        mixed = bench.desk.script(bench.place(run_id, "go-on"), {"bench": "rehearsal"})
        assert mixed.status_code == 422
        assert "one of a real cluster on that cluster" in sentence(mixed)


def test_one_run_at_a_bench_and_any_window_stops_it(tmp_path: Path):
    with bench_at(tmp_path / "shop") as bench:
        bench.cable.held.clear()
        run_id = bench.begin()
        form = {"bench": "rehearsal", "told-speed": "yes", "points-speed": "20"}
        second = bench.desk.script(f"/jobs/{TAG}/bench/found", form)
        assert second.status_code == 409
        assert "a run is on there already" in sentence(second)
        assert len(job_sheet(bench.shop, TAG).runs) == 1
        again = bench.desk.script(bench.place(run_id, "go-on"))
        assert "this run is on already" in sentence(again)
        page = bench.desk.get()
        assert next_words(page) == "Look on at the bench: step 1 of 3"
        far = bench.desk.client.get(bench.place(run_id, "progress")).json()
        assert (far["read"], far["of"], far["ended"]) == (0, 3, False)
        other = TestClient(bench.desk.client.app, base_url="http://127.0.0.1")
        stop = {"form_token": "not this window's", "back": "sheet"}
        headers = {"accept": "text/html"}
        refused = other.post(bench.place(run_id, "stop"), data=stop, headers=headers)
        assert refused.status_code == 403
        token = other.get("/keys").text.split('name="form-token" content="')[1].split('"')[0]
        stop["form_token"] = token
        stopped = other.post(
            bench.place(run_id, "stop"), data=stop, headers=headers, follow_redirects=False
        )
        assert stopped.headers["location"] == f"/jobs/{TAG}#found-run"
        bench.cable.held.set()
        assert bench.ended(run_id)["phase"] == "stopped"
        set_aside_run(bench.shop, run_id, "only to see")
        refused = bench.desk.script(bench.place(run_id, "go-on"))
        assert "is set aside and takes no more readings" in sentence(refused)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"bench": ""}, "none was chosen"),
        ({"bench": "bench.toml"}, "there is no such settings file"),
        ({"bench": "../secret.toml"}, "there is no such settings file"),
        ({"points-speed": "20, fast"}, "expected numbers like 0, 20, 40.5, found 'fast'"),
        ({"points-speed": "80, 20"}, "check points must rise, found 80, 20"),
        ({"points-speed": ""}, "has no check point"),
        ({"points-speed": "20, 9000"}, "9000"),
        ({"told-speed": ""}, "Choose at least one dial"),
        ({"key_ons": "1.5"}, "expected whole numbers from 0"),
        ({"temperature_c": "warm"}, "expected a number in °C"),
        ({"temperature_c": "-60"}, "a cluster is rehearsed from -40 to 85 °C"),
        ({"faults": "speed:rust=1"}, "'rust' is no fault of a dial"),
        ({"seed": "x"}, "expected a whole number from 0"),
        ({"bench": "hand", "camera": "99"}, "cannot be opened"),
        ({"bench": "vehicle", "camera": "99"}, "there is no such settings file"),
        ({"bench": "bench-car.toml", "camera": "99"}, "vehicle"),
        ({"bench": "bench-torn.toml", "camera": "99"}, "bench-torn.toml"),
    ],
)
def test_what_cannot_be_begun_is_said_and_nothing_is_begun(
    wrong: Bench, fields: dict[str, str], words: str
):
    form = {"bench": "rehearsal", "told-speed": "yes", "points-speed": "20, 80"}
    form |= {"key_ons": "0", **fields}
    answer = wrong.desk.post(f"/jobs/{TAG}/bench/found", form)
    assert answer.status_code == 422
    said = words_of(answer.text.split('role="alert"')[1].split("</div>")[0])
    assert words in said.replace("&#39;", "'")
    assert str(wrong.shop.folder) not in answer.text
    assert f'value="{form["points-speed"]}"' in answer.text
    assert job_sheet(wrong.shop, TAG).runs == ()


@pytest.fixture(scope="module")
def wrong(tmp_path_factory: pytest.TempPathFactory):
    """A bench as it really is opened, with two settings files that cannot be used."""
    from needlewright.web import bench_order  # noqa: PLC0415

    folder = tmp_path_factory.mktemp("wrong") / "shop"
    with bench_at(folder) as bench:
        desk = bench.desk.client.app.state.house.bench  # type: ignore[attr-defined]
        desk._opener = bench_order.open_devices
        (folder / "bench-car.toml").write_text(
            '[bus]\ninterface = "virtual"\nwhere = "vehicle"\n', encoding="utf-8"
        )
        (folder / "bench-torn.toml").write_text("[bus\n", encoding="utf-8")
        yield bench


def test_the_run_as_left_needs_the_run_as_found(wrong: Bench):
    answer = wrong.desk.get(f"/jobs/{TAG}/bench/left")
    assert "there is no run as-found" in words_of(answer).replace("There", "there")
    assert 'data-key="x" disabled' in answer
    refused = wrong.desk.post(f"/jobs/{TAG}/bench/middle", {})
    assert refused.status_code == 422


def test_the_line_tells_windows_that_belong_here_and_only_those(tmp_path: Path):
    with bench_at(tmp_path / "shop") as bench:
        bench.cable.held.clear()
        run_id = bench.begin(**STAYS)
        place = f"ws://127.0.0.1{bench.place(run_id, 'line')}"
        own = {"origin": "http://127.0.0.1", "host": "127.0.0.1"}
        client, token = bench.desk.client, bench.desk.token()
        with client.websocket_connect(place, headers=own) as opened:
            opened.send_text(json.dumps({"token": "somebody else's"}))
            with pytest.raises(WebSocketDisconnect):
                opened.receive_json()
        foreign = own | {"origin": "http://elsewhere.example"}
        with pytest.raises(WebSocketDisconnect):  # noqa: SIM117
            with client.websocket_connect(place, headers=foreign):
                pass
        with client.websocket_connect(place, headers=own) as opened:
            opened.send_text(json.dumps({"token": token}))
            first = opened.receive_json()["now"]
            assert (first["done"], first["of"]) == (0, 1)
            bench.cable.held.set()
            phases, looks, files = [], [], []
            while "finished" not in phases:
                came = opened.receive()
                if came.get("bytes"):
                    files.append(came["bytes"])
                elif came.get("text"):
                    said = json.loads(came["text"])
                    phases += [said["now"]["phase"]] if "now" in said else []
                    looks += [said["look"]] if "look" in said else []
        assert all(file.startswith(b"\xff\xd8") for file in files)
        assert len(files) == len(looks) >= 1
        read = [look for look in looks if not look["passing"]]
        assert {dial["dial"] for look in read for dial in look["dials"]} == {"speed"}
        assert read[-1]["size"] == [640, 426]
