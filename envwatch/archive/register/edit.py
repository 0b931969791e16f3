"""What a person does to the register by a command: move, treat, observe, hang, calibrate; and finding a painting.

The same rules hold as for CSV files, in the same words.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import TYPE_CHECKING

import pandas as pd
from sqlalchemy import Connection, Table, delete, insert, select, update

from envwatch.archive import reviews
from envwatch.archive.register import csv_files, probes, search
from envwatch.archive.register.rules import checks_correct
from envwatch.archive.register.sheets import BY_NAME, SHEETS, CsvRow, named_values, values_of
from envwatch.archive.store import layers, records, tables
from envwatch.archive.store.records import require_id
from envwatch.core.dates import written
from envwatch.core.errors import BadCell, BadInput, NotThere, refuse
from envwatch.core.painting import NOTHING_NEW, Observation, Painting, Stay, Treatment
from envwatch.core.place import Cause, Hanging, Place

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

ENTERED = ("painting", "place", "logger", "layer")
When = str | pd.Timestamp | datetime | date


def find_painting(studio: StudioFolder, words: str) -> Painting:
    """The one painting that a number, or words of its title, maker or owner, or of where it is, fit."""
    paintings, places = studio.paintings(), studio.places()

    def known(p: Painting) -> search.Entry:
        here = places[p.stays[-1].place_id].name if p.stays else ""
        return search.Entry(p.id, p.title, f"{p.maker} {p.owner}", f"{p.made} {here}")

    return paintings[search.find("painting", words, map(known, paintings.values()), "its number")]


def find_place(studio: StudioFolder, words: str) -> Place:
    """The one place that an id, or words of its name, fit."""
    places = studio.places()
    known = (search.Entry(place.id, place.name) for place in places.values())
    return places[search.find("place", words, known, "its id")]


def row_of(sheet: str, told: str, /, **cells: object) -> CsvRow:
    """A row given by a command, each cell checked as if it stood in the CSV file."""
    fields = ((field, cells.get(field.name)) for field in BY_NAME[sheet].fields)
    return CsvRow(values_of(((field, "" if cell is None else _cell(cell)) for field, cell in fields), told), told)


def _cell(value: object) -> str:
    from envwatch.core.fields import cell_of

    return ";".join(map(cell_of, value)) if isinstance(value, list | tuple) else cell_of(value)


def day_at(when: When | None, zone: str, where: str, field: str) -> str:
    """A day as the register keeps it; `field`: the column it stands in. BadInput: it is none."""
    try:
        return "" if when is None or when == "" else written(when, zone)
    except ValueError as error:
        raise BadInput(str(error), place=where, field=field) from None


def checked(studio: StudioFolder, connection: Connection) -> None:
    state = {sheet.name: _told(csv_files.stored(connection, sheet), sheet.name) for sheet in SHEETS}
    csv_files.check(state, studio.zone, studio.materials())


def _told(rows: list[CsvRow], name: str) -> list[CsvRow]:
    for row in rows:
        if name in ("stays", "hangings"):
            row.where = f"the {'stay' if name == 'stays' else 'hanging'} in {row['place']} from {row['from']}"
        elif name == "layers":
            row.where = f"the {row['role']} of {row['painting']}"
        elif name == "treatments":
            row.where = f"treatment {row['id']}"
    return rows


def put_row(connection: Connection, table: Table, row: CsvRow) -> None:
    connection.execute(insert(table).values(**row.values))


def move(
    studio: StudioFolder,
    painting_id: str,
    place_id: str,
    on: When,
    *,
    position: str = "unknown",
    intended: bool = False,
    purpose: str = "",
    until: When | None = None,
    instead: str = "",
) -> Stay:
    """A painting moves; the stay it was in ends that day. See `Studio.move`."""
    place = studio.places()[require_id("place", place_id, studio.places())]
    require_id("painting", painting_id, studio.paintings())
    where = f"move of {painting_id} to {place_id}"
    start, stop = day_at(on, place.zone, where, "from"), day_at(until, place.zone, where, "to")
    row = row_of("stays", where, painting=painting_id, place=place_id, position=position, **{"from": start, "to": stop},
               intended=intended, purpose=purpose)  # fmt: skip
    with studio.writing("moving a painting"), studio.saving() as connection:
        if instead:
            _take_back(connection, row, instead, where)
        _make_room(connection, tables.STAYS, row, ("painting",), comes_back=intended and bool(stop))
        put_row(connection, tables.STAYS, row)
        checked(studio, connection)
    return records.stay_of(row.values, {place.id: place.zone})


def _take_back(connection: Connection, row: CsvRow, place_id: str, where: str) -> None:
    """Take back the stay in a place that goes on or ends where the new one begins; the one before it goes on instead.

    So is the new stay itself, where it had been entered already.
    """
    table = tables.STAYS
    own = select(table).where(table.c.painting == row["painting"]).order_by(table.c.id)
    stays = connection.execute(own).mappings().all()
    begun = [stay for stay in stays if (stay["place"], stay["from"], stay["to"]) == (row["place"], row["from"], "")]
    adjoining = [stay for stay in stays if stay["place"] == place_id and stay["to"] in ("", row["from"])]
    wrong = next((stay for stay in adjoining if stay not in begun), adjoining[0] if adjoining else None)
    if wrong is None:
        raise BadInput(f"it has no stay in {place_id!r} that goes on, or ended on {row['from']}", place=where)
    for stay in [*begun, wrong]:
        connection.execute(delete(table).where(table.c.id == stay["id"]))
    before = (table.c.painting == row["painting"]) & (table.c["to"] == wrong["from"])
    connection.execute(update(table).where(before).values(to=""))


def _make_room(connection: Connection, table: Table, row: CsvRow, key: tuple[str, ...], comes_back: bool) -> None:
    """End the stay that a new one begins in; where it comes back afterwards, go on with it from then."""
    held = select(table).where(*(table.c[name] == row[name] for name in key))
    for before in connection.execute(held.order_by(table.c.id)).mappings().all():
        begun = before["from"] < row["from"] or before["from"][:10] < row["from"][:10]
        if begun and (before["to"] or "9999") > row["from"]:
            if before["to"] and not comes_back:
                continue  # it ended on a known later day: the rule says so in words
            connection.execute(update(table).where(table.c.id == before["id"]).values(to=row["from"]))
            if comes_back and (before["to"] or "9999") > row["to"]:
                again = {name: value for name, value in before.items() if name != "id"} | {"from": row["to"]}
                connection.execute(insert(table).values(**again))


def treat(
    studio: StudioFolder, painting_id: str, kind: str, on: When, *, material: str = "", end: When | None = None,
    temp_interface_c: float | None = None, note: str = "", id: str | None = None, adds_layer: bool = True,
    **trade: object,
) -> Treatment:  # fmt: skip
    """Record a treatment, and the layers it puts on. See `Studio.treat`."""
    painting = studio.paintings()[require_id("painting", painting_id, studio.paintings())]
    where = f"{kind} of {painting_id}"
    strange = set(trade) - set(records.TRADE)
    if strange:
        raise BadInput(f"no field {sorted(strange)[0]!r}; there is {', '.join(records.TRADE)}", place=where)
    with studio.writing("recording a treatment"), studio.saving() as connection:
        taken = set(connection.execute(select(tables.TREATMENTS.c.id)).scalars())
        number = next(n for n in range(len(painting.treatments) + 1, 10**9) if f"{painting_id}-{n}" not in taken)
        row = row_of("treatments", where, id=id or f"{painting_id}-{number}", painting=painting_id, kind=kind,
                   on=on if isinstance(on, str) else day_at(on, studio.zone, where, "on"), material=material,
                   end=day_at(end, studio.zone, where, "end"),
                   temp_interface_c=temp_interface_c, note=note, **trade)  # fmt: skip
        if row["id"] in taken:
            raise BadInput(f"there is a treatment {row['id']!r} already; give it another id", place=where)
        put_row(connection, tables.TREATMENTS, row)
        if adds_layer:
            layers.add(connection, row.values, set(studio.materials()))
        checked(studio, connection)
    return next(t for t in studio.paintings()[painting_id].treatments if t.id == row["id"])


def enter(studio: StudioFolder, noun: str, cells: Mapping[str, str]) -> bool:
    """Enter a place, a logger, a painting, or a layer; whether it is new. See `Studio.enter`."""
    sheet = BY_NAME.get(f"{noun}s")
    if noun not in ENTERED or sheet is None:
        raise BadInput(f"enter {noun}: one of {', '.join(ENTERED)} can be entered")
    told = f"{noun} {cells.get('id') or cells.get('painting') or ''}".strip()
    values = named_values(sheet.fields, cells, told)
    missing = [field.name for field in sheet.fields if field.needed and field.name not in values]
    nouns: dict[str, Mapping] = {"place": studio.places(), "logger": studio.loggers(), "painting": studio.paintings()}
    there = values.get("id") in nouns.get(noun, {})
    missing = [name for name in missing if not (there or (noun == "layer" and name == "order"))]
    if missing:
        raise BadCell(f"is missing; give it as {missing[0]}=…", place=told, field=missing[0])
    if noun == "layer":
        return _enter_layer(studio, values, told)
    return csv_files.enter(studio, sheet, CsvRow(values, told))


def _enter_layer(studio: StudioFolder, values: dict, told: str) -> bool:
    """A layer at the place that its role has in a stack, or at the place given."""
    require_id("painting", values["painting"], studio.paintings())
    row = {field.name: field.empty for field in BY_NAME["layers"].fields} | values
    with studio.writing("entering a layer"), studio.saving() as connection:
        layers.insert_layer(connection, row, row["order"] if "order" in values else None)
        checked(studio, connection)
    return True


def observe(
    studio: StudioFolder, painting_id: str, on: When, sign: str, *, where: str = "", finding: int | None = None,
    confirms: bool | None = None, note: str = "", photo: str = "", look: str = "", by: str = "",
) -> Observation:  # fmt: skip
    """Record a sign seen on a painting. See `Studio.observe`."""
    require_id("painting", painting_id, studio.paintings())
    said = f"observation of {painting_id}"
    row = row_of("observations", said, painting=painting_id, on=day_at(on, studio.zone, said, "on"), sign=sign,
               where=where, finding=finding, confirms=confirms, note=note, photo=photo, look=look, by=by)  # fmt: skip
    _speaks_to_its_own(studio, painting_id, row, said)
    with studio.writing("recording an observation"), studio.saving() as connection:
        put_row(connection, tables.OBSERVATIONS, row)
    return records.observation_of(row.values, studio.zone)


def take_back_look(studio: StudioFolder, painting_id: str, on: When) -> None:
    """Take out a look that found nothing new. See `Studio.take_back_look`."""
    require_id("painting", painting_id, studio.paintings())
    table, at = tables.OBSERVATIONS, day_at(on, studio.zone, f"look at {painting_id}", "on")
    it = (table.c.painting == painting_id, table.c.on == at, table.c.sign == NOTHING_NEW)
    with studio.writing("taking back a look"), studio.saving() as connection:
        if not connection.execute(delete(table).where(*it)).rowcount:
            raise NotThere(f"no look of {at} at {painting_id} that found nothing new; it may have been taken back")


def _speaks_to_its_own(studio: StudioFolder, painting_id: str, row: CsvRow, said: str) -> None:
    """What an observation confirms or denies is a finding of this painting: it is kept as evidence and counted."""
    if row["finding"] is None:
        if row["confirms"] is not None:
            what = "say by its number which finding it bears out or denies"
            raise BadInput(what, place=said, field="finding")
        return
    other = reviews.painting_of_finding(studio, row["finding"])
    if other != painting_id:
        what = f"finding {row['finding']} is one of {other}; take the number from {painting_id}'s own"
        raise BadInput(what, place=said, field="finding")


def set_hanging(
    studio: StudioFolder, logger_id: str, place_id: str, on: When, *, position: str = "unknown", channel: str = "",
    until: When | None = None,
) -> Hanging:  # fmt: skip
    """Say where a logger hangs from a day on, now or afterwards. See `Studio.set_hanging`."""
    require_id("logger", logger_id, studio.loggers())
    place = studio.places()[require_id("place", place_id, studio.places())]
    where = f"hanging of {logger_id} in {place_id}"
    start, stop = day_at(on, place.zone, where, "from"), day_at(until, place.zone, where, "to")
    row = row_of("hangings", where, logger=logger_id, channel=channel, place=place_id, position=position,
               **{"from": start, "to": stop})  # fmt: skip
    with studio.writing("hanging a logger"), studio.saving() as connection:
        refuse(list(probes.strange([row], probes.read(connection))))
        _take_over(connection, row)
        put_row(connection, tables.HANGINGS, row)
        checked(studio, connection)
    return next(h for h in reversed(studio.loggers()[logger_id].hangings) if h.place_id == place_id)


def _take_over(connection: Connection, row: CsvRow) -> None:
    """What hung there says of the days from then on gives way, up to its own end."""
    table = tables.HANGINGS
    same = select(table).where(table.c.logger == row["logger"], table.c.channel == row["channel"])
    for before in connection.execute(same).mappings().all():
        if before["from"] <= row["from"] and (before["to"] or "9999") > row["from"]:
            row.values["to"] = row["to"] or before["to"]
            if before["from"] == row["from"]:
                connection.execute(delete(table).where(table.c.id == before["id"]))
            else:
                connection.execute(update(table).where(table.c.id == before["id"]).values(to=row["from"]))


def stand_in(
    studio: StudioFolder, place_id: str, neighbour_id: str, on: When, *, temp_u_c: float, rh_u_percent: float,
    until: When | None = None, note: str = "",
) -> None:  # fmt: skip
    """A neighbour's air counts where a place's own loggers read nothing. See `Studio.stand_in`."""
    place = studio.places()[require_id("place", place_id, studio.places())]
    require_id("place", neighbour_id, studio.places())
    where = f"stand-in for {place_id}"
    row = row_of("stand_ins", where, place=place_id, neighbour=neighbour_id, temp_u_c=temp_u_c,
               rh_u_percent=rh_u_percent, note=note,
               **{"from": day_at(on, place.zone, where, "from"),
                  "to": day_at(until, place.zone, where, "to")})  # fmt: skip
    with studio.writing("naming a stand-in"), studio.saving() as connection:
        put_row(connection, tables.STAND_INS, row)
        checked(studio, connection)


def name_cause(
    studio: StudioFolder,
    place_id: str,
    kind: str,
    start: When,
    end: When,
    cause: str,
    *,
    by: str = "",
    on: When | None = None,
) -> Cause:
    """Name what made an event of a place. See `Studio.name_cause`."""
    place = studio.places()[require_id("place", place_id, studio.places())]
    where = f"cause in {place_id}"
    row = row_of("causes", where, place=place_id, kind=kind, cause=cause.strip(), by=by,
                 on=day_at(pd.Timestamp.now(place.zone) if on is None else on, place.zone, where, "on")[:10],
                 **{"from": day_at(start, place.zone, where, "from"),
                    "to": day_at(end, place.zone, where, "to")})  # fmt: skip
    with studio.writing("naming a cause"), studio.saving() as connection:
        _unname(connection, place, row)
        put_row(connection, tables.CAUSES, row)
        checked(studio, connection)
    return studio.register().causes[place_id][-1]


def _unname(connection: Connection, place: Place, row: CsvRow) -> None:
    """A cause named again stands in place of what was named before of the same event."""
    table, zone = tables.CAUSES, {place.id: place.zone}
    new = records.cause_of(row.values, zone)
    for held in connection.execute(select(table).where(table.c.place == place.id)).mappings().all():
        if records.cause_of(held, zone).of(new.kind, new.start, new.end):
            connection.execute(delete(table).where(table.c.id == held["id"]))


def calibrate(
    studio: StudioFolder, logger_id: str, on: When, *, channel: str = "",
    rh_points: tuple[tuple[float, float], ...] = (), temp_point: tuple[float, float] | None = None,
    rh_accuracy_percent: float | None = None, temp_accuracy_c: float | None = None, due: When | None = None,
    basis: str = "", note: str = "",
) -> None:  # fmt: skip
    """Record a check of a logger against a reference. See `Studio.calibrate`."""
    require_id("logger", logger_id, studio.loggers())
    where = f"calibration of {logger_id}"
    points = sorted(((float(true), float(read)) for true, read in rh_points), key=lambda point: point[1])
    if len(points) > 2:
        raise BadInput(
            f"{len(points)} humidities given; give one or two, each as what is true and what it read", place=where
        )
    low, high = (*points, None, None)[:2]
    row = row_of(
        "calibrations", where,
        logger=logger_id, channel=channel, on=day_at(on, studio.zone, where, "on"),
        due=day_at(due, studio.zone, where, "due"),
        rh_true_low=low and low[0], rh_read_low=low and low[1],
        rh_true_high=high and high[0], rh_read_high=high and high[1],
        temp_true_c=temp_point and float(temp_point[0]), temp_read_c=temp_point and float(temp_point[1]),
        rh_accuracy_percent=rh_accuracy_percent, temp_accuracy_c=temp_accuracy_c, basis=basis, note=note,
    )  # fmt: skip
    refuse(list(checks_correct([row])))
    with studio.writing("calibrating a logger"), studio.saving() as connection:
        put_row(connection, tables.CALIBRATIONS, row)


__all__ = [
    "calibrate", "enter", "find_painting", "find_place", "move", "name_cause", "observe", "set_hanging", "stand_in",
    "treat", ]  # fmt: skip
