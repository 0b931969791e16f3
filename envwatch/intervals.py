"""What time a reading stands for: decided where it stands, and nowhere else than here."""

from __future__ import annotations

import numpy as np
import pandas as pd

from envwatch.figures.coverage import STANDS_MOST_H

NEIGHBOURS = 25  # steps of a neighbourhood: readings so far away have no say
GAP_FROM = 1.5  # times the ordinary step
REPEATED, ALIKE = 4, 1.2  # steps in a row, and the longest over the shortest of them, that are an interval


def stand_for_hours(time: pd.DatetimeIndex) -> np.ndarray:
    """Time each reading stands for: the step to the next one, but one step that is ordinary there before a gap.

    A logger may be set to another interval at any time, so what is ordinary is decided where the reading stands. Of
    each `NEIGHBOURS` steps in a row the median (of an even number, the lower) was ordinary there, and so were
    `REPEATED` in a row that are alike within a fifth. A step is a gap where it is over `GAP_FROM` times the largest
    that was ordinary in a row it lies in. So a gap stays one at any interval, and so do several as long as most steps
    around are none; the first step of a new interval is no gap. An interval kept for fewer than `REPEATED` steps
    cannot be told from gaps and counts as gaps: what may not have been read is not called read.

    The reading before a gap, and the last one, stands for the step before it; where that is a gap too, for what was
    ordinary in the row that ends there; where nothing is before it, for what is ordinary after it. None stands for
    more than `STANDS_MOST_H`: of a slower logger, part of the time is unread.

    Parameters
    ----------
    time : (n,) increasing UTC times. A reading depends on the `NEIGHBOURS` before and after it alone.

    Returns
    -------
    (n,) hours; a single reading stands for one.

    Source: our judgement.

    >>> hours = [0, 1, 2, 3, 4, 12, 13, 14, 17, 20, 23, 26, 29]
    >>> stand_for_hours(pd.Timestamp("2026-01-01", tz="UTC") + pd.to_timedelta(hours, "h")).tolist()
    [1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 3.0, 3.0, 3.0, 3.0, 3.0, 3.0]
    """
    if len(time) < 2:
        return np.ones(len(time))
    step = np.diff(time.as_unit("us").asi8) / 3.6e9
    before = np.append(step[0], step)
    if step.max() > GAP_FROM * step.min():
        around, ended = _ordinary(step)
        gap = step > GAP_FROM * around
        before = np.append(ended[0], np.where(gap, ended, step))
        step = np.where(gap, before[:-1], step)
    return np.minimum(np.append(step, before[-1]), float(STANDS_MOST_H))


def _ordinary(step: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """For each step, the largest that was ordinary in a row it lies in, and what was in the row that ends with it."""
    width = min(NEIGHBOURS, len(step))
    medians = _medians(step, width)
    ended = np.append(np.full(width - 1, medians[0]), medians)
    begun = np.append(medians, np.full(width - 1, medians[-1]))
    around = np.maximum(ended, begun)
    if len(step) >= REPEATED:
        longest = _in_rows(step, REPEATED, np.maximum)
        alike = longest <= ALIKE * _in_rows(step, REPEATED, np.minimum)
        around = np.maximum(around, _spread(np.where(alike, longest, 0.0), REPEATED))
    return around, ended


def _spread(of_rows: np.ndarray, width: int) -> np.ndarray:
    """For each step the largest value of the rows it lies in. (n - width + 1,) -> (n,)"""
    beyond = np.zeros(width - 1)
    return _in_rows(np.concatenate([beyond, of_rows, beyond]), width, np.maximum)


def _medians(step: np.ndarray, width: int) -> np.ndarray:
    """The lower median of each `width` steps in a row; the largest of them, where they are much alike."""
    lowest, made = _in_rows(step, width, np.minimum), _in_rows(step, width, np.maximum)
    unlike = np.flatnonzero(made > GAP_FROM * lowest)
    middle = (width - 1) // 2
    rows = np.lib.stride_tricks.sliding_window_view(step, width)[unlike]
    made[unlike] = np.partition(rows, middle, axis=1)[:, middle]
    return made


def _in_rows(values: np.ndarray, width: int, extreme: np.ufunc) -> np.ndarray:
    """The least or largest of each `width` values in a row. (n,) -> (n - width + 1,)"""
    reach, found = 1, values.copy()
    while reach < width:
        more = min(reach, width - reach)
        found, reach = extreme(found[:-more], found[more:]), reach + more
    return found


__all__ = ["NEIGHBOURS", "stand_for_hours"]
