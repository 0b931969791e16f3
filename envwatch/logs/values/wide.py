"""Readings side by side: one row a time, one or several probes, or one probe a row named in a column."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from envwatch.logs.model import Channel
from envwatch.logs.quality.marks import BOUND_RH, BOUND_TEMP
from envwatch.logs.tables.columns import Reader
from envwatch.logs.tables.shapes import Column, Probe
from envwatch.logs.text.cells import AT_LEAST, FAULT_CODE, MISSING_CODE, OK, REASON, Numbers
from envwatch.logs.times.utc import Timed
from envwatch.logs.values import units

NO_READING = "event row without a reading"


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
    temp_c, temp_code, rh, rh_code = errors_apart(temp_c, temp_code, rh, rh_code)
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


def errors_apart(temp_c, temp_code, rh, rh_code):
    """Error codes out of the readings: impossible values become NaN with their code."""
    temp_bad, rh_bad = units.out_of_range(temp_c, rh)
    if temp_bad.any():
        temp_c, temp_code = np.where(temp_bad, np.nan, temp_c), np.where(temp_bad, FAULT_CODE, temp_code)
    if rh_bad.any():
        rh, rh_code = np.where(rh_bad, np.nan, rh), np.where(rh_bad, FAULT_CODE, rh_code)
    return temp_c, temp_code, rh, rh_code


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


def channel(values: Values, label: str, timed: Timed, keep: np.ndarray, line: np.ndarray) -> Channel:
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
