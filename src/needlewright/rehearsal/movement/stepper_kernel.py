"""The compiled part of a geared stepper: driver, coils, rotor, gears, needle, stops.

    rotor    J th'' = Ta + Tb - Td sin(n th) - b th' - dry friction - F / N
    needle   I x''  = F - c x' - dry friction - what a stop pushes
    coils    L i'   = V - R i + k sin(th - axis) th',   Ta = -k i sin(th - axis)
    gears    F = K e + D e',   e = what th / N - x exceeds half the play by, else F = 0

One step is Runge and Kutta's of fourth order with the voltages held and the direction of dry
friction held. A body that comes to rest within a step stays at rest until the torque on it
exceeds its stiction; a needle that meets a stop goes back with a share of its speed.

Source: derivation in docs/decisions/0020-movements.md.
"""

# ruff: noqa: PLR0917
# Compiled loops over plain arrays: they take what they need by place, and calls cost.

from math import cos, pi, sin, sqrt
from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]

# The state, by place.
TH, OM, X, V, IA, IB, GIVEN, LOST, PLAN, PLAN_RATE = range(10)
STATE: Final = 10
"""Rotor angle and rate, needle angle and rate (rad from the lower stop), coil currents, energy
given by the supply and energy lost (J), the driver's own position and rate (deg)."""

# What does not change within a run, by place.
(
    P_J,
    P_I,
    P_K_COIL,
    P_R,
    P_L,
    P_VOLT,
    P_AXES,
    P_RATIO,
    P_GEAR,
    P_GEAR_D,
    P_PLAY,
    P_B,
    P_C,
    P_DRY,
    P_STICK,
    P_DRY_N,
    P_STICK_N,
    P_DETENT,
    P_DETENTS,
    P_LOW,
    P_HIGH,
    P_BOUNCE,
    P_DRAG,
    P_DRAG_FROM,
    P_POWER,
    P_AXES_SIN,
    P_AXES_COS,
    P_TOP,
    P_SNAG,
    P_SNAG_GIVES,
) = range(30)
PARAMETERS: Final = 30

# The driver, by place.
D_CYCLE, D_MICRO, D_RATE, D_ACCELERATION, D_DT = range(5)
DRIVER: Final = 5

_REST_RAD_S: Final = 2e-3
"""A needle that leaves a stop slower than this has come to rest on it."""


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def _gear(p: Array, th: float, om: float, x: float, v: float) -> tuple[float, float]:
    """Torque on the needle by the gears, and what their damping loses, W."""
    e = th / p[P_RATIO] - x
    half = 0.5 * p[P_PLAY]
    if e > half:
        e -= half
    elif e < -half:
        e += half
    elif half > 0.0:
        return 0.0, 0.0
    rate = om / p[P_RATIO] - v
    return p[P_GEAR] * e + p[P_GEAR_D] * rate, p[P_GEAR_D] * rate * rate


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def _needle_dry(p: Array, x: float) -> float:
    return p[P_DRAG] if x >= p[P_DRAG_FROM] else 0.0


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def _detent(p: Array, sin_a: float, cos_a: float) -> float:
    """Sine of four or six times the rotor's angle, without calling for it."""
    sin_2, cos_2 = 2.0 * sin_a * cos_a, 1.0 - 2.0 * sin_a * sin_a
    sin_4, cos_4 = 2.0 * sin_2 * cos_2, 1.0 - 2.0 * sin_2 * sin_2
    return sin_4 if p[P_DETENTS] < 5.0 else sin_4 * cos_2 + cos_4 * sin_2


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def _slope(
    p: Array, y: Array, va: float, vb: float, way: float, way_n: float, free: bool, free_n: bool,
    out: Array,
) -> None:  # fmt: skip
    """Rates of the first eight places of the state; way: where dry friction pulls from."""
    th, om, x, v, ia, ib = y[TH], y[OM], y[X], y[V], y[IA], y[IB]
    k = p[P_K_COIL]
    sin_a, cos_a = sin(th), cos(th)
    sin_b = sin_a * p[P_AXES_COS] - cos_a * p[P_AXES_SIN]
    force, gear_loss = _gear(p, th, om, x, v)
    dry = p[P_DRY] * way
    dry_n = (p[P_DRY_N] + _needle_dry(p, x)) * way_n
    torque = -k * (ia * sin_a + ib * sin_b) - p[P_DETENT] * _detent(p, sin_a, cos_a)
    torque -= p[P_B] * om + dry + force / p[P_RATIO]
    out[TH] = om if free else 0.0
    out[OM] = torque / p[P_J] if free else 0.0
    out[X] = v if free_n else 0.0
    out[V] = (force - p[P_C] * v - dry_n) / p[P_I] if free_n else 0.0
    if p[P_POWER] > 0.0:
        out[IA] = (va - p[P_R] * ia + k * sin_a * om) / p[P_L]
        out[IB] = (vb - p[P_R] * ib + k * sin_b * om) / p[P_L]
    else:
        out[IA] = out[IB] = 0.0
    out[GIVEN] = va * ia + vb * ib
    out[LOST] = (
        p[P_R] * (ia * ia + ib * ib) + p[P_B] * om * om + p[P_C] * v * v + dry * om + dry_n * v
        + gear_loss
    )  # fmt: skip


@njit(cache=True, nogil=True, error_model="numpy")
def rotor_torque(p: Array, y: Array) -> float:
    """Torque on the rotor by coils, detent and gears, N m, dry friction left out."""
    sin_a = sin(y[TH])
    sin_b = sin(y[TH] - p[P_AXES])
    force, _ = _gear(p, y[TH], y[OM], y[X], y[V])
    torque = -p[P_K_COIL] * (y[IA] * sin_a + y[IB] * sin_b)
    torque -= p[P_DETENT] * sin(p[P_DETENTS] * y[TH]) + p[P_B] * y[OM] + force / p[P_RATIO]
    return float(torque)


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def _sign(value: float) -> float:
    return 1.0 if value > 0.0 else (-1.0 if value < 0.0 else 0.0)


@njit(cache=True, nogil=True, error_model="numpy")
def step(p: Array, y: Array, va: float, vb: float, dt: float, k: Array) -> None:
    """Carry the state on by one step, in place; `k` is room for five rows of eight."""
    way, free = _sign(y[OM]), True
    if y[OM] == 0.0:
        torque = rotor_torque(p, y)
        free = abs(torque) > p[P_STICK]
        way = _sign(torque)
    way_n, free_n = _sign(y[V]), True
    if y[V] == 0.0:
        force, _ = _gear(p, y[TH], y[OM], y[X], 0.0)
        ratio = p[P_STICK_N] / p[P_DRY_N] if p[P_DRY_N] > 0.0 else 1.0
        free_n = abs(force) > p[P_STICK_N] + ratio * _needle_dry(p, y[X])
        if (y[X] <= p[P_LOW] and force < 0.0) or (y[X] >= p[P_HIGH] and force > 0.0):
            free_n = False
        way_n = _sign(force)
    z = k[4]
    _slope(p, y, va, vb, way, way_n, free, free_n, k[0])
    for j in range(8):
        z[j] = y[j] + 0.5 * dt * k[0, j]
    _slope(p, z, va, vb, way, way_n, free, free_n, k[1])
    for j in range(8):
        z[j] = y[j] + 0.5 * dt * k[1, j]
    _slope(p, z, va, vb, way, way_n, free, free_n, k[2])
    for j in range(8):
        z[j] = y[j] + dt * k[2, j]
    _slope(p, z, va, vb, way, way_n, free, free_n, k[3])
    for j in range(8):
        y[j] += dt / 6.0 * (k[0, j] + 2.0 * k[1, j] + 2.0 * k[2, j] + k[3, j])
    if free and p[P_STICK] > 0.0 and y[OM] * way < 0.0:
        y[LOST] += 0.5 * p[P_J] * y[OM] * y[OM]
        y[OM] = 0.0
    if free_n and p[P_STICK_N] > 0.0 and y[V] * way_n < 0.0:
        y[LOST] += 0.5 * p[P_I] * y[V] * y[V]
        y[V] = 0.0
    _stop(p, y)


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def _stop(p: Array, y: Array) -> None:
    """Put a needle that went through a stop back on it, with a share of its speed."""
    low = y[X] < p[P_LOW]
    if not low and y[X] <= p[P_HIGH]:
        return
    before = _stored_gear(p, y) + 0.5 * p[P_I] * y[V] * y[V]
    y[X] = p[P_LOW] if low else p[P_HIGH]
    if (low and y[V] < 0.0) or (not low and y[V] > 0.0):
        y[V] *= -p[P_BOUNCE]
        if abs(y[V]) < _REST_RAD_S:
            y[V] = 0.0
    y[LOST] += before - _stored_gear(p, y) - 0.5 * p[P_I] * y[V] * y[V]


@njit(cache=True, nogil=True, error_model="numpy")
def _stored_gear(p: Array, y: Array) -> float:
    e = abs(y[TH] / p[P_RATIO] - y[X]) - 0.5 * p[P_PLAY]
    return 0.5 * p[P_GEAR] * e * e if e > 0.0 else 0.0


@njit(cache=True, nogil=True, error_model="numpy")
def stored(p: Array, y: Array) -> float:
    """Energy in motion, in the gears, the coils and the detent, J."""
    moving = 0.5 * p[P_J] * y[OM] ** 2 + 0.5 * p[P_I] * y[V] ** 2
    coils = 0.5 * p[P_L] * (y[IA] ** 2 + y[IB] ** 2)
    detent = p[P_DETENT] / p[P_DETENTS] * (1.0 - cos(p[P_DETENTS] * y[TH]))
    return float(moving + coils + detent + _stored_gear(p, y))


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def plan(d: Array, y: Array, place: int, target: float) -> None:
    """Move the driver's own position, and the rate behind it in the state, toward its target."""
    dt = d[D_DT]
    left = target - y[place]
    brake = d[D_ACCELERATION]
    want = min(d[D_RATE], sqrt(2.0 * brake * abs(left)), abs(left) / dt) * _sign(left)
    change = want - y[place + 1]
    most = brake * dt
    y[place + 1] += min(max(change, -most), most)
    y[place] += y[place + 1] * dt
    if abs(target - y[place]) < 1e-9 and abs(y[place + 1]) <= most:
        y[place], y[place + 1] = target, 0.0


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def _stands(y: Array, was: Array, given: float, lost: float) -> bool:
    """Whether a step has changed nothing but what is summed up, and that by these alone."""
    for j in range(STATE):
        if j not in (GIVEN, LOST) and y[j] != was[j]:
            return False
    return bool(y[GIVEN] == was[GIVEN] + given and y[LOST] == was[LOST] + lost)


@njit(cache=True, nogil=True, error_model="numpy")
def drive(p: Array, d: Array, y: Array, targets: Array, substeps: int, out: Array) -> None:
    """Follow targets, one a tick, and write needle, rotor and driver at each tick's end.

    Angles are degrees of needle above the lower stop; `y` is carried on in place. A movement that
    a step leaves as it was is left so by every other step until its target is another one: what
    the supply gives and what is lost is summed up, and nothing is worked out again.
    """
    k = np.zeros((5, 8))
    was = np.zeros(STATE)
    n = 0
    while n < targets.shape[0]:
        for number in range(substeps):
            plan(d, y, PLAN, targets[n])
            at = np.floor(y[PLAN] / d[D_MICRO] + 0.5) * d[D_MICRO]
            field = 2.0 * pi * at / d[D_CYCLE]
            level = p[P_VOLT] * p[P_POWER]
            # the longest field that can turn all round without more than the supply on a coil
            va = level * sin(p[P_AXES] - field)
            vb = level * sin(field)
            held = y[X] <= p[P_SNAG] and y[PLAN] < p[P_SNAG_GIVES]
            p[P_HIGH] = min(p[P_TOP], p[P_SNAG]) if held else p[P_TOP]
            if number == substeps - 1:
                was[:] = y
            step(p, y, va, vb, d[D_DT], k)
        out[n, 0] = y[X] * 180.0 / pi
        out[n, 1] = y[TH] / p[P_RATIO] * 180.0 / pi
        out[n, 2] = y[PLAN]
        n += 1
        given, lost = _summed(k, GIVEN, d[D_DT]), _summed(k, LOST, d[D_DT])
        if y[PLAN] != targets[n - 1] or not _stands(y, was, given, lost):
            continue
        while n < targets.shape[0] and targets[n] == targets[n - 1]:
            for _ in range(substeps):
                y[GIVEN] += given
                y[LOST] += lost
            out[n] = out[n - 1]
            n += 1


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def _summed(k: Array, place: int, dt: float) -> float:
    """What the last step has added at a place of the state."""
    return float(dt / 6.0 * (k[0, place] + 2.0 * k[1, place] + 2.0 * k[2, place] + k[3, place]))
