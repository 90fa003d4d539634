"""A bench at full load: receives jobs, stores photos, reads, issues papers, until it is killed.

Every step is told twice on a pipe: `>` before it is begun, `<` when it is finished, with what must
be found afterwards. A finished step is told only when the function has returned.
"""

import hashlib
import json
import os
import random
from typing import Any

from needlewright.records import intake, jobs, papers, stages
from needlewright.records.opening import Shop
from needlewright.records.run_photos import add_run_photo
from needlewright.records.run_readings import store_outcome
from needlewright.records.runs import start_run
from needlewright.records.undo import undo_last
from records.benches import ANNA, RECEIVED, jpeg, outcomes, told

OUTCOMES = outcomes()
TOLD = told()


class Worker:
    def __init__(self, shop: Shop, pipe: int, name: str) -> None:
        self.shop, self.pipe, self.name = shop, pipe, name
        self.random = random.Random(name)

    def work(self, on_bench: str | None = None) -> None:
        """Until killed; `on_bench` is a job already received, whose bench work comes first."""
        if on_bench is not None:
            self.on_bench(on_bench, self.name)
        for number in range(1_000_000):
            self.one_job(f"{self.name}-{number}")

    def one_job(self, tag: str) -> None:
        self.take_in(tag)
        self.on_bench(tag, tag)

    def take_in(self, tag: str) -> None:
        shop, complaint = self.shop, f"complaint {self.random.random()}"
        self.begin("open")
        jobs.new_job(
            shop, {"tag": tag, "family": "fam-job", "serial": tag, "complaint": complaint}, ANNA
        )
        self.finished("open", tag, complaint=complaint)
        self.begin("receive")
        intake.receive(shop, tag, RECEIVED, ANNA)
        self.finished("receive", tag, sender=RECEIVED["sender"])
        self.begin("photo of the box")
        content = self.picture()
        intake.add_job_photo(shop, tag, content, "d.jpg", ANNA, stage="received", kind="damage")
        self.finished("photo of the box", tag, original=sha(content))
        self.begin("finish Received")
        stages.finish_stage(shop, tag, "received", ANNA)
        self.finished("finish Received", tag, stage="received")

    def on_bench(self, tag: str, number: str) -> None:
        shop = self.shop
        self.begin("start the run")
        run = start_run(shop, tag, "found", TOLD, ANNA)
        self.finished("start the run", tag, run=run.id)
        for step in (0, 1):
            self.begin("photo of a step")
            content = self.picture()
            photo = add_run_photo(shop, run.id, content, f"{step}.jpg", ANNA, step=step)
            self.finished("photo of a step", tag, run=run.id, original=sha(content))
            self.begin("reading")
            overlay = self.picture()
            store_outcome(shop, photo.id, OUTCOMES[step], overlay)
            self.finished("reading", tag, photo=photo.id, run=run.id, original=sha(overlay))
        for version in (1, 2):
            self.begin("paper")
            pdf = b"%PDF-" + self.random.randbytes(self.random.randrange(1_000, 1_000_000))
            papers.file_paper(shop, tag, paper_document(number, version), {".pdf": pdf}, ANNA)
            self.finished("paper", tag, paper=paper_name(number, version), original=sha(pdf))
        self.begin("note and undo")
        jobs.add_note(shop, tag, f"taken back by {number}", ANNA)
        undo_last(shop, tag, ANNA)
        jobs.add_note(shop, tag, f"kept by {number}", ANNA)
        self.finished("note and undo", tag, note=number)

    def picture(self) -> bytes:
        """As large as a camera's, so that storing it takes its time."""
        rest = self.random.randbytes(self.random.randrange(300_000, 2_000_000))
        return jpeg(self.random.randrange(4)) + rest

    def begin(self, step: str) -> None:
        os.write(self.pipe, json.dumps([">", step]).encode() + b"\n")

    def finished(self, step: str, tag: str, **found: Any) -> None:
        os.write(self.pipe, json.dumps(["<", step, tag, found]).encode() + b"\n")


def paper_name(number: str, version: int) -> str:
    return number if version == 1 else f"{number} version {version}"


def paper_document(number: str, version: int) -> dict[str, Any]:
    return {
        "kind": "not_conforming_report",
        "number": number,
        "version": version,
        "name": paper_name(number, version),
        "replaces": None if version == 1 else paper_name(number, 1),
        "replaces_because": None if version == 1 else "corrected",
        "issued": "2026-03-06",
        "filling": number * 500,
    }


def sha(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
