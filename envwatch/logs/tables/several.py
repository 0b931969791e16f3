"""One file that holds several tables: sheets, tables side by side with times of their own, tables one below another."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import reduce
from typing import NamedTuple

import numpy as np

from envwatch.core.errors import BadInput
from envwatch.logs.model import Channel, Counts, Layout
from envwatch.logs.tables.body import Body
from envwatch.logs.tables.find import Start
from envwatch.logs.tables.header import label_in, nameless
from envwatch.logs.text.roles import role_of
from envwatch.logs.text.stamps import DAY_US
from envwatch.logs.text.vocabulary import MONTHS, plain, tokens
from envwatch.logs.times.columns import kind_of

SHEETS = "Several sheets hold readings; each was taken for a probe, named by its sheet."
BESIDE = "Several tables stand side by side, each with times of its own; each was read by its own times."
IN_TURN = "Sheets {} follow one another and were read as one record."
SHEET_WORDS = {"sheet", "blatt", "tabelle", "feuille", "feuil", "hoja", "foglio", "planilha", "folha", "blad",
               "week", "woche", "kw", "semaine", "semana", "month", "monat", "part", "teil"}  # fmt: skip
RUNS_ON_STEPS = 10
OTHERS = "Another logger's record begins on line {}; each was taken for a probe, named by its logger."
BELOW = "A second table with another header begins on line {}; both were read, and count as one record."
LEFT_OUT = "A small table of {} rows above the readings was left out; the readings begin on line {}."
SMALL = "in a small table above the readings"
FEW_ROWS, FEW_SHARE = 10, 0.05


class DataRows(NamedTuple):
    """The data rows of one table: (n,) their lines, and (n,) why each is set aside, "" where it is not."""

    line: np.ndarray
    reason: np.ndarray


class Parsed(NamedTuple):
    """What one table gave."""

    channels: list[Channel]
    counts: Counts
    layout: Layout
    notes: list[str]
    events: list[tuple[int, str]]
    label: str | None
    rows: DataRows | None = None


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


def once(parts: list[tuple[str, Parsed]]) -> tuple[Counts, list[str]]:
    """Lines that several tables share, each once: used where any table used it; and what single tables left out."""
    every = np.unique(np.concatenate([p.rows.line for _, p in parts if p.rows]))
    used = np.zeros(len(every), bool)
    reason = np.full(len(every), "", object)
    for _, p in parts:
        for c in p.channels:
            used[np.searchsorted(every, c.line)] = True
        if p.rows:
            some = p.rows.reason != ""
            reason[np.searchsorted(every, p.rows.line[some])] = p.rows.reason[some]
    lost = [(title, p.rows.line[p.rows.reason != ""]) for title, p in parts if p.rows]
    missing = {title: int(used[np.searchsorted(every, line)].sum()) for title, line in lost}
    said = ", ".join(f"{title}: {n}" for title, n in missing.items() if n)
    names, counts = np.unique(reason[~used].astype(str), return_counts=True)
    aside = {str(n): int(c) for n, c in zip(names, counts, strict=True) if n}
    again = len(every) - int(used.sum()) - sum(aside.values())
    notes = [f"Rows in which a probe gave no reading while another did: {said}."] if said else []
    return Counts(len(every), int(used.sum()), again, aside), notes


def together(done: list[tuple[str, Parsed]], note: str) -> Parsed:
    """Several tables with readings: each is a probe of its own, named by its title."""
    channels = []
    for title, parsed in done:
        for c in parsed.channels:
            name = title if len(parsed.channels) == 1 else f"{title} {c.label}"
            channels.append(replace(c, label=name))
    first = done[0][1]
    counts, more = once(done) if note == BESIDE else (total([p.counts for _, p in done]), [])
    notes = [*(n for _, p in done for n in p.notes), *more, note]
    events = sorted({e for _, p in done for e in p.events})
    label = first.label if len({p.label for _, p in done} - {None}) < 2 else None
    return Parsed(channels, counts, first.layout, notes, events, label)


def of_sheets(done: list[tuple[str, Parsed]]) -> Parsed:
    """A workbook's sheets: one record where one logger's follow one another, or, where not all name a logger, are named
    by time or number alone and each runs on from the last.
    """
    tables = sorted((parsed for _, parsed in done), key=lambda parsed: int(parsed.channels[0].time[0]))
    alike = all(_probes(p) == _probes(tables[0]) and len(p.channels) == len(tables[0].channels) for p in tables)
    own = {p.label for p in tables}
    same, words = len(own) == 1 and None not in own, [[*tokens(plain(title))] for title, _ in done]
    apart = [w for some in words for w in some if not all(w in other for other in words)]
    runs = (
        alike and len(own - {None}) < 2 and all(_runs_on(a, b, same) for a, b in zip(tables, tables[1:], strict=False))
    )
    if not runs or not (same or all(map(_numbered, apart))):
        return together(done, SHEETS)
    first = tables[0]
    channels = [reduce(_one, parts) for parts in zip(*(p.channels for p in tables), strict=True)]
    notes = [*(n for _, p in done for n in p.notes), IN_TURN.format(", ".join(title for title, _ in done[:12]))]
    events = sorted(e for p in tables for e in p.events)
    return Parsed(
        channels, total([p.counts for p in tables]), first.layout, notes, events, next(iter(own - {None}), None)
    )


def _numbered(word: str) -> bool:
    """Whether a word of a sheet's name is a date, a month, a number or the word for a sheet."""
    return word.isdigit() or word in MONTHS or nameless(word) or word in SHEET_WORDS


def _runs_on(a: Parsed, b: Parsed, ever: bool) -> bool:
    """Whether every probe of a table begins again after it ended in another: soon, or whenever."""
    most = np.inf if ever else max(b.layout.cadence_s * 1e6 * RUNS_ON_STEPS, DAY_US)
    return all(0 < y.time[0] - x.time[-1] <= most for x, y in zip(a.channels, b.channels, strict=True))


def beside(start: Start, body: Body, timely: list[int]) -> list[tuple[Start, Body]]:
    """Tables side by side, each with times of its own and a temperature; fewer than two: nothing.

    timely : the columns that are called a time.
    """
    begins = [i for i in timely if i - 1 not in timely and i < len(body.columns) and _dated(body, i)]
    if len(begins) < 2:
        return []
    ends = [*begins[1:], start.width]
    spans = list(zip(begins, ends, strict=True))
    kinds = [{role_of(n).kind for n in start.names[lo:hi]} for lo, hi in spans]
    if begins[0] > 1 or not all("temp" in k for k in kinds) or _same_times(body, begins):
        return []
    return [(_part(start, lo, hi), _columns(body, lo, hi)) for lo, hi in spans]


def other_logger(above: list[tuple[int, list[str]]], own: str | None, name: str) -> None:
    """A header that is repeated below lines of its own, which name another logger, begins another record.

    above : per repeated header the first of those lines and their texts. own : the label above the first table.

    Raises
    ------
    SecondTable : one of them names another logger.
    """
    for line, texts in above:
        theirs = label_in(texts, [])
        if theirs and theirs != own:
            raise SecondTable(
                f"{name}, line {line}: the record of another logger ({theirs[:40]!r}) begins here. Split the file in "
                "two.", line,
            )  # fmt: skip


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
        left = Counts(first.counts.data_rows, 0, 0, {SMALL: first.counts.data_rows})
        return second._replace(counts=total([left, second.counts]))
    same_probes = _probes(first) == _probes(second) and len(first.channels) == len(second.channels)
    overlap = same_probes and any(
        a.time[0] <= b.time[-1] and b.time[0] <= a.time[-1]
        for a, b in zip(first.channels, second.channels, strict=True)
    )
    if second.label and second.label != first.label and (first.label or overlap):
        return together([(first.label or "1", first), (second.label, second)], OTHERS.format(found.line))
    if not same_probes or overlap:
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
    bound = [c.bound if len(c.bound) else np.zeros(len(c.time), np.uint16) for c in (a, b)]
    bounded = len(a.bound) or len(b.bound)
    return Channel(a.label, time, temp_c, rh, line, others, _fixed(np.concatenate(bound)) if bounded else a.bound)


def _fixed(array: np.ndarray) -> np.ndarray:
    array.flags.writeable = False
    return array
