"""How a canvas follows the air: first-order lag, and the time constant of a build-up."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from envwatch.climate.hours import worst_in_gaps
from envwatch.core.arrays import Array, ArrayLike
from envwatch.core.painting import Painting, Role
from envwatch.figures import response
from envwatch.figures.canvas import GAP_BRIDGES_H, LAG_RESTARTS_TAU
from envwatch.figures.coverage import GAP_LIKE_WITHIN_H

LEAST = 1e-20  # weight below which a step before adds nothing that a float can hold
FEW = 32  # steps to a stretch, on average, from which stretches are worked out at once


def lagged(
    values: ArrayLike, tau_h: ArrayLike, step_h: ArrayLike = 1.0, start: ArrayLike | None = None,
    gap_value: ArrayLike | None = None,
) -> Array:  # fmt: skip
    """First-order response: each step closes the share 1 - exp(-step/tau) of the distance to the air.

    Exact for air that is constant within a step, whatever the step.

    Parameters
    ----------
    values : (..., n) what the air did, time on the last axis; NaN in a gap.
    tau_h : time constant, a scalar or broadcast to the values. [h]
    step_h : length of each step, a scalar or broadcast to the values. [h]
    start : the state before the first step, a scalar or (...); by default the mean of the first three time constants.
    gap_value : what to assume of the air in a gap, a scalar or (...); by default the state is held.

    Returns
    -------
    (..., n) the state at the end of each step; NaN in a gap, where nothing is known of it.

    Raises
    ------
    ValueError : a time constant that is not above 0, or a negative step.

    Source: first-order response, solved; the time constants in `figures.response` are our judgement.

    >>> lagged([30.0] * 48, 24, start=50).round(3)[[23, 47]].tolist()
    [37.358, 32.707]
    """
    values = np.asarray(values, np.float64)
    if not np.all(np.asarray(tau_h) > 0) or np.any(np.asarray(step_h) < 0):
        raise ValueError(
            f"a time constant of {np.min(tau_h):g} h and steps from {np.min(step_h):g} h; give more than 0"
        )
    tau, step = (np.broadcast_to(np.asarray(a, np.float64), values.shape) for a in (tau_h, step_h))
    starts, fills = (np.broadcast_to(np.nan if a is None else a, values.shape[:-1]) for a in (start, gap_value))
    out = np.empty(values.shape)
    for row in np.ndindex(values.shape[:-1]):
        out[row] = _lag_one(values[row], tau[row], step[row], float(starts[row]), float(fills[row]))
    return out


def _lag_one(values: Array, tau: Array, step: Array, start: float, gap_value: float) -> Array:
    """One record. A canvas follows otherwise from its lining on: few stretches, each even, are worked out at once."""
    read = np.isfinite(values)
    if not read.any():
        return np.full(values.shape, np.nan)
    state = _usual_start(values, tau, step) if np.isnan(start) else start
    air = np.where(read, values, gap_value)
    moves = np.isfinite(air)  # where nothing is assumed of a gap, the state is held across it
    air, share = air[moves], (1 - np.exp(-step / tau))[moves]
    edges = np.flatnonzero(np.diff(share)) + 1
    if len(edges) > len(share) // FEW:
        steps = zip(air.tolist(), share.tolist(), strict=True)
        course = np.array([state := state + part * (at - state) for at, part in steps])
    else:
        course = np.empty(len(air))
        for begin, stop in zip([0, *edges], [*edges, len(air)], strict=True):
            course[begin:stop] = _by_even_steps(air[begin:stop], float(share[begin]), state)
            state = float(course[stop - 1])
    out = np.full(values.shape, np.nan)
    out[moves] = course
    return np.where(read, out, np.nan)


def _usual_start(values: Array, tau: Array, step: Array) -> float:
    """The state before the first step where none is given: the mean of the first three time constants."""
    read = np.isfinite(values)
    early = (np.cumsum(step) <= 3 * tau[0]) & read
    return float(values[early].mean()) if early.any() else float(values[read][0])


def _by_even_steps(air: Array, share: float, start: float) -> Array:
    """The same where each step closes one share: the sum over the steps before, doubled until it holds them all."""
    moved, back, left = share * (air - start), 1, 1 - share
    while back < len(air) and left > LEAST:
        moved[back:] += left * moved[:-back]
        back, left = 2 * back, left**2
    state = start + moved
    low, high = np.minimum.accumulate(np.minimum(air, start)), np.maximum.accumulate(np.maximum(air, start))
    # what follows the air comes ever nearer to it and never quite there, which rounding must not undo
    there = np.flatnonzero((state <= low) | (state >= high))
    low, high = low[there], high[there]
    state[there] = np.clip(state[there], np.nextafter(low, high), np.nextafter(high, low))
    return state


def lagged_range(values: ArrayLike, tau_h: ArrayLike, step_h: ArrayLike = 1.0) -> tuple[Array, Array, Array]:
    """Lagged response with what the gaps leave open: (lowest, held, highest), each (..., n).

    In a gap the air is taken at the lowest and at the highest value the record has, so the three differ after a gap
    and grow together again. Parameters, missing data (NaN in a gap), errors and source as in `lagged`.

    >>> low, held, high = lagged_range([50.0, 60.0, float("nan"), 50.0], 2)
    >>> bool(low[3] < held[3] < high[3]), bool(low[1] == held[1] == high[1])
    (True, True)
    """
    values = np.asarray(values, np.float64)
    known = np.isfinite(values)
    least = np.where(known, values, np.inf).min(axis=-1, initial=np.inf)
    most = np.where(known, values, -np.inf).max(axis=-1, initial=-np.inf)
    held = lagged(values, tau_h, step_h)
    return (
        lagged(values, tau_h, step_h, gap_value=np.where(np.isfinite(least), least, np.nan)),
        held,
        lagged(values, tau_h, step_h, gap_value=np.where(np.isfinite(most), most, np.nan)),
    )


def bridged(values: ArrayLike, up_to_h: int = int(GAP_BRIDGES_H)) -> Array:
    """Hourly values with gaps of up to a few hours bridged by a straight line; longer gaps stay NaN.

    (..., n) -> (..., n), time on the last axis. Gaps at either end stay too. Source: the length is our judgement.

    >>> bridged([50.0, float("nan"), 54.0], up_to_h=1).tolist()
    [50.0, 52.0, 54.0]
    """
    out = np.array(values, np.float64)
    for at in np.ndindex(out.shape[:-1]):
        row = out[at]
        for first, last in _gaps(row):
            if first > 0 and last < len(row) - 1 and last - first + 1 <= up_to_h:
                row[first : last + 1] = np.linspace(row[first - 1], row[last + 1], last - first + 3)[1:-1]
    return out


def _gaps(values: Array) -> list[tuple[int, int]]:
    """First and last index of each run of NaN."""
    missing = np.isnan(values)
    if not missing.any():
        return []
    edges = np.diff(missing.astype(int), prepend=0, append=0)
    return list(zip(np.flatnonzero(edges == 1).tolist(), (np.flatnonzero(edges == -1) - 1).tolist(), strict=True))


def canvas_humidity(rh_percent: ArrayLike, tau_h: ArrayLike) -> Array:
    """Humidity the canvas is at equilibrium with: hourly air, short gaps bridged, lagged, restarted after long gaps.

    A state held through a long gap would make a change of its own when readings come back, so after a gap of
    more than three time constants, and of more than a day, the response starts anew.

    Parameters
    ----------
    rh_percent : (..., n) regular hourly means, time on the last axis, NaN where nothing was read. [% RH]
    tau_h : time constant, a scalar or broadcast to the humidity. [h]

    Returns
    -------
    (..., n) NaN in a gap. What the first three time constants of a stretch say rests on its mean: see
    `canvas_humidity_range` for how far that may be off. [% RH]

    Source: as `lagged`; when to restart is our judgement.

    >>> canvas_humidity([50.0] * 3 + [float("nan")] + [50.0] * 2, 24).tolist()
    [50.0, 50.0, 50.0, 50.0, 50.0, 50.0]
    """
    return canvas_humidity_range(rh_percent, tau_h, held_only=True).held


@dataclass(frozen=True, eq=False)
class LaggedRange:
    """A lagged humidity with what is not known of it. All (..., n). [% RH]

    Attributes
    ----------
    held : the state; NaN in a gap of more than a few hours.
    lowest, highest : what it may have been, in gaps too; NaN only where nothing at all was read.
    """

    lowest: Array
    held: Array
    highest: Array

    @cached_property
    def doubt(self) -> Array:
        """How far the state may lie from the one held, to the farther side; NaN in a gap. (..., n) [% RH]"""
        return np.maximum(self.highest - self.held, self.held - self.lowest)


def canvas_humidity_range(rh_percent: ArrayLike, tau_h: ArrayLike, *, held_only: bool = False) -> LaggedRange:
    """`canvas_humidity` with the range that gaps, restarts and the beginning of the record leave open.

    Air that was not read, for however short a time, is taken at worst as within a week about it (`worst_in_gaps`),
    farther from all readings as on record; so is what the canvas had come to when a stretch began after a long gap,
    within a week or its own three time constants. What it had come to when the record began is taken as the lowest and
    highest on record. The range closes with the time constant.

    Parameters
    ----------
    rh_percent, tau_h : as in `canvas_humidity`.
    held_only : leave the range out, three times as fast: all three are the state held.

    Source: as `canvas_humidity`; that the worst about a gap bounds what was not read is our judgement.

    >>> canvas = canvas_humidity_range([40.0, 60.0] * 60, 12)
    >>> bool(canvas.doubt[0] > 5), bool(canvas.doubt[-1] < 0.01)
    (True, True)
    """
    values = np.asarray(rh_percent, np.float64)
    rh = bridged(values)
    tau = np.broadcast_to(np.asarray(tau_h, np.float64), rh.shape)
    out = np.full((3, *rh.shape), np.nan)
    for row in np.ndindex(rh.shape[:-1]):
        gaps = [(a, b) for a, b in _gaps(rh[row]) if b - a + 1 > max(float(LAG_RESTARTS_TAU) * tau[row][a], 24)]
        edges = zip([0, *(last + 1 for _, last in gaps)], [*(first for first, _ in gaps), len(rh[row])], strict=True)
        parts = [slice(begin, stop) for begin, stop in edges if begin < stop]  # it starts anew after a long gap
        for part in parts:
            out[(1, *row, part)] = lagged(rh[row][part], tau[row][part])
        for n, sign in () if held_only or np.isnan(values[row]).all() else ((0, -1), (2, 1)):
            out[(n, *row)] = _at_worst(values[row], tau[row], out[(1, *row)], parts, sign)
    return LaggedRange(out[1], out[1], out[1]) if held_only else LaggedRange(*out)


def _at_worst(air: Array, tau: Array, held: Array, parts: list[slice], sign: int) -> Array:
    """The response begun at the worst on record, with each gap at the worst about it."""
    worst = float(sign * np.nanmax(sign * air))
    read = np.isfinite(air)
    if read.all() and (tau == tau[0]).all():
        steps = np.arange(1, len(air) + 1)  # without gaps the two responses only grow together
        fades: Array = np.exp(-steps / tau[0])
        return held + (worst - _usual_start(air, tau, np.ones(len(air)))) * fades
    taken = air if read.all() else worst_in_gaps(air, sign)
    taken = np.where(np.isnan(taken), worst, taken)
    out, state, begin = np.empty(len(air)), worst, 0
    for stop in [*(part.start for part in parts[1:]), len(air)]:  # where the state held begins anew, this does too
        out[begin:stop] = lagged(taken[begin:stop], tau[begin:stop], start=state)
        if stop < len(air):
            within = max(int(GAP_LIKE_WITHIN_H), int(np.ceil(3 * tau[stop])))
            about = air[max(stop - 1 - within, 0) : stop + within]
            state = sign * max(sign * float(out[stop - 1]), float(np.nanmax(sign * about)))
        begin = stop
    return sign * np.fmax(sign * out, sign * held)


def response_time_h(painting: Painting | None) -> float:
    """Time constant with which the canvas of this painting follows the room. [h]

    Where glazing or backing is unknown it is taken as absent: the faster response is the worse one.
    """
    if painting is None:
        return float(response.UNLINED_H)
    if painting.backed and painting.glazed:
        return float(response.GLAZED_BOARD_H)
    tau = float(response.UNLINED_H)
    materials = {
        layer.material for layer in painting.layers if layer.role in (Role.FILM, Role.OLD_LINING, Role.IMPREGNATION)
    }
    if materials & {"glue_paste", "starch", "animal_glue"}:
        tau = max(tau, float(response.PASTE_LINED_H))
    if materials - {"glue_paste", "starch", "animal_glue", "wax_resin"}:
        tau = max(tau, float(response.FILM_LINED_H))
    if "wax_resin" in materials:
        tau = max(tau, float(response.WAX_LINED_H))
    return max(tau, float(response.BOARD_H)) if painting.backed else tau


BUILD_UPS = {  # the lagged responses that a place is described for
    "unlined": response.UNLINED_H, "lined with paste": response.PASTE_LINED_H,
    "lined with a film": response.FILM_LINED_H, "with a backing board": response.BOARD_H,
    "glazed and backed": response.GLAZED_BOARD_H, "crated or wrapped": response.WRAPPED_H,
}  # fmt: skip
