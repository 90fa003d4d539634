"""What stands on the bench of a run, as chosen: written beside the run until it is finished."""

import re
from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field

from needlewright.errors import RunError, SignalError, UsageError
from needlewright.families.model import Family
from needlewright.records.opening import Shop
from needlewright.rehearsal.cluster.faults import parse_fault
from needlewright.rehearsal.cluster.rehearsal import Unit
from needlewright.rehearsal.movement.figures import REFERENCE_DEGC
from needlewright.signals.settings import BenchSettings, load_settings

HAND: Final = ""
"""In place of a settings file's name: no adapter and no supply, a person does it all."""
MOST_FAULTS: Final = 20
COLDEST_DEGC: Final = -40.0
HOTTEST_DEGC: Final = 85.0
_SETTINGS: Final = re.compile(r"bench(-[A-Za-z0-9][A-Za-z0-9 _-]{0,40})?\.toml")
Kind = Literal["rehearsal", "bench"]


class BenchChoice(BaseModel):
    """One bench."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    kind: Kind
    settings: Annotated[str, Field(max_length=60)] = HAND
    """Name of the settings file in the shop's folder; `HAND`: none."""
    camera: Annotated[int, Field(ge=0, lt=100)] = 0
    temperature_c: Annotated[float | None, Field(allow_inf_nan=False)] = None
    faults: tuple[str, ...] = ()
    """Of a rehearsed cluster, as typed."""
    seed: Annotated[int, Field(ge=0, lt=2**31)] = 0

    @property
    def is_rehearsal(self) -> bool:
        """Whether no real cluster is there."""
        return self.kind == "rehearsal"

    @property
    def places(self) -> tuple[str, ...]:
        """What only one run at a time may have."""
        if self.is_rehearsal:
            return (self.kind,)
        devices = () if self.settings == HAND else (self.settings,)
        return (*devices, camera_place(self.camera))


def camera_place(number: int) -> str:
    """What a camera of the bench computer is called among the places a run takes."""
    return f"camera {number}"


def benches_of(shop: Shop) -> tuple[str, ...]:
    """Names of the settings files of benches in the shop's folder.

    Parameters
    ----------
    shop
        The shop.

    Returns
    -------
    tuple of str
        `bench.toml` first, then `bench-NAME.toml`.
    """
    found = (path.name for path in shop.folder.glob("bench*.toml") if path.is_file())
    return tuple(sorted((name for name in found if _SETTINGS.fullmatch(name)), key=_order))


def settings_of(shop: Shop, name: str) -> BenchSettings:
    """The settings of one of the shop's benches.

    Parameters
    ----------
    shop
        The shop.
    name
        Of the file; `HAND`: no device.

    Returns
    -------
    BenchSettings
        Checked.

    Raises
    ------
    RunError
        If there is no such file.
    SignalError
        If it cannot be used; the sentence names the file without its folder.
    """
    if name == HAND:
        return BenchSettings()
    if name not in benches_of(shop):
        raise RunError(
            f"bench '{name[:60]}': there is no such settings file in the shop's folder; choose the "
            "bench again"
        )
    path = shop.folder / name
    try:
        return load_settings(path)
    except SignalError as error:
        raise SignalError(str(error).replace(str(path), name)) from error


def unit_of(choice: BenchChoice, family: Family) -> Unit:
    """The rehearsed cluster of a choice.

    Parameters
    ----------
    choice
        Of a rehearsal.
    family
        The cluster design.

    Returns
    -------
    Unit
        Checked, but for sizes a movement cannot have.

    Raises
    ------
    RunError
        If a fault is none, or it is colder or hotter than a cluster is rehearsed at.
    """
    degc = REFERENCE_DEGC if choice.temperature_c is None else choice.temperature_c
    if not COLDEST_DEGC <= degc <= HOTTEST_DEGC:
        raise RunError(
            f"temperature: a cluster is rehearsed from {COLDEST_DEGC:g} to {HOTTEST_DEGC:g} °C, "
            f"found {degc:g}; correct it"
        )
    if len(choice.faults) > MOST_FAULTS:
        raise RunError(f"faults: at most {MOST_FAULTS} are put on one cluster; leave some out")
    try:
        faults = tuple(parse_fault(text, family) for text in choice.faults)
    except UsageError as error:
        raise RunError(str(error).replace("--fault", "fault")) from error
    return Unit(faults, degc, choice.seed)


def _order(name: str) -> tuple[bool, str]:
    return Path(name).stem != "bench", name
