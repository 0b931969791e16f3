"""What softens a lining, as functions of arrays: water in glue, time at temperature, hours damp."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from envwatch import climate
from envwatch.core.arrays import Array, ArrayLike, Whole
from envwatch.figures import lining as fig
from envwatch.figures.canvas import GAS_CONSTANT
from envwatch.figures.coverage import SPELL_BRIDGES_H

_KELVIN = 273.15
_NODES: Array = np.array((0.0, *fig.SORPTION_AT_PERCENT))  # dry glue holds no water: the table is begun at (0, 0)
_G25: Array = np.array((0.0, *fig.SORBED_AT_25_C))
_G40: Array = np.array((0.0, *fig.SORBED_AT_40_C))


def _sorbed_at_nodes(temp_c: Array) -> Array:
    """Water in gelatine at each humidity of the table. (…,) -> (…, nodes) [g / 100 g dry]"""
    share = np.clip((temp_c - 25) / (40 - 25), 0, 1)[..., None]
    return _G25 + share * (_G40 - _G25)


def glue_water(rh_percent: ArrayLike, temp_c: ArrayLike = 25.0) -> Array:
    """Water that gelatine takes up, linear in the table; outside 25 to 40 °C, and over 90 % RH, held at its edge.

    [% RH], [°C] -> [g / 100 g dry]; NaN for NaN. Source: Heritage Science 1:14 (2013), table 1.

    >>> float(glue_water(70, 25)), float(glue_water(80, 40))
    (21.6, 25.35)
    """
    rh, temp = np.broadcast_arrays(np.asarray(rh_percent, np.float64), np.asarray(temp_c, np.float64))
    grams = _sorbed_at_nodes(temp)
    at = np.clip(np.searchsorted(_NODES, np.nan_to_num(rh), side="right") - 1, 0, len(_NODES) - 2)
    low = np.take_along_axis(grams, at[..., None], -1)[..., 0]
    high = np.take_along_axis(grams, at[..., None] + 1, -1)[..., 0]
    share: Array = np.clip((rh - _NODES[at]) / (_NODES[at + 1] - _NODES[at]), 0, 1)
    return low + share * (high - low)


def _gordon_taylor_k() -> float:
    """The constant that puts softening through the one published point."""
    w2 = fig.GLUE_MOBILE_AT_G / (100 + fig.GLUE_MOBILE_AT_G)
    dry = fig.DRY_GELATINE_SOFTENS_C - fig.GLUE_MOBILE_AT_C
    return (1 - w2) * dry / (w2 * (fig.GLUE_MOBILE_AT_C - fig.WATER_SOFTENS_C))


GORDON_TAYLOR_K = _gordon_taylor_k()


def glue_tg(rh_percent: ArrayLike, temp_c: ArrayLike = 25.0) -> Array:
    """Temperature at which glue in equilibrium with this air softens (Gordon-Taylor). Indicative.

    Parameters
    ----------
    rh_percent, temp_c : array-like, broadcast together; the temperature sets how much water is taken up.

    Returns
    -------
    Broadcast shape, NaN for NaN. [°C]

    Source: Gordon-Taylor through one published point (Pinhas et al. 1996); water from `glue_water`.

    >>> glue_tg([40, 60, 80]).round(1).tolist()
    [73.8, 50.2, 19.4]
    """
    grams = glue_water(rh_percent, temp_c)
    w2 = grams / (100 + grams)
    dry, water = fig.DRY_GELATINE_SOFTENS_C + _KELVIN, fig.WATER_SOFTENS_C + _KELVIN
    return ((1 - w2) * dry + GORDON_TAYLOR_K * w2 * water) / ((1 - w2) + GORDON_TAYLOR_K * w2) - _KELVIN


def glue_softening_rh(temp_c: ArrayLike, before_k: float = 0.0) -> Array:
    """Humidity at which glue softens at this temperature, or is so many kelvin before it.

    Parameters
    ----------
    temp_c : array-like. [°C]
    before_k : distance kept from softening. [K]

    Returns
    -------
    Same shape, at most 90 where the table ends. NaN for NaN. [% RH]

    Source: `glue_tg`, solved for the humidity.

    >>> glue_softening_rh([20, 30, 40]).round(1).tolist(), glue_softening_rh(20, 10).round(1).item()
    ([79.6, 74.8, 71.6], 73.8)
    """
    temp = np.asarray(temp_c, np.float64)
    dry, water = fig.DRY_GELATINE_SOFTENS_C + _KELVIN, fig.WATER_SOFTENS_C + _KELVIN
    soft = np.minimum(temp + before_k + _KELVIN, dry)
    w2 = (dry - soft) / ((dry - soft) + GORDON_TAYLOR_K * (soft - water))  # Gordon-Taylor, solved for the water
    wanted = 100 * w2 / (1 - w2)
    grams = _sorbed_at_nodes(temp)
    at: Whole = np.clip((grams <= wanted[..., None]).sum(-1) - 1, 0, len(_NODES) - 2)
    low = np.take_along_axis(grams, at[..., None], -1)[..., 0]
    high = np.take_along_axis(grams, at[..., None] + 1, -1)[..., 0]
    share: Array = np.clip((wanted - low) / (high - low), 0, 1)
    return _NODES[at] + share * (_NODES[at + 1] - _NODES[at])


def equivalent_hours(temp_c: ArrayLike, hours: ArrayLike, ea_kj: float) -> Array:
    """Hours at 20 °C in which as much creep would happen, by Arrhenius. For ranking rooms and days only.

    Parameters
    ----------
    temp_c : (..., n) temperature, time on the last axis, NaN where nothing was read: that adds nothing. [°C]
    hours : scalar or broadcast to the temperature, the time each stands for. [h]
    ea_kj : activation energy; none is published for a lining, so show a band. [kJ/mol]

    Returns
    -------
    (...) hours at 20 °C. [h]

    Source: Arrhenius; the energies are our judgement, see `figures.lining`.

    >>> round(float(equivalent_hours([30.0], 1, 100)), 2)
    3.87
    """
    temp = np.asarray(temp_c, np.float64)
    at_20 = 1 / (fig.CREEP_REFERENCE_C + _KELVIN)
    factor = np.exp(1000 * ea_kj / GAS_CONSTANT * (at_20 - 1 / (temp + _KELVIN)))
    total: Array = np.nansum(factor * np.asarray(hours, np.float64), axis=-1)
    return total


@dataclass(frozen=True)
class Dwell:
    """Time at or over a humidity limit."""

    hours: float
    longest_h: float  # longest spell by the rule of `climate.stretches`; breaks are not counted
    excess: float  # how far over, times how long. [% RH h]


def damp_dwell(rh_percent: ArrayLike, limit_percent: float, bridge_h: float = SPELL_BRIDGES_H) -> Dwell:
    """Hours damp: hourly lagged humidity at or over a limit.

    Parameters
    ----------
    rh_percent : (n,) hourly, NaN where nothing was read: that counts for nothing and breaks a spell as a dry hour does.
    limit_percent : the limit. [% RH]

    >>> damp_dwell([60, 72, 74, 60], 70)
    Dwell(hours=2.0, longest_h=2.0, excess=6.0)
    """
    rh = np.asarray(rh_percent, np.float64)
    damp = rh >= limit_percent
    longest = climate.hours_in_spell(damp, bridge_h).max(initial=0)
    return Dwell(float(damp.sum()), float(longest), float((rh[damp] - limit_percent).sum()))
