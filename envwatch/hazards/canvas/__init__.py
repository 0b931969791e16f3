"""Humidity against what a canvas painting tolerates: how fast, how far from what it has known, dry, damp and cold.

From a reading to a verdict: the air becomes hourly means, and these the humidity the canvas came to by its own lag
(`response`). Of that, hour by hour, the change within a day and a week (`swing`), the driest and the dampest hour
(`dry`, `damp`) and, of the air, the coldest (`cold`) are held against the limits of `figures.canvas`; the fifth finding
holds it against what this canvas has known (`history`). The worst judged hour gives each its level.

The first two are about differences, in which a logger's bias cancels; the last three about levels, where it does not.
The limits are those of rooms and of published tests on single layers; no limit stands on the strain model (`strain`)
alone, which is shown under `why` as an order of magnitude.

Left out: single cracks, cupping, tears, hysteresis, and canvases primed without size, for which dryness
matters less. A wax lining does not make a canvas proof against humidity: publications disagree.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.drying_back import BACK_A_WEEK, RULE
from envwatch.climate.exposure import ROOM, Exposure
from envwatch.core.arrays import Array, Mask
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism, ours
from envwatch.core.painting import Painting
from envwatch.figures import Figure
from envwatch.figures import canvas as fig
from envwatch.figures.coverage import SPELL_BRIDGES_H
from envwatch.hazards import grading
from envwatch.hazards.canvas import strain
from envwatch.hazards.canvas.history import beyond
from envwatch.hazards.canvas.response import ALL_INTENDED, BuildUp, CanvasCourse, Usual, canvas_of, course
from envwatch.hazards.grading import Lines
from envwatch.hazards.hourly import HOUR

HAZARD = Hazard.FLUCTUATION
DAY_H, WEEK_H = 24, 7 * 24
NOTHING: tuple[Lines, Lines, Lines] = (), (), ()
AT_AN_END = 0.05  # share of the week's range within which a daily mean stands at an end of it
LIMITS = {DAY_H: (fig.DAY_CHANGE_WATCH, fig.DAY_CHANGE_ACT), WEEK_H: (fig.WEEK_CHANGE_WATCH, fig.WEEK_CHANGE_ACT)}
DRY_LIMITS = (fig.DRY_LINED_RH, fig.DRY_DANGER_RH)
DAMP_LIMITS = (fig.DAMP_SIZE_RH, fig.DAMP_CANVAS_RH, fig.DAMP_DANGER_RH)
DAMP_DOES = "glue size softens", "a canvas shrinks on its stretcher", "a canvas is in danger"
OIL = (fig.OIL_COLD_WATCH_C, fig.OIL_COLD_ACT_C, fig.OIL_COLD_URGENT_C)
ACRYLIC = (fig.ACRYLIC_COLD_WATCH_C, fig.ACRYLIC_COLD_ACT_C, fig.ACRYLIC_COLD_URGENT_C)
SWING_ADVICE = {
    "look_for": "New cracks or lifting at corners and edges, a canvas slack or drum-tight, a lining loose at the edge.",
    "do": "Find what moved the air (heating, door, move) and slow it down; a backing board slows what the canvas sees.",
    "avoid": "No keying out, no heater or humidifier turned up at once, no cold air on it.",
    "clears": "A week within ±10 % RH of each 24 h mean, whose daily means lie within 15 %.",
}
DRY_ADVICE = {
    "look_for": "Cracks across the corners, flakes standing up, a canvas tight as a drum, a lining loose at the edge.",
    "do": f"Raise the room towards 45 % RH, {BACK_A_WEEK}, or cool it a little; look in raking light.",
    "avoid": "No keying out, no heater, no wetting or misting of the canvas.",
    "clears": f"A week without a 24 h mean of the canvas under {fig.DRY_LINED_RH:g} % RH.",
}
DAMP_ADVICE = {
    "look_for": "A slack or newly taut canvas, ripples at the edges, cupping, a lining or patch let go, a musty smell.",
    "do": f"Bring the room under 65 % RH, {RULE}; leave the painting untouched until it has dried.",
    "avoid": "No keying out of a slack canvas: its glue dries tighter than before. No heater, cold air or fan on it.",
    "clears": f"A week with the canvas under {fig.DAMP_SIZE_RH:g} % RH.",
}
COLD_ADVICE = {
    "look_for": "Fine sharp cracks from knocks, along the stretcher bars and at the corners.",
    "do": "Leave it where it is until the room has warmed over a day or more.",
    "avoid": "No handling, transport, keying out or rolling; no quick warming, for water may condense on it.",
}


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
    canvas, held = canvas_of(painting), exposure.once(HAZARD, dict[tuple[BuildUp, pd.Timestamp], list[Finding]])
    if (canvas, start) not in held:
        seen = course(exposure, canvas, start)
        asked = seen.in_period | seen.judged()
        if (asked & np.isfinite(seen.temp_c)).any():
            held[canvas, start] = [rule(seen) for rule in (swing, beyond, dry, damp, cold)]
        else:
            held[canvas, start] = [Finding(
                HAZARD, Mechanism.CANVAS, "canvas and paint", ROOM, Level.UNKNOWN,
                "Nothing was read of the air this canvas had, so swings, dryness, damp and cold are not known.",
                coverage=0.0, do="Fetch the logger, or hang one where the painting is.",
                clears="Readings for four fifths of the period.", certainty=Certainty.CANNOT_TELL,
            )]  # fmt: skip
    return list(held[canvas, start])


def swing(seen: CanvasCourse) -> Finding:
    """Change of the canvas within a day and within a week, on its lagged humidity: the one nearer to its limit."""
    day, week = climate.change_24h(seen.free_percent), climate.change_within_week(seen.free_percent)
    most_day, most_week = _most_changes(seen)
    by_day, by_week = _change(seen, day.from_mean, most_day, DAY_H), _change(seen, week, most_week, WEEK_H)
    found, other = sorted((by_day, by_week), key=lambda f: (f.level, np.nan_to_num(f.value / f.limit)), reverse=True)
    window_h, unsure = DAY_H if found is by_day else WEEK_H, Certainty.CANNOT_TELL
    if (other.level_high or other.level) > max(found.level, found.level_high or found.level, Level.UNKNOWN):
        found = replace(found, level_high=other.level_high, value_high=float("nan"))
    if by_day.level is by_week.level and unsure in (by_day.certainty, by_week.certainty):
        found = replace(found, certainty=unsure)  # clear of both limits only where both can be told
    spread, day_before = (seen.worst(change, DAY_H)[0] for change in (day.spread, day.from_day_before))
    reason = "Too little was read to say how far the humidity of the canvas moved."
    found = replace(found, sentence=reason)
    if not seen.judged().any():
        found = replace(found, level=Level.CLEAR, sentence=ALL_INTENDED)
    elif found.level is not Level.UNKNOWN:
        found = replace(found, sentence=_change_sentence(seen, found, window_h, by_day, by_week, spread))
    working = _change_working(seen, found, window_h, by_day, by_week, spread, day_before)
    found = replace(found, working=working + found.working)
    still = None
    if found.level >= Level.WATCH:
        still = day.from_mean >= found.limit if window_h == DAY_H else _still_moves(seen, week, found.limit)
    from_mean = day.from_mean
    if (seen.drying & seen.in_period).any():  # what the stay did is looked at only to be mentioned
        from_mean = np.where(seen.drying, climate.change_24h(seen.canvas_percent).from_mean, from_mean)
        week = np.where(seen.drying, climate.change_within_week(seen.canvas_percent), week)
    passed, by_week_passed = from_mean >= fig.DAY_CHANGE_WATCH, week >= fig.WEEK_CHANGE_WATCH
    for change, window in ((passed, DAY_H), (by_week_passed, WEEK_H)):
        change[seen.judged_rows(window).stop :] = False
    passed |= by_week_passed
    return seen.finish(found, np.isfinite(day.from_mean), passed, reason, window_h, still, SWING_ADVICE)


def _change(seen: CanvasCourse, change: Array, most: Array, window_h: int) -> Finding:
    """One change against its limits, without words. `most`: the most that it may have been at each hour."""
    watch, act = limits = LIMITS[window_h]
    (value, row), u = seen.worst(change, window_h, limits, longest_h=2 * window_h), float("nan")
    if row >= 0:
        at = seen.time[row]
        u = float(np.hypot(seen.difference_u(at - window_h * HOUR, at, row)[0], seen.gap_u(row, window_h)))
    level = grading.grade(value, float(watch), float(act))
    limit = act if level >= Level.ACT else watch
    found = seen.finding(
        Mechanism.CHANGE, "canvas and paint", level, "", limit, value=value, u=u, row=row, limits=limits
    )
    return seen.left_open(found, most, limits, hours=window_h)


def _most_changes(seen: CanvasCourse) -> tuple[Array, Array]:
    """The most that the changes of each hour may have been, the canvas anywhere between its ends at any hour."""
    low, high = seen.ends
    least, most = (climate.running_mean(end, climate.DAY_POINTS, 0.5) for end in seen.ends)
    own = (high - low) / climate.DAY_POINTS  # an hour is in its own mean too
    days = [climate.running_mean(end, DAY_H, 0.5) for end in seen.ends]
    week = climate.running_extremes(days[1], WEEK_H + 1)[1] - climate.running_extremes(days[0], WEEK_H + 1)[0]
    return np.maximum(high - least, most - low) - own, week


def _still_moves(seen: CanvasCourse, week: Array, limit: float) -> Mask:
    """Hours that made the change: the daily mean at an end of its week, and the air a day on still on the way to it."""
    mean = climate.running_mean(seen.free_percent, DAY_H, 0.5)
    air = climate.running_mean(seen.rh_percent, int(SPELL_BRIDGES_H), 0.5)
    before = np.append(np.full(DAY_H, np.nan), air[:-DAY_H])
    low, high = climate.running_extremes(mean, WEEK_H + 1)
    at_an_end = np.minimum(mean - low, high - mean) <= AT_AN_END * (high - low)
    still: Mask = (week >= limit) & at_an_end & (np.abs(air - before) >= limit * DAY_H / WEEK_H)
    return still


def _change_sentence(
    seen: CanvasCourse, found: Finding, window_h: int, by_day: Finding, by_week: Finding, spread: float
) -> str:
    """The change that decides, where raised; else both, and the strict reading of the day's where that is over."""
    if found.level < Level.WATCH:
        strict = f"; highest less lowest in 24 h was {spread:.1f} %, over 10 % in the strict reading"
        return (
            f"The canvas stayed within {by_day.value:.1f} % RH of its 24 h mean, and its daily mean moved "
            f"{by_week.value:.1f} % within a week{strict if spread > fig.DAY_CHANGE_WATCH else ''}; the limits are "
            "±10 % and 15 % (the second our judgement)."
        )
    when, moved = "" if found.worst_at is None else seen.moment(found.worst_at), f"{found.value:.1f} % RH"
    if window_h == DAY_H:
        change = f"On {when} the canvas was {moved} away from the mean of the 24 h before"
        limit = f"±{found.limit:g} % in 24 h"
    else:
        change = f"The daily mean humidity of the canvas moved {moved} within the week up to {when}"
        limit = f"{found.limit:g} %"
    return f"{change}; the limit is {limit}{ours(found)}."


def _change_working(
    seen: CanvasCourse, found: Finding, window_h: int, by_day: Finding, by_week: Finding, spread: float,
    day_before: float,
) -> Lines:  # fmt: skip
    """The three readings of "±10 % in 24 h", the week, how the one that decides comes about, cycles and strain."""
    hours, uncertainty, strains = NOTHING
    at = found.worst_at or by_week.worst_at
    if at is not None:
        row = int(seen.time.searchsorted(at))
        hours, strains = _made_of(seen, row, window_h)
        gaps, (_, why) = seen.gap_u(row, window_h), seen.difference_u(at - window_h * HOUR, at, row)
        if gaps >= 0.05:
            why += f"; with ± {gaps:.1f} % from gaps and the begin of the record, ± {found.uncertainty:.1f} %"
        uncertainty = (("uncertainty", why),)
    counts = climate.rainflow_cycles(seen.canvas_percent, climate.CYCLE_EDGES[0]).table()
    ranges = ("5 to 10", "10 to 20", "20 to 30", "over 30")
    cycles = ", ".join(f"{count:g} of {words} %" for count, words in zip(counts, ranges, strict=True))
    days = np.isfinite(seen.canvas_percent).sum() / 24
    return (
        ("decided by", "the change within a day" if window_h == DAY_H else "the change within a week"),
        ("distance from the 24 h mean", f"largest {by_day.value:.1f} % RH, limit ±{fig.DAY_CHANGE_WATCH:g} %"),
        ("highest less lowest in 24 h", f"largest {spread:.1f} % RH (strict, told beside)"),
        ("from the same hour a day before", f"largest {day_before:.1f} % RH"),
        ("daily means within a week",
         f"largest difference {by_week.value:.1f} % RH against {fig.WEEK_CHANGE_WATCH:g} %"),
        *hours,
        *grading.what_would_change(found.value, "% RH", LIMITS[window_h]),
        *grading.constants(("day", fig.DAY_CHANGE_WATCH), ("day, act", fig.DAY_CHANGE_ACT),
            ("week", fig.WEEK_CHANGE_WATCH), ("week, act", fig.WEEK_CHANGE_ACT)),
        *uncertainty,
        ("cycles of the canvas in all readings", f"{cycles} RH in {days:.0f} d (rainflow, ASTM E1049, split at gaps)"),
        *strains,
    )  # fmt: skip


def _made_of(seen: CanvasCourse, row: int, window_h: int) -> tuple[Lines, Lines]:
    """The hours that a change was made of, and the strain of it: from the day's mean, or the other mean of the week."""
    humidity, today = seen.free_percent, "lagged humidity y"
    means, temp_c = (climate.running_mean(values, DAY_H, 0.5) for values in (humidity, seen.temp_c))
    if window_h == DAY_H:
        day = humidity[max(row - climate.DAY_POINTS + 1, 0) : row + 1]
        mean, from_ = np.nanmean(day), "the mean of its 24 h"
        away = ("the change", f"|{humidity[row]:.2f} - {mean:.2f}| = {abs(humidity[row] - mean):.2f} % RH")
        hours = (*seen.day_lines(row), *grading.mean_of_hours(day, today, "% RH"), away)
        return hours, seen.strain_at(row, Usual(float(means[row]), from_, float(temp_c[row]), from_))
    week = slice(max(row - WEEK_H, 0), row + 1)
    hours = (
        *grading.range_of_hours(means[week], seen.time[week], seen.exposure.zone, "% RH"),
        *grading.mean_of_hours(humidity[max(row - DAY_H + 1, 0) : row + 1], today, "% RH"),
    )
    if not np.isfinite(means[week]).any():
        return hours, ()
    first, last = sorted(week.start + int(end(means[week])) for end in (np.nanargmax, np.nanargmin))
    from_ = "the 24 h mean it moved from"
    usual = Usual(float(means[first]), from_, float(temp_c[first]), from_)
    return hours, seen.strain_at(last, usual, float(means[last]))


def dry(seen: CanvasCourse) -> Finding:
    """Glue size and ground pulled by dry air: a day under 35 %, or any hour under 25 %, of the canvas."""
    free, driest = seen.free_percent, seen.ends[0]
    mean, limit, window_h, span = climate.running_mean(free, DAY_H, 0.5), fig.DRY_DANGER_RH, 1, "hour"
    value, row = seen.worst(free, 1, sign=-1)
    brief = value <= limit
    if not brief:
        limit, window_h, span = fig.DRY_LINED_RH, DAY_H, "24 h mean"
        value, row = seen.worst(mean, DAY_H, (limit,), -1)
    known, passed = np.isfinite(seen.canvas_percent), seen.canvas_percent <= limit
    of = Mechanism.DRY_AIR, "glue size and ground"
    reason = "Too little was read to say whether the canvas was too dry."
    if row < 0:
        return seen.finish(seen.unread(*of, limit, reason), known, passed, reason)
    usual = seen.usual(row)
    level = Level.ACT if brief else grading.grade(value, float(limit), sign=-1)
    sentence = f"The driest {span} of the canvas was {value:.1f} % RH; the limit is {limit:g} %{ours(limit)}."
    if level >= Level.WATCH:
        when = f"({span}, {seen.moment(seen.time[row])})"
        sentence = f"The canvas dried to {value:.1f} % RH {when}; the limit is {limit:g} %{ours(limit)}."
    least = float(strain.driest_without_yield(usual.percent))
    working = (
        ("dryness", f"lowest {span} of the lagged humidity: {value:.1f} % RH against {limit:g} % RH"),
        *seen.day_lines(row, mean=not brief),
        *grading.what_would_change(value, "% RH", DRY_LIMITS, -1),
        *grading.constants(("24 h mean, watch", fig.DRY_LINED_RH), ("any hour, act", fig.DRY_DANGER_RH)),
        ("size alone would yield",
         f"drying from {usual.percent:.1f} % ({usual.words}) to {least:.1f} % RH, order of magnitude"),
        *seen.strain_at(row, usual, value),
    )  # fmt: skip
    u = float(np.hypot(seen.sensor_at(row, window_h, seen.tau_h).rh_u_percent, seen.gap_u(row, window_h)))
    found = seen.finding(*of, level, sentence, limit, value=value, u=u, row=row, limits=DRY_LIMITS, working=working)
    might = np.where(driest <= fig.DRY_DANGER_RH, driest, climate.running_mean(driest, DAY_H, 0.5))
    found = seen.left_open(found, might, DRY_LIMITS, -1, window_h)
    if not (passed & seen.judged(window_h)).any():  # a mean of the day that is dry by the hours around it
        passed = np.where(seen.drying, np.nan, free if brief else mean) <= limit
        passed &= seen.told_rows(window_h, -mean, passed.astype(int))
    return seen.finish(found, known, passed, reason, window_h, advice=DRY_ADVICE)


def damp(seen: CanvasCourse) -> Finding:
    """Glue size soft over 75 %, canvas slack and then shrinking over 80 %, danger over 90 %, of the canvas."""
    free, dampest = seen.free_percent, seen.ends[1]
    (value, row), known = seen.worst(free, 1), np.isfinite(seen.canvas_percent)
    of = Mechanism.DAMP_AIR, "glue size and canvas"
    reason = "Too little was read to say whether the canvas was too damp."
    if row < 0:
        soft = seen.canvas_percent >= fig.DAMP_SIZE_RH
        return seen.finish(seen.unread(*of, fig.DAMP_SIZE_RH, reason), known, soft, reason)
    together, window_h = [], int(fig.DAMP_SIZE_HOURS) + 1
    for percent in (free, dampest):  # of any begin where it asks for action, else the longest within the period
        soft = percent >= fig.DAMP_SIZE_RH
        longest, _ = seen.worst(climate.hours_in_spell(soft), window_h, (window_h,))
        if not longest >= window_h:
            longest = float(climate.hours_in_spell(soft & seen.judged()).max(initial=0))
        together.append(longest)
    longest, most_h = together
    by_value = grading.grade(value, *DAMP_LIMITS)
    level, most = (max(by_value, Level.ACT) if h > fig.DAMP_SIZE_HOURS else by_value for h in (longest, most_h))
    limit = max((x for x in DAMP_LIMITS if value >= x), default=fig.DAMP_SIZE_RH)
    sentence = f"The canvas came to {value:.1f} % RH at most; the limit is {limit:g} %{ours(limit)}."
    if level >= Level.WATCH:
        lasted = f", {longest:.0f} h together from 75 % up," if longest > 1 else ""
        when, does = f"on {seen.moment(seen.time[row])}{lasted}", DAMP_DOES[DAMP_LIMITS.index(limit)]
        sentence = f"The canvas came to {value:.1f} % RH {when} and from {limit:g} %{ours(limit)} {does}."
    working = (
        ("dampness", f"highest hour of the lagged humidity {value:.1f} % RH; {longest:.0f} h together from 75 % up"),
        *seen.day_lines(row),
        *grading.what_would_change(value, "% RH", DAMP_LIMITS),
        *grading.constants(("size softens, watch", fig.DAMP_SIZE_RH), ("and act, for h over", fig.DAMP_SIZE_HOURS),
            ("canvas shrinks, act", fig.DAMP_CANVAS_RH), ("danger, urgent", fig.DAMP_DANGER_RH)),
        *seen.strain_at(row),
    )  # fmt: skip
    u = float(np.hypot(seen.sensor_at(row, 1, seen.tau_h).rh_u_percent, seen.gap_u(row)))
    found = seen.finding(*of, level, sentence, limit, value=value, u=u, row=row, limits=DAMP_LIMITS, working=working)
    found = seen.left_open(found, dampest, DAMP_LIMITS)
    longer = most > max(level, found.level_high or level)
    if longer:
        open_ = f"; with what was not read it may be {most_h:.0f} h together from 75 % up, which is {most.word}."
        sentence = found.sentence.removesuffix(".") + open_
        found = replace(found, sentence=sentence, certainty=Certainty.CANNOT_TELL, level_high=None)
    still, passed = seen.canvas_percent >= min(limit, fig.DAMP_CANVAS_RH), seen.canvas_percent >= limit
    found = seen.finish(found, known, passed, reason, later=still, advice=DAMP_ADVICE)
    return replace(found, level_high=most) if longer else found


def cold(seen: CanvasCourse) -> Finding:
    """Paint brittle in the cold; the limits rise by 5 K where the air is dry too."""
    acrylic, assumed = seen.canvas.acrylic, seen.canvas.assumed
    limits = ACRYLIC if acrylic else OIL
    layer = f"paint ({'acrylic' if acrylic else 'oil'}{', assumed' if assumed else ''})"
    adds = np.where(seen.rh_percent < fig.DRY_LINED_RH, float(fig.COLD_AND_DRY_ADDS_C), 0.0)
    as_if_c = seen.temp_c - adds  # as cold as less dry air would have to be
    (coldest_c, row), known = seen.worst(as_if_c, 1, sign=-1), np.isfinite(seen.temp_c)
    reason = "Too little was read to say whether the paint was too cold."
    if row < 0:
        return seen.finish(seen.unread(Mechanism.COLD, layer, limits[0], reason), known, as_if_c <= limits[0], reason)
    level = grading.grade(coldest_c, *(float(x) for x in limits), sign=-1)
    limit = limits[max(int(level) - int(Level.WATCH), 0)]
    found = _coldest(seen, layer, level, limit, row, float(adds[row]))
    driest = climate.worst_in_gaps(seen.rh_percent, -1)
    might_add = np.where(driest < fig.DRY_LINED_RH, float(fig.COLD_AND_DRY_ADDS_C), 0.0)
    might, _ = seen.worst(climate.worst_in_gaps(seen.temp_c, -1) - might_add, 1, sign=-1)
    most = grading.grade(might, *(float(x) for x in limits), sign=-1)
    if most > level:
        words = f"as cold and as dry in them as any hour within a week, as {might:.1f} °C: {most.word}"
        found = replace(found, level_high=most, working=(*found.working, ("what gaps leave open", words)))
    still = as_if_c <= limits[int(min(level, Level.ACT)) - int(Level.WATCH)] if level >= Level.WATCH else None
    advice = COLD_ADVICE | {"clears": f"A week without an hour under {found.limit:g} °C."}
    if acrylic:
        advice["do"] += f" Under {fig.ACRYLIC_NO_HANDLING_C:g} °C do not handle it at all."
    return seen.finish(found, known, as_if_c <= limit, reason, later=still, advice=advice)


def _coldest(seen: CanvasCourse, layer: str, level: Level, limit: Figure, row: int, adds: float) -> Finding:
    """The coldest hour against the limit of its level, raised by what dry air adds."""
    value, at_c, limits = float(seen.temp_c[row]), float(limit) + adds, ACRYLIC if seen.canvas.acrylic else OIL
    under = f"{at_c:g} °C{ours(limit)}" + (f", {adds:g} K up as the air is dry" if adds else "")
    if seen.canvas.assumed and seen.canvas.acrylic:
        under += "; the paint is not known and may be acrylic, so it is taken as that"
    elif seen.canvas.assumed:
        under += f"; the paint is taken as oil, for acrylic it is {fig.ACRYLIC_COLD_WATCH_C:g} °C"
    sentence = f"The coldest hour was {value:.1f} °C; paint stiffens under {under}."
    if level >= Level.WATCH:
        sentence = f"It was {value:.1f} °C on {seen.moment(seen.time[row])}; paint grows brittle under {under}."
    working = (
        *grading.hour_of_readings(seen.there, seen.time[row], "temp_c", seen.exposure.zone),
        ("cold", f"lowest hourly mean {value:.1f} °C against {limit:g} + {adds:g} °C"),
        *grading.what_would_change(value, "°C", [float(step) + adds for step in limits], -1),
        *grading.constants(("watch", limits[0]), ("act", limits[1]), ("urgent", limits[2]),
            ("added where the air is dry", fig.COLD_AND_DRY_ADDS_C)),
        ("paint", f"{layer}; thermal strain alone understates cold, so the limits are those of brittleness"),
    )  # fmt: skip
    found = seen.finding(
        Mechanism.COLD, layer, level, sentence, limit,
        value=value, u=seen.sensor_at(row).temp_u_c, row=row, limits=(at_c,), working=working,
    )  # fmt: skip
    return replace(found, limit=at_c, assumed=seen.canvas.assumed)
