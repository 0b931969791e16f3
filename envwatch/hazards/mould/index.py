"""The growth index of Hukka and Viitanen with sensitivity classes, as functions of arrays.

The index was fitted to wood and is 0 for ever below 80 %, where mould that loves dry places grows on paint all the
same; so it never stands alone. Temperature and humidity are those of the air at the surface.

Decided where publications leave it open: growth begins at the critical humidity, not above it; the critical humidity
is nowhere less than the class's least; an index above the highest that the present air allows stays where it is; in
frost and in a gap the index and the clock of the dry spell stand still; one favourable hour ends a dry spell.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import islice
from math import exp, expm1, log, log1p

import numpy as np

from envwatch import air
from envwatch.core.arrays import Array, ArrayLike, Mask
from envwatch.figures import mould as fig

_SLOWS = float(fig.SLOWS_NEAR_HIGHEST)  # a plain float: the growth step runs once a reading


def sensitivity_class(sensitivity: str) -> fig.MouldClass:
    """The figures of a class by its words.

    Raises
    ------
    ValueError : none of "very sensitive", "sensitive", "medium resistant", "resistant".
    """
    if not isinstance(sensitivity, str) or sensitivity not in fig.CLASSES:
        raise ValueError(f"sensitivity {sensitivity!r}; give one of {', '.join(fig.CLASSES)}")
    return fig.CLASSES[sensitivity]


def critical_rh(temp_c: ArrayLike, sensitivity: str = "sensitive") -> Array:
    """Least humidity at which mould grows: a cubic up to 20 °C, and nowhere less than the class's least.

    Parameters
    ----------
    temp_c : array-like, any shape. [°C]
    sensitivity : class in words, as in `mould_index`.

    Returns
    -------
    Same shape, NaN for NaN; over 100 below freezing, where nothing grows. To 1e-9, so that a humidity typed as the
    critical one is it. [% RH]

    Raises
    ------
    ValueError : an unknown class.

    Source: Hukka & Viitanen 1999; classes Ojanen et al. 2010.

    >>> critical_rh([5.0, 15.0, 25.0]).round(2).tolist()
    [88.02, 80.04, 80.0]
    """
    temp = np.asarray(temp_c, np.float64)
    least = float(sensitivity_class(sensitivity).least_rh)
    cubic = np.maximum(np.round(np.polyval([float(c) for c in fig.CRITICAL_CUBIC], temp), 9), least)
    return np.where(np.isnan(temp), np.nan, np.where(temp > fig.CUBIC_TO_C, least, cubic))


def weeks_to_start(temp_c: ArrayLike, rh_percent: ArrayLike) -> Array:
    """Weeks of constant air in which untreated softwood goes from index 0 to 1.

    The bare regression, at any humidity: whether anything grows at all is a matter of `critical_rh`.

    Parameters
    ----------
    temp_c, rh_percent : array-like, broadcast together. [°C], [% RH]

    Returns
    -------
    Broadcast shape. NaN for NaN, at or below 0 °C, and for humidity outside 0 to 105 %; 100 to 105 % counts as 100.
    [weeks]

    Source: Hukka & Viitanen 1999.

    >>> round(float(weeks_to_start(20.0, 90.0)), 3)
    4.202
    """
    temp = np.asarray(temp_c, np.float64)
    temp = np.where(temp > fig.GROWTH_OVER_C, temp, np.nan)
    with np.errstate(divide="ignore", over="ignore"):
        humid = fig.WEEKS_LN_RH * np.log(air.usable_rh(rh_percent))
        return np.exp(fig.WEEKS_LN_TEMP * np.log(temp) + humid + fig.WEEKS_CONSTANT)


def highest_index(temp_c: ArrayLike, rh_percent: ArrayLike, sensitivity: str = "sensitive") -> Array:
    """The index that constant air can reach in the end; 0 below the critical humidity.

    Parameters
    ----------
    temp_c, rh_percent : array-like, broadcast together. [°C], [% RH]
    sensitivity : class in words, as in `mould_index`.

    Returns
    -------
    Broadcast shape [index]. NaN for NaN and for humidity outside 0 to 105 %; 100 to 105 % counts as 100.

    Raises
    ------
    ValueError : an unknown class.

    Source: Ojanen et al. 2010.

    >>> float(highest_index(22.0, 90.0, "very sensitive").round(4)), float(highest_index(22.0, 100.0).round(4))
    (4.0, 5.3)
    """
    kind, critical = sensitivity_class(sensitivity), critical_rh(temp_c, sensitivity)
    above = air.usable_rh(rh_percent) - critical
    room = np.maximum(100 - critical, 1e-9)  # at freezing the critical humidity is 100 %
    x = np.clip(above / room, 0, 1)
    top = np.maximum(kind.highest_a + kind.highest_b * x - kind.highest_c * x**2, 0)
    return np.where(above < 0, 0.0, top)


def favourable(temp_c: ArrayLike, rh_percent: ArrayLike, sensitivity: str = "sensitive") -> Mask:
    """Whether air favours growth: warm enough, and as damp as the critical humidity or more.

    Array-like, broadcast together -> the same shape; false for NaN, where either was not read. [°C], [% RH]

    Raises
    ------
    ValueError : an unknown class.

    Source: as `critical_rh`.

    >>> favourable([20.0, 20.0, -1.0], [80.0, 80.1, 99.0]).tolist()  # critical at 20 °C: 80.04 %
    [False, True, False]
    """
    temp, rh = np.broadcast_arrays(np.asarray(temp_c, np.float64), np.asarray(rh_percent, np.float64))
    grows = (rh >= float(sensitivity_class(sensitivity).least_rh)) & (temp > fig.GROWTH_OVER_C)
    grows &= temp <= fig.GROWTH_TO_C
    if grows.any():  # the cubic is worked out only where it can decide
        grows[grows] = rh[grows] >= critical_rh(temp[grows], sensitivity)
    return grows


def mould_index(
    temp_c: ArrayLike, rh_percent: ArrayLike, hours: ArrayLike, sensitivity: str = "sensitive",
    decline: float | str = fig.DECLINE_DEFAULT, start: ArrayLike = 0.0,
) -> Array:  # fmt: skip
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
    (..., n). NaN at a step that was not read, all NaN where nothing was; the state is held across it. Humidity of 100
    to 105 % counts as 100, outside 0 to 105 % as not read. At or below 0 °C nothing grows and nothing declines.

    Raises
    ------
    ValueError : humidity given as a fraction (all of it at most 1); an unknown class or decline; a step that is
        negative or has no end; a start outside 0 to 6.

    Source: Hukka & Viitanen 1999; sensitivity and decline classes Ojanen et al. 2010.

    >>> days = mould_index(np.full(1440, 20.0), np.full(1440, 90.0), 1.0, "very sensitive")
    >>> days[[719, 1439]].round(3).tolist()
    [1.039, 3.029]
    """
    sensitivity_class(sensitivity)
    temp, rh, hours = np.broadcast_arrays(*(np.asarray(a, np.float64) for a in (temp_c, rh_percent, hours)))
    if not temp.ndim:
        alone: Array = mould_index([temp], [rh], [hours], sensitivity, decline, start)[0]
        return alone
    _refuse(temp, rh, hours, start)
    return index_course(temp, rh, hours, sensitivity, decline, start)


def index_course(
    temp: Array, rh: Array, hours: ArrayLike, sensitivity: str = "sensitive",
    decline: float | str = fig.DECLINE_DEFAULT, start: ArrayLike = 0.0,
) -> Array:  # fmt: skip
    """`mould_index` of air that a studio's record holds: percent for certain, so that 1 % or less is no fraction.

    Parameters, returns and missing data (NaN) as `mould_index`: (..., n) -> (..., n).

    Source: as `mould_index`.

    >>> index_course(np.array([20.0, 20.0]), np.array([0.5, 0.0]), 1.0, start=1.0).round(4).tolist()
    [0.9999, 0.9997]
    """
    share = decline_coefficient(decline)
    temp, rh, hours = np.broadcast_arrays(temp, air.usable_rh(rh), np.asarray(hours, np.float64))
    if not temp.size:
        return np.zeros(temp.shape)
    read = np.isfinite(temp) & np.isfinite(rh) & np.isfinite(hours)
    wet = favourable(temp, rh, sensitivity) & read
    if not (wet.any() or np.any(start)):
        return np.where(read, 0.0, np.nan)
    lost = share * _declines(wet, read & ~wet & (temp > fig.GROWTH_OVER_C), hours)
    held = np.empty(temp.shape)
    starts = np.broadcast_to(np.asarray(start, np.float64), temp.shape[:-1])
    for row in np.ndindex(temp.shape[:-1]):
        grows = growth_steps(temp[row][wet[row]], rh[row][wet[row]], hours[row][wet[row]], sensitivity)
        held[row] = _course(float(starts[row]), wet[row], lost[row], grows)
    return np.where(read, held, np.nan)


def decline_coefficient(decline: float | str) -> float:
    """Share of the decline on pine, from a number or from its words.

    Raises
    ------
    ValueError : other words, or a number outside 0 to 1.
    """
    if isinstance(decline, str):
        if decline not in fig.DECLINES:
            raise ValueError(f"decline {decline!r}; give 0 to 1 or one of {', '.join(fig.DECLINES)}")
        return float(fig.DECLINES[decline])
    if not isinstance(decline, int | float | np.number) or not 0 <= decline <= 1:
        words = ", ".join(fig.DECLINES)
        raise ValueError(f"decline {decline}; give 0 (none) to 1 (as on pine), or one of {words}")
    return float(decline)


def _refuse(temp: Array, rh: Array, hours: Array, start: ArrayLike) -> None:
    if not temp.size:
        return
    known = rh[np.isfinite(rh)]
    if known.any() and known.max() <= 1:
        raise ValueError(f"humidity is at most {known.max():g}: give percent (0 to 100), not a fraction")
    known_h = hours[~np.isnan(hours)]
    if (known_h < 0).any() or np.isinf(known_h).any():
        worst = known_h.min() if known_h.min() < 0 else known_h.max()
        raise ValueError(f"a step of {worst:g} hours; give 0 or more, and an end")
    if not (np.all(np.asarray(start) >= 0) and np.all(np.asarray(start) <= fig.INDEX_TOP)):
        raise ValueError(f"start {start!s}; the index runs from 0 to 6")


def _declines(wet: Mask, dry: Mask, hours: Array) -> Array:
    """Decline on pine in each step: the difference of the integral over the dry spell. (..., n) -> (..., n)"""
    run = np.cumsum(np.where(dry, hours, 0.0), axis=-1)
    at_wet = np.maximum.accumulate(np.where(wet, run, 0.0), axis=-1)
    after = run - at_wet
    before = after - np.where(dry, hours, 0.0)
    return np.where(dry, declined(after) - declined(before), 0.0)


def declined(dry_h: ArrayLike) -> Array:
    """Decline on pine since a dry spell began: quick at first, a pause, then slow.

    Array-like, any shape, hours dry [h] -> the same shape [index]; NaN for NaN.

    Source: Hukka & Viitanen 1999.

    >>> declined([6.0, 24.0, 124.0]).round(4).tolist()
    [0.008, 0.008, 0.0747]
    """
    dry_h = np.asarray(dry_h, np.float64)
    early: Array = fig.DECLINE_EARLY * np.minimum(dry_h, fig.DECLINE_EARLY_H)
    return early + fig.DECLINE_LATE * np.maximum(dry_h - fig.DECLINE_LATE_FROM_H, 0)


def growth_steps(temp: Array, rh: Array, hours: Array, sensitivity: str) -> Iterator[tuple[float, float, float]]:
    """For each favourable step: the index it tends to, and the exponents of growth below and from index 1."""
    kind = sensitivity_class(sensitivity)
    speed = fig.SLOWS_NEAR_HIGHEST * hours / (168 * weeks_to_start(temp, rh))
    top = highest_index(temp, rh, sensitivity)
    return zip(top.tolist(), (speed * kind.speed_below_1).tolist(), (speed * kind.speed_from_1).tolist(), strict=True)


def _course(index: float, wet: Mask, lost: Array, grows: Iterator[tuple[float, float, float]]) -> Array:
    """The index after each step: through favourable ones step by step, through each stretch of others at once."""
    gone = np.cumsum(lost)
    edges = np.append(np.flatnonzero(np.diff(wet)) + 1, len(wet))
    begins = np.append(0, edges[:-1])
    before = np.where(begins > 0, gone[begins - 1], 0.0)  # declined until each stretch
    losses, damp = (gone[edges - 1] - before).tolist(), wet[begins].tolist()
    at_begin, grew = [], []
    for favourable, loss, hours in zip(damp, losses, (edges - begins).tolist(), strict=True):
        at_begin.append(index)
        if favourable:
            grew += grown_through(index, islice(grows, hours))
            index = grew[-1]
        else:
            index = index - loss if index > loss else 0.0
    each = edges - begins
    out: Array = np.maximum(np.repeat(at_begin, each) - (gone - np.repeat(before, each)), 0.0)
    out[wet] = grew
    return out


def grown_through(index: float, steps: Iterable[tuple[float, float, float]]) -> list[float]:
    """The index after each favourable step (`growth_steps`) of a stretch.

    Each is dM/dt = k (1 - exp(2.3 (M - top))), solved: exp(2.3 (top - M)) - 1 dies away.
    """
    course = []
    for top, below_1, from_1 in steps:
        if index < top:
            distance, exponent = expm1(_SLOWS * (top - index)), from_1
            if index < 1:
                at_1 = log(distance / expm1(_SLOWS * (top - 1))) if top > 1 else below_1
                if at_1 >= below_1:
                    exponent = below_1
                else:  # index 1 is passed within the step: the rest of it runs at the other speed
                    distance, exponent = expm1(_SLOWS * (top - 1)), from_1 * (1 - at_1 / below_1)
            index = top - log1p(distance * exp(-exponent)) / _SLOWS
        course.append(index)
    return course


def equation(temp_c: float, rh_percent: float, sensitivity: str, index: float) -> tuple[tuple[str, str], ...]:
    """The growth equation with the numbers of one hour put in, so that it can be done again by hand."""
    kind, critical = sensitivity_class(sensitivity), float(critical_rh(temp_c, sensitivity))
    limit = (
        "critical humidity",
        f"-0.00267 T³ + 0.16 T² - 3.13 T + 100 at {temp_c:.2f} °C, over 20 °C and at least {kind.least_rh:g}: "
        f"{critical:.2f} %; the dampest hour had {rh_percent:.2f} %",
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
