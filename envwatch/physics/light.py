"""Light at a picture: the dose of a year, and whether the sun can fall on it through a window. Array functions."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pandas as pd

from envwatch.core.arrays import Array
from envwatch.figures import hanging as fig

COMPASS = {"N": 0.0, "NE": 45.0, "E": 90.0, "SE": 135.0, "S": 180.0, "SW": 225.0, "W": 270.0, "NW": 315.0}


def daylight_dose_lux_h(where: str, facing: str = "S", curtain: str = "none", latitude: float = 50.0) -> float:
    """Daylight on a wall in a year, guessed from where it is; good to a factor of two either way.

    Parameters
    ----------
    where : a key of `figures.hanging.WINDOW_SHARE`: "side wall", "opposite the window" …
    facing : compass point the window faces. South of the equator north and south change places.
    curtain : a key of `figures.hanging.CURTAIN_PASSES`.

    Returns
    -------
    Without any direct sun. [lx h a year]

    >>> round(daylight_dose_lux_h("side wall", "N") / 1e6, 2), round(daylight_dose_lux_h("side wall", "S") / 1e6, 2)
    (0.72, 1.15)
    """
    sides = [point for point in facing.upper() if point in fig.FACING_TIMES]
    if latitude < 0:
        sides = [{"N": "S", "S": "N"}.get(point, point) for point in sides]
    times = float(np.mean([fig.FACING_TIMES[point] for point in sides])) if sides else max(fig.FACING_TIMES.values())
    return float(1000 * fig.OUTDOOR_KLX_H * fig.WINDOW_SHARE[where] * times * fig.CURTAIN_PASSES[curtain])


@dataclass(frozen=True)
class Glazing:
    """A window as the sun sees it, and where a picture hangs behind it.

    Attributes
    ----------
    facing_deg : compass direction it looks to, 0 north, 90 east. [°]
    head_m, sill_m, width_m : of the opening; heights over the floor. [m]
    depth_m : from the window's plane into the room to the picture. [m]
    aside_m : from the window's middle sideways to the picture, to the right as seen from outdoors positive. [m]
    low_m, high_m : lower and upper edge of the picture over the floor. [m]
    """

    facing_deg: float
    head_m: float = 2.2
    sill_m: float = 0.8
    width_m: float = 1.4
    depth_m: float = 3.0
    aside_m: float = 0.0
    low_m: float = 1.2
    high_m: float = 1.9


@dataclass(frozen=True)
class SunOnPicture:
    """Direct sun on a picture in a year, were the sky always clear and nothing stood outside."""

    hours: float
    months: tuple[int, ...]
    strongest_w_m2: float  # on a surface square to the beam, behind single glazing

    @property
    def falls(self) -> bool:
        return self.hours > 0


@lru_cache(maxsize=64)
def sun_on_picture(window: Glazing, latitude: float, longitude: float, year: int = 2026) -> SunOnPicture:
    """Hours of a year in which the sun can fall through a window onto a picture, every ten minutes.

    Trees, houses opposite, blinds and clouds are not counted: a "no" is sure, a "yes" is to be looked at.

    Returns
    -------
    Hours, the months (1 to 12) in which it happens, and the strongest beam.

    Source: Reda & Andreas 2004, the sun's position; Ineichen 2008, simplified Solis clear sky; both from memory.
    """
    step_h = 1 / 6
    time = pd.date_range(f"{year}-01-01", f"{year + 1}-01-01", freq="10min", tz="UTC", inclusive="left")
    azimuth, elevation = _sun(time, latitude, longitude)
    turn = np.radians(azimuth - window.facing_deg)
    with np.errstate(divide="ignore", invalid="ignore"):
        rises = window.depth_m * np.tan(np.radians(elevation)) / np.cos(turn)
        moves = window.depth_m * np.tan(turn)  # seen from outdoors, sun to the right lights what is to the left
    in_front = (elevation > 0) & (np.cos(turn) > 1e-3)
    # somewhere on the picture's height the ray comes through the opening
    high_enough = (window.high_m + rises >= window.sill_m) & (window.low_m + rises <= window.head_m)
    hit = in_front & high_enough & (np.abs(window.aside_m - moves) <= window.width_m / 2)
    beam = fig.GLASS_PASSES * _beam(elevation[hit]) if hit.any() else np.zeros(1)
    return SunOnPicture(float(hit.sum() * step_h), tuple(sorted({int(m) for m in time.month[hit]})), float(beam.max()))


def _sun(time: pd.DatetimeIndex, latitude: float, longitude: float) -> tuple[Array, Array]:
    from pvlib import solarposition

    found = solarposition.get_solarposition(time, latitude, longitude)
    return found["azimuth"].to_numpy(), found["apparent_elevation"].to_numpy()


def _beam(elevation: Array) -> Array:
    """Clear-sky beam, square to itself. [°] -> [W/m²]"""
    from pvlib import clearsky

    return np.asarray(clearsky.simplified_solis(np.maximum(elevation, 0.1))["dni"], float)
