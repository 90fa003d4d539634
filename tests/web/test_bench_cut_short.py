"""Skip while the page asks for the key: nobody turned it, so it is asked for again."""

from pathlib import Path
from typing import Any

from web.quick_bench import bench_at, few_frames

__all__ = ["few_frames"]


def test_a_point_skipped_while_the_key_is_asked_for_leaves_the_key_unturned(tmp_path: Path):
    with bench_at(tmp_path / "shop", invented=False) as bench:
        run_id = bench.begin(bench="hand", seed="")

        def next_asked() -> tuple[int, str]:
            def waits(now: dict[str, Any]) -> bool:
                return bool(now["hand"] and now["hand"]["asked"])

            hand = bench.until(run_id, waits)["hand"]
            return int(hand["asked"]), hand["lines"][0]

        told = []
        for turn in ("done", "skip", "done", "done"):
            number, line = next_asked()
            told.append(line)
            if turn == "done":
                bench.desk.script(bench.place(run_id, "done"), {"asked": str(number)})
            else:
                bench.desk.script(bench.place(run_id, "act"), {"act": "skip", "at": "0"})
                bench.until(run_id, lambda now: now["done"] == 1)
        told.append(next_asked()[1])
        bench.desk.script(bench.place(run_id, "stop"))
        now = bench.ended(run_id)
    assert told == [
        "Switch the cluster off (key and supply)",
        "Switch the cluster on (key and supply)",
        "Switch the cluster off (key and supply)",
        "Switch the cluster on (key and supply)",
        "Speed: 80 km/h, exactly",
    ]
    assert (now["phase"], now["done"]) == ("stopped", 1)
    # stopped with the key on: the last that is shown
    assert now["hand"]["lines"] == ["Switch the cluster off (key and supply)"]
