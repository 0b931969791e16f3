"""Commands around a lining: lining, call."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any

import typer

from envwatch.cases.fields.lining import INPUTS
from envwatch.cli.common import JsonOption, PaperOption, StudioOption, now, open_studio, progress, show, takes, width
from envwatch.core.errors import BadInput

Words = Annotated[list[str], typer.Argument(help="Words of its title, its owner, or its number.")]
Given = dict[str, Any]


@takes(INPUTS.values())
def lining(
    words: Words,
    paper: PaperOption = "a4",
    keep: Annotated[bool, typer.Option(help="Keep the printed sheet in sheets/.")] = True,
    studio: StudioOption = Path(),
    json: JsonOption = False,
    **given: Any,
) -> None:
    """Which adhesive for where it goes; may I line today; what is due; may it leave; a loan."""
    house = open_studio(studio)
    painting = house.find_painting(" ".join(words))
    if given["loan"] is not None:
        return _loan(house, painting, given["loan"], paper, keep, json)
    if given["leave"] is not None:
        return _leave(house, painting, given, paper, keep, json)
    if given["hand_over"] or given["although"]:
        raise BadInput("--hand-over and --although: say the day too, with --leave")
    if given["to"] or given["positions"] is not None:
        return _compare(house, painting, given, paper, keep, json)
    return _today(house, painting, given, json)


def _day(house, given: Given, name: str):
    from envwatch.core import period

    return period.begin(given[name], name, house.zone)


def _bytes(path: Path, option: str) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise BadInput(f"{option} {path}: no such file") from None
    except IsADirectoryError:
        raise BadInput(f"{option} {path}: is a folder; name a file") from None


def _today(house, painting, given: Given, json: bool) -> None:
    from envwatch.cases.lining import Bench, Forecast, due, may_line
    from envwatch.cases.lining.calendar import calendar
    from envwatch.present.terminal import lining as tell

    moment, adhesives, ics = now(), given["adhesive"] or (), given["ics"]
    forecast = Forecast(*(given[f"forecast_{name}"] for name in ("max", "min", "rh_max", "rh_min")))
    bench = Bench(given["room"], given["attended_by"], given["film_forming"])
    if len(adhesives) > 1:
        raise BadInput("--adhesive: for lining today name one; several are compared with --to or --positions")
    steps = due(painting, house.zone, moment, house.materials())
    result, steps, title = house.names().within(
        (may_line(house, painting, moment, "".join(adhesives), forecast, bench), steps, painting.title)
    )
    show({"today": result, "due": steps}, json, lambda: tell.today(result, steps, width()), house.names)
    if ics is not None:
        ics.write_bytes(calendar(steps, title, house.zone, moment))
        if not json:
            print(f"\nCalendar file: {ics}")


def _compare(house, painting, given: Given, paper: str, keep: bool, json: bool) -> None:
    from envwatch.cases.lining import compare
    from envwatch.present.paper import lining as sheet
    from envwatch.present.terminal import lining as tell

    moment = now()
    day = _day(house, given, "arrives") or moment.floor("h")
    there = _destination(house, painting, given, day)
    with progress("judging") as report:
        result = compare(house, painting, there, day, moment, given["adhesive"] or (), report)
    result, there = house.names().within((result, there))
    shown = replace(result, destination=replace(there, exposures=()))  # the air itself is no result
    show(shown, json, lambda: tell.comparison(result, width()), house.names)
    if keep:
        goal = "".join(c if c.isalnum() else "-" for c in there.name.casefold())
        name = f"lining-{painting.id}-{goal}-{there.start.tz_convert(there.zone).date()}-{paper}.pdf"
        _kept(house, name, sheet.comparison(result, paper), json)


def _destination(house, painting, given: Given, day):
    from envwatch.cases import hanging
    from envwatch.cases.hanging.year import described_year
    from envwatch.cases.lining import of_place, of_year
    from envwatch.core.place import POSITIONS

    at, positions, spot = given["at"], given["positions"], given["spot"]
    if positions is None:
        if at not in POSITIONS:
            raise BadInput(f"--at {at}: not a position. There are {', '.join(POSITIONS)}")
        return of_place(house, painting, given["to"], at, day, _day(house, given, "year_from"))
    spots = hanging.read(_bytes(positions, "--positions"), positions.name)
    found = [one for one in spots if one.name.casefold().startswith(spot.casefold())]
    if len(found) != 1:
        raise BadInput(f"--spot {spot!r}: say which one: {', '.join(one.name for one in spots)}")
    return of_year(described_year(house, painting, found[0], day))


def _leave(house, painting, given: Given, paper: str, keep: bool, json: bool) -> None:
    import pandas as pd

    from envwatch.cases import lining as around
    from envwatch.present.paper import lining as sheet
    from envwatch.present.terminal import lining as tell

    hand_over, although = given["hand_over"], given["although"]
    journey = around.Journey(
        given["to"], given["at"], given["house_rh"], given["vehicle_max"], given["forecast_max"], given["logger"],
        _day(house, given, "logger_back"), given["logger_by"],
    )  # fmt: skip
    day = _day(house, given, "leave") + pd.Timedelta(hours=8)  # a bare day: it leaves in the morning
    result = around.may_leave(house, painting, day, now(), journey)
    if hand_over:
        around.hand_over(house, result, although)
    result, although = house.names().within((result, although))
    show(result, json, lambda: tell.release(result, width()), house.names)
    if hand_over and not json:
        print("\nThe handover is on record.")
    if keep and (hand_over or not result.open):
        name = f"receipt-{painting.id}-{day.tz_convert(house.zone).date()}-{paper}.pdf"
        _kept(house, name, sheet.receipt(result, although if result.open else "", paper), json)


def _loan(house, painting, file: Path, paper: str, keep: bool, json: bool) -> None:
    from envwatch.cases import loan
    from envwatch.present.paper import lining as sheet
    from envwatch.present.terminal import lining as tell

    agreement = loan.read(_bytes(file, "--loan"), file.name, house.zone)
    if agreement.painting != painting.id:
        raise BadInput(f"--loan {file.name}: is about {agreement.painting}, not {painting.id} ({painting.title})")
    result = house.names().within(loan.judged(house, agreement, now()))
    show(result, json, lambda: tell.loan(result, width()), house.names)
    if keep:
        name = f"loan-{painting.id}-{result.start.tz_convert(result.zone).date()}-{paper}.pdf"
        _kept(house, name, sheet.loan(result, paper), json)


def _kept(house, name: str, content: bytes, json: bool) -> None:
    from envwatch.archive import reviews

    path = reviews.keep_sheet(house, house.names().ident(name), content)
    if not json:
        print(f"\nPrinted sheet: {path}")


def call(
    words: Words,
    sign: Annotated[str, typer.Option(help="What the client sees, in a word or the client's own: bubble, wet, …")],
    note: Annotated[str, typer.Option(help="More of what was said; kept with --log.")] = "",
    log: Annotated[bool, typer.Option("--log", help="Keep that the client rang, and what was advised.")] = False,
    paper: PaperOption = "a4",
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:
    """When the client rings: what to ask, what to do until it is seen, a reply; leak or flood first."""
    from envwatch.cases.painting import call as ring
    from envwatch.present.paper import lining as sheet
    from envwatch.present.terminal import lining as tell

    house = open_studio(studio)
    result = ring.ringing(house, house.find_painting(" ".join(words)), sign, now())
    if log:
        ring.log(house, result, sign, note)
    result = house.names().within(result)
    show(result, json, lambda: tell.call(result, width()), house.names)
    if log and not json:
        print("\nThe call is on record.")
    if result.flood:
        _kept(house, f"wet-{result.painting.id}-{paper}.pdf", sheet.wet(result, paper), json)


def add_commands(app: typer.Typer) -> None:
    """Hang the commands on the app."""
    app.command()(lining)
    app.command()(call)
