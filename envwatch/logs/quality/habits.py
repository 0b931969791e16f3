"""Quick changes that are a room's own: a shower, an air conditioner's cycles, a kettle.

A hand, a bag or a fault changes a record now and then. What comes back day after day in both quantities, and damp that
comes at once and fades by itself, is air, and it bears no mark. All limits are our judgement.
"""

from __future__ import annotations

import numpy as np

from envwatch import air
from envwatch.figures import quality as q
from envwatch.logs.quality.scan import HOUR_US, Record


def own_changes(record: Record, marked: np.ndarray) -> np.ndarray:
    """Which marked rows belong to changes of the room itself.

    Parameters
    ----------
    marked : (n,) true in rows whose mark speaks of a quick change: a spike, a step, handling.

    Returns
    -------
    (n,) bool: rows of changes in temperature and humidity together that recur, and of damp that fades.
    """
    out = np.zeros(len(marked), bool)
    at = np.flatnonzero(marked)
    if not len(at):
        return out
    apart = (np.diff(at) > 1) | _turns(record, at)
    first = at[np.append(True, apart)]
    last = at[np.append(apart, True)]
    both = _moved(record.temp_c, first, q.HABIT_C) & _moved(record.rh, first, q.HABIT_RH)
    recurs = both & _often(record.time_us[first], both)
    for start, stop in zip(first[recurs].tolist(), last[recurs].tolist(), strict=True):
        out[start : stop + 1] = True
    seldom = ~recurs & _dampens(record, first)
    for start, stop in zip(first[seldom].tolist(), last[seldom].tolist(), strict=True):
        end = _fades(record, start)
        if end >= 0:
            out[start : max(stop, end) + 1] = True
    return out & marked


def often_a_day(time_us: np.ndarray, marked: np.ndarray) -> np.ndarray:
    """Marked rows of stretches of which there are more within a day than the sun makes. (n,) -> (n,)"""
    at = np.flatnonzero(marked)
    if not len(at):
        return marked
    begins = at[np.append(True, np.diff(at) > 1)]
    day = 24 * HOUR_US
    count = np.searchsorted(time_us[begins], time_us[at] + day // 2) - np.searchsorted(
        time_us[begins], time_us[at] - day // 2
    )
    out = np.zeros(len(marked), bool)
    out[at] = count >= q.HABIT_TIMES
    return out


def _turns(record: Record, at: np.ndarray) -> np.ndarray:
    """Where temperature goes the other way from one marked row to the next."""
    way = record.temp_c[at] - record.temp_c[np.maximum(at - 1, 0)]
    way = np.where(np.abs(way) >= q.HABIT_C, np.sign(way), 0)
    return way[1:] * way[:-1] < 0


def _moved(values: np.ndarray, at: np.ndarray, least: float) -> np.ndarray:
    """Whether a quantity moved by so much about the rows, over two intervals before to one after."""
    near = values[np.clip(at[:, None] + np.arange(-2, 2), 0, len(values) - 1)]
    return np.fmax.reduce(near, axis=1) - np.fmin.reduce(near, axis=1) >= least


def _often(time_us: np.ndarray, both: np.ndarray) -> np.ndarray:
    week, when = q.HABIT_DAYS * 24 * HOUR_US, time_us[both]
    return np.searchsorted(when, time_us + week / 2) - np.searchsorted(when, time_us - week / 2) >= q.HABIT_TIMES


def _dampens(record: Record, at: np.ndarray) -> np.ndarray:
    """Rows after which humidity may stand a step higher within an hour; by the highest of whole hours, a quick look."""
    size, base = record.reaches(1)[0] + 2, np.maximum(at - 1, 0)
    tops = np.fmax.reduceat(record.rh, np.arange(0, len(record.rh), size))
    block = base // size
    top = np.fmax(tops[block], tops[np.minimum(block + 1, len(tops) - 1)])
    return top - record.rh[base] >= q.STEP_RH


def _fades(record: Record, at: int) -> int:
    """Last row of damp that came at a row and faded by itself; -1 where it was something else.

    The vapour rises by a quarter, with little warmth; then it falls by degrees, never most of the way at once.
    """
    base = max(at - 1, 0)
    hour, hours = record.reaches(1)[0], record.reaches(q.HANDLING_RETURN_H)[0]
    rows = slice(base, min(base + 1 + hour + hours, len(record.rh)))
    temp_c, rh = record.temp_c[rows], record.rh[rows]
    vapour = air.vapour_pressure(temp_c, rh)
    if not np.isfinite(vapour).all() or len(vapour) < 4:
        return -1
    top = int(np.argmax(vapour[: hour + 2]))
    rise = vapour[top] - vapour[0]
    warmed = np.ptp(temp_c[: top + 1])
    if rise < q.FADING_VAPOUR * vapour[0] or warmed > q.FADING_C or rh[top] - rh[0] < q.STEP_RH:
        return -1
    fall = vapour[top:]
    gone = np.flatnonzero(fall - vapour[0] <= (1 - q.RETURNED) * rise)
    gradual = len(fall) > 1 and -np.diff(fall).min(initial=0.0) < q.RETURNED * rise
    return rows.start + top + len(fall) - 1 if len(gone) and gradual else -1
