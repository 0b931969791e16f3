"""Readings side by side, put on UTC: one row a time, for one probe, several, or one named in each row."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from envwatch.core.errors import BadInput
from envwatch.logs.model import Channel
from envwatch.logs.quality.marks import BOUND_RH, BOUND_TEMP
from envwatch.logs.tables.body import Reader
from envwatch.logs.tables.shapes import Column, Probe
from envwatch.logs.text.cells import AT_LEAST, FAULT_CODE, MISSING_CODE, OK, REASON, Numbers, coded, tidy
from envwatch.logs.times import clock
from envwatch.logs.times import offset as time_basis
from envwatch.logs.values import losses, units
from envwatch.logs.values.rows import listed

NO_READING = "event row without a reading"
Rows = slice | np.ndarray
ALL = slice(None)


class Values(NamedTuple):
    """One probe's readings, row by row. (n,) each; NaN and a code where there is none; `bound` () without bounds."""

    probe: Probe
    temp_c: np.ndarray
    temp_code: np.ndarray
    rh_percent: np.ndarray
    rh_code: np.ndarray
    others: dict[str, np.ndarray]
    bound: np.ndarray

    def at(self, rows) -> Values:
        """Some of the rows; all of them without a copy where `rows` is a slice."""
        arrays = (self.temp_c[rows], self.temp_code[rows], self.rh_percent[rows], self.rh_code[rows])
        others = {name: array[rows] for name, array in self.others.items()}
        return Values(self.probe, *arrays, others, self.bound[rows] if len(self.bound) else self.bound)


def values_of(reader: Reader, probe: Probe) -> tuple[Values, list[str]]:
    """One probe in °C and percent, error codes apart, and the notes on its units."""
    notes: list[str] = []
    raw = reader.numbers(probe.temp)
    unit, read = _unit(probe.temp, raw, notes), reader.numbers(probe.rh) if probe.rh else None
    damp = read.values if read else None
    temp_c, more = units.temperature(raw.values, unit, reader.temp_unit, reader.name, probe.temp.name, damp)
    notes += more
    if probe.rh is None or read is None:
        rh, rh_code = np.full(len(temp_c), np.nan), np.full(len(temp_c), MISSING_CODE, np.uint8)
    else:
        rh, more = units.humidity(read.values, probe.rh.role.unit, reader.name, probe.rh.name)
        rh_code, notes = read.code, notes + more
    (temp_code, rh_code), bound, more = bounds_apart((raw.code, rh_code), (BOUND_TEMP, BOUND_RH))
    temp_c, temp_code = units.without_errors("temp", temp_c, temp_code)
    rh, rh_code = units.without_errors("rh", rh, rh_code)
    notes += more
    if probe.rh is not None and np.fmin.reduce(rh, initial=0.0) < 0:  # "-1" for both is no reading of either
        dead = (rh < 0) & (raw.values == read.values)
        temp_c, rh = np.where(dead, np.nan, temp_c), np.where(dead, np.nan, rh)
        temp_code, rh_code = np.where(dead, FAULT_CODE, temp_code), np.where(dead, FAULT_CODE, rh_code)
    notes += units.check_pair(temp_c, rh, reader.name, probe.rh.name if probe.rh else "")
    others = {c.role.kind: _other(reader, c, unit) for c in probe.others if c.role.kind}
    if "dew_point_c" in others:
        notes += units.check_dew_point(temp_c, rh, others["dew_point_c"])
    return Values(probe, temp_c, temp_code, rh, rh_code, others, bound), notes


def bounds_apart(codes, marks) -> tuple[list[np.ndarray], np.ndarray, list[str]]:
    """Codes of some columns, (n,) each, without those of bounds, which are readings; their marks, and a note."""
    least, most = (sum(int((code == AT_LEAST + more).sum()) for code in codes) for more in (0, 1))
    if not least + most:
        return list(codes), np.zeros(0, np.uint16), []
    bound = np.sum([(code >= AT_LEAST) * np.uint16(mark) for code, mark in zip(codes, marks, strict=True)], axis=0)
    note = (
        f"{least + most:,} values are written as bounds, such as >95 ({least:,} at least, {most:,} at most); they "
        "were kept at the bound and marked, so the air was damper, drier, warmer or colder there than is shown."
    )
    return [np.where(code >= AT_LEAST, OK, code) for code in codes], bound.astype(np.uint16), [note]


def _unit(column: Column, raw: Numbers, notes: list[str]) -> str | None:
    cell = raw.unit if raw.unit in ("C", "F", "K") else None
    if cell and column.role.unit in ("C", "F", "K") and cell != column.role.unit:
        notes.append(
            f"{column.name!r} is headed {units.NAMES[column.role.unit]}, but its cells say "
            f"{units.NAMES[cell]}; the cells were followed."
        )
    return cell or (column.role.unit if column.role.unit in ("C", "F", "K") else None)


def _other(reader: Reader, c: Column, temp_unit: str | None) -> np.ndarray:
    read = reader.numbers(c)
    if c.role.kind and c.role.kind.endswith("_c"):
        own = read.unit or c.role.unit
        return units.celsius(read.values, own if own in ("C", "F", "K") else temp_unit or "C")
    return read.values


def given(values: Values, need_rh: bool) -> np.ndarray:
    """(n,) where the probe gave a reading."""
    ok = values.temp_code == OK
    return ok & (values.rh_code == OK) if need_rh and values.probe.rh is not None else ok


def why_not(all_values: list[Values], need_rh: bool, eventful: np.ndarray) -> list[tuple[np.ndarray, str]]:
    """For rows in which no probe gave a reading: masks and reasons, the gravest first."""
    none = ~np.any([given(v, need_rh) for v in all_values], axis=0)
    codes = [v.temp_code for v in all_values] + [v.rh_code for v in all_values if need_rh and v.probe.rh is not None]
    worst = np.max(codes, axis=0)
    found = [(none & (worst == code), reason) for code, reason in sorted(REASON.items(), reverse=True)]
    empty = none & (worst <= MISSING_CODE) & eventful
    every = np.all([c == MISSING_CODE for c in codes], axis=0)
    return [(empty & every, NO_READING), *found]


def channel(values: Values, label: str, timed: clock.Timed, keep: np.ndarray, line: np.ndarray) -> Channel:
    """A probe's readings in time order, read-only."""
    rows = timed.rows(keep)
    others = {name: fixed(array[rows]) for name, array in values.others.items()}
    utc, temp_c, rh, lines = (fixed(a[rows]) for a in (timed.utc, values.temp_c, values.rh_percent, line))
    return Channel(
        label, utc, temp_c, rh, lines, others, fixed(values.bound[rows] if len(values.bound) else values.bound)
    )


def fixed(array: np.ndarray) -> np.ndarray:
    array = np.ascontiguousarray(array)
    array = array.view()
    array.flags.writeable = False
    return array


def put(reader: Reader, shape, stamps, fates, open_: np.ndarray, basis, context):
    """All readings of a table, in time order, and what became of every row.

    Returns
    -------
    Channels, counts, the time basis as settled by evidence, the cadence in µs, notes.
    """
    values, notes = _values(reader, shape, context)
    reads = [given(v, context.need_rh) for v in values]
    everything = len(open_) == len(stamps.wall)
    wall, offset = (stamps.wall, stamps.offset_min) if everything else (stamps.wall[open_], stamps.offset_min[open_])
    _set_aside(reader, shape, values, reads, fates, open_, basis, offset, context)
    usable = fates.code[open_] == 0 if fates.code.any() else np.ones(len(open_), bool)
    groups = _groups(reader, shape, usable)
    if not groups:
        raise BadInput(
            f"no row holds a reading that can be used ({listed(fates.counts())}). Look whether the sensor is "
            "connected; a file with readings is read.",
            place=context.name,
        )
    # rows without a value still tell how the clock ran
    longest = wall if shape.by is None else wall[max((at for _, at in groups), key=lambda at: len(wall[at]))]
    longest = longest[::-1] if clock.falls(longest) else longest
    step_us = clock.cadence_us(longest)
    if basis.kind == "zone":
        basis, more = time_basis.settle(basis, longest, step_us, context.name)
        notes += more
    channels: list[Channel] = []
    placed, repeated = [], 0
    every = _groups(reader, shape, np.ones(len(open_), bool)) if basis.kind == "zone" and not usable.all() else groups
    rows_of = dict(every)
    for name, at in groups:
        whole = rows_of[name]
        timed = clock.place(wall[whole], offset[whole], basis, step_us, usable[whole])
        placed.append(timed)
        mine = values if at is ALL else [v.at(at) for v in values]
        again = clock.duplicates(timed.utc, [a for v in mine for a in (v.temp_c, v.rh_percent)], timed.order)
        repeated += int(again.sum())
        for v, got in zip(mine, reads, strict=True):
            keep = got[at] & ~again
            if keep.any():
                label = v.probe.label if name is None else name if len(values) == 1 else f"{name} {v.probe.label}"
                channels.append(channel(v, label, timed, keep, reader.line[at]))
    notes += clock.time_notes(placed, [c.time for c in channels], step_us, basis)
    if any(v.temp_code.any() or v.rh_code.any() for v in values):
        notes += _partial(values, reads, usable)
        notes += _one_sided(values, fates, open_)
    return channels, fates.counts(repeated), basis, step_us, notes


def _values(reader: Reader, shape, context) -> tuple[list[Values], list[str]]:
    values, notes = [], []
    for probe in shape.probes:
        got, more = values_of(reader, probe)
        values.append(got)
        notes += more
    if context.need_rh:
        damp = [v for v in values if v.probe.rh is not None]
        if not damp:
            raise BadInput(
                "the file holds no relative humidity, only temperature. Export the humidity too.", place=context.name
            )
        dry = [v.probe.label for v in values if v.probe.rh is None]
        if dry:
            notes.append(f"Probes without humidity were left out: {', '.join(dry)}.")
        values = damp
    return values, notes


def _set_aside(reader: Reader, shape, values, reads, fates, open_, basis, offset, context) -> None:
    if not all(got.all() for got in reads):
        eventful = _eventful(reader, shape, len(open_))
        for mask, reason in why_not(values, context.need_rh, eventful):
            if mask.any():
                fates.set_aside(open_[mask], reason)
    if basis.kind == "rows" and not np.isfinite(offset).all():
        fates.set_aside(open_[~np.isfinite(offset)], "no offset from UTC, unlike the other rows")


def _eventful(reader: Reader, shape, size: int) -> np.ndarray:
    """(n,) true where an event column says something."""
    some = np.zeros(size, bool)
    for at in shape.flags:
        texts, index = coded(reader.column(at))
        some |= np.array([bool(tidy(t or "").strip("-")) for t in texts] or [False])[index]
    return some


def _groups(reader: Reader, shape, usable: np.ndarray) -> list[tuple[str | None, Rows]]:
    """The usable rows of each probe named in a column, in order of appearance; else all usable rows."""
    if shape.by is None:
        return [(None, ALL if usable.all() else np.flatnonzero(usable))] if usable.any() else []
    texts, index = coded(reader.column(shape.by))
    names = ["".join(c for c in tidy(t or "")[:120] if c.isprintable()) or "not named" for t in texts]
    distinct = list(dict.fromkeys(names))
    which = np.array([distinct.index(n) for n in names])[index]
    order = np.argsort(which, kind="stable")
    parts = np.split(order, np.searchsorted(which[order], np.arange(1, len(distinct))))
    found = [(name, part[usable[part]]) for name, part in zip(distinct, parts, strict=True)]
    return [(name, part) for name, part in found if len(part)]


def _one_sided(values, fates, open_: np.ndarray) -> list[str]:
    """Losses at one end of the record; rows of events have nothing to lose."""
    rows = np.array([reason != NO_READING for reason in fates.reasons])[fates.code[open_]]
    found = []
    for v in values:
        rh_code = v.rh_code if v.probe.rh else np.zeros_like(v.rh_code)
        found += losses.one_sided(v.temp_c[rows], v.temp_code[rows], v.rh_percent[rows], rh_code[rows])
    return found


def _partial(values, reads, usable: np.ndarray) -> list[str]:
    """Rows in which a probe, or its humidity, gave nothing while the rest did."""
    if len(values) == 1:
        v = values[0]
        lost = int(((v.rh_code != 0) & reads[0] & usable).sum()) if v.probe.rh else 0
        return [f"{lost} readings have a temperature but no humidity."] if lost else []
    missing = {v.probe.label: int((usable & ~got).sum()) for v, got in zip(values, reads, strict=True)}
    said = ", ".join(f"{label}: {n}" for label, n in missing.items() if n)
    return [f"Rows in which a probe gave no reading while another did: {said}."] if said else []
