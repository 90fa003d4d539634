"""Under which names this machine answers.

A page elsewhere could have its own name lead to this machine and so read what stands here. A name
that is not this machine's is therefore refused; an address in numbers cannot be such a name.
"""

from ipaddress import ip_address
from typing import Final
from urllib.parse import urlsplit

from starlette.requests import HTTPConnection, Request

from needlewright.web.house import Listening

LOOPBACK: Final = "localhost"


def is_host_known(host: str, listening: Listening) -> bool:
    """Whether a request was meant for this machine.

    Parameters
    ----------
    host
        The header: name or address, and port.
    listening
        How the page is reached.

    Returns
    -------
    bool
        On loopback alone, only addresses and names of loopback are this machine's.
    """
    name = _name_of(host)
    if name is None:
        return False
    if name == LOOPBACK:
        return True
    try:
        address = ip_address(name)
    except ValueError:
        return listening.lan and name in {one.lower() for one in listening.names}
    return listening.lan or address.is_loopback


def is_origin_own(origin: str | None, request: Request) -> bool:
    """Whether a browser sends from a page of ours; one that does not say is let pass."""
    if origin is None:
        return True
    host = request.headers.get("host", "").lower()
    return origin.lower() == f"{request.scope['scheme']}://{host}"


def is_line_own(origin: str | None, line: HTTPConnection) -> bool:
    """Whether a line is opened from a page of ours; browsers always say where from."""
    if origin is None:
        return False
    scheme = {"ws": "http", "wss": "https"}.get(line.scope["scheme"], "")
    return origin.lower() == f"{scheme}://{line.headers.get('host', '').lower()}"


def _name_of(host: str) -> str | None:
    """The name in a Host header, in lower case and without brackets; None: not understood."""
    try:
        parts = urlsplit(f"//{host}")
        parts.port  # noqa: B018 - raises where it is no port
    except ValueError:
        return None
    if parts.netloc != host or parts.path or parts.username is not None or not parts.hostname:
        return None
    return parts.hostname.rstrip(".").lower()
