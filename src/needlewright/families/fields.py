"""Types of the fields of `family.json`, shared by its parts."""

import re
from typing import Annotated, Any, Final, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from needlewright.units import UNITS, spelling_of


def _known_unit(value: Any) -> Any:
    if isinstance(value, str) and value not in UNITS:
        spelled = spelling_of(value)
        known = ", ".join(UNITS) if spelled is None else f"'{spelled}', as it is spelled here"
        expected = "expected one of: {known}" if spelled is None else "expected {known}"
        raise PydanticCustomError("unit", expected, {"known": known})
    return value


LONGEST_ID: Final = 64
ID_FORM: Final = r"^[^\s,;=/\\:#][^\s,;=/\\:]*$"
"""Ids stand in file names, CSV cells, `--at speed=80` and answers such as `speed: jumps yes`."""
WHOLE: Final = "whole"
"""What answers call all of the cluster, and so no dial."""


def id_fault(said: str) -> Literal["letters", "whole"] | None:
    """What is wrong with the id of a dial.

    Parameters
    ----------
    said
        As typed, or as a file has it.

    Returns
    -------
    str | None
        `letters`: it has one that no id has, none, or too many; `whole`: it means all of the
        cluster; None: it can be used.
    """
    if len(said) > LONGEST_ID or not said.isprintable() or re.search(ID_FORM, said) is None:
        return "letters"
    return "whole" if said == WHOLE else None


def _of_one_dial(value: str) -> str:
    if value == WHOLE:
        raise PydanticCustomError(
            "dial_id", f"expected an id other than '{WHOLE}', which means all of the cluster"
        )
    return value


Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Length = Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0)]
NotNegative = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0)]
Share = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=1)]
Text = Annotated[str, Field(strict=True)]
YesNo = Annotated[bool, Field(strict=True)]
Id = Annotated[str, Field(strict=True, pattern=ID_FORM, max_length=LONGEST_ID)]
DialId = Annotated[
    str,
    Field(
        strict=True,
        pattern=ID_FORM,
        max_length=LONGEST_ID,
        json_schema_extra={"not": {"const": WHOLE}},
    ),
    AfterValidator(_of_one_dial),
]
UnitSymbol = Annotated[
    str,
    Field(strict=True, json_schema_extra={"enum": list(UNITS)}),
    BeforeValidator(_known_unit),
]


class Open(BaseModel):
    """An object whose unknown fields are allowed and kept."""

    model_config = ConfigDict(extra="allow", frozen=True)
