"""Times that are numbers: counted from some day, run together, in columns of parts, or as parts of a day beside a date.

What a column counts is told by its header, or by what its numbers can mean at all: only one count puts them between
the first loggers and tomorrow. Day numbers of a spreadsheet may count from 1900 or from 1904, four years and a day
apart: what only one of the two makes possible decides, or a date above the table that is the day of the first or the
last reading in one of them alone; without either they are read from 1900, as nearly all are, and the other is told.
"""

from __future__ import annotations

import re
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from envwatch.core.errors import BadInput
from envwatch.logs.text.cells import OK, coded, numbers, tidy
from envwatch.logs.text.roles import time_word
from envwatch.logs.text.stamps import DAY_US, SINCE_US, time_of_day
from envwatch.logs.text.vocabulary import PM, SPANS, plain, tokens
from envwatch.logs.times import day_order
from envwatch.logs.times.columns import CLOCK, NONE, Columns, Stamps, sample
from envwatch.logs.times.preamble import written

FROM_1900, FROM_1904 = COUNTS = ("1900", "1904")  # answers to `dates`
APART_US, HOUR_US = 1462 * DAY_US, 3_600_000_000
KINDS = ("serial", "serials")


class Count(NamedTuple):
    """What numbers count. unit_us : of one. from_us : where they begin, from 1970. words : headers that say so."""

    said: str
    unit_us: float
    from_us: float
    words: tuple[str, ...] = ()
    utc: bool = False


SPREADSHEET = Count("spreadsheet serial days", DAY_US, -25_569 * DAY_US)
YEARS = Count("years and fractions of a year", 365.25 * DAY_US, -1970 * 365.25 * DAY_US, ("decimal year", "dec year"))
_COUNTS = (
    Count("seconds since 1970 UTC", 1e6, 0, (), True),
    Count("milliseconds since 1970 UTC", 1e3, 0, (), True),
    Count("microseconds since 1970 UTC", 1, 0, (), True),
    Count("nanoseconds since 1970 UTC", 1e-3, 0, (), True),
    SPREADSHEET,
    Count("days since the year 0", DAY_US, -719_529 * DAY_US, ("datenum", "matlab")),
    Count("modified Julian days", DAY_US, -40_587 * DAY_US, ("mjd", "modified julian")),
    Count("Julian days", DAY_US, -2_440_587.5 * DAY_US, ("jd", "julian date", "julian day")),
    YEARS,
)
_SINCE = re.compile(r"(?P<unit>[^\W\d_]+)\s+since\s+(?P<date>\d{4}-\d\d-\d\d)(?:[T ](?P<time>\d\d:\d\d(?::\d\d)?))?")
_YYMMDDHHMM = re.compile(r"\d\d(?:0[1-9]|1[0-2])(?:0[1-9]|[12]\d|3[01])(?:[01]\d|2[0-3])[0-5]\d")
HELD_US = 1900 * 365 * DAY_US  # before and after 1970; beyond, a number is no time: well within the years 1 to 9999
LATEST_US = int(np.datetime64("2080-01-01", "us").astype(np.int64))  # where two figures of a year end


def _by_header(name: str) -> Count | None:
    """What a header says its numbers count; "hours since 1900-01-01" is in UTC (CF conventions 4.4, from memory)."""
    since = _SINCE.search(name.lower())
    unit = next((us for _, us, words in SPANS if since and since["unit"] in words), None)
    if since and unit:
        begin = np.datetime64(f"{since['date']}T{since['time'] or '00:00'}", "us")
        return Count(f"{since[0]} UTC", unit, int(begin.astype(np.int64)), (), True)
    text, parts = plain(name), set(tokens(plain(name)))
    return next((c for c in _COUNTS if any(w in parts or (" " in w and w in text) for w in c.words)), None)


def _fitting(name: str, values: np.ndarray, latest_us: int) -> list[Count]:
    """Counts that put nearly all numbers between the first loggers and the latest time."""
    given = _by_header(name)
    fits = []
    for one in (given,) if given else _COUNTS:
        us = values * one.unit_us + one.from_us
        if ((us >= SINCE_US) & (us <= latest_us)).mean() > 0.95:
            fits.append(one)
    return fits


def counts(name: str, cells: list[str]) -> bool:
    """Whether the numbers under a header count times that a logger can have written."""
    if name and _by_header(name) is None and time_word(name) not in ("stamp", "time", "date", "year"):
        return False
    plain_ = [cell for cell in cells if re.fullmatch(r"\d+(?:[.,]\d*)?", cell)]
    if len(plain_) < 0.9 * len(cells) or not plain_:
        return False
    fits = _fitting(name, np.array([float(cell.replace(",", ".")) for cell in plain_]), LATEST_US)
    if not name and not any(re.search(r"\d{6}[.,]\d{3}", cell) for cell in plain_):
        return False
    return bool(fits) and (fits != [YEARS] or any(re.search(r"[.,]\d{3}", cell) for cell in plain_))


def read(column, header: str, now_us: int, name: str) -> Stamps:
    """Times of one column of numbers.

    Raises
    ------
    BadInput : they may be figures run together or seconds since 1970.
    """
    whole = _whole_numbers(column)
    if whole is not None:
        values, good = whole, np.ones(len(whole), bool)
        if values.max() < 10**10 and _run_together(column, values, now_us, name):
            return _from_figures(values)
    else:
        values = numbers_of(column)
        good = np.isfinite(values)
    some = values[good][:: max(len(values) // 10_000, 1)]
    fits = _fitting(header, some, now_us + 2 * DAY_US) or _fitting(header, some, LATEST_US) or [_COUNTS[0]]
    one = fits[0]
    if one is YEARS:
        return _fractions_of_years(values, good, _decimals(column))
    if one.unit_us == DAY_US:
        return _days(values, good, one, _decimals(column))
    if whole is not None:
        held = np.abs(values * one.unit_us + one.from_us) < HELD_US  # in floats, which do not overflow
        wall = np.where(held, values, 0)
        wall = wall * int(one.unit_us) if one.unit_us >= 1 else wall // 1000
        wall = np.where(held, wall + int(one.from_us), NONE)
    else:
        wall = _exact(column, one)
    return Stamps(wall, np.full(len(wall), np.nan), one.said, True, None, (f"Times count {_in_utc(one)}.",))


def _in_utc(one: Count) -> str:
    return one.said.replace(" UTC", " in UTC")


def _whole_numbers(column) -> np.ndarray | None:
    """A column of whole numbers; None where any is none."""
    try:
        values = column.cast(pa.string()).combine_chunks().cast(pa.int64())
    except pa.ArrowInvalid:
        return None
    return values.to_numpy(zero_copy_only=False) if len(values) and not values.null_count else None


def _exact(column, one: Count) -> np.ndarray:
    """Counts with decimals to the microsecond: more figures than a double holds."""
    texts, index = coded(column)
    wall = []
    for text in texts:
        whole, _, part = tidy(text or "").replace(",", ".").partition(".")
        exact = whole.isascii() and whole.isdigit() and (part.isdigit() or not part)
        us = int(whole) * one.unit_us + round(float(f"0.{part or 0}") * one.unit_us) + one.from_us if exact else NONE
        wall.append(int(us) if SINCE_US <= us <= LATEST_US or not exact else NONE)
    return np.array(wall or [NONE], np.int64)[index]


def _run_together(column, values: np.ndarray, now_us: int, name: str) -> bool:
    """Whether ten figures are yymmddhhmm, not seconds since 1970."""
    cells = [tidy(cell or "") for cell in sample(column)]
    if not all(map(_YYMMDDHHMM.fullmatch, cells)) or not np.isin(values // 10**8, np.arange(100)).all():
        return False
    if values.max() * 1e6 > now_us + 2 * DAY_US or values.min() * 1e6 < SINCE_US or np.ptp(values) > 6_000:
        return True  # an hour and more in seconds would have left the figures of a date
    raise BadInput(
        f"ten figures such as {cells[0]!r} may be a date and time run together or seconds since 1970. Export the file "
        "again with dates such as 2024-03-01 14:05.",
        place=name,
    )


def _from_figures(values: np.ndarray) -> Stamps:
    two = [values // 10**at % 100 for at in (8, 6, 4, 2, 0)]
    days, valid = day_order.days_of(two[0], two[1], two[2])
    wall = days * DAY_US + (two[3] * 60 + two[4]) * 60_000_000
    return Stamps(np.where(valid, wall, NONE), np.full(len(wall), np.nan), "yymmddhhmm", False, None,
                  ("Times were read as yymmddhhmm.",))  # fmt: skip


def by_serial(date: pa.ChunkedArray, time: pa.ChunkedArray) -> Stamps:
    """A spreadsheet's day number in one column, and in another the fraction of the day or a time of day."""
    days, us = numbers_of(date), clock_us("time", time)
    good = np.isfinite(days) & np.isfinite(us)
    return _days(np.rint(days) + np.where(good, us, 0) / DAY_US, good, SPREADSHEET, 6)


def _days(values: np.ndarray, good: np.ndarray, one: Count, decimals: int) -> Stamps:
    wall = np.full(len(values), NONE, np.int64)
    us = values[good] * DAY_US + one.from_us
    good[good] = (us > SINCE_US) & (us < LATEST_US)
    us = us[(us > SINCE_US) & (us < LATEST_US)]
    unit, grain = ("second", 1_000_000) if decimals >= 5 else ("minute", 60_000_000)
    wall[good] = np.rint(us / grain).astype(np.int64) * grain  # five decimals of a day resolve about a second
    what = "a spreadsheet's day numbers" if one is SPREADSHEET else one.said
    return Stamps(wall, np.full(len(wall), np.nan), one.said, False, None,
                  (f"Times are {what}; they were read to the {unit}.",))  # fmt: skip


def _fractions_of_years(values: np.ndarray, good: np.ndarray, decimals: int) -> Stamps:
    """Six decimals of a year resolve half a minute, eight a third of a second."""
    good = good & (values >= 1) & (values < 9999)  # what a calendar has
    year = np.where(good, np.floor(values), 1980).astype(np.int64)
    begin, end = ((year + k - 1970).astype("M8[Y]").astype("M8[us]").astype(np.int64) for k in (0, 1))
    grain = 1_000_000 if decimals >= 8 else 60_000_000
    us = begin + np.rint((np.where(good, values, 1980) - year) * (end - begin) / grain).astype(np.int64) * grain
    unit = "second" if decimals >= 8 else "minute"
    note = f"Times are years and fractions of a year; with {decimals} decimals they were read to the {unit} at best."
    return Stamps(np.where(good, us, NONE), np.full(len(us), np.nan), YEARS.said, False, None, (note,))


def _decimals(column) -> int:
    return max((len(re.split(r"[.,]", cell)[-1]) for cell in sample(column) if re.search(r"\d[.,]\d", cell or "")),
               default=0)  # fmt: skip


def numbers_of(column) -> np.ndarray:
    """Numbers with a decimal point or comma, NaN where a cell holds none."""
    comma = any("," in (cell or "") for cell in sample(column))
    values, code, _ = numbers(column, "," if comma else ".")
    return np.where(code == OK, values, np.nan)


# ------------------------------------------------------------------------------- beside a date, and in parts


def clock_us(word: str, column) -> np.ndarray:
    """(n,) times of day out of hours, minutes, hhmm, fractions of a day or texts; NaN where unreadable. [µs]

    word : "hour", "minute", "second", "time" (any of them), "fraction" or "dayminute", as the header says.
    """
    texts, index = coded(column)
    clock = [time_of_day(tidy(t or "")) if ":" in (t or "") else None for t in texts]
    if any(clock):
        return np.array([np.nan if c is None else c.us for c in clock])[index].astype(float)
    values = numbers_of(column)
    known = values[np.isfinite(values) & (values >= 0)]
    most, parted = (known.max(), bool((known % 1 > 0).any())) if len(known) else (0, False)
    if word in ("minute", "second", "dayminute"):
        return values * (1_000_000 if word == "second" else 60_000_000)
    if word == "fraction" or (word == "time" and parted and most <= 1):
        grain = 1_000_000 if _decimals(column) >= 5 else 60_000_000
        return np.rint(values * DAY_US / grain) * grain
    if most <= 24 and (word == "dechour" or not parted or not _dotted(values)):
        return np.rint(values * 3600) * 1_000_000
    values = np.rint(values * 100) if parted else values
    second = values % 100 if most > 2400 else 0 * values
    values = values // 100 if most > 2400 else values
    good = values % 100 < 60
    return np.where(good, ((values // 100 * 60 + values % 100) * 60 + second) * 1_000_000, np.nan)


def _dotted(hours: np.ndarray) -> bool:
    """Whether 21.30 is half past nine: no figures past .59, and so the steps are evener than of decimal hours."""
    part = np.rint(hours % 1 * 10_000)
    if not (part[np.isfinite(part)] % 100 == 0).all() or not (part[np.isfinite(part)] < 6_000).all():
        return False
    even = []
    for us in (np.rint(hours * 60), np.floor(hours) * 60 + np.rint(hours % 1 * 100)):
        steps = np.diff(us[np.isfinite(us)]) % 1440
        even.append(np.unique(steps, return_counts=True)[1].max() / len(steps) if len(steps) else 0)
    return even[1] > even[0]


def hours(where: Columns, columns) -> pa.Array:
    """Hour numbers (and minutes) beside a date, as texts of the day's time."""
    us = _of_day(dict(zip(where.words, where.at[1:], strict=True)), columns)
    us = np.where(np.isfinite(us) & (us >= 0) & (us <= DAY_US), us, -1).astype(np.int64)
    each, which = np.unique(us, return_inverse=True)
    texts = ["" if t < 0 else f"{t // 3_600_000_000:02d}:{t // 60_000_000 % 60:02d}:{t // 1_000_000 % 60:02d}"
             for t in each.tolist()]  # fmt: skip
    return pa.chunked_array([pa.array(np.array(texts, object)[which], pa.string())])


def _of_day(at: dict[str, int], columns) -> np.ndarray:
    """(n,) times of day out of columns of hours, minutes and seconds, and of AM and PM beside hours of twelve. [µs]"""
    us = sum((clock_us(p, columns[i]) for p, i in at.items() if p in CLOCK), np.zeros(len(columns[0])))
    if "half" in at and not (us >= 13 * HOUR_US).any():
        texts, index = coded(columns[at["half"]])
        late = np.array([tidy(t or "").lower() in PM for t in texts])[index]
        us = us + 12 * HOUR_US * (late.astype(int) - (us >= 12 * HOUR_US))
    return us


def from_parts(where: Columns, columns) -> Stamps:
    """Times whose year and day, and perhaps month, stand in columns of their own."""
    at = dict(zip(where.words, where.at, strict=True))
    parts = [p for p in ("year", "month", "day", "yday") if p in at]
    got = {p: np.clip(np.nan_to_num(numbers_of(columns[at[p]]), nan=-1), -1, 10_000) for p in parts}
    one = np.ones(len(columns[0]))
    if "month" not in got:
        got = {"yday": got.get("yday", got.get("day")), "year": got["year"], "month": one, "day": one}
    year, month, day = (np.floor(got[p]).astype(np.int64) for p in ("year", "month", "day"))
    days, valid = day_order.days_of(year, month, day)
    us = _of_day(at, columns)
    if "yday" in got:
        of_year = np.floor(got["yday"])
        days, valid = days + of_year.astype(np.int64) - 1, valid & (of_year >= 1) & (of_year <= 366)
        us = us + clock_us("fraction", columns[at.get("yday", at.get("day"))]) - of_year * DAY_US
    valid &= np.isfinite(us) & (us >= 0) & (us <= DAY_US)
    wall = np.where(valid, days * DAY_US + np.where(valid, us, 0).astype(np.int64), NONE)
    return Stamps(wall, np.full(len(wall), np.nan), "columns of " + ", ".join(at), False, None, ())


# ------------------------------------------------------------------------------- 1900 or 1904


def settled(stamps: Stamps, preamble: list[str], told: str | None, now_us: int, flag: str | None = None) -> Stamps:
    """Times read from 1900, as they are or from 1904, with a note on what decided or that nothing did.

    Parameters
    ----------
    preamble : the lines above the table. told : what was answered to `dates`. flag : a workbook's own year.
    """
    good = stamps.wall[stamps.wall != NONE]
    if stamps.shown != SPREADSHEET.said:
        return stamps
    if told == FROM_1904:
        return _from_1904(stamps, "Day numbers were counted from 1904, as answered.")
    if told is None and flag == FROM_1904:
        return _from_1904(stamps, "Day numbers were counted from 1904, as the workbook says.")
    if FROM_1900 in (told, flag) or not len(good):
        return stamps
    ends = np.array([good.min(), good.max()])
    if ends[1] + APART_US > now_us + 2 * DAY_US:
        return stamps
    above = _days_above(preamble)
    fits = [bool(above & set(((ends + late) // DAY_US).tolist())) for late in (0, APART_US)]
    if fits == [False, True]:
        return _from_1904(
            stamps, "Day numbers were counted from 1904: so the date above the table is that of a reading."
        )
    if fits == [True, False]:
        return stamps
    first = [str(np.datetime64(int(ends[0]) + late, "us"))[:10] for late in (0, APART_US)]
    note = (
        f"Day numbers in a text may count from 1900 or from 1904; they were read from 1900, first reading {first[0]}. "
        f"If it was {first[1]}, read the file with ⟦dates⟧ 1904."
    )
    return stamps._replace(notes=(*stamps.notes, note))


def _from_1904(stamps: Stamps, note: str) -> Stamps:
    wall = np.where(stamps.wall == NONE, NONE, stamps.wall + APART_US)
    return stamps._replace(wall=wall, shown=f"{stamps.shown} from 1904", notes=(*stamps.notes, note))


def _days_above(preamble: list[str]) -> set[int]:
    """Days since 1970 that the dates in some lines can mean."""
    found = [date for date in (w.date for w in written(preamble)) if date is not None]
    return {int(day) for order in (day_order.orders(list(found)) if found else ())
            for day, valid in zip(order.days, order.valid, strict=True) if valid}  # fmt: skip
