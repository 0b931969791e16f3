"""Slow chemical ageing relative to 20 °C and 50 % RH. Array functions and one sentence; no years, no score.

The formula tells how one air compares with another, for one kind of material. It knows nothing of light, of
pollutants, of where a canvas starts from, and nothing of creep or loss of bond in a lining, which are matters of
temperature and time over a limit. No activation energy of a lining film was found in print, so for those the
two published ones stand as a range.
"""

from __future__ import annotations

import numpy as np

from envwatch.core.arrays import Array, ArrayLike
from envwatch.figures import Figure
from envwatch.figures import canvas as fig

KELVIN = 273.15
CLASSES = {  # material -> activation energies, one or a range
    "canvas, glue and paper labels": (fig.AGEING_CELLULOSE_J,),
    "varnish, yellowing": (fig.AGEING_VARNISH_J,),
    "lining film": (fig.AGEING_VARNISH_J, fig.AGEING_CELLULOSE_J),
}


def relative_life(temp_c: ArrayLike, rh_percent: ArrayLike, activation_j_mol: float = fig.AGEING_CELLULOSE_J) -> Array:
    """How many times as long a material lasts as at 20 °C and 50 % RH.

    Parameters
    ----------
    temp_c, rh_percent : array-like, broadcast together. [°C], [% RH]
    activation_j_mol : activation energy: 100 kJ/mol for cellulose and glue, 70 for varnish. [J/mol]

    Returns
    -------
    Broadcast shape: (50/RH)^1.3 exp(E/R (1/T - 1/T0)), 1 at 20 °C and 50 %. NaN for NaN and outside 0 to
    35 °C or 20 to 80 % RH, where the formula is not used. Never average lives: see `mean_relative_life`.

    Source: Michalski 2002; formula as quoted in a thesis. The reference is taken as 293.15 K.

    >>> relative_life([20, 15, 25], 50).round(3).tolist(), round(float(relative_life(20, 25)), 3)
    ([1.0, 2.038, 0.503], 2.462)
    """
    temp, rh = np.broadcast_arrays(np.asarray(temp_c, np.float64), np.asarray(rh_percent, np.float64))
    inside = (temp >= fig.AGEING_VALID_C[0]) & (temp <= fig.AGEING_VALID_C[1])
    inside &= (rh >= fig.AGEING_VALID_RH[0]) & (rh <= fig.AGEING_VALID_RH[1])
    temp, rh = np.where(inside, temp, np.nan), np.where(inside, rh, np.nan)
    warmth = 1 / (temp + KELVIN) - 1 / (fig.AGEING_REFERENCE_C + KELVIN)
    humidity = (fig.AGEING_REFERENCE_RH / rh) ** fig.AGEING_RH_POWER
    return humidity * np.exp(activation_j_mol / fig.GAS_CONSTANT * warmth)


def mean_relative_life(
    temp_c: ArrayLike, rh_percent: ArrayLike, hours: ArrayLike, activation_j_mol: float = fig.AGEING_CELLULOSE_J
) -> Array:
    """Relative life over a record: the rates of ageing are averaged, not the lives.

    Parameters
    ----------
    temp_c, rh_percent : (..., n) with time on the last axis. [°C], [% RH]
    hours : (n,) time each reading stands for. [h]

    Returns
    -------
    (...,) NaN where nothing was read inside the range of the formula.

    Source: as `relative_life`; rates add up, so lives are averaged as their inverses.

    >>> float(mean_relative_life([15.0, 25.0], [50.0, 50.0], [12, 12]).round(4))
    0.8063
    """
    rate = 1 / relative_life(temp_c, rh_percent, activation_j_mol)
    weight = np.where(np.isfinite(rate), np.asarray(hours, np.float64), 0.0)
    total = weight.sum(axis=-1)
    aged = np.where(weight > 0, rate * weight, 0.0).sum(axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(total > 0, total / aged, np.nan)


def ageing_sentence(temp_c: ArrayLike, rh_percent: ArrayLike, hours: ArrayLike) -> str:
    """One sentence on how fast the materials aged against 20 °C and 50 %; (n,) arrays over one record."""
    hours = np.asarray(hours, np.float64)
    used = np.isfinite(relative_life(temp_c, rh_percent))
    if not used.any():
        return "Nothing can be said of slow ageing: no reading lies within 0 to 35 °C and 20 to 80 % RH."
    told = ", ".join(f"{name} {_speed(temp_c, rh_percent, hours, of)}" for name, of in CLASSES.items())
    left = 1 - hours[used].sum() / hours.sum()
    out = f"; {100 * left:.0f} % of the time lies outside the range of the formula" if left > 0.005 else ""
    return f"Against 20 °C and 50 % RH, slow ageing ran: {told}{out}. A direction, not a span of years."


def _speed(temp_c: ArrayLike, rh_percent: ArrayLike, hours: ArrayLike, energies: tuple[Figure, ...]) -> str:
    speeds = sorted(1 / float(mean_relative_life(temp_c, rh_percent, hours, energy)) for energy in energies)
    return "at " + " to ".join(f"{speed:.1f}" for speed in dict.fromkeys(speeds)) + " times the pace"
