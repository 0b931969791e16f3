"""One logger file of any layout to readings and notes, or to one plain question or refusal."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd
import pyarrow as pa

from envwatch.errors import BadInput, EnvwatchError
from envwatch.logs import basis as time_basis
from envwatch.logs import body as table_body
from envwatch.logs import label, lines, longform, probes, rawbytes, rows, series, table, when, wide
from envwatch.logs.body import Body
from envwatch.logs.cells import coded, decimal_marks, tidy
from envwatch.logs.model import Answers, Channel, Counts, Layout, LogFile
from envwatch.logs.roles import time_word

HEAD_BYTES = 1_000_000
ROLE_WORDS = {"temp": "temperature", "rh": "relative humidity"}


class Context(NamedTuple):
    """What a reading is asked with."""

    name: str
    answers: Answers
    now_us: int
    need_rh: bool
    zone_default: str | None


class Sheet(NamedTuple):
    """One table's worth of lines; a spreadsheet's cells are parted by `lines.SHEET`."""

    title: str
    text: list[str]
    ends_clean: bool


class Parsed(NamedTuple):
    """What one table gave."""

    channels: list[Channel]
    counts: Counts
    layout: Layout
    notes: list[str]
    events: list[tuple[int, str]]
    label: str | None


def read(
    path,
    answers: Answers = Answers(),
    *,
    now: pd.Timestamp | None = None,
    need_rh: bool = False,
    zone_default: str | None = None,
) -> LogFile:
    """Read one logger file, whatever its layout.

    Parameters
    ----------
    path : a text export in any encoding, or an .xlsx workbook.
    answers : what a person or the logger's earlier files settled; an offset in the file wins over its zone.
    now : no reading is younger; by default the computer's clock.
    need_rh : refuse a file without humidity, and set rows without it aside.
    zone_default : the zone to assume, with a note, where neither the file nor the answers give one.

    Returns
    -------
    Readings in UTC, °C and % RH, with the layout, the counts of all data rows and every assumption as a note.

    Raises
    ------
    Question : the file can be read in more than one way; names the option that settles it.
    BadInput : the file cannot be read; says where, what was seen and what to do.
    """
    _check_answers(answers)
    raw = rawbytes.load(path)
    moment = pd.Timestamp.now(tz="UTC") if now is None else now
    moment = moment.tz_localize("UTC") if moment.tzinfo is None else moment
    context = Context(raw.name, answers, round(moment.timestamp() * 1e6), need_rh, zone_default)
    try:
        return _read(raw, context)
    except EnvwatchError:
        raise
    except RecursionError as problem:  # pragma: no cover - no known way here
        raise BadInput(f"{raw.name}: the file is nested too deeply to be read. Export it again as CSV.") from problem


def _check_answers(answers: Answers) -> None:
    for value, allowed, option in (
        (answers.dates, ("dmy", "mdy", "ymd"), "--dates"), (answers.decimal, (",", "."), "--decimal"),
        (answers.temp_unit, ("C", "F", "K"), "--temp-unit"),
    ):  # fmt: skip
        if value is not None and value not in allowed:
            raise BadInput(f"{option} {rawbytes.shown(str(value))} is not known. Use one of: {' '.join(allowed)}")


def _read(raw: rawbytes.Raw, context: Context) -> LogFile:
    sheets, encoding, notes = _sheets(raw, context)
    parsed = _all_sheets(sheets, context)
    layout = replace(parsed.layout, encoding=encoding)
    notes = list(dict.fromkeys([*notes, *parsed.notes]))
    return LogFile(raw.name, raw.sha256, len(raw.data), parsed.label, tuple(parsed.channels), layout, parsed.counts,
                   tuple(notes), tuple(parsed.events))  # fmt: skip


def _sheets(raw: rawbytes.Raw, context: Context) -> tuple[list[Sheet], str, list[str]]:
    if raw.data.startswith(b"PK"):
        from envwatch.logs import workbook

        return [Sheet(title, text, True) for title, text in workbook.sheets(raw)], "xlsx", []
    rawbytes.refuse_other_kinds(raw)
    rawbytes.check_lines(raw.name, raw.data)
    data, encoding, notes = rawbytes.decode(raw, context.answers.encoding)
    text = data.decode("utf-8", "replace").replace("\ufeff", "")
    padded = text.rstrip("\x00\x1a")
    if len(padded) < len(text) and "\x00" in text[len(padded) :]:
        notes.append(f"{len(text) - len(padded)} NUL bytes at the end of the file were left out.")
    found = lines.close_quotes(lines.split_lines(padded), 60)
    found = _unwrapped(found)
    return [Sheet("", found, padded.endswith(("\n", "\r")))], encoding, notes


def _unwrapped(found: list[str]) -> list[str]:
    """Lines that are quoted as a whole lose those quotes."""
    some = [line for line in found[:200] if line.strip()]
    whole = [line for line in some if line.startswith('"') and line.endswith('"') and line.count('"') == 2 and len(line) > 12
             and any(d in line for d in ",;\t")]  # fmt: skip
    if len(whole) < 0.8 * len(some) or not whole:
        return found
    return [
        line[1:-1] if line.startswith('"') and line.endswith('"') and line.count('"') == 2 else line for line in found
    ]


def _all_sheets(sheets: list[Sheet], context: Context) -> Parsed:
    if len(sheets) == 1:
        return parse(sheets[0], context)
    done: list[tuple[str, Parsed]] = []
    refused: list[EnvwatchError] = []
    skipped = []
    for sheet in sheets:
        try:
            done.append((sheet.title, parse(sheet, context)))
        except BadInput as problem:
            refused.append(problem)
            skipped.append(sheet.title)
    if not done:
        raise refused[0]
    first = done[0][1]
    if skipped:
        first.notes.append(f"Sheets without readings were left out: {', '.join(skipped[:10])}.")
    return first if len(done) == 1 else _together(done)


def _together(done: list[tuple[str, Parsed]]) -> Parsed:
    """Several sheets with readings: each is a probe of its own, named by its sheet."""
    channels, aside = [], dict[str, int]()
    for title, parsed in done:
        for c in parsed.channels:
            name = title if len(parsed.channels) == 1 else f"{title} {c.label}"
            channels.append(Channel(name, c.time, c.temp_c, c.rh_percent, c.line, c.others))
        for reason, count in parsed.counts.set_aside.items():
            aside[reason] = aside.get(reason, 0) + count
    total = Counts(*(sum(getattr(p.counts, k) for _, p in done) for k in ("data_rows", "used", "duplicate")), aside)
    first = done[0][1]
    notes = [
        *(n for _, p in done for n in p.notes),
        "Several sheets hold readings; each was taken for a probe, named by its sheet.",
    ]
    return Parsed(channels, total, first.layout, notes, [e for _, p in done for e in p.events], first.label)


def parse(sheet: Sheet, context: Context) -> Parsed:
    """One table: find it, read its times, its readings, and put them on UTC."""
    start = table.find(sheet.text, context.name, context.answers.decimal)
    return parse_body(
        sheet.text, start, table_body.of_lines(sheet.text, start, context.name), context, sheet.ends_clean
    )


def parse_body(head: list[str], start: table.Start, body: Body, context: Context, ends_clean: bool) -> Parsed:
    """A table whose start and columns are known. `head` holds the lines above the table at least."""
    pad = len(body.columns) - len(start.names)
    names, units = (texts + ("",) * pad for texts in (start.names, start.units))
    where = when.find(body.columns, names, context.name, start.parts)
    stamps = when.read(where, body.columns, names, context.answers.dates, context.now_us, context.name)
    fates = rows.judge(body, start, where, stamps, lambda some: [head[i] for i in some], context.name, context.now_us)
    found = probes.describe(body.columns, names, units, where.at)
    found, stamps = _with_zone_column(found, body, stamps)
    shape = probes.shape(found, body.columns, names, context.name)
    used = [c.at for p in shape.probes for c in (p.temp, p.rh) if c] or [shape.value or 0]
    rows.cut_row(fates, body, ends_clean, used, where)
    preamble = [line for i, line in enumerate(head[: start.first]) if i not in start.header]
    basis = time_basis.find(stamps, [start.names[i] for i in where.at if i < len(start.names)], list(start.names), preamble,
                            context.answers, context.zone_default, context.name)  # fmt: skip
    notes = [*start.notes, *stamps.notes, *fates.notes, *shape.notes, *basis.notes]
    open_ = fates.open
    if not len(open_):
        raise BadInput(
            f"{context.name}: no row holds a time that can be used ({_listed(fates.counted())}). Export the file again."
        )
    marks = _Marks(body, used, context.answers.decimal, start)
    take = _Take(body, open_)
    reader = wide.Reader(take, body.line[open_], marks, context.answers.temp_unit, context.name)
    put = longform.put if shape.value is not None else _put_wide
    result = put(reader, shape, stamps, fates, open_, basis, context)
    channels, counts, basis, step_us, more = result
    notes += more
    _flag_events(fates, shape, body, start)
    if marks.said:
        notes.append(marks.said)
    time_names = [f"{_name(start, i)}: time" for i in where.at]
    layout = Layout("", lines.NAMES[start.delimiter], marks.main, start.header[-1] + 1 if start.header else None, stamps.shown,
                    basis.said, step_us / 1e6, (*time_names, *_column_words(shape, start)))  # fmt: skip
    return Parsed(channels, counts, layout, notes, sorted(fates.events), label.find(preamble, list(start.names)))


def _listed(counts: dict[str, int]) -> str:
    return ", ".join(f"{n} rows: {reason}" for reason, n in counts.items()) or "no data rows"


def _name(start: table.Start, at: int) -> str:
    return (start.names[at] if at < len(start.names) else "") or f"column {at + 1}"


def _column_words(shape: probes.Shape, start: table.Start) -> list[str]:
    said = []
    for p in shape.probes:
        for c in (p.temp, p.rh, *p.others):
            if c is not None:
                kind = ROLE_WORDS.get(c.role.kind or "", (c.role.kind or "").replace("_", " "))
                said.append(f"{c.name or f'column {c.at + 1}'}: {kind}, probe {p.label}")
    for at, what in (
        (shape.by, "names the probe"),
        (shape.quantity, "names the quantity"),
        (shape.value, "value"),
        (shape.unit, "unit"),
    ):
        if at is not None:
            said.append(f"{_name(start, at)}: {what}")
    return said


class _Take:
    """The open rows of a column; all of it, uncopied, where every row is open."""

    def __init__(self, body: Body, open_: np.ndarray) -> None:
        self.body, self.rows = body, None if len(open_) == len(body.line) else pa.array(open_)

    def __call__(self, at: int) -> pa.ChunkedArray:
        column = self.body.columns[at]
        return column if self.rows is None else column.take(self.rows)


class _Marks:
    """The decimal mark of each column: as told, by its own cells, else as in the other columns."""

    def __init__(self, body: Body, used: list[int], told: str | None, start: table.Start) -> None:
        self.body, self.told, self.said = body, told, ""
        points, commas = (sum(n) for n in zip(*(self._count(at) for at in used), strict=True))
        if not told and start.paired is not None:
            self.told = ","
        if points and commas:
            self.said = "Some values have a decimal point and others a decimal comma; each column was read by its own."
        self.main = self.told or ("," if commas > points or (not points and self._only_commas(used)) else ".")

    def _sample(self, at: int) -> list[str]:
        column = self.body.columns[at]
        step = max(1, len(column) // 400)
        return [c or "" for c in column.take(pa.array(range(0, len(column), step))).to_pylist()]

    def _count(self, at: int) -> tuple[int, int]:
        return decimal_marks(self._sample(at))

    def _only_commas(self, used: list[int]) -> bool:
        text = "".join(c for at in used for c in self._sample(at))
        return "," in text and "." not in text

    def __call__(self, at: int) -> str:
        if self.told:
            return self.told
        points, commas = self._count(at)
        return self.main if points == commas else "," if commas > points else "."


def _with_zone_column(found, body: Body, stamps: when.Stamps):
    """A column that gives each row's offset from UTC."""
    for c in found:
        if c.numeric > 0.5 and "offset" not in c.name.lower() or np.isfinite(stamps.offset_min).any():
            continue
        words = c.name.lower().replace("_", " ")
        if (
            not any(w in words for w in ("zone", "utc offset", "offset", "tz", "fuseau", "huso", "fuso"))
            or "zone" == words
            and c.filled < 0.9
        ):
            continue
        texts, index = coded(body.columns[c.at])
        offsets = [time_basis.zone_column(tidy(t or "")) for t in texts]
        if all(o is not None for o, t in zip(offsets, texts, strict=True) if tidy(t or "")) and any(
            o is not None for o in offsets
        ):
            per_row = np.array([np.nan if o is None else o for o in offsets])[index]
            return [f for f in found if f.at != c.at], stamps._replace(offset_min=per_row)
    return found, stamps


def _flag_events(fates: rows.Fates, shape: probes.Shape, body: Body, start: table.Start) -> None:
    """Texts of event columns, where they are not on every row."""
    for at in shape.flags:
        texts, index = coded(body.columns[at])
        filled = np.array([bool(tidy(t or "").strip("-")) for t in texts])[index] & fates.data
        if not 0 < filled.sum() <= max(20, 0.1 * len(filled)):
            continue
        for row in np.flatnonzero(filled)[: rows.EVENTS_KEPT].tolist():
            fates.event(body.line[row], f"{_name(start, at)}: {tidy(texts[index[row]])}")


def _eventful(take: _Take, shape: probes.Shape, size: int) -> np.ndarray:
    some = np.zeros(size, bool)
    for at in shape.flags:
        texts, index = coded(take(at))
        some |= np.array([bool(tidy(t or "").strip("-")) for t in texts] or [False])[index]
    return some


def _put_wide(reader, shape, stamps, fates, open_, basis, context: Context):
    """Readings side by side; with a probe column each probe's rows make a series of their own."""
    values, notes = _values(reader, shape, context)
    reads = [wide.given(v, context.need_rh) for v in values]
    for mask, reason in wide.why_not(values, context.need_rh, _eventful(reader.column, shape, len(open_))):
        if mask.any():
            fates.set_aside(open_[mask], reason)
    wall, offset = _of_rows(stamps, open_)
    groups = _groups(reader, shape, len(open_))
    fates_open = fates.code[open_] == 0
    biggest = max(groups, key=lambda g: len(g[1]))[1]
    lost = _no_offset(basis, offset)
    if lost.any():
        fates.set_aside(open_[lost], "no offset from UTC, unlike the other rows")
        fates_open &= ~lost
    long_run = series.rising(wall[biggest][~lost[biggest]] if lost.any() else wall[biggest])
    step_us = series.cadence_us(long_run)
    basis, more = time_basis.settle(basis, long_run, step_us, context.name)
    notes += more
    channels: list[Channel] = []
    again_total = np.zeros(len(open_), bool)
    unsure = skipped = restarts = 0
    for name, at in groups:
        keep_rows = at[fates_open[at]] if not (isinstance(at, slice)) else at
        if not len(keep_rows):
            continue
        timed = series.place(wall[keep_rows], offset[keep_rows], basis, step_us)
        columns = [a[keep_rows] for v in values for a in (v.temp_c, v.rh_percent)]
        again = series.duplicates(timed.utc, columns, timed.order)
        again_total[keep_rows] = again
        unsure, skipped, restarts = unsure + timed.unsure, skipped + timed.skipped, restarts + timed.restarts
        for v, got in zip(values, reads, strict=True):
            mine = wide.Values(v.probe, *(a[keep_rows] for a in (v.temp_c, v.temp_code, v.rh_percent, v.rh_code)),
                               {k: a[keep_rows] for k, a in v.others.items()})  # fmt: skip
            keep = got[keep_rows] & ~again
            if keep.any():
                channels.append(wide.channel(mine, _channel_label(name, v, values), timed.utc, timed.order, keep,
                                             reader.line[keep_rows]))  # fmt: skip
    notes += _time_notes(unsure, skipped, restarts, channels, step_us, basis)
    notes += _partial(values, reads, fates_open)
    counts = _counts(fates, int(again_total.sum()))
    if not channels:
        raise BadInput(f"{context.name}: no row holds a reading that can be used ({_listed(dict(counts.set_aside))}).")
    return channels, counts, basis, step_us, notes


def _channel_label(name: str | None, v: wide.Values, values) -> str:
    if name is None:
        return v.probe.label
    return name if len(values) == 1 else f"{name} {v.probe.label}"


def _values(reader, shape, context: Context) -> tuple[list[wide.Values], list[str]]:
    values, notes = [], []
    for probe in shape.probes:
        got, more = wide.values_of(reader, probe)
        values.append(got)
        notes += more
    if context.need_rh:
        damp = [v for v in values if v.probe.rh is not None]
        if not damp:
            raise BadInput(
                f"{context.name}: the file holds no relative humidity, only temperature. Export the humidity too."
            )
        dry = [v.probe.label for v in values if v.probe.rh is None]
        if dry:
            notes.append(f"Probes without humidity were left out: {', '.join(dry)}.")
        values = damp
    return values, notes


def _of_rows(stamps: when.Stamps, open_: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    if len(open_) == len(stamps.wall):
        return stamps.wall, stamps.offset_min
    return stamps.wall[open_], stamps.offset_min[open_]


def _no_offset(basis: time_basis.Basis, offset: np.ndarray) -> np.ndarray:
    return ~np.isfinite(offset) if basis.kind == "rows" else np.zeros(len(offset), bool)


def _groups(reader, shape, size: int) -> list[tuple[str | None, np.ndarray]]:
    """The rows of each probe named in a column, in order of appearance; else all rows."""
    if shape.by is None:
        return [(None, np.arange(size))]
    texts, index = coded(reader.column(shape.by))
    names = [tidy(t or "") or "not named" for t in texts]
    distinct = list(dict.fromkeys(names))
    which = np.array([distinct.index(n) for n in names])[index]
    order = np.argsort(which, kind="stable")
    parts = np.split(order, np.searchsorted(which[order], np.arange(1, len(distinct))))
    return [(name, rows_) for name, rows_ in zip(distinct, parts, strict=True) if len(rows_)]


def _partial(values, reads, fates_open) -> list[str]:
    """Probes that gave nothing in rows where another did."""
    if len(values) < 2:
        lost = (
            (values[0].temp_code == 0) & (values[0].rh_code != 0) & fates_open
            if values and values[0].probe.rh
            else np.zeros(1, bool)
        )
        return (
            [f"{int(lost.sum())} readings have a temperature but no humidity."]
            if lost.any() and reads[0][lost].any()
            else []
        )
    missing = {v.probe.label: int((fates_open & ~got).sum()) for v, got in zip(values, reads, strict=True)}
    said = ", ".join(f"{label}: {n}" for label, n in missing.items() if n)
    return [f"Rows in which a probe gave no reading while another did: {said}."] if said else []


def _counts(fates: rows.Fates, duplicate: int) -> Counts:
    total, aside = int(fates.data.sum()), fates.counted()
    return Counts(total, total - duplicate - sum(aside.values()), duplicate, aside)


def _time_notes(unsure, skipped, restarts, channels: list[Channel], step_us: int, basis) -> list[str]:
    notes = []
    zone = basis.zone.key if basis.zone else ""
    if unsure:
        notes.append(
            f"{unsure} readings stand in the hour that {zone} passes twice, but stand there once; they may be an hour off."
        )
    if skipped:
        notes.append(
            f"{skipped} readings stand in the hour that {zone} skips; they were read as if the clock had not changed yet."
        )
    if restarts:
        notes.append(f"The times go back {restarts} times within the file; the readings were put in time order.")
    same = sum(int((np.diff(c.time) == 0).sum()) for c in channels)
    if same:
        notes.append(f"{same} readings bear the same time as the one before, with other values; all were kept.")
    slip = series.drift(max(channels, key=lambda c: len(c.time)).time, step_us) if channels else None
    return notes + ([slip] if slip else [])
