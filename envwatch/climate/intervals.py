"""What time a reading stands for: decided where it stands, and nowhere else than here."""

from __future__ import annotations

import numpy as np
import pandas as pd

from envwatch.core.arrays import Array, Whole
from envwatch.figures.coverage import STANDS_MOST_H

NEIGHBOURS = 25  # steps of a neighbourhood: readings so far away have no say
GAP_FROM = 1.5  # times the ordinary step
REPEATED, ALIKE = 6, 1.2  # steps in a row, and the longest over the shortest of them, that are an interval


def stand_for_hours(time: pd.DatetimeIndex) -> Array:
    """Time each reading stands for: the step to the next one, but one step that is ordinary there before a gap.

    A logger may be set to another interval at any time, so what is ordinary is decided where the reading stands. Of
    the `NEIGHBOURS` steps in a row that a step begins, and of those that it ends, the median (of an even number, the
    lower) is ordinary. A step is a gap where it is over `GAP_FROM` times both, unless it is one of `REPEATED` in a row
    that are alike within a fifth. So a gap stays one at any interval, and so do several as long as most steps
    around are none; the first step of a new interval is no gap. An interval kept for fewer than `REPEATED` steps
    cannot be told from gaps and counts as gaps: what may not have been read is not called read. (Where one
    reading in ten is lost at random, every second is lost four times in a row in one record of four months in
    fourteen at two hours, six times in fewer than one of two thousand.)

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

    >>> hours = [0, 1, 2, 3, 4, 12, 13, 14, 17, 20, 23, 26, 29, 32]
    >>> stand_for_hours(pd.Timestamp("2026-01-01", tz="UTC") + pd.to_timedelta(hours, "h")).tolist()
    [1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 3.0, 3.0, 3.0, 3.0, 3.0, 3.0, 3.0]
    """
    if len(time) < 2:
        return np.ones(len(time))
    step = np.diff(time.as_unit("us").asi8) / 3.6e9
    stands = np.append(step[0], step)  # the step before; of the first reading the one after
    long = np.flatnonzero(step > GAP_FROM * step.min())
    if len(long) and len(step) >= REPEATED:
        rows = np.lib.stride_tricks.sliding_window_view(step, REPEATED)
        holds = np.clip(long[:, None] - np.arange(REPEATED), 0, len(rows) - 1)  # the rows that a step lies in
        alike = (rows[holds].max(axis=2) <= ALIKE * rows[holds].min(axis=2)) & (long[:, None] - holds < REPEATED)
        long = long[~alike.any(axis=1)]
    ordinary = np.maximum(_medians(step, long - NEIGHBOURS + 1), _medians(step, long))
    gaps = long[step[long] > GAP_FROM * ordinary]
    stands[gaps + 1] = _medians(step, gaps - NEIGHBOURS + 1)
    if len(gaps) and gaps[0] == 0:
        stands[0] = _medians(step, gaps[:1])[0]
    hours: Array = np.append(step, stands[-1])
    hours[gaps] = stands[gaps]
    return hours.clip(max=float(STANDS_MOST_H))


def _medians(step: Array, begins: Whole) -> Array:
    """The lower median of the `NEIGHBOURS` steps in a row from each of these on; of the nearest row there is."""
    width = min(NEIGHBOURS, len(step))
    rows = np.lib.stride_tricks.sliding_window_view(step, width)
    middle = (width - 1) // 2
    return np.partition(rows[np.clip(begins, 0, len(rows) - 1)], middle, axis=1)[:, middle]


__all__ = ["NEIGHBOURS", "stand_for_hours"]
