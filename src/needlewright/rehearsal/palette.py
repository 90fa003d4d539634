"""Inks that go together: the sheet, the print, the warning colour, needles and caps."""

from dataclasses import dataclass

import numpy as np

from needlewright.rehearsal.canvas import Colour


@dataclass(frozen=True, slots=True)
class Palette:
    """The colours of one face."""

    name: str
    ground: Colour
    dial: Colour
    """Of the dials' discs; often that of the ground."""
    dial_rim: Colour
    print_main: Colour
    print_dim: Colour
    warning: Colour
    needle: Colour
    needle_tip: Colour
    """Painted line or tip of the needle; often its own colour."""
    cap: Colour
    dark: bool


_WHITE: Colour = (0.93, 0.94, 0.94)
_CREAM: Colour = (0.95, 0.91, 0.80)
_BLACK: Colour = (0.035, 0.035, 0.04)
_RED: Colour = (0.85, 0.09, 0.07)
_ORANGE: Colour = (0.96, 0.40, 0.05)
_AMBER: Colour = (0.96, 0.66, 0.12)
_GREEN: Colour = (0.52, 0.90, 0.60)
_ICE: Colour = (0.66, 0.87, 0.96)
_YELLOW: Colour = (0.95, 0.85, 0.15)

_DARK_SHEETS: tuple[Colour, ...] = (
    _BLACK,
    (0.07, 0.07, 0.075),
    (0.11, 0.115, 0.125),
    (0.05, 0.07, 0.11),
    (0.08, 0.055, 0.045),
    (0.16, 0.24, 0.33),
    (0.05, 0.11, 0.09),
    (0.22, 0.22, 0.23),
)
_LIGHT_SHEETS: tuple[Colour, ...] = (
    (0.90, 0.90, 0.88),
    (0.93, 0.90, 0.82),
    (0.80, 0.82, 0.84),
    (0.70, 0.72, 0.73),
    (0.86, 0.88, 0.90),
)


def invent_palette(rng: np.random.Generator) -> Palette:
    """Choose inks that go together.

    Parameters
    ----------
    rng
        Where chance comes from.

    Returns
    -------
    Palette
        Needles stand out from the dials by lightness or by colour.
    """
    kind = str(
        rng.choice(["dark", "light", "white dials", "tinted print"], p=[0.5, 0.2, 0.12, 0.18])
    )
    return {
        "dark": _dark,
        "light": _light,
        "white dials": _white_dials,
        "tinted print": _tinted,
    }[kind](rng)


def _dark(rng: np.random.Generator) -> Palette:
    sheet = _pick(rng, _DARK_SHEETS)
    needle = _pick(rng, (_RED, _ORANGE, _ORANGE, _WHITE, _YELLOW, (0.95, 0.22, 0.12)))
    main = _pick(rng, (_WHITE, _WHITE, _CREAM, (0.80, 0.83, 0.85)))
    return Palette(
        "dark",
        ground=sheet,
        dial=_near(rng, sheet, 0.03),
        dial_rim=_near(rng, sheet, 0.06),
        print_main=main,
        print_dim=tuple(0.62 * c for c in main),  # type: ignore[arg-type]
        warning=_pick(rng, (_RED, _ORANGE, (0.9, 0.2, 0.1))),
        needle=needle,
        needle_tip=_pick(rng, (needle, needle, _WHITE)),
        cap=_pick(rng, (_BLACK, (0.09, 0.09, 0.1), (0.16, 0.16, 0.17), (0.6, 0.61, 0.62))),
        dark=True,
    )


def _light(rng: np.random.Generator) -> Palette:
    sheet = _pick(rng, _LIGHT_SHEETS)
    needle = _pick(rng, (_RED, _RED, (0.06, 0.06, 0.07), (0.80, 0.16, 0.08), (0.05, 0.12, 0.35)))
    return Palette(
        "light",
        ground=sheet,
        dial=_near(rng, sheet, 0.04),
        dial_rim=_near(rng, sheet, 0.05),
        print_main=_pick(rng, ((0.06, 0.06, 0.07), (0.10, 0.11, 0.16), (0.14, 0.10, 0.08))),
        print_dim=(0.35, 0.35, 0.36),
        warning=_pick(rng, (_RED, (0.85, 0.3, 0.05))),
        needle=needle,
        needle_tip=needle,
        cap=_pick(rng, (_BLACK, (0.10, 0.10, 0.11), (0.75, 0.75, 0.76))),
        dark=False,
    )


def _white_dials(rng: np.random.Generator) -> Palette:
    light = _light(rng)
    sheet = _pick(rng, _DARK_SHEETS[:3])
    return Palette(
        "white dials",
        ground=sheet,
        dial=light.dial,
        dial_rim=light.dial_rim,
        print_main=light.print_main,
        print_dim=light.print_dim,
        warning=light.warning,
        needle=light.needle,
        needle_tip=light.needle_tip,
        cap=light.cap,
        dark=False,
    )


def _tinted(rng: np.random.Generator) -> Palette:
    sheet = _pick(rng, _DARK_SHEETS[:5])
    main = _pick(rng, (_GREEN, _AMBER, _ICE, (0.95, 0.55, 0.30)))
    needle = _pick(rng, (_ORANGE, _RED, _WHITE))
    return Palette(
        "tinted print",
        ground=sheet,
        dial=sheet,
        dial_rim=_near(rng, sheet, 0.05),
        print_main=main,
        print_dim=tuple(0.6 * c for c in main),  # type: ignore[arg-type]
        warning=_RED,
        needle=needle,
        needle_tip=needle,
        cap=_pick(rng, (_BLACK, (0.12, 0.12, 0.13))),
        dark=True,
    )


def _pick(rng: np.random.Generator, of: tuple[Colour, ...]) -> Colour:
    return of[int(rng.integers(len(of)))]


def _near(rng: np.random.Generator, colour: Colour, by: float) -> Colour:
    shift = float(rng.uniform(-by, by))
    r, g, b = (min(max(c + shift, 0.02), 0.97) for c in colour)
    return r, g, b
