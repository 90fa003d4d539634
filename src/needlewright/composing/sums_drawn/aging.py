"""Drawings of the sums about what wears and ages."""

from typing import Final

from needlewright.papers.sums_curve import Curve, Marked, draw_curves
from needlewright.plans.sums.arrhenius import Aging, arrhenius_factor
from needlewright.plans.sums.described.arrhenius import ARRHENIUS
from needlewright.plans.sums.described.solder_life import SOLDER_LIFE
from needlewright.plans.sums.solder_life import Cycle, SolderLife
from needlewright.plans.sums.solder_life import solder_life as life_of
from needlewright.plans.sums.wording import number

POINTS: Final = 41
HEIGHT: Final = 230.0


def solder_life(life: SolderLife) -> str:
    """The factor over the swing in use, both signs, and another fit where there is one."""
    use = life.use
    swings = [use.swing_k * 2 ** (2 * i / (POINTS - 1) - 1) for i in range(POINTS)]
    lives = [
        life_of(
            Cycle(use.high_c - swing, use.high_c, use.a_day),
            life.test,
            life.test_cycles,
            life.constants.alloy,
        )
        for swing in swings
    ]
    here = tuple((s, one.factor) for s, one in zip(swings, lives, strict=True))
    other = tuple((s, one.factor_other_sign) for s, one in zip(swings, lives, strict=True))
    fits = [one.other_fit for one in lives]
    fit = tuple((s, one.factor) for s, one in zip(swings, fits, strict=True) if one is not None)
    values = [y for _, y in (*here, *other, *fit)]
    marked = [Marked(use.swing_k, life.factor, f"× {number(life.factor)}")]
    if use.a_day != life.test.a_day:
        words = f"turned round × {number(life.factor_other_sign)}"
        marked.append(Marked(use.swing_k, life.factor_other_sign, words))
    if life.other_fit is not None:
        beside, factor = fit[len(fit) * 4 // 5]
        marked.append(Marked(beside, factor, "another fit"))
    curve = Curve(
        "Cycles in use for one of the test",
        f"swing in use, K; hottest {use.high_c:g} °C",
        (swings[0], swings[-1]),
        (min(values) / 1.3, max(values) * 1.6),
        lines=(here,),
        dashed=(other, fit) if fit else (other,),
        marked=tuple(marked),
        logarithmic=True,
        height=HEIGHT,
    )
    return draw_curves((curve,), SOLDER_LIFE.drawing)


def arrhenius(aged: Aging) -> str:
    """The factor over the test's temperature."""
    last = max(aged.test_c, aged.use_c) + 20.0
    first = min(aged.test_c, aged.use_c) - 5.0
    temps = [first + (last - first) * i / (POINTS - 1) for i in range(POINTS)]

    def line(energy: float) -> tuple[tuple[float, float], ...]:
        return tuple((t, arrhenius_factor(energy, aged.use_c, t)) for t in temps)

    energies = (max(aged.energy_ev - aged.within_ev, 0.0), aged.energy_ev + aged.within_ev)
    ends = [line(energy) for energy in energies]
    values = [y for one in ends for _, y in one]
    curve = Curve(
        "The test ages faster by",
        f"temperature of the test, °C; in use {aged.use_c:g}",
        (first, last),
        (min(values) / 1.3, max(values) * 1.6),
        lines=(line(aged.energy_ev),),
        band=(ends[0], ends[1]),
        marked=(
            Marked(aged.test_c, aged.factor, f"× {number(aged.factor, 4)}", *aged.factor_range),
        ),
        logarithmic=True,
        height=HEIGHT,
    )
    return draw_curves((curve,), ARRHENIUS.drawing)
