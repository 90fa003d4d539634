"""Plans that were kept before newer keys were thought of open like any other."""

import json
import shutil
from collections.abc import Iterator
from typing import Any

import pytest

from needlewright.composing.plan_reading import read_document
from needlewright.plans.rebuild.plan_json import number_of
from needlewright.records.plans import keep_plan
from web.sheet_desk import TAG, Desk
from web.test_plan import AT, made_document, opened, planned


def older() -> dict[str, Any]:
    """The plan as it would have been kept before what came last, with the number it then had."""
    document = json.loads(json.dumps(made_document()))
    for key in ("number", "switches", "built", "catalogue_sha256"):
        del document[key]
    for option in document["options"]:
        option.pop("any_return", None)
        for step in option["steps"]:
            del step["u_minutes"]
    for one in document["decisions"]:
        del one["wears"], one["faults"]
    for point in document["weak_points"]:
        del point["lives"]
    return {"number": number_of(document), **document}


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    folder = tmp_path_factory.mktemp("older") / "shop"
    shutil.copytree(planned(), folder)
    with opened(folder) as one:
        keep_plan(one.shop, TAG, older(), None)
        yield one


@pytest.mark.parametrize(
    "place",
    [
        AT,
        f"{AT}?option=all",
        f"{AT}/fresh",
        f"{AT}/quote",
        f"{AT}/sheet.pdf",
        f"/jobs/{TAG}/rebuild",
        f"/jobs/{TAG}",
        f"/jobs/{TAG}/stock",
        "/shop/stock",
        "/",
    ],
)
def test_every_page_opens(kept: Desk, place: str) -> None:
    assert kept.client.get(place).status_code == 200


def test_it_is_that_plan_which_is_shown(kept: Desk) -> None:
    page = kept.client.get(AT).text
    assert older()["number"] in page
    assert 'id="switches"' not in page
    assert "returns to be expected under warranty" in page


def test_what_is_there_stays_as_it_is() -> None:
    made = made_document()
    read = read_document(made)
    assert {key: read[key] for key in made if key not in ("options", "weak_points")} == {
        key: made[key] for key in made if key not in ("options", "weak_points")
    }
    for was, now in zip(made["options"], read["options"], strict=True):
        assert {key: now[key] for key in was} == was
