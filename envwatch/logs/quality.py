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
from envwatch.figures import Figure
from envwatch.figures import quality as q
from envwatch.figures.air import RH_NOISE_CEILING

HOUR_US = 3_600_000_000
TEMP_IMPOSSIBLE, RH_IMPOSSIBLE, TEMP_CODE, RH_CODE, RH_DEAD = (1 << bit for bit in range(5))
TEMP_ODD, RH_ODD, SPIKE, STEP, SATURATED, STUCK, SUN, HANDLING, SETTLING = (1 << bit for bit in range(5, 14))
BAD_TEMP = TEMP_IMPOSSIBLE | TEMP_CODE
BAD_RH = RH_IMPOSSIBLE | RH_CODE | RH_DEAD
BAD = BAD_TEMP | BAD_RH
SUSPECT = TEMP_ODD | RH_ODD | SPIKE | STEP | SATURATED | STUCK | SUN | HANDLING | SETTLING

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
    Rule(TEMP_ODD, "odd temperature", "possible, but not in a place that holds paintings",
         (q.TEMP_ODD_LOW_C, q.TEMP_ODD_HIGH_C)),
    Rule(RH_ODD, "odd humidity", "a little under 0 or over 100 %", (q.RH_ODD_LOW, q.RH_ODD_HIGH)),
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

    How often ordinary records are marked: of 509 readings of an office over six days (an open record, shipped
    with the package river 0.26, every 16 minutes), 4 or 0.8 %, all at the start, settling after the logger was
    put up; none bad. Of 8,785 hourly readings of a lived-in house over a year (an open record, tests/open_data), 4 or
    0.05 %: 3 spikes, 1 step. Of a year of a calm invented store, none.

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
    if len(marks) == 0:
        return marks
    with np.errstate(invalid="ignore", over="ignore"):
        _values(marks, temp_c, rh)
        temp_c, rh = _without(temp_c, marks & BAD_TEMP), _without(rh, marks & BAD_RH)
        _dead(marks, time_us, rh)
        rh = _without(rh, marks & RH_DEAD)
        _saturated(marks, rh)
        if len(marks) > 1:
            record = _Record.of(time_us, temp_c, rh)
            for rule in (_jumps, _stuck, _sun, _handling, _settling):
                rule(marks, record)
    return marks


def out_of_doors(marks: np.ndarray, time_us, temp_c, rh_percent) -> np.ndarray:
    """Marks as they count out of doors, where fog and rain saturate a sensor honestly.

    Parameters
    ----------
    marks, time_us, temp_c, rh_percent : (n,) as in `mark`, in time order.

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
    for run in np.split(at, np.flatnonzero(np.diff(at) > 1) + 1):
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


@dataclass(frozen=True)
class _Record:
    """Readings with their steps, taken once for all rules. Bad readings are NaN by now."""

    time_us: np.ndarray
    temp_c: np.ndarray
    rh: np.ndarray
    gap_us: np.ndarray  # (n - 1,) from each reading to the next
    temp_step: np.ndarray
    rh_step: np.ndarray
    cadence_us: int  # the ordinary interval

    @classmethod
    def of(cls, time_us, temp_c, rh) -> _Record:
        gap_us = np.diff(time_us)
        sample = gap_us[:: max(len(gap_us) // 10_000, 1)]
        cadence = max(int(np.sort(sample)[(len(sample) - 1) // 2]), 1)
        return cls(time_us, temp_c, rh, gap_us, np.diff(temp_c), np.diff(rh), cadence)

    def rows(self, hours: float) -> int:
        """How many ordinary intervals fit into this time, at least one."""
        return max(int(hours * HOUR_US) // self.cadence_us, 1)

    def growth(self, at) -> np.ndarray:
        """Factor on the step limits for the interval before reading `at + 1`: the root of its length."""
        minutes = np.maximum(self.gap_us[at] / 6e7, q.STEP_LEAST_MIN)
        return np.sqrt(minutes / q.STEP_BASE_MIN)

    def least_growth(self) -> float:
        """The smallest factor anywhere, for a quick first look at all rows."""
        return float(np.sqrt(max(self.gap_us.min() / 6e7, q.STEP_LEAST_MIN) / q.STEP_BASE_MIN))


def _without(values: np.ndarray, bad: np.ndarray) -> np.ndarray:
    return np.where(bad != 0, np.nan, values) if bad.any() else values


def _beyond(values: np.ndarray, low: float, high: float) -> np.ndarray:
    """Rows with a value outside [low, high]; one quick pass where there is none."""
    if not (np.fmin.reduce(values) < low or np.fmax.reduce(values) > high):
        return np.empty(0, np.intp)
    return np.flatnonzero((values < low) | (values > high))


def _paint(marks: np.ndarray, bit: int, start: np.ndarray, stop: np.ndarray) -> None:
    """Set a bit on the rows [start, stop) of many stretches at once."""
    if len(start):
        edge = np.bincount(start, minlength=len(marks) + 1) - np.bincount(stop, minlength=len(marks) + 1)
        marks[np.cumsum(edge[:-1]) > 0] |= bit


def _values(marks, temp_c, rh) -> None:
    """What one reading shows alone: impossible, a code, or odd."""
    possible, odd = (q.TEMP_LOWEST_C, q.TEMP_HIGHEST_C), (q.TEMP_ODD_LOW_C, q.TEMP_ODD_HIGH_C)
    _out_of_range(marks, temp_c, possible, odd, (TEMP_IMPOSSIBLE, TEMP_CODE, TEMP_ODD))
    possible, odd = (q.RH_LOWEST, RH_NOISE_CEILING), (q.RH_ODD_LOW, q.RH_ODD_HIGH)
    _out_of_range(marks, rh, possible, odd, (RH_IMPOSSIBLE, RH_CODE, RH_ODD))
    zero = np.flatnonzero(rh == 0)
    marks[zero[temp_c[zero] == 0]] |= TEMP_CODE | RH_CODE


def _out_of_range(marks, values, possible, odd, bits) -> None:
    at = _beyond(values, *odd)
    outside = (values[at] < possible[0]) | (values[at] > possible[1])
    if_code = np.where(np.isin(values[at], ERROR_CODES), bits[1], np.where(outside, bits[0], bits[2]))
    marks[at] |= if_code.astype(np.uint16)


def _dead(marks, time_us, rh) -> None:
    if not (np.fmin.reduce(rh) <= q.RH_LOW_END and np.fmax.reduce(rh) >= q.RH_HIGH_END):
        return
    ends = np.flatnonzero((rh <= q.RH_LOW_END) | (rh >= q.RH_HIGH_END))
    jump = np.flatnonzero((rh[ends[1:]] >= q.RH_HIGH_END) != (rh[ends[:-1]] >= q.RH_HIGH_END))
    jump = jump[time_us[ends[jump + 1]] - time_us[ends[jump]] <= q.FLIP_WITHIN_H * HOUR_US]
    if len(jump) < q.FLIPS:
        return
    parted = np.flatnonzero(np.diff(time_us[ends[jump]]) > q.FLIP_WITHIN_H * HOUR_US)
    first, last = np.append(0, parted + 1), np.append(parted, len(jump) - 1)
    many = last - first + 1 >= q.FLIPS
    _paint(marks, RH_DEAD, ends[jump[first[many]]], ends[jump[last[many]] + 1] + 1)


def _saturated(marks, rh) -> None:
    if not np.fmax.reduce(rh) >= q.SATURATED_RH:
        return
    at = np.flatnonzero(rh >= q.SATURATED_RH)
    parted = np.flatnonzero(np.diff(at) > 1)
    first, last = np.append(at[0], at[parted + 1]), np.append(at[parted], at[-1])
    long = last - first + 1 >= q.SATURATED_ROWS
    _paint(marks, SATURATED, first[long], last[long] + 1)


def _jumps(marks, record: _Record) -> None:
    """Spikes and steps; the two steps that make a spike are not marked again."""
    factor = min(record.least_growth(), 1.0)
    for step, step_limit, spike_limit in (
        (record.temp_step, q.STEP_C, q.SPIKE_C),
        (record.rh_step, q.STEP_RH, q.SPIKE_RH),
    ):
        # a spike needs at least 5/6 of its limit on either side, so none is lost by this first look
        first_look = min(step_limit * factor, spike_limit * 5 / 6)
        at = _beyond(step, -first_look, first_look)
        if not len(at):
            continue
        pair = at[:-1][np.diff(at) == 1]  # a reading between two large steps
        off = (step[pair] - step[pair + 1]) / 2
        across = np.abs(step[pair] + step[pair + 1])
        quick = np.maximum(record.gap_us[pair], record.gap_us[pair + 1]) <= q.SPIKE_MAX_STEP_H * HOUR_US
        spike = pair[(np.abs(off) > spike_limit) & (across <= np.abs(off) * q.SPIKE_NEIGHBOURS) & quick] + 1
        marks[spike] |= SPIKE
        large = np.abs(step[at]) > step_limit * record.growth(at)
        at = at[large & (record.gap_us[at] <= q.STEP_MAX_H * HOUR_US)] + 1
        stepped = np.zeros(len(marks) + 1, bool)
        stepped[at] = True
        stepped[spike] = stepped[spike + 1] = False
        marks[stepped[:-1]] |= STEP


def _unchanged(still: np.ndarray, record: _Record, hours: float) -> tuple[np.ndarray, np.ndarray]:
    """First and last rows of stretches without a change, a gap ending one, that last at least so long."""
    moved = np.flatnonzero(~still)
    wide = np.flatnonzero(np.diff(moved) >= q.STUCK_ROWS)  # few: only these are looked at
    ends = [0, len(moved)] if len(moved) else [0]
    first = np.append(moved[wide] + 1, [0 if end == 0 else moved[-1] + 1 for end in ends]).astype(np.intp)
    last = np.append(moved[wide + 1], [len(still) if end == len(moved) else moved[0] for end in ends]).astype(np.intp)
    long = (record.time_us[last] - record.time_us[first] >= hours * HOUR_US) & (last - first + 1 >= q.STUCK_ROWS)
    return first[long], last[long]


def _finest(step: np.ndarray) -> float:
    """The smallest change in a sample of the record; 0 where nothing changed at all."""
    size = np.abs(step[:50_000])
    return float(size[size > 1e-6].min(initial=np.inf)) if (size > 1e-6).any() else 0.0


def _stuck(marks, record: _Record) -> None:
    unbroken = record.gap_us <= 3 * record.cadence_us
    rh_still = (record.rh_step == 0) & unbroken
    finest = max(_finest(record.temp_step), _finest(record.rh_step))
    if finest <= q.STUCK_RESOLUTION + 1e-6:
        first, last = _unchanged(rh_still & (record.temp_step == 0), record, q.STUCK_H)
        _paint(marks, STUCK, first, last + 1)
        if not np.isfinite(record.rh).any():
            alone = (record.temp_step == 0) & unbroken
            first, last = _unchanged(alone, record, q.STUCK_TEMP_H)
            _paint(marks, STUCK, first, last + 1)
    first, last = _unchanged(rh_still, record, q.STUCK_RH_H)
    moved = [np.fmax.reduce(t) - np.fmin.reduce(t) for t in map(record.temp_c.__getitem__, map(slice, first, last + 1))]
    enough = np.array(moved, float) >= q.STUCK_MOVED_C
    _paint(marks, STUCK, first[enough], last[enough] + 1)


def _returns(record: _Record, at: np.ndarray, base: np.ndarray, change: np.ndarray, hours: float) -> np.ndarray:
    """Row at which half of a change of temperature is gone again.

    Looks at up to 16 readings spread over the time allowed. -1: not gone by then; n: the record ends first.
    """
    n, reach = len(record.time_us), record.rows(hours)
    ahead = np.unique(np.linspace(1, reach, min(reach, 16)).astype(np.int64))
    row = at[:, None] + ahead
    inside = row < n
    left = (record.temp_c[np.minimum(row, n - 1)] - base[:, None]) * np.sign(change)[:, None]
    near = inside & (left <= (1 - q.RETURNED) * np.abs(change)[:, None])
    soon = record.time_us[np.minimum(row, n - 1)] - record.time_us[at][:, None] <= 1.5 * hours * HOUR_US
    found = near & soon
    out = np.where(found.any(axis=1), np.take_along_axis(row, found.argmax(axis=1)[:, None], 1)[:, 0], -1)
    return np.where((out < 0) & ~inside.all(axis=1), n, out)


def _sun(marks, record: _Record) -> None:
    k = record.rows(q.SUN_WITHIN_H)
    temp_c, n = record.temp_c, len(record.temp_c)
    for lag in {k, max(k // 3, 1)}:
        if lag >= n:
            continue
        base = np.flatnonzero(temp_c[lag:] - temp_c[:-lag] >= q.SUN_RISE_C)
        at = base + lag
        near = record.time_us[at] - record.time_us[base] <= 1.5 * max(q.SUN_WITHIN_H * HOUR_US, record.cadence_us)
        base, at = base[near], at[near]
        before, after = (air.vapour_pressure(temp_c[row], record.rh[row]) for row in (base, at))
        still = np.abs(after / before - 1) <= q.SUN_VAPOUR
        base, at = base[still], at[still]
        back = _returns(record, at, temp_c[base], temp_c[at] - temp_c[base], q.SUN_RETURN_H)
        gone = (back >= 0) & (back < n)
        _paint(marks, SUN, at[gone], back[gone])


def _handling(marks, record: _Record) -> None:
    n, factor = len(record.temp_c), min(record.least_growth(), 1.0)
    at = _beyond(record.temp_step, -q.HANDLING_C * factor, q.HANDLING_C * factor)
    growth = record.growth(at)
    large = (np.abs(record.temp_step[at]) >= q.HANDLING_C * growth) & (record.gap_us[at] <= q.STEP_MAX_H * HOUR_US)
    at, growth = at[large], growth[large]
    around = np.abs(record.rh_step[np.clip(at[:, None] + [-1, 0, 1], 0, n - 2)]).max(axis=1, initial=0)
    at = at[around >= q.HANDLING_RH * growth]
    at = at[marks[at + 1] & SPIKE == 0]
    at = at[marks[at] & SPIKE == 0]  # not the way back from a spike
    base, change = record.temp_c[at], record.temp_step[at]
    back = _returns(record, at + 1, base, change, q.HANDLING_RETURN_H)
    ends = back >= 0
    _paint(marks, HANDLING, at[ends] + 1, np.minimum(back[ends], n))


def _settling(marks, record: _Record) -> None:
    since_h = (record.time_us[: record.rows(4) + 2] - record.time_us[0]) / HOUR_US
    early, after = since_h <= q.SETTLING_H, (since_h > q.SETTLING_H) & (since_h <= q.SETTLING_H + 2)
    for values, limit in ((record.temp_c, q.SETTLING_C), (record.rh, q.SETTLING_RH)):
        head = values[: len(since_h)]
        later = head[after & np.isfinite(head)]
        if not len(later) or not abs(head[0] - np.median(later)) > limit:
            continue
        distance = np.abs(head - np.median(later))
        marks[: len(since_h)][early & (distance > q.SETTLED * distance[0])] |= SETTLING
