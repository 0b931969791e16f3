"""Mould on a painting: damp hours, the growth index and the 30-day mean, on the air at each surface.

No model here was calibrated on a lined canvas, and none inspects it. The array functions of the index are in `index`,
its finding in `growth`, the damp hours in `clock`. Here are the 30-day mean and the calendar month: rules for
buildings, the first withdrawn since.
"""

from __future__ import annotations

from collections.abc import Hashable
from functools import partial

import numpy as np
import pandas as pd

from envwatch import air, climate
from envwatch.climate.exposure import Exposure
from envwatch.core.arrays import Array, ArrayLike, Mask
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism
from envwatch.core.painting import Painting
from envwatch.core.place import Point
from envwatch.figures import mould as fig
from envwatch.figures.materials import Materials
from envwatch.hazards.grading import certainty, concluded, constants, day_means, what_would_change
from envwatch.hazards.hourly import HOUR
from envwatch.hazards.mould.clock import DampAir, Taken, clock_finding
from envwatch.hazards.mould.growth import index_finding, mould_index_range
from envwatch.hazards.mould.index import (
    critical_rh,
    decline_coefficient,
    equation,
    highest_index,
    mould_index,
    sensitivity_class,
    weeks_to_start,
)
from envwatch.hazards.mould.surfaces import (
    FETCH,
    Surface,
    denies_mould,
    raised,
    run_start,
    surfaces,
    susceptibility,
    worst_of,
)

TWO_MONTHS_H = 2 * 31 * 24 + 2  # and a clock set back


def assess(
    exposure: Exposure, painting: Painting | None, start: pd.Timestamp, materials: Materials | None = None
) -> list[Finding]:
    """Damp hours, growth index and 30-day mean, each at the worst of the known surfaces, over [start, exposure.end).

    What came before `start` carries the index and fills the clock's own windows. Where no humidity was read at all,
    each is UNKNOWN. `materials`: the profiles in force; by default the packaged ones.
    """
    weak = susceptibility(painting, exposure.end, materials)
    looked = tuple(seen for seen in painting.observations if denies_mould(seen)) if painting else ()
    held: dict[Hashable, list[Finding]] = exposure.once(Hazard.MOULD, dict)
    key = weak, looked, start
    if key in held:
        return list(held[key])
    seen = surfaces(exposure, start, weak)
    if seen:
        held[key] = [
            worst_of(seen, clock_finding),
            worst_of(seen, partial(index_finding, looked=looked)),
            worst_of(seen, month_finding),
        ]
    else:
        held[key] = [
            Finding(
                Hazard.MOULD, mechanism, weak.layer, Point.ROOM, Level.UNKNOWN,
                "No humidity was read where this painting was: nothing is known of mould.", coverage=0.0, do=FETCH,
                certainty=Certainty.CANNOT_TELL,
            ) for mechanism in (Mechanism.DAMP_HOURS, Mechanism.GROWTH_INDEX, Mechanism.DAMP_MONTH)
        ]  # fmt: skip
    return list(held[key])


def month_mean(temp_c: ArrayLike, rh_percent: ArrayLike) -> tuple[Array, Mask]:
    """Trailing 30-day means of hourly air, and whether the 30-day rule is broken.

    Parameters
    ----------
    temp_c, rh_percent : (..., n) regular hourly means, time on the last axis; broadcast together. [°C], [% RH]

    Returns
    -------
    (..., n) mean humidity, NaN until 30 days have passed and where more than a tenth of them is missing; (..., n) true
    where the rule is broken: 80 % or more while the mean temperature is 5 to 40 °C. Nothing unknown is broken.

    Source: ASHRAE Standard 160-2009, criterion of the 30-day running mean; withdrawn by the edition of 2016.

    >>> mean, broken = month_mean([20.0] * 721, [80.0] * 721)
    >>> int(broken.sum()), bool(mean[718] == mean[718]), round(float(mean[720]), 6)
    (2, False, 80.0)
    """
    temp_c, rh_percent = np.broadcast_arrays(np.asarray(temp_c, np.float64), air.usable_rh(rh_percent))
    mean_c = climate.running_mean(temp_c, int(fig.MONTH_H), fig.MONTH_NEEDS)
    mean_rh = climate.running_mean(rh_percent, int(fig.MONTH_H), fig.MONTH_NEEDS)
    rounding = 1e-9  # a running sum of equal readings is not quite their number times the reading
    mild = (mean_c >= fig.MONTH_MEAN_FROM_C) & (mean_c <= fig.MONTH_MEAN_TO_C)
    return np.where(np.isnan(mean_c), np.nan, mean_rh), mild & (mean_rh >= fig.MONTH_MEAN_RH - rounding)


def calendar_months(time: pd.DatetimeIndex, temp_c: ArrayLike, rh_percent: ArrayLike, zone: str) -> dict[str, float]:
    """Monthly humidity from the month's mean vapour pressure and mean temperature, whole months only.

    Hourly (n,) arrays, months of the place's zone -> {"2026-11": humidity [% RH]}; NaN where under nine tenths of it
    were read.

    Source: ISO 13788, clause 5.3, which allows 80 % at the surface.
    """
    if not len(time):
        return {}
    first, last = (time[row].tz_convert(zone) for row in (0, -1))
    numbers = range(first.year * 12 + first.month - 1, last.year * 12 + last.month + 1)  # and the month after the last
    edges = [pd.Timestamp(year=number // 12, month=number % 12 + 1, day=1, tz=zone) for number in numbers]
    rows, found = time.searchsorted(edges).tolist(), {}
    temp, vapour = np.asarray(temp_c, np.float64), air.vapour_pressure(temp_c, rh_percent)
    for begin, end, row, stop in zip(edges, edges[1:], rows, rows[1:], strict=False):
        if begin < time[0] or end > time[-1] + HOUR:
            continue
        read = np.isfinite(vapour[row:stop])
        enough = read.sum() >= fig.MONTH_NEEDS * ((end - begin) / HOUR)
        mean_c, mean_pa = (x[row:stop][read].mean() if enough else np.nan for x in (temp, vapour))
        found[f"{begin:%Y-%m}"] = float(100 * mean_pa / air.saturation_pressure(mean_c))
    return found


def month_finding(surface: Surface) -> Finding:
    """The 30-day rule and the calendar month at one surface."""
    mean, whole = month_mean(surface.temp_c, surface.rh_percent)
    rows = surface.judged_rows(fig.MONTH_H)
    mean = np.where(surface.read, mean, np.nan)
    told = surface.told_rows(fig.MONTH_H, mean, (mean >= fig.MONTH_MEAN_RH).astype(int))
    mean = np.where(told, mean, np.nan)[rows]
    broken = (whole & ~surface.in_stay)[rows] & np.isfinite(mean)
    if not np.isfinite(mean).any():
        return _month_unknown(surface)
    counts = np.where(broken, mean, -np.inf) if broken.any() else mean
    top = int(np.nanargmax(counts))
    months, damp_months = _months(surface, surface.temp_c, surface.rh_percent)
    level = Level.ACT if broken.any() or damp_months else Level.CLEAR
    most = level if level else _most(surface)
    since = surface.time[run_start(whole, rows.start + int(np.argmax(broken)))] if broken.any() else None
    bias = surface.bias_percent(surface.sensor)
    finding = Finding(
        Hazard.MOULD, Mechanism.DAMP_MONTH, surface.layer, surface.point, level,
        _month_sentence(surface, float(mean[top]), since, damp_months, most),
        value=float(mean[top]), uncertainty=bias, limit=fig.MONTH_MEAN_RH, unit="% RH, 30-day mean",
        since=since, worst_at=surface.time[rows.start + top],
        level_high=most,
        certainty=Certainty.CANNOT_TELL if most > level else certainty(float(mean[top]), bias, fig.MONTH_MEAN_RH),
        confidence=fig.MONTH_MEAN_RH.confidence, source=fig.MONTH_MEAN_RH.source,
        working=_month_working(surface, float(mean[top]), rows.start + top, months),
        **raised(level, surface.end, "a 30-day mean under 80 %"),
    )  # fmt: skip
    day = climate.running_mean(surface.whole.rh_percent, 24)
    return concluded(
        finding, surface.period.coverage, surface.partly_read("the 30-day mean"), surface.whole.time,
        day >= fig.MONTH_MEAN_RH, surface.whole.read,
    )  # fmt: skip


def _most(surface: Surface) -> Level:
    """The level with what was not read as damp and as warm as it was about it."""
    if surface.whole.read.all():
        return Level.CLEAR
    taken = DampAir.of(surface, 0, Taken.DAMP, before=False)
    rh = np.where(surface.whole.in_stay, surface.whole.rh_percent, taken.rh_percent)
    mean, broken = month_mean(taken.temp_c, rh)
    free = np.where(broken & ~surface.whole.in_stay, mean, np.nan)
    over = surface.whole.worst(free, fig.MONTH_H, (fig.MONTH_MEAN_RH,))[1] >= 0
    now = slice(len(surface.time))
    damp_months = _months(surface, taken.temp_c[now], rh[now])[1]
    return Level.ACT if over or damp_months else Level.CLEAR


def _months(surface: Surface, temp_c: Array, rh_percent: Array) -> tuple[dict[str, float], list[str]]:
    """Calendar months from the one before the period on, and those over the limit that ended in it, not intended."""
    rows, zone = slice(max(surface.first - TWO_MONTHS_H, 0), None), surface.exposure.zone
    begin = surface.time[min(surface.first, len(surface.time) - 1)].tz_convert(zone)
    whole = calendar_months(surface.time[rows], temp_c[rows], rh_percent[rows], zone)
    months = {name: rh for name, rh in whole.items() if name >= f"{begin - pd.DateOffset(months=1):%Y-%m}"}
    intended = surface.in_stay[surface.first :].all()
    over = [name for name, rh in months.items() if rh > fig.CALENDAR_MONTH_RH and name >= f"{begin:%Y-%m}"]
    return months, [] if intended else over


def _month_sentence(
    surface: Surface, value: float, since: pd.Timestamp | None, damp_months: list[str], most: Level
) -> str:
    if since is None and damp_months:
        return (
            f"In {', '.join(damp_months)} the month's vapour at its mean temperature came to over 80 % RH "
            f"{surface.where}: the rule made against mould in buildings is broken."
        )
    if since is None:
        open_ = " What was not read leaves open whether it was kept." if most else ""
        return (
            f"30-day mean at most {value:.1f} % RH {surface.where}; a building rule of 2009, withdrawn since, allows "
            f"less than 80.{open_}"
        )
    return (
        f"30-day mean {value:.1f} % RH {surface.where}, 80 or more since {surface.date(since or surface.end)}: the "
        "rule made in 2009 against mould in buildings, withdrawn since, is broken."
    )


def _month_unknown(surface: Surface) -> Finding:
    when = surface.decidable_on(surface.read, int(fig.MONTH_H), fig.MONTH_NEEDS, int(np.argmax(surface.read)))
    return Finding(
        Hazard.MOULD, Mechanism.DAMP_MONTH, surface.layer, surface.point, Level.UNKNOWN,
        f"A 30-day mean {surface.where} can be formed from {surface.date(when)}, if nothing is missed until then.",
        limit=fig.MONTH_MEAN_RH, unit="% RH, 30-day mean", confidence=fig.MONTH_MEAN_RH.confidence,
        source=fig.MONTH_MEAN_RH.source, decidable_on=when, coverage=surface.period.coverage,
        certainty=Certainty.CANNOT_TELL,
    )  # fmt: skip


def _month_working(surface: Surface, value: float, at: int, months: dict[str, float]) -> tuple[tuple[str, str], ...]:
    dampest = sorted(months, key=lambda name: -np.nan_to_num(months[name]))[:3]
    return (
        *day_means(surface.rh_percent[: at + 1], int(fig.MONTH_H) // 24, "% RH"),
        ("30-day rule", f"mean of the last 720 h = {value:.2f} %, against 80 % while the mean is 5 to 40 °C"),
        (
            "a former rule",
            "its own standard withdrew it in 2016 and put an index of mould in its place; kept as a second opinion",
        ),
        *what_would_change(value, "% RH", (None, fig.MONTH_MEAN_RH)),
        *constants(
            ("30-day mean", fig.MONTH_MEAN_RH),
            ("calendar month", fig.CALENDAR_MONTH_RH),
            ("share that must be read", fig.MONTH_NEEDS),
        ),
        *(
            (f"month {name}", f"mean vapour at mean temperature = {months[name]:.1f} %, 80 allowed")
            for name in sorted(dampest)
        ),
    )


__all__ = [
    "assess", "calendar_months", "critical_rh", "decline_coefficient", "equation", "highest_index", "month_mean",
    "mould_index", "mould_index_range", "sensitivity_class", "weeks_to_start",
]  # fmt: skip
