"""Moist air on numpy arrays. The only module that names psychrolib.

psychrolib is scalar, and changes its behaviour where numba is installed. It is asked once, for the
saturation pressure at the nodes of a table; everything else is interpolation in ln p, which matches it
within 5e-6 K. NaN in, NaN out. Relative humidity is in percent.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from envwatch.core.arrays import Array, ArrayLike
from envwatch.figures.air import GAS_CONSTANT_VAPOUR, RH_NOISE_CEILING, VAPOUR_TO_AIR_MASS

TABLE_FROM_C, TABLE_TO_C, TABLE_STEP_C = -100.0, 200.0, 0.05
TRIPLE_POINT_C = 0.01  # a node of its own: the pressure over ice meets that over water at an angle


@cache
def _table() -> tuple[Array, Array]:
    """Temperatures and ln of the saturation pressure over ice below the triple point, water above."""
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    count = round((TABLE_TO_C - TABLE_FROM_C) / TABLE_STEP_C) + 1
    temp_c = np.sort(np.append(np.linspace(TABLE_FROM_C, TABLE_TO_C, count), TRIPLE_POINT_C))
    return temp_c, np.log([psychrolib.GetSatVapPres(t) for t in temp_c.tolist()])


def usable_rh(rh_percent: ArrayLike) -> Array:
    """Humidity fit for a formula: up to 105 by sensor noise is 100, impossible is NaN. NaN for NaN.

    Array-like, any shape -> same shape. [% RH] -> [% RH]. Source: the ceiling of noise is our judgement.

    >>> usable_rh([50, 101, 140, -1]).tolist()
    [50.0, 100.0, nan, nan]
    """
    rh = np.asarray(rh_percent, np.float64)
    rh = np.where((rh < 0) | (rh > RH_NOISE_CEILING), np.nan, rh)
    return np.minimum(rh, 100.0)


def saturation_pressure(temp_c: ArrayLike) -> Array:
    """Saturation vapour pressure, over ice below 0.01 °C and over water above.

    Parameters
    ----------
    temp_c : array-like, any shape. [°C]

    Returns
    -------
    Same shape. NaN for NaN and outside -100 to 200 °C. [Pa]

    Source: ASHRAE Handbook Fundamentals 2017, chapter 1, equations 5 and 6, through PsychroLib.

    >>> round(float(saturation_pressure(25.0)), 1)
    3169.2
    """
    nodes_c, ln_p = _table()
    return np.exp(np.interp(np.asarray(temp_c, np.float64), nodes_c, ln_p, left=np.nan, right=np.nan))


def vapour_pressure(temp_c: ArrayLike, rh_percent: ArrayLike) -> Array:
    """Partial pressure of water vapour.

    Parameters
    ----------
    temp_c, rh_percent : array-like, broadcast together. [°C], [% RH]

    Returns
    -------
    Broadcast shape. NaN for NaN and for humidity outside 0 to 105 %; 100 to 105 % counts as 100. [Pa]

    Source: ASHRAE Handbook Fundamentals 2017, chapter 1, through PsychroLib.

    >>> round(float(vapour_pressure(20.0, 50.0)), 1)
    1169.4
    """
    return usable_rh(rh_percent) / 100 * saturation_pressure(temp_c)


def dew_point_from_vapour(vapour_pa: ArrayLike) -> Array:
    """Temperature at which air of this vapour pressure is saturated; below 0 °C the frost point.

    Array-like, any shape -> same shape. NaN for NaN and for no vapour at all. [Pa] -> [°C]

    Source: ASHRAE Handbook Fundamentals 2017, chapter 1, through PsychroLib.

    >>> round(float(dew_point_from_vapour(1169.4)), 2)
    9.27
    """
    nodes_c, ln_p = _table()
    with np.errstate(divide="ignore", invalid="ignore"):
        ln = np.log(np.asarray(vapour_pa, np.float64))
    return np.interp(ln, ln_p, nodes_c, left=np.nan, right=np.nan)


def dew_point(temp_c: ArrayLike, rh_percent: ArrayLike) -> Array:
    """Dew point of moist air; below 0 °C the frost point (saturation over ice).

    Parameters
    ----------
    temp_c, rh_percent : array-like, broadcast together. [°C], [% RH]

    Returns
    -------
    Broadcast shape, within 0.001 K of PsychroLib. NaN for NaN, for 0 % (no dew point) and for humidity
    outside 0 to 105 %; 100 to 105 % counts as 100. [°C]

    Source: ASHRAE Handbook Fundamentals 2017, chapter 1, through PsychroLib.

    >>> round(float(dew_point(20.0, 50.0)), 2)
    9.27
    """
    return dew_point_from_vapour(vapour_pressure(temp_c, rh_percent))


def rh_at(temp_c: ArrayLike, rh_percent: ArrayLike, surface_temp_c: ArrayLike) -> Array:
    """Relative humidity the same air has at another temperature, at constant vapour pressure.

    Array-like, broadcast together -> broadcast shape. May exceed 100: condensation. NaN for NaN and for humidity
    outside 0 to 105 %. [°C], [% RH], [°C] -> [% RH]

    Source: constant vapour pressure; saturation as in `saturation_pressure`.

    >>> round(float(rh_at(20.0, 50.0, 12.0)), 1)
    83.4
    """
    return 100 * vapour_pressure(temp_c, rh_percent) / saturation_pressure(surface_temp_c)


def humidity_ratio(temp_c: ArrayLike, rh_percent: ArrayLike, pressure_pa: ArrayLike = 101_325.0) -> Array:
    """Mass of vapour per mass of dry air.

    Array-like, broadcast together -> broadcast shape. NaN for NaN. [°C], [% RH], [Pa] -> [kg/kg]

    Source: ASHRAE Handbook Fundamentals 2017, chapter 1, equation 20 (ideal gas: 0.4 to 0.5 % below a
    real-gas calculation).

    >>> round(float(humidity_ratio(20.0, 50.0)), 5)
    0.00726
    """
    vapour = vapour_pressure(temp_c, rh_percent)
    return VAPOUR_TO_AIR_MASS * vapour / (np.asarray(pressure_pa, np.float64) - vapour)


def absolute_humidity(temp_c: ArrayLike, rh_percent: ArrayLike) -> Array:
    """Mass of vapour per volume of air.

    Array-like, broadcast together -> broadcast shape. NaN for NaN. [°C], [% RH] -> [g/m³]

    Source: ideal gas; saturation as in `saturation_pressure`.

    >>> round(float(absolute_humidity(20.0, 50.0)), 2)
    8.64
    """
    kelvin = np.asarray(temp_c, np.float64) + 273.15
    return 1000 * vapour_pressure(temp_c, rh_percent) / (GAS_CONSTANT_VAPOUR * kelvin)


def standard_pressure(altitude_m: ArrayLike) -> Array:
    """Air pressure of the standard atmosphere.

    Array-like, any shape -> same shape, NaN for NaN. [m] -> [Pa]

    Source: ASHRAE Handbook Fundamentals 2017, chapter 1, equation 3.

    >>> round(float(standard_pressure(500.0)))
    95461
    """
    return 101_325 * (1 - 2.25577e-5 * np.asarray(altitude_m, np.float64)) ** 5.2559
