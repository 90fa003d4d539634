"""What one thing costs at least, whatever is still done about it: the bounds of the search.

Of the operations that treat a thing nearly all sets are beaten by another one that costs no more
and helps no less whatever else is done, or hold an operation that costs more than it could still
save. What is left of them is few, also where 30 operations treat the thing, and it is worked out
from the last operation to the first: of any of them on, the sets that may be the best. **Source**:
derivation, docs/decisions/0075-bounds-from-what-is-not-beaten.md.
"""

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.errors import PlanError
from needlewright.plans.rebuild.losses import Losses
from needlewright.plans.rebuild.risks import Thing, Wear
from needlewright.plans.rebuild.work import Task

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
MOST_WAYS: Final = 40_000
"""Sets of operations of one thing that nothing beats, after which nobody waits for the rest."""

FEW: Final = 48
"""Sets that are looked at as quickly as those of them that are not beaten are found."""


@dataclass(frozen=True, slots=True)
class Sets:
    """Sets of operations that treat a thing, by what they do to it.

    Parameters
    ----------
    share
        Their price, as far as this thing has to bear it; in the catalogue's money.
    miss
        By fault and set, the probability that the fault stays.
    age
        By weak point and set, the share of its age that is left.
    touched
        By set, a bit for each fault and each weak point's fault that is treated, and one for any.
    """

    share: Floats
    miss: Floats
    age: Floats
    touched: Ints

    def __len__(self) -> int:
        return len(self.share)

    def of(self, which: NDArray[np.bool_] | Ints) -> "Sets":
        """Some of them."""
        return Sets(self.share[which], self.miss[:, which], self.age[:, which], self.touched[which])

    def with_one(self, one: "Sets") -> "Sets":
        """All of them with one operation more."""
        return Sets(
            self.share + one.share,
            self.miss * one.miss,
            self.age * one.age,
            self.touched | one.touched,
        )

    def beside(self, other: "Sets") -> "Sets":
        """These, and those."""
        return Sets(
            np.concatenate((self.share, other.share)),
            np.concatenate((self.miss, other.miss), axis=1),
            np.concatenate((self.age, other.age), axis=1),
            np.concatenate((self.touched, other.touched)),
        )


class ThingLoss:
    """What is lost of a thing after sets of operations, in rounded numbers.

    Parameters
    ----------
    losses
        What is expected afterwards.
    thing
        The thing.
    tasks
        That treat it, in the order they are decided on.
    """

    def __init__(self, losses: Losses, thing: Thing, tasks: Sequence[Task]) -> None:
        self.name = thing.name
        self.wear = thing.wear
        caught = float(losses.workshop.terms.check_catches)
        states = [fault.state for fault in thing.faults]
        at, back, mend = thing.place, losses.coming_back, losses.mending
        self.left = np.array([float(f.chance * back(at, f.state)) for f in thing.faults])
        self.missed = np.array(
            [
                float(f.chance) * (caught * float(mend(at, f.state)))
                + float(f.chance) * (1 - caught) * float(back(at, f.state))
                for f in thing.faults
            ]
        )
        self.back = [float(back(at, one.state)) for one in thing.wear]
        self.later = [float(losses.failing_later(at, one.state)) for one in thing.wear]
        self.sound = [
            1 - float(sum(f.chance for f in thing.faults if f.state == one.state))
            for one in thing.wear
        ]
        self.chances = np.array(
            [
                float(f.chance) if losses.workshop.is_curable(at, f.state) else 0.0
                for f in thing.faults
            ]
        )
        self.untouched = float(losses.least(thing, frozenset())[0].cost)  # it may be watched
        self.at_most = float(losses.at_most(thing))
        every = [*states, *(one.state for one in thing.wear)]
        self.any = 1 << len(every)
        cures = [[float(task.operation.cures(state)) for state in every] for task in tasks]
        worn = [
            [1 - float(task.operation.prevents.get(one.point.id, 0)) for one in thing.wear]
            for task in tasks
        ]
        self.singles = [
            Sets(
                np.zeros(1),
                1 - np.array(cured[: len(states)]).reshape(-1, 1),
                np.array(left).reshape(-1, 1),
                np.array([self.any | sum(1 << i for i, cure in enumerate(cured) if cure)]),
            )
            for cured, left in zip(cures, worn, strict=True)
        ]
        self.nothing = Sets(
            np.zeros(1),
            np.ones((len(states), 1)),
            np.ones((len(self.wear), 1)),
            np.zeros(1, dtype=np.int64),
        )

    def with_price(self, price: float) -> "ThingLoss":
        """The same with so much more to pay for each fault that is left, of those that count."""
        if not price:
            return self
        dearer = copy(self)
        dearer.left = self.left + price * self.chances
        dearer.missed = self.missed + price * self.chances
        dearer.untouched = self.untouched + price * float(self.chances.sum())
        dearer.at_most = self.at_most + price * float(self.chances.sum())
        return dearer

    def of(self, sets: Sets) -> Floats:
        """What is lost after each of them, their price not counted."""
        faults = len(self.left)
        total = np.zeros(len(sets))
        for i in range(faults):
            treated = sets.touched >> i & 1
            total += np.where(treated, self.missed[i] * sets.miss[i], self.left[i])
        for i in range(len(self.wear)):
            treated = sets.touched >> (faults + i) & 1
            total += np.where(treated, 1.0, self.sound[i]) * self.worn(i, sets.age[i])
        return np.where(sets.touched, total, self.untouched)

    def worn(self, which: int, age_left: Floats | float) -> Floats:
        """What is lost of a sound weak point, with so much of its age left."""
        wear = self.wear[which]
        ages = wear.age * np.asarray(age_left)
        now = _hazard(wear, ages)
        early, ever = (
            -np.expm1(now - _hazard(wear, ages + ahead)) for ahead in (wear.warranty, wear.horizon)
        )
        return np.asarray(early * self.back[which] + (ever - early) * self.later[which])

    def wears_with_age(self, which: int) -> bool:
        """Whether a weak point fails the likelier the older it is."""
        return self.wear[which].point.law.shape >= 1

    def saved_at_most(self, sets: Sets, one: Sets) -> Floats:
        """More than this an operation never saves beside each set, whatever else is done."""
        saved = np.zeros(len(sets))
        for i in range(len(self.left)):
            if one.touched[0] >> i & 1:
                treated = sets.touched >> i & 1
                miss = one.miss[i, 0]
                again = self.missed[i] * sets.miss[i] * (1 - miss)
                saved += np.where(treated, again, self.left[i] - self.missed[i] * miss)
        for i in range(len(self.wear)):
            if one.age[i, 0] < 1 and self.wears_with_age(i):
                saved += self.worn(i, sets.age[i]) - self.worn(i, 0.0)
        return saved


def _hazard(wear: Wear, ages: Floats) -> Floats:
    return np.asarray((ages / wear.point.law.scale) ** wear.point.law.shape)


class _Decided(dict[int, float]):
    """By which operations before are taken, the least a thing costs; worked out when asked for."""

    def __init__(self, loss: ThingLoss, taken: dict[int, Sets], ways: Sets) -> None:
        self.loss, self.taken, self.ways = loss, taken, ways

    def __missing__(self, mask: int) -> float:
        both = self.ways.with_one(_taken(self.loss, self.taken, mask))
        found = float(np.min(both.share + self.loss.of(both)))
        self[mask] = found
        return found


Bounds = list[_Decided]
"""By how many operations of a thing are decided on."""


def _taken(loss: ThingLoss, known: dict[int, Sets], mask: int) -> Sets:
    """What a set of operations does; their price is counted elsewhere."""
    if mask not in known:
        last = mask.bit_length() - 1
        rest = _taken(loss, known, mask ^ 1 << last)
        known[mask] = rest.with_one(loss.singles[last])
    return known[mask]


def bounds_of(loss: ThingLoss, shares: Sequence[float], close: float) -> Bounds:
    """The least a thing costs, by how many of its operations are decided on.

    Parameters
    ----------
    loss
        Of the thing.
    shares
        Of every operation's price, what this thing bears.
    close
        Money within which nothing is beaten.

    Returns
    -------
    list
        For each number of operations decided on, first none: by the set of those taken, bit n for
        the nth, what the thing costs at least with any of the others, their shares included.

    Raises
    ------
    PlanError
        If too many sets of the thing's operations are not beaten by others.
    """
    taken = {0: loss.nothing}
    ways = loss.nothing
    found = [_Decided(loss, taken, ways)]
    for single, share in zip(reversed(loss.singles), reversed(shares), strict=True):
        one = Sets(np.array([share]), single.miss, single.age, single.touched)
        pays = share <= loss.saved_at_most(ways, one) + close
        more = ways.of(pays).with_one(one)
        more = more.of(more.share <= loss.at_most + close)
        ways = ways.beside(more)
        if len(ways) > FEW:
            ways = _unbeaten(loss, ways)
        if len(ways) > MOST_WAYS:
            raise PlanError(
                f"{loss.name}: {len(shares)} operations of the catalogue treat it, in more ways "
                f"than can be looked at ({MOST_WAYS}); let fewer of them treat it"
            )
        found.insert(0, _Decided(loss, taken, ways))
    return found


def _unbeaten(loss: ThingLoss, sets: Sets) -> Sets:
    """Those of which no other touches the same, costs no more and leaves no more."""
    signs = np.array([1.0 if loss.wears_with_age(i) else -1.0 for i in range(len(loss.wear))])
    points = np.vstack((sets.miss, sets.age * signs[:, None])).T
    order = np.lexsort((*points.T[::-1], sets.share))
    kept: list[int] = []
    for touched in np.unique(sets.touched):
        own = order[sets.touched[order] == touched]
        kept += _front(points[own], own)
    return sets.of(np.array(sorted(kept)))


def _front(points: Floats, names: Ints) -> list[int]:
    """Names of the points that none before has nowhere more than they."""
    kept: list[int] = []
    front: Floats = np.empty((0, points.shape[1]))
    for start in range(0, len(points), 256):
        some, own = points[start : start + 256], names[start : start + 256]
        some, own = _free(some, own, front)
        is_beaten = np.tril((some[None, :, :] <= some[:, None, :]).all(axis=2), -1).any(axis=1)
        front = np.vstack((front, some[~is_beaten]))
        kept += own[~is_beaten].tolist()
    return kept


def _free(points: Floats, names: Ints, front: Floats) -> tuple[Floats, Ints]:
    """Those that nothing of the front beats."""
    beaten = np.all(front[None, :, :] <= points[:, None, :], axis=2).any(axis=1)
    return points[~beaten], names[~beaten]
