"""Dry, damp and cold: air in which a canvas painting suffers whatever it came from.

In the cold paint grows stiff and brittle, and cracks from a blow or a bend.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from envwatch import climate
from envwatch.climate.drying_back import BACK_A_WEEK, RULE
from envwatch.core.arrays import Array, Mask
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism, ours
from envwatch.figures import Figure
from envwatch.figures import canvas as fig
from envwatch.hazards import grading
from envwatch.hazards import working as reckoning
from envwatch.hazards.canvas import strain
from envwatch.hazards.canvas.response import ALL_INTENDED, CanvasCourse
from envwatch.hazards.grading import asks_from

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
DAMP_LIMITS = (fig.DAMP_SIZE_RH, fig.DAMP_CANVAS_RH, fig.DAMP_DANGER_RH)
OIL = (fig.OIL_COLD_WATCH_C, fig.OIL_COLD_ACT_C, fig.OIL_COLD_URGENT_C)
ACRYLIC = (fig.ACRYLIC_COLD_WATCH_C, fig.ACRYLIC_COLD_ACT_C, fig.ACRYLIC_COLD_URGENT_C)


def bare(seen: CanvasCourse, mechanism: Mechanism, layer: str, limit: Figure, level: Level, sentence: str) -> Finding:
    """A finding with the limit's own source and confidence."""
    return Finding(
        Hazard.FLUCTUATION, mechanism, layer, seen.point, level, sentence, limit=float(limit), unit=limit.unit,
        certainty=grading.certainty(np.nan, np.nan), confidence=limit.confidence, source=limit.source,
    )  # fmt: skip


def unread(seen: CanvasCourse, mechanism: Mechanism, layer: str, limit: Figure, reason: str) -> Finding:
    """No judged value: nothing was read, or all of the period was intended."""
    if seen.judged().any():
        return bare(seen, mechanism, layer, limit, Level.UNKNOWN, reason)
    return bare(seen, mechanism, layer, limit, Level.CLEAR, ALL_INTENDED)


def dry(seen: CanvasCourse) -> Finding:
    """Glue size and ground pulled by dry air: a day under 35 %, or any hour under 25 %, of the canvas."""
    mechanism, layer = Mechanism.DRY_AIR, "glue size and ground"
    reason = "Too little was read to say whether the canvas was too dry."
    free = seen.free_percent
    hour = np.where(seen.judged(), free, np.nan)
    day = seen.told(climate.running_mean(free, 24, 0.5), 24, (fig.DRY_LINED_RH,), -1)
    brief = bool((hour <= fig.DRY_DANGER_RH).any())
    values, limit, span = (hour, fig.DRY_DANGER_RH, "hour") if brief else (day, fig.DRY_LINED_RH, "24 h mean")
    window_h = 1 if brief else 24
    known, passed = np.isfinite(seen.canvas_percent), seen.canvas_percent <= limit
    if not np.isfinite(values).any():
        return seen.finish(unread(seen, mechanism, layer, limit, reason), known, passed, reason)
    row = int(np.nanargmin(values))
    value = float(values[row])
    level = Level.ACT if brief else grading.grade_low(value, float(limit))
    found = bare(seen, mechanism, layer, limit, level, _dry_sentence(seen, row, value, limit, span, level))
    working = (
        ("dryness", f"lowest {span} of the lagged humidity: {value:.1f} % RH against {limit:g} % RH"),
        *seen.day_lines(row, mean=not brief),
        *reckoning.what_would_change(value, "% RH", (fig.DRY_LINED_RH, fig.DRY_DANGER_RH), -1),
        *reckoning.constants(("24 h mean, watch", fig.DRY_LINED_RH), ("any hour, act", fig.DRY_DANGER_RH)),
        *_size_line(seen, row),
        *seen.strain_at(row, percent=value),
    )
    limits = (fig.DRY_LINED_RH, fig.DRY_DANGER_RH)
    u = float(np.hypot(seen.sensor_at(row, window_h, seen.tau_h).rh_u_percent, seen.gap_u(row, window_h)))
    found = seen.measured(found, value, u, row, limits, working)
    driest = seen.ends[0]
    might = np.where(driest <= fig.DRY_DANGER_RH, driest, climate.running_mean(driest, 24, 0.5))
    found = seen.left_open(found, might, limits, -1, window_h)
    if not (passed & seen.judged(window_h)).any():  # a mean of the day that is dry by the hours around it
        passed = values <= limit
    return seen.finish(found, known, passed, reason, window_h, advice=DRY_ADVICE)


def _dry_sentence(seen: CanvasCourse, row: int, value: float, limit: Figure, span: str, level: Level) -> str:
    told = f"the limit is {limit:g} %{ours(limit)}"
    if level >= Level.WATCH:
        return f"The canvas dried to {value:.1f} % RH ({span}, {seen.moment(seen.time[row])}); {told}."
    return f"The driest {span} of the canvas was {value:.1f} % RH; {told}."


def _size_line(seen: CanvasCourse, row: int) -> tuple[tuple[str, str], ...]:
    usual = seen.usual(row)
    if np.isnan(usual.percent):
        return ()
    least = float(strain.driest_without_yield(usual.percent))
    words = f"drying from {usual.percent:.1f} % ({usual.words}) to {least:.1f} % RH, order of magnitude"
    return (("size alone would yield", words),)


def damp(seen: CanvasCourse) -> Finding:
    """Glue size soft over 75 %, canvas slack and then shrinking over 80 %, danger over 90 %, of the canvas."""
    mechanism, layer = Mechanism.DAMP_AIR, "glue size and canvas"
    reason = "Too little was read to say whether the canvas was too damp."
    free = seen.free_percent
    values = np.where(seen.judged(), free, np.nan)
    known, soft = np.isfinite(seen.canvas_percent), seen.canvas_percent >= fig.DAMP_SIZE_RH
    if not np.isfinite(values).any():
        return seen.finish(unread(seen, mechanism, layer, fig.DAMP_SIZE_RH, reason), known, soft, reason)
    row = int(np.nanargmax(values))
    value = float(values[row])
    dampest = seen.ends[1]
    longest, most_h = (_longest_soft(seen, end >= fig.DAMP_SIZE_RH) for end in (free, dampest))
    by_value = grading.grade(value, *DAMP_LIMITS)
    level, most = (max(by_value, Level.ACT) if h > fig.DAMP_SIZE_HOURS else by_value for h in (longest, most_h))
    limit = max((x for x in DAMP_LIMITS if value >= x), default=fig.DAMP_SIZE_RH)
    found = bare(seen, mechanism, layer, limit, level, _damp_sentence(seen, row, value, longest, limit, level))
    working = (
        ("dampness", f"highest hour of the lagged humidity {value:.1f} % RH; {longest:.0f} h together from 75 % up"),
        *seen.day_lines(row),
        *reckoning.what_would_change(value, "% RH", DAMP_LIMITS),
        *reckoning.constants(
            ("size softens, watch", fig.DAMP_SIZE_RH),
            ("and act, for h over", fig.DAMP_SIZE_HOURS),
            ("canvas shrinks, act", fig.DAMP_CANVAS_RH),
            ("danger, urgent", fig.DAMP_DANGER_RH),
        ),
        *seen.strain_at(row),
    )
    u = float(np.hypot(seen.sensor_at(row, 1, seen.tau_h).rh_u_percent, seen.gap_u(row)))
    found = seen.measured(found, value, u, row, DAMP_LIMITS, working)
    found = seen.left_open(found, dampest, DAMP_LIMITS)
    longer = most > max(level, found.level_high or level)
    if longer:
        open_ = f"; with what was not read it may be {most_h:.0f} h together from 75 % up, which is {most.word}."
        found = replace(found, sentence=found.sentence.removesuffix(".") + open_, certainty=Certainty.CANNOT_TELL)
        found = replace(found, level_high=None)
    still = seen.canvas_percent >= min(limit, fig.DAMP_CANVAS_RH)
    passed = seen.canvas_percent >= limit
    found = seen.finish(found, known, passed, reason, later=still, advice=DAMP_ADVICE)
    return replace(found, level_high=most) if longer else found


def _longest_soft(seen: CanvasCourse, soft: Mask) -> float:
    """Hours of the longest spell: begun before the period or not where it asks for action, else those in the period."""
    window_h = int(fig.DAMP_SIZE_HOURS) + 1
    longest = np.nanmax(seen.told(climate.hours_in_spell(soft), window_h, (window_h,)), initial=0)
    return float(longest if longest >= window_h else climate.hours_in_spell(soft & seen.judged()).max(initial=0))


def _damp_sentence(seen: CanvasCourse, row: int, value: float, longest: float, limit: Figure, level: Level) -> str:
    if level < Level.WATCH:
        return f"The canvas came to {value:.1f} % RH at most; the limit is {limit:g} %{ours(limit)}."
    does = {75.0: "glue size softens", 80.0: "a canvas shrinks on its stretcher", 90.0: "a canvas is in danger"}
    long = f", {longest:.0f} h together from 75 % up," if longest > 1 else ""
    when = seen.moment(seen.time[row])
    return (
        f"The canvas came to {value:.1f} % RH on {when}{long} and from {limit:g} %{ours(limit)} {does[float(limit)]}."
    )


def cold(seen: CanvasCourse) -> Finding:
    """Paint brittle in the cold; the limits rise by 5 K where the air is dry too."""
    reason = "Too little was read to say whether the paint was too cold."
    acrylic, assumed = seen.canvas.acrylic, seen.canvas.assumed
    limits = ACRYLIC if acrylic else OIL
    layer = f"paint ({'acrylic' if acrylic else 'oil'}{', assumed' if assumed else ''})"
    adds = _dry_adds(seen.rh_percent)
    as_if_c = seen.temp_c - adds  # as cold as less dry air would have to be
    judged = np.where(seen.judged(), as_if_c, np.nan)
    known = np.isfinite(seen.temp_c)
    if not np.isfinite(judged).any():
        return seen.finish(unread(seen, Mechanism.COLD, layer, limits[0], reason), known, as_if_c <= limits[0], reason)
    row = int(np.nanargmin(judged))
    level = grading.grade_low(float(judged[row]), *(float(x) for x in limits))
    limit = limits[max(int(level) - int(Level.WATCH), 0)]
    found = _cold_finding(seen, layer, level, limit, row, float(adds[row]))
    found = _cold_left_open(seen, found, limits)
    still = as_if_c <= limits[int(asks_from(level)) - int(Level.WATCH)] if level >= Level.WATCH else None
    advice = COLD_ADVICE | {"clears": f"A week without an hour under {found.limit:g} °C."}
    if acrylic:
        advice["do"] += f" Under {fig.ACRYLIC_NO_HANDLING_C:g} °C do not handle it at all."
    return seen.finish(found, known, as_if_c <= limit, reason, later=still, advice=advice)


def _dry_adds(rh_percent: Array) -> Array:
    """By how much the limits rise where the air is dry. (n,) -> (n,) [K]"""
    return np.where(rh_percent < fig.DRY_LINED_RH, float(fig.COLD_AND_DRY_ADDS_C), 0.0)


def _cold_left_open(seen: CanvasCourse, found: Finding, limits: tuple[Figure, ...]) -> Finding:
    """The finding, with the level that hours not read came to if as cold and as dry as any about them."""
    at_worst_c = climate.worst_in_gaps(seen.temp_c, -1) - _dry_adds(seen.air_ends[0])
    might = float(np.nanmin(np.where(seen.judged(), at_worst_c, np.nan)))
    level = grading.grade_low(might, *(float(x) for x in limits))
    if level <= found.level:
        return found
    words = f"as cold and as dry in them as any hour within a week, as {might:.1f} °C: {level.word}"
    line = ("what gaps leave open", words)
    return replace(found, level_high=level, working=(*found.working, line))


def _cold_finding(seen: CanvasCourse, layer: str, level: Level, limit: Figure, row: int, adds: float) -> Finding:
    value, at_c, limits = float(seen.temp_c[row]), float(limit) + adds, ACRYLIC if seen.canvas.acrylic else OIL
    told = f"{at_c:g} °C{ours(limit)}" + (f", {adds:g} K up as the air is dry" if adds else "")
    if seen.canvas.assumed and seen.canvas.acrylic:
        told += "; the paint is not known and may be acrylic, so it is taken as that"
    elif seen.canvas.assumed:
        told += f"; the paint is taken as oil, for acrylic it is {fig.ACRYLIC_COLD_WATCH_C:g} °C"
    if level >= Level.WATCH:
        sentence = f"It was {value:.1f} °C on {seen.moment(seen.time[row])}; paint grows brittle under {told}."
    else:
        sentence = f"The coldest hour was {value:.1f} °C; paint stiffens under {told}."
    working = (
        *reckoning.hour_of_readings(seen.there, seen.time[row], "temp_c", seen.exposure.zone),
        ("cold", f"lowest hourly mean {value:.1f} °C against {limit:g} + {adds:g} °C"),
        *reckoning.what_would_change(value, "°C", [float(step) + adds for step in limits], -1),
        *reckoning.constants(
            *zip(("watch", "act", "urgent"), limits, strict=True),
            ("added where the air is dry", fig.COLD_AND_DRY_ADDS_C),
        ),
        ("paint", f"{layer}; thermal strain alone understates cold, so the limits are those of brittleness"),
    )
    found = bare(seen, Mechanism.COLD, layer, limit, level, sentence)
    found = replace(found, limit=at_c, assumed=seen.canvas.assumed)
    return seen.measured(found, value, seen.sensor_at(row).temp_u_c, row, (at_c,), working)
