"""Where the page listens, how the pass code is given, and what is said when it cannot."""

import os
import signal
import socket
import subprocess
from pathlib import Path

import httpx2
import pytest

from needlewright.cli.main import run
from needlewright.composing.demo_shop import make_demo_shop
from needlewright.errors import UsageError
from needlewright.records.opening import open_shop
from needlewright.records.shelf import shelf
from needlewright.records.shop import change_settings, check_shop, settings
from needlewright.records.waiting_photos import photos_to_read
from needlewright.web.serving import CODE_VARIABLE, stated_code, take_place
from needlewright.web.serving_addresses import own_addresses, own_names
from web.serving_process import WITHIN_S, served


def test_without_lan_nothing_but_loopback_is_listened_on(tmp_path: Path) -> None:
    place = take_place(tmp_path, 0)
    with place.socket as bound:
        host, port = bound.getsockname()
        assert host == "127.0.0.1"
        assert place.url == f"http://127.0.0.1:{port}/"
        assert not place.listening.lan
        assert place.certified is None
    assert list(tmp_path.iterdir()) == []  # no certificate is made for nobody


def test_with_lan_there_is_always_a_code_and_a_certificate(tmp_path: Path) -> None:
    place = take_place(tmp_path, 0, lan=True)
    with place.socket as bound:
        assert bound.getsockname()[0] == "0.0.0.0"
        assert place.listening.code is not None
        assert len(place.listening.code) == 8
        assert place.listening.tls
        assert place.url.startswith("https://127.0.0.1:")
        assert place.certified is not None
        assert place.listening.fingerprint == place.certified.fingerprint


def test_a_real_page_is_reached_from_this_machine_alone(tmp_path: Path) -> None:
    with served(tmp_path) as one:
        port = httpx2.URL(one.said["url"]).port
        assert "The shelf is empty" in httpx2.get(one.said["url"], timeout=WITHIN_S).text
        assert one.said["lan"] is False
        assert one.said["lan_urls"] == []
        assert one.said["pass_code"] is None
        assert listened_on(port) == {"127.0.0.1"}
        for address in own_addresses():
            with pytest.raises(OSError, match="refused"):
                socket.create_connection((address, port), timeout=5)
    assert one.process.returncode == 130


def listened_on(port: int) -> set[str]:
    """Local addresses with a socket listening at a port, as the system's own table says."""
    found = set()
    for table, width in (("tcp", 8), ("tcp6", 32)):
        for line in Path(f"/proc/net/{table}").read_text().splitlines()[1:]:
            local, state = line.split()[1], line.split()[3]
            if state == "0A" and int(local.split(":")[1], 16) == port:
                raw = bytes.fromhex(local[:width])
                found.add(socket.inet_ntoa(raw[::-1]) if table == "tcp" else raw.hex())
    return found


def test_a_taken_port_is_one_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(SystemExit) as left:
            run(["serve", "--shop", str(tmp_path / "s"), "--port", str(port)])
    assert left.value.code == 2
    said = capsys.readouterr().err
    assert said.startswith(f"needlewright: --port {port}: cannot be listened at (")
    assert "name another port" in said
    assert not (tmp_path / "s").exists()


def test_the_code_comes_from_a_file_or_the_environment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(CODE_VARIABLE, raising=False)
    assert stated_code(None) is None
    file = tmp_path / "code"
    file.write_text("  from the file 1 \nsecond line\n", encoding="utf-8")
    assert stated_code(file) == "from the file 1"
    monkeypatch.setenv(CODE_VARIABLE, "from the environment")
    assert stated_code(None) == "from the environment"
    assert stated_code(file) == "from the file 1"
    monkeypatch.setenv(CODE_VARIABLE, "short")
    with pytest.raises(UsageError, match=f"^{CODE_VARIABLE}: a pass code has 8"):
        stated_code(None)
    file.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(UsageError, match="it is no text"):
        stated_code(file)
    with pytest.raises(UsageError, match="No such file"):
        stated_code(tmp_path / "none")


def test_no_option_takes_a_code(capsys: pytest.CaptureFixture[str]) -> None:
    """It would stay in the shell's history and in the list of processes."""
    with pytest.raises(SystemExit):
        run(["serve", "--help"])
    options = {word for word in capsys.readouterr().out.split() if word.startswith("--")}
    assert "--code-file" in options
    assert options.isdisjoint({"--code", "--pass-code", "--password"})


def test_a_code_without_lan_is_wrong_usage(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as left:
        run(["serve", "--shop", str(tmp_path), "--code-file", str(tmp_path / "x")])
    assert left.value.code == 2
    assert "--code-file: a pass code is for --lan" in capsys.readouterr().err


def test_a_picture_of_the_address_is_drawn_for_a_phone(tmp_path: Path) -> None:
    with served(tmp_path, "--lan") as one:
        assert len(one.said["pass_code"]) == 8
        assert one.said["pass_code"].isdigit()
        assert [httpx2.URL(url).host for url in one.said["lan_urls"]] == list(own_addresses())


def test_own_addresses_are_reachable_ones() -> None:
    for address in own_addresses():
        assert not address.startswith(("127.", "169.254.", "0."))
    assert all(name == name.lower() and name != "localhost" for name in own_names())


def test_the_demo_shop_is_made_once_and_is_whole(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    assert make_demo_shop(folder) is True
    assert make_demo_shop(folder) is False
    with open_shop(folder) as shop:
        assert settings(shop).invented is True
        assert [line.tag for line in shelf(shop).lines] == [
            "EX-0398",
            "EX-0405",
            "EX-0412",
            "EX-0409",
            "EX-0415",
        ]
        assert len(photos_to_read(shop)) == 36
        assert check_shop(shop).problems == ()
        change_settings(shop, {"invented": False})
    with pytest.raises(UsageError, match="holds a real shop"):
        make_demo_shop(folder)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["shop"]


def test_the_demo_takes_no_folder_that_holds_something(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("keep me")
    with pytest.raises(UsageError, match="holds something else"):
        make_demo_shop(tmp_path)
    assert (tmp_path / "letter.txt").read_text() == "keep me"


def test_it_ends_when_it_is_asked_to(tmp_path: Path) -> None:
    with served(tmp_path, "--demo") as one:
        assert "EX-0412" in httpx2.get(one.said["url"], timeout=WITHIN_S).text
        one.process.send_signal(signal.SIGTERM)
        _, errors = one.process.communicate(timeout=WITHIN_S)
        assert "Traceback" not in errors
        with pytest.raises(httpx2.ConnectError):
            httpx2.get(one.said["url"], timeout=WITHIN_S)
    with open_shop(tmp_path) as shop:
        assert check_shop(shop).problems == ()


def test_a_line_for_people_says_where_it_is(tmp_path: Path) -> None:
    command = ["import sys; from needlewright.cli.main import run; run(sys.argv[1:])"]
    process = subprocess.Popen(
        [os.sys.executable, "-c", *command, "serve", "--shop", str(tmp_path), "--port", "0"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout is not None
        said = [process.stdout.readline() for _ in range(3)]
    finally:
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=WITHIN_S)
    assert said[0].startswith("the page is at http://127.0.0.1:")
    assert said[1] == f"the shop lies in {tmp_path}\n"
    assert said[2] == "Ctrl-C ends it\n"
    assert errors.strip() == "needlewright: stopped"
