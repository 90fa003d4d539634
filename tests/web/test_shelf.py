"""The shelf with nothing, three and ten thousand clusters on it."""

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import insert, select

from needlewright.records import jobs
from needlewright.records.opening import Shop
from needlewright.records.tables import Cluster, FamilyVersion, Job, Received, Returned
from needlewright.records.views import ShelfLine
from needlewright.web.shelf import LINES, grouped
from web.bench_page import ANNA, Browser, page

MANY = 10_000
TODAY = date(2026, 3, 4)
OPENED = datetime(2026, 3, 1, 9, tzinfo=UTC)


@pytest.fixture
def browser(tmp_path: Path) -> Iterator[Browser]:
    with page(tmp_path) as one:
        one.shop.now = lambda: datetime(2026, 3, 4, 12, tzinfo=UTC)  # type: ignore[method-assign]
        yield one


def put(browser: Browser, tag: str, **more: Any) -> None:
    jobs.new_job(browser.shop, {"tag": tag, "family": "fam-job"} | more, ANNA)


def put_many(shop: Shop, count: int) -> None:
    """Straight into the tables: one by one they would take minutes."""
    waits = ("bench", "owner", "parts", "carrier")
    stages = ("received", "bench_check", "needles", "final_check")
    with shop.writing("filling a shelf") as session:
        version_id = session.scalars(select(FamilyVersion.id)).one()
        session.execute(
            insert(Cluster),
            [{"id": n, "family": "fam-job", "serial": f"S-{n}"} for n in range(1, count + 1)],
        )
        session.execute(
            insert(Job),
            [
                {
                    "id": n,
                    "tag": f"T-{n:05}",
                    "tag_key": f"t-{n:05}",
                    "cluster_id": n,
                    "family_version_id": version_id,
                    "complaint": f"complaint number {n}",
                    "promised": TODAY + timedelta(n % 50),
                    "waits_for": waits[n % 4],
                    "stage": stages[n // 4 % 4],
                    "opened_at": OPENED,
                    "search": f"t-{n:05}\nfam-job\ns-{n}\ncomplaint number {n}",
                }
                for n in range(1, count + 1)
            ],
        )
        for table in (Received, Returned):
            session.execute(insert(table), [{"job_id": n} for n in range(1, count + 1)])


def tags(text: str) -> list[str]:
    return re.findall(r'class="tag"><a href="[^"]+">([^<]+)</a>', text)


def words(text: str) -> str:
    """What is read, without marks."""
    main = text.split("<main")[1].split("</main>", maxsplit=1)[0]
    return " ".join(re.sub(r"<[^>]+>", " ", main).split())


def test_an_empty_shelf_says_how_to_begin(tmp_path: Path) -> None:
    with page(tmp_path, filled=False) as browser:
        text = browser.get("/").text
        assert "The shelf is empty" in words(text)
        said = words(text)
        assert said.index("Add a person") < said.index("Add a family") < said.index("New tag")
        assert "done" not in said
        assert 'role="search"' not in text
        assert text.count('class="button main"') == 1
        assert 'class="button main" href="/shop#people"' in text


def test_what_an_empty_shelf_has_already_is_done(tmp_path: Path) -> None:
    with page(tmp_path) as browser:
        text = browser.get("/").text
        assert words(text).count("done") == 2
        assert "Add a family" not in text
        assert text.count('class="button main"') == 1
        assert 'class="button main" href="/jobs/new"' in text


def test_three_clusters_the_one_promised_first_in_front(browser: Browser) -> None:
    put(browser, "B-1", promised="2026-03-09", complaint="dim <b>display</b> & worse")
    put(browser, "A-2", promised="2026-03-03", serial="S-9", owner="C. Ustomer")
    put(browser, "C 3/4", promised="2026-03-04", variant=None)
    text = browser.get("/").text
    assert tags(text) == ["A-2", "C 3/4", "B-1"]
    assert "3 clusters" in words(text)
    assert "dim &lt;b&gt;display&lt;/b&gt; &amp; worse" in text
    said = words(text)
    groups = ("Overdue A-2", "Promised for today C 3/4", "Within a week B-1")
    places = [said.index(group) for group in groups]
    assert places == sorted(places)
    assert "Tue 3 Mar 1 day late" in said
    assert said.count("late") == 1
    assert "no complaint written down" in words(text)
    for link in re.findall(r'class="tag"><a href="([^"]+)"', text):
        assert browser.get(link.replace("&amp;", "&")).status_code == 200


def test_what_is_looked_for_is_found(browser: Browser) -> None:
    put(browser, "B-1", complaint="display dim", vehicle="an invented VAN")
    put(browser, "A-2", serial="S-9", owner="Müller (invented)")
    put(browser, "C-3", complaint="100 % dead")
    for looked_for, found in (
        ("van display", ["B-1"]),
        ("VAN", ["B-1"]),
        ("müller", ["A-2"]),
        ("s-9", ["A-2"]),
        ("%", ["C-3"]),
        ("_", []),
        ("fam-job", ["B-1", "A-2", "C-3"]),
        ("' OR 1=1 --", []),
    ):
        assert tags(browser.get("/", params={"words": looked_for}).text) == found, looked_for
    text = browser.get("/", params={"words": '"><script>'}).text
    assert "Nothing on the shelf fits" in words(text)
    assert 'value="&#34;&gt;&lt;script&gt;"' in text


def test_the_shelf_is_filtered_by_what_it_waits_for_and_where_it_stands(browser: Browser) -> None:
    put(browser, "B-1")
    put(browser, "A-2")
    jobs.wait_for(browser.shop, "A-2", "owner", ANNA)
    assert tags(browser.get("/?waits=owner").text) == ["A-2"]
    assert tags(browser.get("/?waits=cluster").text) == ["B-1"]
    assert tags(browser.get("/?stage=received").text) == ["B-1", "A-2"]
    assert tags(browser.get("/?stage=needles").text) == []
    assert tags(browser.get("/?waits=nonsense").text) == ["B-1", "A-2"]
    assert '<option value="owner" selected>' in browser.get("/?waits=owner").text


def test_ten_thousand_clusters_come_a_page_at_a_time(browser: Browser) -> None:
    put_many(browser.shop, MANY)
    first = browser.get("/").text
    assert len(tags(first)) == LINES
    assert "10 000 clusters" in words(first)
    assert "page 1 of 200" in words(first)
    assert 'rel="prev"' not in first
    assert len(first) < 60_000
    last = browser.get("/?page=200").text
    assert len(tags(last)) == LINES
    assert 'rel="next"' not in last
    seen = {tag for n in (1, 2, 3) for tag in tags(browser.get(f"/?page={n}").text)}
    assert len(seen) == 3 * LINES
    beyond = browser.get("/?page=201").text
    assert tags(beyond) == []
    assert "Nothing on the shelf fits" in words(beyond)


def test_lines_stand_under_what_their_promise_asks_for() -> None:
    today = date(2026, 3, 4)
    opened = datetime(2026, 1, 1, tzinfo=UTC)

    def line(promised: date | None, closed: datetime | None = None) -> ShelfLine:
        return ShelfLine("T", "f", None, "s", "", "", "received", "bench", promised, opened, closed)

    lines = [
        line(date(2025, 3, 4)),
        line(date(2026, 3, 3)),
        line(today),
        line(date(2026, 3, 5)),
        line(date(2026, 3, 11)),
        line(date(2026, 3, 12)),
        line(None),
        line(date(2026, 1, 1), opened),
    ]
    assert [(name, len(some)) for name, some in grouped(lines, today)] == [
        ("overdue", 2),
        ("today", 1),
        ("soon", 2),
        ("later", 1),
        ("no_promise", 1),
        ("returned", 1),
    ]


def test_pages_keep_what_is_looked_for(browser: Browser) -> None:
    put_many(browser.shop, 400)
    text = browser.get("/?words=number+1&waits=owner&page=1").text
    (onward,) = re.findall(r'rel="next" href="([^"]+)"', text) or [""]
    if not onward:
        text = browser.get("/?words=number&waits=owner").text
        (onward,) = re.findall(r'rel="next" href="([^"]+)"', text)
    assert "words=number" in onward
    assert "waits=owner" in onward
    assert "page=2" in onward
    assert tags(browser.get(onward.replace("&amp;", "&")).text)


@pytest.mark.parametrize("page_number", ["0", "-1", "x", "1e9", "99999999999"])
def test_a_page_that_is_none_is_refused(browser: Browser, page_number: str) -> None:
    assert browser.get(f"/?page={page_number}").status_code == 422
