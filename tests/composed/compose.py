"""One composed file: which properties it has, its bytes, and what it truly holds."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from tests.composed import words
from tests.composed.climates import Air, air, times
from tests.composed.stamps import STAMPS, Stamp
from tests.composed.tables import Cells, Draw, Table

MOMENTS = Stamp("moments", ("stamp",), lambda times, rng: [[t.to_pydatetime().replace(tzinfo=None)] for t in times])
DATES = tuple(Stamp(f"date alone {form}", ("date",), lambda times, rng, form=form: [[t] for t in times.strftime(form)])
              for form in ("%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y"))  # fmt: skip


@dataclass
class Composed:
    """A file's name and bytes, its probes with their names ("" where it names none), and what was drawn for it.

    `telling` : False where its times cannot be known from it, so that only a question or a refusal is right.
    `lost`, `least` : per probe (n,) readings that are no readings in the file, or bounds of the kind ">95".
    """

    name: str
    content: bytes
    probes: list[Air]
    labels: list[str]
    telling: bool
    lost: np.ndarray
    properties: dict[str, Any] = field(default_factory=dict)


def composed(seed: int, number: int) -> Composed:
    """The file of this seed and number."""
    d = Draw(seed, number)
    code = d.one("language", *(words.COMMON if d.rng.random() < 0.5 else words.LANGUAGES))
    stamp, when, book = _times(d)
    places = d.one("decimals", (1, 1), (1, 1), (2, 2), (1, 0), (2, 1))
    shape = d.one("shape", "one", "one", "one", "one", "several", "by room", "by quantity")
    rooms = _rooms(d, shape)
    probes = [air(d.rng, when, places) for _ in rooms]
    lost = _lost(d, len(when))
    decimal, delimiter = _marks(d, book)
    cells = [Cells(d, probe, lost, places, decimal) for probe in probes]
    units = d.one("units", "header", "header", "header", "header", "below", "above", "cells", "none")
    told = units == "header" or shape in ("one", "several") and units in ("below", "cells")
    if told and d.seldom("°F", 0.06):
        for c in cells:
            c.in_fahrenheit()
    table = Table(d, words.LANGUAGES[code], stamp, when, units, shape)
    header, rows = table.lines(rooms, cells)
    if not book:
        content = _text(d, table.language, header, rows, delimiter, units)
    else:
        beside = _second_sheet(d, table, when, lost, places) if shape == "one" and rooms == [""] else None
        content = _workbook(d, table.language, header, rows, beside)
        if beside and not beside.hidden:
            rooms, cells = [d.said["sheet"], beside.title], [*cells, beside.cells]
    telling = stamp.telling and "extremes alone" not in d.said
    name = f"file-{number}.{'xlsx' if book else 'csv'}"
    return Composed(name, content, [c.true for c in cells], rooms, telling, lost, d.said)


def _times(d: Draw) -> tuple[Stamp, pd.DatetimeIndex, bool]:
    """How times are written, the times, and whether the file is a workbook."""
    stamp = d.one("stamp", *STAMPS)
    schedule, when = times(d.rng, stamp.whole_hours)
    short = schedule in ("daily", "weekly", "monthly") or when[-1] - when[0] < np.timedelta64(3, "D")
    if not stamp.telling and short:
        stamp = STAMPS[0]
    if (when.second != 0).any() or "minute" not in stamp.name and stamp.whole_hours and (when.minute != 0).any():
        stamp = STAMPS[0]
    book = d.chance("workbook", 0.12)
    if book and d.rng.random() < 0.6:
        stamp = MOMENTS
    elif schedule == "daily" and d.seldom("date alone", 0.3):
        stamp, when = DATES[int(d.later.integers(len(DATES)))], when.normalize()
    d.said |= {"stamp": stamp.name, "schedule": schedule, "rows": len(when)}
    return stamp, when, book


class _Sheet(NamedTuple):
    """A further sheet of a workbook."""

    title: str
    hidden: bool
    header: list[list[str]]
    rows: list[list]
    cells: Cells


def _second_sheet(d: Draw, table: Table, when, lost, places) -> _Sheet | None:
    if "extremes alone" in d.said or not d.seldom("second sheet", 0.25):
        return None
    cells = Cells(d, air(d.later, when, places), lost, places, ".", plain=True)
    hidden = d.seldom("second sheet hidden", 0.4)
    return _Sheet("Nordsaal", hidden, *table.lines([""], [cells]), cells)


def _rooms(d: Draw, shape: str) -> list[str]:
    if shape in ("one", "by quantity") and d.rng.random() < 0.7:
        return [""]
    many = 1 if shape in ("one", "by quantity") else int(d.rng.integers(2, 4))
    some = words.TELLING_ROOMS if d.chance("telling rooms", 0.5) else words.ROOMS
    d.said["rooms"] = [str(name) for name in d.rng.choice(some, many, replace=False)]
    return d.said["rooms"]


def _lost(d: Draw, n: int) -> np.ndarray:
    lost = np.zeros(n, bool)
    if d.chance("leading rows without readings", 0.06):
        lost[: int(d.rng.integers(1, max(n // 2, 2)))] = True
    if d.chance("rows without readings", 0.2):
        lost |= d.rng.random(n) < 0.04
    return lost


def _marks(d: Draw, book: bool) -> tuple[str, str]:
    delimiter = d.one("delimiter", ";", ";", ",", ",", "\t", "|")
    decimal = d.one("decimal", ".", "," if delimiter != "," else ".")
    if delimiter == "," and d.seldom("decimal commas between commas", 0.08):
        decimal = ","
        d.seldom("unquoted", 0.4)
    return "." if book else decimal, delimiter


def _above(d: Draw, language: words.Language, delimiter: str, units: str) -> list[str]:
    kind = d.one("above", "none", "none", "title", "lines", "padded", "comments", "blank")
    lines = {
        "none": [], "title": ["Climate of the store"], "blank": ["", "", "Store 4", ""],
        "lines": ["Logger: K-10442", "Interval: 10 min", "Firmware 2.1", ""],
        "padded": [delimiter.join(["Serial number", "10442", "", ""]), delimiter.join(["Readings", "300", "", ""]), ""],
        "comments": ["# written by the logger", "#"],
    }[kind]  # fmt: skip
    return [*lines, "Units: °C, % RH", ""] if units == "above" else lines


def _below(d: Draw, language: words.Language, width: int, delimiter: str) -> list[str]:
    if d.chance("end word", 0.08):
        return ["", language.end]
    if d.chance("summary", 0.04):
        return [
            "",
            *(delimiter.join([word, "17.1", "44.0", *[""] * (width - 3)]) for word in (language.least, language.most)),
        ]
    return []


def _quoted(cell: str, delimiter: str, every: bool, never: bool) -> str:
    return f'"{cell}"' if every or (delimiter in cell and not never) else cell


def _text(d: Draw, language, header, rows, delimiter: str, units: str) -> bytes:
    every = d.chance("all quoted", 0.08)
    tail = delimiter if d.chance("trailing delimiter", 0.06) else ""
    never = "unquoted" in d.said and not every
    if "offset stated" not in d.said and d.seldom("no header", 0.03):
        header = []
    lines = [delimiter.join(_quoted(c, delimiter, every, never) for c in row) + tail for row in [*header, *rows]]
    if d.chance("header repeated", 0.03) and len(rows) > 40:
        lines.insert(len(lines) // 2, lines[0])
    lines = _above(d, language, delimiter, units) + lines + _below(d, language, len(rows[0]), delimiter)
    end = d.one("line ends", "\n", "\n", "\r\n", "\r\n", "\r")
    text = end.join(lines) + ("" if d.chance("no last line end", 0.1) else end)
    tried = d.one("encoding", "utf-8", "utf-8", "utf-8", "utf-8-sig", "utf-8-sig", "utf-16", language.one_byte)
    try:
        return text.encode(tried)
    except UnicodeEncodeError:
        d.said["encoding"] = "utf-8"
        return text.encode()


def _workbook(d: Draw, language, header, rows, beside: _Sheet | None) -> bytes:
    import openpyxl
    from openpyxl.utils.datetime import CALENDAR_MAC_1904

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = d.one("sheet", "Data", "Sheet1", "Tabelle1", "Export")
    for line in _above(d, language, ";", "")[:4]:
        sheet.append([line or None])
    for row in header:
        sheet.append([cell or None for cell in row])
    numbers = d.chance("cells are numbers", 0.7)
    for row in rows:
        sheet.append([_cell(cell, numbers) for cell in row])
    if d.chance("end word", 0.1):
        sheet.append([language.end])
    if d.chance("a sheet of notes", 0.2):
        book.create_sheet("Info", 0).append(["Recorded in the store"])
    if d.chance("written for 1904", 0.1) and d.said["stamp"] != "serial":
        book.epoch = CALENDAR_MAC_1904
    if beside:
        sheet = book.create_sheet(beside.title)
        sheet.sheet_state = "hidden" if beside.hidden else "visible"
        for row in [*beside.header, *beside.rows]:
            sheet.append([_cell(cell, numbers) for cell in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _cell(cell, numbers: bool):
    if numbers and isinstance(cell, str) and re.fullmatch(r"-?\d+(\.\d+)?", cell):
        return float(cell)
    return cell or None


__all__ = ["Composed", "Stamp", "composed"]
