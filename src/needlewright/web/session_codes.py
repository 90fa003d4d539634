"""The pass code of the shop's network, and how wrong ones slow down."""

import secrets
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from hashlib import sha256
from hmac import compare_digest
from ipaddress import IPv6Address, ip_address
from threading import Lock
from time import monotonic
from typing import Final

from needlewright.errors import UsageError

DIGITS: Final = 8
SHORTEST: Final = 8
LONGEST: Final = 128
FREE_TRIES: Final = 3
"""Wrong codes of one device before it has to wait."""
LONGEST_WAIT_S: Final = 300.0
FORGOTTEN_AFTER_S: Final = 3600.0
FREE_FOR_ALL: Final = 20
"""Wrong codes of all devices together within `ALL_WITHIN_S` before everybody has to wait."""
ALL_WITHIN_S: Final = 600.0
LONGEST_WAIT_FOR_ALL_S: Final = 30.0
MOST_DEVICES: Final = 1_000


def new_code() -> str:
    """A code for one evening: digits, which a phone types with its large keys."""
    return "".join(secrets.choice("0123456789") for _ in range(DIGITS))


def spaced(code: str) -> str:
    """A code as it is read out: four and four."""
    return " ".join(code[i : i + 4] for i in range(0, len(code), 4)) if code.isdigit() else code


def checked_code(code: str, where: str) -> str:
    """A code somebody chose.

    Parameters
    ----------
    code
        As given.
    where
        Named first in the sentence.

    Returns
    -------
    str
        Without outer blanks.

    Raises
    ------
    UsageError
        If it is too short or too long.
    """
    code = code.strip()
    if not SHORTEST <= len(_plain(code)) <= LONGEST:
        raise UsageError(
            f"{where}: a pass code has {SHORTEST} to {LONGEST} characters, this one has "
            f"{len(_plain(code))}; give a longer one, or none and one is made"
        )
    return code


@dataclass(frozen=True, slots=True)
class Tried:
    """What came of a code."""

    right: bool
    wait_s: float = 0.0
    """How long this device has to wait before another code is looked at; 0: not at all."""


@dataclass(slots=True)
class _Device:
    wrong: int = 0
    last_s: float = 0.0
    until_s: float = 0.0


@dataclass(slots=True)
class CodeCheck:
    """Compares codes, and takes its time with those who guess.

    A device that guesses waits twice as long after each wrong code. Where many devices guess,
    everybody waits a little before signing in; who is signed in already notices nothing.
    """

    code: str
    clock: Callable[[], float] = monotonic
    _devices: dict[str, _Device] = field(default_factory=dict)
    _wrong_at: deque[float] = field(default_factory=deque)
    _all_until_s: float = 0.0
    _lock: Lock = field(default_factory=Lock)

    def attempt(self, given: str, address: str) -> Tried:
        """Look at a code, unless the device has to wait.

        Parameters
        ----------
        given
            As typed; blanks and hyphens do not count.
        address
            Of the device.

        Returns
        -------
        Tried
            While it waits, not even the right code is looked at.
        """
        key = _device_of(address)
        with self._lock:  # one code at a time: many at once are not a way around the waiting
            now = self.clock()
            device = self._device(key, now)
            wait_s = max(device.until_s, self._all_until_s) - now
            if wait_s > 0:
                return Tried(False, wait_s)
            if compare_digest(_digest(given[: LONGEST * 2]), _digest(self.code)):
                self._devices.pop(key, None)
                return Tried(True)
            return Tried(False, self._note_wrong(device, now))

    def _device(self, key: str, now: float) -> _Device:
        device = self._devices.get(key)
        if device is None or now - device.last_s > FORGOTTEN_AFTER_S:
            if len(self._devices) >= MOST_DEVICES:
                del self._devices[min(self._devices, key=lambda one: self._devices[one].last_s)]
            device = self._devices[key] = _Device(last_s=now)
        return device

    def _note_wrong(self, device: _Device, now: float) -> float:
        device.wrong += 1
        device.last_s = now
        if device.wrong >= FREE_TRIES:
            own_s = min(2.0 ** (device.wrong - FREE_TRIES + 1), LONGEST_WAIT_S)
            device.until_s = now + own_s
        self._wrong_at.append(now)
        while now - self._wrong_at[0] > ALL_WITHIN_S:
            self._wrong_at.popleft()
        beyond = len(self._wrong_at) - FREE_FOR_ALL
        if beyond >= 0:
            self._all_until_s = now + min(2.0 ** min(beyond, 10), LONGEST_WAIT_FOR_ALL_S)
        return max(device.until_s, self._all_until_s, now) - now


def _plain(code: str) -> str:
    return "".join(c for c in code if not c.isspace() and c != "-")


def _digest(code: str) -> bytes:
    """Of equal length whatever was typed, so that the comparison's time says nothing."""
    return sha256(_plain(code).encode("utf-8", "surrogatepass")).digest()


def _device_of(address: str) -> str:
    """A device by its address; of IPv6 the network, as a device has many addresses in it."""
    try:
        ip = ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if isinstance(ip, IPv6Address) and ip.ipv4_mapped is None:
        return ip.exploded[:19]
    return str(getattr(ip, "ipv4_mapped", None) or ip)
