"""The table of a composed file: its columns and their cells, headers and rows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from tests.composed import words
from tests.composed.climates import Air
from tests.composed.stamps import Stamp

EXTRAS = ("counter", "node", "volts", "constant", "light %", "lux", "CO2", "dew point", "set points", "extremes",
          "mean", "remark", "signal", "absolute", "charge")  # fmt: skip
PLAIN = ("dmy", "mdy", "mon", "wee")
UNITS = {"°F": ("°F", "F", "deg F"), "°C": ("°C", "℃", "C", "deg C", "degC"), "%": ("%", "% RH", "%RH", "%rH")}


class Draw:
    """Dice, and what they said."""

    def __init__(self, seed: int, number: int) -> None:
        self.rng = np.random.default_rng([seed, number])
        self.later = np.random.default_rng(
            [seed, number, 1]
        )  # properties added later: they leave other files as they were
        self.said: dict[str, Any] = {}

    def one(self, what: str, *some):
        """One of several, noted."""
        found = some[int(self.rng.integers(len(some)))]
        self.said[what] = found
        return found

    def seldom(self, what: str, share: float) -> bool:
        """`chance` for a property added later."""
        return self.chance(what, share, self.later)

    def chance(self, what: str, share: float, rng: np.random.Generator | None = None) -> bool:
        """Whether something is so, noted where it is."""
        found = bool((rng or self.rng).random() < share)
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


class Cells:
    """One probe's cells, and what they truly say."""

    def __init__(self, d: Draw, probe: Air, lost: np.ndarray, places, decimal: str, plain: bool = False) -> None:
        self.decimal, self.places, self.probe, self.lost, self.unit = decimal, places, probe, lost, "°C"
        temp, rh = probe.temp_c.copy(), probe.rh_percent.copy()
        word = str(d.rng.choice(words.MISSING if d.rng.random() < 0.7 else words.FAULTS)) if lost.any() else ""
        top = float(np.floor(np.percentile(rh, 92))) if not plain and d.chance("bounds", 0.06) else np.inf
        behind = not plain and d.chance("minus behind", 0.05)
        self.temp = [word if gone else self.shown(v, places[0], behind) for v, gone in zip(temp, lost, strict=True)]
        self.rh = [word if gone else f">{top:.0f}" if v > top else self.shown(v, places[1])
                   for v, gone in zip(rh, lost, strict=True)]  # fmt: skip
        rh = np.minimum(rh, top)
        if not plain and d.seldom("humidity lost at times", 0.06):
            gone = d.later.random(len(rh)) < 0.05
            self.rh = ["" if some else cell for cell, some in zip(self.rh, gone, strict=True)]
            rh = np.where(gone, np.nan, rh)
        self.true = Air(probe.time, temp, rh, probe.dew_c)

    def in_fahrenheit(self) -> None:
        """Temperatures written in °F, to 0.01."""
        self.unit = "°F"
        written = zip(self.true.temp_c, self.temp, self.lost, strict=True)
        self.temp = [cell if gone else self.shown(t * 1.8 + 32, 2) for t, cell, gone in written]

    def shown(self, value: float, places: int, behind: bool = False) -> str:
        """A number as the file writes it."""
        text = f"{abs(value) if behind else value:.{places}f}".replace(".", self.decimal)
        return f"{text}-" if behind and value < 0 else text

    def others(self, values, places: int) -> list[str]:
        """A further column's cells."""
        return [self.shown(v, places) for v in values]


class Table:
    """What all tables of a file share; `lines` makes one, header and rows."""

    def __init__(self, d: Draw, language: words.Language, stamp: Stamp, when, units: str, shape: str) -> None:
        self.d, self.language, self.units = d, language, units
        self.make = {"by room": _by_room, "by quantity": _by_quantity}.get(shape, _side_by_side)
        hours = 0
        if stamp.heads[0] == "stamp" and stamp.name[:3] in PLAIN and d.seldom("offset stated", 0.1):
            hours = int(d.later.choice([1, 2, 5, -5]))
        self.times = stamp.write(when + pd.Timedelta(hours=hours), d.rng)
        heads = {"stamp": language.stamp, "date": (language.date,), "time": (language.time,)}
        self.heads = [d.one("time's header", *heads.get(head, (head,))) for head in stamp.heads]
        if hours:
            self.heads[0] += f" (UTC{hours:+d})"

    def lines(self, rooms: list[str], cells: list[Cells]) -> tuple[list[list[str]], list[list]]:
        """The header's rows and the rows below it."""
        return self.make(self.d, self.language, rooms, cells, self.heads, self.times, self.units)


def _extra(d: Draw, kind: str, language: words.Language, c: Cells) -> list[Column]:
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


def _readings(d: Draw, language: words.Language, rooms: list[str], cells: list[Cells]) -> list[Column]:
    temp, rh = d.one("temperature's header", *language.temp), d.one("humidity's header", *language.rh)
    pairs = [
        [Column(temp, c.unit, room, c.temp), Column(rh, "%", room, c.rh)] for room, c in zip(rooms, cells, strict=True)
    ]
    if d.chance("humidity first", 0.2):
        pairs = [pair[::-1] for pair in pairs]
    if len(rooms) > 1 and d.chance("quantities apart", 0.3):
        return [pair[i] for i in (0, 1) for pair in pairs]
    return [column for pair in pairs for column in pair]


def _side_by_side(d: Draw, language, rooms, cells, heads, times_, units):
    columns = _readings(d, language, rooms, cells)
    if rooms == [""] and "second sheet" not in d.said and d.seldom("extremes alone", 0.02):
        at = next(i for i, c in enumerate(columns) if c.unit != "%")
        columns[at : at + 1] = _extra(d, "extremes", language, cells[0])
    for kind in d.rng.permutation(EXTRAS)[: int(d.rng.choice([0, 0, 1, 1, 2, 3]))]:
        if kind == "mean" and "extremes alone" in d.said:
            continue  # they are not alone then
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
    columns = [replace(c, unit=c.unit if c.unit == "%" else cells[0].unit) for c in columns]
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
            for what, v, unit in ((temp, a, c.unit), (rh, b, "%"))]  # fmt: skip
    rooms[0] = ""
    return header, body
