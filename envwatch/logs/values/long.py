"""One quantity a row: temperatures and humidities of the same probe and time are brought together."""

from __future__ import annotations

import numpy as np

from envwatch.core.errors import BadInput
from envwatch.logs.model import Channel
from envwatch.logs.quality.marks import BOUND_RH, BOUND_TEMP
from envwatch.logs.tables.body import Reader
from envwatch.logs.tables.shapes import Column
from envwatch.logs.text.cells import DAMAGE, OK, REASON, TENTHS, celsius, coded, tidy, unit_in
from envwatch.logs.text.roles import ColumnRole, generic, role_of
from envwatch.logs.text.vocabulary import plain
from envwatch.logs.times import clock
from envwatch.logs.values import losses, wide
from envwatch.logs.values.rows import listed

ALONE = "humidity without a temperature at its time"
OTHER = "other quantity without a temperature at its time"
UNKNOWN = "unknown quantity"
NO_TEMPERATURE = "no row holds a temperature that can be used. Export it again with temperatures."
TOGETHER = (
    "The table holds one quantity a row; temperature and humidity of the same probe and time were brought together."
)


def put(reader: Reader, shape, stamps, fates, open_, basis, context):
    """Readings of a long table; the same results as of a wide one."""
    read = reader.numbers(Column(shape.value, "value", ColumnRole(None), 1.0, 1.0))
    kinds, labels, unit_of, tenths = _kinds(reader, shape)
    if tenths.any() and (read.values[tenths & np.isfinite(read.values)] % 1 == 0).all():
        read = read._replace(values=np.where(tenths, np.round(read.values / 10, 6), read.values))
        reader.notes.append("Quantities in tenths, as their names or units say, were divided by 10.")
    unknown = _unknown(reader, shape, unit_of)
    wall, offset = (a[open_] if len(open_) < len(a) else a for a in (stamps.wall, stamps.offset_min))
    (code,), bound, notes = wide.bounds_apart((read.code,), (1,))
    bound = bound * np.where(kinds == "rh", BOUND_RH, BOUND_TEMP).astype(np.uint16) if len(bound) else bound
    values, code, more = _converted(read._replace(code=code), kinds, unit_of, context)
    notes += more
    for reason_code, reason in REASON.items():
        fates.set_aside(open_[(code == reason_code)], reason)
    fates.set_aside(open_[kinds == ""], UNKNOWN)
    if basis.kind == "rows":
        fates.set_aside(open_[~np.isfinite(offset)], wide.NO_OFFSET)
    usable = fates.code[open_] == 0
    groups, every = (_groups(kinds, labels, some) for some in (usable, np.ones(len(open_), bool)))
    warm = [probe for probe, kind in groups if kind == "temp"]
    if not warm:
        raise BadInput(NO_TEMPERATURE, place=context.name)
    if context.need_rh and not any(kind == "rh" for _, kind in groups):
        raise BadInput(wide.NO_HUMIDITY, place=context.name)
    longest = max((wall[every[key]] for key in groups), key=len)
    placed, basis, step_us, more = wide.on_utc(wall, offset, basis, groups, every, usable, longest, context.name)
    notes += more
    timed = {key: (rows, placed[key]) for key, rows in groups.items()}
    duplicate = np.zeros(len(open_), bool)
    for rows, when in timed.values():
        duplicate[rows] = clock.duplicates(when.utc, [values[rows]], when.order)
    joined = [_joined(probe, timed, values, bound, duplicate, fates, open_, reader.line, step_us, context.need_rh)
              for probe in warm]  # fmt: skip
    channels = [channel for channel, _ in joined if len(channel.time)]
    for (probe, kind), (rows, _) in timed.items():  # of a probe that measures no temperature
        if probe not in warm:
            fates.set_aside(open_[rows[~duplicate[rows]]], ALONE if kind == "rh" else OTHER)
    counted = fates.counts(int((duplicate & (fates.code[open_] == 0)).sum()))
    if not channels:
        raise BadInput(
            f"no row holds a reading that can be used ({listed(counted)}). Export temperature and "
            "humidity of the same times.", place=context.name)  # fmt: skip
    notes += [note for _, more in joined for note in more]
    notes += clock.time_notes(list(placed.values()), [c.time for c in channels], step_us, basis)
    notes += [TOGETHER, *unknown, *_one_sided(every, values, code)]
    return channels, counted, basis, step_us, notes


def _kinds(reader: Reader, shape):
    """Per row: the quantity, the probe's label, and the unit its texts give."""
    texts, index = coded(reader.column(shape.quantity))
    roles = [role_of(tidy(t or "")) for t in texts]
    kinds = np.array([r.kind or "" for r in roles], dtype=object)[index]
    unit_of = np.array([r.unit or "" for r in roles], dtype=object)[index]
    tenths = np.array([r.tenths for r in roles])[index]
    own = ["" if generic(r.label) else r.label for r in roles]
    of_kind = [{label for label, r in zip(own, roles, strict=True) if r.kind == kind} for kind in ("temp", "rh")]
    one = all(len(labels) == 1 for labels in of_kind)  # "AMB_TEMP" beside "RH" is the same probe's
    labels = np.array([next(iter(of_kind[0] & of_kind[1]), "") if one else label for label in own], dtype=object)[index]
    if shape.by is not None:
        names, at = coded(reader.column(shape.by))
        labels = np.array([wide.probe_name(n) for n in names], dtype=object)[at]
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
            shown = " and ".join(wide.NAMES.get(unit, unit) for unit in sorted(held))
            found.append(f"! {rows.sum():,} rows of {text!r} in {shown} were left out: the quantity is not known.")
    return found


def _converted(read, kinds, unit_of, context):
    values, code, notes = read.values.copy(), read.code.copy(), []
    for kind in ("temp", "rh", "dew_point_c"):
        rows, more = kinds == kind, []
        for unit in dict.fromkeys(unit_of[rows].tolist()):
            some, told = rows & (unit_of == unit), context.answers.temp_unit
            own = next((u for u in (unit, read.unit) if u in wide.NAMES), None)
            if kind == "rh":
                values[some], more = wide.humidity(values[some], unit or None, context.name, "humidity")
            elif kind == "temp":
                values[some], more = wide.temperature(values[some], own, told, context.name, "temperature")
            else:
                values[some] = celsius(values[some], told or own or "C")
            notes += more
        values[rows], code[rows] = wide.without_errors(kind, values[rows], code[rows])
    return values, np.where(code == DAMAGE, OK, code), notes


def _groups(kinds, labels, usable) -> dict[tuple[str, str], np.ndarray]:
    """The usable rows of each probe and quantity, in file order."""
    found: dict[tuple[str, str], list[int]] = {}
    for row in np.flatnonzero(usable).tolist():
        found.setdefault((labels[row], kinds[row]), []).append(row)
    return {key: np.array(rows) for key, rows in found.items()}


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
            others[kind] = wide.fixed(np.where(o_at >= 0, values[o_rows][o_at], np.nan)[keep])
            fates.set_aside(open_[np.setdiff1d(o_rows, o_rows[o_at[o_at >= 0]])], OTHER)
    arrays = [wide.fixed(a) for a in (time[keep], values[rows][keep], rh[keep], line[rows][keep])]
    if len(bound):
        own = np.where(at >= 0, bound[h_rows][at], 0) if len(h_rows) else np.zeros(len(time), np.uint16)
        bound = wide.fixed((bound[rows] | own).astype(np.uint16)[keep])
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
