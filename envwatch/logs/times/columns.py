"""The column or columns that hold the time, by what they hold, then by their header."""

from __future__ import annotations

import re
from typing import NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from envwatch.core.errors import BadInput
from envwatch.logs.text.cells import OK, looks_numeric, numbers, stampish, tidy
from envwatch.logs.text.roles import part_word, role_of, time_word
from envwatch.logs.text.stamps import date_and_time, date_only, time_of_day
from envwatch.logs.text.vocabulary import AM, NUMBER, PM, plain, tokens

NONE = np.iinfo(np.int64).min
HOUR_DOT_MINUTE = re.compile(r"\d{1,2}\.\d{2}")  # half past two as 14.30, where a date stands beside it
CLOCK_TEXT = re.compile(r"(?<!\d)\d{1,2}:\d{2}(?!\d)")
CLOCK = ("hour", "minute", "second", "time", "fraction", "dechour", "dayminute")
_SHORT = {"mo": "month", "m": "month", "dy": "day", "d": "day"}  # beside a year


class Columns(NamedTuple):
    """Which columns hold the time: one stamp, a date with a time, an epoch or serial number, or parts."""

    kind: str  # "full", "pair", "date", "epoch", "serial", "parts"
    at: tuple[int, ...]
    words: tuple[str, ...] = ()
    note: str = ""


class Stamps(NamedTuple):
    """Times as the file writes them.

    wall : (n,) microseconds since 1970 on the file's clock, NONE where unreadable.
    offset_min : (n,) offset written in the row, NaN where none was.
    shown : the format, in words. utc : the numbers count from 1970 UTC.
    summer : (n,) whether the row is flagged as of summer time; None where no column flags it.
    """

    wall: np.ndarray
    offset_min: np.ndarray
    shown: str
    utc: bool
    zone: str | None
    notes: tuple[str, ...]
    summer: np.ndarray | None = None


def find(columns: list[pa.ChunkedArray], names: tuple[str, ...], name: str, parts: bool) -> Columns:
    """The columns of the time, by what they hold, then by their header.

    Raises
    ------
    BadInput : there is none.
    """
    if parts:
        found = parts_of(names) or {}
        clocks = [i for i, c in enumerate(columns) if i not in found.values() and kind_of(c) == "time"]
        if clocks and not {*CLOCK} & {*found}:  # times of day, whatever their column is called
            found["time"] = clocks[0]
        halves = [i for i, c in enumerate(columns) if i not in found.values() and _halves(c)]
        if halves and "hour" in found:
            found["half"] = halves[0]
        return Columns("parts", tuple(found.values()), tuple(found))
    columns = with_halves(columns)
    kinds = [kind_of(column) for column in columns]
    full = [i for i, kind in enumerate(kinds) if kind == "full"]
    date = [i for i, kind in enumerate(kinds) if kind == "date"]
    time = [i for i, kind in enumerate(kinds) if kind == "time"]
    clocks = [i for i in date if _dotted_clock(columns[i], names[i], len(date) + len(full))]
    # "MaxTempTime" is when the maximum came, and no reading's time
    time = [i for i in sorted(time + clocks) if role_of(names[i]).kind not in ("temp", "rh")]
    date = [i for i in date if i not in clocks]
    if full and time and not date and _at_midnight(columns[full[0]]):
        date = full
    in_utc = [i for i, n in enumerate(names) if {"utc", "gmt", "zulu"} & {*tokens(plain(n))}]
    if date and time and not {*full} & {*in_utc} and not (full and full[0] < date[0]):
        near = min(date, key=lambda d: min(abs(d - t) for t in time))
        return Columns("pair", (near, min(time, key=lambda t: (abs(t - near), t < near))))
    if full:
        return _noted("full", full, names, in_utc)
    for kind in ("epoch", "serial"):
        some = [i for i, k in enumerate(kinds) if k == kind]
        if some:
            return _noted(kind, some, names, in_utc)
    if date:
        return _date_and_hour(date[0], columns, names, name)
    raise BadInput("no column holds date and time in every row. Export the file again with both.", place=name)


def clock_word(name: str) -> str | None:
    """Which part of a time of day a header names: one of CLOCK; None where none.

    >>> [clock_word(n) for n in ("Hour Ending", "Hora UTC", "HHMM", "Day fraction", "Minute of day", "Temp")]
    ['hour', 'hour', 'time', 'fraction', 'dayminute', None]
    """
    text = re.sub(r"[(\[].*?(?:[)\]]|$)|\b(?:ending|ended|utc|gmt|lst|local)\b", " ", plain(name)).strip(" :._")
    if re.search(r"\bfrac", text) or text in ("day part", "tagesbruchteil"):
        return "fraction"
    if re.fullmatch(r"min(?:ute)?s? ?(?:of|in|since) ?(?:the )?(?:day|midnight)", text.replace("_", " ")):
        return "dayminute"
    if "decimal" in plain(name) and part_word(text.replace("decimal", "").strip()) == "hour":
        return "dechour"
    word = "hour" if text == "he" else part_word(text) or time_word(text)
    return word if word in CLOCK else None


def parts_of(names: tuple[str, ...]) -> dict[str, int] | None:
    """Columns of year, month and day, or of day of the year, and of the time of day; None where no date is there."""
    found: dict[str, int] = {}
    for i, n in enumerate(names):
        short = plain(n).strip(" :.")
        part = _SHORT.get(short) if "year" in found else None
        part = part or part_word(n) or clock_word(n)
        if part in ("year", "month", "day", "yday", *CLOCK) and part not in found:
            found[part] = i
    if "year" not in found or not {"day", "yday"} & set(found):
        return None
    if "hour" in found:
        found.pop("time", None)
    if "month" in found and "day" in found:
        found.pop("yday", None)
    return found


def _may_be_clock(column: pa.ChunkedArray, word: str) -> bool:
    """Numbers that can be hours, minutes, hhmm or a fraction; a humidity called HR is none."""
    texts = pa.chunked_array([pa.array(sample(column), pa.string())])
    comma = any("," in (cell or "") for cell in texts.to_pylist())
    values, code, _ = numbers(texts, "," if comma else ".")
    values = values[(code == OK) & (values >= 0)]
    if len(values) < 0.8 * len(code) or not len(values):
        return False
    most, whole = values.max(), bool((values % 1 == 0).all())
    if not whole:
        return bool(most <= {"hour": 24, "dechour": 24, "time": 1, "fraction": 1}.get(word, -1))
    long = bool(most > 2400)  # 93015 for half past nine and 15 s
    if word in ("minute", "second", "dayminute", "fraction"):
        return bool(most < {"dayminute": 1441, "fraction": 2}.get(word, 60))
    parts = (values % 100 < 60).all() and (not long or (values // 100 % 100 < 60).all())
    return bool(most <= 24 or (most >= 100 and most <= (240_000 if long else 2400) and parts))


def with_halves(columns: list[pa.ChunkedArray]) -> list[pa.ChunkedArray]:
    """A column of its own for AM and PM is joined to the time before it."""
    for at in range(1, len(columns)):
        if _halves(columns[at]) and kind_of(columns[at - 1]) in ("time", "full"):
            before, half = (columns[i].combine_chunks() for i in (at - 1, at))
            joined = pc.binary_join_element_wise(before.cast(pa.string()), half.cast(pa.string()), " ")
            return [*columns[: at - 1], pa.chunked_array([joined]), *columns[at:]]
    return columns


def _halves(column: pa.ChunkedArray) -> bool:
    """Whether a column holds AM and PM alone."""
    texts = [c for c in (tidy(c or "").lower() for c in sample(column, 20)) if c]
    return bool(texts) and all(t in AM or t in PM for t in texts)


def _cells(column) -> list[str]:
    return [cell or "" for cell in sample(column)]


def _date_and_hour(date: int, columns, names, name: str) -> Columns:
    names = names[: len(columns)]  # a header may have more cells than any row
    words = {i: word for i, n in enumerate(names) if i != date and (word := clock_word(n)) in CLOCK}
    found: dict[str, int] = {}
    for i, word in words.items():
        if word not in found and _may_be_clock(columns[i], word):
            found[word] = i
    for whole in ("hour", "dechour", "fraction", "dayminute", "time"):
        if whole in found:
            halves = [i for i, c in enumerate(columns) if _halves(c)]
            found |= dict(zip(["half"], halves, strict=False))
            order = [whole, *(p for p in ("minute", "second", "half") if whole == "hour" and p in found)]
            return Columns("datehour", (date, *(found[p] for p in order)), tuple(order))
    for i, n in enumerate(names):
        cells = [] if i == date else [cell for cell in map(tidy, _cells(columns[i])) if cell]
        called = words.get(i) in ("time", "hour") and role_of(n).kind is None
        texts = all(HOUR_DOT_MINUTE.fullmatch(cell) or not cell.isdigit() for cell in cells)
        if called and cells and texts and all(map(time_of_day, cells)):
            return Columns("pair", (date, i))
        if cells and (called or sum(CLOCK_TEXT.search(cell) is not None for cell in cells) > 0.6 * len(cells)):
            where = f"under {n!r}" if n else f"in column {i + 1}"
            raise BadInput(
                f"the times {where} cannot be read (first: {cells[0][:30]!r}). Export the file again with "
                "times such as 14:05.",
                place=name,
            )
    behind = [sum(map(looks_numeric, map(tidy, _cells(c)))) > 0 for c in columns[date + 1 :]]
    if not any(names) and behind[:1] == [True] and sum(behind) > 2 and _may_be_clock(columns[date + 1], "dechour"):
        raise BadInput(
            f"the rows give a date, and no header says whether column {date + 2} is the hour of the day. Write a line "
            "with the columns' names above the rows, such as Date;Hour;Temperature;Humidity.", place=name)  # fmt: skip
    return Columns("date", (date,))


def _noted(kind: str, some: list[int], names, in_utc: list[int]) -> Columns:
    """Of several stamps the one in UTC, else one that is called a time, else the first; and a note on the others."""
    at = next((i for i in some if i in in_utc), next((i for i in some if time_word(names[i])), some[0]))
    others = ", ".join(repr(names[i] or f"column {i + 1}") for i in some if i != at)
    used = repr(names[at] or f"column {at + 1}")
    return Columns(kind, (at,), (), f"Several columns hold times; {used} was used, not {others}." if others else "")


def sample(column: pa.ChunkedArray, count: int = 120) -> list[str]:
    size = len(column)
    if size <= 3 * count:
        return column.to_pylist()
    at = sorted(set(range(40)) | set(np.linspace(0, size - 1, count, dtype=int).tolist()))
    return picked(column, at)


def picked(column: pa.ChunkedArray, at) -> list[str]:
    """Some cells; `take` would join all chunks of a big column first."""
    return [column[i].as_py() for i in at]


def kind_of(column: pa.ChunkedArray) -> str | None:
    cells = [c for c in (tidy(c or "") for c in sample(column)) if any(map(str.isdigit, c))]
    if not cells:
        return None
    found = [stampish(cell) for cell in cells]
    for kind in ("full", "date", "time", "epoch", "serial"):
        if found.count(kind) > (0.6 if len(cells) > 3 else 0.49) * len(cells) and found.count(kind) >= 1:
            return kind
    return "full" if found.count("full") + found.count("date") > 0.6 * len(cells) else None


def _dotted_clock(column: pa.ChunkedArray, name: str, dated: int) -> bool:
    """Whether "03.38.00" is a time of day: another column holds the date, and the header or the figures say so."""
    cells = [c for c in (tidy(c or "") for c in sample(column)) if c]
    cells = [c for c in cells if c[:1].isdigit()]
    if dated < 2 or not cells or not all(time_of_day(c) and len(c) <= 14 for c in cells):
        return False
    days = [d for d in map(date_only, cells) if d]
    return time_word(name) == "time" or any(d.b > 31 or (d.a > 12 and d.b > 12) for d in days)


def _at_midnight(column: pa.ChunkedArray) -> bool:
    found = [date_and_time(tidy(c or "")) for c in sample(column)]
    return all(f is None or f[1].us == 0 for f in found) and len(column) > 1


def is_row_number(column: pa.ChunkedArray, header: str) -> bool:
    """Whether a column counts the rows: whole numbers rising by one."""
    read = numbers(column.slice(0, 2000), ".")
    values = np.where(read.code == OK, read.values, -1)
    rising = len(values) > 2 and bool((np.diff(values) == 1).mean() > 0.95)
    known = role_of(header)
    return rising and (known.kind is None or known.weak or bool(set(tokens(plain(header))) & set(NUMBER)))
