"""Columns of text to numbers: distinct texts are read once, by our own pattern, never by float() alone."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from envwatch.logs.text.stamps import date_and_time, date_only, tidy, time_of_day
from envwatch.logs.text.vocabulary import BARE_UNITS, DAMAGED, FAULT, MISSING, MONTHS, UNITS, plain

OK, MISSING_CODE, FAULT_CODE, UNREADABLE, DAMAGE, GLUED, AT_LEAST, AT_MOST = range(8)
REASON = {
    MISSING_CODE: "missing value", FAULT_CODE: "error code", UNREADABLE: "unreadable value",
    GLUED: "records run together",
}  # fmt: skip
# the numbers that loggers write where they have read nothing
SENTINELS = (-200.0, -999.0, -999.9, -9999.0, -9900.0, 9999.0, 999.9, 999.0, 6553.5, 65535.0, 32767.0, 3276.7, -127.0,
             -3276.8, -32768.0, 655.35, 327.67, -327.68, 850.0, -99.9, -100.0)  # fmt: skip
_PLAIN = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?")
_GROUPED = re.compile(r"[+-]?\d{1,3}(?:(?P<g>[.,'’ \u00a0\u202f])\d{3})(?:(?P=g)\d{3})*(?:[.,]\d+)?")
_BOUND = re.compile(r"(?:([>≥])|[<≤])=? ?(?=[+-]?[\d.,])")  # "> 95", "<=20"
_MINUS = re.compile(r"(\d[\d.,]*) ?-( ?[°%].*| [a-z].*)?|- +(\d.*)", re.IGNORECASE)  # "2.5-", "- 2.5"
# a tenth of a degree or percent as a unit; or as an accuracy, which values with decimals tell
TENTHS = re.compile(
    r"(?:(?<![\d.,])0[.,]1|(?<!\d)1/10|\btenths? (?:of )?(?:an? )?|\bzehntel[- ]?)[ -]?"
    r"(?:°|deg|grad|celsius|fahrenheit|kelvin|%|percent|prozent|pct|[cfk]\b)"
)
_LEAD = re.compile(r"^[+-]?[\d.,' \u00a0\u202f]*\d[.,]?(?:[eE][+-]?\d{1,3}(?![^\W\d]))?")


class Numbers(NamedTuple):
    """(n,) values, NaN where there is none; (n,) code saying why, or that it is a bound; the cells' unit, if any."""

    values: np.ndarray
    code: np.ndarray
    unit: str | None


class Coded(NamedTuple):
    """A column as its distinct texts and, per row, which one."""

    texts: list[str]
    which: np.ndarray


def coded(column: pa.Array) -> Coded:
    """Distinct texts of a column. (n,) -> texts and (n,) positions."""
    if isinstance(column, pa.ChunkedArray):
        column = column.unify_dictionaries() if pa.types.is_dictionary(column.type) else column
        column = column.combine_chunks()
        column = column.chunk(0) if isinstance(column, pa.ChunkedArray) else column
    packed = column if pa.types.is_dictionary(column.type) else column.dictionary_encode()
    return Coded(packed.dictionary.to_pylist(), packed.indices.to_numpy(zero_copy_only=False))


def unit_in(text: str) -> str | None:
    """C, F, K, % or 1 where a text names a unit; None otherwise.

    >>> unit_in("22.7 °C"), unit_in("RH"), unit_in("Temp [F]")
    ('C', None, 'F')
    """
    text = plain(text)
    for table in (UNITS, BARE_UNITS):
        for unit, pattern in table:
            if pattern.search(text):
                return unit
    return None


@lru_cache(maxsize=50_000)
def number(cell: str, decimal: str) -> tuple[float, int, str | None]:
    """One cell: its value, why it has none or that it is a bound, and the unit written in it.

    >>> number("21,5 °C", ","), number("1.013,2", ","), number("---", "."), number("1_000", ".")[1]
    ((21.5, 0, 'C'), (1013.2, 0, None), (nan, 1, None), 3)
    >>> number("> 95 %", "."), number("2.5-", ".")
    ((95.0, 6, '%'), (-2.5, 0, None))
    """
    cell = tidy(cell)
    if cell.lower() in MISSING:
        return np.nan, MISSING_CODE, None
    if DAMAGED.match(cell) and any(plain(word) in MONTHS for word in re.findall(r"[^\W\d_]+", cell)):
        return np.nan, DAMAGE, None  # taken for a date by a spreadsheet: 5.6 has become "05. Jun", 5.60 "May 60"
    bound = _BOUND.match(cell)
    if bound:
        value, code, unit = number(cell[bound.end() :], decimal)
        return value, (AT_LEAST if bound[1] else AT_MOST) if code == OK else code, unit
    minus = _MINUS.fullmatch(cell)
    if minus:
        cell = "-" + (minus[3] or minus[1] + (minus[2] or ""))
    lead = _LEAD.match(cell)
    if not lead:
        return np.nan, _why(cell), None
    rest = cell[lead.end() :].strip()
    value = _value(lead[0].strip(), plain(rest), decimal)
    return (np.nan, _why(cell), None) if value is None else (value, OK, unit_in(" " + rest) if rest else None)


def _value(digits: str, unit: str, decimal: str) -> float | None:
    """The number that digits with a unit behind them are; None where they are none, or what follows is no unit."""
    figures = re.search(r"\d", unit.replace("m3", "").replace("m2", "").replace("co2", ""))
    if len(unit) > 14 or figures or not re.fullmatch(r"[°*?']?\s?[a-z%µμ/.°³² ]*(?:m3|m2|co2)?[a-z%/. ]*", unit):
        return None
    if _PLAIN.fullmatch(digits) and ("." if decimal == "," else ",") not in digits:
        value = float(digits.replace(",", "."))
        return value if abs(value) < 1e300 else None
    grouped = _GROUPED.fullmatch(digits)
    if grouped and grouped["g"] != decimal:
        return float(digits.replace(grouped["g"], "").replace(",", "."))
    return None


def _why(cell: str) -> int:
    if date_only(cell) or (re.search(r" 00:00(:00)?$", cell) and date_and_time(cell)):
        return DAMAGE
    if re.search(r"\d{4}-\d\d-\d\d|\d\d[./]\d\d[./]\d{2,4}", cell) or cell.count(":") >= 2:
        return GLUED
    return FAULT_CODE if FAULT.search(plain(cell)) else UNREADABLE


def numbers(column: pa.Array, decimal: str) -> Numbers:
    """A whole column of cells. Texts that are no number give NaN and a code."""
    texts, index = coded(column)
    read = [number(text or "", decimal) for text in texts]
    values = np.array([r[0] for r in read] or [np.nan])
    code = np.array([r[1] for r in read] or [0], np.uint8)
    units = [r[2] for r in read if r[2]]
    unit = max(set(units), key=units.count) if units else None
    why = code[index] if code.any() else np.broadcast_to(code[:1], index.shape)
    return Numbers(values[index], why, unit)


def celsius(values: np.ndarray, unit: str) -> np.ndarray:
    """Temperatures to °C. (n,) -> (n,)

    >>> celsius(np.array([68.0]), "F").tolist(), celsius(np.array([293.15]), "K").tolist()
    ([20.0], [20.0])
    """
    if unit == "F":
        return np.round((values - 32) / 1.8, 6)
    return np.round(values - 273.15, 6) if unit == "K" else values


def looks_numeric(cell: str) -> bool:
    """Whether a cell holds a number in either decimal style."""
    if _PLAIN.fullmatch(cell):
        return True
    return any(number(cell, mark)[1] in (OK, AT_LEAST, AT_MOST) for mark in ".,")


@lru_cache(maxsize=20_000)
def _mark(cell: str) -> str:
    """The decimal mark that a cell can only have; "" where it may have either or none."""
    digits = _LEAD.match(tidy(cell).lstrip("<>≤≥= "))
    if not digits:
        return ""
    text = digits[0].strip()
    dot, com = text.rfind("."), text.rfind(",")
    if dot >= 0 and com >= 0:
        return "." if dot > com else ","
    if dot >= 0 and text.count(".") == 1 and len(text) - dot != 4:
        return "."
    return "," if com >= 0 and text.count(",") == 1 and len(text) - com != 4 else ""


def decimal_marks(cells) -> tuple[int, int]:
    """How many cells can only have a decimal point, and how many only a decimal comma.

    A mark with three digits behind it may group thousands and says nothing by itself.

    >>> decimal_marks(["21.5", "1,013", "45"]), decimal_marks(["21,50", "1.013,2"])
    ((1, 0), (0, 2))
    """
    marks = [_mark(cell) for cell in cells]
    return marks.count("."), marks.count(",")


_EPOCH = re.compile(r"(?:9\d{8}|[1-3]\d{9}|9\d{11}|[1-3]\d{12}|9\d{14}|[1-3]\d{15}|[1-3]\d{18})(?:[.,]\d{1,9})?")
_SERIAL = re.compile(r"[34567]\d{4}[.,]\d{2,}")


@lru_cache(maxsize=50_000)
def stampish(cell: str) -> str | None:
    """What kind of time a cell can be: "full", "date", "time", "epoch", "serial"; None where it is none.

    >>> [stampish(c) for c in ("1/3/24 9:05 PM", "01.03.2024", "10:05", "1709287200", "45352,4166", "21.5", "45")]
    ['full', 'date', 'time', 'epoch', 'serial', None, None]
    """
    cell = tidy(cell)
    if not 3 < len(cell) <= 96 or not any(c.isdigit() for c in cell):
        return None
    if date_and_time(cell):
        return "full"
    if date_only(cell):
        return "date"
    if _EPOCH.fullmatch(cell):
        return "epoch"
    if _SERIAL.fullmatch(cell):
        return "serial"
    return (
        "time"
        if not cell.isdigit() and re.search(r"[:hH時时]|\d\.\d\d\.\d|[ap]\.?m", cell) and time_of_day(cell)
        else None
    )


class Look(NamedTuple):
    line: int
    cells: list[str]
    stamps: tuple[int, ...]
    kinds: tuple[str, ...]
    numeric: int
