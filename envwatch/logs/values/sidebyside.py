"""Readings side by side, put on UTC: one row a time, for one probe, several, or one named in each row."""

from __future__ import annotations

import numpy as np

from envwatch.core.errors import BadInput
from envwatch.logs.model import Channel
from envwatch.logs.tables.columns import Reader
from envwatch.logs.text.cells import coded, tidy
from envwatch.logs.times import offset as time_basis
from envwatch.logs.times import utc
from envwatch.logs.values import losses, wide
from envwatch.logs.values.tally import counts, listed, time_notes

Rows = slice | np.ndarray
ALL = slice(None)


def put(reader: Reader, shape, stamps, fates, open_: np.ndarray, basis, context):
    """All readings of a table, in time order, and what became of every row.

    Returns
    -------
    Channels, counts, the time basis as settled by evidence, the cadence in µs, notes.
    """
    values, notes = _values(reader, shape, context)
    reads = [wide.given(v, context.need_rh) for v in values]
    everything = len(open_) == len(stamps.wall)
    wall, offset = (stamps.wall, stamps.offset_min) if everything else (stamps.wall[open_], stamps.offset_min[open_])
    _set_aside(reader, shape, values, reads, fates, open_, basis, offset, context)
    usable = fates.code[open_] == 0 if fates.code.any() else np.ones(len(open_), bool)
    groups = _groups(reader, shape, usable)
    if not groups:
        raise BadInput(
            f"no row holds a reading that can be used ({listed(fates.counted())}). Look whether the sensor is "
            "connected; a file with readings is read.",
            place=context.name,
        )
    # rows without a value still tell how the clock ran
    longest = utc.rising(
        wall if shape.by is None else wall[max((at for _, at in groups), key=lambda at: len(wall[at]))]
    )
    step_us = utc.cadence_us(longest)
    basis, more = time_basis.settle(basis, longest, step_us, context.name)
    notes += more
    channels: list[Channel] = []
    again_total = unsure = skipped = restarts = 0
    every = _groups(reader, shape, np.ones(len(open_), bool)) if basis.kind == "zone" and not usable.all() else groups
    rows_of = dict(every)
    for name, at in groups:
        whole = rows_of[name]
        timed = utc.place(wall[whole], offset[whole], basis, step_us, usable[whole])
        mine = [v.at(at) for v in values]
        again = utc.duplicates(timed.utc, [a for v in mine for a in (v.temp_c, v.rh_percent)], timed.order)
        again_total += int(again.sum())
        unsure, skipped, restarts = unsure + timed.unsure, skipped + timed.skipped, restarts + timed.restarts
        for v, got in zip(mine, reads, strict=True):
            keep = got[at] & ~again
            if keep.any():
                label = v.probe.label if name is None else name if len(values) == 1 else f"{name} {v.probe.label}"
                channels.append(wide.channel(v, label, timed, keep, reader.line[at]))
    notes += time_notes(unsure, skipped, restarts, channels, step_us, basis)
    notes += _partial(values, reads, usable)
    notes += _one_sided(values, fates, open_)
    return channels, counts(fates, again_total), basis, step_us, notes


def _values(reader: Reader, shape, context) -> tuple[list[wide.Values], list[str]]:
    values, notes = [], []
    for probe in shape.probes:
        got, more = wide.values_of(reader, probe)
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
        for mask, reason in wide.why_not(values, context.need_rh, eventful):
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
    if all(v.temp_code.max(initial=0) == v.rh_code.max(initial=0) == 0 for v in values):
        return []
    rows = np.array([reason != wide.NO_READING for reason in fates.reasons])[fates.code[open_]]
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
