"""The moisture balance of one room: air and what is hygroscopic in it as one store of water.

    d/dt [(V v_s(T)/100 + C) RH] = flow (v_out - v_in) + G - R - K

V volume, v_s saturated content of the air, C what the things in the room hold for each % RH, flow the air that is
exchanged, G moisture given off, R drawn off by a machine, K what condenses. The water is conserved when the temperature
moves. Well mixed, one zone, outdoor air only; things at the temperature of the air. Damp from the ground is in G.
"""

from __future__ import annotations

import numpy as np

from envwatch import air
from envwatch.core.arrays import Array, ArrayLike, Number
from envwatch.figures import dehumidifier as fig
from envwatch.figures.air import GAS_CONSTANT_VAPOUR

KELVIN = 273.15


def content(vapour_pa: ArrayLike, temp_c: ArrayLike) -> Array:
    """Mass of vapour in the air at a temperature; outdoor air carried in keeps its vapour pressure.

    Array-like [Pa], [°C] -> broadcast shape [g/m³]; NaN for NaN.

    >>> float(content(1400.0, 20.0).round(3))
    10.348
    """
    return 1000 * np.asarray(vapour_pa, np.float64) / (GAS_CONSTANT_VAPOUR * (np.asarray(temp_c, np.float64) + KELVIN))


def per_percent(temp_c: ArrayLike) -> Array:
    """Vapour that the air holds for each % RH. [°C] -> [g/m³ per % RH]"""
    return content(air.saturation_pressure(temp_c), temp_c) / 100


def latent_kwh_per_kg(temp_c: ArrayLike) -> Array:
    """Heat set free when water is drawn out of the air as liquid. [°C] -> [kWh/kg]

    >>> float(latent_kwh_per_kg(20.0).round(4))
    0.6818
    """
    kj_per_kg: Array = np.subtract(fig.LATENT_AT_0, np.multiply(fig.LATENT_SLOPE, temp_c))
    return kj_per_kg / 3600


def step_factors(flow_m3_h: Number, s1: Number, capacity_g: Number, step_h: float) -> tuple[Array, Array]:
    """The exact step with its inputs held: RH after = kept x RH before + (flow v_out + G - R) x raised.

    Parameters
    ----------
    flow_m3_h : air exchanged, 0 allowed. [m³/h]
    s1, capacity_g : content of the air, and of air and things together, for each % RH. [g/m³], [g]
    step_h : any length: nothing oscillates. [h]

    Returns
    -------
    kept [1], raised [% RH per g/h]; broadcast shape.
    """
    x = np.maximum(flow_m3_h * s1 * step_h / capacity_g, 1e-12)
    lost = -np.expm1(-x)
    return 1 - lost, lost / x * (step_h / capacity_g)


def mean_over_step(
    before: Number, flow_m3_h: Number, s1: Number, capacity_g: Number, gain_g_h: Number, step_h: float
) -> Array:
    """Mean humidity within a step, from the closed form; `gain_g_h` is flow v_out + G - R, flow over 0. [% RH]"""
    settles = gain_g_h / (flow_m3_h * s1)
    x = flow_m3_h * s1 * step_h / capacity_g
    return settles + (before - settles) * -np.expm1(-x) / x


def buffering(volume_m3: ArrayLike, buffer_g: ArrayLike, temp_c: ArrayLike) -> Array:
    """How many times slower a room's vapour answers for what is hygroscopic in it: 1 + C / (V v_s/100).

    [m³], [g/% RH], [°C] -> [1]

    >>> float(buffering(50.0, 100.0, 20.0).round(3))
    12.57
    """
    return 1 + np.asarray(buffer_g, np.float64) / (np.asarray(volume_m3, np.float64) * per_percent(temp_c))


def load_g_h(
    flow_m3_h: ArrayLike, outside_pa: ArrayLike, temp_c: ArrayLike, target_percent: ArrayLike, source_g_h: ArrayLike
) -> Array:
    """Water that must be drawn off to hold a humidity; below 0 none need be. Broadcast [g/h]

    >>> from envwatch import air
    >>> float(load_g_h(75.0, air.vapour_pressure(17.0, 85.0), 20.0, 55.0, 170.0).round(1))
    370.1
    """
    brought = content(outside_pa, temp_c) - np.asarray(target_percent, np.float64) * per_percent(temp_c)
    return np.asarray(flow_m3_h, np.float64) * brought + np.asarray(source_g_h, np.float64)
