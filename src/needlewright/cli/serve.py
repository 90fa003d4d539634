"""`needlewright serve`: the page, on this machine or in the shop's network."""

from pathlib import Path
from typing import Annotated, Any

import segno
import typer

from needlewright.cli import console
from needlewright.cli.shop_options import AsJson, ShopFolder, say
from needlewright.composing.demo_shop import demo_folder, make_demo_shop
from needlewright.errors import UsageError
from needlewright.web.serving import CODE_VARIABLE, PORT, Serving, serve, stated_code, take_place
from needlewright.web.session_codes import spaced

app = typer.Typer()
HIGHEST_PORT = 65_535


@app.command("serve")
def serve_page(
    *,
    shop: ShopFolder = None,
    port: Annotated[
        int,
        typer.Option(
            min=0,
            max=HIGHEST_PORT,
            metavar="NUMBER",
            help="Where it listens; 0 takes any that is free.",
        ),
    ] = PORT,
    lan: Annotated[
        bool,
        typer.Option(
            "--lan", help="Let phones and other screens of the shop's network in, by a pass code."
        ),
    ] = False,
    code_file: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help=f"Its first line is the pass code; else {CODE_VARIABLE}, else one is made.",
        ),
    ] = None,
    demo: Annotated[
        bool, typer.Option("--demo", help="Serve an invented shop, made if it is not there yet.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Serve the page until Ctrl-C; without --lan, to this machine alone."""
    if code_file is not None and not lan:
        raise UsageError("--code-file: a pass code is for --lan; give both, or neither")
    if demo:
        shop = shop or demo_folder()
        make_demo_shop(shop)
    serving = take_place(shop, port, lan=lan, code=stated_code(code_file) if lan else None)
    try:
        serve(serving, lambda: _announce(serving, as_json))
    finally:
        serving.socket.close()


def _announce(serving: Serving, as_json: bool) -> None:
    if as_json:
        console.emit_json(_document(serving))
        return
    say(f"the page is at {serving.url}")
    say(f"the shop lies in {serving.shop_folder}")
    if serving.listening.lan:
        _announce_lan(serving)
    say("Ctrl-C ends it")


def _announce_lan(serving: Serving) -> None:
    listening = serving.listening
    urls = listening.urls()
    if not urls:
        say("this machine is in no network now; join one, then start again")
        return
    if console.out.is_terminal:
        segno.make(urls[0], error="m").terminal(compact=True)
    say(f"for phones: {' or '.join(urls)}")
    say(f"pass code:  {spaced(listening.code or '')}")
    if serving.certified is not None and serving.certified.is_new:
        say("a new certificate was made, so every browser warns once; to compare, its SHA-256:")
        say(listening.fingerprint)


def _document(serving: Serving) -> dict[str, Any]:
    listening = serving.listening
    return {
        "url": serving.url,
        "shop": str(serving.shop_folder),
        "lan": listening.lan,
        "lan_urls": list(listening.urls()) if listening.lan else [],
        "pass_code": listening.code,
        "certificate_sha256": listening.fingerprint or None,
    }
