"""One quantity a row: temperatures and humidities of the same probe and time are brought together."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from envwatch.core.errors import BadInput
from envwatch.logs.model import Channel
from envwatch.logs.quality.marks import BOUND_RH, BOUND_TEMP
from envwatch.logs.tables.body import Reader
from envwatch.logs.tables.shapes import Column
from envwatch.logs.text.cells import DAMAGE, OK, REASON, TENTHS, coded, tidy, unit_in
from envwatch.logs.text.roles import ColumnRole, generic, role_of
from envwatch.logs.text.vocabulary import plain
from envwatch.logs.times import clock
from envwatch.logs.times import offset as time_basis
from envwatch.logs.values import losses, units
from envwatch.logs.values.rows import listed
from envwatch.logs.values.wide import bounds_apart, fixed

ALONE = "humidity without a temperature at its time"
OTHER = "other quantity without a temperature at its time"
UNKNOWN = "unknown quantity"
TOGETHER = (
    "The table holds one quantity a row; temperature and humidity of the same probe and time were brought together."
)


class Quantity(NamedTuple):
    """The rows of one probe that hold one quantity, in file order."""

    probe: str
    kind: str
    rows: np.ndarray


def put(reader: Reader, shape, stamps, fates, open_, basis, context):
    """Readings of a long table; the same results as of a wide one."""
    read = reader.numbers(_column(shape.value, "value"))
    kinds, labels, unit_of, tenths = _kinds(reader, shape)
    if tenths.any() and (read.values[tenths & np.isfinite(read.values)] % 1 == 0).all():
        read = read._replace(values=np.where(tenths, np.round(read.values / 10, 6), read.values))
        reader.notes.append("Quantities in tenths, as their names or units say, were divided by 10.")
    unknown = _unknown(reader, shape, unit_of)
    wall, offset = (a[open_] if len(open_) != len(stamps.wall) else a for a in (stamps.wall, stamps.offset_min))
    (code,), bound, notes = bounds_apart((read.code,), (1,))
    bound = bound * np.where(kinds == "rh", BOUND_RH, BOUND_TEMP).astype(np.uint16) if len(bound) else bound
    values, code, more = _converted(read._replace(code=code), kinds, unit_of, context)
    notes += more
    for reason_code, reason in REASON.items():
        fates.set_aside(open_[(code == reason_code)], reason)
    fates.set_aside(open_[kinds == ""], UNKNOWN)
    if basis.kind == "rows":
        fates.set_aside(open_[~np.isfinite(offset)], "no offset from UTC, unlike the other rows")
    usable = fates.code[open_] == 0
    groups = _groups(kinds, labels, usable)
    temps = [g for g in groups if g.kind == "temp"]
    _refuse(temps, groups, context)
    # rows without a value still tell how the clock ran
    every = {(g.probe, g.kind): g.rows for g in _groups(kinds, labels, np.ones(len(open_), bool))}
    longest = wall[max((every[g.probe, g.kind] for g in groups), key=len)]
    longest = longest[::-1] if clock.falls(longest) else longest
    step_us = clock.cadence_us(longest)
    if basis.kind == "zone":
        basis, more = time_basis.settle(basis, longest, step_us, context.name)
        notes += more
    timed = {}
    for g in groups:
        whole = every[g.probe, g.kind] if basis.kind == "zone" else g.rows
        timed[g.probe, g.kind] = (g.rows, clock.place(wall[whole], offset[whole], basis, step_us, usable[whole]))
    duplicate = _duplicates(timed, values, len(open_))
    joined = [
        _joined(g.probe, timed, values, bound, duplicate, fates, open_, reader.line, step_us, context.need_rh)
        for g in temps
    ]
    channels = [channel for channel, _ in joined if len(channel.time)]
    _strays(timed, temps, fates, open_, duplicate)
    counted = fates.counts(int((duplicate & (fates.code[open_] == 0)).sum()))
    if not channels:
        raise BadInput(
            f"no row holds a reading that can be used ({listed(counted)}). Export temperature and "
            "humidity of the same times.", place=context.name)  # fmt: skip
    notes += [note for _, more in joined for note in more]
    notes += clock.time_notes([t for _, t in timed.values()], [c.time for c in channels], step_us, basis)
    notes += [TOGETHER, *unknown, *_one_sided(every, values, code)]
    return channels, counted, basis, step_us, notes


def _refuse(temps: list[Quantity], groups: list[Quantity], context) -> None:
    if not temps:
        raise BadInput(
            "no row holds a temperature that can be used. Export it again with temperatures.", place=context.name
        )
    if context.need_rh and not any(g.kind == "rh" for g in groups):
        raise BadInput(
            "the file holds no relative humidity, only temperature. Export the humidity too.", place=context.name
        )


def _column(at: int, name: str):
    return Column(at, name, ColumnRole(None), 1.0, 1.0)


def _kinds(reader: Reader, shape):
    """Per row: the quantity, the probe's label, and the unit its texts give."""
    texts, index = coded(reader.column(shape.quantity))
    roles = [role_of(tidy(t or "")) for t in texts]
    kinds = np.array([r.kind or "" for r in roles], dtype=object)[index]
    unit_of = np.array([r.unit or "" for r in roles], dtype=object)[index]
    tenths = np.array([r.tenths for r in roles])[index]
    own = [_own_label(r.label) for r in roles]
    of_kind = [{label for label, r in zip(own, roles, strict=True) if r.kind == kind} for kind in ("temp", "rh")]
    one = all(len(labels) == 1 for labels in of_kind)  # "AMB_TEMP" beside "RH" is the same probe's
    labels = np.array([next(iter(of_kind[0] & of_kind[1]), "") if one else label for label in own], dtype=object)[index]
    if shape.by is not None:
        names, at = coded(reader.column(shape.by))
        shown = ["".join(c for c in tidy(n or "")[:120] if c.isprintable()) or "not named" for n in names]
        labels = np.array(shown, dtype=object)[at]
    if shape.unit is not None:
        cells, at = coded(reader.column(shape.unit))
        own = np.array([unit_in(" " + tidy(c or "")) or unit_in(tidy(c or "")) or "" for c in cells], dtype=object)[at]
        unit_of = np.where(own != "", own, unit_of)
        tenths |= np.array([TENTHS.search(plain(c or "")) is not None for c in cells])[at]
    return kinds, labels, unit_of, tenths


def _unknown(reader: Reader, shape, unit_of) -> list[str]:
    """Quantities in °C or percent whose names say nothing: their rows are left out, and not in silence."""
    texts, index = coded(reader.column(shape.quantity))
    found = []
    for at, text in enumerate(texts):
        rows = index == at
        held = {*unit_of[rows].tolist()} & {"C", "F", "K", "%"}
        if held and role_of(tidy(text or "")).kind is None:
            shown = " and ".join(units.NAMES.get(unit, unit) for unit in sorted(held))
            found.append(f"! {rows.sum():,} rows of {text!r} in {shown} were left out: the quantity is not known.")
    return found


def _own_label(label: str) -> str:
    return "" if generic(label) else label


def _converted(read, kinds, unit_of, context):
    values, code, notes = read.values.copy(), read.code.copy(), []
    for kind in ("temp", "rh", "dew_point_c"):
        rows = kinds == kind
        for unit in dict.fromkeys(unit_of[rows].tolist()):
            some = rows & (unit_of == unit)
            if kind == "rh":
                values[some], more = units.humidity(values[some], unit or None, context.name, "humidity")
            else:
                told = context.answers.temp_unit
                own = unit if unit in ("C", "F", "K") else read.unit if read.unit in ("C", "F", "K") else None
                if kind == "temp":
                    values[some], more = units.temperature(values[some], own, told, context.name, "temperature")
                else:
                    values[some], more = units.celsius(values[some], told or own or "C"), []
            notes += more
        values[rows], code[rows] = units.without_errors(kind, values[rows], code[rows])
    return values, np.where(code == DAMAGE, OK, code), notes


def _groups(kinds, labels, usable) -> list[Quantity]:
    found: dict[tuple[str, str], list[int]] = {}
    for row in np.flatnonzero(usable).tolist():
        found.setdefault((labels[row], kinds[row]), []).append(row)
    return [Quantity(probe, kind, np.array(rows)) for (probe, kind), rows in found.items()]


def _duplicates(timed, values, size: int) -> np.ndarray:
    again = np.zeros(size, bool)
    for rows, when in timed.values():
        again[rows] = clock.duplicates(when.utc, [values[rows]], when.order)
    return again


def _in_order(timed, key, duplicate) -> tuple[np.ndarray, np.ndarray]:
    """UTC and rows of one probe's quantity, in time order, without repeats."""
    if key not in timed:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    rows, when = timed[key]
    order = when.rows(~duplicate[rows])
    return when.utc[order], rows[order]


def _joined(probe: str, timed, values, bound, duplicate, fates, open_, line, step_us: int, need_rh: bool):
    """One probe: each temperature with the humidity of its time, or the nearest where the times differ throughout."""
    time, rows = _in_order(timed, (probe, "temp"), duplicate)
    h_time, h_rows = _in_order(timed, (probe, "rh"), duplicate)
    notes: list[str] = []
    at = _match(_numbered(time), _numbered(h_time))
    if len(h_time) and (at >= 0).mean() < 0.5:
        reach = max(60_000_000, step_us // 2)
        at, apart = _nearest(time, h_time, reach)
        notes.append("Temperature and humidity bear different times; each temperature was joined with the "
                     "humidity nearest to it, "
                     f"at most {apart / 1e6:.0f} s away.")  # fmt: skip
    rh = np.where(at >= 0, values[h_rows][at], np.nan) if len(h_rows) else np.full(len(time), np.nan)
    if len(h_rows):
        fates.set_aside(open_[np.setdiff1d(h_rows, h_rows[at[at >= 0]])], ALONE)
    keep = np.isfinite(rh) if need_rh else np.ones(len(time), bool)
    fates.set_aside(open_[rows[~keep]], "temperature without a humidity at its time")
    others = {}
    for (name, kind), _ in timed.items():
        if name == probe and kind not in ("temp", "rh", ""):
            o_time, o_rows = _in_order(timed, (probe, kind), duplicate)
            o_at = _match(_numbered(time), _numbered(o_time))
            others[kind] = fixed(np.where(o_at >= 0, values[o_rows][o_at], np.nan)[keep])
            fates.set_aside(open_[np.setdiff1d(o_rows, o_rows[o_at[o_at >= 0]])], OTHER)
    arrays = [fixed(a) for a in (time[keep], values[rows][keep], rh[keep], line[rows][keep])]
    if len(bound):
        own = np.where(at >= 0, bound[h_rows][at], 0) if len(h_rows) else np.zeros(len(time), np.uint16)
        bound = fixed((bound[rows] | own).astype(np.uint16)[keep])
    channel = Channel(probe or "1", arrays[0], arrays[1], arrays[2], arrays[3], others, bound)
    return channel, notes


def _one_sided(every, values, code) -> list[str]:
    """Losses at one end of a probe's record."""
    found = []
    for (_, kind), rows in every.items():
        none = np.full(len(rows), np.nan), np.zeros(len(rows), np.uint8)
        if kind in ("temp", "rh") and code[rows].any():
            own = values[rows], code[rows]
            found += losses.one_sided(*((*own, *none) if kind == "temp" else (*none, *own)))
    return found


def _numbered(time: np.ndarray) -> np.ndarray:
    """Equal times are told apart by their place among themselves: (n, 2)."""
    first = np.searchsorted(time, time, side="left")
    return np.stack([time, np.arange(len(time)) - first], axis=1)


def _match(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    """For each left key the place of the equal right key; -1 where there is none. Both in order."""
    if not len(right) or not len(left):
        return np.full(len(left), -1)
    at = np.searchsorted(right[:, 0], left[:, 0], side="left") + left[:, 1]
    inside = np.minimum(at, len(right) - 1)
    return np.where((at < len(right)) & (right[inside] == left).all(axis=1), inside, -1)


def _nearest(time: np.ndarray, other: np.ndarray, reach: int) -> tuple[np.ndarray, int]:
    after = np.clip(np.searchsorted(other, time), 0, len(other) - 1)
    before = np.maximum(after - 1, 0)
    at = np.where(np.abs(other[after] - time) < np.abs(other[before] - time), after, before)
    apart = np.abs(other[at] - time)
    return np.where(apart <= reach, at, -1), int(apart[apart <= reach].max(initial=0))


def _strays(timed, temps, fates, open_, duplicate) -> None:
    """Quantities of a probe that measures no temperature."""
    warm = {g.probe for g in temps}
    for (probe, kind), (rows, _) in timed.items():
        if probe not in warm:
            fates.set_aside(open_[rows[~duplicate[rows]]], ALONE if kind == "rh" else OTHER)
