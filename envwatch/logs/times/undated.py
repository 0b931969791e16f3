"""Tables whose rows bear no date: time of day alone, time since the start, a day number beside a fraction of a day."""

from __future__ import annotations

import re
from collections import Counter

import numpy as np
import pyarrow as pa

from envwatch.core.errors import BadInput, Question
from envwatch.logs.model import Answers
from envwatch.logs.text.cells import Look, coded, looks_numeric, stampish, tidy
from envwatch.logs.text.lines import fields
from envwatch.logs.text.roles import elapsed_word, role_of, time_word
from envwatch.logs.text.stamps import DAY_US, time_of_day
from envwatch.logs.text.vocabulary import SPANS, plain, tokens
from envwatch.logs.times import counted, preamble
from envwatch.logs.times.clock import falls
from envwatch.logs.times.columns import NONE, Columns, Stamps, kind_of, sample

HOUR_US, LEAST_ROWS, LOOK_AT = 3_600_000_000, 2, 4_000
LONGEST_NIGHT_H = 6  # a fall that is no midnight leaves a longer gap than this
COUNTED = ("elapsed", "time", "stamp", "hour", "minute", "second")
_SPAN = re.compile(
    r"(?:(?P<d>\d{1,4})(?:\s?[dDjT]\.?\s*|[ .])\s*)?(?P<a>\d{1,5}):(?P<b>\d{2})(?::(?P<c>\d{2}))?(?P<f>[.,]\d{1,6})?"
)
_FRACTION = re.compile(r"0?[.,]\d+|[01](?:[.,]0*)?|\d(?:[.,]\d+)?[eE]-\d+")
_DAY_NUMBER = re.compile(r"[34567]\d{4}(?:[.,]0+)?")


# ---------------------------------------------------------------------------------------------- where the table is


def rows_of(lines: list[str], delimiters, dated: list[Look]) -> tuple[str, list[Look]] | None:
    """The delimiter and rows of a table without dates; None where rows with dates stand below its first row."""
    best: tuple[float, str, list[Look]] = (0.0, "", [])
    for delimiter in delimiters:
        rows = [row for number, line in enumerate(lines[:LOOK_AT]) if len(delimiter) > 1 or delimiter in line
                if (row := _look(number, line, delimiter))]  # fmt: skip
        if len(rows) < LEAST_ROWS:
            continue
        width = Counter(len(row.cells) for row in rows).most_common(1)[0][0]
        rows = [row for row in rows if len(row.cells) == width]
        if len(rows) < LEAST_ROWS or not any(row.numeric for row in rows):
            continue
        score = sum(min(row.numeric, 12) + 1 for row in rows) * (0.3 if len(delimiter) > 1 else 1)
        if score > best[0]:
            best = (score, delimiter, rows)
    _, delimiter, rows = best
    if not rows or any(row.line > rows[0].line and row.numeric for row in dated):
        return None
    return delimiter, rows


def _look(number: int, line: str, delimiter: str) -> Look | None:
    cells = fields(line, delimiter)
    if not 2 <= len(cells) <= 600:
        return None
    texts = [tidy(cell) for cell in cells]
    if any(stampish(text) in ("full", "date", "epoch", "serial") for text in texts[:60]):
        return None
    times = tuple(i for i, text in enumerate(texts) if _SPAN.fullmatch(text) or stampish(text) == "time")
    numeric = sum(i not in times and bool(text) and looks_numeric(text) for i, text in enumerate(texts))
    if not numeric or numeric + len(times) < 2 or re.match(r"[^\W\d_]{3,}", texts[0]):
        return None
    return Look(number, cells, times[:1] or (0,), ("time",), numeric)


def tells_time(names: tuple[str, ...], rows: list[Look]) -> bool:
    """Whether a table without dates has a column of times at all, by its header or, without one, by its cells."""
    if any(names):
        each = zip(names, zip(*(row.cells for row in rows), strict=False), strict=False)
        return any(time_word(n) in (*COUNTED, "date") or counted.counts(n, list(cells)) for n, cells in each)
    return all(stampish(row.cells[row.stamps[0]]) == "time" for row in rows)


# ---------------------------------------------------------------------------------------------- which columns hold it


def find(columns: list[pa.ChunkedArray], names: tuple[str, ...], name: str) -> Columns:
    """The columns of the time: kind "serials", "elapsed" or "clock".

    Raises
    ------
    BadInput : there is none.
    """
    names = names[: len(columns)]  # a header may have more cells than any row
    kinds = [kind_of(column) for column in columns]
    cells = [[c for c in (tidy(c or "") for c in sample(column)) if any(map(str.isdigit, c))] for column in columns]
    day = next((i for i, some in enumerate(cells) if _day_numbers(some, names[i])), None)
    if day is not None:
        for i in sorted(range(len(columns)), key=lambda i: abs(i - day - 0.1)):
            if i != day and (kinds[i] == "time" or (_timely(names[i]) and _fractions(cells[i]))):
                return Columns("serials", (day, i))
    for i, n in enumerate(names):
        if counted.counts(n, cells[i]) and not elapsed_word(n):
            return Columns("serial", (i,))
    for i, n in enumerate(names):
        if elapsed_word(n) and _mostly(_counts, cells[i]):
            return Columns("elapsed", (i,))
    for i, n in enumerate(names):
        if kinds[i] == "time" and (time_word(n) or not n):
            late = any((got := _SPAN.fullmatch(c)) and int(got["a"]) > 24 for c in cells[i])
            return Columns("elapsed" if late else "clock", (i,))
    for i, n in enumerate(names):
        if (
            time_word(n) in COUNTED
            and (role_of(n).kind is None or role_of(n).weak)
            and cells[i]
            and all(map(_counts, cells[i]))
        ):
            return Columns("elapsed", (i,))
    raise BadInput("no column holds date and time in every row. Export the file again with both.", place=name)


def _mostly(fits, cells: list[str]) -> bool:
    """Whether nearly all cells with figures fit; a line of means below the table is no row of it."""
    return bool(cells) and sum(bool(fits(c)) for c in cells) >= 0.9 * len(cells)


def _timely(name: str) -> bool:
    return not name or time_word(name) in ("time", "stamp", "hour") or role_of(name).kind is None


def _counts(cell: str) -> bool:
    return bool(_SPAN.fullmatch(cell)) or looks_numeric(cell)


def _day_numbers(cells: list[str], name: str) -> bool:
    dated = not name or time_word(name) in ("date", "stamp", "day", "time")
    return dated and _mostly(_DAY_NUMBER.fullmatch, cells)


def _fractions(cells: list[str]) -> bool:
    return _mostly(_FRACTION.fullmatch, cells) and any("." in c or "," in c for c in cells)


# ---------------------------------------------------------------------------------------------- what it says


def read(where: Columns, columns, names, units, above: list[str], answers: Answers, now_us: int, name: str) -> Stamps:
    """The wall-clock times of all rows.

    Parameters
    ----------
    above : the lines above the table. answers : `start`, where a person told when the record begins.

    Raises
    ------
    Question : nothing says when the record begins. BadInput : the times do not run on.
    """
    if where.kind == "serial":
        return counted.read(columns[where.at[0]], names[where.at[0]], now_us, name)
    if where.kind == "serials":
        return counted.by_serial(columns[where.at[0]], columns[where.at[1]])
    at = where.at[0]
    shown = names[at] or f"column {at + 1}"
    begin = preamble.begin([*above, names[at]], answers.start, answers.dates, now_us, name)
    if where.kind == "clock" and not (begin and _starts_over(columns[at], begin)):
        return _clock(columns[at], begin, shown, name)
    if begin is None or begin.clock_us is None or not begin.sure:
        raise Question(
            f"{shown!r} counts from the start of the record, and the file does not say when that was.",
            "start",
            place=name,
        )
    span, said = _spans(columns[at], names[at], units[at], name)
    good = span != NONE
    _one_run(span[good], name)
    wall = np.where(good, begin.day_us + begin.clock_us + span, NONE)
    offset = np.full(len(wall), np.nan if begin.offset_min is None else begin.offset_min)
    note = f"The rows count {said}; they were added to the start of the record, {begin.said}."
    return Stamps(wall, offset, f"{said} since {begin.said}", False, None, (note,))


def _starts_over(column, begin: preamble.Begin) -> bool:
    """Whether times of day that begin at 0:00 count from a start at another time of day."""
    first = next((c for c in (tidy(c or "") for c in sample(column)) if c), "")
    got = _SPAN.fullmatch(first)
    zero = got is not None and not any(int(got[k] or 0) for k in "abc")
    return zero and begin.clock_us is not None and begin.clock_us % DAY_US != 0


def _one_run(span: np.ndarray, name: str) -> None:
    steps = np.diff(span)
    if len(steps) and (steps < 0).any() and (steps > 0).any():
        raise BadInput(
            "the time since the start begins again in the middle, so several records stand in one file. "
            "Split it, one file a record.",
            place=name,
        )


def _spans(column, name: str, unit: str, file_name: str) -> tuple[np.ndarray, str]:
    """(n,) microseconds since the start, NONE where unreadable, and what they count, in words."""
    texts, index = coded(column)
    texts = [tidy(t or "") for t in texts]
    filled = [t for t in texts if t]
    if any(":" in t for t in filled):
        parts = {bool(got["c"]) for t in filled if (got := _SPAN.fullmatch(t))}
        style = re.sub(r"[^hms:]", "", plain(f"{name} {unit}").replace("std", "h"))
        minutes = "m:s" in style.replace("mm", "m").replace("ss", "s") and "h" not in style
        if parts == {False} and not minutes and "h:m" not in style.replace("hh", "h").replace("mm", "m"):
            raise BadInput(
                f"{name!r} may count hours and minutes or minutes and seconds (first: {filled[0]!r}). "
                "Add (hh:mm) or (mm:ss) to its name in the header.",
                place=file_name,
            )
        spans = np.array([_span_us(t, minutes) for t in texts] or [NONE], np.int64)
        return spans[index], "minutes and seconds" if minutes and parts == {False} else "hours, minutes and seconds"
    words = set(tokens(plain(unit))) or set(tokens(plain(name)))
    marked = re.findall(r"[(\[{/,]\s*([^\W\d_]+)\s*[)\]}]?\s*$", plain(name)) if not unit else []
    words = set(marked) if any(w in some for w in marked for _, _, some in SPANS) else words
    known = [(said, us) for said, us, some in SPANS if words & set(some)]
    if len(known) != 1:
        raise BadInput(
            f"the header does not say in which unit {name!r} counts. Add it to its name, such as Elapsed (min).",
            place=file_name,
        )
    said, us = known[0]
    values = counted.numbers_of(column)
    good = np.abs(values) < 1e12 / us * 1e6
    return np.where(good, np.rint(np.where(good, values, 0) * us), NONE).astype(np.int64), said


def _span_us(text: str, minutes: bool) -> int:
    got = _SPAN.fullmatch(text)
    if not got:
        return NONE
    a, b, c = int(got["a"]), int(got["b"]), got["c"]
    if b > 59 or (c and int(c) > 59) or (got["d"] and a > 23):
        return NONE
    seconds = a * 60 + b if minutes and c is None else (a * 60 + b) * 60 + int(c or 0)
    fraction = round(float("0." + got["f"][1:]) * 1e6) if got["f"] else 0
    return int(got["d"] or 0) * DAY_US + seconds * 1_000_000 + fraction


def _clock(column, begin: preamble.Begin | None, shown: str, name: str) -> Stamps:
    """Times of day over one day or several: each fall past midnight is the next day."""
    if begin is None:
        raise Question("the rows give a time of day and no date, and neither do the lines above.", "start", place=name)
    texts, index = coded(column)
    times = [time_of_day(tidy(t or "")) for t in texts]
    us = np.array([NONE if t is None else t.us for t in times] or [NONE], np.int64)[index]
    offset = np.array([np.nan if t is None or t.offset_min is None else t.offset_min for t in times] or [np.nan])[index]
    good = us != NONE
    day = us[good]
    back = bool(len(day)) and falls(day)
    days = _days(day[::-1] if back else day, shown, name)
    if back and days[-1:].any() and not begin.sure:
        raise Question("the newest reading comes first, and the rows give times of day alone.", "start", place=name)
    first = _first_day(int(day[-1] if back else day[0]), begin, name)
    wall = np.full(len(us), NONE, np.int64)
    wall[good] = day + (first + (days[::-1] if back else days)) * DAY_US
    count = int(days[-1]) + 1 if len(days) else 1
    note = f"The rows give times of day alone; they were put on the date above them, {begin.said}"
    note += f", and each fall past midnight on the next day ({count} days in all)." if count > 1 else "."
    return Stamps(wall, offset, "time of day, date above the table", False, None, (note,))


def _days(day: np.ndarray, shown: str, name: str) -> np.ndarray:
    """(n,) which day each time of day is on, counted from the first."""
    steps = np.diff(day)
    usual = int(np.median(steps[steps > 0])) if (steps > 0).any() else 0
    gap = steps[steps < 0] + DAY_US
    if len(gap) and gap.max() > max(LONGEST_NIGHT_H * HOUR_US, 3 * usual):
        at = int(np.flatnonzero((steps < 0) & (steps + DAY_US == gap.max()))[0])
        before, after = (str(np.datetime64(int(t) // 1_000_000, "s"))[11:16] for t in (day[at], day[at + 1]))
        raise BadInput(
            f"the times of day under {shown!r} go back from {before} to {after}, and no date tells whether a "
            "day has passed. Export the file again with dates.",
            place=name,
        )
    return np.append(0, np.cumsum(steps < 0)).astype(np.int64)


def _first_day(clock_us: int, begin: preamble.Begin, name: str) -> int:
    """The day of the first reading: the one above, or the next where the record began late in the evening."""
    day = begin.day_us // DAY_US
    if begin.clock_us is None or not begin.sure:
        return day
    near = (clock_us - begin.clock_us + DAY_US // 2) % DAY_US - DAY_US // 2  # how long after the start, at its nearest
    if not -HOUR_US <= near <= LONGEST_NIGHT_H * HOUR_US:
        raise Question(
            f"the record is said to begin at {begin.said}, but its first time of day is hours away from it.",
            "start",
            place=name,
        )
    return (begin.day_us + begin.clock_us + near) // DAY_US
