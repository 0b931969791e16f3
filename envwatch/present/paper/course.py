"""A drawing of months: each day from its lowest to its highest hourly mean, with the moves. Nothing where not read."""

from __future__ import annotations

import numpy as np

from envwatch.present.palette import LIGHT

WIDTH, HEIGHT, PAD = 640.0, 92.0, 4.0
INK, BAND = LIGHT["ink"], LIGHT["edge"]


def drawn(low: np.ndarray, high: np.ndarray, least_span: float, moves: list[float]) -> dict | None:
    """The band of one quantity as SVG, with the figures that a page sets beside it; None where nothing was read.

    Parameters
    ----------
    low, high : (n,) lowest and highest of each day; NaN where a day was not read.
    least_span : the axis spans at least so much, so that a quiet record is drawn quiet.
    moves : where moves lie, each as a share of the width, 0 to 1.
    """
    read = np.isfinite(low) & np.isfinite(high)
    if not read.any():
        return None
    bottom, top = float(np.nanmin(low)), float(np.nanmax(high))
    missing = max(least_span - (top - bottom), 0) / 2
    bottom, top = float(np.floor(bottom - missing)), float(np.ceil(top + missing))
    wide = WIDTH / len(low)

    def at(value: np.ndarray) -> np.ndarray:
        return PAD + (top - value) / (top - bottom) * (HEIGHT - 2 * PAD)

    y_high, y_low = at(np.where(read, high, top)), at(np.where(read, low, bottom))
    bars = "".join(
        f"M{n * wide:.1f} {y_high[n]:.1f}h{wide:.2f}V{max(y_low[n], y_high[n] + 0.8):.1f}h-{wide:.2f}z"
        for n in np.flatnonzero(read).tolist()
    )
    lines = "".join(
        f'<path d="M{move * WIDTH:.1f} 0V{HEIGHT}" stroke="{INK}" stroke-width="0.9" stroke-dasharray="4 3"/>'
        for move in moves
    )
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" preserveAspectRatio="none" '
        f'fill="none"><path d="{bars}" fill="{BAND}"/>{lines}</svg>'
    )
    return {"svg": svg, "high": f"{top:.0f}", "low": f"{bottom:.0f}"}
