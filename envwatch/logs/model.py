"""What reading a logger file gives, and what a person may answer about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np


@dataclass(frozen=True)
class Answers:
    """What a person, or the logger's remembered profile, said about a file. None: nothing was said.

    zone : IANA name or fixed offset ("+01:00") of the logger's clock, where the file states none.
    dates : "dmy", "mdy" or "ymd"; for a spreadsheet's day numbers "1900" or "1904", from which they count.
    encoding : a codec's name.
    decimal : "," or ".".
    temp_unit : "C", "F" or "K".
    columns : numbers of the columns of temperature and humidity, counted from 1: "2,3"; with a second probe "2,3,4,5".
    start : "2026-03-01 10:00" or the date alone: where this one file's record begins, if its rows bear no date or
        its clock was wrong throughout.
    """

    zone: str | None = None
    dates: str | None = None
    encoding: str | None = None
    decimal: str | None = None
    temp_unit: str | None = None
    start: str | None = None
    columns: str | None = None


@dataclass(frozen=True, eq=False)
class Channel:
    """The readings of one probe, in time order.

    label : the file's label for the probe, else "1", "2", ...
    time : (n,) microseconds since 1970 UTC, int64, never falling; equal stamps keep the file's order.
    temp_c : (n,) finite. [°C]
    rh_percent : (n,) NaN where humidity was not read. [% RH]
    line : (n,) 1-based line (or sheet row) the reading stands on; in a file with one quantity a row, the
        temperature's line.
    others : further quantities by name (dew_point_c, lux, co2_ppm, ...), (n,) each, NaN where missing.
    bound : (n,) quality marks of readings that the file gives as a bound (">95"), or () where it gives none.
    """

    label: str
    time: np.ndarray
    temp_c: np.ndarray
    rh_percent: np.ndarray
    line: np.ndarray
    others: Mapping[str, np.ndarray] = field(default_factory=dict)
    bound: np.ndarray = field(default_factory=lambda: np.zeros(0, np.uint16))


@dataclass(frozen=True)
class Counts:
    """Every data row once: used + duplicate + all set aside = data rows.

    A data row is a line of the table with a time, or with a number where a reading should stand; blank
    lines, comments, repeated headers and summary lines are none. With several probes side by side a row
    is used when at least one of them gave a reading; with one quantity a row, when its value entered one.
    """

    data_rows: int
    used: int
    duplicate: int
    set_aside: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Layout:
    """How the file was understood, in words a person can check."""

    encoding: str
    delimiter: str
    decimal: str
    header_line: int | None
    date_format: str
    time_basis: str
    cadence_s: float
    columns: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class LogFile:
    """One logger file, read.

    label : the logger's own serial number or name as the file gives it, else None; never the file's name.
    notes : every assumption, conversion and disagreement, one plain sentence each.
    events : (line, text) of event marks, remarks and summary lines, which are not readings.
    """

    name: str
    sha256: str
    size: int
    label: str | None
    channels: tuple[Channel, ...]
    layout: Layout
    counts: Counts
    notes: tuple[str, ...] = ()
    events: tuple[tuple[int, str], ...] = ()
