"""`needlewright rules`: the tolerance rules, their sources and what they ask for."""

import json
from typing import Annotated, Any, Final

import typer
from rich.table import Table

from needlewright.cli import console
from needlewright.errors import UsageError
from needlewright.rules.book import RuleSpec, rule_codes, rule_for
from needlewright.rules.model import Rule

CAUTION: Final = "Facts of the texts, not legal advice; defer to local codes."
HOUSE_EXAMPLES: Final[tuple[RuleSpec, ...]] = (
    {"house": {"of_span": 0.01}},
    {"house": {"of_graduation": 0.5}},
)


def rules(
    unit: Annotated[
        str, typer.Option(metavar="UNIT", help="The dial's unit: km/h or mph.")
    ] = "km/h",
    full_scale: Annotated[
        float, typer.Option(metavar="VALUE", help="The dial's last mark, in that unit.")
    ] = 220.0,
    graduation: Annotated[
        float,
        typer.Option(metavar="VALUE", help="Interval of the dial's graduations, in that unit."),
    ] = 10.0,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """List the tolerance rules with their sources and their limits at the check points."""
    if unit not in ("km/h", "mph"):
        raise UsageError(f"--unit is '{unit}'; use km/h or mph")
    for option, value in (("--full-scale", full_scale), ("--graduation", graduation)):
        if not 0 < value < float("inf"):
            raise UsageError(f"{option} is {value:g}; give a value above zero, in {unit}")
    specs: tuple[RuleSpec, ...] = (*rule_codes(), *HOUSE_EXAMPLES)
    documents = [_document(spec, unit, full_scale, graduation) for spec in specs]
    if as_json:
        console.emit_json(
            {
                "unit": unit,
                "full_scale": full_scale,
                "graduation": graduation,
                "rules": documents,
                "caution": CAUTION,
            }
        )
        return
    _show(documents, unit, full_scale)


def _document(spec: RuleSpec, unit: str, full_scale: float, graduation: float) -> dict[str, Any]:
    rule = rule_for(spec, unit=unit, scale_values=(0.0, full_scale), graduation=graduation)
    return {
        "spec": spec,
        "code": rule.code,
        "title": rule.title,
        "source": rule.source,
        "formula": rule.formula,
        "applies": rule.applies,
        "allows_reading_low": rule.allows_reading_low,
        "check_points": list(rule.check_points()),
        "examples": _examples(rule, full_scale),
    }


def _examples(rule: Rule, full_scale: float) -> list[dict[str, float | None]]:
    """Limits at the check points; half way up the scale where the rule names none."""
    examples = []
    for true_value in rule.check_points() or (full_scale / 2,):
        limits = rule.limits(true_value)
        if limits is not None:
            examples.append({"true": true_value, "lower": limits.lower, "upper": limits.upper})
    return examples


def _show(documents: list[dict[str, Any]], unit: str, full_scale: float) -> None:
    table = Table(title=f"Tolerance rules on a dial of 0 to {full_scale:g} {unit}")
    table.add_column("rule", overflow="fold")
    for heading in ("true", "shown from", "shown to"):
        table.add_column(f"{heading}, {unit}", justify="right")
    for document in documents:
        for number, example in enumerate(document["examples"]):
            table.add_row(
                _named(document) if number == 0 else "",
                f"{example['true']:.1f}",
                f"{example['lower']:.2f}",
                f"{example['upper']:.2f}",
            )
    console.out.print(table)
    for document in documents:
        console.out.print(
            f"\n{_named(document)}: {document['formula']}, V1 shown, V2 true;\n"
            f"  {document['applies']}.\n  Source: {document['source']}.",
            markup=False,
        )
    console.out.print(f"\n{CAUTION}")


def _named(document: dict[str, Any]) -> str:
    """The rule as a family file names it."""
    spec = document["spec"]
    return spec if isinstance(spec, str) else json.dumps(spec)
