"""Whatever a program sends, the API answers in its one form and never falls over.

Schemathesis makes requests out of the API's own description, fitting and unfitting ones. Half of
those that name a job, run or photo name one that is there.
"""

import os
import random
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, settings
from schemathesis import GenerationMode
from starlette.testclient import TestClient

from needlewright.records.run_photos import add_run_photo
from needlewright.records.run_readings import store_outcome
from needlewright.records.runs import start_run
from needlewright.records.shop import check_shop
from needlewright.web.api.schema import describe
from needlewright.web.app import create_app
from records.benches import ANNA, jpeg, outcomes, received, told
from web.bench_page import SAME, page

CASES = int(os.environ.get("NEEDLEWRIGHT_FUZZ_CASES", "12"))
"""For each of some forty operations."""
THERE = {"tag": "T-77", "run_id": 1, "photo_id": 1, "reading_id": 1, "version_id": 1}
STATUSES = {200, 201, 400, 403, 404, 405, 409, 413, 422}

with TemporaryDirectory() as _folder:
    _document = describe(create_app(Path(_folder), read_photos=False))
schema = schemathesis.openapi.from_dict(_document)
schema.config.generation.update(modes=[GenerationMode.POSITIVE, GenerationMode.NEGATIVE])


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, dict[str, str]]]:
    """A page with a job on it that has a run, photos and readings."""
    with page(tmp_path_factory.mktemp("fuzzed")) as browser:
        received(browser.shop)
        run = start_run(browser.shop, "T-77", "found", told(), ANNA)
        for step in (0, 1):
            photo = add_run_photo(browser.shop, run.id, jpeg(step), f"{step}.jpg", ANNA)
            store_outcome(browser.shop, photo.id, outcomes()[step], jpeg(9))
        session = browser.house.sessions
        token = browser.token
        found = session.find(browser.client.cookies[browser.house.listening.cookie])
        assert found is not None
        found.person = ANNA
        yield browser.client, SAME | {"X-Form-Token": token}
        assert check_shop(browser.shop).problems == ()


@schema.parametrize()
@settings(
    max_examples=CASES,
    deadline=None,
    derandomize=True,
    phases=[Phase.generate],
    database=None,
    suppress_health_check=list(HealthCheck),
)
def test_nothing_makes_it_fall_over(case: Any, asked: tuple[TestClient, dict[str, str]]) -> None:
    client, headers = asked
    choice = random.Random(repr((case.path_parameters, case.query, str(case.body))))
    if case.path_parameters and choice.random() < 0.5:
        known = {name: THERE[name] for name in case.path_parameters if name in THERE}
        case.path_parameters.update(known)
    if case.query and "by" in case.query and choice.random() < 0.8:
        case.query["by"] = ANNA  # or nothing that saves would be reached
    request = case.as_transport_kwargs(base_url="http://127.0.0.1:8737")
    answer = client.request(
        request["method"],
        request["url"],
        params=request.get("params"),
        content=_bytes_of(request),
        json=request.get("json"),
        headers=_headers_of(request) | headers,
    )
    assert answer.status_code in STATUSES, answer.text
    if answer.status_code >= 400:
        assert set(answer.json()["error"]) == {"what", "where", "do"}
        assert all(isinstance(part, str) for part in answer.json()["error"].values())


def _headers_of(request: dict[str, Any]) -> dict[str, str]:
    """Those that a client can send at all."""
    sent = dict(request.get("headers") or {})
    return {
        name: value
        for name, value in sent.items()
        if name.isascii()
        and str(value).isascii()
        and str(value).isprintable()
        and name.lower() not in ("x-form-token", "cookie", "content-length")
    }


def _bytes_of(request: dict[str, Any]) -> bytes | None:
    data = request.get("data")
    return data.encode("utf-8", "replace") if isinstance(data, str) else data
