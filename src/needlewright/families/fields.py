"""Types of the fields of `family.json`, shared by its parts."""

from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from needlewright.units import UNITS


def _known_unit(value: Any) -> Any:
    if isinstance(value, str) and value not in UNITS:
        known = ", ".join(UNITS)
        raise PydanticCustomError("unit", "expected one of: {known}", {"known": known})
    return value


Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Length = Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0)]
NotNegative = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0)]
Share = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=1)]
Text = Annotated[str, Field(strict=True)]
YesNo = Annotated[bool, Field(strict=True)]
Id = Annotated[str, Field(strict=True, pattern=r"^[^\s,;=/\\]+$", max_length=64)]
"""Ids stand in file names, CSV cells and `--at speed=80`."""
UnitSymbol = Annotated[
    str,
    Field(strict=True, json_schema_extra={"enum": list(UNITS)}),
    BeforeValidator(_known_unit),
]


class Open(BaseModel):
    """An object whose unknown fields are allowed and kept."""

    model_config = ConfigDict(extra="allow", frozen=True)
