"""A long record looked at piece by piece: what is looked for at every reading needs no array of the record's length.

Steps, intervals and their limits are worked out again where something was found, which is seldom everywhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from envwatch.climate.series import GAP_FROM, NEIGHBOURS, stand_for_hours
from envwatch.figures import quality as q

HOUR_US = 3_600_000_000
MINUTE_US = 60_000_000
PIECE = 1 << 15  # readings whose values stay in the processor's cache


@dataclass(frozen=True)
class Record:
    """One record's readings, (n,) each, bad ones NaN; and of its intervals the ordinary ones, shortest and longest.

    An interval, and a step of a quantity, bears the number of the reading that it starts from.
    """

    time_us: np.ndarray
    temp_c: np.ndarray
    rh: np.ndarray
    intervals_us: tuple[int, ...]  # the ordinary one first; and others that it was set to for long
    shortest_us: int
    longest_us: int
    least_growth: float  # the smallest factor on the step limits anywhere, for a quick first look at all rows

    @classmethod
    def of(cls, time_us: np.ndarray, temp_c: np.ndarray, rh: np.ndarray) -> Record:
        """A record of at least two readings; intervals apart from the ordinary one make a fifth of the time or more."""
        size = len(time_us) - 1
        some = np.arange(0, size, max(size // 10_000, 1))
        sample = time_us[some + 1] - time_us[some]
        intervals = [max(int(np.sort(sample)[(len(sample) - 1) // 2]), 1)]
        values, counts = np.unique(sample, return_counts=True)
        for value in values[(counts >= NEIGHBOURS) & (counts * values >= 0.2 * sample.sum())].tolist():
            if all(max(value, one) > GAP_FROM * min(value, one) for one in intervals):
                intervals.append(value)
        ends = [(gap.min(), gap.max()) for gap in (time_us[at][1:] - time_us[at][:-1] for at in pieces(size, 1))]
        shortest, longest = int(min(a for a, _ in ends)), int(max(b for _, b in ends))
        growth = float(np.sqrt(max(shortest / MINUTE_US, q.STEP_LEAST_MIN) / q.STEP_BASE_MIN))
        return cls(time_us, temp_c, rh, tuple(intervals), shortest, longest, growth)

    @cached_property
    def stands_us(self) -> np.ndarray:
        """(n,) what each reading stands for, by the intervals around it. [µs]"""
        return stand_for_hours(pd.DatetimeIndex(self.time_us.view("M8[us]"), tz="UTC")) * HOUR_US

    def reaches(self, hours: float) -> list[int]:
        """How many of each of its intervals fit into this time, at least one; of the ordinary one first."""
        return [max(int(hours * HOUR_US) // interval, 1) for interval in self.intervals_us]

    def growth(self, at: np.ndarray) -> np.ndarray:
        """Factor on the step limits for these intervals: the root of their length."""
        gap_us = self.time_us[at + 1] - self.time_us[at]
        return np.sqrt(np.maximum(gap_us / MINUTE_US, q.STEP_LEAST_MIN) / q.STEP_BASE_MIN)

    def still(self, *quantities: np.ndarray) -> np.ndarray:
        """(n - 1,) true where none of the quantities changed over an interval, and none is missing; not over a gap."""
        out = np.ones(len(self.time_us) - 1, bool)
        for at in pieces(len(out), 1):
            here = slice(at.start, at.stop - 1)
            for values in quantities:
                out[here] &= values[at][1:] == values[at][:-1]
        if self.longest_us > 3 * self.intervals_us[0]:
            out &= np.diff(self.time_us) <= 3 * self.stands_us[:-1]
        return out


def pieces(size: int, further: int = 0) -> Iterator[slice]:
    """Slices that cover the rows, each with as many further rows behind it."""
    for start in range(0, size, PIECE):
        yield slice(start, min(start + PIECE, size) + further)


def steps_over(values: np.ndarray, limit: float) -> np.ndarray:
    """(n - 1,) true where a step, up or down, is larger than the limit."""
    out = np.empty(len(values) - 1, bool)
    for at in pieces(len(out), 1):
        size = values[at][1:] - values[at][:-1]
        np.greater(np.abs(size, out=size), limit, out=out[at.start : at.stop - 1])
    return out


def rises(values: np.ndarray, lag: int, limit: float) -> np.ndarray:
    """Rows from which the values rise by at least the limit within so many rows."""
    found = [at.start + np.flatnonzero(values[at][lag:] - values[at][:-lag] >= limit)
             for at in pieces(len(values) - lag, lag)]  # fmt: skip
    return np.concatenate(found) if found else np.empty(0, np.intp)


def runs(true: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The stretches [start, stop) in which a mask is true."""
    edge = np.empty(len(true) + 1, bool)
    edge[0], edge[-1] = true[0], true[-1]
    np.not_equal(true[1:], true[:-1], out=edge[1:-1])
    at = np.flatnonzero(edge)
    return at[::2], at[1::2]


def rows_in(start: np.ndarray, stop: np.ndarray) -> np.ndarray:
    """All rows in any of the stretches [start, stop), each once, in order."""
    order = np.argsort(start, kind="stable")
    start, reach = start[order], np.maximum.accumulate(stop[order])
    first = np.flatnonzero(np.append(True, start[1:] > reach[:-1]))
    start, stop = start[first], reach[np.append(first[1:], len(reach)) - 1]
    size = stop - start
    before = np.cumsum(size) - size
    return np.repeat(start - before, size) + np.arange(int(size.sum()))
