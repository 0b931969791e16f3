"""Which columns belong together as one probe, and what each other column is."""

from __future__ import annotations

import re
from collections import Counter
from typing import NamedTuple

import pyarrow as pa

from envwatch.core.errors import BadInput
from envwatch.logs.text.cells import coded, looks_numeric, tidy, unit_in
from envwatch.logs.text.roles import ColumnRole, generic, named, role_of, time_word, without_shared_codes
from envwatch.logs.text.vocabulary import PROBE, QUANTITY, UNIT, VALUE, plain, tokens
from envwatch.logs.times.columns import is_row_number, picked


class Column(NamedTuple):
    """One column that is not the time: its place, header, role and how many of its filled cells are numbers."""

    at: int
    name: str
    role: ColumnRole
    numeric: float
    filled: float


class Probe(NamedTuple):
    """The columns of one probe; `rh` None where it measures no humidity."""

    label: str
    temp: Column
    rh: Column | None
    others: tuple[Column, ...] = ()


class Shape(NamedTuple):
    """How readings lie in the table.

    probes : for readings side by side. by : the column naming the probe, where rows are.
    quantity, value, unit : columns of a table with one quantity a row.
    flags : columns of events and remarks.
    """

    probes: tuple[Probe, ...]
    by: int | None = None
    quantity: int | None = None
    value: int | None = None
    unit: int | None = None
    flags: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()


def describe(columns, names, units, taken: tuple[int, ...]) -> list[Column]:
    """All columns besides the time, with their roles and contents."""
    found = []
    for at, column in enumerate(columns):
        if at in taken:
            continue
        name = names[at] if at < len(names) else ""
        unit = units[at] if at < len(units) else ""
        numeric, filled = _contents(column)
        role = role_of(f"{name} ({unit})" if unit and unit.strip("-") else name)
        role = role._replace(label=role_of(name).label) if unit else role
        if time_word(name) in ("stamp", "date") and role.weak or (name and is_row_number(column, name) and role.weak):
            role = ColumnRole(None)
        found.append(Column(at, name, role, numeric, filled))
    return [_with_unit_beside(c, found, columns) for c in found]


def _with_unit_beside(column: Column, found: list[Column], columns) -> Column:
    """The unit out of a column of its own, "temp_unit" beside "temp"."""
    if column.role.unit or column.role.kind not in ("temp", "rh") or column.numeric == 0:
        return column
    for c in found:
        if c.numeric == 0 and c.filled and c.role.kind == column.role.kind and _all_units(columns[c.at]):
            units = {unit_in(tidy(t or "")) for t in coded(columns[c.at]).texts if tidy(t or "")}
            if len(units) == 1 and _without_unit_word(c.role.label) == _without_unit_word(column.role.label):
                return column._replace(role=column.role._replace(unit=units.pop()))
    return column


def _without_unit_word(label: str) -> str:
    return " ".join(w for w in tokens(plain(label)) if w not in UNIT)


def _contents(column: pa.ChunkedArray) -> tuple[float, float]:
    size = len(column)
    head = column.slice(0, 300).to_pylist() + (column.slice(max(300, size - 100)).to_pylist() if size > 300 else [])
    head += picked(column, range(300, size - 100, max(1, size // 200))) if size > 1000 else []
    counted = [(tidy(cell or ""), times) for cell, times in Counter(head).items()]
    cells = [(cell, times) for cell, times in counted if cell]
    if not cells:
        return 0.0, 0.0
    filled = sum(times for _, times in cells)
    ok = sum(times for cell, times in cells if looks_numeric(cell))
    return ok / filled, filled / max(len(head), 1)


def shape(found: list[Column], columns, names, name: str) -> Shape:
    """How the readings lie, from the roles and contents of the columns.

    Raises
    ------
    BadInput : no column holds a temperature.
    """
    used = [c for c in found if (c.numeric > 0 or c.filled == 0) and c.role.kind != "other_percent"]
    temps, hums = _of(used, "temp"), _of(used, "rh")
    long = _long(found, columns) if not (temps and hums) or _value_column(found) is not None else None
    if long:
        return long
    notes: list[str] = []
    if not temps and not (hums and any(names)):
        temps, hums, more = _by_contents(found, columns, name)
        notes += more
    if not temps:
        raise BadInput(
            f"no column holds a temperature; seen: {_seen(found)}. Name the columns in a header row.", place=name
        )
    temps, more = _one_per_probe(temps)
    notes += more
    hums, more = _one_per_probe(hums)
    notes += more
    by = _by(found, columns, {c.at for c in temps + hums})
    temps, hums = _without_codes(temps, hums)
    temps, hums = _without_own_words(temps, hums), _without_own_words(hums, temps)
    pairs = _pairs(temps, hums)
    probes = _with_others(_labelled(pairs), used)
    spare = [c.name for c in hums if all(p.rh is None or p.rh.at != c.at for p in probes)]
    notes += [f"The humidity column {n!r} has no temperature beside it and was left out." for n in spare]
    return Shape(probes, by, None, None, None, _flags(found, probes, by), tuple(notes))


def _seen(found: list[Column]) -> str:
    return (", ".join(repr(c.name[:30]) for c in found[:6] if c.name)) or f"{len(found)} columns without a name"


def _of(found: list[Column], kind: str) -> list[Column]:
    some = [c for c in found if c.role.kind == kind and not (named(c.name, VALUE) and c.role.weak)]
    strong = [c for c in some if not c.role.weak]
    return strong or some


def _one_per_probe(some: list[Column]) -> tuple[list[Column], list[str]]:
    """Minimum, maximum and spread of an interval give way to its mean, a second unit to the first."""
    plain_ = [c for c in some if c.role.statistic is None]
    notes = []
    if plain_ and len(plain_) < len(some):
        left = [c.name for c in some if c not in plain_]
        notes = [f"Left out as statistics of the interval: {', '.join(repr(n) for n in left)}."]
        some = plain_
    kept: list[Column] = []
    for column in some:
        same = [c for c in kept if c.role.label == column.role.label and c.role.unit and column.role.unit
                and c.role.unit != column.role.unit]  # fmt: skip
        if not same:
            kept.append(column)
            continue
        first = same[0]
        if column.role.unit in ("C", "%"):
            kept[kept.index(first)] = column
            first, column = column, first
        notes.append(f"{column.name!r} repeats {first.name!r} in another unit and was left out.")
    return kept, notes


def _words(columns: list[Column]) -> list[set[str]]:
    return [set(tokens(plain(c.role.label))) for c in columns]


def _without_own_words(columns: list[Column], others: list[Column]) -> list[Column]:
    """Columns of one quantity without the words that all of them bear and none of the other: "ambiente" of
    "Temperatura ambiente" beside "Humedad relativa" says what is measured, and not which probe it is.
    """
    if min(len(columns), len(others)) < 2:
        return columns
    own = set.intersection(*_words(columns)) - set.union(*_words(others))
    kept = [re.sub(r"[^\W\d_]+", lambda word: "" if plain(word[0]) in own else word[0], c.role.label) for c in columns]
    return [c._replace(role=c.role._replace(label=" ".join(label.split()).strip(" ,;:/-_.")))
            for c, label in zip(columns, kept, strict=True)]  # fmt: skip


def _without_codes(temps: list[Column], hums: list[Column]) -> tuple[list[Column], list[Column]]:
    """A letter code that every temperature and humidity bears names no probe."""
    some = [*temps, *hums]
    labels = without_shared_codes([c.role.label for c in some])
    some = [c._replace(role=c.role._replace(label=label)) for c, label in zip(some, labels, strict=True)]
    return some[: len(temps)], some[len(temps) :]


def _pairs(temps: list[Column], hums: list[Column]) -> list[tuple[Column, Column | None]]:
    t_labels, h_labels = [plain(c.role.label) for c in temps], [plain(c.role.label) for c in hums]
    unique = len(set(t_labels)) == len(temps) and len(set(h_labels)) == len(hums)
    if unique and set(t_labels) & set(h_labels) and not (len(temps) == len(hums) == 1):
        by = dict(zip(h_labels, hums, strict=True))
        rest = [h for label, h in by.items() if label not in t_labels]
        pairs = [(t, by.get(label)) for t, label in zip(temps, t_labels, strict=True)]
        open_ = [i for i, (_, h) in enumerate(pairs) if h is None]
        if len(open_) == len(rest) == 1:
            pairs[open_[0]] = (pairs[open_[0]][0], rest[0])
        return pairs
    if len(temps) == len(hums):
        return list(zip(temps, hums, strict=True))
    if len(hums) == 1:  # a single humidity belongs to the first probe, the further temperatures are external
        return [(t, hums[0] if i == 0 else None) for i, t in enumerate(temps)]
    left, pairs = list(hums), []
    for i, t in enumerate(temps):  # a humidity belongs to the temperature before it
        until = temps[i + 1].at if i + 1 < len(temps) else 10**6
        mine = [h for h in left if t.at < h.at < until]
        if not mine and i == 0:
            mine = [h for h in left if h.at < t.at]
        if mine:
            left.remove(mine[0])
        pairs.append((t, mine[0] if mine else None))
    return pairs


def serial_of(label: str) -> str | None:
    """A bare number of four digits and more in a column's name is the logger's serial number, not a probe's name."""
    return label if label.isascii() and label.isdigit() and len(label) >= 4 else None


def _labelled(pairs) -> list[Probe]:
    if len(pairs) == 1:
        t, h = pairs[0]
        own = t.role.label
        shared = own and not serial_of(own) and (h is None or plain(h.role.label) == plain(own)) and not generic(own)
        return [Probe(own if shared and h is not None else "1", t, h)]
    labels = [t.role.label or (h.role.label if h else "") or t.role.statistic or "" for t, h in pairs]
    if len(set(map(plain, labels))) < len(labels):
        labels = [""] * len(labels)
    labels = [label or str(i) for i, label in enumerate(labels, 1)]
    if len(set(labels)) < len(labels):
        labels = [str(i) for i in range(1, len(labels) + 1)]
    return [Probe(label, t, h) for label, (t, h) in zip(labels, pairs, strict=True)]


def _with_others(probes: list[Probe], used: list[Column]) -> tuple[Probe, ...]:
    """Dew point, light and the rest, kept apart, with the probe that bears the same label, else the first."""
    extra: dict[int, list[Column]] = {i: [] for i in range(len(probes))}
    for c in used:
        if c.role.kind in (None, "temp", "rh", "setpoint", "signal", "battery") or c.role.statistic in (
            "min",
            "max",
            "spread",
        ):
            continue
        same = [
            i
            for i, p in enumerate(probes)
            if plain(p.temp.role.label) == plain(c.role.label) or p.label == c.role.label
        ]
        home = same[0] if same else 0
        if not any(o.role.kind == c.role.kind for o in extra[home]):
            extra[home].append(c)
    return tuple(p._replace(others=tuple(extra[i])) for i, p in enumerate(probes))


def _flags(found: list[Column], probes, by) -> tuple[int, ...]:
    taken = {c.at for p in probes for c in (p.temp, p.rh, *p.others) if c is not None} | {by}
    return tuple(c.at for c in found if c.at not in taken and c.numeric < 0.5 and c.filled > 0)


def _by(found: list[Column], columns, taken: set[int]) -> int | None:
    """The column that names the probe, where several probes share a table row by row."""
    for c in found:
        if c.at in taken or c.role.kind not in (None, "rh", "temp") or not (named(c.name, PROBE) or not c.name):
            continue
        if c.role.kind is not None and c.numeric > 0.5:
            continue
        texts, index = coded(columns[c.at])
        filled = {tidy(t or "") for t in texts} - {""}
        if not 1 <= len(filled) <= 1000 or c.filled < 0.9 or len(filled) > max(1, len(index) // 2):
            continue
        if not c.name and (
            c.numeric > 0.1 or len(filled) < 2 or (index[1:] == index[:-1]).mean() > 0.999 and len(index) > 5000
        ):
            continue
        if named(c.name, ("serial", "unit id", "name", "device", "logger", "tag", "label", "position", "zone",
            "local", "point")
                 ) and len(filled) == 1 and c.numeric > 0.5:  # fmt: skip
            continue
        if is_row_number(columns[c.at], c.name):
            continue
        return c.at
    return None


def _value_column(found: list[Column]) -> Column | None:
    some = [c for c in found if named(c.name, VALUE) and c.numeric > 0.3 and (c.role.kind is None or c.role.weak)]
    return some[0] if len(some) == 1 else None


def _long(found: list[Column], columns) -> Shape | None:
    """A table with one quantity a row: a column of quantities' names and one of values."""
    value = _value_column(found)
    if value is None:
        some = [c for c in found if c.numeric > 0.8 and not is_row_number(columns[c.at], c.name)
                and not named(c.name, PROBE) and not named(c.name, QUANTITY)]  # fmt: skip
        if len(some) != 1:
            return None
        value = some[0]
    best = None
    for c in found:
        if c.at == value.at or c.numeric > 0.2 or c.filled < 0.5:
            continue
        texts = [t for t in (tidy(t or "") for t in coded(columns[c.at]).texts) if t]
        kinds = [role_of(t).kind for t in texts[:300]]
        known = sum(k is not None for k in kinds)
        if (
            len(texts) <= 300
            and "temp" in kinds
            and known >= 0.5 * len(kinds)
            and any(not _bare_unit(t) for t in texts)
        ):
            best = c if best is None or named(c.name, QUANTITY) else best
    unit = next((c.at for c in found if c.numeric < 0.2 and (named(c.name, UNIT) or _all_units(columns[c.at]))
                 and (best is None or c.at != best.at)), None)  # fmt: skip
    if best is None and unit is not None:
        best = next(c for c in found if c.at == unit)
    if best is None:
        return None
    by = _by([c for c in found if c.at not in (value.at, best.at, unit)], columns, {value.at, best.at})
    rest = {value.at, best.at, unit, by}
    return Shape((), by, best.at, value.at, unit, tuple(c.at for c in found if c.at not in rest and c.numeric < 0.5))


def _bare_unit(text: str) -> bool:
    return len(plain(text)) <= 3 and unit_in(text) is not None


def _all_units(column) -> bool:
    texts = [t for t in (tidy(t or "") for t in coded(column).texts) if t]
    return 0 < len(texts) <= 12 and all(unit_in(t) and len(t) <= 12 for t in texts)


def _by_contents(found: list[Column], columns, name: str):
    """No header: units in the cells, else two columns whose ranges leave one reading only."""
    from envwatch.logs.text.cells import numbers

    some = [c for c in found if c.numeric > 0.5 and c.role.kind is None and not is_row_number(columns[c.at], c.name)
            and not (c.name and named(c.name, PROBE))]  # fmt: skip
    read = {c.at: numbers(columns[c.at].slice(0, 5000), _mark(columns[c.at])) for c in some}
    temps = [_as(c, "temp", read[c.at].unit) for c in some if read[c.at].unit in ("C", "F", "K")]
    hums = [_as(c, "rh", "%") for c in some if read[c.at].unit == "%"]
    if temps:
        return temps, hums, ["Temperature and humidity were told by the units in the cells."]
    if any(c.name for c in found):
        return [], [], []
    middle = {c.at: _quartiles(read[c.at].values) for c in some}
    cool = [c for c in some if middle[c.at][0] >= -20 and middle[c.at][2] <= 34]
    damp = [c for c in some if 34 < middle[c.at][1] <= 100 and middle[c.at][2] <= 100.5]
    if len(cool) >= 1 and len(damp) >= 1 and cool[0].at < damp[0].at and len(some) - len(cool) - len(damp) <= 3:
        t, h = cool[0], damp[0]
        note = (f"No header names the columns: column {t.at + 1} (about {middle[t.at][1]:g}) was taken for "
                "temperature in °C "
                f"and column {h.at + 1} (about {middle[h.at][1]:g}) for relative humidity in %.")  # fmt: skip
        return [_as(t, "temp", "C")], [_as(h, "rh", "%")], [note]
    raise BadInput(
        "no header names the columns, and their values do not settle which is temperature and which humidity. "
        "Add a first line such as: time;temperature °C;humidity %",
        place=name,
    )


def _as(c: Column, kind: str, unit: str | None) -> Column:
    return c._replace(role=ColumnRole(kind, unit))


def _mark(column) -> str:
    return "," if any("," in (cell or "") for cell in column.slice(0, 200).to_pylist()) else "."


def _quartiles(values) -> tuple[float, float, float]:
    import numpy as np

    values = values[np.isfinite(values)]
    return tuple(np.percentile(values, [1, 50, 99])) if len(values) else (np.nan,) * 3  # type: ignore[return-value]
