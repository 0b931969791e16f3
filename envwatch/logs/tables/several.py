"""One file that holds several tables: sheets, tables side by side with times of their own, tables one below another."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from functools import reduce
from operator import attrgetter
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
    aside = sum((Counter(c.set_aside) for c in counts), Counter())
    data, used, again = (sum(getattr(c, k) for c in counts) for k in ("data_rows", "used", "duplicate"))
    return Counts(data, used, again, dict(aside))


def once(parts: list[tuple[str, Parsed]]) -> tuple[Counts, list[str]]:
    """Lines that several tables share, each once: used where any table used it; and what single tables left out."""
    of_rows = [(title, p.channels, p.rows) for title, p in parts if p.rows]
    every = np.unique(np.concatenate([rows.line for _, _, rows in of_rows]))
    used, reason = np.zeros(len(every), bool), np.full(len(every), "", object)
    lost = {}
    for title, channels, rows in of_rows:
        for c in channels:
            used[np.searchsorted(every, c.line)] = True
        at = np.searchsorted(every, rows.line[rows.reason != ""])
        lost[title], reason[at] = at, rows.reason[rows.reason != ""]
    said = ", ".join(f"{title}: {n}" for title, at in lost.items() if (n := int(used[at].sum())))
    names, counts = np.unique(reason[~used].astype(str), return_counts=True)
    aside = {str(n): int(c) for n, c in zip(names, counts, strict=True) if n}
    again = len(every) - int(used.sum()) - sum(aside.values())
    notes = [f"Rows in which a probe gave no reading while another did: {said}."] if said else []
    return Counts(len(every), int(used.sum()), again, aside), notes


def together(done: list[tuple[str, Parsed]], note: str) -> Parsed:
    """Several tables with readings: each is a probe of its own, named by its title."""
    channels = [replace(c, label=title if len(p.channels) == 1 else f"{title} {c.label}")
                for title, p in done for c in p.channels]  # fmt: skip
    counts, more = once(done) if note == BESIDE else (total([p.counts for _, p in done]), [])
    notes = [*(n for _, p in done for n in p.notes), *more, note]
    events = sorted({e for _, p in done for e in p.events})
    label = done[0][1].label if len({p.label for _, p in done} - {None}) < 2 else None
    return Parsed(channels, counts, done[0][1].layout, notes, events, label)


def side_by_side(parts: list[Parsed]) -> Parsed:
    """Tables that share their lines: each is a probe, named by its own label where these differ, else 1, 2, ..."""
    own = [p.channels[0].label if len(p.channels) == 1 else "" for p in parts]
    named = all(own) and len(set(own)) == len(own)
    return together(list(zip(own if named else map(str, range(1, len(parts) + 1)), parts, strict=True)), BESIDE)


def _in_turn(tables: list[Parsed], notes: list[str], label: str | None) -> Parsed:
    """Tables that follow one another as one record of the same probes."""
    channels = [reduce(_one, parts) for parts in zip(*(p.channels for p in tables), strict=True)]
    events = sorted(e for p in tables for e in p.events)
    return Parsed(channels, total([p.counts for p in tables]), tables[0].layout, notes, events, label)


def of_sheets(done: list[tuple[str, Parsed]]) -> Parsed:
    """A workbook's sheets: one record where one logger's follow one another, or, where not all name a logger, are named
    by time or number alone and each runs on from the last.
    """
    tables = sorted((parsed for _, parsed in done), key=lambda parsed: int(parsed.channels[0].time[0]))
    own, words = {p.label for p in tables}, [[*tokens(plain(title))] for title, _ in done]
    same, apart = len(own) == 1 and None not in own, set().union(*words) - set.intersection(*map(set, words))
    numbered = all(w.isdigit() or w in MONTHS or nameless(w) or w in SHEET_WORDS for w in apart)
    follow = all(_alike(tables[0], p) for p in tables) and all(
        _runs_on(a, b, same) for a, b in zip(tables, tables[1:], strict=False))  # fmt: skip
    if not follow or len(own - {None}) > 1 or not (same or numbered):
        return together(done, SHEETS)
    notes = [*(n for _, p in done for n in p.notes), IN_TURN.format(", ".join(title for title, _ in done[:12]))]
    return _in_turn(tables, notes, next(iter(own - {None}), None))


def _runs_on(a: Parsed, b: Parsed, ever: bool) -> bool:
    """Whether every probe of a table begins again after it ended in another: soon, or whenever."""
    most = np.inf if ever else max(b.layout.cadence_s * 1e6 * RUNS_ON_STEPS, DAY_US)
    return all(0 < y.time[0] - x.time[-1] <= most for x, y in zip(a.channels, b.channels, strict=True))


def beside(start: Start, body: Body, timely: list[int]) -> list[tuple[Start, Body]]:
    """Tables side by side, each with times of its own and a temperature; fewer than two: nothing.

    timely : the columns that are called a time.
    """
    begins = [i for i in timely if i - 1 not in timely and i < len(body.columns)
              and kind_of(body.columns[i]) in ("full", "date", "epoch", "serial")]  # fmt: skip
    spans = [slice(lo, hi) for lo, hi in zip(begins, [*begins[1:], start.width], strict=True)] if begins else []
    warm = all("temp" in {role_of(n).kind for n in start.names[span]} for span in spans)
    times = [body.columns[i] for i in begins]
    if len(begins) < 2 or begins[0] > 1 or not warm or all(column.equals(times[0]) for column in times):
        return []
    found = []
    for span in spans:
        width = span.stop - span.start
        own = start._replace(width=width, names=start.names[span], units=start.units[span])
        count = np.clip(body.n_fields - span.start, 0, width).astype(np.int32)
        found.append((own, Body(list(body.columns[span]), count, body.line)))
    return found


def other_logger(above: list[tuple[int, list[str]]], own: str | None, name: str) -> None:
    """Raise a `SecondTable` where a header is repeated below lines that name another logger: another record begins.

    above : per repeated header the first of those lines and their texts. own : the label above the first table.
    """
    for line, texts in above:
        theirs = label_in(texts, [])
        if theirs and theirs != own:
            raise SecondTable(
                f"{name}, line {line}: the record of another logger ({theirs[:40]!r}) begins here. Split the file in "
                "two.", line,
            )  # fmt: skip


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
    same_probes = _alike(first, second)
    overlap = same_probes and any(
        a.time[0] <= b.time[-1] and b.time[0] <= a.time[-1]
        for a, b in zip(first.channels, second.channels, strict=True)
    )
    if second.label and second.label != first.label and (first.label or overlap):
        return together([(first.label or "1", first), (second.label, second)], OTHERS.format(found.line))
    if not same_probes or overlap:
        raise found
    return _in_turn([first, second], [*first.notes, *second.notes, BELOW.format(found.line)], first.label)


def _alike(a: Parsed, b: Parsed) -> bool:
    """Whether two tables hold the same quantities of the same probes, by the names of their columns."""
    held = []
    for parsed in (a, b):
        named = [said.rpartition(": ")[::2] for said in parsed.layout.columns if ", probe " in said]
        airs = {(what, role_of(name).label) for name, what in named if what.startswith(("temperature", "relative"))}
        held.append((airs, len(parsed.channels)))
    return held[0] == held[1]


def _one(a: Channel, b: Channel) -> Channel:
    """One probe's two stretches, the earlier first."""
    a, b = (a, b) if a.time[0] <= b.time[0] else (b, a)

    def both(get) -> np.ndarray:
        array = np.concatenate([get(a), get(b)])
        array.flags.writeable = False
        return array

    others = {kind: both(lambda c: c.others.get(kind, np.full(len(c.time), np.nan)))  # noqa: B023
              for kind in {**a.others, **b.others}}  # fmt: skip
    bound = a.bound
    if len(a.bound) or len(b.bound):
        bound = both(lambda c: c.bound if len(c.bound) else np.zeros(len(c.time), np.uint16))
    arrays = {name: both(attrgetter(name)) for name in ("time", "temp_c", "rh_percent", "line")}
    return replace(a, **arrays, others=others, bound=bound)
