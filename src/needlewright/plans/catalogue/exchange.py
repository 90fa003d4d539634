"""A catalogue in another currency: every price times one exact rate, a part's to the coin."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from needlewright.errors import PlanError, UnitError
from needlewright.plans.catalogue.model import Catalogue, Operation
from needlewright.plans.money import currency_named, rounded


def in_currency(catalogue: Catalogue, currency: str | None, rate: Decimal | None) -> Catalogue:
    """A catalogue in a currency.

    Parameters
    ----------
    catalogue
        In its own.
    currency
        Asked for; None: its own.
    rate
        How much of it one of the catalogue's is worth.

    Returns
    -------
    Catalogue
        The same where it is in that currency already.

    Raises
    ------
    PlanError
        If there is no such currency, a rate is missing, or it cannot be one.
    """
    own = catalogue.terms.currency
    try:
        asked = own if currency is None else currency_named(currency)
    except UnitError as error:
        raise PlanError(f"currency: {error}") from error
    if asked == own:
        if rate is not None and rate != 1:
            raise PlanError(f"the catalogue is in {own} already; leave the rate of exchange out")
        return catalogue
    if rate is None:
        raise PlanError(
            f"the catalogue is in {own} and the plan was asked for in {asked}; say how many "
            f"{asked} one {own} is worth with --exchange, or give a catalogue in {asked}"
        )
    if not (rate.is_finite() and Decimal("1e-6") <= rate <= Decimal("1e6")):
        raise PlanError(f"rate of exchange: expected 0.000001 to 1000000, found {rate}")
    exact, terms = Fraction(rate), catalogue.terms
    return replace(
        catalogue,
        terms=replace(
            terms,
            currency=asked,
            hour=terms.hour * exact,
            ship_one_way=terms.ship_one_way * exact,
            goodwill=terms.goodwill * exact,
        ),
        operations={code: _priced(one, exact, asked) for code, one in catalogue.operations.items()},
    )


def _priced(operation: Operation, rate: Fraction, currency: str) -> Operation:
    needs = tuple(
        # a part is sold at a price that can be paid: two of them cost twice what is shown for one
        replace(
            need,
            part=replace(need.part, price=Fraction(rounded(need.part.price * rate, currency))),
        )
        for need in operation.needs
    )
    return replace(operation, needs=needs, spoil_cost=operation.spoil_cost * rate)
