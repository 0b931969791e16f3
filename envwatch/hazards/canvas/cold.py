"""Cold: paint that has grown stiff and brittle, and cracks from a blow or a bend."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from envwatch import climate
from envwatch.core.arrays import Array
from envwatch.core.findings import Finding, Level, Mechanism, ours
from envwatch.figures import Figure
from envwatch.figures import canvas as fig
from envwatch.hazards import grading
from envwatch.hazards import working as reckoning
from envwatch.hazards.canvas.extremes import bare, unread
from envwatch.hazards.canvas.response import CanvasCourse
from envwatch.hazards.grading import asks_from

OIL = (fig.OIL_COLD_WATCH_C, fig.OIL_COLD_ACT_C, fig.OIL_COLD_URGENT_C)
ACRYLIC = (fig.ACRYLIC_COLD_WATCH_C, fig.ACRYLIC_COLD_ACT_C, fig.ACRYLIC_COLD_URGENT_C)


def cold(seen: CanvasCourse) -> Finding:
    """Paint brittle in the cold; the limits rise by 5 K where the air is dry too."""
    reason = "Too little was read to say whether the paint was too cold."
    acrylic, assumed = seen.canvas.acrylic, seen.canvas.assumed
    limits = ACRYLIC if acrylic else OIL
    layer = f"paint ({'acrylic' if acrylic else 'oil'}{', assumed' if assumed else ''})"
    adds = _adds(seen.rh_percent)
    as_if_c = seen.temp_c - adds  # as cold as less dry air would have to be
    judged = np.where(seen.judged(), as_if_c, np.nan)
    known = np.isfinite(seen.temp_c)
    if not np.isfinite(judged).any():
        return seen.finish(unread(seen, Mechanism.COLD, layer, limits[0], reason), known, as_if_c <= limits[0], reason)
    row = int(np.nanargmin(judged))
    level = grading.grade_low(float(judged[row]), *(float(x) for x in limits))
    limit = limits[max(int(level) - int(Level.WATCH), 0)]
    found = _finding(seen, layer, level, limit, row, float(adds[row]), _guess(acrylic, assumed))
    if acrylic and level >= Level.WATCH:
        found = replace(found, do=found.do + f" Under {fig.ACRYLIC_NO_HANDLING_C:g} °C do not handle it at all.")
    found = _left_open(seen, found, limits)
    still = as_if_c <= limits[int(asks_from(level)) - int(Level.WATCH)] if level >= Level.WATCH else None
    return seen.finish(found, known, as_if_c <= limit, reason, later=still)


def _adds(rh_percent: Array) -> Array:
    """By how much the limits rise where the air is dry. (n,) -> (n,) [K]"""
    return np.where(rh_percent < fig.DRY_LINED_RH, float(fig.COLD_AND_DRY_ADDS_C), 0.0)


def _left_open(seen: CanvasCourse, found: Finding, limits: tuple[Figure, ...]) -> Finding:
    """The finding, with the level that hours not read came to if as cold and as dry as any about them."""
    at_worst_c = climate.worst_in_gaps(seen.temp_c, -1) - _adds(seen.air_ends[0])
    might = float(np.nanmin(np.where(seen.judged(), at_worst_c, np.nan)))
    level = grading.grade_low(might, *(float(x) for x in limits))
    if level <= found.level:
        return found
    words = f"as cold and as dry in them as any hour within a week, as {might:.1f} °C: {level.word}"
    line = ("what gaps leave open", words)
    return replace(found, level_high=level, working=(*found.working, line))


def _finding(seen: CanvasCourse, layer: str, level: Level, limit: Figure, row: int, adds: float, guess: str) -> Finding:
    value, at_c = float(seen.temp_c[row]), float(limit) + adds
    told = f"{at_c:g} °C{ours(limit)}" + (f", {adds:g} K up as the air is dry" if adds else "")
    if level >= Level.WATCH:
        sentence = f"It was {value:.1f} °C on {seen.moment(seen.time[row])}; paint grows brittle under {told}{guess}."
    else:
        sentence = f"The coldest hour was {value:.1f} °C; paint stiffens under {told}{guess}."
    limits = ACRYLIC if limit in ACRYLIC and "acrylic" in layer else OIL
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
    found = replace(bare(seen, Mechanism.COLD, layer, limit, level, sentence), limit=at_c, assumed=bool(guess))
    u = seen.sensor_at(row).temp_u_c
    found = seen.measured(found, value, u, row, (at_c,), working)
    return seen.advised(
        found,
        {
            "look_for": "Fine sharp cracks from knocks, along the stretcher bars and at the corners.",
            "do": "Leave it where it is until the room has warmed over a day or more.",
            "avoid": "No handling, transport, keying out or rolling; no quick warming, for water may condense on it.",
            "clears": f"A week without an hour under {at_c:g} °C.",
        },
    )


def _guess(acrylic: bool, assumed: bool) -> str:
    if not assumed:
        return ""
    if acrylic:
        return "; the paint is not known and may be acrylic, so it is taken as that"
    return f"; the paint is taken as oil, for acrylic it is {fig.ACRYLIC_COLD_WATCH_C:g} °C"
