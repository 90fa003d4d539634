"""`needlewright shop`: settings, people, instruments, families, and whether all is still whole."""

from typing import Annotated, Any

import typer

from needlewright.cli import console, shop_catalogue, shop_guides
from needlewright.cli.job_words import due_words
from needlewright.cli.shop_families import add_to
from needlewright.cli.shop_options import AsJson, ShopFolder, emit_view, plain, say, shop_at
from needlewright.composing.shop_record import shop_record
from needlewright.records import shop as house
from needlewright.records.opening import Shop
from needlewright.records.views import Settings

app = typer.Typer(
    help="The shop itself: settings, people, instruments, families.", no_args_is_help=True
)


@app.command("show")
def show(*, shop: ShopFolder = None, as_json: AsJson = False) -> None:
    """Show the shop's settings, where it lies, and how often its findings were right."""
    with shop_at(shop) as opened:
        settings, folder, record = house.settings(opened), opened.folder, shop_record(opened)
    if as_json:
        console.emit_json({**plain(settings), "findings": plain(record)})
        return
    say(f"folder          {folder}")
    _settings_out(settings, as_json)
    say(f"findings        {record.words}")


@app.command("set")
def set_(
    *,
    name: Annotated[str | None, typer.Option(metavar="TEXT", help="The shop's name.")] = None,
    place: Annotated[str | None, typer.Option(metavar="TEXT", help="Where it is.")] = None,
    law: Annotated[
        str | None,
        typer.Option(metavar="us|local", help="Which law on odometers holds where it is."),
    ] = None,
    local_law: Annotated[
        str | None, typer.Option(metavar="TEXT", help="The local law on odometers, in words.")
    ] = None,
    unit: Annotated[
        str | None, typer.Option(metavar="km|mi", help="Of odometers, unless a job says otherwise.")
    ] = None,
    authorised_by: Annotated[
        str | None, typer.Option(metavar="NAME", help="Who authorises papers.")
    ] = None,
    supply: Annotated[
        str | None, typer.Option(metavar="TEXT", help="The bench supply, for papers.")
    ] = None,
    battery_wait: Annotated[
        str | None,
        typer.Option(
            metavar="TEXT", help="Wait before work at an airbag, from a vehicle's manual."
        ),
    ] = None,
    invented: Annotated[
        bool | None,
        typer.Option("--invented/--real", help="A demonstration: every paper says so."),
    ] = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Save settings; what is not named stays."""
    typed: dict[str, Any] = {
        "name": name,
        "place": place,
        "law": law,
        "local_law": local_law,
        "odometer_unit": unit,
        "authorised_by": authorised_by,
        "supply": supply,
        "battery_wait": battery_wait,
        "invented": invented,
    }
    with shop_at(shop, may_be_new=True) as opened:
        stated = {k: v for k, v in typed.items() if v is not None}
        _settings_out(house.change_settings(opened, stated), as_json)


@app.command("person")
def person(
    name: Annotated[
        str | None, typer.Argument(metavar="NAME", help="Somebody to add; nobody: who works here.")
    ] = None,
    *,
    left: Annotated[bool, typer.Option("--left", help="They work here no more.")] = False,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """List the people of the shop, add one, or say that one has left."""
    with shop_at(shop, may_be_new=name is not None) as opened:
        if name is not None:
            house.person_left(opened, name) if left else house.add_person(opened, name)
        found = house.people(opened)
    if as_json:
        console.emit_json({"people": [plain(one) for one in found]})
        return
    for one in found:
        say(f"{one.name}{' (has left)' if one.has_left else ''}")


@app.command("instrument")
def instrument(
    number: Annotated[
        str | None,
        typer.Argument(metavar="NUMBER", help="Of its certificate; nothing: every instrument."),
    ] = None,
    *,
    name: Annotated[str | None, typer.Option(metavar="TEXT", help="What it is.")] = None,
    due: Annotated[
        str | None, typer.Option(metavar="DAY", help="When its own calibration is due.")
    ] = None,
    traceable_to: Annotated[
        str | None, typer.Option(metavar="TEXT", help="Whose calibration it carries.")
    ] = None,
    retired: Annotated[bool, typer.Option("--retired", help="It is used no more.")] = False,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """List the shop's instruments, add one, or change it."""
    typed = {"name": name, "due": due, "traceable_to": traceable_to, "retired": retired or None}
    stated = {k: v for k, v in typed.items() if v is not None}
    with shop_at(shop, may_be_new=number is not None) as opened:
        if number is not None:
            _put_instrument(opened, number, stated)
        found = house.instruments(opened)
    if as_json:
        console.emit_json({"instruments": [plain(one) for one in found]})
        return
    for one in found:
        say(f"{one.number}: {one.name}{due_words(one)}{' (retired)' if one.retired else ''}")


add_to(app)
app.add_typer(shop_catalogue.app, name="catalogue")
shop_guides.add_to(app)


@app.command("check")
def check(*, shop: ShopFolder = None, as_json: AsJson = False) -> int:
    """Verify the database and every photo, overlay and paper."""
    with shop_at(shop) as opened:
        found = house.check_shop(opened)
    if as_json:
        emit_view(found)
    else:
        for problem in found.problems:
            say(problem)
        say(f"{found.originals} files looked at, {len(found.problems)} things wrong")
    return 1 if found.problems else 0


def _put_instrument(shop: Shop, number: str, stated: dict[str, Any]) -> None:
    known = {one.number for one in house.instruments(shop)}
    if number in known:
        house.change_instrument(shop, number, stated)
    else:
        house.add_instrument(
            shop,
            stated.get("name", ""),
            number,
            stated.get("due"),
            traceable_to=stated.get("traceable_to", ""),
        )


def _settings_out(settings: Settings, as_json: bool) -> None:
    if as_json:
        emit_view(settings)
        return
    for name, value in plain(settings).items():
        if name != "version":
            say(f"{name.replace('_', ' '):<15} {value if value != '' else 'not stated'}")
