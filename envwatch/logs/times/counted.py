"""Times that are counted or come in parts: since 1970, in a spreadsheet's days, in columns of hours or years."""

from __future__ import annotations

import re

import numpy as np
import pyarrow as pa

from envwatch.logs.text.cells import OK, coded, numbers, tidy
from envwatch.logs.text.stamps import DAY_US, time_of_day
from envwatch.logs.times import day_order
from envwatch.logs.times.columns import NONE, Columns, Stamps, sample, whole_numbers

_EPOCHS = ((1, 9e8, 4.2e9, "seconds"), (1e3, 9e11, 4.2e12, "milliseconds"), (1e6, 9e14, 4.2e15, "microseconds"),
           (1e9, 9e17, 4.2e18, "nanoseconds"))  # fmt: skip


def counted(column, kind: str, name: str) -> Stamps:
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
    good = (code == OK) & (values > 30_000) & (values < 80_000)
    return _since_1899(values, good, _decimals(column))


def by_serial(date: pa.ChunkedArray, time: pa.ChunkedArray) -> Stamps:
    """A spreadsheet's day number in one column, and in another the fraction of the day or a time of day."""
    days, code, _ = numbers(date, "." if _has_point(date) else ",")
    texts, index = coded(time)
    clock = [time_of_day(tidy(text or "")) for text in texts]
    told = np.array([c is not None and ":" in (t or "") for c, t in zip(clock, texts, strict=True)])[index]
    part, part_code, _ = numbers(time, "." if _has_point(time) else ",")
    part = np.where(told, np.array([c.us / DAY_US if c else np.nan for c in clock])[index], part)
    good = (code == OK) & (days > 30_000) & (days < 80_000) & (told | (part_code == OK)) & (part >= 0) & (part <= 1)
    return _since_1899(np.rint(days) + np.where(good, part, 0), good, 6 if told.any() else _decimals(time))


def _since_1899(values: np.ndarray, good: np.ndarray, decimals: int) -> Stamps:
    wall = np.full(len(values), NONE, np.int64)
    us = (values[good] - 25_569) * DAY_US
    unit, grain = ("second", 1_000_000) if decimals >= 5 else ("minute", 60_000_000)
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
    return max((len(re.split(r"[.,]", cell)[-1]) for cell in sample(column) if re.search(r"\d[.,]\d", cell or "")),
               default=0)  # fmt: skip


def _has_point(column) -> bool:
    return any("." in (cell or "") for cell in sample(column))


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


def hours(where: Columns, columns) -> pa.Array:
    """Hour numbers (and minutes) beside a date, as texts of the day's time."""
    got = {p: whole_numbers(columns[i]) for p, i in zip(where.words, where.at[1:], strict=True)}
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


def from_parts(where: Columns, columns) -> Stamps:
    got = {p: whole_numbers(columns[i]) for p, i in zip(where.words, where.at, strict=True)}
    zero = np.zeros(len(columns[0]))
    if "time" in got:
        hhmm = got.pop("time")
        got["hour"], got["minute"] = hhmm // 100, hhmm % 100
    if "yday" in got:
        got |= {"month": zero + 1, "day": zero + 1}
    year, month, day = (got[p].astype(np.int64) for p in ("year", "month", "day"))
    days, valid = day_order.days_of(np.where(year < 100, year + 2000, year), month, day)
    if "yday" in got:
        days, valid = days + got["yday"].astype(np.int64) - 1, valid & (got["yday"] >= 1) & (got["yday"] <= 366)
    h, m, s = (got.get(p, zero) for p in ("hour", "minute", "second"))
    valid &= (h >= 0) & (h <= 24) & (m >= 0) & (m < 60) & (s >= 0) & (s < 61)
    us = np.rint(((h * 60 + m) * 60 + s) * 1e6).astype(np.int64)
    wall = np.where(valid, days * DAY_US + us, NONE)
    return Stamps(wall, np.full(len(wall), np.nan), "columns of " + ", ".join(got), False, None, ())
