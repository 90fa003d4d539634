"""The least expected cost against an independent solver, where every set cannot be looked at.

The product of what operations miss is linear in a chain of auxiliary amounts: after each operation
at least what was left before, times what it misses where it is done. Minimised, the last of them is
the product. **Source** of the solver: HiGHS through `scipy.optimize.milp`; of the formulation:
common practice, no source (the linearisation of a product with binaries).
"""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import lil_array

from needlewright.plans.rebuild.search import Rule, Search
from plans.test_rebuild_search import crowded


class Programme:
    """Rows and amounts of a mixed-integer programme, as they are thought of."""

    def __init__(self) -> None:
        self.cost: list[float] = []
        self.whole: list[int] = []
        self.rows: list[tuple[dict[int, float], float]] = []

    def amount(self, cost: float, *, is_whole: bool = False) -> int:
        """One more amount from 0 to 1; its place."""
        self.cost.append(cost)
        self.whole.append(int(is_whole))
        return len(self.cost) - 1

    def at_least(self, terms: dict[int, float], least: float) -> None:
        self.rows.append((terms, least))

    def solved(self) -> tuple[float, NDArray[np.float64]]:
        matrix = lil_array((len(self.rows), len(self.cost)))
        for row, (terms, _) in enumerate(self.rows):
            for place, factor in terms.items():
                matrix[row, place] = factor
        least = np.array([one for _, one in self.rows])
        found = milp(
            np.array(self.cost),
            integrality=np.array(self.whole),
            bounds=Bounds(0, 1),
            constraints=LinearConstraint(matrix.tocsr(), least, np.inf),
            options={"mip_rel_gap": 0.0, "time_limit": 60},
        )
        assert found.success, found.message
        return float(found.fun), found.x


def solved(search: Search, one_of: list[int], without: list[int]) -> tuple[float, set[int]]:
    """The least of a `crowded` place without wear, in plain numbers: 1 EUR a minute."""
    tasks = search.workshop.tasks_at(None)
    ops = [task.operation for task in tasks]
    done = [float(o.minutes.usual + o.spoil * (30 + 20)) for o in ops]
    made = Programme()
    level = {name: made.amount(7.0) for name in ("open", "board")}
    made.at_least({level["open"]: 1, level["board"]: -1}, 0)
    taken = [made.amount(price, is_whole=True) for price in done]
    for place, one in zip(taken, ops, strict=True):
        made.at_least({level[one.open[0]]: 1, place: -1}, 0)
    constant = 0.0
    for thing in search.things:
        (fault,) = thing.faults
        cures = [float(o.fixes.get(fault.state, 0)) for o in ops]
        ways = [7.0 if o.open == ("open",) else 14.0 for o in ops]
        mend = min(d + w for d, w, c in zip(done, ways, cures, strict=True) if c)
        chance, back = float(fault.chance), 36 + mend + 45
        missed = chance * (0.9 * mend + 0.1 * back)
        untouched = min(chance * back, chance * (back - 0.4 * 45) + 4)
        constant += untouched
        # 1 where anything treats it, 0 where nothing does
        treated = made.amount(-untouched)
        own = [place for place, cure in zip(taken, cures, strict=True) if cure]
        made.at_least(dict.fromkeys(own, 1.0) | {treated: -1.0}, 0)
        for place in own:
            made.at_least({treated: 1.0, place: -1.0}, 0)
        before = None
        for place, cure in zip(taken, cures, strict=True):
            if not cure:
                continue
            left = made.amount(0.0)
            # not done: what was left stays; done: as much of it as the operation misses
            terms = {left: 1.0, place: 1.0} | ({} if before is None else {before: -1.0})
            made.at_least(terms, 1.0 if before is None else 0.0)
            terms = {left: 1.0} | ({} if before is None else {before: cure - 1})
            made.at_least(terms, 1 - cure if before is None else 0.0)
            before = left
        assert before is not None
        # missed * left where it is treated, nothing more where it is not (left is 1 then)
        last = made.amount(missed)
        made.at_least({last: 1.0, before: -1.0, treated: -1.0}, -1.0)
    if one_of:
        made.at_least({taken[i]: 1.0 for i in one_of}, 1)
    for i in without:
        made.at_least({taken[i]: -1.0}, 0)
    least, amounts = made.solved()
    return least + constant, {i for i, place in enumerate(taken) if amounts[place] > 0.5}


@pytest.mark.parametrize("count", [20, 30])
def test_an_independent_solver_finds_nothing_cheaper(count: int):
    search = crowded(count, worn=False)
    tasks = search.workshop.tasks_at(None)
    best = search.best()
    assert best is not None
    total, taken = solved(search, [], [])
    assert float(best.total) == pytest.approx(total, abs=1e-4)
    assert {tasks.index(task) for task in best.tasks} == taken
    # made to take one of some, and kept from what was best
    asked = [i for i in range(count) if i not in taken][:6]
    ruled = search.best({None: Rule(frozenset(best.tasks), frozenset(tasks[i] for i in asked))})
    assert ruled is not None
    total, other = solved(search, asked, sorted(taken))
    assert float(ruled.total) == pytest.approx(total, abs=1e-4)
    assert other & set(asked)
