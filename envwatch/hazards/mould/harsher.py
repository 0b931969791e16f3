"""The growth index where a short damp stretch is taken as dry if that ends higher: never lower for damper air.

In the published course one damp hour ends a dry spell, and the quick decline of its first hours begins again. Where
damp hours are few and weak they cost more than they grow: one in seven ends lower than none. The published course
stays the figure; a level takes the harsher of it and of this one, the highest that any choice of damp stretches to be
taken as dry gives. So more damp can only add a choice, and never makes a level milder.

Source: the course is that of `index`; the choice is our judgement.
"""

from __future__ import annotations

import functools
import itertools
from collections.abc import Sequence

import numpy as np

from envwatch import air
from envwatch.core.arrays import Array, ArrayLike, Mask
from envwatch.figures import mould as fig
from envwatch.hazards.mould.index import (
    decline_coefficient,
    declined,
    favourable,
    grown_through,
    growth_steps,
    index_course,
)

LATE_H = int(fig.DECLINE_LATE_FROM_H)  # dry for longer, all states decline alike
State = tuple[float, int]  # index, and whole hours since its dry spell began


def harsher_index(
    temp_c: ArrayLike, rh_percent: ArrayLike, sensitivity: str = "sensitive",
    decline: float | str = fig.DECLINE_DEFAULT, start: float = 0.0,
) -> Array:  # fmt: skip
    """The highest index at each hour over all choices of damp stretches to be taken as dry; hourly air.

    Parameters
    ----------
    temp_c, rh_percent : (n,) regular hourly means, NaN in a gap, across which the index stands still. [°C], [% RH]
    sensitivity, decline, start : as in `mould_index`; `start` a number.

    Returns
    -------
    (n,) never under `mould_index`; NaN in a gap.

    Raises
    ------
    ValueError : an unknown class or decline.

    >>> week = np.tile([80.2] + [60.0] * 6, 24)  # one weak damp hour in seven
    >>> published, dry = (index_course([20.0] * 168, rh, 1.0, start=1.0)[-1] for rh in (week, [60.0] * 168))
    >>> bool(published < dry), bool(harsher_index([20.0] * 168, week, start=1.0)[-1] >= dry)
    (True, True)
    """
    temp, rh = np.broadcast_arrays(np.asarray(temp_c, np.float64), air.usable_rh(rh_percent))
    published = index_course(temp, rh, 1.0, sensitivity, decline, start)
    wet = favourable(temp, rh, sensitivity)
    dry = np.isfinite(published) & ~wet & (temp > fig.GROWTH_OVER_C)
    if not (wet.any() and dry.any()):
        return published
    moves = np.flatnonzero(wet | dry)  # frost and gaps stand still
    steps = list(growth_steps(temp[wet], rh[wet], np.ones(int(wet.sum())), sensitivity))
    highest = _highest(wet[moves], steps, decline_coefficient(decline), float(start))
    at = np.cumsum(wet | dry) - 1
    held = np.where(at >= 0, highest[np.maximum(at, 0)], start)
    return np.where(np.isfinite(published), np.maximum(held, published), np.nan)


def _highest(wet: Mask, steps: Sequence[tuple[float, float, float]], share: float, start: float) -> Array:
    """The highest index after each hour that moves it. (m,) -> (m,)"""
    out, grow, states = np.empty(len(wet)), iter(steps), [(start, 0)]
    lost = share * declined(np.arange(len(wet) + LATE_H + 1))  # by hours of a dry spell
    lost_of = lost.tolist()
    edges = np.append(np.flatnonzero(np.diff(wet)) + 1, len(wet)).tolist()
    for begin, end in zip([0, *edges], edges, strict=False):
        hours = end - begin
        skipped = [
            (max(index - lost_of[dry_h + hours] + lost_of[dry_h], 0.0), dry_h + hours) for index, dry_h in states
        ]
        if wet[begin]:
            course = grown_through(max(index for index, _ in states), itertools.islice(grow, hours))
            out[begin:end] = course
            states = _undominated([(course[-1], 0), *skipped], share)
        else:
            after = [index + lost_of[dry_h] - lost[dry_h + 1 : dry_h + hours + 1] for index, dry_h in states]
            out[begin:end] = np.maximum(functools.reduce(np.maximum, after), 0.0)
            states = _undominated(skipped, share)
    return out


def _undominated(states: Sequence[State], share: float) -> list[State]:
    """The states of which none is under another whatever follows: highest first."""
    kept: list[State] = []
    for index, dry_h in sorted(states, reverse=True):
        age = min(dry_h, LATE_H)
        if not any(better - index >= share * _may_lose(older, age) for better, older in kept):
            kept.append((index, age))
    return kept


@functools.cache
def _may_lose(dry_h: int, other_h: int) -> float:
    """How much more a spell of one age may decline than one of another, at most, on pine. [h], up to 24 -> [index]"""
    ahead = np.arange(LATE_H + 1)
    more = (declined(dry_h + ahead) - declined(dry_h)) - (declined(other_h + ahead) - declined(other_h))
    return max(float(more.max()), 0.0)
