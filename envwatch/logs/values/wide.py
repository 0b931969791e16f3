"""Readings side by side to °C and percent, and put on UTC: one row a time, of one probe, several, or one it names.

A unit is confirmed by plausibility, with a note or a question wherever it is not plain.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from envwatch import air
from envwatch.core.errors import BadInput, Question
from envwatch.figures import logs as f
from envwatch.logs.model import Channel
from envwatch.logs.quality.marks import BOUND_RH, BOUND_TEMP
from envwatch.logs.tables.behaviour import dew_point_apart
from envwatch.logs.tables.body import Reader
from envwatch.logs.tables.shapes import Column, Probe
from envwatch.logs.text.cells import AT_LEAST, FAULT_CODE, MISSING_CODE, OK, REASON, SENTINELS, celsius, coded, tidy
from envwatch.logs.times import clock
from envwatch.logs.times import offset as time_basis
from envwatch.logs.values import losses
from envwatch.logs.values.rows import listed

NO_READING = "event row without a reading"
NO_OFFSET = "no offset from UTC, unlike the other rows"
NO_HUMIDITY = "the file holds no relative humidity, only temperature. Export the humidity too."
KELVIN_LEAST, KELVIN_MOST = 233.0, 333.0
ENOUGH = 100_000  # readings looked at of a long record
NAMES = {"C": "°C", "F": "°F", "K": "K"}
Rows = slice | np.ndarray
ALL = slice(None)


def _plausible(values: np.ndarray) -> np.ndarray:
    """Of a long record every so many: enough to tell a unit."""
    values = values[:: max(1, len(values) // ENOUGH)]
    return values[np.isfinite(values) & ~np.isin(values, SENTINELS) & (np.abs(values) < 1000)]


def temperature(values, unit, told, name: str, column: str, rh=None) -> tuple[np.ndarray, list[str]]:
    """A temperature column to °C. What is headed °C is °C, be it a radiator's, if its humidity can be so.

    Parameters
    ----------
    values : (n,) as written, NaN where missing.
    unit : as the header, a units row or the cells give it; None where nothing does. told : the user's.
    rh : (n,) humidities beside it, as written; None where there are none.

    Raises
    ------
    Question : the values contradict the unit, or allow two. BadInput : they fit none.
    """
    seen = _plausible(values)
    warm_c, column = f.ROOM_WARM_C if column else f.ROOM_WARM_UNNAMED_C, column or "temperature"
    if told or not len(seen):
        other = told and unit in NAMES and unit != told
        notes = [f"{column!r} is headed {NAMES[unit]} and was read in {NAMES[told]}, as told."] if other else []
        return celsius(values, told or unit or "C"), notes
    middle, top = float(np.median(seen)), float(np.percentile(seen, 99))
    if unit is None:
        unit, note = _without_unit(middle, float(np.percentile(seen, 1)), warm_c, name, column)
        return celsius(values, unit), [note]
    damp = _plausible(rh) if rh is not None and unit == "C" and middle > f.ROOM_WARMEST_C else ()
    rh_middle = float(np.median(damp)) if len(damp) else 0.0
    rh_middle *= 100 if rh_middle <= f.FRACTION_MOST else 1
    steamy = 5 < rh_middle <= 100 and air.dew_point(middle, rh_middle) > f.DEW_POINT_MOST_C
    doubted = {"C": steamy, "F": top < f.FAHRENHEIT_COLDEST, "K": middle < 200}[unit]
    if doubted and middle < f.TEMP_MOST_C * 4:
        raise Question(
            f"{column!r} is headed {NAMES[unit]}, but its values (about {middle:.1f}) do not look like "
            f"a room in {NAMES[unit]}.",
            "temp_unit", ("C", "F", "K"), place=name)  # fmt: skip
    return celsius(values, unit), ([] if unit == "C" else [f"{column!r} was converted from {NAMES[unit]} to °C."])


def _without_unit(middle: float, least: float, warm_c: float, name: str, column: str) -> tuple[str, str]:
    what = f"{column!r} has no unit"
    if middle > 120:
        if not KELVIN_LEAST <= least <= middle <= KELVIN_MOST:
            raise BadInput(f"{what}, and about {middle:.0f} (from {least:.0f}) is no temperature in °C, °F or K; "
                           "tenths of a degree, perhaps. Export it again in °C.", place=name)  # fmt: skip
        return "K", f"{what}; its values (about {middle:.0f}) can only be kelvin."
    if middle > f.ROOM_WARMEST_C:
        return "F", f"{what}; its values (about {middle:.0f}) can only be °F in a room, and were converted to °C."
    if middle > warm_c:
        raise Question(f"{what}, and about {middle:.0f} may be °C or °F.", "temp_unit", ("C", "F"), place=name)
    return "C", f"{what}; it was read as °C."


def humidity(values, unit, name: str, column: str) -> tuple[np.ndarray, list[str]]:
    """A humidity column to percent; fractions are known by a header or by never passing 1.

    Raises
    ------
    BadInput : the values are no relative humidity.
    """
    seen, column = _plausible(values), column or "humidity"
    if not len(seen):
        return values, []
    if unit == "1":
        fractions = float(np.median(seen)) <= f.HEADED_FRACTION_MOST
    else:  # what is no humidity in percent either is a code, and says nothing
        held = seen[(seen >= f.RH_LEAST) & (seen <= f.RH_MOST)]
        fractions = len(held) and f.FRACTION_LEAST < held.max() <= f.FRACTION_MOST and len(np.unique(held)) > 2
        # of all rows, where the look was at some
        fractions = fractions and not ((values > f.FRACTION_MOST) & (values <= f.RH_MOST)).any()
    if fractions:
        return np.round(values * 100, 6), [f"{column!r} holds fractions of 1; they were converted to percent."]
    if unit == "1":
        return values, [f"{column!r} is headed as a fraction but holds percent; it was read as percent."]
    low = seen[(seen > 0) & (seen <= f.FRACTION_MOST)]
    if len(low) > 0.5 * len(seen) and len(np.unique(low)) > f.FRACTIONS_TELL:
        raise BadInput(f"{column!r} reads about {np.median(low):g} in most rows, and up to {seen.max():g}: neither "
                       "percent nor fractions of 1 throughout. Export it again in percent.", place=name)  # fmt: skip
    if ((seen < f.RH_LEAST) | (seen > f.RH_MOST)).mean() > 0.5:
        raise BadInput(f"{column!r} reads about {np.median(seen):g}, expected 0 to 100. It is no relative humidity in "
                       "percent; export it again in percent.", place=name)  # fmt: skip
    return values, []


def without_errors(kind: str, values: np.ndarray, code: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Numbers that are error codes rather than readings become NaN, and their code says so. (n,), (n,) -> (n,), (n,)"""
    least, most = (f.RH_LEAST, f.RH_MOST) if kind == "rh" else (f.TEMP_LEAST_C, f.TEMP_MOST_C)
    with np.errstate(invalid="ignore"):
        bad = (values < least) | (values > most)
    return (np.where(bad, np.nan, values), np.where(bad, FAULT_CODE, code)) if bad.any() else (values, code)


def _check(temp_c, rh_percent, dew_c, name: str, column: str) -> list[str]:
    """The logged dew point must follow from temperature and humidity; a disagreement is reported. (n,) each, or None.

    Raises BadInput: humidity is the temperature over again, perhaps in another unit.
    """
    step = max(1, len(temp_c) // ENOUGH)
    t, h = temp_c[::step], rh_percent[::step]
    both = np.isfinite(t) & np.isfinite(h)
    if both.sum() >= 12 and len(np.unique(t[both])) >= 4:
        for what, other in (("°C", t), ("°F", t * 1.8 + 32), ("K", t + 273.15)):
            if np.abs(h - other)[both].max() <= 0.11:
                raise BadInput(f"{column!r} is the temperature over again (in {what}), not humidity. Export the "
                               "humidity column.", place=name)  # fmt: skip
    apart = np.nan if dew_c is None else dew_point_apart(t, h, dew_c[::step])
    note = (f"The logged dew point differs by {apart:.1f} K from what temperature and humidity give; one of the "
            "columns is not what its header says, or its unit is another.")  # fmt: skip
    return [note] if apart > f.DEW_POINT_AGREES_C else []


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
    raw, read = reader.numbers(probe.temp), reader.numbers(probe.rh) if probe.rh else None
    headed, cell = (unit if unit in NAMES else None for unit in (probe.temp.role.unit, raw.unit))
    if cell and headed and cell != headed:
        notes.append(f"{probe.temp.name!r} is headed {NAMES[headed]}, but its cells say {NAMES[cell]}; the cells were "
                     "followed.")  # fmt: skip
    unit, damp = cell or headed, read.values if read else None
    temp_c, more = temperature(raw.values, unit, reader.temp_unit, reader.name, probe.temp.name, damp)
    notes += more
    rh, rh_code = np.full(len(temp_c), np.nan), np.full(len(temp_c), MISSING_CODE, np.uint8)
    if probe.rh and read:
        rh, more = humidity(read.values, probe.rh.role.unit, reader.name, probe.rh.name)
        rh_code, notes = read.code, notes + more
    (temp_code, rh_code), bound, more = bounds_apart((raw.code, rh_code), (BOUND_TEMP, BOUND_RH))
    temp_c, temp_code = without_errors("temp", temp_c, temp_code)
    rh, rh_code = without_errors("rh", rh, rh_code)
    if read and np.fmin.reduce(rh, initial=0.0) < 0:  # "-1" for both is no reading of either
        dead = (rh < 0) & (raw.values == read.values)
        temp_c, rh = np.where(dead, np.nan, temp_c), np.where(dead, np.nan, rh)
        temp_code, rh_code = np.where(dead, FAULT_CODE, temp_code), np.where(dead, FAULT_CODE, rh_code)
    others = {c.role.kind: _other(reader, c, unit) for c in probe.others if c.role.kind}
    more += _check(temp_c, rh, others.get("dew_point_c"), reader.name, probe.rh.name if probe.rh else "")
    return Values(probe, temp_c, temp_code, rh, rh_code, others, bound), notes + more


def bounds_apart(codes, marks) -> tuple[list[np.ndarray], np.ndarray, list[str]]:
    """Codes of some columns, (n,) each, without those of bounds, which are readings; their marks, and a note."""
    least, most = (sum(int((code == AT_LEAST + more).sum()) for code in codes) for more in (0, 1))
    if not least + most:
        return list(codes), np.zeros(0, np.uint16), []
    bound = np.sum([(code >= AT_LEAST) * np.uint16(mark) for code, mark in zip(codes, marks, strict=True)], axis=0)
    note = (f"{least + most:,} values are written as bounds, such as >95 ({least:,} at least, {most:,} at most); they "
            "were kept at the bound and marked, so the air was damper, drier, warmer or colder there than is shown."
            )  # fmt: skip
    return [np.where(code >= AT_LEAST, OK, code) for code in codes], bound.astype(np.uint16), [note]


def _other(reader: Reader, c: Column, temp_unit: str | None) -> np.ndarray:
    read = reader.numbers(c)
    if not (c.role.kind or "").endswith("_c"):
        return read.values
    own = read.unit or c.role.unit
    return celsius(read.values, own if own in NAMES else temp_unit or "C")


def _given(values: Values, need_rh: bool) -> np.ndarray:
    """(n,) where the probe gave a reading."""
    ok = values.temp_code == OK
    return ok & (values.rh_code == OK) if need_rh and values.probe.rh is not None else ok


def _set_aside(reader: Reader, shape, values: list[Values], reads, fates, open_: np.ndarray, need_rh: bool) -> None:
    """Rows in which no probe gave a reading, with the gravest reason; without any, those of events."""
    none = ~np.any(reads, axis=0)
    codes = [v.temp_code for v in values] + [v.rh_code for v in values if need_rh and v.probe.rh is not None]
    worst, eventful = np.max(codes, axis=0), np.zeros(len(open_), bool)
    for at in shape.flags:  # an event column says something
        texts, index = coded(reader.column(at))
        eventful |= np.array([bool(tidy(t or "").strip("-")) for t in texts] or [False])[index]
    eventful &= np.all([code == MISSING_CODE for code in codes], axis=0)
    for mask, reason in [(eventful, NO_READING), *((worst == code, why) for code, why in sorted(REASON.items())[::-1])]:
        if (none & mask).any():
            fates.set_aside(open_[none & mask], reason)


def fixed(array: np.ndarray) -> np.ndarray:
    array = np.ascontiguousarray(array)
    array = array.view()
    array.flags.writeable = False
    return array


def on_utc(wall, offset_min, basis, groups: dict, every: dict, usable: np.ndarray, longest: np.ndarray, name: str):
    """Groups of rows put on UTC, each by itself.

    groups : the rows of each that may be used. every : those without a value too, which still tell how the clock ran.
    usable : (n,) which of all rows may be used. longest : (m,) times of the longest record.

    Returns
    -------
    `clock.Timed` by group, the basis as settled by evidence, the cadence in µs, notes.
    """
    longest = longest[::-1] if clock.falls(longest) else longest
    step_us, notes = clock.cadence_us(longest), []
    if basis.kind == "zone":
        basis, notes = time_basis.settle(basis, longest, step_us, name)
    whole = every if basis.kind == "zone" else groups
    timed = {key: clock.place(wall[at], offset_min[at], basis, step_us, usable[at])
             for key, at in whole.items() if key in groups}  # fmt: skip
    return timed, basis, step_us, notes


def put(reader: Reader, shape, stamps, fates, open_: np.ndarray, basis, context):
    """All readings of a table, in time order, and what became of every row.

    Returns
    -------
    Channels, counts, the time basis as settled by evidence, the cadence in µs, notes.
    """
    read = [values_of(reader, probe) for probe in shape.probes]
    values, notes = [v for v, _ in read], [note for _, more in read for note in more]
    if context.need_rh:
        values = _damp(values, notes, context.name)
    reads = [_given(v, context.need_rh) for v in values]
    wall, offset = (a[open_] if len(open_) < len(a) else a for a in (stamps.wall, stamps.offset_min))
    if not all(got.all() for got in reads):
        _set_aside(reader, shape, values, reads, fates, open_, context.need_rh)
    if basis.kind == "rows" and not np.isfinite(offset).all():
        fates.set_aside(open_[~np.isfinite(offset)], NO_OFFSET)
    usable = fates.code[open_] == 0 if fates.code.any() else np.ones(len(open_), bool)
    every = _groups(reader, shape, len(open_))
    some = every if usable.all() else {name: np.arange(len(open_))[at][usable[at]] for name, at in every.items()}
    groups = {name: at for name, at in some.items() if isinstance(at, slice) or len(at)}
    if not groups:
        raise BadInput(
            f"no row holds a reading that can be used ({listed(fates.counts())}). Look whether the sensor is "
            "connected; a file with readings is read.", place=context.name)  # fmt: skip
    longest = max((wall[at] for at in (every if shape.by is None else groups).values()), key=len)
    timed, basis, step_us, more = on_utc(wall, offset, basis, groups, every, usable, longest, context.name)
    notes += more
    channels, repeated = [], 0
    for name, at in groups.items():
        when, mine = timed[name], values if at is ALL else [v.at(at) for v in values]
        again = clock.duplicates(when.utc, [a for v in mine for a in (v.temp_c, v.rh_percent)], when.order)
        repeated += int(again.sum())
        for v, got in zip(mine, reads, strict=True):
            keep = got[at] & ~again
            if keep.any():
                label = v.probe.label if name is None else name if len(values) == 1 else f"{name} {v.probe.label}"
                rows = when.rows(keep)
                arrays = [fixed(a[rows]) for a in (when.utc, v.temp_c, v.rh_percent, reader.line[at])]
                others = {kind: fixed(array[rows]) for kind, array in v.others.items()}
                channels.append(Channel(label, *arrays, others, fixed(v.bound[rows] if len(v.bound) else v.bound)))
    notes += clock.time_notes(list(timed.values()), [c.time for c in channels], step_us, basis)
    if any(v.temp_code.any() or v.rh_code.any() for v in values):
        notes += _partial(values, reads, usable) + _one_sided(values, fates, open_)
    return channels, fates.counts(repeated), basis, step_us, notes


def _damp(values: list[Values], notes: list[str], name: str) -> list[Values]:
    """The probes with humidity; a note names the others."""
    dry = [v.probe.label for v in values if v.probe.rh is None]
    if len(dry) == len(values):
        raise BadInput(NO_HUMIDITY, place=name)
    notes += [f"Probes without humidity were left out: {', '.join(dry)}."] if dry else []
    return [v for v in values if v.probe.rh is not None]


def _groups(reader: Reader, shape, size: int) -> dict[str | None, Rows]:
    """The rows of each probe named in a column, in order of appearance; else all rows."""
    if shape.by is None:
        return {None: ALL} if size else {}
    texts, index = coded(reader.column(shape.by))
    names = [probe_name(t) for t in texts]
    distinct = list(dict.fromkeys(names))
    which = np.array([distinct.index(n) for n in names])[index]
    order = np.argsort(which, kind="stable")
    parts = np.split(order, np.searchsorted(which[order], np.arange(1, len(distinct))))
    return dict(zip(distinct, parts, strict=True))


def probe_name(text: str | None) -> str:
    """A probe's name as a cell gives it."""
    return "".join(c for c in tidy(text or "")[:120] if c.isprintable()) or "not named"


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
