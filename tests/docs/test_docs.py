"""The documentation against the program: nothing undocumented, nothing stale, no dead link."""

import ast
import ipaddress
import re
import runpy
import shlex
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from typer.core import TyperGroup
from typer.main import get_command

from needlewright.cli.main import app

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"

LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)|<img[^>]*\ssrc=\"([^\"]+)\"")
FENCED = re.compile(r"^```.*?^```", re.M | re.S)
HEADING = re.compile(r"^#+ (.+)$", re.M)

# Written so that no pattern finds itself.
MACHINE_PATH = re.compile(
    r"/(?:home|Users|root|work|workspace)/\w|\b[A-Z]:\\\w|/(?:tmp|opt|mnt)/\w"
)
URL_HOST = re.compile(r"\b(?:https?|ftp|git|ssh)://([\w.-]+)")
INDEX_OPTION = re.compile(r"--(?:extra-)?index(?:-url)?\b|--find-lin[k]s|--trusted-hos[t]")
REGISTRY = re.compile(r"\b(?:pypi|pythonhosted|npmjs|artifactory|jfrog|anaconda)\.(?:org|com|io)\b")
HOSTS = {"json-schema.org", "www.apache.org", "www.w3.org", "keepachangelog.com", "semver.org"}
"""Hosts whose addresses are names of formats and licences, not places anything is fetched from."""


def project_files() -> list[Path]:
    """Every file of the project: as git has them, without git by walking its folders."""
    try:
        listed = subprocess.run(
            ["git", "-C", ROOT, "ls-files", "-z"], check=True, capture_output=True, text=True
        ).stdout.split("\0")
        return [ROOT / name for name in listed if name and (ROOT / name).is_file()]
    except (OSError, subprocess.CalledProcessError):
        folders = (ROOT / name for name in ("docs", "src", "tests", "benchmarks", ".ci"))
        inside = (p for f in folders for p in f.rglob("*") if "__pycache__" not in p.parts)
        return [p for p in (*ROOT.iterdir(), *inside) if p.is_file()]


def text_of(path: Path) -> str | None:
    content = path.read_bytes()
    return None if b"\0" in content[:8000] else content.decode("utf-8", errors="replace")


def pages() -> list[Path]:
    return [p for p in project_files() if p.suffix == ".md"]


def leaves(command: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[str, Any]]:
    if isinstance(command, TyperGroup):
        for name in command.list_commands(None):
            yield from leaves(command.get_command(None, name), (*path, name))
    else:
        yield " ".join(path), command


COMMANDS = dict(leaves(get_command(app)))


def options_of(command: Any) -> set[str]:
    return {name for p in command.params for name in p.opts if name.startswith("-")} | {"--help"}


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_and_option_is_documented(name):
    text = (DOCS / "commands.md").read_text(encoding="utf-8")
    sections = dict(re.findall(r"^## needlewright (.+?)\n(.*?)(?=^## |\Z)", text, re.M | re.S))
    assert name in sections
    for option in options_of(COMMANDS[name]) - {"--help"}:
        assert re.search(rf"^\| `{option}[` ]", sections[name], re.M), option


def test_the_page_of_commands_is_not_stale():
    made = runpy.run_path(str(DOCS / "make_commands.py"))["page"]()
    assert (DOCS / "commands.md").read_text(encoding="utf-8") == made, "run docs/make_commands.py"


def test_the_measured_figures_of_the_readme_are_the_benchmarks():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    made = runpy.run_path(str(DOCS / "make_measured.py"))["filled"](text)
    assert made == text, "run docs/make_measured.py"
    assert made.count("| met |") + made.count("| MISSED |") >= 9


@pytest.mark.parametrize("page", pages(), ids=lambda p: str(p.relative_to(ROOT)))
def test_no_relative_link_is_dead(page):
    text = FENCED.sub("", page.read_text(encoding="utf-8"))
    for target in ("".join(found) for found in LINK.findall(text)):
        if URL_HOST.match(target):
            continue
        name, _, anchor = target.partition("#")
        linked = (page.parent / name).resolve() if name else page
        assert linked.exists(), f"{target} is not there"
        if anchor:
            assert anchor in anchors(linked), f"{target}: no such heading"


def anchors(page: Path) -> set[str]:
    """Headings as the names a browser is led to."""
    text = FENCED.sub("", page.read_text(encoding="utf-8"))
    return {re.sub(r"[^\w\- ]", "", h.lower()).replace(" ", "-") for h in HEADING.findall(text)}


@pytest.mark.parametrize("page", pages(), ids=lambda p: str(p.relative_to(ROOT)))
def test_commands_shown_in_a_page_exist_with_their_options(page):
    for line in shown_commands(page.read_text(encoding="utf-8")):
        words = shlex.split(line, comments=True)[1:]
        name = next((" ".join(words[:n]) for n in (2, 1) if " ".join(words[:n]) in COMMANDS), None)
        assert name or words[0].startswith("-"), f"no such command: {line}"
        known = options_of(COMMANDS[name]) if name else {"--help", "--install-completion"}
        used = {word.partition("=")[0] for word in words if word.startswith("--")}
        assert used <= known, f"{sorted(used - known)} of: {line}"


def shown_commands(text: str) -> list[str]:
    """Lines of code blocks that call the program, with what a backslash continues."""
    joined = re.sub(r"\\\n\s*", " ", text)
    found = re.findall(r"^(?: {4,}|\$ |> )?(needlewright [a-z-].*)$", joined, re.M)
    return [line for line in found if "COMMAND" not in line and "[--" not in line]


@pytest.mark.parametrize("pattern", [MACHINE_PATH, INDEX_OPTION, REGISTRY])
def test_no_path_of_a_machine_and_no_registry_in_any_file(pattern):
    found = [
        f"{path.relative_to(ROOT)}: {hit.group()}"
        for path in project_files()
        if (text := text_of(path)) is not None
        for hit in pattern.finditer(text)
    ]
    assert found == []


def test_addresses_are_only_names_of_formats_and_licences():
    hosts = {
        (host, str(path.relative_to(ROOT)))
        for path in project_files()
        if (text := text_of(path)) is not None
        for host in URL_HOST.findall(text)
    }
    assert [(host, where) for host, where in sorted(hosts) if not _names_no_place(host)] == []


def _names_no_place(host: str) -> bool:
    """A name of a format, the shop's own network, or a name kept free for examples (RFC 2606)."""
    if host in HOSTS or host == "localhost" or host.endswith(".example"):
        return True
    try:
        return ipaddress.ip_address(host).is_private
    except ValueError:
        return False


@pytest.mark.parametrize(
    ("pattern", "text"),
    [
        (MACHINE_PATH, "see /" + "home/someone/x"),
        (MACHINE_PATH, "C:" + "\\Users"),
        (INDEX_OPTION, "-" + "-index-url x"),
        (REGISTRY, "files.pythonhosted" + ".org"),
        (URL_HOST, "https:" + "//example.org/x"),
    ],
)
def test_the_patterns_find_what_they_are_for(pattern, text):
    assert pattern.search(text)


def test_everything_public_in_the_source_has_a_docstring():
    bare = [
        f"{path.relative_to(ROOT)}: {name}"
        for path in sorted((ROOT / "src").rglob("*.py"))
        for name in undocumented(path)
    ]
    assert bare == []


def undocumented(path: Path) -> Iterator[str]:
    """Public names of a module that say nothing of themselves."""
    module = ast.parse(path.read_text(encoding="utf-8"))
    if not ast.get_docstring(module):
        yield "the module"
    yield from _undocumented(module.body)


def _undocumented(body: list[ast.stmt]) -> Iterator[str]:
    for node in body:
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            continue
        if node.name.startswith("_"):
            continue
        if not ast.get_docstring(node):
            yield node.name
        if isinstance(node, ast.ClassDef):
            yield from _undocumented(node.body)
