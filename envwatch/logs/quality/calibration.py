"""Correcting a humidity sensor by checks over saturated salts.

A sealed box with a wet slurry of the salt, in a steady room, holds a humidity that only depends on the salt
and the temperature. Give small sensors 20 minutes, closed loggers a night.
"""

from __future__ import annotations

import numpy as np

from envwatch.core.errors import BadInput
from envwatch.figures.quality import OFFSET_LARGEST, POINTS_APART, SALTS, SLOPE_HIGHEST, SLOPE_LOWEST

Point = tuple[float, float]  # (what was true, what the logger read) [% RH]


def salt_rh(salt: str, temp_c) -> np.ndarray:
    """Humidity over a saturated salt solution.

    Parameters
    ----------
    salt : a key of `figures.quality.SALTS`, such as "sodium chloride".
    temp_c : array-like, any shape; the temperature of salt and sensor, which must be the same. [°C]

    Returns
    -------
    Same shape; NaN for NaN and outside the temperatures for which the fit holds. [% RH]

    Raises
    ------
    BadInput : a salt without a published fixed point here.

    Source: Greenspan, Journal of Research of the National Bureau of Standards 81A, 1977.

    >>> round(float(salt_rh("sodium chloride", 20.0)), 2)
    75.48
    """
    if salt not in SALTS:
        raise BadInput(f'no fixed point for the salt "{salt}"; use one of {", ".join(SALTS)}')
    temp_c = np.asarray(temp_c, float)
    (low, high), coefficients = SALTS[salt]
    rh = np.polynomial.polynomial.polyval(temp_c, [float(c) for c in coefficients])
    return np.where((temp_c >= low) & (temp_c <= high), rh, np.nan)


def correction(point1: Point, point2: Point) -> tuple[float, float]:
    """Slope and intercept that take what the logger reads to what is true.

    Parameters
    ----------
    point1, point2 : (true, read), at two humidities that bracket the use. [% RH]

    Returns
    -------
    (slope, intercept): true = slope * read + intercept. [% RH per % RH], [% RH]

    Raises
    ------
    BadInput : points too close together, or a correction so strong that the sensor should be replaced.

    >>> slope, intercept = correction((33.1, 35.1), (75.5, 76.0))
    >>> round(slope, 4), round(intercept, 3)
    (1.0367, -3.287)
    """
    (true1, read1), (true2, read2) = point1, point2
    if not np.isfinite([true1, read1, true2, read2]).all():
        raise BadInput("two-point calibration: a reference or a reading is missing; give all four numbers")
    if abs(true2 - true1) < POINTS_APART or read1 == read2:
        raise BadInput(
            f"two-point calibration: the references {true1:g} and {true2:g} % RH are too close together; "
            f"take two at least {POINTS_APART:g} % apart, such as magnesium chloride and sodium chloride"
        )
    slope = (true2 - true1) / (read2 - read1)
    worst = max(abs(true1 - read1), abs(true2 - read2))
    if not SLOPE_LOWEST <= slope <= SLOPE_HIGHEST or worst > OFFSET_LARGEST:
        raise BadInput(
            f"two-point calibration: slope {slope:.2f} and largest correction {worst:.1f} % RH; expected "
            f"{SLOPE_LOWEST:g} to {SLOPE_HIGHEST:g} and at most {OFFSET_LARGEST:g}. Repeat the check; if it "
            "comes out the same, replace the sensor"
        )
    return slope, true1 - slope * read1


def two_point(rh_percent, point1: Point, point2: Point) -> np.ndarray:
    """Readings corrected by a check at two humidities. The raw readings are kept by whoever calls.

    Parameters
    ----------
    rh_percent : array-like, any shape, as read. [% RH]
    point1, point2 : (true, read). [% RH]

    Returns
    -------
    Same shape; NaN for NaN. Never clipped to 0 or 100. [% RH]

    Raises
    ------
    BadInput : as `correction`.

    >>> two_point([35.1, 76.0], (33.1, 35.1), (75.5, 76.0)).round(6).tolist()
    [33.1, 75.5]
    """
    slope, intercept = correction(point1, point2)
    return slope * np.asarray(rh_percent, float) + intercept


def one_point(rh_percent, point: Point) -> np.ndarray:
    """Readings shifted by a check at one humidity: an offset, and nothing is known of the slope.

    Same shape; NaN for NaN. [% RH]

    Raises
    ------
    BadInput : the offset is so large that the sensor should be replaced.

    >>> one_point([50.0], (75.5, 77.0)).tolist()
    [48.5]
    """
    offset = point[0] - point[1]
    if not abs(offset) <= OFFSET_LARGEST:
        raise BadInput(
            f"one-point calibration: correction of {offset:+.1f} % RH, expected at most {OFFSET_LARGEST:g}. "
            "Repeat the check; if it comes out the same, replace the sensor"
        )
    return np.asarray(rh_percent, float) + offset
