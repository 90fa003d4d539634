"""What commands on the stock are told in the same words."""

from typing import Annotated, TypeAlias

import typer

Code: TypeAlias = Annotated[str, typer.Argument(metavar="PART", help="The part's code.")]
Count: TypeAlias = Annotated[str, typer.Argument(metavar="COUNT", help="How many.")]
OneOrMore: TypeAlias = Annotated[str, typer.Argument(metavar="[COUNT]", help="How many; else 1.")]
Batch: TypeAlias = Annotated[
    str | None, typer.Option(metavar="MARK", help="Of this batch alone; else the oldest first.")
]
Price: TypeAlias = Annotated[
    str | None, typer.Option(metavar="AMOUNT", help="Of one, as 16.50; empty: not stated.")
]
Currency: TypeAlias = Annotated[
    str | None, typer.Option(metavar="CODE", help="Of the price (ISO 4217), as EUR.")
]
