"""The branches of the search at one place, and the bounds by which most of them are left out.

Where only so much chance of a fault may be left, that chance is given a price, and what may be left
is taken off again at that price: a set that leaves no more never costs less than this says
(Lagrange's relaxation). A branch from which every way leaves too much is cut off as well.
**Source**: derivation, docs/plan.md.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Final

import numpy as np

from needlewright.errors import PlanError
from needlewright.plans.rebuild.least_bounds import Bounds, ThingLoss, bounds_of
from needlewright.plans.rebuild.losses import Losses
from needlewright.plans.rebuild.risks import Thing
from needlewright.plans.rebuild.work import Task

MOST_LOOKED_AT: Final = 2_000_000
"""Branches after which it is said that nobody waits for this."""
FEW: Final = 8
"""Operations whose every set is looked at sooner than a good price of a chance is found."""
MOST_PRICES: Final = 24
"""Of a chance that are tried, each twice the one before."""
ROUNDED: Final = 1e-9
"""Chance within which a bound decides nothing."""
CLOSE: Final = 1e-8
"""Share of what everything costs that comes back once, within which bounds decide nothing: chances
are exact to nine decimal places, and bounds are worked out without that rounding."""


class _Left:
    """How much chance of a fault is left at least, whatever is still done."""

    def __init__(
        self, losses: Losses, order: Sequence[Task], things: Sequence[Thing], most: float
    ) -> None:
        faults = [
            one
            for thing in things
            for one in thing.faults
            if losses.workshop.is_curable(one.place, one.state)
        ]
        self.most = most
        self.chances = np.array([float(one.chance) for one in faults])
        cures = [[float(task.operation.cures(one.state)) for one in faults] for task in order]
        self.misses = 1 - np.array(cures).reshape(len(order), len(faults))
        after = np.vstack((self.misses, np.ones(len(faults))))
        self.rest = np.cumprod(after[::-1], axis=0)[::-1]
        """By operation: what it and all after it miss together."""

    def may_pass(self, chosen: int, depth: int) -> bool:
        """Whether any set that goes on from here leaves little enough."""
        taken = [i for i in range(depth) if chosen >> i & 1]
        missed = self.rest[depth] * np.prod(self.misses[taken], axis=0)
        return float(self.chances @ missed) <= self.most + ROUNDED


class Branches:
    """Sets of operations, decided on one after the other, with a bound for what is still open."""

    def __init__(
        self,
        losses: Losses,
        order: Sequence[Task],
        things: Sequence[Thing],
        most: Fraction | None = None,
    ) -> None:
        self.order = order
        self.prices = [float(losses.workshop.done(task)) for task in order]
        self.close = CLOSE * (1.0 + _returning_once(losses, things))
        self.limit = float("inf")
        treating = [losses.treating(thing) for thing in things]
        self.able = [[i for i, t in enumerate(order) if t in some] for some in treating]
        self.lost = [
            ThingLoss(losses, thing, [order[i] for i in some])
            for thing, some in zip(things, self.able, strict=True)
        ]
        self.touched = [
            [(i, some.index(t)) for i, some in enumerate(self.able) if t in some]
            for t in range(len(order))
        ]
        self.left = None if most is None else _Left(losses, order, things, float(most))
        self.price_of_chance = 0.0
        self.bounds = self._bounds(0.0)
        if most is not None and len(order) > FEW:
            self._find_price(float(most))

    def _bounds(self, price: float) -> list[Bounds]:
        """By thing, with so much to pay for a fault that is left."""
        lost = [one.with_price(price) for one in self.lost]
        shares = _split(self.prices, self.able, lost)
        return [
            bounds_of(loss, [shares[i, t] for t in some], self.close)
            for i, (loss, some) in enumerate(zip(lost, self.able, strict=True))
        ]

    def _start(self, bounds: Sequence[Bounds], price: float, most: float) -> float:
        return sum(one[0][0] for one in bounds) - price * most

    def _find_price(self, most: float) -> None:
        """The price of a chance with which the bound of all sets is highest, roughly."""
        best = self._start(self.bounds, 0.0, most)
        price = 1.0 + best
        for _ in range(MOST_PRICES):
            bounds = self._bounds(price)
            found = self._start(bounds, price, most)
            if found <= best:
                break
            self.bounds, self.price_of_chance, best = bounds, price, found
            price *= 2

    def walk(self, asked: int) -> Iterator[list[Task]]:
        """Every set that may still cost less than `limit`, which the caller lowers.

        At least one of the first `asked` operations is taken, where that is more than none.
        """
        spared = 0.0 if self.left is None else self.price_of_chance * self.left.most
        start = sum(bounds[0][0] for bounds in self.bounds) - spared
        stack = [(start, 0, (0,) * len(self.bounds), 0)]
        looked_at = 0
        while stack:
            bound, depth, masks, chosen = stack.pop()
            if bound > self.limit or (self.left and not self.left.may_pass(chosen, depth)):
                continue
            looked_at += 1
            if looked_at > MOST_LOOKED_AT:
                raise PlanError(
                    f"the {len(self.order)} operations of one place depend on one another in too "
                    "many ways to find the cheapest set; let fewer of them treat the same faults"
                )
            if depth == len(self.order):
                yield [task for i, task in enumerate(self.order) if chosen >> i & 1]
                continue
            left, taken = bound, bound + self.prices[depth]
            marked = list(masks)
            for i, bit in self.touched[depth]:
                here, after = self.bounds[i][bit], self.bounds[i][bit + 1]
                marked[i] |= 1 << bit
                left += after[masks[i]] - here[masks[i]]
                taken += after[marked[i]] - here[masks[i]]
            ways = [(taken, depth + 1, tuple(marked), chosen | 1 << depth)]
            if depth + 1 != asked or chosen:
                ways.append((left, depth + 1, masks, chosen))
            ways.sort(key=lambda way: -way[0])  # the cheaper one is looked at first
            stack += ways


def _returning_once(losses: Losses, things: Sequence[Thing]) -> float:
    """What it costs if everything comes back once: chances are rounded to a share of this."""
    states = {
        (thing.place, state)
        for thing in things
        for state in (*(one.state for one in thing.faults), *(one.state for one in thing.wear))
    }
    back = (losses.coming_back(place, state) for place, state in states)
    return float(sum(back, Fraction(0)))


def _split(
    prices: Sequence[float], able: Sequence[Sequence[int]], lost: Sequence[ThingLoss]
) -> dict[tuple[int, int], float]:
    """The price of every operation, split among its things by what it saves each by itself."""
    saved = {
        (i, task): max(loss.untouched - float(loss.of(loss.singles[bit])[0]), 0.0)
        for i, (loss, some) in enumerate(zip(lost, able, strict=True))
        for bit, task in enumerate(some)
    }
    totals = [0.0] * len(prices)
    counts = [0] * len(prices)
    for (_, task), one in saved.items():
        totals[task] += one
        counts[task] += 1
    return {
        (i, task): prices[task] * (one / totals[task] if totals[task] else 1 / counts[task])
        for (i, task), one in saved.items()
    }
