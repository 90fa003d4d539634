"""Numbers of every command's options and arguments: a decimal comma does as well as a point."""

from collections.abc import Callable
from typing import Any, get_args

from needlewright.errors import UnitError, UsageError
from needlewright.plans.decimal_comma import pointed


def take_decimal_commas(command: Any) -> None:
    """Let a command and those under it take numbers by the one rule of `decimal_comma`.

    Parameters
    ----------
    command
        As the command line's library has built it; its parameters of type `float` are changed.
    """
    for under in getattr(command, "commands", {}).values():
        take_decimal_commas(under)
    for one in command.params:
        if _is_number(one.type_descriptor.annotation):
            one.process_value = _with_point(one, one.process_value)


def number_typed(text: str, where: str) -> float:
    """A number that stands inside a text of the command line, such as the 0,5 of `fuel=0,5`.

    Parameters
    ----------
    text
        The number alone, as typed.
    where
        What it was typed in, for the sentence on commas that can be read in two ways.

    Returns
    -------
    float
        The number.

    Raises
    ------
    UsageError
        If its commas can be read in two ways.
    ValueError
        If it is no number.
    """
    return float(number_pointed(text.strip(), where))


def number_pointed(text: str, where: str) -> str:
    """The same with a point for a decimal comma, before it is known to be a number.

    Parameters
    ----------
    text
        As typed.
    where
        What it was typed in, for the sentence on commas that can be read in two ways.

    Returns
    -------
    str
        The same where it has no comma.

    Raises
    ------
    UsageError
        If its commas can be read in two ways.
    """
    try:
        return pointed(text)
    except UnitError as error:
        raise UsageError(f"{where}: {error}") from None


def _is_number(annotation: Any) -> bool:
    return annotation is float or (
        annotation is not None and any(part is float for part in get_args(annotation))
    )


def _with_point(one: Any, process: Callable[..., Any]) -> Callable[..., Any]:
    def processed(ctx: Any, value: Any) -> Any:
        return process(ctx, _pointed(value, one))

    return processed


def _pointed(value: Any, one: Any) -> Any:
    if isinstance(value, list | tuple):
        return type(value)(_pointed(each, one) for each in value)
    if not isinstance(value, str):
        return value
    name = one.opts[-1] if one.param_type_name == "option" else one.metavar or one.name
    return number_pointed(value, name)
