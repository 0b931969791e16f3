"""The wall-clock time of every row, as the file writes it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from envwatch.core.errors import BadInput, Question
from envwatch.figures.logs import CLOCK_LOST_DAYS, FIRST_YEAR
from envwatch.logs.text.cells import coded, tidy
from envwatch.logs.text.stamps import DAY_US, DateText, TimeText, date_and_time, date_only, split_at, time_of_day
from envwatch.logs.times import counted, day_order, preamble
from envwatch.logs.times.clock import HOUR_US, falls
from envwatch.logs.times.columns import NONE, Columns, Stamps, sample, with_halves

MOST_DIGITS, ZERO = 8, ord("0")
FALLS_LEAST, LOST_ROWS = 5, 30  # of times of day from 1 to 12 alone: falls within days, rows that never pass noon
CLOCKS_BEGIN = ("1980-01-01 00", "2000-01-01 00", "2001-01-01 00")  # the hours in which clocks begin to count
CLOCKS_BEGIN_UNTIL = int(np.datetime64("2001-01-02", "us").astype(np.int64))


def likely(stamps: Stamps, start: str | None, now_us: int, name: str) -> Stamps:
    """The times; of a clock that was wrong throughout, set right where a person told when the record began.

    Raises
    ------
    Question : the times lie before loggers were or to come, or count from the day a clock begins at; no start was told.
    """
    good = stamps.wall[stamps.wall != NONE]
    if not len(good):
        return stamps
    lowest, highest = int(good.min()), int(good.max())
    if lowest > CLOCKS_BEGIN_UNTIL and highest <= now_us + 2 * DAY_US:
        return stamps
    first, last = (np.datetime64(t, "us").item() for t in (lowest, highest))
    if highest < counted.SINCE_US:
        fault = f"all times lie before {FIRST_YEAR:.0f}"
    elif (good > now_us + 2 * DAY_US).mean() > 0.5:
        fault = "the times lie in the future"
    elif (
        f"{first:%Y-%m-%d %H}" in CLOCKS_BEGIN
        and (last.month, last.day) != (12, 31)
        and (last - first).days < CLOCK_LOST_DAYS
    ):
        fault = f"the times begin with the year {first.year}, as of a clock that was reset"
    else:
        return stamps
    if start is None:
        raise Question(
            f"{fault} (first: {first:%Y-%m-%d %H:%M}): the logger's clock was reset or set wrong, or this computer's "
            "clock is. Set this computer's clock right, or say when the record began.", "start", place=name,
        )  # fmt: skip
    date, time = preamble.told(start)
    days, _ = day_order.days_of(*(np.array([n]) for n in date[:3]))
    begin = int(days[0]) * DAY_US + (time.us if time else lowest % DAY_US)
    begin_at = int(good[-1] if falls(good) else good[0])
    wall = np.where(stamps.wall == NONE, NONE, stamps.wall - begin_at + begin)
    note = f"The clock was wrong ({fault}); the times were moved so that the record begins at {start.strip()}, as told."
    return stamps._replace(wall=wall, utc=False, notes=(*stamps.notes, note))


def _refuse_lost_halves(us: np.ndarray, date: np.ndarray, name: str) -> None:
    """Times of twelve hours without AM and PM: no hour 0 nor past 12, and on one day the clock falls and runs on.

    Raises
    ------
    BadInput : it is so.
    """
    if not len(us) or us.min() < HOUR_US or us.max() >= 13 * HOUR_US:
        return
    step = np.diff(us)[date[1:] == date[:-1]]
    step = step[step != 0]
    step = -step if (step < 0).sum() > (step > 0).sum() else step
    if not (step < 0).any() or not (step > 0).any():
        return
    usual = int(np.median(step[step > 0]))
    falls = (step < 0).sum()  # of an unsteady record: once or twice on many days, as no restart makes them
    if (np.abs(step[step < 0] + DAY_US // 2 - usual) <= usual // 2).mean() > 0.5 or (
        FALLS_LEAST <= falls <= 2 * ((date[1:] != date[:-1]).sum() + 1) and len(us) >= LOST_ROWS
    ):
        raise BadInput(
            "the times of day run from 1 to 12 twice a day and do not say which half: AM and PM are lost. Export the "
            "file again with times of 24 hours, or with AM and PM.",
            place=name,
        )


def read(where: Columns, columns, names, above: list[str], told: str | None, now_us: int, name: str) -> Stamps:
    """The wall-clock times of all rows. above : the lines above the table.

    Raises
    ------
    Question : day and month cannot be told apart. BadInput : the told order is impossible.
    """
    columns = with_halves(columns)
    if where.kind in ("epoch", "serial"):
        at = where.at[0]
        return counted.read(columns[at], names[at] if at < len(names) else "", now_us, name)
    if where.kind == "parts":
        stamps = counted.from_parts(where, columns)
        good = stamps.wall[stamps.wall != NONE]
        _refuse_lost_halves(good % DAY_US, good // DAY_US, name)
        return stamps
    date = columns[where.at[0]]
    time = counted.hours(where, columns) if where.kind == "datehour" else None
    time = columns[where.at[1]] if where.kind == "pair" else time
    return _texts(date, time, above, told, now_us, name, where.kind == "full")


class _Pieces(NamedTuple):
    """Distinct dates and times, and per row which; -1 where unreadable."""

    dates: list[DateText]
    date_at: np.ndarray
    times: list[TimeText]
    time_at: np.ndarray


def _texts(date_column, time_column, above, told, now_us, name, full: bool) -> Stamps:
    pieces = _cut(date_column) if full else _apart(date_column, time_column)
    pieces = _one_way(pieces, name)
    good = (pieces.date_at >= 0) & (pieces.time_at >= 0)
    if not good.any():
        raise BadInput("no row holds a readable date and time. Export the file again.", place=name)
    times_us = np.array([t.us for t in pieces.times], np.int64)
    time_us = times_us[pieces.time_at]
    _refuse_lost_halves(time_us[good], pieces.date_at[good], name)
    found = day_order.orders(list(pieces.dates))
    rows = slice(None) if good.all() else good
    choice = day_order.choose(found, pieces.date_at[rows], time_us[rows], told, now_us)
    if choice.order is None and choice.left and not told:
        choice = day_order.by_dates_above(choice, found, pieces.date_at[rows], _certain_days(above))
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


def _certain_days(above: list[str]) -> set[int]:
    """Days since 1970 of the dates above the table that can be read in one way alone."""
    dates = [w.date for w in preamble.written(above) if w.date is not None and w.date.order in ("ymd", "dmy", "yd")]
    (order,) = day_order.orders(list(dates)) if dates else (None,)
    return set(order.days[order.valid].tolist()) if order else set()


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
            f"dates are written in two ways, {int(rows.sum())} with the year first and "
            f"{int((known & ~rows).sum())} with the "
            "year last. A spreadsheet may have swapped day and month in some; export the file again from the logger.",
            place=name,
        )
    return pieces._replace(date_at=np.where(few, -1, pieces.date_at))


def _style(pieces: _Pieces, choice: day_order.Choice) -> tuple[str, list[str]]:
    styles = [d.style for d in pieces.dates if d.style]
    style = max(set(styles), key=styles.count) if styles else ""
    order = choice.order.name if choice.order else ""
    if "?" in style:
        mark = style.strip("?y")[:1]
        year = "y" * style.count("y")
        style = mark.join({"dmy": ("dd", "mm", year), "mdy": ("mm", "dd", year), "ymd": (year, "mm", "dd")}[order])
        said = f": {choice.why}" if choice.why else ""
        return f"{style}, {day_order.WORDS[order]}", [f"Dates were read {day_order.WORDS[order]} ({style}){said}."]
    return style, []


def _unsettled(choice: day_order.Choice, pieces: _Pieces, column, name: str, told: str | None) -> Exception:
    example = next((tidy(c or "") for c in sample(column) if tidy(c or "")), "")[:40]
    if choice.why == "told order impossible":
        words_ = " or ".join(day_order.WORDS[o] for o in choice.left)
        return Question(
            f"dates were to be read {day_order.WORDS.get(told or '', told)}, but then some are impossible; "
            f"they fit {words_} "
            f"(first: {example!r}).", "dates", choice.left, place=name)  # fmt: skip
    if not choice.left:
        return BadInput(f"{choice.why} (first: {example!r}). Export the file again with full dates.", place=name)
    return Question(
        f"dates such as {example!r} can be read {' or '.join(day_order.WORDS[o] for o in choice.left)}, "
        "and nothing in "
        "the file decides it.", "dates", choice.left, place=name)  # fmt: skip


def _found(dates, index, times, time_index) -> _Pieces:
    """Distinct dates and times out of those of distinct texts, None where unreadable, and which text a row has."""
    both = []
    for values, of_row in ((dates, index), (times, time_index)):
        kept: dict = {}
        at = np.array([-1 if v is None else kept.setdefault(v, len(kept)) for v in values] or [-1], np.int64)
        both += [list(kept), of_row if np.array_equal(at, np.arange(len(at))) else at[of_row]]
    return _Pieces(both[0] or [DateText(0, 0, 0, "", "")], both[1], both[2] or [TimeText(0, None)], both[3])


def _apart(date_column, time_column) -> _Pieces:
    """Dates and times in columns of their own."""
    texts, index = coded(date_column)
    blank = np.array([not tidy(t or "") for t in texts] or [False])[index]
    if blank.mean() > 0.3 and not blank[0]:  # the date stands on the first row of each day only
        index = index[np.maximum.accumulate(np.where(blank, 0, np.arange(len(index))))]
    dates = [(_both(text or "") or (None, None))[0] for text in texts]
    if time_column is None:
        return _found(dates, index, [TimeText(0, None)], np.zeros(len(index), np.int64))
    texts, time_index = coded(time_column)
    times = [time_of_day(text) or (date_and_time(tidy(text)) or (None, None))[1] for text in (t or "" for t in texts)]
    return _found(dates, index, times, time_index)


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
    both = [_both(text or "") or (None, None) for text in texts]
    return _found([date for date, _ in both], index, [time for _, time in both], index)


def _both(text: str) -> tuple[DateText, TimeText] | None:
    day = date_only(text)  # a spreadsheet leaves midnight out
    return date_and_time(tidy(text)) or (day and (day, TimeText(0, None)))


def _cut_at_one_place(column: pa.ChunkedArray) -> _Pieces | None:
    """Millions of stamps fall apart into a few thousand dates and times of day; only those are read."""
    head = [c for c in sample(column) if c]
    cuts = {split_at(c) for c in head}
    lengths = pc.binary_length(column)
    low, high = pc.min_max(lengths).as_py().values()
    if len(cuts) == 1 and None not in cuts and low == high:
        cut = split_at(head[0]) or 0
        by_digits = _by_digits(column, cut, head[0])
        if by_digits is not None:
            return _parsed(*by_digits)
        raw = column.cast(pa.binary())
        date, time = pc.binary_slice(raw, 0, cut), pc.binary_slice(raw, cut + 1, int(low))
        return _parsed(*coded(date), *coded(time))
    marks = {c[at] for c in head if (at := split_at(c)) is not None}
    blanks = {c[: split_at(c) or 0].count(" ") for c in head if split_at(c)}
    if len(marks) != 1 or (marks == {" "} and blanks != {0}) or marks - {" ", "T"}:
        return None
    halves = pc.split_pattern(column.combine_chunks(), marks.pop(), max_splits=1)
    if pc.min_max(pc.list_value_length(halves)).as_py() != {"min": 2, "max": 2}:
        return None
    return _parsed(*coded(pc.list_element(halves, 0)), *coded(pc.list_element(halves, 1)))


def _parsed(texts, index, ttexts, tindex) -> _Pieces | None:
    """Distinct texts to dates and times; None where one of them is neither."""
    texts, ttexts = ([t.decode("utf-8", "replace") if isinstance(t, bytes) else t or "" for t in some]
                     for some in (texts, ttexts))  # fmt: skip
    dates, times = list(map(date_only, texts)), list(map(time_of_day, ttexts))
    if None in dates or None in times:
        return None  # a stamp of another shape is among them
    return _found(dates, index, times, tindex)


def _by_digits(column: pa.ChunkedArray, cut: int, example: str):
    """Distinct dates and times of stamps that all look like the example, by their figures alone, and per row which.

    column : (n,) texts of one length. cut : where date and time part. None where any stamp has something else at a
    figure's or a mark's place, or where a half has more than eight figures.
    """
    spans = ((0, cut), (cut + 1, len(example)))
    halves = [[i for i in range(lo, hi) if example[i].isdigit()] for lo, hi in spans]
    if not example.isascii() or not all(0 < len(places) <= MOST_DIGITS for places in halves):
        return None
    parts = []
    for chunk in column.chunks:
        codes = _codes(chunk, halves, example)
        if codes is None:
            return None
        parts.append(codes)
    out: list = []
    for (lo, hi), places, codes in zip(spans, halves, zip(*parts, strict=True), strict=True):
        distinct, index = _distinct(np.concatenate(codes), 10 ** len(places))
        texts, letters = [], list(example)
        for value in distinct.tolist():
            for place, figure in zip(places, str(value).zfill(len(places)), strict=True):
                letters[place] = figure
            texts.append("".join(letters[lo:hi]))
        out += [texts, index]
    return out


def _codes(chunk: pa.Array, halves: list[list[int]], example: str) -> list[np.ndarray] | None:
    """The figures at the places of each half as numbers, (n,) each; the letters are looked at without a copy."""
    if chunk.null_count or chunk.type != pa.string():
        return None
    offsets = np.frombuffer(chunk.buffers()[1], np.int32)[chunk.offset : chunk.offset + len(chunk) + 1]
    data = np.frombuffer(chunk.buffers()[2], np.uint8)[offsets[0] : offsets[-1]]
    if len(data) != len(chunk) * len(example):
        return None
    letters = data.reshape(len(chunk), len(example))
    if any((letters[:, i] != ord(sign)).any() for i, sign in enumerate(example) if not sign.isdigit()):
        return None
    found = []
    for places in halves:
        code = np.zeros(len(letters), np.int32)
        for place in places:
            digit = letters[:, place] - np.uint8(ZERO)
            if (digit > 9).any():
                return None
            code *= 10
            code += digit
        found.append(code)
    return found


def _distinct(code: np.ndarray, size: int) -> tuple[np.ndarray, np.ndarray]:
    """Distinct codes in rising order, and per row which: by runs, by a table, or by sorting."""
    changes = code[1:] != code[:-1]
    if np.count_nonzero(changes) < len(code) // 20:
        starts = np.concatenate([[0], np.flatnonzero(changes) + 1])
        distinct, of_run = np.unique(code[starts], return_inverse=True)
        return distinct, np.repeat(of_run.astype(np.int32), np.diff(starts, append=len(code)))
    if size > 1_000_000:
        distinct, index = np.unique(code, return_inverse=True)
        return distinct, index.astype(np.int32)
    seen = np.zeros(size, bool)
    seen[code] = True
    distinct = np.flatnonzero(seen)
    place = np.zeros(size, np.int32)
    place[distinct] = np.arange(len(distinct), dtype=np.int32)
    return distinct, place[code]
