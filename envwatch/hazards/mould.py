"""Mould: the growth index of Hukka and Viitanen with sensitivity classes, on the air at each surface.

The index was fitted to wood and is 0 for ever below 80 %, where mould that loves dry places grows on paint all the
same; so it never stands alone: `assess` sets the damp clock and the 30-day mean beside it. Temperature and humidity
are those of the air at the surface. No model here was calibrated on a lined canvas, and none inspects it.

Decided where publications leave it open: growth begins at the critical humidity, not above it; the critical humidity
is nowhere less than the class's least; an index above the highest that the present air allows stays where it is; in
frost and in a gap the index and the clock of the dry spell stand still; one favourable hour ends a dry spell.
"""

from __future__ import annotations

from math import exp, expm1, log, log1p

import numpy as np
import pandas as pd

from envwatch import air, climate
from envwatch.figures import mould as fig
from envwatch.figures.coverage import CLEAR_NEEDS
from envwatch.hazards import damp_clock
from envwatch.hazards.grading import clear_only_if_seen, grade
from envwatch.hazards.mould_class import Susceptibility, denies_mould, susceptibility
from envwatch.hazards.mould_words import FETCH, layer_at, on_layer, part_of_month
from envwatch.hazards.surfaces import Surface, surfaces, worst_of
from envwatch.records import WALL_FACE, Certainty, Exposure, Finding, Level, Painting

_SLOWS = float(fig.SLOWS_NEAR_HIGHEST)  # a plain float: the growth step runs once a reading


def sensitivity_class(sensitivity: str) -> fig.MouldClass:
    """The figures of a class by its words.

    Raises
    ------
    ValueError : none of "very sensitive", "sensitive", "medium resistant", "resistant".
    """
    if sensitivity not in fig.CLASSES:
        raise ValueError(f"sensitivity {sensitivity!r}; give one of {', '.join(fig.CLASSES)}")
    return fig.CLASSES[sensitivity]


def critical_rh(temp_c, sensitivity: str = "sensitive") -> np.ndarray:
    """Least humidity at which mould grows: a cubic up to 20 °C, and nowhere less than the class's least.

    Array-like [°C] -> same shape [% RH]; NaN for NaN. Source: Hukka & Viitanen 1999; classes Ojanen et al. 2010.

    >>> critical_rh([5.0, 15.0, 25.0]).round(2).tolist()
    [88.02, 80.04, 80.0]
    """
    temp = np.asarray(temp_c, float)
    least = float(sensitivity_class(sensitivity).least_rh)
    cubic = np.maximum(np.polyval([float(c) for c in fig.CRITICAL_CUBIC], temp), least)
    return np.where(np.isnan(temp), np.nan, np.where(temp > fig.CUBIC_TO_C, least, cubic))


def weeks_to_start(temp_c, rh_percent) -> np.ndarray:
    """Weeks of constant air in which untreated softwood goes from index 0 to 1.

    Array-like [°C], [% RH] -> broadcast shape [weeks]; NaN for NaN and at or below 0 °C. Source: Hukka & Viitanen 1999.

    >>> round(float(weeks_to_start(20.0, 90.0)), 3)
    4.202
    """
    temp = np.asarray(temp_c, float)
    temp = np.where(temp > fig.GROWTH_OVER_C, temp, np.nan)
    with np.errstate(divide="ignore"):
        humid = fig.WEEKS_LN_RH * np.log(np.asarray(rh_percent, float))
    return np.exp(fig.WEEKS_LN_TEMP * np.log(temp) + humid + fig.WEEKS_CONSTANT)


def highest_index(temp_c, rh_percent, sensitivity: str = "sensitive") -> np.ndarray:
    """The index that constant air can reach in the end; 0 below the critical humidity.

    Array-like [°C], [% RH] -> broadcast shape [index]; NaN for NaN. Source: Ojanen et al. 2010.

    >>> float(highest_index(22.0, 90.0, "very sensitive").round(4)), float(highest_index(22.0, 100.0).round(4))
    (4.0, 5.3)
    """
    kind, critical = sensitivity_class(sensitivity), critical_rh(temp_c, sensitivity)
    above = np.asarray(rh_percent, float) - critical
    room = np.maximum(100 - critical, 1e-9)  # at freezing the critical humidity is 100 %
    x = np.clip(above / room, 0, 1)
    top = np.maximum(kind.highest_a + kind.highest_b * x - kind.highest_c * x**2, 0)
    return np.where(above < 0, 0.0, top)


def mould_index(
    temp_c, rh_percent, hours, sensitivity: str = "sensitive", decline=fig.DECLINE_DEFAULT, start=0.0
) -> np.ndarray:
    """Mould growth index (0 to 6) at the end of each step, exact for air that is constant within a step.

    Growth is integrated in closed form, through the change of speed at index 1, and decline by its integral, so the
    result does not depend on how a stretch of constant air is cut into steps, regular or not.

    Parameters
    ----------
    temp_c, rh_percent : (..., n) air at the surface, time on the last axis; broadcast together. [°C], [% RH]
    hours : scalar, (n,) or (..., n), the time each reading stands for. [h]
    sensitivity : "very sensitive", "sensitive", "medium resistant" or "resistant".
    decline : share of the decline seen on pine, 0 to 1, or in words: "as pine" (1), "significant" (0.5),
        "relatively low" (0.25), "almost none" (0.1). A property of its own, not tied to the sensitivity.
    start : scalar or (...), index before the first step, 0 to 6.

    Returns
    -------
    (..., n). NaN at a step that was not read; the state is held across it. Humidity of 100 to 105 % counts as 100,
    outside 0 to 105 % as not read. At or below 0 °C nothing grows and nothing declines.

    Raises
    ------
    ValueError : nothing was read at all; humidity given as a fraction (all of it at most 1); an unknown class or
        decline; a negative step; a start outside 0 to 6.

    Source: Hukka & Viitanen 1999; sensitivity and decline classes Ojanen et al. 2010.

    >>> days = mould_index(np.full(1440, 20.0), np.full(1440, 90.0), 1.0, "very sensitive")
    >>> days[[719, 1439]].round(3).tolist()
    [1.039, 3.029]
    """
    temp, rh, hours = np.broadcast_arrays(*(np.asarray(a, float) for a in (temp_c, rh_percent, hours)))
    if not temp.ndim:
        return mould_index([temp], [rh], [hours], sensitivity, decline, start)[0]
    _refuse(temp, rh, hours, start)
    if not temp.size:
        return np.zeros(temp.shape)
    rh = air.usable_rh(rh)
    read = np.isfinite(temp) & np.isfinite(rh) & np.isfinite(hours)
    wet = read & (temp > fig.GROWTH_OVER_C) & (temp <= fig.GROWTH_TO_C) & (rh >= critical_rh(temp, sensitivity))
    lost = decline_coefficient(decline) * _declines(wet, read & ~wet & (temp > fig.GROWTH_OVER_C), hours)
    held = np.empty(temp.shape)
    starts = np.broadcast_to(np.asarray(start, float), temp.shape[:-1])
    for row in np.ndindex(temp.shape[:-1]):
        grows = _growth_steps(temp[row][wet[row]], rh[row][wet[row]], hours[row][wet[row]], sensitivity)
        held[row] = _course(float(starts[row]), wet[row], lost[row], grows)
    return np.where(read, held, np.nan)


def mould_index_range(
    temp_c, rh_percent, sensitivity: str = "sensitive", decline=fig.DECLINE_DEFAULT, start: float = 0.0
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The index with what the gaps leave open: (lowest, held, highest), each (n,), on hourly air.

    In a gap the air is taken as dry for the lowest, and for the highest as in the dampest week on record. The lowest
    and the highest are given in the gaps too; `held` is NaN there.
    """
    temp, rh = np.asarray(temp_c, float), air.usable_rh(rh_percent)
    gap = ~(np.isfinite(temp) & np.isfinite(rh))
    held = mould_index(temp, rh, 1.0, sensitivity, decline, start)
    if not gap.any():
        return held, held, held
    window = int(min(fig.GAP_TAKES_H, len(rh)))
    damp = climate.running_mean(rh, window)
    last = int(np.nanargmax(damp)) if np.isfinite(damp).any() else len(rh) - 1
    week = slice(max(last - window + 1, 0), last + 1)
    usual_c, damp_rh = np.nanmean(temp[week]), np.nanmean(rh[week])
    low = mould_index(np.where(gap, usual_c, temp), np.where(gap, 0.0, rh), 1.0, sensitivity, decline, start)
    high = mould_index(np.where(gap, usual_c, temp), np.where(gap, damp_rh, rh), 1.0, sensitivity, decline, start)
    return low, held, high


def decline_coefficient(decline) -> float:
    """Share of the decline on pine, from a number or from its words.

    Raises
    ------
    ValueError : other words, or a number outside 0 to 1.
    """
    if isinstance(decline, str):
        if decline not in fig.DECLINES:
            raise ValueError(f"decline {decline!r}; give 0 to 1 or one of {', '.join(fig.DECLINES)}")
        return float(fig.DECLINES[decline])
    if not 0 <= decline <= 1:
        raise ValueError(f"decline {decline}; give 0 (none) to 1 (as on pine)")
    return float(decline)


def _refuse(temp, rh, hours, start) -> None:
    if not temp.size:
        return
    known = rh[np.isfinite(rh)]
    if not known.size or not np.isfinite(temp).any():
        raise ValueError("no reading at all: temperature and humidity are both needed")
    if known.max() <= 1 and known.any():
        raise ValueError(f"humidity is at most {known.max():g}: give percent (0 to 100), not a fraction")
    if np.nanmin(hours) < 0:
        raise ValueError(f"a step of {np.nanmin(hours):g} hours; give 0 or more")
    if not (np.all(np.asarray(start) >= 0) and np.all(np.asarray(start) <= fig.INDEX_TOP)):
        raise ValueError(f"start {start}; the index runs from 0 to 6")


def _declines(wet, dry, hours) -> np.ndarray:
    """Decline on pine in each step: the difference of the integral over the dry spell. (..., n) -> (..., n)"""
    run = np.cumsum(np.where(dry, hours, 0.0), axis=-1)
    at_wet = np.maximum.accumulate(np.where(wet, run, 0.0), axis=-1)
    after = run - at_wet
    before = after - np.where(dry, hours, 0.0)
    return np.where(dry, _declined(after) - _declined(before), 0.0)


def _declined(dry_h) -> np.ndarray:
    """Decline on pine since a dry spell began: quick at first, a pause, then slow."""
    early = fig.DECLINE_EARLY * np.minimum(dry_h, fig.DECLINE_EARLY_H)
    return early + fig.DECLINE_LATE * np.maximum(dry_h - fig.DECLINE_LATE_FROM_H, 0)


def _growth_steps(temp, rh, hours, sensitivity: str):
    """For each favourable step: the index it tends to, and the exponents of growth below and from index 1."""
    kind = sensitivity_class(sensitivity)
    speed = fig.SLOWS_NEAR_HIGHEST * hours / (168 * weeks_to_start(temp, rh))
    top = highest_index(temp, rh, sensitivity)
    return zip(top.tolist(), (speed * kind.speed_below_1).tolist(), (speed * kind.speed_from_1).tolist(), strict=True)


def _course(index: float, wet, lost, grows) -> list[float]:
    """The index after each step."""
    out = []
    for favourable, loss in zip(wet.tolist(), lost.tolist(), strict=True):
        if favourable:
            index = _grown(index, *next(grows))
        elif loss:
            index = index - loss if index > loss else 0.0
        out.append(index)
    return out


def _grown(index: float, top: float, below_1: float, from_1: float) -> float:
    """One favourable step of dM/dt = k (1 - exp(2.3 (M - top))), solved: exp(2.3 (top - M)) - 1 dies away."""
    if index >= top:
        return index
    distance = expm1(_SLOWS * (top - index))
    exponent = from_1
    if index < 1:
        at_1 = log(distance / expm1(_SLOWS * (top - 1))) if top > 1 else below_1
        if at_1 >= below_1:
            exponent = below_1
        else:  # index 1 is passed within the step: the rest of it runs at the other speed
            distance, exponent = expm1(_SLOWS * (top - 1)), from_1 * (1 - at_1 / below_1)
    return top - log1p(distance * exp(-exponent)) / _SLOWS


# ------------------------------------------------------------------------------------------------- findings


def assess(exposure: Exposure, painting: Painting | None, start: pd.Timestamp) -> list[Finding]:
    """Damp hours, growth index and 30-day mean, each at the worst of the known surfaces, over [start, exposure.end).

    What came before `start` carries the index and fills the clock's own windows. Where no humidity was read at all,
    each is UNKNOWN.
    """
    weak = susceptibility(painting, exposure.end)
    seen = surfaces(exposure, start)
    if not seen:
        return [_nothing_read(weak, mechanism) for mechanism in ("damp hours", "growth index", "30-day mean")]
    return [
        worst_of(seen, lambda surface: damp_clock.clock_finding(surface, weak)),
        worst_of(seen, lambda surface: index_finding(surface, weak, painting)),
        worst_of(seen, lambda surface: damp_clock.month_finding(surface, weak)),
    ]


def _nothing_read(weak: Susceptibility, mechanism: str) -> Finding:
    return Finding(
        "mould", mechanism, weak.layer, "room", Level.UNKNOWN,
        "No humidity was read where this painting was: nothing is known of mould.", coverage=0.0, do=FETCH,
    )  # fmt: skip


def index_finding(surface: Surface, weak: Susceptibility, painting: Painting | None) -> Finding:
    """The growth index at one surface: its highest value in the judged period, and where its course leads.

    An index that did not grow in the period asks for one level less, and for nothing once somebody has looked since.
    """
    kind = sensitivity_at(surface, weak)
    low, held, high = mould_index_range(surface.temp_c, surface.rh_percent, kind, start=weak.start)
    judged = held[surface.first :]
    if not np.isfinite(judged).any():
        return _index_unseen(surface, weak, "Nothing was read in the period")
    top = int(np.nanargmax(judged))
    value, grew = float(judged[top]), _grew(held, surface.first, weak.start)
    level = _index_level(value, grew, weak.start, _looked_since(painting, surface, held))
    drier, damper = (_highest_if(surface, kind, weak.start, shift * surface.bias_percent) for shift in (-1, 1))
    finding = Finding(
        "mould", "growth index", layer_at(surface, weak), surface.point, level,
        _index_sentence(surface, weak, kind, held, value, grew, level),
        value=value, uncertainty=(damper - drier) / 2, limit=_limit_for(value), unit="index 0 to 6",
        hours=float(_favourable(surface, kind)[surface.first :].sum()), since=_since(surface, held, value),
        worst_at=surface.time[surface.first + top],
        certainty=_index_certainty(value, drier, damper),
        working=_index_working(surface, weak, kind, (low, held, high), (drier, damper)),
        **damp_clock.raised(level, surface.end, "an index that no longer grows, and nothing found on looking"),
    )  # fmt: skip
    if _index_grade(value) is Level.CLEAR and _index_grade(float(high[surface.first :].max())) > Level.CLEAR:
        return _index_unseen(surface, weak, f"The gaps leave the index open, up to {high[surface.first :].max():.1f}")
    return clear_only_if_seen(
        finding,
        surface.coverage,
        f"Only {surface.coverage:.0%} of the period was read {surface.where}: growth is not known.",
    )


def sensitivity_at(surface: Surface, weak: Susceptibility) -> str:
    """The class at a surface: the painting's own, or that of a papered or painted wall."""
    return fig.WALL_SENSITIVITY if surface.point == WALL_FACE else weak.sensitivity


def _index_grade(value: float) -> Level:
    return grade(value, fig.INDEX_WATCH, fig.INDEX_ACT, fig.INDEX_URGENT)


def _limit_for(value: float) -> fig.Figure:
    """The highest limit reached, or the first one."""
    limits = (fig.INDEX_WATCH, fig.INDEX_ACT, fig.INDEX_URGENT)
    return max((limit for limit in limits if value >= limit), default=fig.INDEX_WATCH)


def _index_level(value: float, grew: bool, start: float, looked: bool) -> Level:
    level = _index_grade(value)
    if grew or level is Level.CLEAR:
        return level
    if looked or value <= start:
        return Level.CLEAR
    return {Level.URGENT: Level.ACT, Level.ACT: Level.WATCH}.get(level, Level.CLEAR)


def _index_certainty(value: float, drier: float, damper: float) -> Certainty:
    same = len({_index_grade(v) for v in (value, drier, damper)}) == 1
    return Certainty.CERTAIN if same else Certainty.CANNOT_TELL


def _grew(held: np.ndarray, first: int, start: float) -> bool:
    before = held[:first][np.isfinite(held[:first])]
    return bool(np.nanmax(held[first:]) - (before[-1] if len(before) else start) > fig.INDEX_GREW)


def _looked_since(painting: Painting | None, surface: Surface, held: np.ndarray) -> bool:
    """Whether somebody looked, and saw none, after the index was highest."""
    peak = surface.time[int(np.nanargmax(held))]
    seen = painting.observations if painting else ()
    return any(denies_mould(o) and peak <= o.on <= surface.end for o in seen)


def _highest_if(surface: Surface, kind: str, start: float, shift_percent: float) -> float:
    rh = np.clip(surface.rh_percent + shift_percent, 0, 100)
    return float(np.nanmax(mould_index(surface.temp_c, rh, 1.0, kind, start=start)[surface.first :]))


def _favourable(surface: Surface, kind: str) -> np.ndarray:
    warm = (surface.temp_c > fig.GROWTH_OVER_C) & (surface.temp_c <= fig.GROWTH_TO_C)
    return warm & (surface.rh_percent >= critical_rh(surface.temp_c, kind))


def _since(surface: Surface, held: np.ndarray, value: float) -> pd.Timestamp | None:
    """When the index first passed the limit it now stands over."""
    passed = np.flatnonzero(np.nan_to_num(held) >= _limit_for(value))
    return surface.time[passed[0]] if value >= fig.INDEX_WATCH and len(passed) else None


def _index_sentence(surface, weak, kind, held, value, grew, level) -> str:
    said = f"Growth index {value:.2f} of 6 {surface.where}"
    if level is Level.CLEAR and value < fig.INDEX_WATCH:
        hours = int(_favourable(surface, kind)[surface.first :].sum())
        return f"{said}; {hours} h favoured growth. Under 80 % RH the index says nothing: the damp hours do."
    if not grew:
        reached = surface.day(surface.time[int(np.nanargmax(held))])
        before = " (mould was seen before)" if weak.start else ""
        return f"{said}{before}, highest on {reached}; no growth in this period."
    if value < fig.INDEX_MICROSCOPIC:
        stage = "nearing growth that a microscope would show"
    else:
        seen_by = "visible growth" if value >= fig.INDEX_VISIBLE else "growth that a microscope would show"
        stage = f"{seen_by} has become possible"
    course = foretold(surface, kind, float(held[np.isfinite(held)][-1]))
    return f"{said} and growing: {stage} {on_layer(surface, weak)}.{course}"


def foretold(surface: Surface, kind: str, index: float) -> str:
    """Where the index leads if the air goes on as in the last four weeks: a dated sentence, or ""."""
    hours = int(fig.COURSE_H)
    temp, rh = surface.temp_c[-hours:], surface.rh_percent[-hours:]
    if index >= fig.INDEX_VISIBLE or surface.read[-hours:].sum() < CLEAR_NEEDS * hours:
        return ""
    rounds = int(fig.COURSE_UP_TO_H // hours)
    ahead = mould_index(np.tile(temp, rounds), np.tile(rh, rounds), 1.0, kind, start=index)
    visible = np.flatnonzero(np.nan_to_num(ahead) >= fig.INDEX_VISIBLE)
    if not len(visible):
        return " If the air stays as in the last four weeks, visible growth is not reached within two years."
    when = (surface.end + pd.Timedelta(hours=int(visible[0]))).tz_convert(surface.zone)
    return f" If the air stays as in the last four weeks, visible growth becomes possible {part_of_month(when)}."


def _index_working(surface, weak, kind, course, shifted) -> tuple[tuple[str, str], ...]:
    low, held, high = (run[surface.first :] for run in course)
    excess = (surface.rh_percent - critical_rh(surface.temp_c, kind))[surface.first :]
    at = surface.first + int(np.nanargmax(excess))
    milder = mould_index(surface.temp_c, surface.rh_percent, 1.0, kind, "significant", weak.start)[surface.first :]
    return (
        ("class", f"{kind}: {weak.why}" if surface.point != WALL_FACE else f"{kind}: papered or painted wall, assumed"),
        *equation(surface.temp_c[at], surface.rh_percent[at], kind, float(np.nan_to_num(index_before(course[1], at)))),
        ("course", f"from {weak.start:g} on {surface.day(surface.time[0])}; highest in period {np.nanmax(held):.3f}"),
        ("gaps", f"if dry in the gaps {low.max():.3f}, if as damp as the dampest week {high.max():.3f}"),
        ("decline", f"almost none (0.1); if significant (0.5), highest {np.nanmax(milder):.3f}"),
        ("sensor", f"humidity {-surface.bias_percent:+.1f} %: {shifted[0]:.3f}; "
                   f"{surface.bias_percent:+.1f} %: {shifted[1]:.3f}"),
        ("trust", "fitted to wood, not to lined canvas; it favours or does not favour mould, it does not inspect"),
    )  # fmt: skip


def index_before(held: np.ndarray, at: int) -> float:
    """The index before an hour: that of the last hour read."""
    before = held[:at][np.isfinite(held[:at])]
    return float(before[-1]) if len(before) else 0.0


def equation(temp_c: float, rh_percent: float, sensitivity: str, index: float) -> tuple[tuple[str, str], ...]:
    """The growth equation with the numbers of one hour put in, so that it can be done again by hand."""
    kind, critical = sensitivity_class(sensitivity), float(critical_rh(temp_c, sensitivity))
    limit = (
        "critical humidity",
        f"at {temp_c:.2f} °C, cubic not under {kind.least_rh:g}: {critical:.2f} %; that hour {rh_percent:.2f} %",
    )
    if not (rh_percent >= critical and fig.GROWTH_OVER_C < temp_c <= fig.GROWTH_TO_C):
        return (limit, ("growth", "none in the dampest hour of the period"))
    weeks, top = float(weeks_to_start(temp_c, rh_percent)), float(highest_index(temp_c, rh_percent, sensitivity))
    speed = kind.speed_below_1 if index < 1 else kind.speed_from_1
    slow = max(1 - exp(_SLOWS * (index - top)), 0.0)
    return (
        limit,
        ("weeks to index 1", f"exp(-0.68 ln {temp_c:.2f} - 13.9 ln {rh_percent:.2f} + 66.02) = {weeks:.3f}"),
        ("highest index", f"x = {(critical - rh_percent) / (critical - 100):.4f}; {kind.highest_a:g} + "
                          f"{kind.highest_b:g} x - {kind.highest_c:g} x² = {top:.3f}"),
        ("growth", f"{speed:g} (1 - exp(2.3 ({index:.3f} - {top:.3f}))) / (168 x {weeks:.3f}) = "
                   f"{speed * slow / (168 * weeks):.3e} per hour"),
    )  # fmt: skip


def _index_unseen(surface: Surface, weak: Susceptibility, why: str) -> Finding:
    return Finding(
        "mould", "growth index", layer_at(surface, weak), surface.point, Level.UNKNOWN,
        f"{why} {surface.where}: whether mould could grow is not known.", limit=fig.INDEX_WATCH, unit="index 0 to 6",
        coverage=surface.coverage, do=FETCH,
    )  # fmt: skip
