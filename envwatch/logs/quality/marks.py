"""Quality marks: what a reading looks like, never what becomes of it. Nothing here deletes or changes a reading.

A *bad* reading is none: it leaves the verdict and counts as missing, temperature and humidity apart, since
temperature alone still decides heat. A *suspect* one stays in, and whoever uses it says so. All rules look at
the readings alone, so an opened window may look like a hand; that is why they only make a reading suspect.

The rules are made for rooms. Out of doors fog saturates a sensor honestly (`out_of_doors`), and mornings warm up
fast.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from envwatch import air
from envwatch.core.readings import Series
from envwatch.figures import Figure
from envwatch.figures import quality as q
from envwatch.figures.air import RH_NOISE_CEILING
from envwatch.logs.quality import habits
from envwatch.logs.quality.scan import HOUR_US, Record, rises, rows_in, runs, steps_over

TEMP_IMPOSSIBLE, RH_IMPOSSIBLE, TEMP_CODE, RH_CODE, RH_DEAD = (1 << bit for bit in range(5))
TEMP_ODD, RH_ODD, SPIKE, STEP, SATURATED, STUCK, SUN, HANDLING, SETTLING = (1 << bit for bit in range(5, 14))
BAD_TEMP = TEMP_IMPOSSIBLE | TEMP_CODE
BAD_RH = RH_IMPOSSIBLE | RH_CODE | RH_DEAD
BAD = BAD_TEMP | BAD_RH
BOUND_TEMP, BOUND_RH = TEMP_ODD, RH_ODD  # what `mark` cannot see: the file says "at least" or "at most"
ON_ITS_WAY = 1 << 14  # set where it is known from when to when a logger hung (`climates.deployments`), never by `mark`
SUSPECT = TEMP_ODD | RH_ODD | SPIKE | STEP | SATURATED | STUCK | SUN | HANDLING | SETTLING | ON_ITS_WAY
QUICK = SPIKE | STEP | HANDLING  # marks of a quick change

# What loggers and their software write when there is nothing to write.
ERROR_CODES = (-200.0, -999.0, -9900.0, -999.9, -9999.0, 999.0, 999.9, 9999.0, 3276.7, 6553.5, 65535.0)


@dataclass(frozen=True)
class Rule:
    """One mark: its bit, its name, what it looks for, and the figures it uses."""

    bit: int
    name: str
    words: str
    figures: tuple[Figure, ...]


RULES = (
    Rule(TEMP_IMPOSSIBLE, "impossible temperature", "outside what a logger can measure",
         (q.TEMP_LOWEST_C, q.TEMP_HIGHEST_C)),
    Rule(RH_IMPOSSIBLE, "impossible humidity", "too far under 0 or over 100 % to be noise",
         (q.RH_LOWEST, RH_NOISE_CEILING)),
    Rule(TEMP_CODE, "error code for temperature", "a number that stands for no reading, or both exactly 0", ()),
    Rule(RH_CODE, "error code for humidity", "a number that stands for no reading, or both exactly 0", ()),
    Rule(RH_DEAD, "dead humidity sensor", "jumps again and again between its lowest and its highest value",
         (q.RH_LOW_END, q.RH_HIGH_END, q.FLIPS, q.FLIP_WITHIN_H)),
    Rule(TEMP_ODD, "odd temperature", "possible, but not in a place that holds paintings; or written as a bound",
         (q.TEMP_ODD_LOW_C, q.TEMP_ODD_HIGH_C)),
    Rule(RH_ODD, "odd humidity", "a little under 0 or over 100 %; or written as a bound, such as >95",
         (q.RH_ODD_LOW, q.RH_ODD_HIGH)),
    Rule(SPIKE, "spike", "one reading far from both its neighbours, which agree",
         (q.SPIKE_C, q.SPIKE_RH, q.SPIKE_NEIGHBOURS, q.SPIKE_MAX_STEP_H)),
    Rule(STEP, "step", "a jump from one reading to the next",
         (q.STEP_C, q.STEP_RH, q.STEP_BASE_MIN, q.STEP_LEAST_MIN, q.STEP_MAX_H)),
    Rule(SATURATED, "saturated", "condensation on the sensor, or a sensor that failed high",
         (q.SATURATED_RH, q.SATURATED_ROWS)),
    Rule(STUCK, "stuck", "unchanged for too long on a fine logger; or humidity alone unchanged while temperature moved",
         (q.STUCK_H, q.STUCK_TEMP_H, q.STUCK_RH_H, q.STUCK_MOVED_C, q.STUCK_RESOLUTION, q.STUCK_ROWS)),
    Rule(SUN, "sun patch", "temperature leaps up and back while the vapour in the air stays: sun or a lamp on it",
         (q.SUN_RISE_C, q.SUN_WITHIN_H, q.SUN_VAPOUR, q.SUN_RETURN_H, q.RETURNED)),
    Rule(HANDLING, "handling", "temperature and humidity jump together and come back: the logger was carried or held",
         (q.HANDLING_C, q.HANDLING_RH, q.HANDLING_RETURN_H, q.RETURNED)),
    Rule(SETTLING, "settling", "the record begins away from where it settles: the logger came from elsewhere",
         (q.SETTLING_H, q.SETTLING_C, q.SETTLING_RH, q.SETTLED)),
    Rule(ON_ITS_WAY, "on its way", "the logger was carried, put up or read out: no air of the room, and not counted",
         (q.EDGE_H, q.AWAY_MAX_H)),
)  # fmt: skip
NAMES: dict[int, str] = {rule.bit: rule.name for rule in RULES}


def mark(time_us: np.ndarray, temp_c: np.ndarray, rh_percent: np.ndarray) -> np.ndarray:
    """Quality marks of one record.

    Parameters
    ----------
    time_us : (n,) increasing times, whole microseconds. [µs]
    temp_c, rh_percent : (n,) readings as the logger gave them; NaN where missing. [°C], [% RH]

    Returns
    -------
    (n,) uint16, the sum of the bits in `NAMES`; 0 for an ordinary reading. What is missing is missing and
    bears no mark. A bad reading is left out when its neighbours are looked at.

    Raises
    ------
    ValueError : arrays of different lengths.

    How often ordinary records are marked: of 509 readings of an office over six days (an open record, shipped with the
    package river 0.26, every 16 minutes), 4 or 0.8 %, all settling at the start; none bad. Of 8,785 hourly readings of
    a lived-in house over a year (tests/open_data), 4 or 0.05 %: 3 spikes, 1 step. Of a calm invented store, none.

    >>> time_us = np.arange(5) * 600_000_000
    >>> marks = mark(time_us, np.array([20.0, 20.0, 27.0, 20.1, 20.0]), np.array([50.0, 50.2, 50.1, -999.0, 50.3]))
    >>> [names(m) for m in marks.tolist()]
    [[], [], ['spike'], ['error code for humidity'], []]
    """
    time_us = np.asarray(time_us, np.int64)
    temp_c, rh = np.asarray(temp_c, float), np.asarray(rh_percent, float)
    if not len(time_us) == len(temp_c) == len(rh):
        raise ValueError(f"{len(time_us)} times, {len(temp_c)} temperatures, {len(rh)} humidities")
    marks = np.zeros(len(time_us), np.uint16)
    if not len(marks):
        return marks
    with np.errstate(invalid="ignore", over="ignore"):
        _values(marks, temp_c, rh)
        if marks.any():
            temp_c, rh = np.where(marks & BAD_TEMP, np.nan, temp_c), np.where(marks & BAD_RH, np.nan, rh)
        highest = np.fmax.reduce(rh)
        if highest >= q.RH_HIGH_END and np.fmin.reduce(rh) <= q.RH_LOW_END:
            _dead(marks, time_us, rh)
            rh = np.where(marks & RH_DEAD, np.nan, rh)
        if highest >= q.SATURATED_RH:
            first, stop = runs(rh >= q.SATURATED_RH)
            long = stop - first >= q.SATURATED_ROWS
            _paint(marks, SATURATED, first[long], stop[long])
        if len(marks) > 1:
            record = Record.of(time_us, temp_c, rh)
            for rule in (_jumps, _stuck, _sun, _handling, _settling, _without_habits):
                rule(marks, record)
    return marks


def out_of_doors(marks: np.ndarray, time_us, temp_c, rh_percent) -> np.ndarray:
    """Marks as they count out of doors, where fog and rain saturate a sensor honestly.

    Parameters
    ----------
    marks, time_us, temp_c, rh_percent : (n,) as in `mark`, in time order; an instant may have several rows.

    Returns
    -------
    (n,) a copy without "saturated", and without "stuck" while the temperature moved, in stretches of saturation that
    are not longer than fog lasts (our judgement). A longer stretch keeps its marks: the sensor may have failed high.

    >>> time_us, temp_c, rh = np.arange(4) * HOUR_US, np.array([5.0, 5.1, 5.0, 5.2]), np.array([99.0, 100, 100, 98])
    >>> before = mark(time_us, temp_c, rh)
    >>> count(before), count(out_of_doors(before, time_us, temp_c, rh))
    ({'saturated': 2}, {})
    """
    marks = marks.copy()
    at = np.flatnonzero(np.asarray(rh_percent) >= q.SATURATED_RH)
    if not len(at):
        return marks
    instant = np.cumsum(np.diff(time_us, prepend=time_us[:1]) != 0)
    for run in np.split(at, np.flatnonzero(np.diff(instant[at]) > 1) + 1):
        if time_us[run[-1]] - time_us[run[0]] > q.FOG_MAX_H * HOUR_US:
            continue
        moved = np.fmax.reduce(temp_c[run]) - np.fmin.reduce(temp_c[run]) >= q.STUCK_MOVED_C
        marks[run] &= np.uint16(0xFFFF ^ (SATURATED | (STUCK if moved else 0)))
    return marks


def names(mark_bits: int) -> list[str]:
    """The marks of one reading in words. `names(SPIKE | STEP)` gives `['spike', 'step']`."""
    return [name for bit, name in NAMES.items() if mark_bits & bit]


def count(marks: np.ndarray) -> dict[str, int]:
    """How many readings bear each mark, those that occur, in the order of `RULES`.

    >>> count(np.array([0, SPIKE, SPIKE | STEP], np.uint16))
    {'spike': 2, 'step': 1}
    """
    present = int(np.bitwise_or.reduce(marks)) if len(marks) else 0
    return {name: int(np.count_nonzero(marks & bit)) for bit, name in NAMES.items() if present & bit}


def _paint(marks: np.ndarray, bit: int, start: np.ndarray, stop: np.ndarray) -> None:
    """Set a bit on the rows [start, stop) of many stretches at once."""
    if len(start):
        marks[rows_in(start, stop)] |= bit


def _values(marks, temp_c, rh) -> None:
    """What one reading shows alone: impossible, a code, or odd."""
    for values, possible, odd, bits in (
        (temp_c, (q.TEMP_LOWEST_C, q.TEMP_HIGHEST_C), (q.TEMP_ODD_LOW_C, q.TEMP_ODD_HIGH_C),
         (TEMP_IMPOSSIBLE, TEMP_CODE, TEMP_ODD)),
        (rh, (q.RH_LOWEST, RH_NOISE_CEILING), (q.RH_ODD_LOW, q.RH_ODD_HIGH), (RH_IMPOSSIBLE, RH_CODE, RH_ODD)),
    ):  # fmt: skip
        if not (np.fmin.reduce(values) < odd[0] or np.fmax.reduce(values) > odd[1]):
            continue
        at = np.flatnonzero((values < odd[0]) | (values > odd[1]))
        outside = (values[at] < possible[0]) | (values[at] > possible[1])
        if_code = np.where(np.isin(values[at], ERROR_CODES), bits[1], np.where(outside, bits[0], bits[2]))
        marks[at] |= if_code.astype(np.uint16)
    zero = np.flatnonzero(rh == 0)
    marks[zero[temp_c[zero] == 0]] |= TEMP_CODE | RH_CODE


def bounds(marks: np.ndarray, temp_c: np.ndarray, rh_percent: np.ndarray) -> np.ndarray:
    """Readings as written, (n,) each, that the file gives as bounds: 1 temperature, 2 humidity, 0 neither; (n,) uint8.

    They are marked as odd, though by their values they are not.

    >>> bounds(np.array([0, BOUND_RH, RH_ODD], np.uint16), np.full(3, 20.0), np.array([50.0, 95.0, 101.0])).tolist()
    [0, 2, 0]
    """
    odd = np.zeros(len(marks), np.uint16)
    _values(odd, temp_c, rh_percent)
    own = marks & ~odd
    return ((own & BOUND_TEMP > 0) + 2 * (own & BOUND_RH > 0)).astype(np.uint8)


def _dead(marks, time_us, rh) -> None:
    ends = np.flatnonzero((rh <= q.RH_LOW_END) | (rh >= q.RH_HIGH_END))
    jump = np.flatnonzero((rh[ends[1:]] >= q.RH_HIGH_END) != (rh[ends[:-1]] >= q.RH_HIGH_END))
    jump = jump[time_us[ends[jump + 1]] - time_us[ends[jump]] <= q.FLIP_WITHIN_H * HOUR_US]
    if len(jump) < q.FLIPS:
        return
    parted = np.flatnonzero(np.diff(time_us[ends[jump]]) > q.FLIP_WITHIN_H * HOUR_US)
    first, last = np.append(0, parted + 1), np.append(parted, len(jump) - 1)
    many = last - first + 1 >= q.FLIPS
    _paint(marks, RH_DEAD, ends[jump[first[many]]], ends[jump[last[many]] + 1] + 1)


def _jumps(marks, record: Record) -> None:
    """Spikes and steps; the two steps that make a spike are not marked again."""
    factor, time_us = min(record.least_growth, 1.0), record.time_us
    for values, step_limit, spike_limit in (
        (record.temp_c, q.STEP_C, q.SPIKE_C),
        (record.rh, q.STEP_RH, q.SPIKE_RH),
    ):
        # a spike needs at least 5/6 of its limit on either side, so none is lost by this first look
        at = np.flatnonzero(steps_over(values, min(step_limit * factor, spike_limit * 5 / 6)))
        if not len(at):
            continue
        size = np.abs(values[at + 1] - values[at])
        spike = _spikes(values, record, at[size > spike_limit * 0.8], spike_limit)
        marks[spike] |= SPIKE
        large = size > step_limit * record.growth(at)
        large &= time_us[at + 1] - time_us[at] <= q.STEP_MAX_H * HOUR_US
        stepped = at[large] + 1
        marks[stepped[~np.isin(stepped, np.append(spike, spike + 1))]] |= STEP


def _spikes(values: np.ndarray, record: Record, at: np.ndarray, limit: float) -> np.ndarray:
    """Rows between two large steps, in order, that are far from both their neighbours."""
    pair = at[:-1][np.diff(at) == 1]
    up, down = (values[pair + k + 1] - values[pair + k] for k in range(2))
    off, across = (up - down) / 2, np.abs(up + down)
    longer_us = np.maximum(*(record.time_us[pair + k + 1] - record.time_us[pair + k] for k in range(2)))
    quick = longer_us <= q.SPIKE_MAX_STEP_H * HOUR_US
    return pair[(np.abs(off) > limit) & (across <= np.abs(off) * q.SPIKE_NEIGHBOURS) & quick] + 1


def _unchanged(still: np.ndarray, record: Record, hours: float) -> tuple[np.ndarray, np.ndarray]:
    """First and last rows of stretches without a change, a gap ending one, that last at least so long."""
    first, last = runs(still)
    long = last - first + 1 >= q.STUCK_ROWS
    first, last = first[long], last[long]
    long = record.time_us[last] - record.time_us[first] >= hours * HOUR_US
    return first[long], last[long]


def _stuck(marks, record: Record) -> None:
    """Stretches without a change, on a logger whose smallest change in a sample is fine enough to tell."""
    changes = [size[size > 1e-6].min(initial=np.inf) for size in (
        np.abs(np.diff(values[:50_001])) for values in (record.temp_c, record.rh))]  # fmt: skip
    finest = max((float(size) for size in changes if np.isfinite(size)), default=0.0)
    if finest <= q.STUCK_RESOLUTION + 1e-6:
        first, last = _unchanged(record.still(record.temp_c, record.rh), record, q.STUCK_H)
        _paint(marks, STUCK, first, last + 1)
        if np.isnan(np.fmax.reduce(record.rh)):  # no humidity at all
            first, last = _unchanged(record.still(record.temp_c), record, q.STUCK_TEMP_H)
            _paint(marks, STUCK, first, last + 1)
    first, last = _unchanged(record.still(record.rh), record, q.STUCK_RH_H)
    moved = [np.fmax.reduce(t) - np.fmin.reduce(t) for t in map(record.temp_c.__getitem__, map(slice, first, last + 1))]
    enough = np.array(moved, float) >= q.STUCK_MOVED_C
    _paint(marks, STUCK, first[enough], last[enough] + 1)


def _returns(record: Record, at: np.ndarray, base: np.ndarray, change: np.ndarray, hours: float) -> np.ndarray:
    """Row at which half of a change of temperature is gone again.

    Looks at up to 16 readings spread over the time allowed. -1: not gone by then; n: the record ends first.
    """
    n, probes = len(record.temp_c), [np.linspace(1, reach, min(reach, 16)) for reach in record.reaches(hours)]
    reach = np.full(len(at), record.reaches(hours)[0])  # rows ahead, by the intervals as they are there
    if len(record.intervals_us) > 1:
        reach = np.maximum(hours * HOUR_US // record.stands_us[np.minimum(at, n - 1)], 1).astype(np.int64)
    out = np.where(at + reach >= n, n, -1)
    left = np.flatnonzero(at < n)
    for ahead in np.unique(np.concatenate(probes).astype(np.int64)).tolist():
        left = left[at[left] + ahead < n]
        row, up = at[left] + ahead, change[left]
        near = (record.temp_c[row] - base[left]) * np.sign(up) <= (1 - q.RETURNED) * np.abs(up)
        near &= record.time_us[row] - record.time_us[at[left]] <= 1.5 * hours * HOUR_US
        out[left[near]] = row[near]
        left = left[~near]
    return out


def _sun(marks, record: Record) -> None:
    temp_c, n = record.temp_c, len(record.temp_c)
    slowest_us = max(q.SUN_WITHIN_H * HOUR_US, *record.intervals_us)
    for lag in {lag for k in record.reaches(q.SUN_WITHIN_H) for lag in (k, max(k // 3, 1))}:
        base = rises(temp_c, lag, q.SUN_RISE_C) if lag < n else np.empty(0, np.intp)
        base = base[record.time_us[base + lag] - record.time_us[base] <= 1.5 * slowest_us]
        if not len(base):
            continue
        before, after = (air.vapour_pressure(temp_c[row], record.rh[row]) for row in (base, base + lag))
        base = base[np.abs(after / before - 1) <= q.SUN_VAPOUR]
        at = base + lag
        back = _returns(record, at, temp_c[base], temp_c[at] - temp_c[base], q.SUN_RETURN_H)
        gone = (back >= 0) & (back < n)
        _paint(marks, SUN, at[gone], back[gone])


def _handling(marks, record: Record) -> None:
    """Steps of temperature with a step of humidity at, before or after them; a first look at the lowest limits."""
    temp_c, rh, factor = record.temp_c, record.rh, min(record.least_growth, 1.0)
    damp = steps_over(rh, q.HANDLING_RH * factor * (1 - 1e-9))  # no less than what the limit itself lets through
    beside = damp.copy()
    beside[1:] |= damp[:-1]
    beside[:-1] |= damp[1:]
    at = np.flatnonzero(steps_over(temp_c, q.HANDLING_C * factor) & beside)
    if not len(at):
        return
    growth = record.growth(at)
    large = np.abs(temp_c[at + 1] - temp_c[at]) >= q.HANDLING_C * growth
    large &= record.time_us[at + 1] - record.time_us[at] <= q.STEP_MAX_H * HOUR_US
    at, growth = at[large], growth[large]
    around = np.clip(at[:, None] + [-1, 0, 1], 0, len(rh) - 2)
    at = at[np.abs(rh[around + 1] - rh[around]).max(axis=1, initial=0) >= q.HANDLING_RH * growth]
    at = at[marks[at + 1] & SPIKE == 0]
    at = at[marks[at] & SPIKE == 0]  # not the way back from a spike
    back = _returns(record, at + 1, temp_c[at], temp_c[at + 1] - temp_c[at], q.HANDLING_RETURN_H)
    ends = back >= 0
    _paint(marks, HANDLING, at[ends] + 1, np.minimum(back[ends], len(temp_c)))


def _settling(marks, record: Record) -> None:
    since_h = (record.time_us[: record.reaches(4)[0] + 2] - record.time_us[0]) / HOUR_US
    early, after = since_h <= q.SETTLING_H, (since_h > q.SETTLING_H) & (since_h <= q.SETTLING_H + 2)
    for values, limit in ((record.temp_c, q.SETTLING_C), (record.rh, q.SETTLING_RH)):
        head = values[: len(since_h)]
        later = head[after & np.isfinite(head)]
        if not len(later) or not np.abs(later - head[0]).min() > limit:  # a room that swings has been there again
            continue
        distance = np.abs(head - np.median(later))
        marks[: len(since_h)][early & (distance > q.SETTLED * distance[0])] |= SETTLING


def _without_habits(marks, record: Record) -> None:
    """Marks of quick changes that are the room's own, and of suns that come too often to be one, taken off."""
    quick, sun = marks & QUICK != 0, marks & SUN != 0
    if quick.any():
        marks[habits.own_changes(record, quick)] &= np.uint16(0xFFFF ^ QUICK)
    if sun.any():
        marks[habits.often_a_day(record.time_us, sun)] &= np.uint16(0xFFFF ^ SUN)


CONFLICT = 1 << 15  # beside the bits of `NAMES`


MARK_NAMES = {**NAMES, CONFLICT: "conflict"}


def without_bad(series: Series) -> tuple[np.ndarray, np.ndarray]:
    """(temp_c, rh_percent) with bad readings missing; the raw ones stay as they are."""
    temp_c = np.where(series.marks & BAD_TEMP, np.nan, series.temp_c)
    return temp_c, np.where(series.marks & BAD_RH, np.nan, series.rh_percent)


def harsher(time: np.ndarray, temp_c: np.ndarray, rh_percent: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """One reading an instant: of conflicting ones the hottest temperature, and the humidity farthest from 50 %.

    (n,) ordered times, perhaps repeated -> (first row of each instant, temp_c, rh_percent).

    >>> harsher(np.array([0, 1, 1]), np.array([20.0, 20.0, 21.0]), np.array([50.0, 70.0, 40.0]))
    (array([0, 1]), array([20., 21.]), array([50., 70.]))
    """
    first = np.flatnonzero(np.append(True, np.diff(time) != 0)) if len(time) else np.empty(0, np.intp)
    if len(first) == len(time):
        return first, temp_c, rh_percent
    far = np.abs(rh_percent - 50)
    farthest = np.repeat(np.fmax.reduceat(far, first), np.diff(np.append(first, len(time))))
    return (
        first,
        np.fmax.reduceat(temp_c, first),
        np.fmax.reduceat(np.where(far == farthest, rh_percent, np.nan), first),
    )


DRIFT = "drift"


MARKS = (*(rule.name for rule in RULES if rule.bit & SUSPECT), DRIFT)
