"""Dry and damp: humidities at which a canvas painting suffers whatever it came from."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from envwatch import climate
from envwatch.climate.drying_back import BACK_A_WEEK, RULE
from envwatch.core.arrays import Mask
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism, ours
from envwatch.figures import Figure
from envwatch.figures import canvas as fig
from envwatch.hazards import grading
from envwatch.hazards import working as reckoning
from envwatch.hazards.canvas import strain
from envwatch.hazards.canvas.response import ALL_INTENDED, CanvasCourse

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
DAMP_LIMITS = (fig.DAMP_SIZE_RH, fig.DAMP_CANVAS_RH, fig.DAMP_DANGER_RH)


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
    free = np.where(seen.drying, np.nan, seen.canvas_percent)
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
    return seen.finish(seen.advised(found, DRY_ADVICE), known, passed, reason, window_h)


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
    free = np.where(seen.drying, np.nan, seen.canvas_percent)
    values = np.where(seen.judged(), free, np.nan)
    known, soft = np.isfinite(seen.canvas_percent), seen.canvas_percent >= fig.DAMP_SIZE_RH
    if not np.isfinite(values).any():
        return seen.finish(unread(seen, mechanism, layer, fig.DAMP_SIZE_RH, reason), known, soft, reason)
    row = int(np.nanargmax(values))
    value = float(values[row])
    dampest = seen.ends[1]
    longest, most_h = (_longest_soft(seen, end >= fig.DAMP_SIZE_RH) for end in (free, dampest))
    level, most = (_damp_level(value, hours) for hours in (longest, most_h))
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
    found = seen.finish(seen.advised(found, DAMP_ADVICE), known, seen.canvas_percent >= limit, reason, later=still)
    return replace(found, level_high=most) if longer else found


def _damp_level(value: float, longest_h: float) -> Level:
    level = grading.grade(value, *DAMP_LIMITS)
    return max(level, Level.ACT) if longest_h > fig.DAMP_SIZE_HOURS else level


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
