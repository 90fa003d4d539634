"""The facts of a job that no photo knows: shop, item, dates, odometer."""

import math
from datetime import date, datetime
from typing import Annotated, Any, Final

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from needlewright.proofs.odometer import LAW, OdometerFacts, ZeroNotice

LONGEST_TEXT: Final = 2_000


def _plain(text: str) -> str:
    joined = " ".join(text.split())
    if not joined or not joined.isprintable():
        raise ValueError("empty")
    return joined


def _day(value: Any) -> Any:
    """A day as TOML knows it or as text; a time of day beside it is not asked for."""
    if isinstance(value, datetime):
        raise ValueError("day")
    return date.fromisoformat(value) if isinstance(value, str) else value


def _not_a_flag(value: Any) -> Any:
    if isinstance(value, bool) or (isinstance(value, float) and not math.isfinite(value)):
        raise ValueError("number")
    return value


Text = Annotated[str, Field(max_length=LONGEST_TEXT), AfterValidator(_plain)]
Day = Annotated[date, BeforeValidator(_day)]
Mileage = Annotated[float, BeforeValidator(_not_a_flag), Field(ge=0, le=1e8)]
Above = Annotated[float, BeforeValidator(_not_a_flag), Field(gt=0, le=1e6)]


class _Facts(BaseModel):
    """Nothing unknown is let in: a misspelt field would silently be missing on the paper."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Instrument(_Facts):
    """An instrument used in the job."""

    name: Text
    number: Text
    due: Day | None = None
    """When its own calibration is due."""
    traceable_to: Text | None = None
    """Whose calibration it carries."""


class NoticeFacts(_Facts):
    """The written notice of an odometer that was set to zero."""

    mileage_before: Mileage
    date: Day
    attached_to: Text = "left door frame"
    procedure: Text | None = None
    """What was done under the local law, in words."""


class OdometerEntry(_Facts):
    """The odometer as received and as returned."""

    unit: Annotated[str, Field(pattern="^(km|mi)$")] = "km"
    as_received: Mileage | None = None
    as_returned: Mileage | None = None
    notice: NoticeFacts | None = None
    none_fitted: Text | None = None
    law: Text | None = None
    """The local law that holds where the shop is; left out: 49 USC 32704(a)."""

    @property
    def facts(self) -> OdometerFacts:
        """As the judgement takes them."""
        stated, notice = self.notice, None
        if stated is not None:
            notice = ZeroNotice(stated.mileage_before, stated.date, stated.attached_to)
        return OdometerFacts(
            self.unit,
            self.as_received,
            self.as_returned,
            notice,
            self.none_fitted,
            self.law or LAW,
            (stated and stated.procedure) or "",
        )


class JobFacts(_Facts):
    """A job file; every field is described in docs/papers.md."""

    shop: Text
    place: Text
    customer: Text
    customer_contact: Text | None = None
    vehicle: Text
    max_speed: Above | None = None
    """The vehicle's maximum design speed, in the speedometer's unit."""
    tag: Annotated[Text, Field(max_length=40)]
    serial: Text
    variant: Text | None = None
    family_version: Text | None = None
    """Which version of the family it was worked by, where a shop keeps versions."""
    condition: Text
    received: Day
    found_on: Day | None = None
    """Day of the check as found."""
    work: Day
    """Day of the rebuild and of the check as left."""
    issued: Day
    number: str | None = None
    """The paper's number; left out: tag and day of issue."""
    version: Annotated[int, BeforeValidator(_not_a_flag), Field(ge=1, le=99)] = 1
    replaces: Text | None = None
    """The older paper a new version replaces, by its full name."""
    replaces_because: Text | None = None
    authorised_by: Text
    odometer: OdometerEntry
    instruments: tuple[Instrument, ...] = ()
    work_done: tuple[Text, ...] = ()
    """What was adjusted or repaired between the two runs."""
    deviations: Text | None = None
    external_results: Text | None = None
    """Results in the paper that another shop provided."""
    supply: Text | None = None
    temperature: Text | None = None
    """Conditions in words, where the runs do not state them."""
    remarks: tuple[Text, ...] = ()
    battery_wait: Text | None = None
    """Wait before work at an airbag, from the vehicle's own manual."""
    invented: bool = False
    """A demonstration; every page says so."""

    @property
    def paper_number(self) -> str:
        """The number of the paper, the same for every version of it."""
        return self.number if self.number is not None else f"{self.tag}-{self.issued:%Y%m%d}"

    @property
    def paper_name(self) -> str:
        """Number and, from the second on, version: what every page carries."""
        return paper_name(self.paper_number, self.version)


def paper_name(number: str, version: int) -> str:
    """A paper's full name: `LH-0412`, `LH-0412 version 2`."""
    return number if version == 1 else f"{number} version {version}"
