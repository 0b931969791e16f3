"""How damp a canvas is at the end of a period, for how long, and what it is brought back to."""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil

import numpy as np
import pandas as pd

from envwatch.climate.drying_back import NEAR, Dampness
from envwatch.climate.exposure import Exposure
from envwatch.climate.summary import day_begins, local_days
from envwatch.core.arrays import Array
from envwatch.core.findings import Finding, Hazard, Level, Mechanism
from envwatch.core.painting import Painting
from envwatch.figures import canvas as fig
from envwatch.figures.materials import Materials, profiles
from envwatch.figures.mould import WEEK_MEAN_WATCH
from envwatch.hazards.canvas.history import humidity_at
from envwatch.hazards.canvas.response import CanvasCourse, canvas_of, course
from envwatch.hazards.lining.layers import BondedLayer, links, span_end

DAY = pd.Timedelta(days=1)
HALF_A_DAY_H = 12
DAMP = (Mechanism.DAMP, Mechanism.DAMP_AIR, Mechanism.BEYOND)
LOOKS_BACK_DAYS = 365
Days = tuple[pd.DatetimeIndex, Array]


def asks_to_dry(finding: Finding) -> bool:
    """Whether what is advised about a finding may be to dry the air."""
    return finding.level >= Level.WATCH and (finding.hazard == Hazard.MOULD or finding.mechanism in DAMP)


def canvas_days(exposure: Exposure, painting: Painting, start: pd.Timestamp, zone: str) -> Days:
    """Mean of the canvas's own lagged humidity in each local day up to the end of the period.

    Returns
    -------
    Ends of the days in UTC, (n,), and their means, (n,), NaN where under half of a day's hours are known: not read,
    of an intended stay or its drying after, or left open by a gap by more than 1 %. [% RH]
    """
    seen = _course(exposure, painting, start)
    sure = np.where(~seen.drying & (seen.lagged.doubt <= NEAR), seen.canvas_percent, np.nan)
    until = int(seen.time.searchsorted(seen.end))
    days = pd.Series(sure[:until]).groupby(local_days(seen.time[:until], zone))
    means = days.mean().where(days.count() >= HALF_A_DAY_H)
    means = means.asfreq("D") if len(means) else means  # days of a gap are there, and not known
    return day_begins(pd.DatetimeIndex(means.index) + DAY, zone).tz_convert("UTC"), np.asarray(means, np.float64)


def _course(exposure: Exposure, painting: Painting, start: pd.Timestamp) -> CanvasCourse:
    canvas = canvas_of(painting)
    return exposure.once(("course", canvas, start), lambda: course(exposure, canvas, start))


def dampness(
    exposure: Exposure, painting: Painting, start: pd.Timestamp, zone: str, materials: Materials | None = None
) -> Dampness | None:
    """How damp the canvas is and what it is brought back to; by the packaged materials where none are given.

    Returns
    -------
    None where no day of the period is known of the canvas, or the last that is lies under the limits of damp of all
    its layers and within 10 % of what it is used to, or at the goal or under it. The goal is the humidity it was
    lined at, in the first year after, else its mean before the damp began, of 90 days at least; but under the limits,
    and not under 45 % (our judgement).
    """
    ends, percent = canvas_days(exposure, painting, start, zone)
    known = np.flatnonzero(np.isfinite(percent) & np.asarray(ends > start))
    if not len(known):
        return None
    now, last = float(percent[known[-1]]), known[-1]
    limit, what = _watched_from(links(painting, exposure, start, profiles(materials)), exposure.end)
    usual, used_to = _used_to(_course(exposure, painting, start), ends, percent, limit)
    if now < limit and not now > usual + fig.BAND_LEAST:
        return None
    goal, words = usual, used_to
    if not usual < limit:
        goal, words = ceil(limit) - 1.0, f"under the {limit:g} % from which the {what} is watched"
    if goal < fig.BACK_NO_LOWER_RH:
        goal, words = float(fig.BACK_NO_LOWER_RH), f"no lower, though {words}"
    goal = float(round(goal))
    if now <= goal:
        return None
    return Dampness(now, ends[last], goal, words, _long_damp(percent[: last + 1], goal))


def _watched_from(layers: Iterable[BondedLayer], until: pd.Timestamp) -> tuple[float, str]:
    """The lowest limit of damp among its layers and of mould, and whose it is. [% RH]"""
    end = until - pd.Timedelta(hours=1)
    found = [(float(WEEK_MEAN_WATCH), "growth of mould")]
    for link in layers:
        watch, first = link.profile.damp_percent.watch, link.profile.first_weeks.damp_watch_percent
        fresh = span_end(link.fresh, end) is not None
        found += [(float(step), link.name) for step in (watch, first if fresh else None) if step is not None]
    return min(found)


def _used_to(seen: CanvasCourse, ends: pd.DatetimeIndex, percent: Array, limit: float) -> tuple[float, str]:
    """What the canvas is used to, and in words; infinite where that is not known. [% RH]"""
    lined = seen.canvas.lined_on
    if lined is not None and lined < seen.end < lined + DAY * float(fig.FIRST_YEAR_DAYS):
        at = humidity_at(seen, lined)
        if np.isfinite(at):
            return at, f"the {at:.0f} % it was lined at"
    calm = np.flatnonzero(percent < limit)
    before = percent[: calm[-1] + 1 if len(calm) else 0]
    after = np.asarray(ends[: len(before)] > lined) if lined is not None else np.ones(len(before), bool)
    before = before[np.isfinite(before) & after]
    if len(before) < fig.BAND_PROVISIONAL_DAYS:
        return float("inf"), ""
    mean = float(before.mean())
    return mean, f"the {mean:.0f} % of the time before the damp"


def _long_damp(percent: Array, goal: float) -> bool | None:
    """Whether two weeks of days over 70 % were had since the last one at the goal, within a year; None: not known."""
    at_goal = np.flatnonzero(percent <= goal + NEAR)
    first = max(at_goal[-1] + 1 if len(at_goal) else 0, len(percent) - LOOKS_BACK_DAYS)
    since = percent[first:]
    before = 0 if len(at_goal) else LOOKS_BACK_DAYS - len(since)  # days before the record
    unknown, damp = int(np.isnan(since).sum()) + before, int((since > fig.LONG_DAMP_RH).sum())
    if damp >= fig.LONG_DAMP_DAYS:
        return True
    return None if damp + unknown >= fig.LONG_DAMP_DAYS else False


__all__ = ["asks_to_dry", "canvas_days", "dampness"]
