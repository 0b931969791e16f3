"""The small drawing beside a painting: its own air over the period, and the limit where there is one.

Made from numbers alone, so nothing a person wrote can get into it. Told by stroke, not by colour: thin within
the limit, heavy beyond it, broken for the limit itself, nothing where nothing was read.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from envwatch.cases.review import Sparkline
from envwatch.climate.exposure import ROOM
from envwatch.core.findings import Finding
from envwatch.present.palette import LIGHT

WIDTH, HEIGHT, PAD = 300.0, 64.0, 4.0
LEAST_SPAN = {"°C": 4.0, "% RH": 10.0}  # a flat week is drawn flat
INK, FAINT = LIGHT["ink"], LIGHT["rule"]
QUANTITY = {"°C": "temperature", "% RH": "relative humidity"}


def drawing(trace: Sparkline | None, finding: Finding, zone: str) -> dict | None:
    """The drawing for the finding that ranks a painting; None where there is nothing to draw.

    Returns
    -------
    `svg`, and in words what a page sets beside it: `quantity`, `unit`, `high`, `low`, `limit`, `days`.
    """
    unit = "°C" if finding.unit == "°C" else "% RH"
    if trace is None:
        return None
    values = trace.temp_c if unit == "°C" else trace.rh_percent
    if not np.isfinite(values).any():
        return None
    limit = _limit_of_the_air(finding, values, unit)
    low, high = _bounds(values, limit, LEAST_SPAN[unit])
    local = trace.time.tz_convert(zone)
    midnights = np.flatnonzero((local.hour == 0) & (local.minute == 0))
    return {
        "svg": _svg(values, limit, (low, high), midnights, finding.value < finding.limit),
        "quantity": QUANTITY[unit], "unit": unit, "high": f"{high:.0f}", "low": f"{low:.0f}",
        "limit": None if limit is None else f"{limit:g}", "days": _days(local),
    }  # fmt: skip


def _limit_of_the_air(finding: Finding, values: np.ndarray, unit: str) -> float | None:
    """The limit, where it is one for the air of the room and not for a swing, an index or another point."""
    if finding.point != ROOM:
        return None
    inside = np.nanmin(values) - 3 <= finding.value <= np.nanmax(values) + 3
    return float(finding.limit) if finding.unit == unit and inside and np.isfinite(finding.limit) else None


def _bounds(values: np.ndarray, limit: float | None, least: float) -> tuple[float, float]:
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    if limit is not None:
        low, high = min(low, limit), max(high, limit)
    missing = max(least - (high - low), 0) / 2
    return float(np.floor(low - missing)), float(np.ceil(high + missing))


def _days(local: pd.DatetimeIndex) -> list[str]:
    """Names of up to eight days; of a longer span its first and last day."""
    days = local.normalize().unique()
    if len(days) > 8:
        return [f"{d.day} {d:%b}" for d in (days[0], days[-1])]
    return [f"{d:%a}" for d in days]


def _path(x: np.ndarray, y: np.ndarray, shown: np.ndarray) -> str:
    """Unbroken stretches of the line as one SVG path."""
    pen, out = "M", []
    for px, py, draw in zip(x.tolist(), y.tolist(), shown.tolist(), strict=True):
        if draw:
            out.append(f"{pen}{px:.1f} {py:.1f}")
        pen = "L" if draw else "M"
    return "".join(out)


def _svg(values: np.ndarray, limit: float | None, bounds: tuple[float, float], midnights, under: bool) -> str:
    low, high = bounds
    x = np.linspace(0, WIDTH, len(values))

    def level(v):
        return PAD + (high - v) / (high - low) * (HEIGHT - 2 * PAD)

    lines = [f'<path d="M{x[i]:.1f} 0V{HEIGHT}" stroke="{FAINT}" stroke-width="0.6"/>' for i in midnights.tolist()]
    y, read = level(np.where(np.isfinite(values), values, low)), np.isfinite(values)
    lines.append(f'<path d="{_path(x, y, read)}" stroke="{INK}" stroke-width="1.1"/>')
    if limit is not None:
        beyond = read & (values <= limit if under else values >= limit)
        lines.append(f'<path d="{_path(x, y, beyond)}" stroke="{INK}" stroke-width="3" stroke-linecap="round"/>')
        lines.append(
            f'<path d="M0 {level(limit):.1f}H{WIDTH}" stroke="{INK}" stroke-width="0.9" stroke-dasharray="5 3.5"/>'
        )
    body = "".join(lines)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" fill="none" '
        f'stroke-linejoin="round">{body}</svg>'
    )
