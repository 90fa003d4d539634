"""The catalogue as it is written: TOML people read and edit, each entry with its source."""

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator

from needlewright.findings.troubleshooting.file_tables import Closed, Words


def _no_answer(value: object) -> object:
    """`true` is no number, though it would count as 1."""
    if isinstance(value, bool):
        raise ValueError(f"expected a number, found {str(value).lower()}")
    return value


Number = BeforeValidator(_no_answer)
Minutes = Annotated[Decimal, Field(ge=0, le=10_000)]
Price = Annotated[Decimal, Field(ge=0, le=1_000_000)]
Chance = Annotated[Decimal, Field(ge=0, le=1)]
Cure = Annotated[Decimal, Field(gt=0, le=1)]
Count = Annotated[int, Field(ge=1, le=1000), Number]
Scope = Literal["dial", "whole"]


class SpreadTable(Closed):
    """Minutes of a piece of work: at least, usually, at most."""

    least: Minutes
    usual: Minutes
    most: Minutes

    @model_validator(mode="after")
    def _in_order(self) -> "SpreadTable":
        if not self.least <= self.usual <= self.most:
            raise ValueError(
                f"least {self.least}, usual {self.usual} and most {self.most} minutes must not "
                "fall; put them in that order"
            )
        return self


class ShopTable(Closed):
    """What an hour costs, and from when on something is watched."""

    hour: Price
    watch_minutes: Minutes
    source: Words


class ReturnTable(Closed):
    """What it costs when a cluster comes back."""

    ship_one_way: Price
    goodwill: Price
    goodwill_told: Chance
    check_catches: Chance
    source: Words


class HorizonTable(Closed):
    """How far ahead is looked."""

    warranty_months: Annotated[Decimal, Field(ge=0, le=120)]
    years: Annotated[Decimal, Field(gt=0, le=50)]
    km_per_year: Annotated[Decimal, Field(gt=0, le=500_000)]
    source: Words


class WayTable(Closed):
    """One direction of a level: what is done, and how long it takes."""

    words: Words
    minutes: SpreadTable
    cautions: tuple[str, ...] = ()


class CheckTable(Closed):
    """A check: minutes, the level that stands open while it is made, cautions, what it settles."""

    words: Words
    minutes: SpreadTable | None = None
    at: str | None = None
    powered: bool = True
    cautions: tuple[str, ...] = ()
    settles: tuple[str, ...] = ()


class LevelTable(Closed):
    """A state of being open that operations share."""

    scope: Scope = "whole"
    needs: tuple[str, ...] = ()
    way_in: WayTable
    way_out: WayTable
    checks: tuple[Words | CheckTable, ...] = ()
    source: Words


class PartPriceTable(Closed):
    """Something that is bought and fitted."""

    words: Words
    price: Price
    source: Words


class NeedTable(Closed):
    """So many of a part; where the family lists them, as many as it lists."""

    part: str
    count: Count = 1
    count_of: Literal["lamps", "tell_tales", "displays"] | None = None


class RiskTable(Closed):
    """What may go wrong while it is done."""

    spoil: Chance
    minutes: Minutes = Decimal(0)
    cost: Price = Decimal(0)


class OperationTable(Closed):
    """Something that can be done."""

    scope: Scope
    kind: Literal["repair", "replace"]
    words: Words
    fixes: dict[str, Cure] = Field(default_factory=dict)
    prevents: dict[str, Cure] = Field(default_factory=dict)
    minutes: SpreadTable | None = None
    included_in: str | None = None
    open: tuple[str, ...] = ()
    parts: tuple[NeedTable, ...] = ()
    risk: RiskTable = RiskTable(spoil=Decimal(0))
    cautions: tuple[str, ...] = ()
    checks: tuple[Words | CheckTable, ...] = ()
    guide: str | None = None
    in_everything: bool = False
    source: Words

    @model_validator(mode="after")
    def _minutes_once(self) -> "OperationTable":
        if (self.minutes is None) == (self.included_in is None):
            raise ValueError(
                "give its minutes, or the level whose way out contains it ('included_in'), not "
                "both and not neither"
            )
        return self


class LifeTable(Closed):
    """Wear-out by Weibull's law: by age, or by distance."""

    shape: Annotated[float, Field(gt=0, le=20), Number]
    years: Annotated[float, Field(gt=0, le=1000), Number] | None = None
    km: Annotated[float, Field(gt=0, le=1e8), Number] | None = None

    @model_validator(mode="after")
    def _one_clock(self) -> "LifeTable":
        if (self.years is None) == (self.km is None):
            raise ValueError(
                "give the scale either in 'years' or in 'km', not both and not neither"
            )
        return self


class WeakPointTable(Closed):
    """What is known to fail with age."""

    scope: Scope
    words: Words
    leads_to: str
    life: LifeTable
    where_family_has: Literal["lamps", "tell_tales", "displays"] | None = None
    source: Words


class FamilyPointTable(WeakPointTable):
    """A weak point of a family's own list: of every variant and dial, or of some."""

    id: str
    variants: tuple[str, ...] = ()
    dials: tuple[str, ...] = ()


class AddedTables(Closed):
    """What a family adds to a catalogue, or says otherwise."""

    level: dict[str, LevelTable] = Field(default_factory=dict)
    part: dict[str, PartPriceTable] = Field(default_factory=dict)
    operation: dict[str, OperationTable] = Field(default_factory=dict)
    weak_point: dict[str, WeakPointTable] = Field(default_factory=dict)
    caution: dict[str, Words] = Field(default_factory=dict)


class CatalogueTables(AddedTables):
    """All of a catalogue."""

    currency: str
    shop: ShopTable
    back: ReturnTable = Field(alias="return")
    horizon: HorizonTable
