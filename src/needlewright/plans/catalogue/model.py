"""A catalogue once it was checked: plain records, money and minutes exact."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from needlewright.families.model import Family
from needlewright.plans.wear.weibull import Weibull

Scope = Literal["dial", "whole"]
Kind = Literal["repair", "replace"]
Clock = Literal["years", "km"]


@dataclass(frozen=True, slots=True)
class Spread:
    """Minutes of work, at least, usually and at most.

    Notes
    -----
    **Source**: the three-point estimate of PERT (from memory): a beta distribution whose mean is
    (least + 4 usual + most) / 6 and whose standard deviation is (most - least) / 6.
    """

    least: Fraction
    usual: Fraction
    most: Fraction

    @property
    def mean(self) -> Fraction:
        """Expected minutes."""
        return (self.least + 4 * self.usual + self.most) / 6

    @property
    def variance(self) -> Fraction:
        """Of the minutes, min^2."""
        return ((self.most - self.least) / 6) ** 2


@dataclass(frozen=True, slots=True)
class Way:
    """One direction of a level."""

    words: str
    minutes: Spread
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Check:
    """What is looked at after the work.

    Parameters
    ----------
    words
        `{dial}` stands for the dial.
    minutes
        Hands-on; None: not stated, it is done along.
    at
        The level that still stands open while it is made; None: everything is closed.
    cautions
        Sentences shown with it.
    settles
        Faults, by `code` or `code/part`: passing it shows that they are not there.
    """

    words: str
    minutes: Spread | None = None
    at: str | None = None
    cautions: tuple[str, ...] = ()
    settles: tuple[str, ...] = ()

    def names(self, state: str) -> bool:
        """Whether it settles a fault, of this part or of any."""
        return state in self.settles or state.partition("/")[0] in self.settles


def spreads_of(checks: Iterable[Check]) -> list[Spread]:
    """The minutes of checks that state them."""
    return [one.minutes for one in checks if one.minutes is not None]


@dataclass(frozen=True, slots=True)
class Level:
    """A state of being open; its way in and out is paid once, however many operations need it."""

    id: str
    scope: Scope
    """`dial`: there is one for every dial, as for its needle."""
    needs: tuple[str, ...]
    way_in: Way
    way_out: Way
    checks: tuple[Check, ...] = ()
    """Of whatever was done behind it; paid once with it."""

    @property
    def spreads(self) -> list[Spread]:
        """Minutes in, out, and of its checks."""
        return [self.way_in.minutes, self.way_out.minutes, *spreads_of(self.checks)]


@dataclass(frozen=True, slots=True)
class PartPrice:
    """Something that is bought and fitted."""

    id: str
    words: str
    price: Fraction


@dataclass(frozen=True, slots=True)
class Need:
    """So many of a part."""

    part: PartPrice
    count: int


@dataclass(frozen=True, slots=True, eq=False)
class Operation:
    """Something that can be done to a cluster, or to one dial of it; each equals only itself.

    Parameters
    ----------
    id, scope, kind, words
        Its name, what it is done to, whether it fits something new; `{dial}` stands for the dial.
    fixes
        Probability that it takes a fault away, by `code` or `code/part`.
    prevents
        By weak point: the share of its age that is taken off; 1 makes it as new.
    minutes
        Hands-on, once what must be open is open; none where the way out of a level contains it.
    open
        Levels.
    needs
        Parts fitted.
    spoil, spoil_minutes, spoil_cost
        Probability that it spoils something, and what that takes then.
    cautions, checks, guide
        Sentences shown with it; what is checked afterwards; id of the guide that tells how.
    source
        Where the figures come from.
    included_in
        The level whose way out contains it, and has its minutes; None: it is work of its own.
    in_everything
        Whether it belongs to replacing everything.
    """

    id: str
    scope: Scope
    kind: Kind
    words: str
    fixes: Mapping[str, Fraction]
    prevents: Mapping[str, Fraction]
    minutes: Spread
    open: tuple[str, ...]
    needs: tuple[Need, ...]
    spoil: Fraction
    spoil_minutes: Fraction
    spoil_cost: Fraction
    cautions: tuple[str, ...]
    checks: tuple[Check, ...]
    guide: str | None
    source: str
    included_in: str | None = None
    in_everything: bool = False

    @property
    def spreads(self) -> list[Spread]:
        """Minutes of the work and of its checks."""
        return [self.minutes, *spreads_of(self.checks)]

    @property
    def hands_on(self) -> Fraction:
        """Expected minutes of both."""
        return sum((one.mean for one in self.spreads), Fraction(0))

    def cures(self, state: str) -> Fraction:
        """Probability that it takes a fault away; what is said of a part goes first."""
        code = state.partition("/")[0]
        return self.fixes.get(state, self.fixes.get(code, Fraction(0)))


@dataclass(frozen=True, slots=True)
class WeakPoint:
    """What fails with age, and the fault it becomes."""

    id: str
    scope: Scope
    words: str
    leads_to: str
    """`code` or `code/part`."""
    law: Weibull
    clock: Clock
    """What the law counts."""
    source: str
    dials: tuple[str, ...] = ()
    """Of a dial's weak point: the dials it is known of; empty: every one."""
    learned: str = ""
    """How the law was taken from the shop's returns; empty: as stated."""
    lives: tuple[int, int] | None = None
    """How many failed and how many did not, of those that were looked at; None: none were."""


@dataclass(frozen=True, slots=True)
class Terms:
    """Money and time of the shop, in the catalogue's currency."""

    currency: str
    hour: Fraction
    watch_minutes: Fraction
    ship_one_way: Fraction
    goodwill: Fraction
    goodwill_told: Fraction
    """Share of the goodwill that is saved where the customer was told."""
    check_catches: Fraction
    """Probability that the final check finds a repair that did not take."""
    warranty_years: Fraction
    horizon_years: Fraction
    km_per_year: Fraction

    def labour(self, minutes: Fraction) -> Fraction:
        """What minutes cost."""
        return minutes * self.hour / 60


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Everything a plan is made of, for one family."""

    name: str
    terms: Terms
    levels: Mapping[str, Level]
    operations: Mapping[str, Operation]
    weak_points: Mapping[str, WeakPoint]
    cautions: Mapping[str, str]
    not_used: tuple[str, ...] = ()
    """Sentences on weak points of the family that say nothing a plan could use."""
    sha256: str = ""
    """Of the text it was read from, without what the family adds."""


def listed_in(family: Family, field: str) -> int:
    """How many of something a family lists; 0 where it says nothing of it."""
    listed = (family.raw or {}).get(field)
    return len(listed) if isinstance(listed, list) else 0
