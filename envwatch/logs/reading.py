"""One logger file of any layout to readings and notes, or to one plain question or refusal."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd
import pyarrow as pa

from envwatch.core.errors import BadInput, EnvwatchError
from envwatch.logs.model import Answers, Layout, LogFile
from envwatch.logs.tables import across, columns, find, label, probes, several
from envwatch.logs.tables import body as table_body
from envwatch.logs.tables.body import Body
from envwatch.logs.tables.several import Parsed, SecondTable
from envwatch.logs.text import encoding as rawbytes
from envwatch.logs.text import lines, sheets
from envwatch.logs.text.cells import coded, tidy
from envwatch.logs.text.sheets import TextTable
from envwatch.logs.text.vocabulary import plain
from envwatch.logs.times import columns as timecolumns
from envwatch.logs.times import counted, undated, wall_clock
from envwatch.logs.times import offset as time_basis
from envwatch.logs.times.preamble import told as told_start
from envwatch.logs.values import long, rows, sidebyside, truncation
from envwatch.logs.values.tally import listed

NO_ANSWERS = Answers()
ROLE_WORDS = {"temp": "temperature", "rh": "relative humidity", "dew_point_c": "dew point", "co2_ppm": "CO2",
              "pressure_hpa": "pressure"}  # fmt: skip


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
    moment = pd.Timestamp.now(tz="UTC") if now is None else now
    moment = moment.tz_localize("UTC") if moment.tzinfo is None else moment
    raw = rawbytes.load(path, hashing)
    name, sha256, size = raw.name, raw.sha256, len(raw.data)
    context = Context(name, answers, round(moment.timestamp() * 1e6), need_rh, zone_default)
    try:
        tables, encoding, notes = sheets.of_file(raw, context.answers.encoding)
        tables[0].again = lambda: _once_more(path, sha256, context.answers.encoding)
        del raw  # a big file's bytes are let go as soon as its columns stand
        parsed = _all_sheets(tables, context)
    except EnvwatchError:
        raise
    except Exception as fault:  # whatever a file holds, the studio sees one plain line
        raise BadInput(
            f"unforeseen fault in reading ({type(fault).__name__}). Keep the file and report it.", place=name
        ) from fault
    return LogFile(
        name, sha256(), size, parsed.label, tuple(parsed.channels), replace(parsed.layout, encoding=encoding),
        parsed.counts, tuple(dict.fromkeys(_printable(note) for note in [*notes, *parsed.notes])), tuple(parsed.events),
    )  # fmt: skip


def _once_more(path, sha256: Callable[[], str], encoding: str | None) -> bytes:
    """A big file's text again; a file that has changed meanwhile is refused."""
    return sheets.of_file(rawbytes.load_again(path, sha256), encoding)[0][0].data or b""


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text)


def _check_answers(answers: Answers) -> None:
    for value, allowed, field in (
        (answers.dates, ("dmy", "mdy", "ymd", *counted.COUNTS), "dates"), (answers.decimal, (",", "."), "decimal"),
        (answers.temp_unit, ("C", "F", "K"), "temp_unit"),
    ):  # fmt: skip
        if value is not None and value not in allowed:
            raise BadInput(
                f"⟦{field}⟧ {rawbytes.shown(str(value))} is not known. Use one of: {' '.join(allowed)}", field=field
            )
    if answers.start is not None:
        told_start(answers.start)


def _all_sheets(tables: list[TextTable], context: Context) -> Parsed:
    context = context._replace(count=tables[0].count)
    if len(tables) == 1:
        return parse(tables[0], context)
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
        sheet = sheets.of_text(sheet.data or sheet.again(), [])
    try:
        return _lines(sheet, context)
    except SecondTable as found:
        return several.below(
            sheet.text, found, lambda text, clean: parse(TextTable("", text, clean), context), sheet.ends_clean
        )


def _lines(sheet: TextTable, context: Context) -> Parsed:
    hours = across.opened(sheet.text)
    if hours is not None:
        parsed = _lines(TextTable(sheet.title, hours[0], True), context)
        channels = [replace(c, line=hours[1][c.line - 1]) for c in parsed.channels]
        return parsed._replace(channels=channels, notes=[*parsed.notes, across.OPENED])
    try:
        start = find.find(sheet.text, context.name, context.answers.decimal)
    except BadInput:
        turned = find.turned(sheet.text)
        if turned is None:
            raise
        start = find.find(turned, context.name, context.answers.decimal)
        parsed = parse_body(turned, start, table_body.of_lines(turned, start, context.name), context, True)
        parsed.notes.append("The table has one time a column; it was turned, and line numbers count its columns.")
        return parsed
    return _one_or_beside(sheet.text, start, table_body.of_lines(sheet.text, start, context.name), context, sheet)


def _one_or_beside(head: list[str], start: find.Start, body: Body, context: Context, sheet: TextTable) -> Parsed:
    """One table, or several side by side with times of their own."""
    spans = several.beside(start, body)
    if not spans:
        return parse_body(head, start, body, context, sheet.ends_clean)
    parts = [parse_body(head, *part, context, sheet.ends_clean, True) for part in spans]
    return several.together(list(zip(several.probe_titles(parts), parts, strict=True)), several.BESIDE)


def _quick(sheet: TextTable, context: Context) -> Parsed | None:
    """A big file by its head and pyarrow; None where the head does not tell enough."""
    data = sheet.data or b""
    end = data.rfind(b"\n", 0, sheets.HEAD_BYTES) + 1
    written = lines.split_lines(data[:end].decode("utf-8", "replace"))
    head = lines.close_quotes(list(written), 60)
    if sheets.unwrapped(head) is not head or across.opened(head) is not None:
        return None
    try:
        start = find.find(head, context.name, context.answers.decimal)
    except BadInput:
        return None
    if len(start.delimiter) != 1 or not start.delimiter.isascii() or start.paired:
        return None
    begin = 0
    for _ in range(start.first):
        begin = data.index(b"\n", begin) + 1
    body = table_body.of_bytes(data, begin, start, context.name)
    del data
    sheet.data = None
    return _one_or_beside(head, start, body, context, sheet)


class Table(NamedTuple):
    """A table whose lines, times and columns are known."""

    start: find.Start
    body: Body
    preamble: list[str]
    where: timecolumns.Columns
    stamps: timecolumns.Stamps
    fates: rows.Fates
    shape: probes.Shape

    @property
    def used(self) -> list[int]:
        """Columns that hold temperature or humidity."""
        return [c.at for p in self.shape.probes for c in (p.temp, p.rh) if c] or [self.shape.value or 0]


def parse_body(
    head: list[str], start: find.Start, body: Body, context: Context, ends_clean: bool, beside: bool = False
) -> Parsed:
    """A table whose start and columns are known.

    head : the lines above the table at least. beside : it shares its lines with another table, so its rows are told.
    """
    table = _table(head, start, body, context, ends_clean)
    fates, shape, where, stamps = table.fates, table.shape, table.where, table.stamps
    basis = _basis(table, context)
    stamps = time_basis.flagged(stamps, basis)
    notes = [*start.notes, *([where.note] if where.note else []), *stamps.notes, *fates.notes, *shape.notes]
    notes += basis.notes
    usable = fates.open
    if not len(usable):
        raise BadInput(
            f"no row holds a time that can be used ({listed(fates.counted())}). Export the file again.",
            place=context.name,
        )
    for at in where.at:
        body.columns[at] = pa.chunked_array([], pa.string())  # read; a big file's longest texts are let go
    marks = columns.Marks(body, table.used, context.answers.decimal, start)
    line = body.line[usable] if len(usable) < len(body.line) else body.line
    reader = columns.Reader(columns.Take(body, usable), line, marks, context.answers.temp_unit, context.name)
    put = long.put if shape.value is not None else sidebyside.put
    channels, counts, basis, step_us, more = put(reader, shape, stamps, fates, usable, basis, context)
    _flag_events(fates, shape, body, start)
    notes += [*more, *([marks.said] if marks.said else [])]
    layout = _layout(table, marks, basis, step_us)
    own = label.find(table.preamble, list(start.names), _serial(shape))
    data = _data_rows(body, fates) if beside else None
    return Parsed(channels, counts, layout, notes, sorted(fates.events), own, data)


def _table(head: list[str], start: find.Start, body: Body, context: Context, ends_clean: bool) -> Table:
    """Times and columns of a table, and which of its lines are data."""
    pad = len(body.columns) - len(start.names)
    names, units = (texts + ("",) * pad for texts in (start.names, start.units))
    preamble = [line for i, line in enumerate(head[: start.first]) if line and i not in start.header]
    where, stamps = _times(body, start, names, units, preamble, context)
    fates = rows.judge(body, start, where, stamps, lambda some: [head[i] for i in some], context.name, context.now_us)
    several.other_logger(fates.repeats, label.find(preamble, []), context.name)
    found = probes.describe(body.columns, names, units, where.at, preamble)
    found, stamps = _with_zone_column(found, body, stamps)
    shape = probes.shape(found, body.columns, names, stamps.wall, context.answers.columns, context.name)
    if shape.value is None:
        probe = None if shape.by is None else coded(body.columns[shape.by]).which
        wall_clock.at_one_instant(stamps, probe, fates.set_aside, context.name)
    table = Table(start, body, preamble, where, stamps, fates, shape)
    same = [at for at in (shape.quantity, shape.by) if at is not None]
    truncation.judge(fates, body, ends_clean, table.used, where.at, same)
    return table


def _basis(table: Table, context: Context) -> time_basis.Basis:
    names = table.start.names
    of_time = [names[i] for i in table.where.at if i < len(names)]
    basis = time_basis.find(
        table.stamps, of_time, list(names), table.preamble, context.answers, context.zone_default, context.name
    )
    return time_basis.at_start(basis, table.stamps.wall) if table.where.kind == "elapsed" else basis


def _layout(table: Table, marks: columns.Marks, basis: time_basis.Basis, step_us: float) -> Layout:
    start = table.start
    times = [f"{_name(start, i)}: time" for i in table.where.at]
    return Layout(
        "", lines.NAMES[start.delimiter], marks.main, start.header[-1] + 1 if start.header else None,
        table.stamps.shown, basis.said, step_us / 1e6, (*times, *_column_words(table.shape, start)),
    )  # fmt: skip


def _data_rows(body: Body, fates: rows.Fates) -> several.DataRows:
    return several.DataRows(body.line[fates.data], np.array(fates.reasons, object)[fates.code[fates.data]])


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


def _serial(shape: probes.Shape) -> str | None:
    return probes.serial_of(shape.probes[0].temp.role.label) if len(shape.probes) == 1 else None


def _name(start: find.Start, at: int) -> str:
    return (start.names[at] if at < len(start.names) else "") or f"column {at + 1}"


def _column_words(shape: probes.Shape, start: find.Start) -> list[str]:
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


def _with_zone_column(found, body: Body, stamps: timecolumns.Stamps):
    """A column that gives each row's offset from UTC."""
    for c in found:
        if c.numeric > 0.5 and "offset" not in c.name.lower() or np.isfinite(stamps.offset_min).any():
            continue
        words = c.name.lower().replace("_", " ")
        if (
            not any(w in words for w in ("zone", "utc offset", "offset", "tz", "fuseau", "huso", "fuso"))
            or words == "zone"
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
    return _with_summer_flag(found, body, stamps)


def _with_summer_flag(found, body: Body, stamps: timecolumns.Stamps):
    """A column that flags the rows of summer time."""
    for c in found:
        if time_basis.SUMMER_FLAG.search(plain(c.name)) and not np.isfinite(stamps.offset_min).any():
            texts, index = coded(body.columns[c.at])
            flags = [time_basis.summer_flag(tidy(t or "")) for t in texts]
            if None not in flags:
                return [f for f in found if f.at != c.at], stamps._replace(summer=np.array(flags or [False])[index])
    return found, stamps


def _flag_events(fates: rows.Fates, shape: probes.Shape, body: Body, start: find.Start) -> None:
    """Texts of event columns, where they are not on every row."""
    for at in shape.flags:
        texts, index = coded(body.columns[at])
        filled = np.array([bool(tidy(t or "").strip("-")) for t in texts])[index] & fates.data
        if not 0 < filled.sum() <= max(20, 0.1 * len(filled)):
            continue
        for row in np.flatnonzero(filled)[: rows.EVENTS_KEPT].tolist():
            fates.event(body.line[row], f"{_name(start, at)}: {tidy(texts[index[row]])}")
