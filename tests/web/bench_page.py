"""A page for tests: an invented shop behind it, and a browser that behaves like one."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.routing import APIRoute
from starlette.testclient import TestClient

from needlewright.records.opening import Shop
from needlewright.records.place import DATABASE
from needlewright.web.app import create_app
from needlewright.web.house import House, Listening
from needlewright.web.posted import TOKEN
from records.benches import ANNA, BERT, FAMILY_FOLDER, furnished

__all__ = ["ANNA", "BERT", "FAMILY_FOLDER"]  # whom and what tests of the page meet in that shop
CODE = "4711 0815"
LAN = Listening(
    port=8737,
    tls=True,
    code=CODE,
    names=("bench", "bench.local"),
    addresses=("192.168.7.5", "10.1.2.3"),
    fingerprint="AA BB",
)
SAME = {"Sec-Fetch-Site": "same-origin"}


class Browser:
    """Sends what a browser sends, from a page of the workbench's own."""

    def __init__(self, app: FastAPI, base_url: str = "http://127.0.0.1:8737") -> None:
        self.app = app
        self.house: House = app.state.house
        self.client = TestClient(
            app, base_url=base_url, follow_redirects=False, raise_server_exceptions=False
        )

    @property
    def shop(self) -> Shop:
        return self.house.shop

    @property
    def token(self) -> str:
        """The form token of the session in the jar; one is begun where there is none."""
        name = self.house.listening.cookie
        session = self.house.sessions.find(self.client.cookies.get(name) or "")
        if session is None:
            self.client.get("/sign-in" if self.house.codes else "/keys")
            session = self.house.sessions.find(self.client.cookies[name])
        assert session is not None
        return session.form_token

    def get(self, path: str, **more: Any) -> Any:
        return self.client.get(path, **more)

    def post(self, path: str, data: dict[str, Any] | None = None, **more: Any) -> Any:
        """A plain form, its token in it."""
        headers = SAME | more.pop("headers", {})
        fields = {TOKEN: self.token} | (data or {})
        return self.client.post(path, data=fields, headers=headers, **more)

    def send(self, method: str, path: str, json: Any = None, **more: Any) -> Any:
        """As the page's scripts do: JSON, and the token in a header."""
        headers = SAME | {"X-Form-Token": self.token, "Accept": "application/json"}
        return self.client.request(method, path, json=json, headers=headers, **more)

    def sign_in(self, code: str = CODE) -> Any:
        return self.post("/sign-in", {"code": code})


@contextmanager
def page(
    folder: Path, listening: Listening | None = None, *, filled: bool = True
) -> Iterator[Browser]:
    """The page of a shop with two people and a family; nothing is read in the background."""
    if filled and not (folder / DATABASE).exists():
        shutil.copytree(furnished(), folder, dirs_exist_ok=True)
    app = create_app(folder, listening or Listening(port=8737), read_photos=False)
    base = "https://192.168.7.5:8737" if listening and listening.tls else "http://127.0.0.1:8737"
    browser = Browser(app, base)
    with browser.client:
        yield browser


def routes_of(app: FastAPI) -> list[tuple[str, str]]:
    """Every `(method, path)` there is, with the places in paths filled in."""
    found: list[tuple[str, str]] = []

    def walk(routes: Any, prefix: str) -> None:
        for route in routes:
            if isinstance(route, APIRoute):
                for method in sorted(route.methods):
                    found.append((method, prefix + filled_in(route.path)))
            inner = getattr(route, "original_router", None) or getattr(route, "router", None)
            if inner is not None:
                walk(inner.routes, prefix + route.include_context.prefix)

    walk(app.routes, "")
    return found


def filled_in(path: str) -> str:
    """A path that could be meant: numbers for ids, words for the rest."""
    parts = []
    for part in path.split("/"):
        name = part.strip("{}").partition(":")[0]
        if not part.startswith("{"):
            parts.append(part)
        elif name == "sha256":
            parts.append("0" * 64)
        elif name.endswith("id"):
            parts.append("1")
        else:
            parts.append({"stage": "received", "step": "finish", "part": "pdf"}.get(name, "T-77"))
    return "/".join(parts)
