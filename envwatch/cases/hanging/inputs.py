"""Reading a file of positions (TOML, or CSV with one row a position) as a person writes it.

Whatever cannot be used as it stands is refused in one line: file, position, what was seen, what to write. A length
carries its unit in its name (`standoff_mm = 25`) or in its text (`standoff = "25 mm"`); a bare number is asked about.
"""

from __future__ import annotations

import csv
import io
import re
import tomllib
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from difflib import get_close_matches
from typing import Any

import pandas as pd

from envwatch.cases.fields import DAY, MONTHS, NUMBER, PLACE, TEMP, TEXT, YES_NO, Input
from envwatch.cases.fields.positions import HOUSE, LENGTHS, POSITION
from envwatch.cases.hanging.spot import HangingPosition, House
from envwatch.core import fields, toml
from envwatch.core.errors import BadCell, BadInput, EnvwatchError, Question

UNITS_M = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "inch": 0.0254, "inches": 0.0254, "ft": 0.3048}
DEGREES = re.compile(r"([+-]?\d+(?:\.\d+)?)\s*°?\s*([CcFf])")
MEASURED = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*([a-zA-Z]+)\.?")
WALL_READ = ("wall_c", "wall_room_c", "wall_out_c")
Parser = Callable[[str], object]


def _word(words: Iterable[str]) -> Parser:
    known = {word.casefold(): word for word in words}
    return lambda cell: known[fields.one_of(known)(cell)]


def _months(cell: str) -> tuple[int, ...]:
    parts = [part for part in re.split(r"[;,\s]+", cell.strip("[]")) if part]
    return () if cell.casefold() in ("none", "[]") else tuple(fields.integer(1, 12)(part) for part in parts)


def _temp(low: float, high: float) -> Parser:
    def parse(cell: str) -> float:
        told = DEGREES.fullmatch(cell)
        if told:
            value = float(told[1])
            cell = repr((value - 32) / 1.8 if told[2] in "Ff" else value)
        return fields.number(low, high)(cell)

    return parse


def _day(cell: str) -> pd.Timestamp:
    return pd.Timestamp(fields.day(cell))


OF_KIND: dict[str, Parser] = {
    TEXT: fields.line, PLACE: fields.ident, YES_NO: fields.yes_no, MONTHS: _months, DAY: _day,
}  # fmt: skip
HOUSE_NAMES = {"house": "name", "place": "place_id", "outdoors": "outdoors_id"}


def _parser(one: Input) -> Parser:
    """How a cell of an input is read."""
    if one.kind in (NUMBER, TEMP):
        return {NUMBER: fields.number, TEMP: _temp}[one.kind](*one.limits)
    return _word(key for key, _ in one.choices) if one.kind == TEXT and one.choices else OF_KIND[one.kind]


HOUSE_ROW = "h"
MOST_POSITIONS = 40  # of one house in one go; each takes some two seconds
Rows = list[tuple[str, dict[str, Any]]]  # where each stands, and what is said of it


def from_toml(content: bytes, file: str) -> tuple[dict[str, Any], Rows]:
    """What TOML says of a house and its positions: a table `house`, and one `[[position]]` each.

    Raises
    ------
    BadInput : one line with the file.
    """
    try:
        found = toml.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise BadInput("is not UTF-8 text. Save it as UTF-8", place=file) from None
    except tomllib.TOMLDecodeError as error:
        raise BadInput(f"is not TOML ({error}). Compare it with sample_logs/positions.toml", place=file) from None
    house, rows = found.get("house", {}), found.get("position", [])
    if not isinstance(house, dict) or not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise BadInput("needs a table [house] and one [[position]] for each position", place=file)
    strange = set(found) - {"house", "position"}
    if strange:
        raise BadInput(f"{sorted(strange)[0]!r} is not known; write [house] and [[position]]", place=file)
    house = {"house" if key == "name" else key: value for key, value in house.items()}
    return house, [(f"position {n}", row) for n, row in enumerate(rows, 1)]


def from_csv(content: bytes, file: str) -> tuple[dict[str, Any], Rows]:
    """What CSV says: comma or semicolon, one row a position; columns of the house stand once or in every row.

    Raises
    ------
    BadInput : one line with file and row.
    """
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadInput("is not UTF-8 text. Save it as CSV UTF-8", place=file) from None
    head = "".join(text.splitlines()[:1])
    delimiter = ";" if head.count(";") > head.count(",") else ","
    try:
        rows = list(csv.DictReader(io.StringIO(text, newline=""), delimiter=delimiter))
    except csv.Error as error:
        raise BadInput(f"is not a CSV file ({error}); save it again as CSV UTF-8", place=file) from None
    if not rows:
        raise BadInput("no positions. The first row names the columns, then one row a position", place=file)
    house: dict[str, Any] = {}
    for n, row in enumerate(rows, 2):
        if None in row:
            raise BadInput(f"{file}, row {n}: more cells than columns. Quote a cell that holds the separator")
        for key in HOUSE:
            value = (row.pop(key, None) or "").strip()
            if value and house.setdefault(key, value) != value:
                raise BadInput(
                    f"{file}, row {n}: {key} is {value!r} here and {house[key]!r} above; one file, one house"
                )
    return house, [(f"row {n}", {k: v for k, v in row.items() if (v or "").strip()}) for n, row in enumerate(rows, 2)]


def _spots(house: dict[str, Any], rows: Rows, file: str) -> tuple[HangingPosition, ...]:
    if len(rows) > MOST_POSITIONS:
        what = f"{len(rows)} positions; at most {MOST_POSITIONS} are judged at once. Split the file by room"
        raise BadInput(what, place=file)
    if not rows:
        raise BadInput("no positions. Write one [[position]] with a name for each place to hang", place=file)
    if not isinstance(house.get("house", ""), str):
        raise BadInput(f"{file}, house: name is not text")
    with _in_row(HOUSE_ROW):
        told = _values(house, HOUSE, f"{file}, house")
    home = House(**{HOUSE_NAMES.get(key, key): value for key, value in told.items()})
    spots: list[HangingPosition] = []
    for where, row in rows:
        with _in_row(where.rpartition(" ")[2]):
            spots.append(_spot(row, home, f"{file}, {where}"))
            if spots[-1].name in [spot.name for spot in spots[:-1]]:
                what = f"two positions are called {spots[-1].name!r}. Give each a name of its own"
                raise BadInput(what, place=file, field="name")
    return tuple(spots)


@contextmanager
def _in_row(row: str) -> Iterator[None]:
    """What is refused of a row: its field is told with the row it stands in, as "2.sun"."""
    try:
        yield
    except EnvwatchError as error:
        error.field = error.field and f"{row}.{error.field}"
        raise


def _spot(row: dict, house: House, where: str) -> HangingPosition:
    if not str(row.get("name", "")).strip():
        raise BadInput(
            'has no name. Say which place it is, such as name = "over the sideboard"', place=where, field="name"
        )
    where = f"{where} ({row['name']})"
    lengths, notes = _lengths(row, where)
    rest = {key: value for key, value in row.items() if _stem(key) not in LENGTHS}
    told = _values(rest, POSITION, where)
    reading = tuple(told.pop(key, None) for key in WALL_READ)
    if any(part is not None for part in reading):
        if None in reading:
            what = "a reading of the wall needs wall_c, wall_room_c and wall_out_c, read together"
            raise BadInput(what, place=where, field=WALL_READ[reading.index(None)])
        told["reading"] = reading
    spot = HangingPosition(house=house, notes=tuple(notes), **told, **lengths)
    return _consistent(spot, where)


def _consistent(spot: HangingPosition, where: str) -> HangingPosition:
    """Refuse what contradicts itself; a wall that can only be an outer one by its reading is left to the person."""
    from envwatch.physics.wall_u import u_from_reading

    if spot.reading is not None:
        try:
            u_from_reading(*spot.reading)
        except ValueError as error:
            raise BadInput(str(error), place=where, field="wall_c") from None
    if spot.radiator is False and spot.radiator_above_m is not None:
        raise BadInput("radiator is no, yet radiator_above is given. Say which", place=where, field="radiator")
    if spot.log_here and not spot.log:
        what = 'log_here is yes, but log does not say which logger. Write log = "inner wall"'
        raise BadInput(what, place=where, field="log")
    if spot.log and not spot.house.place_id:
        what = f'log is {spot.log!r}, but the house names no place of the register. Add place = "…"'
        raise BadInput(what, place=where, field="log")
    if (spot.lux is None) != (spot.lux_hours is None):
        what = "lux and lux_hours go together: the mean by day, and for how many hours a day"
        raise BadInput(what, place=where, field="lux" if spot.lux is None else "lux_hours")
    return replace(spot, radiator=True) if spot.radiator is None and spot.radiator_above_m is not None else spot


def _values(row: dict, known: dict[str, Input], where: str) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for key, value in row.items():
        if key not in known:
            near = get_close_matches(key, [*known, *LENGTHS], 1)
            hint = f"did you mean {near[0]!r}?" if near else f"known are: {', '.join(known)}"
            raise BadInput(f"{key!r} is not known; {hint}", place=where, field=key)
        cell = _cell(value, f"{where}: {key}")
        if cell.casefold() in ("", "unknown", "?", "don't know", "not known"):
            continue
        try:
            out[key] = _parser(known[key])(cell)
        except ValueError as error:
            raise BadCell(str(error), place=where, field=key) from None
    return out


def _cell(value: object, where: str) -> str:
    """A TOML value as a person would write it in a cell."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ",".join(str(part) for part in value) or "none"
    if isinstance(value, dict):
        raise BadInput("a table is not expected here", place=where)
    return str(value).strip()


def _stem(key: str) -> str:
    """The length a key is about: `standoff` of `standoff_cm`."""
    stem, _, unit = key.rpartition("_")
    return stem if unit in UNITS_M and stem in LENGTHS else key


def _lengths(row: dict, where: str) -> tuple[dict[str, Any], list[str]]:
    out: dict[str, Any] = {}
    units: set[str] = set()
    seen: dict[str, str] = {}
    for key, value in row.items():
        stem = _stem(key)
        if stem not in LENGTHS:
            continue
        cell = _cell(value, f"{where}: {key}")
        if cell.casefold() in ("", "unknown", "?"):
            continue
        if stem in seen:
            raise BadCell(f"is given twice, as {seen[stem]} and as {key}. Keep one", place=where, field=stem)
        seen[stem] = key
        metres, unit = _metres(cell, key, stem, where)
        units.add(unit)
        (low, high), own = LENGTHS[stem].limits, LENGTHS[stem].unit
        if not low <= metres <= high:
            what = f"{key} = {cell} is {metres:g} m; expected {low:g} to {high:g} m. Check the unit"
            raise BadInput(what, place=where, field=stem)
        out[f"{stem}_{own}"] = round(metres / UNITS_M[own], 6)
    odd = units - {"mm", "cm", "m"}
    notes = [f"lengths were given in {' and '.join(sorted(units))} and converted"] if odd and len(units) > 1 else []
    return out, notes


def _metres(cell: str, key: str, stem: str, where: str) -> tuple[float, str]:
    named = key[len(stem) + 1 :]
    match = MEASURED.fullmatch(cell)
    if match:
        number, unit = float(match[1].replace(",", ".")), match[2].casefold()
        if unit not in UNITS_M:
            what = f"{key} = {cell!r}: the unit {match[2]!r} is not known; write mm, cm, m or in"
            raise BadInput(what, place=where, field=stem)
        if named and UNITS_M[named] != UNITS_M[unit]:
            what = f"{key} = {cell!r}: two units. Write {stem}_{named} with a number, or {stem} = {cell!r}"
            raise BadInput(what, place=where, field=stem)
        return number * UNITS_M[unit], unit
    try:
        number = float(cell.replace(",", "."))
    except ValueError:
        raise BadInput(f'{key} = {cell!r} is no length; write {stem} = "25 mm"', place=where, field=stem) from None
    if not named:
        what, answer = f"{stem} = {cell}: in which unit?", f'{stem} = "{cell} mm"'
        raise Question(what, stem, ("mm", "cm", "m", "in"), answer=answer, place=where)
    return number * UNITS_M[named], named


def read(content: bytes, file: str) -> tuple[HangingPosition, ...]:
    """Positions from a file's bytes: CSV by its name, else TOML.

    Raises
    ------
    BadInput, Question : one line with file, position, what was seen and what to write.
    """
    return _spots(*_told(content, file), file)


def described(house: dict[str, Any], rows: list[dict[str, Any]]) -> tuple[HangingPosition, ...]:
    """Positions from what was typed of a house and of each position, by the names of the CSV form; {}: none there.

    Raises
    ------
    BadInput, Question : as `read`, with "position 1" for where; by field, such as "h.heating" and "1.sun".
    """
    return _spots(house, [(f"position {n}", row) for n, row in enumerate(rows, 1) if row], "as described")


def cells(content: bytes, file: str) -> tuple[dict[str, str], list[dict[str, str]]]:
    """A file of positions as what one would type: the house, and each position; lengths with their unit in the text.

    Raises
    ------
    BadInput, Question : as `read`, which such a file has to pass.
    """
    house, rows = _told(content, file)
    _spots(house, rows, file)
    return _typed(house, file), [_typed(row, f"{file}, {where}") for where, row in rows]


def _typed(row: dict[str, Any], where: str) -> dict[str, str]:
    out = {}
    for key, value in row.items():
        stem = _stem(key)
        cell = _cell(value, f"{where}: {key}")
        out[stem] = cell if stem == key else f"{cell} {key[len(stem) + 1 :]}"
    return out


def _told(content: bytes, file: str) -> tuple[dict[str, Any], Rows]:
    if not content.strip():
        raise BadInput("is empty. Compare it with sample_logs/positions.toml", place=file)
    return from_csv(content, file) if file.casefold().endswith((".csv", ".txt")) else from_toml(content, file)
