"""Where the table of readings begins: delimiter, preamble, header rows, units row, and the columns' names."""

from __future__ import annotations

import re
from collections import Counter
from contextlib import suppress
from typing import NamedTuple

from envwatch.core.errors import BadInput
from envwatch.figures.logs import MAX_COLUMNS
from envwatch.logs.tables import commas
from envwatch.logs.tables.header import COMMENT, aligned, header_of, speaks, unfitting
from envwatch.logs.text.cells import Look, looks_numeric, stampish, tidy
from envwatch.logs.text.lines import BLANKS, DELIMITERS, ODD_DELIMITERS, SHEET, WIDE_BLANKS, fields
from envwatch.logs.times import undated
from envwatch.logs.times.columns import parts_of

LOOK_AT, LOOK_FOR, FEW_DATED = 15_000, 80, 12
# a line without any of these cannot hold a time: cheap to tell before its fields are looked at
_DIGITS = re.compile(
    r"\d\s?[:hH時时]\s?\d|\d{6}|\d{5}[.,]\d\d|\d\s?[-/._年년 ]\s?(?:de )?(?:\d{1,2}|[^\W\d_]{3,11}\.?)\s?(?:de "
    r")?[-/._月월, ]\s?\d|"
    r"[^\W\d_]{3}\.?[-/._ ]{1,2}\d{1,2}(?:st|nd|rd|th)?[-/,. ]{1,2}\d{4}"
)


class Start(NamedTuple):
    """How a table begins. Line numbers count from 0 here.

    header : the header lines, topmost first; may be empty. names : one text a column.
    paired : fields that an unquoted decimal comma parted from the one behind them.
    parts : year, month and day stand in columns of their own. undated : the rows bear no date.
    """

    delimiter: str
    first: int
    width: int
    header: tuple[int, ...]
    names: tuple[str, ...]
    units: tuple[str, ...]
    notes: tuple[str, ...]
    paired: tuple[int, ...] = ()
    parts: bool = False
    undated: bool = False


def _candidates(lines: list[str], delimiters: tuple[str, ...]) -> dict[str, list[Look]]:
    """By delimiter the first lines that hold a date, and a time or more fields."""
    found: dict[str, list[Look]] = {d: [] for d in delimiters}
    looked, readings = 0, dict.fromkeys(delimiters, 0)
    for number, line in enumerate(lines):
        if len(line) < 8 or not _DIGITS.search(line):
            continue
        looked += 1
        plain_fields = False
        for delimiter in delimiters:
            if plain_fields if delimiter in (BLANKS, WIDE_BLANKS) else delimiter not in line:
                continue
            cells = fields(line, delimiter)
            stamps = {i: kind for i, cell in enumerate(cells[:60]) if (kind := stampish(cell))}
            if 2 <= len(cells) <= 600 and {*stamps.values()} - {"time"}:
                numeric = sum(i not in stamps and looks_numeric(cell) for i, cell in enumerate(cells))
                found[delimiter].append(Look(number, cells, tuple(stamps), tuple(stamps.values()), numeric))
                plain_fields |= delimiter in ";\t|" and numeric > 0
                readings[delimiter] += numeric > 0
        if looked > LOOK_AT or (looked > LOOK_FOR and max(readings.values()) > LOOK_FOR):
            break
    return found


def _without_preamble(rows: list[Look]) -> list[Look]:
    """Dated lines above or below a short table ("Start; 01.03.2024 10:00") count for nothing beside its rows."""
    table = [row for row in rows if row.numeric and not _wordy(tidy(row.cells[0]))]
    if not table or len(table) == len(rows):
        return rows
    kinds = {(len(row.cells), row.stamps) for row in table}
    return [row for row in rows if (len(row.cells), row.stamps) in kinds]


def _score(rows: list[Look]) -> float:
    if not rows:
        return 0.0
    counts = Counter(len(row.cells) for row in rows)
    usual = counts.most_common(1)[0][1] / len(rows)
    full = sum("full" in row.kinds or "epoch" in row.kinds or {"date", "time"} <= set(row.kinds) for row in rows)
    return (sum(min(row.numeric, 12) for row in rows) + full + 0.2 * len(rows)) * (0.5 + 0.5 * usual)


def find(lines: list[str], name: str, decimal: str | None = None) -> Start:
    """The start of the table in a file's lines.

    Raises
    ------
    BadInput : there is no table of times and numbers, or its header does not fit its rows.
    Question : commas that may part fields or decimals.
    """
    if max(map(len, lines[:2000]), default=0) > MAX_COLUMNS:
        _few_columns(lines, name)
    if any(SHEET in line for line in lines[:50]):
        return _find(lines, name, decimal, (SHEET,))
    try:
        start = _find(lines, name, decimal, DELIMITERS)
    except BadInput:
        other = _by_odd_delimiters(lines, name, decimal)
        if other is None:
            raise
        return other
    other = _by_odd_delimiters(lines, name, decimal) if start.undated else None
    # blanks part a date as well, and leave numbers without a date
    return start if other is None or (other.undated and len(start.delimiter) == 1) else other


def _by_odd_delimiters(lines: list[str], name: str, decimal: str | None) -> Start | None:
    """By delimiters that stand as often in most of the lines with figures."""
    some = [line for line in lines[:2000] if sum(map(str.isdigit, line)) >= 8]
    usual = {d: Counter(line.count(d) for line in some).most_common(1) for d in ODD_DELIMITERS}
    odd = tuple(d for d, ((times, many),) in usual.items() if times >= 2 and many >= 0.8 * len(some)) if some else ()
    with suppress(BadInput):
        return _find(lines, name, decimal, odd) if odd else None
    return None


def _find(lines: list[str], name: str, decimal: str | None, delimiters: tuple[str, ...]) -> Start:
    found = _candidates(lines, delimiters)
    weight = {d: 0.3 if d in (BLANKS, WIDE_BLANKS) else 1 for d in delimiters}
    scores = {d: _score(_without_preamble(found[d])) * weight[d] for d in delimiters}
    best = max(delimiters, key=lambda d: (any(row.numeric for row in found[d]), scores[d], -delimiters.index(d)))
    rows = _without_preamble(found[best])
    if sum(row.numeric > 0 for row in rows) <= FEW_DATED:
        got = undated.rows_of(lines, delimiters, [row for rows in found.values() for row in rows])
        start = None if got is None else _start(lines, name, decimal, *got, True)
        if start is not None:
            return start
    if not any(row.numeric for row in rows):
        return _by_parts(lines, name, delimiters)
    start = _start(lines, name, decimal, best, rows)
    assert start is not None, "rows with dates have a start"
    return start


def _start(
    lines: list[str], name: str, decimal: str | None, delimiter: str, rows: list[Look], no_date: bool = False
) -> Start | None:
    """The start of the table that some rows are of; None where they bear no date, and no time either."""
    width, first = len(rows[0].cells), rows[0].line
    if not no_date:
        width = Counter(len(row.cells) for row in rows).most_common(1)[0][0]
        own = [row.stamps[0] for row in rows if len(row.cells) == width or len(rows) < 3]
        usual = Counter(own).most_common(1)[0][0]
        rows = [row for row in rows if usual in row.stamps] or rows
        first = _first(lines, rows, delimiter)
    header, names, units, notes = header_of(lines, first, delimiter, width, rows, name)
    if no_date and (parts_of(names) is not None or not undated.tells_time(names, rows)):
        return None  # or year, month and day have columns of their own
    if delimiter == "," and (decimal == "," or sum(map(bool, names)) < width):  # else each field has its name
        paired = commas.joined(rows, names, width, decimal, name)
        if paired and no_date:
            return None
        if paired:
            size = width - len(paired)
            names, units = ((*some, *[""] * size)[:size] for some in (names, units))
            note = commas.NOTE if len(paired) * 2 > size else commas.SOME.format(", ".join(
                f"{at + 1} and {at + 2}" for at in paired))  # fmt: skip
            return Start(delimiter, first, width, header, tuple(names), tuple(units), (*notes, note), paired)
    names, units, more = aligned(names, units, width, rows, name, lines, header, delimiter)
    return Start(delimiter, first, width, header, names, units, (*notes, *more), undated=no_date)


def _few_columns(lines: list[str], name: str) -> None:
    most = int(MAX_COLUMNS)
    for number, line in enumerate(lines[:2000]):
        marks = (line.count(d) for d in (";", "\t", ",", "|", SHEET))
        if len(line) > most and max(*marks, len(line.split())) > 2 * most:
            raise BadInput(
                f"{name}, line {number + 1}: over {2 * MAX_COLUMNS:.0f} columns; no logger writes so many. "
                "Export it again."
            )


def _wordy(cell: str) -> bool:
    return bool(cell) and bool(re.match(r"[^\W\d_]{3,}", cell)) and not stampish(cell)


def _first(lines: list[str], rows: list[Look], delimiter: str) -> int:
    """The first line of the table: dated lines of the preamble ("Start; 01.03.2024 10:00; 600") come before it.

    Rows with a time but no value, or with values but no whole time, may stand before the first reading.
    """
    wordy = sum(_wordy(tidy(row.cells[0])) for row in rows) > len(rows) / 2
    usual = {count for count, times in Counter(len(row.cells) for row in rows).items() if times > len(rows) * 0.05}
    plain = [not (_wordy(tidy(row.cells[0])) and not wordy or len(row.cells) not in usual and at < 10)
             for at, row in enumerate(rows)]  # fmt: skip
    begin = rows[plain.index(True) if True in plain else -1]
    stamp, first = begin.stamps[0], begin.line
    figures = [i for i, c in enumerate(begin.cells) if i not in begin.stamps and looks_numeric(c)]
    while first > 0:
        cells = fields(lines[first - 1], delimiter) if lines[first - 1] else []
        timed = len(cells) > stamp and stampish(cells[stamp]) and not (stamp and _wordy(tidy(cells[0])))
        if not timed:  # figures where this table has its readings, and no words where it has its time: no header
            if len(cells) != len(begin.cells) or not begin.numeric or not all(looks_numeric(cells[i]) for i in figures):
                return first
            times = [tidy(cells[i]) for i in begin.stamps]
            telling = [*times, *(cells[i] for i in figures if re.search(r"\d[.,]\d", cells[i]))]
            if not re.search(r"\d", "".join(telling)) or any(re.search(r"[^\W\d_]{2,}", t) for t in times):
                return first
        first -= 1
    return first


def _by_parts(lines: list[str], name: str, delimiters) -> Start:
    """Tables with year, month, day, hour and minute in columns of their own; else the refusal that fits.

    The first row is the first that holds numbers where the header names the parts of a date: it may hold no reading.
    """
    for number, line in enumerate(lines[:2000]):
        for delimiter in delimiters:
            cells = [tidy(c) for c in fields(COMMENT.sub("", line), delimiter)]
            parts = parts_of(tuple(cells)) if len(cells) <= MAX_COLUMNS else None
            if parts is None:
                continue
            dated = [parts[part] for part in ("year", "month", "day", "yday") if part in parts]
            below = [(i, fields(lines[i], delimiter)) for i in range(number + 1, min(number + 60, len(lines)))]
            rows = [(i, row) for i, row in below if len(row) > max(dated) and all(looks_numeric(row[d]) for d in dated)]
            if not rows or not any(sum(map(looks_numeric, row)) >= 4 for _, row in rows) and len(rows) < FEW_DATED:
                continue
            first, row = rows[0]
            width = max(len(row), len(cells))
            beyond = [(i, len(r), tidy(c)) for i, r in rows for c in r[len(cells) :]]
            odd = [(i, size) for i, size, c in beyond if looks_numeric(c) or c and delimiter == ","]  # perhaps decimals
            if odd:
                raise BadInput(unfitting(name, odd[0][0], len(cells), odd[0][1], lines, (number,)))
            units = [tidy(c) for c in fields(lines[number + 1], delimiter)] if first > number + 1 else []
            names, units = ((*some, *[""] * width)[:width] for some in (cells, units))
            return Start(delimiter, first, len(row), (number,), tuple(names), tuple(units), (), (), True)
    raise BadInput(_nothing(lines, name, delimiters))


def _nothing(lines: list[str], name: str, delimiters) -> str:
    for number, line in enumerate(lines[:2000]):
        cells = ([tidy(c) for c in fields(COMMENT.sub("", line), d)] for d in delimiters)
        if len(line) < 5000 and max(map(speaks, cells), default=0) >= 2:
            below = next((text for text in lines[number + 1 :] if text.strip()), None)
            if below is None:
                return f"{name}: there is a header on line {number + 1} but no reading below it; nothing was recorded."
            return (
                f"{name}, line {number + 2}: below the header no row holds a date with a time and a number; "
                f"seen: {below.replace(SHEET, ' | ')[:60]!r}. Export it again with date and time in every row."
            )
    return f"{name}: no table of dates, times and numbers was found. Choose the logger's CSV export."
