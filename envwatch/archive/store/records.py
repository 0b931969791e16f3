"""Between the register's tables and the nouns: rows as plain dictionaries, in the words of either database, and what
they stand for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from difflib import get_close_matches
from typing import Any

import pandas as pd
from sqlalchemy import Connection, Select, Table, insert, literal_column, select
from sqlalchemy.dialects import postgresql, sqlite

from envwatch.archive.store import tables
from envwatch.core.dates import day_end, instant, is_bare, is_year
from envwatch.core.errors import NotThere
from envwatch.core.fields import LINES, escaped
from envwatch.core.painting import (
    ROLES,
    Area,
    CareStatus,
    Layer,
    Look,
    Margins,
    Observation,
    Painting,
    Role,
    Stay,
    Treatment,
    area_of,
    kind_of,
    role_of,
)
from envwatch.core.place import (
    AirEvent,
    Answer,
    Cause,
    Hanging,
    Logger,
    MarkDecision,
    Place,
    PlaceKind,
    Placement,
    StandIn,
)
from envwatch.logs.quality.sensors import sensor_of

PUT_IN = literal_column("rowid")  # of a table with a key of text: the order in which its rows were put in
FETCH_DAYS = 7
NOT_ENTERED = "left by a treatment, and not entered as a layer"
ORIGINAL = (
    Role.PAINT,
    Role.GROUND,
    Role.SIZE,
    Role.CANVAS,
)  # who entered one of these has described the picture under the work
SIZE_TAKEN = "nothing of the original is entered: an old size is taken for granted"
TAKES_OFF = ("removed", "removal", "delining")
FIRST = ("id", "kind", "on", "year_only", "material", "intended_end", "temp_interface_c", "note")
TRADE = tuple(f.name for f in fields(Treatment) if f.name not in FIRST)  # columns of the same names


def in_order(table: Table) -> Select:
    """All rows of a table, in the order they were put in."""
    key = next(iter(table.primary_key.columns))
    return select(table).order_by(key if key.type.python_type is int else PUT_IN)


def found(connection: Connection, query: Select) -> list[dict[str, Any]]:
    """All rows of a query."""
    return [dict(row) for row in connection.execute(query).mappings()]


def first(connection: Connection, query: Select) -> dict[str, Any] | None:
    """The first row of a query, if there is one."""
    row = connection.execute(query).mappings().first()
    return None if row is None else dict(row)


def put(connection: Connection, table: Table, **values: Any) -> int:
    """Put a row in; returns its number."""
    return int(connection.execute(insert(table).values(**values)).inserted_primary_key[0])  # type: ignore[index]


def inserting(connection: Connection, table: Table) -> Any:
    """An insert that can say what happens where the key is there already."""
    return (sqlite if connection.dialect.name == "sqlite" else postgresql).insert(table)


def put_if_new(connection: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    """Put those rows in whose key is not there yet."""
    connection.execute(inserting(connection, table).on_conflict_do_nothing(), [dict(row) for row in rows])


@dataclass(frozen=True)
class Register:
    """All nouns of a studio at one state of its register."""

    places: dict[str, Place]
    loggers: dict[str, Logger]
    paintings: dict[str, Painting]
    calibrations: dict[str, tuple[Mapping, ...]]  # by logger, in the order of their dates
    stand_ins: dict[str, tuple[StandIn, ...]] = field(default_factory=dict)  # by the place they stand in for
    mark_answers: dict[str, tuple[MarkDecision, ...]] = field(default_factory=dict)  # by logger, later ones last
    causes: dict[str, tuple[Cause, ...]] = field(default_factory=dict)  # by place, later ones last


def rows(connection: Connection, table: Table, order=None) -> list[dict]:
    """All rows of a table, in the order they were put in; what is not seen in a text as its code, but in keys."""
    texts = {c.name: c.name in LINES for c in table.columns if not (c.primary_key or c.foreign_keys)}
    held = found(connection, select(table).order_by(*order) if order else in_order(table))
    return [
        {
            n: escaped(v, texts[n]) if n in texts and type(v) is str and not v.isprintable() else v
            for n, v in row.items()
        }
        for row in held
    ]


def load(connection: Connection, studio_zone: str, studio_altitude_m: float) -> Register:
    """The nouns, read afresh."""
    places = {
        row["id"]: Place(
            row["id"], row["name"], PlaceKind(row["kind"] or PlaceKind.OTHER), row["volume_m3"], row["outer_walls"],
            studio_altitude_m if row["altitude_m"] is None else row["altitude_m"], row["zone"] or studio_zone,
            row["note"],
        )
        for row in rows(connection, tables.PLACES)
    }  # fmt: skip
    zone_of = {id: place.zone for id, place in places.items()}
    calibrations = _by(rows(connection, tables.CALIBRATIONS), "logger")
    for checks in calibrations.values():
        checks.sort(key=lambda row: row["on"])
    hung = _by(rows(connection, tables.HANGINGS), "logger")
    loggers = {
        row["id"]: _logger(row, hung[row["id"]], calibrations.get(row["id"], []), zone_of, studio_zone)
        for row in rows(connection, tables.LOGGERS)
    }
    return Register(
        places, loggers, _paintings(connection, zone_of, studio_zone),
        {id: tuple(checks) for id, checks in calibrations.items()},
        {place: tuple(_stand_in(row, zone_of) for row in of)
         for place, of in _by(rows(connection, tables.STAND_INS), "place").items()},
        {logger: tuple(_mark_answer(row, studio_zone) for row in of)
         for logger, of in _by(rows(connection, tables.MARK_ANSWERS), "logger").items()},
        {place: tuple(cause_of(row, zone_of) for row in of)
         for place, of in _by(rows(connection, tables.CAUSES), "place").items()},
    )  # fmt: skip


def _by(found: list[dict], name: str) -> defaultdict[str, list[dict]]:
    out = defaultdict(list)
    for row in found:
        out[row[name]].append(row)
    return out


def _stand_in(row: dict, zone_of: dict[str, str]) -> StandIn:
    zone = zone_of[row["place"]]
    end = _when(row["to"], zone, day_over=True)
    return StandIn(row["neighbour"], instant(row["from"], zone), end, row["temp_u_c"], row["rh_u_percent"], row["note"])


def _mark_answer(row: dict, zone: str) -> MarkDecision:
    end = _when(row["to"], zone, day_over=True)
    return MarkDecision(row["id"], row["channel"], row["mark"], instant(row["from"], zone), end, Answer(row["answer"]),
                      row["by"], row["on"], row["because"])  # fmt: skip


def cause_of(row: Mapping, zone_of: Mapping[str, str]) -> Cause:
    """A named cause as a noun; up to a bare day is up to its end."""
    zone = zone_of[row["place"]]
    start, end, on = (instant(row[name], zone) for name in ("from", "to", "on"))
    end = day_end(end, zone) if is_bare(row["to"]) else end
    return Cause(AirEvent(row["kind"]), start, end, row["cause"], row["by"], on)


def _when(text: str, zone: str, day_over: bool = False) -> pd.Timestamp | None:
    """The instant of a cell; of a bare day its end where `day_over`. None where nothing stands in it."""
    when = instant(text, zone) if text else None
    return day_end(when, zone) if when is not None and day_over and is_bare(text) else when


def _logger(row: dict, hung: list[dict], checks: list[dict], zone_of: dict[str, str], zone: str) -> Logger:
    last = max([check["on"] for check in checks] + [row["calibrated_on"]])
    return Logger(
        row["id"], row["name"] or row["id"], tuple(label for label in row["labels"].split(";") if label),
        row["zone"] or None, row["fetch_days"] or FETCH_DAYS, sensor_of(row, checks),
        _when(last, zone), hangings(hung, zone_of),
    )  # fmt: skip


def hangings(hung: list[dict], zone_of: dict[str, str]) -> tuple[Hanging, ...]:
    """Where a logger hung. On a bare day on which it changed places, its readings belong to neither.

    >>> row = {"logger": "a", "channel": "", "position": "rack"}
    >>> first = row | {"place": "store", "from": "2026-03-01", "to": "2026-03-10"}
    >>> then = row | {"place": "loft", "from": "2026-03-10", "to": ""}
    >>> hung = hangings([first, then], {"store": "UTC", "loft": "UTC"})
    >>> [(h.place_id, str(h.start)[:10], str(h.end)[:10]) for h in hung]
    [('store', '2026-03-01', '2026-03-10'), ('loft', '2026-03-11', 'None')]
    """
    hung = sorted(hung, key=lambda row: (instant(row["from"], zone_of[row["place"]]), row["to"] or "9999"))
    out = []
    for row in hung:
        zone = zone_of[row["place"]]
        others = [other for other in hung if other is not row and other["channel"] == row["channel"]]
        left = any(other["to"][:10] == row["from"][:10] for other in others if other["to"])
        moves = any(other["from"][:10] == row["to"][:10] for other in others)
        out.append(Hanging(
            row["place"], _when(row["from"], zone, left), _when(row["to"], zone, not moves),
            row["channel"], Placement(row["position"] or Placement.UNKNOWN),
        ))  # fmt: skip
    return tuple(out)


def _paintings(connection: Connection, zone_of: dict[str, str], zone: str) -> dict[str, Painting]:
    layers = _by(rows(connection, tables.LAYERS, [tables.LAYERS.c.painting, tables.LAYERS.c.order]), "painting")
    treatments = _by(rows(connection, tables.TREATMENTS), "painting")
    stays = _by(rows(connection, tables.STAYS), "painting")
    seen = _by(rows(connection, tables.OBSERVATIONS), "painting")
    return {
        row["id"]: Painting(
            row["id"], row["title"], row["maker"], row["made"], row["height_cm"], row["width_cm"], row["weight_kg"],
            row["support"], row["glazed"], row["backed"], row["stretcher"], row["frame_depth_mm"],
            Margins(row["tacking_margins"] or Margins.UNKNOWN), row["owner"],
            CareStatus(row["care"] or CareStatus.IN_STORE),
            _when(row["care_until"], zone), _stack(layers[row["id"]], treatments[row["id"]], zone),
            tuple(sorted((_treatment(t, zone) for t in treatments[row["id"]]), key=lambda t: t.on)),
            tuple(sorted((observation_of(o, zone) for o in seen[row["id"]]), key=lambda o: o.on)),
            tuple(sorted(
                (stay_of(stay, zone_of) for stay in stays[row["id"]]),
                key=lambda stay: (stay.start, stay.end is None, stay.start if stay.end is None else stay.end),
            )),
            row["ground"], row["varnish"], row["value_band"],
        )
        for row in rows(connection, tables.PAINTINGS)
    }  # fmt: skip


def _stack(rows: list[dict], treatments: list[dict], zone: str) -> tuple[Layer, ...]:
    """The layers as registered, and what is taken for granted beside them, marked assumed and said so.

    The film of the last lining, if there is none that may be its own; a later treatment that takes the lining off (its
    kind says "removed", "removal" or "delining") ends that. And an old size, where work is entered but nothing
    under it.
    """
    stack = [
        Layer(
            Role(row["role"]), row["material"] or "unknown", Area(row["area"] or Area.WHOLE),
            _when(row["applied_on"], zone), bool(row["assumed"]), row["note"], is_year(row["applied_on"]),
        )
        for row in rows
    ]  # fmt: skip
    last = None
    for treatment in sorted(treatments, key=lambda t: t["on"]):
        if role_of(treatment["kind"]) == Role.FILM:
            last = treatment
        elif any(word in treatment["kind"].casefold() for word in TAKES_OFF):
            last = None
    films = [row["applied_on"] for row in rows if row["role"] == Role.FILM]
    if last is not None and all(day and day[:10] < last["on"][:10] for day in films):
        on = instant(last["on"], zone)
        old = is_year(last["on"])
        film = Layer(Role.FILM, last["material"] or "unknown", area_of(Role.FILM), on, True, NOT_ENTERED, old)
        stack = _put_in(stack, film)
    if stack and not any(layer.role in ORIGINAL for layer in stack):
        stack = _put_in(stack, Layer(Role.SIZE, "unknown", area_of(Role.SIZE), None, True, SIZE_TAKEN))
    return tuple(stack)


def _put_in(stack: list[Layer], layer: Layer) -> list[Layer]:
    """The layer before the first of those that lie behind it."""
    behind = [n for n, other in enumerate(stack) if ROLES.index(other.role) > ROLES.index(layer.role)]
    at = min(behind, default=len(stack))
    return [*stack[:at], layer, *stack[at:]]


def _treatment(row: dict, zone: str) -> Treatment:
    on = instant(row["on"], zone)
    end = _when(row["end"], zone)
    told = {name: row[name] for name in TRADE} | {
        "temps_interface_c": tuple(float(part) for part in row["temps_interface_c"].split(";") if part),
        "inspection_days": tuple(int(part) for part in row["inspection_days"].split(";") if part),
    }
    return Treatment(
        row["id"],
        kind_of(row["kind"]),
        on,
        row["material"],
        end,
        row["temp_interface_c"],
        row["note"],
        **told,
        year_only=is_year(row["on"]),
    )


def observation_of(row: Mapping, zone: str) -> Observation:
    """An observation as a noun."""
    on = instant(row["on"], zone)
    look = Look(row["look"] or Look.UNKNOWN)
    told = (row[name] for name in ("sign", "where", "finding", "confirms", "note", "photo"))
    return Observation(on, *told, look=look, by=row["by"])


def stay_of(row: Mapping, zone_of: dict[str, str]) -> Stay:
    """A stay as a noun; of a bare date, the start of its local day."""
    zone = zone_of[row["place"]]
    return Stay(
        row["place"], instant(row["from"], zone), _when(row["to"], zone),
        Placement(row["position"] or Placement.UNKNOWN),
        bool(row["intended"]), row["purpose"], is_bare(row["from"]), not row["to"] or is_bare(row["to"]),
    )  # fmt: skip


def require_id(kind: str, id: str, known: Iterable[str]) -> str:
    """An id that is known. NotThere: it is not, and which are near."""
    known = list(known)
    if id in known:
        return id
    near = get_close_matches(id, known, 3) or known[:10]
    there = f"; there is {', '.join(near)}" if near else f"; there is no {kind} yet"
    raise NotThere(f"no {kind} {id!r}{there}", field=kind)
