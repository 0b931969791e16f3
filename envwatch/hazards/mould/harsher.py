"""The growth index where a short damp stretch is taken as dry if that ends higher: never lower for damper air.

In the published course one damp hour ends a dry spell, and the quick decline of its first hours begins again. Where
damp hours are few and weak they cost more than they grow: one in seven ends lower than none. The published course
stays the figure; a level takes the harsher of it and of this one, the highest that any choice of damp stretches to be
taken as dry gives. So more damp can only add a choice, and never makes a level milder.

Source: the course is that of `index`; the choice is our judgement.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from envwatch import air
from envwatch.figures import mould as fig
from envwatch.hazards.mould.index import decline_coefficient, declined, favourable, grown, growth_steps, mould_index

LATE_H = float(fig.DECLINE_LATE_FROM_H)  # dry for longer, all states decline alike
State = tuple[float, float]  # index, and hours since its dry spell began


def harsher_index(
    temp_c, rh_percent, sensitivity: str = "sensitive", decline=fig.DECLINE_DEFAULT, start: float = 0.0
) -> np.ndarray:
    """The highest index at each hour over all choices of damp stretches to be taken as dry; hourly air.

    Parameters
    ----------
    temp_c, rh_percent : (n,) regular hourly means, NaN in a gap, across which the index stands still. [°C], [% RH]
    sensitivity, decline, start : as in `mould_model.mould_index`; `start` a number.

    Returns
    -------
    (n,) never under `mould_index`; NaN in a gap.

    Raises
    ------
    ValueError : as `mould_index`.

    >>> week = np.tile([80.2] + [60.0] * 6, 24)  # one weak damp hour in seven
    >>> published, dry = (mould_index([20.0] * 168, rh, 1.0, start=1.0)[-1] for rh in (week, [60.0] * 168))
    >>> bool(published < dry), bool(harsher_index([20.0] * 168, week, start=1.0)[-1] >= dry)
    (True, True)
    """
    temp, rh = np.broadcast_arrays(np.asarray(temp_c, float), air.usable_rh(rh_percent))
    published = mould_index(temp, rh, 1.0, sensitivity, decline, start)
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


def most_above(rh_wet: np.ndarray, decline=fig.DECLINE_DEFAULT) -> float:
    """How far the harsher course can lie over the published one, at most: what so many restarts may cost.

    (n,) true in favourable hours. Each damp stretch costs the quick decline once; from index 1 on growth may be twice
    as fast, which may double what was saved.
    """
    stretches = int(np.count_nonzero(np.diff(rh_wet.astype(np.int8), prepend=0) > 0))
    return 2 * stretches * decline_coefficient(decline) * float(declined(fig.DECLINE_EARLY_H))


def _highest(wet: np.ndarray, steps: Sequence[tuple[float, float, float]], share: float, start: float) -> np.ndarray:
    """The highest index after each hour that moves it. (m,) -> (m,)"""
    out, used, states = np.empty(len(wet)), 0, [(start, 0.0)]
    edges = np.append(np.flatnonzero(np.diff(wet)) + 1, len(wet)).tolist()
    begin = 0
    for end in edges:
        hours = end - begin
        skipped = [(_after(state, hours, share), state[1] + hours) for state in states]
        if wet[begin]:
            index = max(index for index, _ in states)
            for row in range(begin, end):
                index = grown(index, *steps[used])
                out[row], used = index, used + 1
            states = _undominated([(index, 0.0), *skipped], share)
        else:
            ahead = np.arange(1, hours + 1)
            out[begin:end] = np.max([_after(state, ahead, share) for state in states], axis=0)
            states = _undominated(skipped, share)
        begin = end
    return out


def _after(state: State, hours, share: float):
    """The index of a state after dry hours, a number or (k,)."""
    index, dry_h = state
    return np.maximum(index - share * (declined(dry_h + hours) - declined(dry_h)), 0.0)


def _undominated(states: Sequence[State], share: float) -> list[State]:
    """The states of which none is under another whatever follows: highest first."""
    kept: list[State] = []
    for state in sorted(states, reverse=True):
        if not any(better[0] - state[0] >= share * _may_lose(better[1], state[1]) for better in kept):
            kept.append((float(state[0]), min(state[1], LATE_H)))
    return kept


def _may_lose(dry_h: float, other_h: float) -> float:
    """How much more a spell of one age may decline than one of another, at most, on pine. [index]"""
    ends = [edge - age for edge in (float(fig.DECLINE_EARLY_H), LATE_H) for age in (dry_h, other_h)]
    ahead = np.maximum([*ends, LATE_H], 0.0)
    return float(
        max(np.max((declined(dry_h + ahead) - declined(dry_h)) - (declined(other_h + ahead) - declined(other_h))), 0)
    )
