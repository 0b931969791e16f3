"""Moisture strain in the layers of a canvas painting that is held at its edges. Array functions.

Each layer wants to shrink or swell with humidity, and the stretcher does not let it: what it may not do is its
strain, tension positive. This tells direction and order of magnitude, relative to the humidity the painting is
used to. It is no prediction of cracks: relaxation, hysteresis, corners, old cracks, cupping and drying of the
oil are left out, and the coefficients may be off by a factor of two either way. The wood of the stretcher moves too:
by the water it holds its bars grow wider or narrower.
"""

from __future__ import annotations

import numpy as np

from envwatch.core.arrays import Array, ArrayLike, Number
from envwatch.core.painting import Painting, Role
from envwatch.figures.canvas import (
    EXPANSION_PER_K,
    PASTE_LINING_SHRINKS,
    SHRINK_AT_98,
    SHRINK_FROM_RH,
    SIZE_SWELLS_ABOUT,
    STRAIN_KNOTS_RH,
    SWELLING,
    WAX_SIZE_SHARE,
    WOOD_ACROSS_PER_PERCENT,
    WOOD_MOISTURE,
    YIELD_STRAIN,
)

LAYERS = tuple(SWELLING)
PASTES = {"glue_paste", "starch", "animal_glue"}


FREE_AT_KNOTS: dict[str, Array] = {  # what `free_strain` is between
    layer: np.append(0.0, np.cumsum(np.multiply(SWELLING[layer], np.diff(STRAIN_KNOTS_RH)))) for layer in LAYERS
}


def free_strain(rh_percent: ArrayLike, layer: str) -> Array:
    """Length a free layer would gain from 0 % up to a humidity, as a share of its length.

    Parameters
    ----------
    rh_percent : array-like, any shape. [% RH]
    layer : one of `LAYERS`: "size", "lean ground", "lead paint", "earth paint".

    Returns
    -------
    Same shape; the sum of the layer's coefficient over the bands passed. NaN for NaN and outside 0 to 100 %.

    Raises
    ------
    ValueError : no such layer.

    Source: coefficients in `figures.canvas`, each with its own.

    >>> round(float(free_strain(80, "size") - free_strain(20, "size")), 4)
    0.0275
    """
    if layer not in LAYERS:
        raise ValueError(f"layer {layer!r}; give one of {', '.join(LAYERS)}")
    rh = np.asarray(rh_percent, np.float64)
    return np.interp(rh, STRAIN_KNOTS_RH, FREE_AT_KNOTS[layer], left=np.nan, right=np.nan)


def yield_share(
    rh_percent: ArrayLike, used_to_rh_percent: ArrayLike, layer: str, warmer_by_k: ArrayLike = 0.0
) -> Array:
    """Strain of a layer held in length, as a share of its yield strain: 1 is where it would no longer spring back.

    Tension is positive. Order of magnitude: the coefficients carry a factor of two either way.

    Parameters
    ----------
    rh_percent, used_to_rh_percent : array-like, broadcast together. [% RH]
    layer : one of `LAYERS`.
    warmer_by_k : array-like, how much warmer than it is used to. [K]

    Returns
    -------
    Broadcast shape, dimensionless; NaN in, NaN out.

    Raises
    ------
    ValueError : no such layer.

    Source: the restrained layer and the yield strains (page 528) of Richard, Mecklenburg & Tumosa 1998; coefficients in
    `figures.canvas`.

    >>> yield_share([45, 40, 30], 50, "size").round(3).tolist(), float(yield_share(50, 50, "lead paint", -15).round(3))
    ([0.438, 0.875, 1.875], 0.195)
    """
    swelled = free_strain(rh_percent, layer) - free_strain(used_to_rh_percent, layer)
    strain = -swelled - EXPANSION_PER_K[layer] * np.asarray(warmer_by_k, np.float64)
    return strain / YIELD_STRAIN[layer]


def driest_without_yield(used_to_rh_percent: ArrayLike, layer: str = "size") -> Array:
    """Humidity down to which a layer may dry before it yields.

    Array-like, any shape -> same shape; 0 where it never does, NaN for NaN and outside 0 to 100 %. [% RH] -> [% RH]

    Source: `yield_share`, solved for the humidity.

    >>> driest_without_yield([40, 50, 60]).round(2).tolist()
    [30.0, 38.75, 48.57]
    """
    wanted = free_strain(used_to_rh_percent, layer) - YIELD_STRAIN[layer]
    return np.interp(wanted, FREE_AT_KNOTS[layer], STRAIN_KNOTS_RH, left=0.0)  # NaN passes through


def canvas_shrinkage(rh_percent: ArrayLike, times: Number = 1.0) -> Array:
    """Shrinkage of a canvas at high humidity, where its threads swell and it shortens.

    Parameters
    ----------
    rh_percent : array-like. [% RH]
    times : 1 for one canvas, more for a lining that shrinks along; see `lining_factors`.

    Returns
    -------
    Same shape: 0 up to 80 % RH, 0.01 at 98 %, growing as the square between. NaN in, NaN out.

    Source: onset and 1 % at 98 % RH from Hedley 1988; the square is our judgement.

    >>> canvas_shrinkage([80, 90, 98]).round(5).tolist()
    [0.0, 0.00309, 0.01]
    """
    over = np.maximum(np.asarray(rh_percent, np.float64) - SHRINK_FROM_RH, 0.0)
    return times * SHRINK_AT_98 * (over / (98 - SHRINK_FROM_RH)) ** 2


def proof_excess(rh_percent: ArrayLike, lowest_percent: float, highest_percent: float) -> tuple[Array, Array]:
    """How far humidity is under the lowest, and over the highest, that a painting has known. Never negative.

    Array-like, any shape -> two of the same shape. NaN for NaN. [% RH]

    Source: the idea of a proofed fluctuation (michalski-rh): one more event such as it has met cracks nothing new.

    >>> dry, damp = proof_excess([33.0, 50.0, 66.0], 38, 62)
    >>> dry.tolist(), damp.tolist()
    ([5.0, 0.0, 0.0], [0.0, 0.0, 4.0])
    """
    rh = np.asarray(rh_percent, np.float64)
    return np.maximum(lowest_percent - rh, 0.0), np.maximum(rh - highest_percent, 0.0)


def lining_factors(painting: Painting | None) -> tuple[float, float]:
    """What a lining does to the model: (times the size's share, times the canvas shrinkage).

    A film leaves both as they are: the old layers are still there and still held. Paste or glue adds a second
    canvas and a second size. Wax-resin damps the size. Our judgement throughout.
    """
    roles = (Role.FILM, Role.OLD_LINING, Role.IMPREGNATION)
    materials = {layer.material for layer in painting.layers if layer.role in roles} if painting else set()
    size = float(WAX_SIZE_SHARE) if "wax_resin" in materials and not materials & PASTES else 1.0
    return size, float(PASTE_LINING_SHRINKS) if materials & PASTES else 1.0


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
    w, k, k1, k2 = (a + b * t + c * t**2 for a, b, c in WOOD_MOISTURE)
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
    return WOOD_ACROSS_PER_PERCENT * moved * width_mm


CONSTANTS = "; ".join(
    f"{layer}: {', '.join(f'{band:.1e}' for band in SWELLING[layer])} per % RH in bands to 30, 40, 60, 75, 100 % "
    f"({SWELLING[layer][0].source}, {SWELLING[layer][0].confidence.value}), "
    f"yield {YIELD_STRAIN[layer]:g} ({YIELD_STRAIN[layer].source}, {YIELD_STRAIN[layer].confidence.value})"
    for layer in LAYERS
)


def strain_lines(
    rh_percent: float, used_to_rh_percent: float, factors: tuple[float, float] = (1.0, 1.0), warmer_by_k: float = 0.0
) -> tuple[tuple[str, str], ...]:
    """The strain of each layer at one moment, in words, for `why`. Says that it is an order of magnitude.

    `factors` as from `lining_factors`.
    """
    if np.isnan(rh_percent) or np.isnan(used_to_rh_percent):
        return ()
    warmer_by_k = 0.0 if np.isnan(warmer_by_k) else warmer_by_k
    size_times, canvas_times = factors
    shares = {layer: float(yield_share(rh_percent, used_to_rh_percent, layer, warmer_by_k)) for layer in LAYERS}
    shares["size"] *= size_times if shares["size"] > 0 else 1.0
    pulls = (
        f"{layer} {'pulled' if x > 0 else 'pressed'} to {abs(x):.1f} of its yield strain" for layer, x in shares.items()
    )
    drier = used_to_rh_percent - rh_percent
    return (
        (
            "strain, order of magnitude (a factor of two either way)",
            f"-(free({rh_percent:.1f} %) - free({used_to_rh_percent:.1f} %)) - a ({warmer_by_k:+.1f} K): "
            + ", ".join(pulls),
        ),
        (
            "free shrinkage of the canvas",
            f"{canvas_times:g} x 0.01 ((RH - 80) / 18)^2 over 80 % = "
            f"{100 * float(canvas_shrinkage(rh_percent, canvas_times)):.2f} %",
        ),
        (
            "the same with one published coefficient",
            f"size {SIZE_SWELLS_ABOUT:g} x ({used_to_rh_percent:.1f} - {rh_percent:.1f}) / {YIELD_STRAIN['size']:g} "
            f"= {SIZE_SWELLS_ABOUT * drier / YIELD_STRAIN['size']:.1f} of its yield strain",
        ),
        ("constants of the strain", CONSTANTS),
        (
            "what the strain model leaves out",
            "relaxation, hysteresis, corners, old cracks, cupping, canvases without size",
        ),
    )
