"""The lengths along a needle's shaft as people type them."""

import re
from collections.abc import Mapping
from typing import Final

from needlewright.errors import PlanError, UnitError
from needlewright.families.model import Dial
from needlewright.plans.decimal_comma import pointed
from needlewright.plans.height.stack import Shape, Stack, Toleranced

STACK: Final = ("shaft", "hub", "bore", "blade", "thickness", "droop", "face", "lens")
"""Lengths of a stack, as they are measured one after the other."""
_LENGTH: Final = re.compile(
    r"\s*(-?\d+(?:[.,]\d+)?)\s*(?:(?:\+-|\+/-|±)\s*(\d+(?:[.,]\d+)?))?\s*(?:mm)?\s*"
)


def length_of(name: str, typed: str, shape: Shape = "rectangular") -> Toleranced:
    """A length as it is typed: `6.0` or `6.0+-0.1`, mm.

    Parameters
    ----------
    name
        What it is the length of.
    typed
        By a person; `±`, `+-` or `+/-` before its tolerance.
    shape
        How units lie within the tolerance.

    Returns
    -------
    Toleranced
        Without a tolerance where none is typed.

    Raises
    ------
    PlanError
        If it is none.
    """
    read = _LENGTH.fullmatch(typed)
    if read is None:
        raise PlanError(
            f"{name}: given '{typed[:40]}'; a length in mm is expected: 6.0 or 6.0+-0.1"
        )
    try:
        mm, tolerance = (0.0 if one is None else float(pointed(one)) for one in read.groups())
    except UnitError as error:
        raise PlanError(f"{name}: {error}") from None
    return Toleranced(mm, tolerance, shape)


def stack_of(typed: Mapping[str, str], dial: Dial | None, shape: Shape = "rectangular") -> Stack:
    """The lengths of one dial as they are typed; what is not typed is the family's, where it is.

    Parameters
    ----------
    typed
        By the names of a `Stack`; empty is not typed.
    dial
        Of the family; None: there is none.
    shape
        How units lie within a tolerance.

    Returns
    -------
    Stack
        Checked.

    Raises
    ------
    PlanError
        If a length is none, is wanting, or two do not go together.
    """
    read = {name: length_of(name, text, shape) for name, text in typed.items() if text.strip()}
    if dial is not None:
        needle = dial.needle
        read.setdefault("thickness", Toleranced(needle.thickness_mm))
        if needle.lens_mm is not None:
            read.setdefault("lens", Toleranced(needle.lens_mm))
    for name in ("shaft", "hub", "bore", "thickness"):
        if name not in read:
            raise PlanError(f"{name}: is not typed; measure it, in mm, as 6.0 or 6.0+-0.1")
    return Stack(**{name: read[name] for name in STACK if name in read})
