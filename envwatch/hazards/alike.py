"""What one hazard makes of one air, worked out once for all paintings that look alike to it."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import lru_cache
from typing import Any, TypeVar

from envwatch import climate
from envwatch.climate.exposure import Exposure
from envwatch.climate.series import Climate
from envwatch.core.place import Point

Made = TypeVar("Made")


@lru_cache(maxsize=2)  # by value; paintings in one air are judged one after the other
def _of(_exposure: Exposure) -> dict[Hashable, Any]:
    return {}


def once(exposure: Exposure, key: Hashable, make: Callable[[], Made]) -> Made:
    """What was made of an exposure under a key; the key holds all that it depends on besides.

    Two threads may make the same thing; both get it right.

    >>> import pandas as pd
    >>> day = pd.Timestamp("2026-11-02", tz="UTC")
    >>> exposure, made = Exposure({}, day, day), []
    >>> [once(exposure, "n", lambda: made.append(1) or len(made)) for _ in range(3)]
    [1, 1, 1]
    """
    held = _of(exposure)
    if key not in held:
        held[key] = make()
    made: Made = held[key]  # a key stands for one kind of thing
    return made


def held_at(exposure: Exposure, point: Point, there: Climate, tau_h: float) -> climate.LaggedRange:
    """The humidity that a layer of one time constant had come to in the air at a point, hour by hour."""
    hours = climate.hourly(there)
    return once(exposure, ("held", point, tau_h), lambda: climate.canvas_humidity_range(hours.rh_percent, tau_h))
