"""The column or columns that hold the time, and the wall-clock time of every row."""

from __future__ import annotations

import re
from typing import NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from envwatch.errors import BadInput, Question
from envwatch.logs import dates, digits
from envwatch.logs.cells import OK, coded, numbers, stampish, tidy
from envwatch.logs.roles import part_word, role_of, time_word
from envwatch.logs.stamps import DAY_US, DateText, TimeText, date_and_time, date_only, split_at, time_of_day
from envwatch.logs.words import AM, NUMBER, PM, plain, tokens

NONE = np.iinfo(np.int64).min


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
    """

    wall: np.ndarray
    offset_min: np.ndarray
    shown: str
    utc: bool
    zone: str | None
    notes: tuple[str, ...]


def find(columns: list[pa.ChunkedArray], names: tuple[str, ...], name: str, parts: bool) -> Columns:
    """The columns of the time, by what they hold, then by their header.

    Raises
    ------
    BadInput : there is none.
    """
    if parts:
        return _parts(names)
    columns = _with_halves(columns)
    kinds = [_kind(column) for column in columns]
    full = [i for i, kind in enumerate(kinds) if kind == "full"]
    date = [i for i, kind in enumerate(kinds) if kind == "date"]
    time = [i for i, kind in enumerate(kinds) if kind == "time"]
    clocks = [i for i in date if _dotted_clock(columns[i], names[i], len(date) + len(full))]
    date, time = [i for i in date if i not in clocks], sorted(time + clocks)
    if full and time and not date and _at_midnight(columns[full[0]]):
        date = full
    in_utc = [i for i in full if _says_utc(names[i])]
    if date and time and not in_utc and not (full and full[0] < date[0]):
        near = min(date, key=lambda d: min(abs(d - t) for t in time))
        return Columns("pair", (near, min(time, key=lambda t: (abs(t - near), t < near))))
    if full:
        return _noted("full", full, names)
    for kind in ("epoch", "serial"):
        some = [i for i, k in enumerate(kinds) if k == kind]
        if some:
            return _noted(kind, some, names)
    if date:
        return _date_and_hour(date[0], columns, names, name)
    raise BadInput(f"{name}: no column holds date and time in every row. Export the file again with both.")


def _may_be_clock(column: pa.ChunkedArray) -> bool:
    """Whole numbers that can be hours, minutes or hhmm; a humidity called HR is none."""
    values = _whole(pa.chunked_array([pa.array(_sample(column), pa.string())]))
    if not len(values) or (values < 0).mean() > 0.2:
        return False
    values = values[values >= 0]
    long = bool((values > 2400).any())  # 93015 for half past nine and 15 s
    whole = (values == np.rint(values)).all() and (values <= (240_000 if long else 2400)).all()
    parts = (values % 100 < 60).all() and (not long or (values // 100 % 100 < 60).all())
    return bool(whole and ((values <= 24).all() or ((values >= 100).any() and parts)))


def refuse_one_day(stamps: Stamps, name: str) -> None:
    """Dates without a time of day suit one reading a day, not many.

    Raises
    ------
    BadInput : most days bear several readings.
    """
    good = stamps.wall[stamps.wall != NONE]
    if len(good) > 2 and len(good) > 1.5 * len(np.unique(good)):
        raise BadInput(
            f"{name}: the rows give a date but no time of day that can be read, and several stand on one day. Export "
            "the file again with date and time."
        )


def _with_halves(columns: list[pa.ChunkedArray]) -> list[pa.ChunkedArray]:
    """A column of its own for AM and PM is joined to the time before it."""
    for at in range(1, len(columns)):
        texts = [c for c in (tidy(c or "").lower() for c in _sample(columns[at], 20)) if c]
        if texts and all(t in AM or t in PM for t in texts) and _kind(columns[at - 1]) in ("time", "full"):
            before, half = (columns[i].combine_chunks() for i in (at - 1, at))
            joined = pc.binary_join_element_wise(before.cast(pa.string()), half.cast(pa.string()), " ")
            return [*columns[: at - 1], pa.chunked_array([joined]), *columns[at:]]
    return columns


def _cells(column) -> list[str]:
    return [cell or "" for cell in _sample(column)]


def _date_and_hour(date: int, columns, names, name: str) -> Columns:
    words = ("hour", "minute", "second", "time")
    found = {
        time_word(n): i for i, n in enumerate(names)
        if i != date and time_word(n) in words and _may_be_clock(columns[i])
    }  # fmt: skip
    if "hour" in found or "time" in found:
        order = [p for p in ("hour", "minute", "second", "time") if p in found]
        order = ["time"] if "hour" not in found else order
        return Columns("datehour", (date, *(found[p] for p in order)), tuple(order))
    for i, n in enumerate(names):
        if i != date and time_word(n) == "time" and role_of(n).kind is None and any(map(tidy, _cells(columns[i]))):
            seen = next(filter(None, map(tidy, _cells(columns[i]))))
            raise BadInput(
                f"{name}: the times under {n!r} cannot be read (first: {seen[:30]!r}). Export the file again with "
                "times such as 14:05."
            )
    return Columns("date", (date,))


def _says_utc(name: str) -> bool:
    return bool({"utc", "gmt", "zulu"} & set(tokens(plain(name))))


def _noted(kind: str, some: list[int], names) -> Columns:
    at = _preferred(some, names)
    others = ", ".join(repr(names[i] or f"column {i + 1}") for i in some if i != at)
    used = repr(names[at] or f"column {at + 1}")
    return Columns(kind, (at,), (), f"Several columns hold times; {used} was used, not {others}." if others else "")


def _preferred(some: list[int], names) -> int:
    """Of several stamps the one in UTC, else one that is called a time, else the first."""
    for i in some:
        if _says_utc(names[i]):
            return i
    return next((i for i in some if time_word(names[i])), some[0])


def _parts(names) -> Columns:
    found: dict[str, int] = {}
    for i, n in enumerate(names):
        part = part_word(n)
        if part in ("year", "month", "day", "yday", "hour", "minute", "second", "time") and part not in found:
            found[part] = i
    if "hour" in found:
        found.pop("time", None)
    return Columns("parts", tuple(found.values()), tuple(found))


def _sample(column: pa.ChunkedArray, count: int = 120) -> list[str]:
    size = len(column)
    if size <= 3 * count:
        return column.to_pylist()
    at = sorted(set(range(40)) | set(np.linspace(0, size - 1, count, dtype=int).tolist()))
    return column.take(pa.array(at)).to_pylist()


def _kind(column: pa.ChunkedArray) -> str | None:
    cells = [c for c in (tidy(c or "") for c in _sample(column)) if any(map(str.isdigit, c))]
    if not cells:
        return None
    found = [stampish(cell) for cell in cells]
    for kind in ("full", "date", "time", "epoch", "serial"):
        if found.count(kind) > (0.6 if len(cells) > 3 else 0.49) * len(cells) and found.count(kind) >= 1:
            return kind
    return "full" if found.count("full") + found.count("date") > 0.6 * len(cells) else None


def _dotted_clock(column: pa.ChunkedArray, name: str, dated: int) -> bool:
    """Whether "03.38.00" is a time of day: another column holds the date, and the header or the figures say so."""
    cells = [c for c in (tidy(c or "") for c in _sample(column)) if c]
    cells = [c for c in cells if c[:1].isdigit()]
    if dated < 2 or not cells or not all(time_of_day(c) and len(c) <= 14 for c in cells):
        return False
    days = [d for d in map(date_only, cells) if d]
    return time_word(name) == "time" or any(d.b > 31 or (d.a > 12 and d.b > 12) for d in days)


def _at_midnight(column: pa.ChunkedArray) -> bool:
    found = [date_and_time(tidy(c or "")) for c in _sample(column)]
    return all(f is None or f[1].us == 0 for f in found) and len(column) > 1


def read(where: Columns, columns, names, told: str | None, now_us: int, name: str) -> Stamps:
    """The wall-clock times of all rows.

    Raises
    ------
    Question : day and month cannot be told apart. BadInput : the told order is impossible.
    """
    columns = _with_halves(columns)
    if where.kind in ("epoch", "serial"):
        return _counted(columns[where.at[0]], where.kind, name)
    if where.kind == "parts":
        return _from_parts(where, columns)
    if where.kind == "datehour":
        date, time = columns[where.at[0]], _hours(where, columns)
        return _texts(date, time, told, now_us, name, False)
    if where.kind == "pair":
        return _texts(columns[where.at[0]], columns[where.at[1]], told, now_us, name, False)
    if where.kind == "date":
        only = columns[where.at[0]]
        return _texts(only, None, told, now_us, name, False)
    return _texts(columns[where.at[0]], None, told, now_us, name, True)


class _Pieces(NamedTuple):
    """Distinct dates and times, and per row which; -1 where unreadable."""

    dates: list[DateText]
    date_at: np.ndarray
    times: list[TimeText]
    time_at: np.ndarray


def _texts(date_column, time_column, told, now_us, name, full: bool) -> Stamps:
    pieces = _cut(date_column) if full else _apart(date_column, time_column)
    pieces = _one_way(pieces, name)
    good = (pieces.date_at >= 0) & (pieces.time_at >= 0)
    if not good.any():
        raise BadInput(f"{name}: no row holds a readable date and time. Export the file again.")
    times_us = np.array([t.us for t in pieces.times], np.int64)
    time_us = times_us[pieces.time_at]
    found = dates.orders(list(pieces.dates))
    rows = slice(None) if good.all() else good
    choice = dates.choose(found, pieces.date_at[rows], time_us[rows], told, now_us)
    if choice.order is None:
        raise _unsettled(choice, pieces, date_column, name, told)
    wall = (choice.order.days * DAY_US)[pieces.date_at]
    wall += time_us
    if not (good.all() and choice.order.valid.all()):
        wall[~(good & choice.order.valid[pieces.date_at])] = NONE
    offsets = np.array([np.nan if t.offset_min is None else t.offset_min for t in pieces.times])
    offset_min = (
        np.where(good, offsets[pieces.time_at], np.nan)
        if np.isfinite(offsets).any()
        else np.full(1, np.nan, np.float32)
    )
    zones = {t.zone for t in pieces.times if t.zone}
    shown, notes = _style(pieces, choice)
    if any(t.us == DAY_US for t in pieces.times):
        notes.append("A time of 24:00 was read as midnight at the end of that day.")
    if time_column is None and not full:
        notes.append("The file gives dates without a time of day; each reading was put at 00:00.")
    offset_min = np.broadcast_to(offset_min, wall.shape) if len(offset_min) != len(wall) else offset_min
    return Stamps(wall, offset_min, shown, False, zones.pop() if len(zones) == 1 else None, tuple(notes))


def _one_way(pieces: _Pieces, name: str) -> _Pieces:
    """Dates year first beside dates year last betray a spreadsheet that has turned some of them round."""
    first = np.array([d.order in ("ymd", "yd") for d in pieces.dates])
    if first.all() or not first.any():
        return pieces
    known = pieces.date_at >= 0
    rows = known & first[pieces.date_at]
    few = rows if 2 * rows.sum() < known.sum() else known & ~rows
    if few.sum() > max(2, 0.01 * known.sum()):
        raise BadInput(
            f"{name}: dates are written in two ways, {int(rows.sum())} with the year first and "
            f"{int((known & ~rows).sum())} with the "
            "year last. A spreadsheet may have swapped day and month in some; export the file again from the logger."
        )
    return pieces._replace(date_at=np.where(few, -1, pieces.date_at))


def _style(pieces: _Pieces, choice: dates.Choice) -> tuple[str, list[str]]:
    styles = [d.style for d in pieces.dates if d.style]
    style = max(set(styles), key=styles.count) if styles else ""
    order = choice.order.name if choice.order else ""
    if "?" in style:
        mark = style.strip("?y")[:1]
        year = "y" * style.count("y")
        style = mark.join({"dmy": ("dd", "mm", year), "mdy": ("mm", "dd", year), "ymd": (year, "mm", "dd")}[order])
        said = f": {choice.why}" if choice.why else ""
        return f"{style}, {dates.WORDS[order]}", [f"Dates were read {dates.WORDS[order]} ({style}){said}."]
    return style, []


def _unsettled(choice: dates.Choice, pieces: _Pieces, column, name: str, told: str | None) -> Exception:
    example = next((tidy(c or "") for c in _sample(column) if tidy(c or "")), "")[:40]
    if choice.why == "told order impossible":
        words_ = " or ".join(dates.WORDS[o] for o in choice.left)
        return Question(
            f"{name}: dates were to be read {dates.WORDS.get(told or '', told)}, but then some are impossible; "
            f"they fit {words_} "
            f"(first: {example!r}).", "--dates", choice.left,
        )  # fmt: skip
    if not choice.left:
        return BadInput(f"{name}: {choice.why} (first: {example!r}). Export the file again with full dates.")
    return Question(
        f"{name}: dates such as {example!r} can be read {' or '.join(dates.WORDS[o] for o in choice.left)}, "
        "and nothing in "
        "the file decides it.", "--dates", choice.left,
    )  # fmt: skip


def _index(texts: list[str], parse) -> tuple[list, np.ndarray]:
    """Distinct parsed values, and for each text which; -1 where it does not parse."""
    kept: dict = {}
    at = np.empty(len(texts), np.int64)
    for i, text in enumerate(texts):
        value = parse(text or "")
        at[i] = -1 if value is None else kept.setdefault(value, len(kept))
    return list(kept), at


def _apart(date_column, time_column) -> _Pieces:
    """Dates and times in columns of their own."""
    texts, index = coded(date_column)
    dates_, at = _index(texts, _date_of)
    blank = np.array([not tidy(t or "") for t in texts] or [False])[index]
    if blank.mean() > 0.3 and not blank[0]:  # the date stands on the first row of each day only
        index = index[np.maximum.accumulate(np.where(blank, 0, np.arange(len(index))))]
    if time_column is None:
        return _Pieces(
            dates_ or [DateText(0, 0, 0, "", "")], at[index], [TimeText(0, None)], np.zeros(len(index), np.int64)
        )
    ttexts, tindex = coded(time_column)
    times_, tat = _index(ttexts, _clock_of)
    return _Pieces(dates_ or [DateText(0, 0, 0, "", "")], at[index], times_ or [TimeText(0, None)], tat[tindex])


def _date_of(text: str) -> DateText | None:
    both = date_only(text) or date_and_time(tidy(text))
    return both[0] if isinstance(both, tuple) and both and isinstance(both[0], DateText) else both  # type: ignore[return-value]


def _clock_of(text: str) -> TimeText | None:
    both = time_of_day(text) or date_and_time(tidy(text))
    return both[1] if isinstance(both, tuple) and both and isinstance(both[0], DateText) else both  # type: ignore[return-value]


def _cut(column: pa.ChunkedArray) -> _Pieces:
    """Full stamps: cut at one place for all rows where that is possible, else read one by one."""
    size = len(column)
    if pa.types.is_dictionary(column.type) and sum(len(chunk.dictionary) for chunk in column.chunks) > 20_000:
        column = column.cast(pa.string())
    if size > 300 and not pa.types.is_dictionary(column.type):
        fast = _cut_at_one_place(column)
        if fast is not None:
            return fast
    texts, index = coded(column)
    both = [_both(text or "") for text in texts]
    dates_, at = _index_of([b and b[0] for b in both])
    times_, tat = _index_of([b and b[1] for b in both])
    return _Pieces(dates_ or [DateText(0, 0, 0, "", "")], at[index], times_ or [TimeText(0, None)], tat[index])


def _both(text: str):
    found = date_and_time(tidy(text))
    if found is None:
        day = date_only(text)  # a spreadsheet leaves midnight out
        return (day, TimeText(0, None)) if day else None
    return found


def _index_of(values: list) -> tuple[list, np.ndarray]:
    kept: dict = {}
    at = np.array([-1 if v is None else kept.setdefault(v, len(kept)) for v in values] or [-1], np.int64)
    return list(kept), at


def _cut_at_one_place(column: pa.ChunkedArray) -> _Pieces | None:
    """Millions of stamps fall apart into a few thousand dates and times of day; only those are read."""
    head = [c for c in _sample(column) if c]
    cuts = {split_at(c) for c in head}
    lengths = pc.binary_length(column)
    low, high = pc.min_max(lengths).as_py().values()
    if len(cuts) == 1 and None not in cuts and low == high:
        cut = split_at(head[0]) or 0
        by_digits = digits.split(column, cut, head[0])
        if by_digits is not None:
            return _parsed(*by_digits)
        raw = column.cast(pa.binary())
        return _pieces(pc.binary_slice(raw, 0, cut), pc.binary_slice(raw, cut + 1, int(low)))
    marks = {c[at] for c in head if (at := split_at(c)) is not None}
    blanks = {c[: split_at(c) or 0].count(" ") for c in head if split_at(c)}
    if len(marks) != 1 or (marks == {" "} and blanks != {0}) or marks - {" ", "T"}:
        return None
    halves = pc.split_pattern(column.combine_chunks(), marks.pop(), max_splits=1)
    if pc.min_max(pc.list_value_length(halves)).as_py() != {"min": 2, "max": 2}:
        return None
    return _pieces(pc.list_element(halves, 0), pc.list_element(halves, 1))


def _pieces(date, time) -> _Pieces | None:
    return _parsed(*coded(date), *coded(time))


def _parsed(texts, index, ttexts, tindex) -> _Pieces | None:
    """Distinct texts to dates and times; None where one of them is neither."""
    dates_, at = _index([_text(t) for t in texts], date_only)
    times_, tat = _index([_text(t) for t in ttexts], time_of_day)
    if not dates_ or not times_ or (at < 0).any() or (tat < 0).any():
        return None  # a stamp of another shape is among them
    same = [np.array_equal(a, np.arange(len(a))) for a in (at, tat)]
    return _Pieces(dates_, index if same[0] else at[index], times_, tindex if same[1] else tat[tindex])


def _text(value) -> str:
    return value.decode("utf-8", "replace") if isinstance(value, bytes) else value or ""


_EPOCHS = ((1, 9e8, 4.2e9, "seconds"), (1e3, 9e11, 4.2e12, "milliseconds"), (1e6, 9e14, 4.2e15, "microseconds"),
           (1e9, 9e17, 4.2e18, "nanoseconds"))  # fmt: skip


def _counted(column, kind: str, name: str) -> Stamps:
    """Seconds since 1970, or a spreadsheet's days since 1899-12-30."""
    if kind == "epoch":
        whole = _whole_epochs(column)
        if whole is not None:
            return whole
        texts, index = coded(column)
        exact = [_epoch_us(tidy(text or "")) for text in texts]
        wall = np.array([NONE if e is None else e[0] for e in exact], np.int64)[index]
        unit = next((e[1] for e in exact if e is not None), "seconds")
        return _since_1970(wall, unit)
    values, code, _ = numbers(column, "." if _has_point(column) else ",")
    wall = np.full(len(values), NONE, np.int64)
    good = (code == OK) & (values > 30_000) & (values < 80_000)
    us = (values[good] - 25_569) * DAY_US
    unit, grain = ("second", 1_000_000) if _decimals(column) >= 5 else ("minute", 60_000_000)
    wall[good] = np.rint(us / grain).astype(np.int64) * grain  # five decimals of a day resolve about a second
    return Stamps(wall, np.full(len(wall), np.nan), "spreadsheet serial days", False, None,
                  (f"Times are a spreadsheet's day numbers; they were read to the {unit}.",))  # fmt: skip


def _whole_epochs(column) -> Stamps | None:
    """Counts that are whole numbers of one unit, all at once; None where any is not."""
    try:
        values = column.cast(pa.string()).combine_chunks().cast(pa.int64()).to_numpy(zero_copy_only=False)
    except pa.ArrowInvalid:
        return None
    for scale, low, high, unit in _EPOCHS[:3]:
        if values.dtype == np.int64 and len(values) and values.min() >= low and values.max() <= high:
            return _since_1970(values * int(1_000_000 / scale), unit)
    return None


def _since_1970(wall: np.ndarray, unit: str) -> Stamps:
    none = np.full(len(wall), np.nan)
    return Stamps(wall, none, f"{unit} since 1970 UTC", True, None, (f"Times count {unit} since 1970 in UTC.",))


def _decimals(column) -> int:
    return max((len(re.split(r"[.,]", cell)[-1]) for cell in _sample(column) if re.search(r"\d[.,]\d", cell or "")),
               default=0)  # fmt: skip


def _has_point(column) -> bool:
    return any("." in (cell or "") for cell in _sample(column))


def _epoch_us(text: str) -> tuple[int, str] | None:
    whole, _, fraction = text.replace(",", ".").partition(".")
    if not whole.isascii() or not whole.isdigit() or (fraction and not fraction.isdigit()):
        return None
    for scale, low, high, unit in _EPOCHS:
        if low <= int(whole) <= high:
            per_unit = 1_000_000 / scale
            part = round(float("0." + (fraction or "0")) * per_unit) if per_unit >= 1 else 0
            return (int(whole) * int(per_unit) if per_unit >= 1 else int(whole) // 1000) + part, unit
    return None


def _whole(column) -> np.ndarray:
    values, code, _ = numbers(column, ".")
    return np.where(code == OK, values, -1)


def _hours(where: Columns, columns) -> pa.Array:
    """Hour numbers (and minutes) beside a date, as texts of the day's time."""
    got = {p: _whole(columns[i]) for p, i in zip(where.words, where.at[1:], strict=True)}
    if "time" in got:  # 930 for half past nine
        hhmm = got["time"]
        second = hhmm % 100 * (hhmm > 2400).any()
        hhmm = hhmm // 100 if (hhmm > 2400).any() else hhmm
        got = {"hour": hhmm // 100, "minute": hhmm % 100} if (hhmm > 24).any() else {"hour": hhmm}
        got["second"] = second
    zero = np.zeros(len(got["hour"]))
    parts = [got["hour"], got.get("minute", zero), got.get("second", zero)]
    return pa.chunked_array([pa.array([f"{int(h):02d}:{int(m):02d}:{int(s):02d}" if h >= 0 else "" for h, m, s in
                                       zip(*parts, strict=True)])])  # fmt: skip


def _from_parts(where: Columns, columns) -> Stamps:
    got = {p: _whole(columns[i]) for p, i in zip(where.words, where.at, strict=True)}
    zero = np.zeros(len(columns[0]))
    if "time" in got:
        hhmm = got.pop("time")
        got["hour"], got["minute"] = hhmm // 100, hhmm % 100
    if "yday" in got:
        got |= {"month": zero + 1, "day": zero + 1}
    year, month, day = (got[p].astype(np.int64) for p in ("year", "month", "day"))
    days, valid = dates.days_of(np.where(year < 100, year + 2000, year), month, day)
    if "yday" in got:
        days, valid = days + got["yday"].astype(np.int64) - 1, valid & (got["yday"] >= 1) & (got["yday"] <= 366)
    h, m, s = (got.get(p, zero) for p in ("hour", "minute", "second"))
    valid &= (h >= 0) & (h <= 24) & (m >= 0) & (m < 60) & (s >= 0) & (s < 61)
    us = np.rint(((h * 60 + m) * 60 + s) * 1e6).astype(np.int64)
    wall = np.where(valid, days * DAY_US + us, NONE)
    return Stamps(wall, np.full(len(wall), np.nan), "columns of " + ", ".join(got), False, None, ())


def is_row_number(column: pa.ChunkedArray, header: str) -> bool:
    """Whether a column counts the rows: whole numbers rising by one."""
    values = _whole(column.slice(0, 2000))
    rising = len(values) > 2 and bool((np.diff(values) == 1).mean() > 0.95)
    known = role_of(header)
    return rising and (known.kind is None or known.weak or bool(set(tokens(plain(header))) & set(NUMBER)))
