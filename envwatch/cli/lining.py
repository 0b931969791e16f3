"""Commands around a lining: lining, call."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated, TypeAlias

import typer

from envwatch.cli.common import JsonOption, PaperOption, StudioOption, now, open_studio, progress, show, width
from envwatch.core.errors import BadInput

Words = Annotated[list[str], typer.Argument(help="Words of its title, its owner, or its number.")]
Place = Annotated[str, typer.Option("--to", help="Where it goes: a place of the register with a logger.")]
At = Annotated[str, typer.Option("--at", help="Position there: inner wall, outer wall, radiator, …")]
Number: TypeAlias = float | None


def lining(
    words: Words,
    to: Place = "",
    at: At = "unknown",
    year_from: Annotated[str | None, typer.Option(help="With --to: the stored year that begins on this day.")] = None,
    positions: Annotated[Path | None, typer.Option(help="A described position instead: file as for hang.")] = None,
    spot: Annotated[str, typer.Option(help="With --positions: which one, by its first words.")] = "",
    arrives: Annotated[str | None, typer.Option(help="Day it would be lined and there; by default today.")] = None,
    adhesive: Annotated[list[str] | None, typer.Option(help="Candidates by key; by default all that line.")] = None,
    room: Annotated[str, typer.Option(help="Lined and dried in this place; by default the studio.")] = "",
    attended_by: Annotated[str, typer.Option(help="Who changes blotters and weights as it dries; or nobody.")] = "",
    film_forming: Annotated[Number, typer.Option(help="A dispersion's film-forming temperature [°C].")] = None,
    forecast_max: Annotated[Number, typer.Option(help="Forecast, highest of the days ahead [°C].")] = None,
    forecast_min: Annotated[Number, typer.Option(help="Forecast, lowest of the days ahead [°C].")] = None,
    forecast_rh_max: Annotated[Number, typer.Option(help="Forecast, dampest [% RH].")] = None,
    forecast_rh_min: Annotated[Number, typer.Option(help="Forecast, driest [% RH].")] = None,
    ics: Annotated[Path | None, typer.Option(help="Write what is due as a calendar file (iCalendar).")] = None,
    leave: Annotated[str | None, typer.Option(help="May it leave on this day?")] = None,
    house_rh: Annotated[Number, typer.Option(help="With --leave: humidity of the house, if known [% RH].")] = None,
    vehicle_max: Annotated[Number, typer.Option(help="With --leave: highest in the vehicle [°C].")] = None,
    logger: Annotated[str, typer.Option(help="With --leave: the logger that goes along.")] = "",
    logger_back: Annotated[str | None, typer.Option(help="With --leave: by when the logger comes back.")] = None,
    logger_by: Annotated[str, typer.Option(help="With --leave: who sends the logger back.")] = "",
    hand_over: Annotated[bool, typer.Option("--hand-over", help="Record that it was handed over.")] = False,
    although: Annotated[str, typer.Option(help="Why it leaves although something is open; kept.")] = "",
    loan: Annotated[Path | None, typer.Option(help="Hold the borrower's readings to this agreement (TOML).")] = None,
    paper: PaperOption = "a4",
    keep: Annotated[bool, typer.Option(help="Keep the printed sheet in sheets/.")] = True,
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:
    """Which adhesive for where it goes; may I line today; what is due; may it leave; a loan."""
    from envwatch.cases.lining import Bench, Forecast, Journey

    house = open_studio(studio)
    painting = house.find_painting(" ".join(words))
    if loan is not None:
        return _loan(house, painting, loan, paper, keep, json)
    if leave is not None:
        back = None if logger_back is None else _day(house, logger_back, "logger_back")
        journey = Journey(to, at, house_rh, vehicle_max, forecast_max, logger, back, logger_by)
        return _leave(house, painting, _day(house, leave, "leave"), journey, hand_over, although, paper, keep, json)
    if hand_over or although:
        raise BadInput("--hand-over and --although: say the day too, with --leave")
    if to or positions is not None:
        where = (to, at, year_from, positions, spot)
        return _compare(house, painting, where, arrives, adhesive or (), paper, keep, json)
    forecast = Forecast(forecast_max, forecast_min, forecast_rh_max, forecast_rh_min)
    bench = Bench(room, attended_by, film_forming)
    return _today(house, painting, adhesive or (), forecast, bench, ics, json)


def _day(house, text: str, field: str):
    from envwatch.core import period

    return period.given(text, field).tz_localize(house.zone).tz_convert("UTC")


def _bytes(path: Path, option: str) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise BadInput(f"{option} {path}: no such file") from None
    except IsADirectoryError:
        raise BadInput(f"{option} {path}: is a folder; name a file") from None


def _today(house, painting, adhesives, forecast, bench, ics: Path | None, json: bool) -> None:
    from envwatch.cases.lining import due, may_line
    from envwatch.cases.lining.calendar import calendar
    from envwatch.present.terminal import lining as tell

    moment = now()
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


def _compare(house, painting, where, arrives: str | None, adhesives, paper: str, keep: bool, json: bool) -> None:
    from envwatch.cases.lining import compare
    from envwatch.present.paper import lining as sheet
    from envwatch.present.terminal import lining as tell

    moment = now()
    day = moment.floor("h") if arrives is None else _day(house, arrives, "arrives")
    there = _destination(house, painting, where, day)
    with progress("judging") as report:
        result = compare(house, painting, there, day, moment, adhesives, report)
    result, there = house.names().within((result, there))
    shown = replace(result, destination=replace(there, exposures=()))  # the air itself is no result
    show(shown, json, lambda: tell.comparison(result, width()), house.names)
    if keep:
        goal = "".join(c if c.isalnum() else "-" for c in there.name.casefold())
        name = f"lining-{painting.id}-{goal}-{there.start.tz_convert(there.zone).date()}-{paper}.pdf"
        _kept(house, name, sheet.comparison(result, paper), json)


def _destination(house, painting, where, day):
    from envwatch.cases import hanging
    from envwatch.cases.hanging.year import described_year
    from envwatch.cases.lining import of_place, of_year
    from envwatch.core.place import POSITIONS

    to, at, year_from, positions, spot = where
    if positions is None:
        if at not in POSITIONS:
            raise BadInput(f"--at {at}: not a position. There are {', '.join(POSITIONS)}")
        year = None if year_from is None else _day(house, year_from, "year_from")
        return of_place(house, painting, to, at, day, year)
    spots = hanging.read(_bytes(positions, "--positions"), positions.name)
    found = [one for one in spots if one.name.casefold().startswith(spot.casefold())]
    if len(found) != 1:
        raise BadInput(f"--spot {spot!r}: say which one: {', '.join(one.name for one in spots)}")
    return of_year(described_year(house, painting, found[0], day))


def _leave(house, painting, day, journey, hand_over: bool, although: str, paper: str, keep: bool, json: bool) -> None:
    import pandas as pd

    from envwatch.cases import lining as around
    from envwatch.present.paper import lining as sheet
    from envwatch.present.terminal import lining as tell

    day = day + pd.Timedelta(hours=8)  # a bare day: it leaves in the morning
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
