"""Temperatures to °C, and the numbers that loggers write where they have read nothing."""

from __future__ import annotations

import numpy as np

SENTINELS = (-200.0, -999.0, -999.9, -9999.0, -9900.0, 9999.0, 999.9, 999.0, 6553.5, 65535.0, 32767.0, 3276.7, -127.0,
             -3276.8, -32768.0, 655.35, 327.67, -327.68, 850.0, -99.9, -100.0)  # fmt: skip


def celsius(values: np.ndarray, unit: str) -> np.ndarray:
    """Temperatures to °C. (n,) -> (n,)

    >>> celsius(np.array([68.0]), "F").tolist(), celsius(np.array([293.15]), "K").tolist()
    ([20.0], [20.0])
    """
    if unit == "F":
        return np.round((values - 32) / 1.8, 6)
    return np.round(values - 273.15, 6) if unit == "K" else values
