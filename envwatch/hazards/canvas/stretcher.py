"""The wood of the stretcher: the water it holds, and how much wider or narrower its bars grow."""

from __future__ import annotations

import numpy as np

from envwatch.core.arrays import Array, ArrayLike
from envwatch.figures import canvas as fig


def wood_moisture(temp_c: ArrayLike, rh_percent: ArrayLike) -> Array:
    """Water that wood holds in equilibrium with air, as a share of its dry mass.

    Parameters
    ----------
    temp_c, rh_percent : array-like, broadcast together. [°C], [% RH]

    Returns
    -------
    Broadcast shape; the mean of taking up and giving off. NaN for NaN and outside 0 to 100 % RH. [%]

    Source: Wood Handbook (FPL-GTR-282, 2021), equation 4-5 (Simpson, after Hailwood and Horrobin).

    >>> wood_moisture(21.1, [30, 50, 75]).round(1).tolist()
    [6.2, 9.2, 14.4]
    """
    t, rh = np.broadcast_arrays(np.asarray(temp_c, np.float64), np.asarray(rh_percent, np.float64))
    h = np.where((rh >= 0) & (rh <= 100), rh, np.nan) / 100
    w, k, k1, k2 = (a + b * t + c * t**2 for a, b, c in fig.WOOD_MOISTURE)
    kh = k * h
    two_hydrates = (k1 * kh + 2 * k1 * k2 * kh**2) / (1 + k1 * kh + k1 * k2 * kh**2)
    return 1800 / w * (kh / (1 - kh) + two_hydrates)


def bar_change_mm(
    rh_percent: ArrayLike, used_to_rh_percent: ArrayLike, width_mm: float = 60.0, temp_c: float = 20.0
) -> Array:
    """How much wider a stretcher bar is than at the humidity it is used to; along the grain it hardly moves.

    Array-like, broadcast together -> broadcast shape; NaN in, NaN out. [% RH], [% RH], [mm], [°C] -> [mm]

    Source: `wood_moisture`, and a coefficient across the grain from memory.

    >>> bar_change_mm([30, 70], 50).round(2).tolist()
    [-0.49, 0.61]
    """
    moved = wood_moisture(temp_c, rh_percent) - wood_moisture(temp_c, used_to_rh_percent)
    return fig.WOOD_ACROSS_PER_PERCENT * moved * width_mm
