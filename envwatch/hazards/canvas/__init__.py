"""Humidity against what a canvas painting tolerates: how fast, how far from what it has known, dry, damp and cold.

Five findings a painting. The first two are about differences, in which a logger's bias cancels; the last three
about levels, where it does not. The limits are those of rooms and of published tests on single layers; no
limit stands on the strain model alone, which is shown under `why` as an order of magnitude.

Left out: single cracks, cupping, tears, hysteresis, and canvases primed without size, for which dryness
matters less. A wax lining does not make a canvas proof against humidity: publications disagree.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.exposure import ROOM, Exposure
from envwatch.core.arrays import Array, Mask
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism, ours
from envwatch.core.painting import Painting
from envwatch.figures import Figure
from envwatch.figures import canvas as fig
from envwatch.figures.coverage import SPELL_BRIDGES_H
from envwatch.hazards import grading
from envwatch.hazards import working as reckoning
from envwatch.hazards.canvas.extremes import cold, damp, dry
from envwatch.hazards.canvas.history import beyond
from envwatch.hazards.canvas.response import ALL_INTENDED, CanvasCourse, Usual, canvas_of, course
from envwatch.hazards.hourly import HOUR

HAZARD = Hazard.FLUCTUATION
DAY_H, WEEK_H = 24, 7 * 24
AT_AN_END = 0.05  # share of the week's range within which a daily mean stands at an end of it
DAY_LIMITS = (fig.DAY_CHANGE_WATCH, fig.DAY_CHANGE_ACT)
WEEK_LIMITS = (fig.WEEK_CHANGE_WATCH, fig.WEEK_CHANGE_ACT)
LOOKS_BACK_H = 2 * WEEK_H + climate.DAY_POINTS  # what a change within a week is formed from, and a week taken over


def assess(exposure: Exposure, painting: Painting | None, start: pd.Timestamp) -> list[Finding]:
    """Findings of humidity change, dryness, damp and cold for one canvas over [start, exposure.end).

    Parameters
    ----------
    exposure : with as much history as there is: a week for changes, 90 days for a first band, 13 months for
        the standard's. History from before the lining is not used as proof.
    painting : None judges an unlined canvas in oil.
    start : begin of the judged period.

    Returns
    -------
    Five findings, or one that nothing was read. Intended stays raise no alarm and are mentioned. Where too little
    was read a clear finding is unknown; where the history is too short it says from which day it can be decided.
    """
    canvas = canvas_of(painting)
    return list(exposure.once((HAZARD, canvas, start), lambda: _judged(course(exposure, canvas, start))))


def _judged(seen: CanvasCourse) -> list[Finding]:
    asked = seen.in_period | seen.judged()
    if not (asked & np.isfinite(seen.temp_c)).any():
        return [_nothing_read()]
    return [rule(seen) for rule in (swing, beyond, dry, damp, cold)]


def _nothing_read() -> Finding:
    return Finding(
        HAZARD, Mechanism.CANVAS, "canvas and paint", ROOM, Level.UNKNOWN,
        "Nothing was read of the air this canvas had, so swings, dryness, damp and cold are not known.",
        coverage=0.0, do="Fetch the logger, or hang one where the painting is.",
        clears="Readings for four fifths of the period.",
        certainty=Certainty.CANNOT_TELL,
    )  # fmt: skip


def swing(seen: CanvasCourse) -> Finding:
    """Change of the canvas within a day and within a week, on its lagged humidity."""
    found = _swing(seen, _recent(seen))
    return found if found.level < Level.WATCH else _swing(seen, 0)  # what is raised is followed back all the way


def _moves(seen: CanvasCourse, limit: float) -> Mask:
    """Hours that made the change: the daily mean at an end of its week, and the air a day on still on the way to it."""
    mean = climate.running_mean(seen.free_percent, DAY_H, 0.5)
    air = climate.running_mean(seen.rh_percent, int(SPELL_BRIDGES_H), 0.5)
    before = np.append(np.full(DAY_H, np.nan), air[:-DAY_H])
    low, high = climate.running_extremes(mean, WEEK_H + 1)
    at_an_end = np.minimum(mean - low, high - mean) <= AT_AN_END * (high - low)
    still: Mask = at_an_end & (np.abs(air - before) >= limit * DAY_H / WEEK_H)
    return still


def _recent(seen: CanvasCourse) -> int:
    return max(int(np.argmax(seen.in_period)) - LOOKS_BACK_H, 0)


def _swing(seen: CanvasCourse, first: int) -> Finding:
    """The same on the rows from `first` on, which hold the period and what its windows look back on."""
    day, week = _changes(seen.free_percent, first)
    most = {
        "day": _most(seen.told(day.from_mean, DAY_H, DAY_LIMITS)),
        "week": _most(seen.told(week, WEEK_H, WEEK_LIMITS, longest_h=2 * WEEK_H)),
        "spread": _most(seen.told(day.spread, DAY_H, ())),
    }
    known = np.isfinite(day.from_mean)
    reason = "Too little was read to say how far the humidity of the canvas moved."
    passed = _passed(seen, day.from_mean, week)
    if (seen.drying & seen.in_period).any():  # what the stay did is looked at only to be mentioned
        theirs, in_week = _changes(seen.canvas_percent, first)
        passed = np.where(seen.drying, _passed(seen, theirs.from_mean, in_week), passed)
    open_day, open_week = _changes_open(seen, first)
    by_day = _graded(seen, most["day"], open_day, DAY_LIMITS, DAY_H)
    by_week = _graded(seen, most["week"], open_week, WEEK_LIMITS, WEEK_H)
    worse, other = sorted((by_day, by_week), key=lambda f: (f.level, np.nan_to_num(f.value / f.limit)), reverse=True)
    in_a_day, unsure = worse is by_day, Certainty.CANNOT_TELL
    if (other.level_high or other.level) > max(worse.level, worse.level_high or worse.level, Level.UNKNOWN):
        worse = replace(worse, level_high=other.level_high, value_high=float("nan"))
    if by_day.level is by_week.level and unsure in (by_day.certainty, by_week.certainty):
        worse = replace(worse, certainty=unsure)  # clear of both limits only where both can be told
    worse = replace(worse, sentence=reason)
    if worse.level >= Level.WATCH:
        worse = replace(worse, sentence=_sentence(seen, worse, in_a_day))
    elif worse.level is Level.CLEAR:
        worse = replace(worse, sentence=_calm_sentence(by_day.value, by_week.value, most["spread"][0]))
    if not seen.judged().any():
        worse = replace(worse, level=Level.CLEAR, sentence=ALL_INTENDED)
    working = _working(seen, day, most, worse, in_a_day)
    finding = replace(worse, working=working + worse.working)
    later = day.from_mean >= worse.limit if in_a_day else (week >= worse.limit) & _moves(seen, worse.limit)
    return seen.finish(finding, known, passed, reason, DAY_H if in_a_day else WEEK_H, later, ADVICE)


ADVICE = {
    "look_for": "New cracks or lifting at corners and edges, a canvas slack or drum-tight, a lining loose at the edge.",
    "do": "Find what moved the air (heating, door, move) and slow it down; a backing board slows what the canvas sees.",
    "avoid": "No keying out, no heater or humidifier turned up at once, no cold air on it.",
    "clears": "A week within ±10 % RH of each 24 h mean, whose daily means lie within 15 %.",
}


def _changes(humidity: Array, first: int) -> tuple[climate.DayChange, Array]:
    """Change within a day and within a week at each row; NaN before `first`, from which on they are formed."""
    day, week = climate.change_24h(humidity[first:]), climate.change_within_week(humidity[first:])
    none = np.full(first, np.nan)
    kept = (np.concatenate([none, values]) for values in (day.from_mean, day.spread, day.from_day_before, week))
    from_mean, spread, from_day_before, week = kept
    return climate.DayChange(from_mean, spread, from_day_before), week


def _changes_open(seen: CanvasCourse, first: int) -> tuple[Array, Array]:
    """The most that the changes of each hour may have been, the canvas anywhere between its ends at any hour."""
    low, high = (end[first:] for end in seen.ends)
    (least, most), days = (
        [climate.running_mean(end, hours, 0.5) for end in (low, high)] for hours in (climate.DAY_POINTS, 24)
    )
    own = (high - low) / climate.DAY_POINTS  # an hour is in its own mean too
    day = np.maximum(high - least, most - low) - own
    week = climate.running_extremes(days[1], WEEK_H + 1)[1] - climate.running_extremes(days[0], WEEK_H + 1)[0]
    none = np.full(first, np.nan)
    return np.append(none, day), np.append(none, week)


def _passed(seen: CanvasCourse, day: Array, week: Array) -> Mask:
    by_day, by_week = day >= fig.DAY_CHANGE_WATCH, week >= fig.WEEK_CHANGE_WATCH
    return by_day & ~seen.later(DAY_H) | by_week & ~seen.later(WEEK_H)


def _most(judged: Array) -> tuple[float, int]:
    """Largest value of the judged windows and its row; NaN and -1 where none is known."""
    if not np.isfinite(judged).any():
        return float("nan"), -1
    row = int(np.nanargmax(judged))
    return float(judged[row]), row


def _graded(
    seen: CanvasCourse, most: tuple[float, int], might: Array, limits: tuple[Figure, Figure], window_h: int
) -> Finding:
    """One change against its limits, without words. `might`: the most that it may have been at each hour."""
    (value, row), (watch, act) = most, limits
    at = seen.time[row] if row >= 0 else None
    u = seen.difference_u(at - window_h * HOUR, at, row)[0] if at is not None else float("nan")
    u = float(np.hypot(u, seen.gap_u(row, window_h))) if row >= 0 else u
    level = grading.grade(value, float(watch), float(act))
    limit = act if level >= Level.ACT else watch
    found = Finding(
        HAZARD, Mechanism.CHANGE, "canvas and paint", seen.point, level, "",
        value, u, float(limit), "% RH", worst_at=at, certainty=grading.certainty(value, u, watch, act),
        confidence=limit.confidence, source=limit.source,
    )  # fmt: skip
    return seen.left_open(found, might, limits, hours=window_h)


def _sentence(seen: CanvasCourse, found: Finding, in_a_day: bool) -> str:
    when = "" if found.worst_at is None else seen.moment(found.worst_at)
    if in_a_day:
        return (
            f"On {when} the canvas was {found.value:.1f} % RH away from the mean of the 24 h "
            f"before; the limit is ±{found.limit:g} % in 24 h{ours(found)}."
        )
    return (
        f"The daily mean humidity of the canvas moved {found.value:.1f} % RH within the week up to "
        f"{when}; the limit is {found.limit:g} %{ours(found)}."
    )


def _calm_sentence(day: float, week: float, spread: float) -> str:
    text = (
        f"The canvas stayed within {day:.1f} % RH of its 24 h mean, and its daily mean moved {week:.1f} % within a week"
    )
    if spread > fig.DAY_CHANGE_WATCH:  # the strict reading of the same rule
        text += f"; highest less lowest in 24 h was {spread:.1f} %, over 10 % in the strict reading"
    return text + "; the limits are ±10 % and 15 % (the second our judgement)."


def _working(
    seen: CanvasCourse, day: climate.DayChange, most: dict[str, tuple[float, int]], found: Finding, in_a_day: bool
) -> tuple[tuple[str, str], ...]:
    """The three readings of "±10 % in 24 h", the week, how the one that decides comes about, cycles and strain."""
    (mean, row), (week, week_row) = most["day"], most["week"]
    row = row if in_a_day and row >= 0 else week_row
    limits, window_h = (DAY_LIMITS, DAY_H) if in_a_day else (WEEK_LIMITS, WEEK_H)
    counts = climate.rainflow_cycles(seen.canvas_percent, climate.CYCLE_EDGES[0]).table()
    ranges = ("5 to 10", "10 to 20", "20 to 30", "over 30")
    cycles = ", ".join(f"{count:g} of {words} %" for count, words in zip(counts, ranges, strict=True))
    days = np.isfinite(seen.canvas_percent).sum() / 24
    gaps, why = 0.0, ""
    if row >= 0:
        gaps, why = (
            seen.gap_u(row, window_h),
            seen.difference_u(seen.time[row] - window_h * HOUR, seen.time[row], row)[1],
        )
    if gaps >= 0.05:
        why += f"; with ± {gaps:.1f} % from gaps and the begin of the record, ± {found.uncertainty:.1f} %"
    return (
        ("decided by", "the change within a day" if in_a_day else "the change within a week"),
        ("distance from the 24 h mean", f"largest {mean:.1f} % RH, limit ±{fig.DAY_CHANGE_WATCH:g} %"),
        ("highest less lowest in 24 h", f"largest {most['spread'][0]:.1f} % RH (strict, told beside)"),
        ("from the same hour a day before", f"largest {_most(seen.told(day.from_day_before, DAY_H, ()))[0]:.1f} % RH"),
        ("daily means within a week", f"largest difference {week:.1f} % RH against {fig.WEEK_CHANGE_WATCH:g} %"),
        *(_change_line(seen, row, in_a_day) if row >= 0 else ()),
        *reckoning.what_would_change(found.value, "% RH", limits),
        *reckoning.constants(("day", fig.DAY_CHANGE_WATCH), ("day, act", fig.DAY_CHANGE_ACT),
            ("week", fig.WEEK_CHANGE_WATCH), ("week, act", fig.WEEK_CHANGE_ACT),),
        *((("uncertainty", why),) if row >= 0 else ()),
        ("cycles of the canvas in all readings", f"{cycles} RH in {days:.0f} d (rainflow, ASTM E1049, split at gaps)"),
        *(_strain(seen, row, in_a_day) if row >= 0 else ()),
    )  # fmt: skip


def _change_line(seen: CanvasCourse, row: int, in_a_day: bool) -> reckoning.Lines:
    """The change that decides, from the hours it was made of."""
    humidity = seen.free_percent
    if in_a_day:
        window = humidity[max(row - climate.DAY_POINTS + 1, 0) : row + 1]
        away = abs(humidity[row] - np.nanmean(window))
        return (
            *seen.day_lines(row), *reckoning.mean_of_hours(window, "lagged humidity y", "% RH"),
            ("the change", f"|{humidity[row]:.2f} - {np.nanmean(window):.2f}| = {away:.2f} % RH"),
        )  # fmt: skip
    first = max(row - 168, 0)
    means = climate.running_mean(humidity, 24, 0.5)[first : row + 1]
    spread = reckoning.range_of_hours(means, seen.time[first : row + 1], seen.exposure.zone, "% RH")
    return (*spread, *reckoning.mean_of_hours(humidity[max(row - 23, 0) : row + 1], "lagged humidity y", "% RH"))


def _strain(seen: CanvasCourse, row: int, in_a_day: bool) -> reckoning.Lines:
    """The strain of the change that decides: from the day's mean, or from the other daily mean of the week."""
    means = climate.running_mean(seen.free_percent, 24, 0.5)
    temp_c = climate.running_mean(seen.temp_c, 24, 0.5)
    if in_a_day:
        day = "the mean of its 24 h"
        return seen.strain_at(row, Usual(float(means[row]), day, float(temp_c[row]), day))
    week = np.arange(max(row - 168, 0), row + 1)
    if not np.isfinite(means[week]).any():
        return ()
    first, last = sorted((int(week[np.nanargmax(means[week])]), int(week[np.nanargmin(means[week])])))
    day = "the 24 h mean it moved from"
    return seen.strain_at(last, Usual(float(means[first]), day, float(temp_c[first]), day), float(means[last]))
