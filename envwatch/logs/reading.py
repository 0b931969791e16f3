"""One logger file of any layout to readings and notes, or to one plain question or refusal."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd
import pyarrow as pa

from envwatch.core.errors import BadInput, EnvwatchError, Question
from envwatch.logs.model import Answers, Layout, LogFile
from envwatch.logs.tables import across, find, header, probes, several
from envwatch.logs.tables import body as table_body
from envwatch.logs.tables.body import Body
from envwatch.logs.tables.several import DataRows, Parsed, SecondTable
from envwatch.logs.tables.shapes import Column
from envwatch.logs.text import encoding as rawbytes
from envwatch.logs.text import lines
from envwatch.logs.text.cells import coded, tidy
from envwatch.logs.text.lines import TextTable
from envwatch.logs.text.roles import time_word
from envwatch.logs.text.vocabulary import plain
from envwatch.logs.times import columns as timecolumns
from envwatch.logs.times import counted, undated, wall_clock
from envwatch.logs.times import offset as time_basis
from envwatch.logs.times.preamble import told as told_start
from envwatch.logs.values import long, rows, truncation, wide

NO_ANSWERS = Answers()
ROLE_WORDS = {"temp": "temperature", "rh": "relative humidity", "dew_point_c": "dew point", "co2_ppm": "CO2",
              "pressure_hpa": "pressure"}  # fmt: skip
ZONE_WORDS = ("zone", "utc offset", "offset", "tz", "fuseau", "huso", "fuso")


class Context(NamedTuple):
    """What a reading is asked with."""

    name: str
    answers: Answers
    now_us: int
    need_rh: bool
    zone_default: str | None
    count: str | None = None  # from which year day numbers count, by a workbook's own flag


def read(
    path,
    answers: Answers = NO_ANSWERS,
    *,
    now: pd.Timestamp | None = None,
    need_rh: bool = False,
    zone_default: str | None = None,
    hashing: rawbytes.Hashing | None = None,
) -> LogFile:
    """Read one logger file, whatever its layout.

    Parameters
    ----------
    path : a text export in any encoding, or an .xlsx workbook.
    answers : what a person or the logger's earlier files settled; an offset in the file wins over its zone.
    now : no reading is younger; by default the computer's clock.
    need_rh : refuse a file without humidity, and set rows without it aside.
    zone_default : the zone to assume, with a note, where neither the file nor the answers give one.
    hashing : gets the file's bytes as they are read, and gives what tells their SHA-256 at the end.

    Returns
    -------
    Readings in UTC, °C and % RH, with the layout, the counts of all data rows and every assumption as a note.

    Raises
    ------
    Question : the file can be read in more than one way; names the option that settles it.
    BadInput : the file cannot be read; says where, what was seen and what to do.
    """
    _check_answers(answers)
    moment = now or pd.Timestamp.now(tz="UTC")  # one without a zone is on UTC
    raw = rawbytes.load(path, hashing)
    name, sha256, size = raw.name, raw.sha256, len(raw.data)
    try:
        tables, encoding, notes = lines.of_file(raw, answers.encoding)
        tables[0].again = lambda: _once_more(path, sha256, answers.encoding)
        del raw  # a big file's bytes are let go as soon as its columns stand
        context = Context(name, answers, round(moment.timestamp() * 1e6), need_rh, zone_default, tables[0].count)
        parsed = parse(tables[0], context) if len(tables) == 1 else _all_sheets(tables, context)
    except Exception as fault:
        if isinstance(fault, EnvwatchError):
            raise  # whatever else a file holds, the studio sees one plain line
        raise BadInput(
            f"unforeseen fault in reading ({type(fault).__name__}). Keep the file and report it.", place=name
        ) from fault
    shown = dict.fromkeys("".join(c if c.isprintable() else "?" for c in note) for note in [*notes, *parsed.notes])
    layout, events = replace(parsed.layout, encoding=encoding), tuple(parsed.events)
    return LogFile(
        name, sha256(), size, parsed.label, tuple(parsed.channels), layout, parsed.counts, tuple(shown), events
    )


def _once_more(path, sha256: Callable[[], str], encoding: str | None) -> bytes:
    """A big file's text again; a file that has changed meanwhile is refused."""
    return lines.of_file(rawbytes.load_again(path, sha256), encoding)[0][0].data or b""


def _check_answers(answers: Answers) -> None:
    allowed = {"dates": ("dmy", "mdy", "ymd", *counted.COUNTS), "decimal": (",", "."), "temp_unit": ("C", "F", "K")}
    for field, known in allowed.items():
        value = getattr(answers, field)
        if value is not None and value not in known:
            raise BadInput(
                f"⟦{field}⟧ {rawbytes.shown(str(value))} is not known. Use one of: {' '.join(known)}", field=field
            )
    if answers.start is not None:
        told_start(answers.start)


def _all_sheets(tables: list[TextTable], context: Context) -> Parsed:
    done: list[tuple[str, Parsed]] = []
    refused: list[BadInput] = []
    notes = []
    for sheet in sorted(tables, key=lambda sheet: sheet.hidden):
        if sheet.hidden and done:
            notes.append(f"The hidden sheet {sheet.title!r} ({sheet.rows:,} rows) was left out; shown, it is read too.")
            continue
        try:
            done.append((sheet.title, parse(sheet, context)))
        except BadInput as problem:
            refused.append(problem)
            why = problem.todo.removeprefix(f"{context.name}: ").removeprefix(f"{context.name}, ").partition(". ")[0]
            notes.append(f"Sheet {sheet.title!r} ({sheet.rows:,} rows) was left out: {why.rstrip('.')}.")
    if not done:
        raise max(zip(refused, tables, strict=True), key=lambda pair: pair[1].rows)[0]
    found = done[0][1] if len(done) == 1 else several.of_sheets(done)
    return found._replace(notes=[*found.notes, *notes])


def parse(sheet: TextTable, context: Context) -> Parsed:
    """One table: find it, read its times, its readings, and put them on UTC."""
    if sheet.data is not None:
        try:
            quick = _quick(sheet, context)
        except SecondTable:
            quick = None
        if quick is not None:
            return quick
        sheet = lines.of_text(sheet.data or sheet.again(), [])
    try:
        return _lines(sheet, context)
    except SecondTable as found:
        return several.below(
            sheet.text, found, lambda text, clean: parse(TextTable("", text, clean), context), sheet.ends_clean
        )


def _lines(sheet: TextTable, context: Context) -> Parsed:
    fault = start = None
    try:
        start = find.find(sheet.text, context.name, context.answers.decimal)
    except (BadInput, Question) as problem:
        fault = problem
    if start is None or start.width > across.HOURS:
        parsed = _across(sheet, context, isinstance(fault, BadInput))
        if parsed is not None:
            return parsed
    if start is None:
        raise fault
    return _one_or_beside(sheet.text, start, table_body.of_lines(sheet.text, start, context.name), context, sheet)


def _across(sheet: TextTable, context: Context, nothing_below: bool) -> Parsed | None:
    """A table whose times run across: the hours of a day side by side, or one time a column; None for others."""
    hours = across.opened(sheet.text)
    if hours is not None:
        parsed = _lines(TextTable(sheet.title, hours[0], True), context)
        channels = [replace(c, line=hours[1][c.line - 1]) for c in parsed.channels]
        return parsed._replace(channels=channels, notes=[*parsed.notes, across.OPENED])
    turned = across.turned(sheet.text) if nothing_below else None
    if turned is None:
        return None
    start = find.find(turned, context.name, context.answers.decimal)
    parsed = parse_body(turned, start, table_body.of_lines(turned, start, context.name), context, True)
    return parsed._replace(notes=[*parsed.notes, across.TURNED])


def _one_or_beside(head: list[str], start: find.Start, body: Body, context: Context, sheet: TextTable) -> Parsed:
    """One table, or several side by side with times of their own."""
    timely = [i for i, n in enumerate(start.names) if time_word(n) in ("stamp", "date", "time")]
    sole = len(timely) < 2 or start.parts or start.paired
    spans = [] if sole else several.beside(start, body, timely)
    if not spans:
        return parse_body(head, start, body, context, sheet.ends_clean)
    return several.side_by_side([parse_body(head, *part, context, sheet.ends_clean, True) for part in spans])


def _quick(sheet: TextTable, context: Context) -> Parsed | None:
    """A big file by its head and pyarrow; None where the head does not tell enough."""
    data = sheet.data or b""
    end = data.rfind(b"\n", 0, lines.HEAD_BYTES) + 1
    written = lines.split_lines(data[:end].decode("utf-8", "replace"))
    head = lines.close_quotes(list(written), 60)
    if lines.unwrapped(head) is not head:
        return None
    try:
        start = find.find(head, context.name, context.answers.decimal)
    except BadInput:
        return None
    if len(start.delimiter) != 1 or not start.delimiter.isascii() or start.paired:
        return None
    if start.width > across.HOURS and across.opened(head) is not None:
        return None
    begin = 0
    for _ in range(start.first):
        begin = data.index(b"\n", begin) + 1
    body = table_body.of_bytes(data, begin, start, context.name)
    del data
    sheet.data = None
    return _one_or_beside(head, start, body, context, sheet)


class Table(NamedTuple):
    """A table whose lines, times and columns are known. shown : each column's name, or its place.

    used : columns that hold temperature or humidity.
    """

    start: find.Start
    body: Body
    preamble: list[str]
    shown: list[str]
    where: timecolumns.Columns
    stamps: timecolumns.Stamps
    fates: rows.RowReport
    shape: probes.Shape
    used: list[int]


def parse_body(
    head: list[str], start: find.Start, body: Body, context: Context, ends_clean: bool, beside: bool = False
) -> Parsed:
    """A table whose start and columns are known.

    head : the lines above the table at least. beside : it shares its lines with another table, so its rows are told.
    """
    table = _table(head, start, body, context, ends_clean)
    fates, shape, where, stamps, answers = table.fates, table.shape, table.where, table.stamps, context.answers
    of_time = [start.names[i] for i in where.at if i < len(start.names)]
    basis = time_basis.find(
        stamps, of_time, list(start.names), table.preamble, answers, context.zone_default, context.name
    )
    if where.kind == "elapsed":
        basis = time_basis.at_start(basis, stamps.wall)
    if stamps.summer is not None:
        stamps = time_basis.flagged(stamps, basis)
    notes = [*start.notes, *([where.note] if where.note else []), *stamps.notes, *fates.notes, *shape.notes]
    usable = fates.open
    if not len(usable):
        raise BadInput(
            f"no row holds a time that can be used ({rows.listed(fates.counts())}). Export the file again.",
            place=context.name,
        )
    for at in where.at:
        body.columns[at] = pa.chunked_array([], pa.string())  # read; a big file's longest texts are let go
    reader = table_body.Reader(body, start, usable, table.used, answers, context.name)
    put = long.put if shape.value is not None else wide.put
    channels, counts, settled, step_us, more = put(reader, shape, stamps, fates, usable, basis, context)
    if shape.flags:
        _flag_events(fates, shape.flags, body, table.shown)
    notes += [*basis.notes, *more, *reader.notes]
    layout = _layout(table, reader.main, settled.said, step_us)
    sole = shape.probes[0].temp.role.label if len(shape.probes) == 1 else ""
    own = header.label_in(table.preamble, list(start.names), probes.serial_of(sole))
    data = DataRows(body.line[fates.data], np.array(fates.reasons, object)[fates.code[fates.data]]) if beside else None
    return Parsed(channels, counts, layout, notes, sorted(fates.events), own, data)


def _table(head: list[str], start: find.Start, body: Body, context: Context, ends_clean: bool) -> Table:
    """Times and columns of a table, and which of its lines are data."""
    pad = len(body.columns) - len(start.names)
    names, units = (texts + ("",) * pad for texts in (start.names, start.units))
    preamble = [line for i, line in enumerate(head[: start.first]) if line and i not in start.header]
    where, stamps = _times(body, start, names, units, preamble, context)
    fates = rows.judge(body, start, where, stamps, lambda some: [head[i] for i in some], context.name, context.now_us)
    if fates.repeats:
        several.other_logger(fates.repeats, header.label_in(preamble, []), context.name)
    found = probes.describe(body.columns, names, units, where.at, preamble)
    found, stamps = _clock_columns(found, body, stamps)
    shape = probes.shape(found, body.columns, names, stamps.wall, context.answers.columns, context.name)
    if shape.value is None:
        probe = None if shape.by is None else coded(body.columns[shape.by]).which
        rows.at_one_instant(fates, stamps, probe, context.name)
    used = [c.at for p in shape.probes for c in (p.temp, p.rh) if c] or [shape.value or 0]
    if not ends_clean:
        same = [at for at in (shape.quantity, shape.by) if at is not None]
        truncation.judge(fates, body, used, where.at, same)
    shown = [name or f"column {at + 1}" for at, name in enumerate(names)]
    return Table(start, body, preamble, shown, where, stamps, fates, shape, used)


def _layout(table: Table, decimal: str, time_basis_said: str, step_us: float) -> Layout:
    """How the table was understood, column by column."""
    start, shape, shown = table.start, table.shape, table.shown
    said = [f"{shown[i]}: time" for i in table.where.at]
    for p in shape.probes:
        for c in filter(None, (p.temp, p.rh, *p.others)):
            kind = ROLE_WORDS.get(c.role.kind or "", (c.role.kind or "").replace("_", " "))
            said.append(f"{shown[c.at]}: {kind}, probe {p.label}")
    what = {"names the probe": shape.by, "names the quantity": shape.quantity, "value": shape.value, "unit": shape.unit}
    said += [f"{shown[at]}: {word}" for word, at in what.items() if at is not None]
    line = start.header[-1] + 1 if start.header else None
    return Layout("", lines.NAMES[start.delimiter], decimal, line, table.stamps.shown, time_basis_said, step_us / 1e6,
                  tuple(said))  # fmt: skip


def _times(body: Body, start: find.Start, names, units, preamble: list[str], context: Context):
    told = context.answers.dates
    answers = replace(context.answers, dates=None if told in counted.COUNTS else told)
    if not start.undated:
        where = timecolumns.find(body.columns, names, context.name, start.parts)
        stamps = wall_clock.read(where, body.columns, names, preamble, answers.dates, context.now_us, context.name)
    else:
        where = undated.find(body.columns, names, context.name)
        stamps = undated.read(where, body.columns, names, units, preamble, answers, context.now_us, context.name)
    if where.kind in counted.KINDS:
        stamps = counted.settled(stamps, preamble, told, context.now_us, context.count)
    if where.kind not in ("clock", "elapsed"):
        stamps = wall_clock.likely(stamps, context.answers.start, context.now_us, context.name)
    return where, stamps


def _clock_columns(found: list[Column], body: Body, stamps: timecolumns.Stamps):
    """Without a column that gives each row's offset from UTC, or flags the rows of summer time; the stamps with it."""
    if np.isfinite(stamps.offset_min).any():
        return found, stamps
    for c in found:
        words = c.name.lower().replace("_", " ")
        numbers_alone = c.numeric > 0.5 and "offset" not in words
        if numbers_alone or not any(w in words for w in ZONE_WORDS) or words == "zone" and c.filled < 0.9:
            continue
        texts, index = coded(body.columns[c.at])
        offsets = {i: time_basis.zone_column(tidy(t)) for i, t in enumerate(texts) if tidy(t or "")}
        if offsets and None not in offsets.values():
            per_row = np.array([offsets.get(i, np.nan) for i in range(len(texts))])[index]
            return [f for f in found if f is not c], stamps._replace(offset_min=per_row)
    for c in found:
        if time_basis.SUMMER_FLAG.search(plain(c.name)):
            texts, index = coded(body.columns[c.at])
            flags = [time_basis.summer_flag(tidy(t or "")) for t in texts]
            if None not in flags:
                summer = np.array(flags or [False])[index]
                return [f for f in found if f is not c], stamps._replace(summer=summer)
    return found, stamps


def _flag_events(fates: rows.RowReport, flags: tuple[int, ...], body: Body, shown: list[str]) -> None:
    """Texts of event columns, where they are not on every row."""
    for at in flags:
        texts, index = coded(body.columns[at])
        filled = np.array([bool(tidy(t or "").strip("-")) for t in texts])[index] & fates.data
        if not 0 < filled.sum() <= max(20, 0.1 * len(filled)):
            continue
        for row in np.flatnonzero(filled)[: rows.EVENTS_KEPT].tolist():
            fates.event(body.line[row], f"{shown[at]}: {tidy(texts[index[row]])}")
