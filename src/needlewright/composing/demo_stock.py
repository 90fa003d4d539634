"""The invented shop's stock: every part, price, supplier and mark of a batch is made up."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Final

from needlewright.records.opening import Shop
from needlewright.records.stock import receive, scrap, use_part
from needlewright.records.stock_parts import add_part

SUPPLIER: Final = "an invented supplier"


@dataclass(frozen=True, slots=True)
class _Part:
    """A part, its deliveries as `(mark, days ago, count)`, oldest first."""

    code: str
    words: str
    reorder_point: int | None
    place: str
    price: str
    deliveries: tuple[tuple[str, int, int], ...] = ()
    unit: str = "pieces"


_PARTS: Final = (
    _Part("movement", "movement", 3, "drawer A3", "16.50", (("EX-07", 210, 6), ("EX-11", 40, 4))),
    _Part("driver", "driver of movements", 2, "drawer A4", "11.00", (("EX-D2", 120, 5),)),
    _Part("lamp", "backlight lamp", 20, "drawer B1", "1.20", (("EX-L5", 300, 60),)),
    _Part("tell_tale_lamp", "lamp of a tell-tale", 10, "drawer B2", "1.40", (("", 300, 12),)),
    _Part(
        "feed_resistors",
        "set of feed resistors",
        2,
        "drawer C1",
        "2.80",
        (("EX-R1", 90, 2),),
        "sets",
    ),
    _Part("display", "display", None, "cupboard", "130.00"),
)


def fill_stock(shop: Shop, tag: str, by: str, other: str) -> None:
    """Fill the stock, use a movement in a job, and spoil another.

    Parameters
    ----------
    shop
        An invented one.
    tag
        Of the job.
    by
        Who uses it.
    other
        Who keeps the stock.
    """
    today = shop.now().astimezone().date()
    for part in _PARTS:
        typed = {
            "code": part.code,
            "words": part.words,
            "unit": part.unit,
            "reorder_point": part.reorder_point,
            "place": part.place,
            "price": part.price,
            "currency": "EUR",
        }
        add_part(shop, typed, other)
        for mark, days_ago, count in part.deliveries:
            day = today - timedelta(days_ago)
            receive(shop, part.code, count, mark, other, received_on=day, note=SUPPLIER)
    scrap(shop, "movement", 1, "shaft bent when it was unpacked", by)
    use_part(shop, tag, "movement", 1, by, why="fuel gauge")
    use_part(shop, tag, "tell_tale_lamp", 2, by)
