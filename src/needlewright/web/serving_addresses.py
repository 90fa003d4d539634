"""Under which addresses this machine is found in the shop's network."""

import socket
from collections.abc import Iterator
from contextlib import suppress
from ipaddress import ip_address
from struct import pack
from typing import Final

NOWHERE: Final = ("192.0.2.1", 9)
"""An address kept free for documents (RFC 5737): the system says which way it would take, and
nothing is sent."""
_SIOCGIFADDR: Final = 0x8915


def own_addresses() -> tuple[str, ...]:
    """IPv4 addresses of this machine another device could reach, the likeliest first."""
    found = dict.fromkeys((*_on_the_way(), *_of_interfaces(), *_of_name()))
    return tuple(one for one in found if _is_reachable(one))


def own_names() -> tuple[str, ...]:
    """Names of this machine, as a local network may know it."""
    name = socket.gethostname().split(".")[0].lower()
    if not name or name == "localhost":
        return ()
    full = socket.gethostname().lower()
    return tuple(dict.fromkeys((f"{name}.local", name, full)))


def _is_reachable(address: str) -> bool:
    ip = ip_address(address)
    return not (ip.is_loopback or ip.is_link_local or ip.is_unspecified or ip.is_multicast)


def _on_the_way() -> Iterator[str]:
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(NOWHERE)
        yield probe.getsockname()[0]


def _of_name() -> Iterator[str]:
    with suppress(OSError):
        for entry in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET):
            yield str(entry[4][0])


def _of_interfaces() -> Iterator[str]:
    """Each interface's address, where the system tells (Linux)."""
    try:
        from fcntl import ioctl  # noqa: PLC0415 - not on every system
    except ImportError:
        return
    with suppress(OSError, AttributeError), socket.socket(socket.AF_INET) as probe:
        for _, name in socket.if_nameindex():
            with suppress(OSError):
                answer = ioctl(probe, _SIOCGIFADDR, pack("256s", name.encode()[:15]))
                yield socket.inet_ntoa(answer[20:24])
