"""One file that holds several tables: sheets, tables side by side with times of their own, tables one below another."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from envwatch.errors import BadInput
from envwatch.logs.body import Body
from envwatch.logs.model import Channel, Counts, Layout
from envwatch.logs.roles import role_of, time_word
from envwatch.logs.table import Start
from envwatch.logs.timecolumns import kind_of

SHEETS = "Several sheets hold readings; each was taken for a probe, named by its sheet."
BESIDE = "Several tables stand side by side, each with times of its own; each was read by its own times."
BELOW = "A second table with another header begins on line {}; both were read, and count as one record."
LEFT_OUT = "A small table of {} rows above the readings was left out; the readings begin on line {}."
FEW_ROWS, FEW_SHARE = 10, 0.05


class Parsed(NamedTuple):
    """What one table gave."""

    channels: list[Channel]
    counts: Counts
    layout: Layout
    notes: list[str]
    events: list[tuple[int, str]]
    label: str | None


class SecondTable(BadInput):
    """Another header stands in the middle of a table, at `line`."""

    def __init__(self, message: str, line: int) -> None:
        super().__init__(message)
        self.line = line


def total(counts: list[Counts]) -> Counts:
    """All rows of several tables, each once."""
    aside: dict[str, int] = {}
    for some in counts:
        for reason, count in some.set_aside.items():
            aside[reason] = aside.get(reason, 0) + count
    data, used, again = (sum(getattr(c, k) for c in counts) for k in ("data_rows", "used", "duplicate"))
    return Counts(data, used, again, aside)


def together(done: list[tuple[str, Parsed]], note: str) -> Parsed:
    """Several tables with readings: each is a probe of its own, named by its title."""
    channels = []
    for title, parsed in done:
        for c in parsed.channels:
            name = title if len(parsed.channels) == 1 else f"{title} {c.label}"
            channels.append(Channel(name, c.time, c.temp_c, c.rh_percent, c.line, c.others))
    first = done[0][1]
    notes = [*(n for _, p in done for n in p.notes), note]
    events = sorted({e for _, p in done for e in p.events})
    return Parsed(channels, total([p.counts for _, p in done]), first.layout, notes, events, first.label)


def beside(start: Start, body: Body) -> list[tuple[Start, Body]]:
    """Tables side by side, each with times of its own and a temperature; fewer than two: nothing."""
    timely = [i for i, n in enumerate(start.names) if time_word(n) in ("stamp", "date", "time")]
    if len(timely) < 2 or start.parts or start.paired is not None:
        return []
    begins = [i for i in timely if i - 1 not in timely and i < len(body.columns) and _dated(body, i)]
    if len(begins) < 2:
        return []
    ends = [*begins[1:], start.width]
    spans = list(zip(begins, ends, strict=True))
    kinds = [{role_of(n).kind for n in start.names[lo:hi]} for lo, hi in spans]
    if begins[0] > 1 or not all("temp" in k for k in kinds) or _same_times(body, begins):
        return []
    return [(_part(start, lo, hi), _columns(body, lo, hi)) for lo, hi in spans]


def _dated(body: Body, at: int) -> bool:
    return kind_of(body.columns[at]) in ("full", "date", "epoch", "serial")


def _same_times(body: Body, begins: list[int]) -> bool:
    first = body.columns[begins[0]]
    return all(body.columns[i].equals(first) for i in begins[1:])


def _part(start: Start, lo: int, hi: int) -> Start:
    return start._replace(width=hi - lo, names=start.names[lo:hi], units=start.units[lo:hi])


def _columns(body: Body, lo: int, hi: int) -> Body:
    count = np.clip(body.n_fields - lo, 0, hi - lo).astype(np.int32)
    return Body(list(body.columns[lo:hi]), count, body.line)


def probe_titles(parts: list[Parsed]) -> list[str]:
    """Their own labels where these differ, else 1, 2, ..."""
    own = [p.channels[0].label if len(p.channels) == 1 else "" for p in parts]
    return own if all(own) and len(set(own)) == len(own) else [str(i) for i in range(1, len(parts) + 1)]


def below(text: list[str], found: SecondTable, read: Callable[[list[str], bool], Parsed], ends_clean: bool) -> Parsed:
    """Two tables one below the other: one record where their times do not overlap.

    Raises
    ------
    SecondTable : their times overlap or their probes differ, so they are not one record.
    """
    at = found.line - 1
    second = read([""] * at + text[at:], ends_clean)
    try:
        first = read(text[:at], True)
    except BadInput:
        raise found from None
    if first.counts.data_rows < min(FEW_ROWS, FEW_SHARE * second.counts.data_rows):
        second.notes.append(LEFT_OUT.format(first.counts.data_rows, found.line))
        return second
    if _probes(first) != _probes(second) or any(
        a.time[0] <= b.time[-1] and b.time[0] <= a.time[-1]
        for a, b in zip(first.channels, second.channels, strict=True)
    ):
        raise found
    channels = [_one(a, b) for a, b in zip(first.channels, second.channels, strict=True)]
    notes = [*first.notes, *second.notes, BELOW.format(found.line)]
    events = sorted({*first.events, *second.events})
    return Parsed(channels, total([first.counts, second.counts]), first.layout, notes, events, first.label)


def _probes(parsed: Parsed) -> set[tuple[str, str]]:
    """Which quantities of which probes a table holds, by the names of its columns."""
    named = [said.rpartition(": ")[::2] for said in parsed.layout.columns if ", probe " in said]
    return {(what, role_of(name).label) for name, what in named if what.startswith(("temperature", "relative"))}


def _one(a: Channel, b: Channel) -> Channel:
    """One probe's two stretches, the earlier first."""
    a, b = (a, b) if a.time[0] <= b.time[0] else (b, a)
    others = {}
    for name in {**a.others, **b.others}:
        parts = [c.others.get(name, np.full(len(c.time), np.nan)) for c in (a, b)]
        others[name] = _fixed(np.concatenate(parts))
    time, temp_c, rh, line = (
        _fixed(np.concatenate([getattr(c, k) for c in (a, b)])) for k in ("time", "temp_c", "rh_percent", "line")
    )
    return Channel(a.label, time, temp_c, rh, line, others)


def _fixed(array: np.ndarray) -> np.ndarray:
    array.flags.writeable = False
    return array
