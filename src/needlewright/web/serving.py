"""Where the page listens: on this machine alone, or in the shop's network behind a pass code."""

import os
import socket
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import uvicorn

from needlewright.errors import UsageError
from needlewright.records.opening import open_shop
from needlewright.records.place import shop_folder as place_of
from needlewright.web.app import create_app
from needlewright.web.house import Listening
from needlewright.web.live_frames import LARGEST_FRAME
from needlewright.web.serving_addresses import own_addresses, own_names
from needlewright.web.serving_memory import give_memory_back
from needlewright.web.session_codes import checked_code, new_code
from needlewright.web.tls import Certified, certificate_for

PORT: Final = 8737
LOOPBACK: Final = "127.0.0.1"
EVERYWHERE: Final = "0.0.0.0"
CODE_VARIABLE: Final = "NEEDLEWRIGHT_PASS_CODE"
LONGEST_CODE_FILE: Final = 4096
END_WITHIN_S: Final = 5
SWITCH_S: Final = 0.0005
"""A thread that reads a live picture lets the one that answers browsers in after so long."""


@dataclass(frozen=True, slots=True)
class Serving:
    """A place to listen, taken; nothing is answered yet."""

    shop_folder: Path
    socket: socket.socket
    listening: Listening
    certified: Certified | None

    @property
    def url(self) -> str:
        """Where a browser on this machine goes."""
        return f"{self.listening.scheme}://{LOOPBACK}:{self.listening.port}/"


def take_place(
    shop_folder: Path | None, port: int = PORT, *, lan: bool = False, code: str | None = None
) -> Serving:
    """Take the place to listen at.

    Parameters
    ----------
    shop_folder
        Of the shop; None: where the records say.
    port
        0 takes any that is free.
    lan
        Whether other devices may come; without it nothing but loopback is listened on.
    code
        The pass code for them; None: one is made.

    Returns
    -------
    Serving
        To be given to `serve`; its socket is bound.

    Raises
    ------
    UsageError
        If the port is taken, or may not be used.
    RecordError
        If the shop cannot be opened, or the certificate cannot be kept.
    """
    folder = place_of(shop_folder)
    bound = _bind(EVERYWHERE if lan else LOOPBACK, port)
    taken: int = bound.getsockname()[1]
    if not lan:
        return Serving(folder, bound, Listening(port=taken), None)
    try:
        open_shop(folder).close()  # what cannot be used is said before a certificate lies beside it
        names, addresses = own_names(), own_addresses()
        certified = certificate_for(folder, (*addresses, *names), datetime.now(UTC))
    except BaseException:
        bound.close()
        raise
    listening = Listening(
        port=taken,
        tls=True,
        code=code or new_code(),
        names=names,
        addresses=addresses,
        fingerprint=certified.fingerprint,
    )
    return Serving(folder, bound, listening, certified)


def serve(serving: Serving, on_ready: Callable[[], None] = lambda: None) -> None:
    """Answer until Ctrl-C.

    Parameters
    ----------
    serving
        The place taken.
    on_ready
        Called when browsers are answered.

    Raises
    ------
    RecordError
        If the shop cannot be opened.
    """
    give_memory_back()
    sys.setswitchinterval(SWITCH_S)
    app = create_app(serving.shop_folder, serving.listening)
    config = uvicorn.Config(
        app,
        http="h11",
        ws="websockets-sansio",
        ws_max_size=LARGEST_FRAME + 64 * 1024,  # so that one a little larger is told so
        ws_per_message_deflate=False,  # pictures are compressed already
        lifespan="on",
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,  # an address somebody claims to come from slows nobody else down
        timeout_graceful_shutdown=END_WITHIN_S,
        ssl_keyfile=None if serving.certified is None else str(serving.certified.key),
        ssl_certfile=None if serving.certified is None else str(serving.certified.certificate),
    )
    _Server(config, on_ready).run(sockets=[serving.socket])


class _Server(uvicorn.Server):
    """Says when it is ready."""

    def __init__(self, config: uvicorn.Config, on_ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._on_ready = on_ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self._on_ready()


def stated_code(code_file: Path | None) -> str | None:
    """The pass code somebody chose: out of a file, or the environment; never a command's words.

    Parameters
    ----------
    code_file
        Holds the code in its first line; None: not stated.

    Returns
    -------
    str or None
        None where none was chosen.

    Raises
    ------
    UsageError
        If the file cannot be read, or the code is too short.
    """
    if code_file is not None:
        try:
            with code_file.open(encoding="utf-8") as file:
                line = file.read(LONGEST_CODE_FILE).partition("\n")[0]
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or "it is no text"
            raise UsageError(
                f"--code-file {code_file}: cannot be read ({reason}); name a file whose first "
                "line is the pass code"
            ) from error
        return checked_code(line, f"--code-file {code_file}")
    named = os.environ.get(CODE_VARIABLE, "")
    return checked_code(named, CODE_VARIABLE) if named else None


def _bind(host: str, port: int) -> socket.socket:
    bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if os.name == "posix":
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((host, port))
    except (OSError, OverflowError) as error:
        bound.close()
        reason = getattr(error, "strerror", None) or str(error)
        raise UsageError(
            f"--port {port}: cannot be listened at ({reason}); another workbench may be running "
            "there: use its page, or name another port"
        ) from error
    return bound
