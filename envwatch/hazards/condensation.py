"""Condensation: on the painting, on the wall behind it, and bloom on fresh varnish.

A painting brought from a cold place stays cold for a while; where it is colder than the dew point of the air about it,
water forms on it. The array functions are in `condensation_margin`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.drying_back import RULE
from envwatch.climate.exposure import CANVAS_BACK, PAINT_FACE, ROOM, WALL_FACE, WHERE, Exposure, Stint
from envwatch.core.arrays import Array
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism
from envwatch.core.painting import Painting, Role
from envwatch.core.place import Placement
from envwatch.core.text import moment
from envwatch.figures import condensation as fig
from envwatch.figures.canvas import LOOK_WITHIN_DAYS
from envwatch.figures.coverage import ENDED_NEEDS_H
from envwatch.hazards.dew_point_margin import (
    Margin,
    margins,
    painting_temp,
    waiting_time_h,
    wet_hours,
    working,
)
from envwatch.hazards.grading import (
    certainty,
    concluded,
    constants,
    grade,
    mean_of_hours,
    what_would_change,
    with_open_level,
)
from envwatch.hazards.hourly import HourlyExposure

HAZARD = Hazard.CONDENSATION
INTENDED = "The whole period was an intended stay, which raises no alarm."
TODAY = "Stand it upright, face and back free, in air under 60 % RH at the same temperature; look at it today."
PAINTING_DO = {
    Level.WATCH: "Let cold paintings come to the room wrapped, overnight; keep this one off cold walls and damp air.",
    Level.ACT: TODAY, Level.URGENT: TODAY,
}  # fmt: skip
WATER = "No socket, lamp, heater or extension lead near the wet place until it is dry and looked at."


def assess(exposure: Exposure, painting: Painting | None, start: pd.Timestamp) -> list[Finding]:
    """Water on the painting; on the wall behind where that is known or matters; bloom where a varnish is fresh.

    Over [start, exposure.end); the days before carry the painting's temperature. Intended stays raise no alarm.
    """
    # neither glass nor board shelters it; where that is not known it is taken as sheltered
    open_both = painting is not None and painting.glazed is False and painting.backed is False
    found = [exposure.once((HAZARD, open_both, start), lambda: _on_painting(exposure, open_both, start))]
    outer = any(
        stint.position == Placement.OUTER_WALL and start < stint.end and stint.start < exposure.end
        for stint in exposure.stints
    )
    if WALL_FACE in exposure.points or outer:
        found.append(_on_wall(exposure, start))
    fresh = _fresh_varnish(painting, start)
    return [*found, _bloom(exposure, start, *fresh)] if fresh else found


def _on_painting(exposure: Exposure, open_both: bool, start: pd.Timestamp) -> Finding:
    points = [p for p in (ROOM, CANVAS_BACK, PAINT_FACE) if p in exposure.points] or [ROOM]
    read, might = zip(*(margins(exposure, p, open_both, start) for p in points), strict=True)
    level, worst = _worst(read, fig.PAINTING_WET_URGENT_H)
    finding = _left_open(Finding(
        HAZARD, Mechanism.WATER_ON_IT, "paint, canvas and lining", worst.point, level,
        _painting_sentence(exposure, worst, level), **_fields(worst, level, exposure),
        look_for="Droplets or a dull veil on the paint, damp at the lower edge and behind the bars; bloom days later.",
        do=PAINTING_DO.get(level, ""), avoid="No wiping, no hair dryer, no sun, no closed wrapping while it is damp.",
        clears=f"A surface more than {fig.NEAR_K:g} K over the dew point.", caution=WATER if level >= Level.ACT else "",
    ), might, fig.PAINTING_WET_URGENT_H)  # fmt: skip
    return concluded(finding, worst.coverage, _unseen(worst, "the painting"))


def _on_wall(exposure: Exposure, start: pd.Timestamp) -> Finding:
    if WALL_FACE not in exposure.points:
        return Finding(
            HAZARD, Mechanism.WATER_BEHIND, "wall behind the picture", WALL_FACE, Level.UNKNOWN,
            "It hangs on an outer wall whose temperature is not known: without readings from outdoors, water on the "
            "wall cannot be ruled out.", limit=fig.NEAR_K, unit="K over the dew point", coverage=0.0,
            do="Hang a logger outdoors, or measure the wall behind the picture on a cold morning.",
            clears="Readings from outdoors, or another wall.",
            certainty=Certainty.CANNOT_TELL,
        )  # fmt: skip
    seen, at_worst = margins(exposure, WALL_FACE, False, start)
    level, _ = _worst([seen], fig.WALL_WET_URGENT_H)
    finding = _left_open(Finding(
        HAZARD, Mechanism.WATER_BEHIND, "wall behind the picture", WALL_FACE, level,
        _wall_sentence(exposure, seen, level), **_fields(seen, level, exposure),
        look_for="Damp, stains or spots on the wall behind; a musty smell; a damp lower edge of the frame.",
        do=f"Take it off this wall, or dry the room, {RULE}; spacers alone cure no cold wall." if level >= Level.WATCH
        else "",
        avoid="No keying out, no heater or fan on it, no closed wrapping; not back on this wall while that is damp.",
        clears="A wall more than 2 K over the dew point.", caution=WATER if level >= Level.ACT else "",
    ), [at_worst], fig.WALL_WET_URGENT_H)  # fmt: skip
    return concluded(finding, seen.coverage, _unseen(seen, "the wall"))


def _worst(seen: Sequence[Margin], urgent_h: float) -> tuple[Level, Margin]:
    """The level of the worst of several margins, and which it is."""
    graded = []
    for each in seen:
        level = grade(each.least, fig.NEAR_K, fig.WET_K, sign=-1)
        if level is Level.ACT and each.wet_together_h(urgent_h) >= urgent_h:
            level = Level.URGENT
        if level is Level.UNKNOWN and len(each.margin_k) and np.isfinite(each.air_there.dew_point_c).any():
            level = Level.CLEAR if np.isnan(each.margin_k).all() else level  # it was read, and all of it intended
        graded.append((level, each))
    return max(graded, key=lambda pair: (pair[0], -np.nan_to_num(pair[1].least, nan=99.0)))


def _left_open(finding: Finding, might: Sequence[Margin | None], urgent_h: float) -> Finding:
    """The finding; where it may be worse by what was not read, as cold and damp as within a week: not certain."""
    seen = [each for each in might if each is not None]
    if not seen or (both := _worst(seen, urgent_h))[0] <= max(finding.level, Level.UNKNOWN):
        return finding
    most, at_worst = both
    told = f"as cold and as damp in them as within a week about them, {at_worst.least:.1f} K: {most.word}"
    return with_open_level(replace(
        finding, level_high=most, value_low=finding.value, value_high=at_worst.least,
        working=(*finding.working, ("what gaps leave open", told)),
    ))  # fmt: skip


def _fields(seen: Margin, level: Level, exposure: Exposure) -> dict[str, Any]:
    """The numbers of a finding about a surface and the dew point."""
    if np.isnan(seen.least):
        return {
            "limit": fig.NEAR_K, "unit": "K over the dew point", "coverage": seen.coverage,
            "certainty": Certainty.CERTAIN if level is Level.CLEAR else Certainty.CANNOT_TELL,
        }  # fmt: skip
    limit = fig.NEAR_K if seen.least > fig.WET_K else fig.WET_K
    near = np.flatnonzero(np.nan_to_num(seen.margin_k, nan=99.0) <= limit)
    time, hours = seen.air_there.time, seen.air_there.hours
    ending: dict[str, pd.Timestamp | None] = {}
    if len(near):  # until when readings near the dew point went on, and whether that has ended; as `concluded`
        last = int(near[-1])
        until = time[last] + pd.Timedelta(hours=float(hours[last]))
        later = np.isfinite(seen.margin_k[last + 1 :]) * hours[last + 1 :]
        ending = {"until": until, "ended": until if later.sum() >= ENDED_NEEDS_H else None}
    within, unsure_k = LOOK_WITHIN_DAYS.get(int(level)), seen.doubt()[1]
    return {
        "value": seen.least, "uncertainty": unsure_k, "limit": limit, "unit": "K over the dew point",
        "hours": float(np.nansum(seen.wet_h)) if seen.least <= 0 else float(hours[near].sum()),
        "since": time[near[0]] if len(near) else None, "worst_at": time[seen.at], **ending,
        "certainty": Certainty.CANNOT_TELL if seen.air_there.suspect[seen.at]
        else certainty(seen.least, unsure_k, fig.NEAR_K, fig.WET_K),
        "by": exposure.end + pd.Timedelta(days=float(within)) if within is not None else None,
        "working": working(seen, fig.WALL_WET_URGENT_H if seen.point == WALL_FACE else fig.PAINTING_WET_URGENT_H),
    }  # fmt: skip


def _arrival(exposure: Exposure, seen: Margin) -> tuple[Stint, Stint] | None:
    """The move that brought the least margin: (from, to), where it came shortly before."""
    at, tau = seen.air_there.time[seen.at], pd.Timedelta(hours=float(5 * seen.tau_h[seen.at]))
    for before, after in zip(exposure.stints, exposure.stints[1:], strict=False):
        if after.start <= at <= after.start + tau:
            return before, after
    return None


def _painting_sentence(exposure: Exposure, seen: Margin, level: Level) -> str:
    if np.isnan(seen.least):
        return INTENDED if level is Level.CLEAR else _unseen(seen, "the painting")
    unknown = _unknown_arrivals(exposure, seen)
    at, there = seen.at, seen.air_there
    dew = f"dew point {there.dew_point_c[at]:.1f} °C"
    if level is Level.CLEAR:
        return f"The painting stayed at least {seen.least:.1f} K over the dew point {WHERE[seen.point]}.{unknown}"
    moved = _arrival(exposure, seen) if seen.point == ROOM else None
    came = f" when it came from {moved[0].place_name or 'elsewhere'} to {moved[1].place_name}" if moved else ""
    how = f"it was {seen.surface_c[at]:.1f} °C{came}, {dew} {WHERE[seen.point]}"
    unknown += _should_have_waited(seen) if moved else ""
    if level is Level.WATCH:
        return f"Near condensation on {moment(there.time[at], exposure.zone)}: {how}.{unknown}"
    minutes = 60 * float(np.nansum(seen.wet_h))
    span = f"{minutes:.0f} minutes" if minutes < 120 else f"{minutes / 60:.0f} hours"
    return f"Water could form on it on {moment(there.time[at], exposure.zone)}, for about {span}: {how}.{unknown}"


def _should_have_waited(seen: Margin) -> str:
    """How long a painting that arrived cold would have had to stay wrapped."""
    there, at = seen.air_there, seen.at
    wait = float(waiting_time_h(seen.surface_c[at], there.temp_c[at], there.rh_percent[at]))
    if not 0 < wait < np.inf:
        return ""
    return f" Left wrapped or in its crate it is safe to open after about {np.ceil(wait):.0f} h (our judgement)."


def _unknown_arrivals(exposure: Exposure, seen: Margin) -> str:
    """Moves after which nothing is known of how cold the painting arrived."""
    time = seen.air_there.time
    for before, after in zip(exposure.stints, exposure.stints[1:], strict=False):
        row = int(time.searchsorted(after.start))
        on_the_way = before.position == Placement.CRATE or not before.place_id or after.start > before.end
        seen_before = row > 0 and time[row - 1] >= after.start - pd.Timedelta(hours=2)
        if on_the_way and row < len(time) and after.start >= seen.air_there.start and not seen_before:
            when = moment(after.start, exposure.zone)
            return f" How cold it arrived on {when} is not known: nothing was read on the way."
    return ""


def _wall_sentence(exposure: Exposure, seen: Margin, level: Level) -> str:
    if np.isnan(seen.least):
        return INTENDED if level is Level.CLEAR else _unseen(seen, "the wall")
    at, there = seen.at, seen.air_there
    if level is Level.CLEAR:
        return f"The wall behind it stayed at least {seen.least:.1f} K over the dew point."
    when = moment(there.time[at], exposure.zone)
    if level is Level.WATCH:
        return (
            f"The wall behind it came within {seen.least:.1f} K of the dew point on {when} ({there.temp_c[at]:.1f} °C)."
        )
    wet = f"{np.nansum(seen.wet_h):.0f} hours"
    return f"Water condenses on the wall behind it: {wet}, first about {when} ({there.temp_c[at]:.1f} °C)."


def _unseen(seen: Margin, what: str) -> str:
    share = seen.coverage
    return f"Temperature and humidity together were read for {share:.0%} of the period: water on {what} is not known."


def _fresh_varnish(painting: Painting | None, start: pd.Timestamp) -> tuple[str, pd.Timestamp] | None:
    """The youngest varnish that is still fresh at the start, and when it went on."""
    if painting is None:
        return None
    days = [(layer.material, layer.applied_on) for layer in painting.layers if layer.role == Role.VARNISH]
    days += [(done.material, done.on) for done in painting.treatments if "varnish" in done.kind]
    known = [(material, on) for material, on in days if on is not None]
    material, on = max(known, key=lambda pair: pair[1], default=("", None))
    if on is None or on + pd.Timedelta(days=float(fig.FRESH_VARNISH_DAYS)) <= start:
        return None
    return f"varnish ({material.replace('_', ' ') or 'unknown'})", on


def _bloom_working(room: HourlyExposure, mean: Array, value: float) -> tuple[tuple[str, str], ...]:
    if np.isnan(value):
        return ()
    row = int(np.nanargmax(mean))
    return (
        *mean_of_hours(room.rh_percent[max(row - 23, 0) : row + 1], "hourly means", "% RH"),
        *what_would_change(value, "% RH", (fig.BLOOM_WATCH_RH,)),
        *constants(("watch", fig.BLOOM_WATCH_RH), ("fresh for days", fig.FRESH_VARNISH_DAYS)),
    )


def _bloom(exposure: Exposure, start: pd.Timestamp, layer: str, on: pd.Timestamp) -> Finding:
    room = HourlyExposure.at(exposure, start, ROOM, exposure.room)
    asked = room.judged(24) & (room.time >= on)
    mean, might = (
        np.where(asked, climate.running_mean(np.where(exposure.intended_mask(room.time), np.nan, rh), 24), np.nan)
        for rh in (room.rh_percent, climate.worst_in_gaps(room.rh_percent))
    )
    known, bias = np.isfinite(mean), room.there.sensor.rh_bias_percent
    value = float(np.nanmax(mean)) if known.any() else float("nan")
    if known.any():
        bias = room.sensor_at(int(np.nanargmax(mean)), 24).rh_bias_percent
    level = grade(value, fig.BLOOM_WATCH_RH)
    over = np.flatnonzero(np.nan_to_num(mean) >= fig.BLOOM_WATCH_RH)
    coverage = room.period.coverage
    raised = level is Level.WATCH
    finding = Finding(
        HAZARD, Mechanism.BLOOM, layer, ROOM, level,
        f"Highest 24 h mean {value:.0f} % RH over a varnish of {on.day} {on:%b %Y}"
        + (": it may bloom." if raised else f", under {fig.BLOOM_WATCH_RH:g}."),
        value=value, uncertainty=bias, limit=fig.BLOOM_WATCH_RH, unit="% RH, 24 h mean", hours=float(len(over)),
        since=room.time[over[0]] if len(over) else None,
        worst_at=room.time[int(np.nanargmax(mean))] if known.any() else None,
        certainty=certainty(value, bias, fig.BLOOM_WATCH_RH),
        look_for="A blue-white veil in the darks, in raking light.",
        do=f"Dry the air before it hardens, {RULE}." if raised else "",
        avoid="No polishing, no solvent, no warm air on it.",
        by=exposure.end + pd.Timedelta(days=float(LOOK_WITHIN_DAYS[2])) if raised else None,
        clears="A day's mean under 75 %, and a clear surface.", working=_bloom_working(room, mean, value),
    )  # fmt: skip
    reason = f"Humidity was read for {coverage:.0%} of the period: bloom on the fresh varnish is not known."
    if np.isnan(value):
        return replace(finding, sentence=reason, coverage=coverage)
    most = float(np.nanmax(might))
    if grade(most, fig.BLOOM_WATCH_RH) > level:
        finding = with_open_level(replace(finding, level_high=Level.WATCH, value_low=value, value_high=most))
    return concluded(finding, coverage, reason, room.time, mean >= fig.BLOOM_WATCH_RH, known)


__all__ = ["assess", "painting_temp", "waiting_time_h", "wet_hours"]
