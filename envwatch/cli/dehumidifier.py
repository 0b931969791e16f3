"""Commands for drying a room: dehumidifier."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, TypeAlias

import typer

from envwatch.cli.common import JsonOption, PaperOption, StudioOption, now, open_studio, progress, show, width
from envwatch.core.errors import BadInput, Question

O = typer.Option  # noqa: E741
Words: TypeAlias = str | None
Number: TypeAlias = float | None
Numbers: TypeAlias = list[float] | None
Texts: TypeAlias = list[str] | None


def dehumidifier(
    place: Annotated[str, typer.Argument(help="The room: its id, or words of its name.")],
    machine_litres: Annotated[Numbers, O(help="A condensing machine's litres a day; may be repeated.")] = None,
    machine_pints: Annotated[Numbers, O(help="A condensing machine's US pints a day; may be repeated.")] = None,
    desiccant_litres: Annotated[Numbers, O(help="A desiccant machine's litres a day; may be repeated.")] = None,
    rated_at: Annotated[Texts, O(help="The label's rating point, such as 27C/60%: one for all, or one each.")] = None,
    litres_per_kwh: Annotated[Numbers, O(help="Litres per kWh at the rating point: one for all, or each.")] = None,
    price: Annotated[Numbers, O(help="Price of the machine in your currency: one for all, or each.")] = None,
    curve: Annotated[Path | None, O(help="Data sheet of the one machine named, as CSV.")] = None,
    set_percent: Annotated[Number, O("--set", help="Set point, % RH.")] = None,
    tank: Annotated[Number, O(help="Litres of its tank, if not drained; with --visits or --hours-away.")] = None,
    visits: Annotated[str, O(help="Days on which the tank is emptied, such as Mon,Thu.")] = "",
    hours_away: Annotated[Number, O(help="Or the longest time nobody empties it, in hours.")] = None,
    volume: Annotated[Number, O(help="Volume of the room, m³.")] = None,
    air_change: Annotated[Words, O(help="Air changes an hour, or lowest-highest: 0.1-0.3.")] = None,
    source: Annotated[Words, O(help="Moisture given off in it, g/h, or lowest-highest.")] = None,
    buffer: Annotated[Number, O(help="Water that its things hold for each % RH, g.")] = None,
    weighed: Annotated[Texts, O(help="Litres a machine drew: 2026-03-02..2026-03-09=6.3.")] = None,
    evaporated: Annotated[Texts, O(help="Litres a tray gave off: 2026-03-02..2026-03-09=6.3.")] = None,
    outdoors: Annotated[Words, O(help="A file (station, EPW, TMY, months), or none. Else the studio's logger.")] = None,
    outdoors_zone: Annotated[Words, O(help="Time zone of a station's file.")] = None,
    log_from: Annotated[Words, O(help="First day of the log to be used.")] = None,
    log_to: Annotated[Words, O(help="Last day of it, included.")] = None,
    machine_in_log: Annotated[str, O(help="Whether a machine ran in the log: no or yes.")] = "",
    sink: Annotated[str, O(help="keep: go on with a room that loses water of itself.")] = "",
    cold_wall: Annotated[Number, O(help="How much colder than the room its coldest surface is, K.")] = None,
    heat_loss: Annotated[Number, O(help="Heat lost through the walls, W/K.")] = None,
    tighten_to: Annotated[Number, O(help="Share of the air change left after draught-proofing, 0 to 1.")] = None,
    also: Annotated[Texts, O(help="What else stands there: panels, furniture, …; or nothing.")] = None,
    treated_on: Annotated[Words, O(help="Judge the paintings as treated on this day.")] = None,
    tariff: Annotated[Number, O(help="Price of a kWh in your currency.")] = None,
    currency: Annotated[str, O(help="Its name, such as EUR.")] = "",
    service: Annotated[Number, O(help="Service a year in your currency.")] = None,
    life: Annotated[Number, O(help="Years the machine is to last.")] = None,
    retreatment_hours: Annotated[Number, O(help="Your own hours for one re-treatment.")] = None,
    draws: Annotated[int | None, O(help="Plausible rooms drawn.")] = None,
    bought: Annotated[Words, O(help="After buying: the day it was switched on; forecast against log.")] = None,
    tomorrow_max: Annotated[Number, O(help="Heatwave or cold snap: tomorrow's highest outdoors, °C.")] = None,
    tomorrow_min: Annotated[Number, O(help="And its lowest, °C.")] = None,
    for_days: Annotated[int, O(help="For so many days.")] = 3,
    paper: PaperOption = "a4",
    keep: Annotated[bool, O(help="Keep the printed page in sheets/.")] = True,
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:
    """The case for a dehumidifier in a room, or against it, beside everything else that could be done."""
    from envwatch.cases.dehumidifier import typed
    from envwatch.cases.dehumidifier.inputs import Asked, Money

    house = open_studio(studio)
    machines = _machines(machine_litres, machine_pints, desiccant_litres, rated_at, litres_per_kwh, price, curve)
    asked = Asked(
        outdoors=_outdoors(house, place, outdoors, outdoors_zone), volume_m3=volume,
        air_change_h=typed.span(air_change, "air_change"), source_g_h=typed.span(source, "source"), buffer_g=buffer,
        weighed=tuple(
            typed.weighed(text, drawn, house.zone)
            for texts, drawn in ((weighed, True), (evaporated, False)) for text in texts or ()
        ),
        first=typed.day(log_from, "log_from", house.zone), last=typed.day(log_to, "log_to", house.zone, 1),
        machine_in_log=typed.one_of(machine_in_log, "machine_in_log", ("no", "yes")),
        sink=typed.one_of(sink, "sink", ("keep",)), machines=machines, set_percent=set_percent, tank_l=tank,
        visit_days=typed.weekdays(visits), hours_away=hours_away, surface_below_k=cold_wall, heat_loss_w_k=heat_loss,
        tighten_to=tighten_to, others=None if also is None else tuple(w for w in also if w != "nothing"),
        treated_on=typed.day(treated_on, "treated_on", house.zone), draws=draws,
        money=Money(tariff, currency, service, life, retreatment_hours),
    )  # fmt: skip
    if tomorrow_max is not None or tomorrow_min is not None:
        return _spell(house, place, tomorrow_max, tomorrow_min, for_days, asked, json)
    if bought is not None:
        return _after(house, place, typed.day(bought, "bought", house.zone), asked, json)
    _case(house, place, asked, paper, keep, json)


def _case(house, place: str, asked, paper: str, keep: bool, as_json: bool) -> None:
    from envwatch.cases.dehumidifier import make
    from envwatch.present.terminal import dehumidifier as tell

    with progress("drying the room") as report:
        case = make(house, place, now(), asked, report)
    show(case, as_json, lambda: tell.case(case, width()), house.names)
    if keep:
        from envwatch.present.paper import dehumidifier as sheet

        name = f"drying-{case.place.id}-{case.end.tz_convert(case.zone).date()}-{paper}.pdf"
        kept = house.keep_sheet(name, sheet.page(case, paper))
        if not as_json:
            print(f"\nPrinted page: {kept}")


def _spell(house, place, highest, lowest, days: int, asked, as_json: bool) -> None:
    from envwatch.cases.dehumidifier.spell import ahead
    from envwatch.present.terminal import dehumidifier as tell

    if highest is None or lowest is None:
        raise Question("A spell ahead needs tomorrow's highest and lowest outdoors.", "tomorrow_max",
                       answer="⟦tomorrow_max⟧, ⟦tomorrow_min⟧")  # fmt: skip
    result = ahead(house, place, now(), highest, lowest, days, asked)
    show(result, as_json, lambda: tell.spell(result, width()), house.names)


def _after(house, place, since, asked, as_json: bool) -> None:
    from envwatch.cases.dehumidifier.verification import after_buying
    from envwatch.present.terminal import dehumidifier as tell

    with progress("drying the room"):
        result = after_buying(house, place, now(), since, asked)
    show(result, as_json, lambda: tell.after(result, width()), house.names)


# ------------------------------------------------------------------------------------------------------- arguments


def _machines(litres, pints, desiccant_litres, rated_at, per_kwh, price, curve: Path | None) -> tuple:
    """The machines named, in the order litres, pints, desiccant; figures given once hold for all."""
    from envwatch.cases.dehumidifier import typed
    from envwatch.cases.dehumidifier.machine import data_sheet, from_points

    of_kind = zip(typed.KINDS, (litres, pints, desiccant_litres), strict=True)
    named = [(kind, amount) for kind, amounts in of_kind for amount in amounts or ()]
    if not named:
        if rated_at or per_kwh or price or curve:
            raise BadInput("--rated-at, --litres-per-kwh, --price, --curve belong to a machine: add --machine-litres")
        return ()
    if not rated_at:
        raise Question(typed.NOT_RATED, "rated_at")
    each = [_each(values, len(named), name) for values, name in
            ((rated_at, "--rated-at"), (per_kwh, "--litres-per-kwh"), (price, "--price"))]  # fmt: skip
    made = [typed.machine(*label) for label in zip(*zip(*named, strict=True), *each, strict=True)]
    if curve is not None:
        if len(made) != 1:
            raise BadInput("--curve belongs to one machine; name one")
        made = [from_points(made[0], data_sheet(curve))]
    return tuple(made)


def _each(values, count: int, name: str) -> list:
    values = list(values or [None])
    if len(values) not in (1, count):
        raise BadInput(f"{name} was given {len(values)} times for {count} machines: once for all, or once each")
    return values * count if len(values) == 1 else values


def _outdoors(house, place: str, given: str | None, zone: str | None):
    from envwatch.climate.outdoors import bounds
    from envwatch.logs import weather as reading

    if given is None:
        return None
    if given.lower() == "none":
        import pandas as pd

        room = house.find_place(place)
        return bounds(house.climate(room.id, now() - pd.Timedelta(days=1500), now()))
    return reading.read(Path(given), zone, now())


def add_commands(app: typer.Typer) -> None:
    """Hang the command on the app."""
    app.command()(dehumidifier)
