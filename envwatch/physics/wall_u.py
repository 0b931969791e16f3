"""What is known of a wall: its U-value from what it is built of or from one reading, and what follows from it.

A table's U-value and those measured on walls of its kind lie far apart, so a wall is a band: lowest, usual, highest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from envwatch import air
from envwatch.core.arrays import Array, ArrayLike
from envwatch.figures import hanging as fig
from envwatch.figures.walls import BACKING_BOARD, BOARD_CAVITY_MM, LINED_CANVAS, SURFACE_INSIDE
from envwatch.physics import wall

Band = tuple[float, float, float]


def u_band(construction: str, thickness_mm: float | None = None, lined: bool = False, corner: bool = False) -> Band:
    """Lowest, usual and highest U-value of a wall by what it is built of. [W/(m²K)]

    Parameters
    ----------
    construction : a key of `figures.hanging.WALLS`.
    thickness_mm : of a stone wall; sets its highest value.
    lined : dry lining, or lath and plaster, on it.
    corner : the picture hangs in an outer corner, at the wall's low edge or in a reveal.

    Raises
    ------
    ValueError : another construction, or a thickness that no wall has.

    >>> [round(u, 2) for u in u_band("stone", 600)], [round(u, 2) for u in u_band("stone", 600, lined=True)][2]
    ([0.9, 1.4, 1.8], 1.38)
    """
    if construction not in fig.WALLS:
        raise ValueError(f"a wall of {construction!r}; give one of {', '.join(fig.WALLS)}")
    low, usual, high = (float(u) for u in fig.WALLS[construction])
    if thickness_mm is not None and construction in ("stone", "granite"):
        high = stone_u(thickness_mm, granite=construction == "granite")
        low, usual = min(low, high), min(usual, high)
    if lined:
        low, usual, high = (lined_u(u) for u in (low, usual, high))
    if corner:
        low, usual, high = (corner_u(u) for u in (low, usual, high))
    return low, usual, high


def stone_u(thickness_mm: float, granite: bool = False) -> float:
    """U-value of a solid stone wall by its thickness, as the Scottish tables reckon it. [mm] -> [W/(m²K)]

    >>> round(stone_u(600), 2)
    1.8
    """
    if not 150 <= thickness_mm <= 1400:
        raise ValueError(f"a stone wall of {thickness_mm:g} mm; give 150 to 1400")
    return float((fig.GRANITE_AT_0_MM if granite else fig.STONE_AT_0_MM) - fig.STONE_PER_MM * thickness_mm)


def lined_u(u_value: float) -> float:
    """U-value of the same wall behind dry lining or lath and plaster. [W/(m²K)]

    >>> round(lined_u(1.8), 2)
    1.38
    """
    return float(1 / (1 / u_value + fig.LINED_WALL))


def corner_u(u_value: float) -> float:
    """The U-value that a corner, low edge or reveal amounts to: its bare temperature factor is 0.85 of the wall's.

    >>> round(1 - 0.13 * corner_u(2.1), 3)
    0.618
    """
    return float((1 - fig.CORNER_FACTOR * (1 - SURFACE_INSIDE * u_value)) / SURFACE_INSIDE)


def u_from_reading(surface_c: float, room_c: float, out_c: float, u_k: float = fig.READING_U_K) -> Band:
    """U-value from one reading of the bare wall's surface on a cold morning; it replaces the table.

    Parameters
    ----------
    surface_c, room_c, out_c : wall surface (infrared or contact, no sun on the wall), room, mean of the last day
        outdoors. [°C]
    u_k : uncertainty of the surface reading. [K]

    Returns
    -------
    (lowest, read, highest). [W/(m²K)]

    Raises
    ------
    ValueError : room and outdoors less than 10 K apart, or a surface outside the two.

    >>> [round(u, 2) for u in u_from_reading(14.5, 20.0, 0.0)]
    [1.54, 2.12, 2.69]
    """
    apart = room_c - out_c
    if apart < fig.READING_LEAST_K:
        raise ValueError(
            f"room {room_c:g} and outdoors {out_c:g} °C are {apart:.0f} K apart; a reading of the wall needs "
            f"{fig.READING_LEAST_K:g} K or more: read it again on a cold morning"
        )
    if not out_c < surface_c <= room_c:
        raise ValueError(f"a wall at {surface_c:g} °C between {room_c:g} indoors and {out_c:g} outdoors; read it again")
    factor, off = (surface_c - out_c) / apart, u_k / apart
    low, read, high = (float((1 - f) / SURFACE_INSIDE) for f in (factor + off, factor, factor - off))
    return max(low, 0.1), min(max(read, 0.1), 7.0), min(high, 7.0)


def critical_factor(
    limit_percent: ArrayLike, temp_room_c: ArrayLike, rh_room_percent: ArrayLike, temp_out_c: ArrayLike
) -> tuple[Array, Array]:
    """Least surface temperature and temperature factor that keep a face under a humidity. [°C], [1]

    >>> least_c, factor = critical_factor(80, 20.0, 50.0, -5.0)
    >>> round(float(least_c), 1), round(float(factor), 3)
    (12.6, 0.705)
    """
    least_c = air.dew_point_from_vapour(
        100 * air.vapour_pressure(temp_room_c, rh_room_percent) / np.asarray(limit_percent, np.float64)
    )
    out_c = np.asarray(temp_out_c, np.float64)
    return least_c, (least_c - out_c) / (np.asarray(temp_room_c, np.float64) - out_c)


@dataclass(frozen=True)
class WallLayer:
    """One layer of the path, and the temperature at its outer face."""

    name: str
    resistance_m2kw: float
    outer_c: float


def section(
    temp_room_c: float, temp_out_c: float, u_value: float, gap_mm: float, *, backed: bool = False,
    board_m2kw: float = BACKING_BOARD, glazed: bool = False,
) -> tuple[float, tuple[WallLayer, ...]]:  # fmt: skip
    """The still section from room to outdoors with closed layers, for a drawing and for the balance of energy.

    Returns
    -------
    (heat flow [W/m²], layers from the room outwards). The flow times the sum of resistances is the difference
    between room and outdoors; the outermost face stands at the temperature outdoors.

    >>> flow, layers = section(20.0, 0.0, 2.1, 5)
    >>> round(flow, 1), [(layer.name, round(layer.outer_c, 1)) for layer in layers]
    (33.1, [('air film of the room', 15.7), ('painting', 15.0), ('gap', 11.4), ('wall', 0.0)])
    """
    parts = [("air film of the room", float(SURFACE_INSIDE))]
    parts += [("glass and air behind it", float(fig.GLAZING))] if glazed else []
    parts += [("painting", float(LINED_CANVAS))]
    parts += [("cavity", float(wall.gap_resistance(BOARD_CAVITY_MM))), ("board", board_m2kw)] if backed else []
    parts += [("gap", float(wall.gap_resistance(gap_mm))), ("wall", wall.wall_resistance(u_value))]
    flow = (temp_room_c - temp_out_c) / sum(r for _, r in parts)
    at, layers = temp_room_c, []
    for name, resistance in parts:
        at -= flow * resistance
        layers.append(WallLayer(name, resistance, at))
    return flow, tuple(layers)
