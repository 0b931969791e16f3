"""One composed file: which properties it has, its bytes, and what it truly holds."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tests.composed import words
from tests.composed.climates import Air, air, times
from tests.composed.stamps import STAMPS, Stamp

EXTRAS = ("counter", "node", "volts", "constant", "light %", "lux", "CO2", "dew point", "set points", "extremes",
          "mean", "remark", "signal", "absolute", "charge")  # fmt: skip
UNITS = {"°C": ("°C", "℃", "C", "deg C", "degC"), "%": ("%", "% RH", "%RH", "%rH")}


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


class Draw:
    """Dice, and what they said."""

    def __init__(self, seed: int, number: int) -> None:
        self.rng = np.random.default_rng([seed, number])
        self.said: dict[str, Any] = {}

    def one(self, what: str, *some):
        """One of several, noted."""
        found = some[int(self.rng.integers(len(some)))]
        self.said[what] = found
        return found

    def chance(self, what: str, share: float) -> bool:
        """Whether something is so, noted where it is."""
        found = bool(self.rng.random() < share)
        if found:
            self.said[what] = True
        return found


@dataclass
class Column:
    """A column besides the time: header, unit, the probe's name in the header, cells."""

    head: str
    unit: str
    room: str
    cells: list[str]


def composed(seed: int, number: int) -> Composed:
    """The file of this seed and number."""
    d = Draw(seed, number)
    code = d.one("language", *(words.COMMON if d.rng.random() < 0.5 else words.LANGUAGES))
    language = words.LANGUAGES[code]
    stamp = d.one("stamp", *STAMPS)
    schedule, when = times(d.rng, stamp.whole_hours)
    if not stamp.telling and (
        schedule in ("daily", "weekly", "monthly") or when[-1] - when[0] < np.timedelta64(3, "D")
    ):
        stamp = STAMPS[0]
    if (when.second != 0).any() or "minute" not in stamp.name and stamp.whole_hours and (when.minute != 0).any():
        stamp = STAMPS[0]
    book = d.chance("workbook", 0.12)
    if book and d.rng.random() < 0.6:
        stamp = Stamp(
            "moments", ("stamp",), lambda times, rng: [[t.to_pydatetime().replace(tzinfo=None)] for t in times]
        )
    d.said |= {"stamp": stamp.name, "schedule": schedule, "rows": len(when)}
    places = d.one("decimals", (1, 1), (1, 1), (2, 2), (1, 0), (2, 1))
    shape = d.one("shape", "one", "one", "one", "one", "several", "by room", "by quantity")
    rooms = _rooms(d, shape)
    probes = [air(d.rng, when, places) for _ in rooms]
    lost = _lost(d, len(when))
    decimal, delimiter = _marks(d)
    decimal = "." if book else decimal
    cells = [_Cells(d, probe, lost, places, decimal) for probe in probes]
    header_unit = d.one("units", "header", "header", "header", "header", "below", "above", "cells", "none")
    times_ = stamp.write(when, d.rng)
    heads = [_time_head(d, head, language, header_unit) for head in stamp.heads]
    table = {"one": _side_by_side, "several": _side_by_side, "by room": _by_room, "by quantity": _by_quantity}[shape]
    header, rows = table(d, language, rooms, cells, heads, times_, header_unit)
    content = _workbook(d, language, header, rows) if book else _text(d, language, header, rows, delimiter, header_unit)
    name = f"file-{number}.{'xlsx' if book else 'csv'}"
    return Composed(name, content, [c.true for c in cells], rooms, stamp.telling, lost, d.said)


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


def _marks(d: Draw) -> tuple[str, str]:
    delimiter = d.one("delimiter", ";", ";", ",", ",", "\t", "|")
    decimal = d.one("decimal", ".", "," if delimiter != "," else ".")
    return decimal, delimiter


class _Cells:
    """One probe's cells, and what they truly say."""

    def __init__(self, d: Draw, probe: Air, lost: np.ndarray, places, decimal: str) -> None:
        self.decimal, self.places, self.probe, self.d = decimal, places, probe, d
        temp, rh = probe.temp_c.copy(), probe.rh_percent.copy()
        word = str(d.rng.choice(words.MISSING if d.rng.random() < 0.7 else words.FAULTS)) if lost.any() else ""
        top = float(np.floor(np.percentile(rh, 92))) if d.chance("bounds", 0.06) else np.inf
        behind = d.chance("minus behind", 0.05)
        self.temp = [word if gone else self.shown(v, places[0], behind) for v, gone in zip(temp, lost, strict=True)]
        self.rh = [word if gone else f">{top:.0f}" if v > top else self.shown(v, places[1])
                   for v, gone in zip(rh, lost, strict=True)]  # fmt: skip
        self.true = Air(probe.time, temp, np.minimum(rh, top), probe.dew_c)

    def shown(self, value: float, places: int, behind: bool = False) -> str:
        """A number as the file writes it."""
        text = f"{abs(value) if behind else value:.{places}f}".replace(".", self.decimal)
        return f"{text}-" if behind and value < 0 else text

    def others(self, values, places: int) -> list[str]:
        """A further column's cells."""
        return [self.shown(v, places) for v in values]


def _time_head(d: Draw, head: str, language: words.Language, units: str) -> str:
    if head == "stamp":
        return d.one("time's header", *language.stamp)
    return {"date": language.date, "time": language.time}.get(head, head)


def _extra(d: Draw, kind: str, language: words.Language, c: _Cells) -> list[Column]:
    """Columns that are no reading of air, of one kind."""
    n, rng, probe = len(c.temp), d.rng, c.probe
    flat = np.arange(n)
    if kind == "set points":
        return [Column("Set point temperature", "°C", "", c.others(np.full(n, 20.0), 1)),
                Column("Set point humidity", "%", "", c.others(np.full(n, 50.0), 1))]  # fmt: skip
    if kind == "extremes":
        name = language.temp[0]
        return [Column(f"{name} {language.least}", "°C", "", c.others(probe.temp_c - 0.3, 1)),
                Column(f"{name} {language.most}", "°C", "", c.others(probe.temp_c + 0.4, 1))]  # fmt: skip
    head, unit, cells = {
        "counter": (language.number, "", [str(i + 1) for i in flat]),
        "node": ("Node", "", ["7"] * n),
        "volts": ("Battery", "V", c.others(3.3 - flat * 0.0004, 2)),
        "constant": ("Zone", "", ["21"] * n),
        "light %": ("Light", "%", [str(v) for v in rng.integers(20, 80, n)]),
        "lux": ("Lux", "lx", [str(v) for v in rng.integers(0, 300, n)]),
        "CO2": ("CO2", "ppm", [str(v) for v in rng.integers(400, 900, n)]),
        "dew point": (language.dew, "°C", c.others(probe.dew_c, 1)),
        "mean": (f"{language.temp[0]} {language.mean}", "°C", c.others(np.full(n, probe.temp_c.mean()), 1)),
        "remark": ("Remark", "", ["" if v < 0.97 else "door open" for v in rng.random(n)]),
        "signal": ("RSSI", "dBm", [str(-v) for v in rng.integers(50, 90, n)]),
        "absolute": ("Absolute humidity", "g/m³", c.others(np.full(n, 8.0) + rng.normal(0, 0.5, n), 2)),
        "charge": ("Charge", "%", [str(v) for v in np.clip(100 - flat // 10, 0, 100)]),
    }[kind]
    return [Column(head, unit, "", cells)]


def _readings(d: Draw, language: words.Language, rooms: list[str], cells: list[_Cells]) -> list[Column]:
    temp, rh = d.one("temperature's header", *language.temp), d.one("humidity's header", *language.rh)
    pairs = [
        [Column(temp, "°C", room, c.temp), Column(rh, "%", room, c.rh)] for room, c in zip(rooms, cells, strict=True)
    ]
    if d.chance("humidity first", 0.2):
        pairs = [pair[::-1] for pair in pairs]
    if len(rooms) > 1 and d.chance("quantities apart", 0.3):
        return [pair[i] for i in (0, 1) for pair in pairs]
    return [column for pair in pairs for column in pair]


def _side_by_side(d: Draw, language, rooms, cells, heads, times_, units):
    columns = _readings(d, language, rooms, cells)
    for kind in d.rng.permutation(EXTRAS)[: int(d.rng.choice([0, 0, 1, 1, 2, 3]))]:
        more = _extra(d, str(kind), language, cells[0])
        at = 0 if kind == "counter" else int(d.rng.choice([0, len(columns)], p=[0.25, 0.75]))
        columns[at:at] = more
        d.said.setdefault("extra", []).append(str(kind))
    place = d.one("room stands", "before", "behind", "in brackets") if any(rooms) else ""
    shown = [_named(c, units, place, d.said) for c in columns]
    header = [[*heads, *shown]]
    if units == "below":
        header.append([*("" for _ in heads), *(_unit(d, c.unit) for c in columns)])
    if units == "cells":
        for c in columns:
            c.cells = [f"{cell} {c.unit}" if cell and c.unit and cell[0] in "-0123456789" else cell for cell in c.cells]
    first = [heads.index(h) for h in heads]
    body = [[*t, *row] for t, row in zip(times_, zip(*(c.cells for c in columns), strict=True), strict=True)]
    if "counter" in d.said.get("extra", []) and columns[0].head == language.number:
        move = len(first)  # a row number stands before the time
        header = [[row[move], *row[:move], *row[move + 1 :]] for row in header]
        body = [[row[move], *row[:move], *row[move + 1 :]] for row in body]
    return header, body


def _unit(d: Draw, unit: str) -> str:
    return str(d.rng.choice(UNITS[unit])) if unit in UNITS else unit


def _named(c: Column, units: str, place: str, said: dict) -> str:
    unit = f" ({c.unit})" if units == "header" and c.unit else ""
    if not c.room:
        return f"{c.head}{unit}"
    return {"before": f"{c.room} {c.head}{unit}", "behind": f"{c.head} {c.room}{unit}",
            "in brackets": f"{c.head}{unit} [{c.room}]"}[place]  # fmt: skip


def _by_room(d: Draw, language, rooms, cells, heads, times_, units):
    columns = _readings(d, language, ["x"], [cells[0]])[:2]
    named = [_named(Column(c.head, c.unit, "", []), units, "", d.said) for c in columns]
    header = [[*heads, d.one("probe's header", "Sensor", "Logger", "Room", "Location"), *named]]
    swap = columns[0].unit == "%"
    rows = []
    for room, c in zip(rooms, cells, strict=True):
        values = zip(c.rh, c.temp, strict=True) if swap else zip(c.temp, c.rh, strict=True)
        rows.append([[*t, room, *v] for t, v in zip(times_, values, strict=True)])
    if d.chance("one room below the other", 0.5):
        return header, [row for some in rows for row in some]
    return header, [row for some in zip(*rows, strict=True) for row in some]


def _by_quantity(d: Draw, language, rooms, cells, heads, times_, units):
    (c,), (temp, rh) = cells, (language.temp[0], language.rh[0])
    header = [[*heads, "Quantity", "Value", "Unit"]]
    body = [[*t, what, v, unit] for t, a, b in zip(times_, c.temp, c.rh, strict=True)
            for what, v, unit in ((temp, a, "°C"), (rh, b, "%"))]  # fmt: skip
    rooms[0] = ""
    return header, body


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


def _quoted(cell: str, delimiter: str, every: bool) -> str:
    return f'"{cell}"' if every or delimiter in cell else cell


def _text(d: Draw, language, header, rows, delimiter: str, units: str) -> bytes:
    every = d.chance("all quoted", 0.08)
    tail = delimiter if d.chance("trailing delimiter", 0.06) else ""
    lines = [delimiter.join(_quoted(c, delimiter, every) for c in row) + tail for row in [*header, *rows]]
    if d.chance("header repeated", 0.03) and len(rows) > 40:
        lines.insert(len(lines) // 2, lines[0])
    lines = _above(d, language, delimiter, units) + lines + _below(d, language, len(header[0]), delimiter)
    end = d.one("line ends", "\n", "\n", "\r\n", "\r\n", "\r")
    text = end.join(lines) + ("" if d.chance("no last line end", 0.1) else end)
    tried = d.one("encoding", "utf-8", "utf-8", "utf-8", "utf-8-sig", "utf-8-sig", "utf-16", language.one_byte)
    try:
        return text.encode(tried)
    except UnicodeEncodeError:
        d.said["encoding"] = "utf-8"
        return text.encode()


def _workbook(d: Draw, language, header, rows) -> bytes:
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
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _cell(cell, numbers: bool):
    if numbers and isinstance(cell, str) and re.fullmatch(r"-?\d+(\.\d+)?", cell):
        return float(cell)
    return cell or None


__all__ = ["Composed", "Stamp", "composed"]
