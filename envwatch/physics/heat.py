"""Heat at a picture: the plume of a radiator, the sun, a lamp, a stove. Array functions; orders of magnitude.

What a room logger does not see: a sun patch heats a dark surface within minutes, and a radiator's warm air passes
a hand's breadth from the wall.
"""

from __future__ import annotations

import numpy as np

from envwatch.core.arrays import Array, ArrayLike
from envwatch.figures import hanging as fig
from envwatch.figures.walls import EMISSIVITY, STEFAN_BOLTZMANN


def plume_rise_k(watts_per_m: ArrayLike, above_m: ArrayLike) -> Array:
    """How much warmer than the room the air is over a radiator or heated rail, at the wall.

    Parameters
    ----------
    watts_per_m : array-like, convective output per metre of its length. [W/m]
    above_m : array-like, height over its top; nearer than 0.3 m counts as 0.3. [m]

    Returns
    -------
    Broadcast shape; NaN for NaN. Good to half its value either way, from 0.3 to about 2 m. [K]

    Source: plane plume after Rouse, Yih & Humphreys 1952 (from memory), the source doubled by the wall.

    >>> plume_rise_k(700, [0.5, 1.0, 2.0]).round(1).tolist()
    [17.8, 8.9, 4.4]
    """
    height = np.maximum(np.asarray(above_m, np.float64), fig.PLUME_LEAST_M)
    share = (np.asarray(watts_per_m, np.float64) / fig.PLUME_Q) ** (2 / 3)
    return fig.PLUME_AT_700 * share / height


def sun_rise_k(
    irradiance_w_m2: ArrayLike, absorbs: ArrayLike = fig.ABSORBS["dark"], temp_room_c: ArrayLike = 20.0
) -> Array:
    """How much warmer than the room a painting's surface becomes in the sun, once settled (a few minutes).

    Parameters
    ----------
    irradiance_w_m2 : array-like, sun on the picture, behind the window. [W/m²]
    absorbs : array-like, share taken up: light 0.3, middle 0.6, dark 0.9.

    Returns
    -------
    Broadcast shape; NaN for NaN. [K] Radiation and free convection from the face, a fixed loss through the back.

    >>> sun_rise_k([300, 560, 750]).round().tolist()
    [23.0, 40.0, 50.0]
    """
    taken, room = np.broadcast_arrays(
        np.asarray(irradiance_w_m2, np.float64) * np.asarray(absorbs, np.float64), np.asarray(temp_room_c, np.float64)
    )
    rise = np.zeros(taken.shape)
    for _ in range(60):
        radiation = 4 * EMISSIVITY * STEFAN_BOLTZMANN * (room + rise / 2 + 273.15) ** 3
        convection = np.maximum(fig.SUN_CONVECTION_LEAST, fig.SUN_CONVECTION * np.cbrt(rise))
        rise = (rise + taken / (radiation + convection + fig.SUN_BACK)) / 2
    return rise


def lamp_rise_k(lux: ArrayLike, lamp: str = "halogen") -> Array:
    """How much a lamp warms a dark painting. [lx] -> [K]

    Raises
    ------
    ValueError : a lamp other than "halogen" or "led".

    >>> lamp_rise_k([200, 2000]).round(1).tolist(), round(float(lamp_rise_k(2000, "led")), 2)
    ([1.1, 11.2], 0.75)
    """
    if lamp not in fig.LAMP_LM_PER_W:
        raise ValueError(f"lamp {lamp!r}; give one of {', '.join(fig.LAMP_LM_PER_W)}")
    beam = np.asarray(lux, np.float64) / fig.LAMP_LM_PER_W[lamp]
    return fig.ABSORBS["dark"] * beam / fig.LAMP_EXCHANGE
