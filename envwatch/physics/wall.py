"""Temperature and humidity at the wall face and the canvas back behind a picture on an outer wall.

A picture insulates the wall behind it: the wall face grows colder and damper than the bare wall, the canvas
back stays warmer. Steady heat flow in one dimension; the air behind the picture holds the room's vapour. Outdoor
temperature is given as a mean the wall can follow (`OUTDOOR_MEAN_H` for masonry), never as an hour's reading.
Not for a wall that is itself damp, nor in sun.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from envwatch import air
from envwatch.core.arrays import Array, ArrayLike, Number
from envwatch.figures import walls as fig


def wall_resistance(u_value: float) -> float:
    """Thermal resistance of a wall from outdoor air to its inner face. [W/(m²K)] -> [m²K/W]

    Raises
    ------
    ValueError : a U-value not above 0, or so high that the wall would have no resistance.

    >>> round(wall_resistance(2.1), 3)
    0.346
    """
    if not 0 < u_value < 1 / fig.SURFACE_INSIDE:
        raise ValueError(f"a U-value of {u_value:g} W/(m²K); a wall has more than 0 and less than 7.7")
    return 1 / u_value - fig.SURFACE_INSIDE


def gap_resistance(
    gap_mm: ArrayLike, mean_temp_c: ArrayLike = 10.0, emissivity: tuple[float, float] = (fig.EMISSIVITY, fig.EMISSIVITY)
) -> Array:
    """Thermal resistance of a closed vertical air gap.

    Parameters
    ----------
    gap_mm : array-like; meant for 5 to 100 mm. 0: the faces touch. [mm]
    mean_temp_c : array-like, temperature of the gap. [°C]
    emissivity : of the two faces; a bright metal face has about 0.05.

    Returns
    -------
    Broadcast shape; NaN for NaN. [m²K/W]

    Source: the form of ISO 6946, annex on air layers (coefficients from memory).

    >>> gap_resistance([5, 10, 25]).round(2).tolist()
    [0.11, 0.15, 0.18]
    """
    depth_m = np.asarray(gap_mm, np.float64) / 1000
    if np.any(depth_m < 0):
        raise ValueError(f"a gap of {np.min(gap_mm):g} mm; give 0 or more")
    with np.errstate(divide="ignore", over="ignore"):  # faces that touch, or nearly
        convection = np.maximum(fig.CONVECTION_STILL, np.divide(float(fig.CONDUCTION_AIR), depth_m))
    black = 4 * fig.STEFAN_BOLTZMANN * (np.asarray(mean_temp_c, np.float64) + 273.15) ** 3
    exchange = 1 / (1 / emissivity[0] + 1 / emissivity[1] - 1)
    return 1 / (convection + exchange * black)


def wall_face_temp(
    temp_room_c: ArrayLike, temp_out_c: ArrayLike, *, u_value: float = fig.WALL_U_SOLID_BRICK,
    resistance_m2kw: Number = fig.SURFACE_INSIDE,
) -> Array:  # fmt: skip
    """Temperature of the inner face of an outer wall.

    Parameters
    ----------
    temp_room_c, temp_out_c : array-like, broadcast together; outdoors as a mean the wall follows. [°C]
    u_value : of the bare wall. [W/(m²K)]
    resistance_m2kw : from the face to the room air: the surface's own for a bare wall, more behind a picture.

    Returns
    -------
    Broadcast shape; NaN for NaN. [°C]

    Source: ISO 6946 and ISO 13788, temperature factor at the inner surface.

    >>> round(float(wall_face_temp(20.0, 0.0, u_value=2.1)), 2)
    14.54
    """
    wall = wall_resistance(u_value)
    factor = wall / (wall + resistance_m2kw)
    return _between(temp_room_c, temp_out_c, factor)


def canvas_back_temp(
    temp_room_c: ArrayLike, temp_out_c: ArrayLike, *, u_value: float = fig.WALL_U_SOLID_BRICK, behind_m2kw: Number,
    canvas_m2kw: Number = fig.LINED_CANVAS,
) -> Array:  # fmt: skip
    """Temperature of the back of the canvas in front of an outer wall, with closed layers behind it.

    `behind_m2kw` is the resistance from the canvas back to the wall face (gap, board, gap); with
    `canvas_m2kw=0` the result is the paint face. Shapes, missing data (NaN) and source as `wall_face_temp`. [°C]

    >>> round(float(canvas_back_temp(20.0, 0.0, u_value=2.1, behind_m2kw=gap_resistance(5))), 2)
    15.04
    """
    front = fig.SURFACE_INSIDE + canvas_m2kw
    factor = 1 - front / (wall_resistance(u_value) + front + behind_m2kw)
    return _between(temp_room_c, temp_out_c, factor)


def _between(temp_room_c: ArrayLike, temp_out_c: ArrayLike, factor: Number) -> Array:
    out_c = np.asarray(temp_out_c, np.float64)
    return out_c + factor * (np.asarray(temp_room_c, np.float64) - out_c)


@lru_cache(maxsize=256)
def open_gap_factors(
    u_value: float,
    gap_mm: float,
    back_m2kw: float = 0.0,
    height_m: float = fig.OPEN_GAP_HEIGHT_M,
    glazing_m2kw: float = 0.0,
) -> tuple[float, float, float, float]:
    """Temperature factors where room air falls through a gap that is open at the top and at the bottom.

    Air enters at room temperature, is cooled by the wall and warmed through the picture, and sinks at the speed
    at which its weight pays for friction. Our own model, not measured; it ranks mountings.

    Parameters
    ----------
    u_value : of the bare wall. [W/(m²K)]
    gap_mm : clear distance between the picture's back and the wall; above 0. [mm]
    back_m2kw : resistance of cavity and board between the canvas and the gap. [m²K/W]
    height_m : height of the picture. [m]
    glazing_m2kw : resistance of glass and the air behind it, in front of the paint. [m²K/W]

    Returns
    -------
    (wall mean, wall at the lower edge, canvas back mean, canvas back at the lower edge), each (T - out)/(room - out).

    >>> [round(20 * f, 1) for f in open_gap_factors(2.1, 25)]
    [12.4, 11.8, 17.2, 16.8]
    """
    if not gap_mm > 0:
        raise ValueError(f"an open gap of {gap_mm:g} mm; give more than 0, or a closed gap")
    depth_m, canvas = gap_mm / 1000, fig.SURFACE_INSIDE + glazing_m2kw + fig.LINED_CANVAS
    wall, front = wall_resistance(u_value), canvas + back_m2kw
    convection = max(fig.OPEN_GAP_CONVECTION, 2 * np.divide(float(fig.CONDUCTION_AIR), depth_m))
    # both faces are linear in the gap's air: face = still + slope * air, with outdoors 0 and the room 1
    across = convection + fig.OPEN_GAP_RADIATION
    balance = [[1 / wall + across, -fig.OPEN_GAP_RADIATION], [-fig.OPEN_GAP_RADIATION, 1 / front + across]]
    still, slope = np.linalg.solve(balance, [[0, convection], [1 / front, convection]]).T
    settles = still.sum() / (2 - slope.sum())  # the air of an endless gap
    units = convection * (2 - slope.sum()) * height_m / (fig.AIR_DENSITY * fig.AIR_HEAT * depth_m)
    speed = _speed(units, settles, depth_m, height_m)
    low = settles + (1 - settles) * np.exp(-units / speed)
    mean = _mean_air(units / speed, settles)
    (wall_mean, back_mean), (wall_low, back_low) = still + slope * mean, still + slope * low
    return (
        float(wall_mean), float(wall_low),
        float(1 - (1 - back_mean) * canvas / front), float(1 - (1 - back_low) * canvas / front),
    )  # fmt: skip


def _mean_air(transfer_units: float, settles: float) -> float:
    return settles + (1 - settles) * -float(np.expm1(-transfer_units)) / transfer_units


def _speed(units: float, settles: float, depth_m: float, height_m: float) -> float:
    """Speed of the falling air, where its weight equals friction and losses; by bisection. [m/s]"""
    slow, fast = 1e-6, 10.0
    for _ in range(60):
        speed: float = (slow * fast) ** 0.5
        colder = fig.OPEN_GAP_DROP_K * (1 - _mean_air(units / speed, settles))
        weight = fig.AIR_DENSITY * fig.GRAVITY * colder / 288 * height_m
        friction = 12 * fig.AIR_VISCOSITY * speed * height_m / depth_m**2
        if weight > friction + fig.OPEN_GAP_LOSSES * fig.AIR_DENSITY * speed**2 / 2:
            slow = speed
        else:
            fast = speed
    return speed


def behind_picture(
    temp_room_c: ArrayLike,
    rh_room_percent: ArrayLike,
    temp_out_c: ArrayLike,
    *,
    u_value: float = fig.WALL_U_SOLID_BRICK,
    backed: bool = False,
    gap_mm: float = fig.CANVAS_TO_WALL_MM,
    open_gap: bool = False,
    height_m: float = fig.OPEN_GAP_HEIGHT_M,
    board_m2kw: float = fig.BACKING_BOARD,
    glazing_m2kw: float = 0.0,
) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
    """Air at the wall face and at the canvas back, behind a picture on an outer wall.

    Parameters
    ----------
    temp_room_c, rh_room_percent : array-like, the room. [°C], [% RH]
    temp_out_c : array-like, outdoors, as the mean over `OUTDOOR_MEAN_H` hours that matches each reading. [°C]
    u_value : of the bare wall; run a low and a high one where it is not known. [W/(m²K)]
    backed : whether there is a backing board (behind a cavity of the stretcher's depth).
    gap_mm : clear distance between the picture's back (canvas, or board) and the wall. [mm]
    open_gap : open at top and bottom, so that room air falls through it; else closed, which is the worse.
    height_m : height of the picture, for an open gap. [m]
    board_m2kw : thermal resistance of the board. [m²K/W]
    glazing_m2kw : of glass and the air behind it; 0 unglazed. It keeps the room's warmth off the canvas. [m²K/W]

    Returns
    -------
    ((wall temp_c, wall rh_percent), (canvas temp_c, canvas rh_percent)), broadcast shape, at the lower edge where
    the gap is open. Humidity is capped at 100 %, where water condenses. NaN for NaN.

    Source: ISO 6946 and ISO 13788 for the closed gap; our own model for the open one; vapour pressure of the room.

    >>> (wall_c, wall_rh), (back_c, back_rh) = behind_picture(20.0, 50.0, 0.0, u_value=2.1, gap_mm=5)
    >>> [round(float(x), 1) for x in (wall_c, wall_rh, back_c, back_rh)]
    [11.4, 86.5, 15.0, 68.4]
    """
    board = gap_resistance(fig.BOARD_CAVITY_MM) + board_m2kw if backed else 0.0
    if open_gap:
        _, wall, _, canvas = open_gap_factors(*map(float, (u_value, gap_mm, board, height_m, glazing_m2kw)))
        wall_c, canvas_c = _between(temp_room_c, temp_out_c, wall), _between(temp_room_c, temp_out_c, canvas)
    else:
        behind = board + gap_resistance(gap_mm)
        front = fig.LINED_CANVAS + glazing_m2kw
        to_room = fig.SURFACE_INSIDE + front + behind
        wall_c = wall_face_temp(temp_room_c, temp_out_c, u_value=u_value, resistance_m2kw=to_room)
        canvas_c = canvas_back_temp(temp_room_c, temp_out_c, u_value=u_value, behind_m2kw=behind, canvas_m2kw=front)
    wall_rh, canvas_rh = (np.minimum(air.rh_at(temp_room_c, rh_room_percent, c), 100.0) for c in (wall_c, canvas_c))
    return (wall_c, wall_rh), (canvas_c, canvas_rh)
