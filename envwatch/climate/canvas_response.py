"""How a canvas follows the air: first-order lag, and the time constant of a build-up."""

from __future__ import annotations

import numpy as np

from envwatch.figures import response
from envwatch.figures.canvas import GAP_BRIDGES_H, LAG_RESTARTS_TAU
from envwatch.records import Painting


def lagged(values, tau_h, step_h=1.0, start: float | None = None, gap_value: float | None = None) -> np.ndarray:
    """First-order response: each step closes the share 1 - exp(-step/tau) of the distance to the air.

    Exact for air that is constant within a step, whatever the step.

    Parameters
    ----------
    values : (n,) what the air did; NaN in a gap.
    tau_h : time constant, a scalar or (n,). [h]
    step_h : length of each step, a scalar or (n,). [h]
    start : the state before the first step; by default the mean of the first three time constants.
    gap_value : what to assume of the air in a gap; by default the state is held.

    Returns
    -------
    (n,) the state at the end of each step; NaN in a gap, where nothing is known of it.

    >>> lagged([30.0] * 48, 24, start=50).round(3)[[23, 47]].tolist()
    [37.358, 32.707]
    """
    values = np.asarray(values, float)
    tau = np.broadcast_to(np.asarray(tau_h, float), values.shape)
    step = np.broadcast_to(np.asarray(step_h, float), values.shape)
    closes = 1 - np.exp(-step / tau)
    read = np.isfinite(values)
    if not read.any():
        return np.full(values.shape, np.nan)
    if start is None:
        early = (np.cumsum(step) <= 3 * tau[0]) & read
        start = float(values[early].mean()) if early.any() else float(values[read][0])
    filled = np.where(read, values, np.nan if gap_value is None else gap_value)
    state, out = start, []
    for value, share in zip(filled.tolist(), closes.tolist(), strict=True):
        if value == value:  # not NaN
            state += share * (value - state)
        out.append(state)
    return np.where(read, out, np.nan)


def lagged_range(values, tau_h, step_h=1.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Lagged response with what the gaps leave open: (lowest, held, highest), each (n,).

    In a gap the air is taken at the lowest and at the highest value the record has, so the three differ
    after a gap and grow together again.
    """
    values = np.asarray(values, float)
    if not np.isfinite(values).any():
        empty = np.full(values.shape, np.nan)
        return empty, empty, empty
    held = lagged(values, tau_h, step_h)
    low = lagged(values, tau_h, step_h, gap_value=float(np.nanmin(values)))
    high = lagged(values, tau_h, step_h, gap_value=float(np.nanmax(values)))
    return low, held, high


def bridged(values, up_to_h: int = int(GAP_BRIDGES_H)) -> np.ndarray:
    """Hourly values with gaps of up to a few hours bridged by a straight line; longer gaps stay NaN.

    >>> bridged([50.0, float("nan"), 54.0], up_to_h=1).tolist()
    [50.0, 52.0, 54.0]
    """
    values = np.array(values, float)
    for first, last in _gaps(values):
        if first > 0 and last < len(values) - 1 and last - first + 1 <= up_to_h:
            values[first : last + 1] = np.linspace(values[first - 1], values[last + 1], last - first + 3)[1:-1]
    return values


def _gaps(values: np.ndarray) -> list[tuple[int, int]]:
    """First and last index of each run of NaN."""
    edges = np.diff(np.isnan(values).astype(int), prepend=0, append=0)
    return list(zip(np.flatnonzero(edges == 1).tolist(), (np.flatnonzero(edges == -1) - 1).tolist(), strict=True))


def canvas_humidity(rh_percent, tau_h) -> np.ndarray:
    """Humidity the canvas is at equilibrium with: hourly air, short gaps bridged, lagged, restarted after long gaps.

    A state held through a long gap would make a change of its own when readings come back, so after a gap of
    more than three time constants, and of more than a day, the response starts anew.

    Parameters
    ----------
    rh_percent : (n,) regular hourly means, NaN where nothing was read. [% RH]
    tau_h : time constant, a scalar or (n,). [h]

    Returns
    -------
    (n,) NaN in a gap. What the first three time constants of a stretch say rests on its mean.
    """
    rh = bridged(rh_percent)
    tau = np.broadcast_to(np.asarray(tau_h, float), rh.shape)
    out = np.full(rh.shape, np.nan)
    begin = 0
    for first, last in [*_gaps(rh), (len(rh), len(rh) - 1)]:
        long = first == len(rh) or last - first + 1 > max(float(LAG_RESTARTS_TAU) * tau[first], 24)
        if long and first > begin:
            out[begin:first] = lagged(rh[begin:first], tau[begin:first])
        if long:
            begin = last + 1
    return out


def response_time_h(painting: Painting | None) -> float:
    """Time constant with which the canvas of this painting follows the room. [h]

    Where glazing or backing is unknown it is taken as absent: the faster response is the worse one.
    """
    if painting is None:
        return float(response.UNLINED_H)
    if painting.backed and painting.glazed:
        return float(response.GLAZED_BOARD_H)
    tau = float(response.UNLINED_H)
    materials = {layer.material for layer in painting.layers if layer.role in ("film", "old lining", "impregnation")}
    if materials & {"glue_paste", "starch", "animal_glue"}:
        tau = max(tau, float(response.PASTE_LINED_H))
    if materials - {"glue_paste", "starch", "animal_glue", "wax_resin"}:
        tau = max(tau, float(response.FILM_LINED_H))
    if "wax_resin" in materials:
        tau = max(tau, float(response.WAX_LINED_H))
    return max(tau, float(response.BOARD_H)) if painting.backed else tau
