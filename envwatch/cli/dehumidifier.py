"""Commands for drying a room: dehumidifier."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from envwatch.cases.fields.dehumidifier import INPUTS
from envwatch.cli.common import JsonOption, PaperOption, StudioOption, now, open_studio, progress, show, takes, width
from envwatch.core.errors import BadInput, Question


@takes(INPUTS.values())
def dehumidifier(
    place: Annotated[str, typer.Argument(help="The room: its id, or words of its name.")],
    paper: PaperOption = "a4",
    keep: Annotated[bool, typer.Option(help="Keep the printed page in sheets/.")] = True,
    studio: StudioOption = Path(),
    json: JsonOption = False,
    **given: Any,
) -> None:
    """The case for a dehumidifier in a room, or against it, beside everything else that could be done."""
    from envwatch.cases.dehumidifier import typed
    from envwatch.core import period

    house = open_studio(studio)
    machines = _machines(given)
    outdoors = _outdoors(house, place, given["outdoors"], given["outdoors_zone"], given["outdoors_start"])
    asked = typed.asked(given, house.zone, outdoors, machines)
    if given["tomorrow_max"] is not None or given["tomorrow_min"] is not None:
        return _spell(house, place, given["tomorrow_max"], given["tomorrow_min"], given["for_days"], asked, json)
    if given["bought"] is not None:
        return _after(house, place, period.begin(given["bought"], "bought", house.zone), asked, json)
    _case(house, place, asked, paper, keep, json)


def _case(house, place: str, asked, paper: str, keep: bool, as_json: bool) -> None:
    from envwatch.archive import reviews
    from envwatch.cases.dehumidifier import make
    from envwatch.present.terminal import dehumidifier as tell

    with progress("drying the room") as report:
        case = make(house, place, now(), asked, report)
    show(case, as_json, lambda: tell.case(case, width()), house.names)
    if keep:
        from envwatch.present.paper import dehumidifier as sheet

        name = f"drying-{case.place.id}-{case.end.tz_convert(case.zone).date()}-{paper}.pdf"
        kept = reviews.keep_sheet(house, name, sheet.page(case, paper))
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


def _machines(given: dict[str, Any]) -> tuple:
    """The machines named, in the order litres, pints, desiccant; figures given once hold for all."""
    from envwatch.cases.dehumidifier import typed
    from envwatch.cases.dehumidifier.machine import data_sheet, from_points

    of_kind = zip(typed.KINDS, ("machine_litres", "machine_pints", "desiccant_litres"), strict=True)
    machines = [(kind, amount) for kind, name in of_kind for amount in given[name] or ()]
    labels, curve = ("rated_at", "litres_per_kwh", "price"), given["curve"]
    if not machines:
        if curve or any(given[name] for name in labels):
            raise BadInput("--rated-at, --litres-per-kwh, --price, --curve belong to a machine: add --machine-litres")
        return ()
    if not given["rated_at"]:
        raise Question(typed.NOT_RATED, "rated_at")
    each = [_each(given[name], len(machines), name) for name in labels]
    made = [typed.machine(*label) for label in zip(*zip(*machines, strict=True), *each, strict=True)]
    if curve is not None:
        if len(made) != 1:
            raise BadInput("--curve belongs to one machine; name one")
        made = [from_points(made[0], data_sheet(curve))]
    return tuple(made)


def _each(values, count: int, name: str) -> list:
    values = list(values or [None])
    if len(values) not in (1, count):
        told = f"⟦{name}⟧ was given {len(values)} times for {count} machines: once for all, or once each"
        raise BadInput(told, field=name)
    return values * count if len(values) == 1 else values


def _outdoors(house, place: str, given: str | None, zone: str | None, start: str | None):
    from envwatch.climate.outdoors import bounds
    from envwatch.logs import weather as reading

    if given is None:
        return None
    if given.lower() == "none":
        import pandas as pd

        room = house.find_place(place)
        return bounds(house.climate(room.id, now() - pd.Timedelta(days=1500), now()))
    return reading.read(Path(given), zone, now(), start)


def add_commands(app: typer.Typer) -> None:
    """Hang the command on the app."""
    app.command()(dehumidifier)
