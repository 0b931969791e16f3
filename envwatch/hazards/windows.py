"""Which windows a judged period judges: of consecutive weekly reviews each in exactly one.

In a weekly review a window up to seven days long belongs to the week that holds most of it (a tie: the later week), so
it may end up to half its length after the week; a longer one belongs to the week in which it ends. An hour is the
shortest window. What ends after the week is judged as far as it had been read when the review was made; what had not,
the review of the next week judges besides its own (`Exposure.reviewed`), and nobody else. So no window is lost between
a Monday's fetch and the next, and none is judged twice. Two limits, both on the side of care: a window that ends within
its week is judged there although up to a quarter of it is missing, as everywhere, and once more with the next week when
its last hours have come; and where the week before was not reviewed nothing is taken over from it, for its review can
still be made.

Windows beside each other share hours: a day far over a limit brings windows over it in which it is the lesser part. So
`told`: windows over one limit in a row, no more than twice their length and a week (two weeks of changes, which are
over once made), tell of one spell, and those that overlap the worst of them leave it to that one's week. What goes on
for longer is told in each week that holds a window of it: a review is never silent on what lasts.

Any other period (from one day to another, today so far, since the last review, the part of a week until a painting
left) asks how things stand: it judges the windows of every length that end in it.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.exposure import Exposure
from envwatch.core.arrays import Array, Mask, Whole
from envwatch.core.period import SEVEN_DAYS

HOUR = pd.Timedelta(hours=1)


def judged_rows(exposure: Exposure, start: pd.Timestamp, time: pd.DatetimeIndex, hours: float) -> slice:
    """The rows that end a window which the period judges.

    Parameters
    ----------
    exposure : of the period [start, exposure.end).
    time : (n,) whole UTC hours without a gap; a row's window ends with its hour.
    hours : length of the window. [h]

    Source: our rule, see the module.

    >>> monday, time = pd.Timestamp("2026-11-02", tz="UTC"), pd.date_range("2026-11-01", periods=48, freq="h", tz="UTC")
    >>> week = [Exposure({}, monday, monday + SEVEN_DAYS, weekly=weekly) for weekly in (False, True)]
    >>> [judged_rows(exposure, monday, time, 24).start for exposure in week]  # the first with half of its hours in it
    [24, 35]
    """
    if not exposure.weekly:
        edges_us = [-(-edge.value // 1000) for edge in (start.floor("h"), exposure.end)]
        return slice(*time.as_unit("us").asi8.searchsorted(edges_us).tolist())  # an index takes ten times as long
    first, stop = (_first_of(edge, time, hours) for edge in (start, exposure.end))
    known = max(exposure.end, _read_until(exposure))
    if exposure.reviewed is not None:
        first = min(first, max(_first_of(start - SEVEN_DAYS, time, hours), _after(exposure.reviewed, time)))
    return slice(first, max(min(stop, _after(known, time)), first))


def judged_from(exposure: Exposure, start: pd.Timestamp) -> pd.Timestamp:
    """From when on single readings are judged: the start, or where the review of the week before had read to."""
    if not exposure.weekly or exposure.reviewed is None:
        return start
    return min(start, max(exposure.reviewed, start - SEVEN_DAYS))


def told(
    exposure: Exposure, start: pd.Timestamp, time: pd.DatetimeIndex, rows: slice, hours: float, value: Array | Whole,
    level: Whole, longest_h: float = SEVEN_DAYS / HOUR,
) -> Mask:  # fmt: skip
    """The judged rows without those of a spell that another week tells.

    Parameters
    ----------
    rows : the judged rows of windows of so many hours.
    value : (n,) what the windows came to, the higher the worse.
    level : (n,) `Level` as integers, CLEAR or less within all limits. NaN values have none.
    longest_h : rows of windows that tell of one spell, at most. [h]

    Returns
    -------
    (n,) flags. In a weekly review windows over one limit that follow each other without a break, over no more than
    twice their length and `longest_h`, tell of one spell: those that overlap the worst of them (of equal ones the
    middle) leave it to the week of that one. They do not where that week had not been read when this review was made;
    then the spell is told here, and by the next review only what goes on for a window more, or worse.
    """
    mask = np.zeros(len(time), bool)
    mask[rows] = True
    if not exposure.weekly or hours < 2:
        return mask
    for reached in np.unique(level[rows][level[rows] > 0]):
        for first, last in _over_an_edge(exposure, time, level, reached, rows, min(2 * hours, longest_h)):
            at = _teller(exposure, start, time, hours, np.where(level >= reached, value, -np.inf), (first, last))
            if at is not None and not rows.start <= at < rows.stop:
                near = slice(max(int(at - hours) + 1, rows.start), min(int(at + hours), rows.stop))
                mask[near] &= level[near] != reached
    if not mask.any():
        mask[rows] = True
    return mask


def _over_an_edge(
    exposure: Exposure, time: pd.DatetimeIndex, level: Whole, reached: int, rows: slice, longest_h: float
) -> list[tuple[int, int]]:
    """Short runs at a level that lie on both sides of an edge of the judged rows: first and last row."""
    known = _after(max(exposure.end, _read_until(exposure)), time)
    runs = zip(*climate.rows_of_spells(level[:known] >= reached)[:2], strict=True)
    return [(a, b) for a, b in runs if b - a < longest_h and (a < rows.start <= b or a < rows.stop <= b)]


def _teller(
    exposure: Exposure, start: pd.Timestamp, time: pd.DatetimeIndex, hours: float, value: Array,
    run: tuple[int, int],
) -> int | None:  # fmt: skip
    """The row that tells of a run: its worst, or the worst that the review of the week before told of it."""
    first, last = run
    begin, end = (_first_of(edge, time, hours) for edge in (start, exposure.end))
    if exposure.reviewed is not None and exposure.reviewed < exposure.end:
        before = min(begin, _after(exposure.reviewed, time))
        if first < before:
            return _worst(value, first, before - 1)
    at = _worst(value, first, last)
    return None if at >= end and _read_until(exposure) < exposure.end + SEVEN_DAYS else at


def _worst(value: Array, first: int, last: int) -> int:
    """The row of the highest value of a run; of equal ones the middle, and of two in the middle the later."""
    part = value[first : last + 1]
    top = np.flatnonzero(part >= part.max() - 1e-9)
    return first + int(top[len(top) // 2])


def _first_of(week: pd.Timestamp, time: pd.DatetimeIndex, hours: float) -> int:
    """The first row whose window belongs to the week that begins then, or to a later one."""
    length = pd.Timedelta(hours=hours)
    return _after(week, time) if length > SEVEN_DAYS else int(time.searchsorted(week + length / 2 - HOUR))


def _after(moment: pd.Timestamp, time: pd.DatetimeIndex) -> int:
    """The first row that ends after a moment."""
    return int(time.searchsorted(moment - HOUR, side="right"))


def _read_until(exposure: Exposure) -> pd.Timestamp:
    return exposure.once("read until", lambda: exposure.read_until) or exposure.start


__all__ = ["judged_from", "judged_rows", "told"]
