"""Units confirmed by plausibility: to Celsius and percent, with a note or a question wherever it is not plain."""

from __future__ import annotations

import numpy as np

from envwatch import air
from envwatch.core.errors import BadInput, Question
from envwatch.figures import logs as f
from envwatch.logs.text.cells import FAULT_CODE, SENTINELS, celsius

KELVIN_LEAST, KELVIN_MOST = 233.0, 333.0
ENOUGH = 100_000  # readings looked at of a long record
NAMES = {"C": "°C", "F": "°F", "K": "K"}


def _plausible(values: np.ndarray) -> np.ndarray:
    """Of a long record every so many: enough to tell a unit."""
    values = values[:: max(1, len(values) // ENOUGH)]
    values = values[np.isfinite(values)]
    return values[~np.isin(values, SENTINELS) & (np.abs(values) < 1000)]


def temperature(values, unit, told, name: str, column: str, rh=None) -> tuple[np.ndarray, list[str]]:
    """A temperature column to °C. What is headed °C is °C, be it a radiator's, if its humidity can be so.

    Parameters
    ----------
    values : (n,) as written, NaN where missing.
    unit : as the header, a units row or the cells give it; None where nothing does. told : the user's.
    rh : (n,) humidities beside it, as written; None where there are none.

    Raises
    ------
    Question : the values contradict the unit, or allow two.
    """
    seen = _plausible(values)
    warm_c = f.ROOM_WARM_C if column else f.ROOM_WARM_UNNAMED_C
    column = column or "temperature"
    if told:
        notes = (
            [f"{column!r} is headed {NAMES[unit]} and was read in {NAMES[told]}, as told."]
            if unit in NAMES and unit != told
            else []
        )
        return celsius(values, told), notes
    if not len(seen):
        return celsius(values, unit or "C"), []
    middle = float(np.median(seen))
    if unit is None:
        unit, note = _without_unit(middle, float(np.percentile(seen, 1)), warm_c, name, column)
        return celsius(values, unit), [note]
    top = float(np.percentile(seen, 99))
    steamy = unit == "C" and middle > f.ROOM_WARMEST_C and rh is not None and _dew_point(seen, rh) > f.DEW_POINT_MOST_C
    doubted = {"C": steamy, "F": top < f.FAHRENHEIT_COLDEST, "K": middle < 200}[unit]
    if doubted and middle < f.TEMP_MOST_C * 4:
        raise Question(
            f"{column!r} is headed {NAMES[unit]}, but its values (about {middle:.1f}) do not look like "
            f"a room in {NAMES[unit]}.",
            "temp_unit", ("C", "F", "K"), place=name)  # fmt: skip
    return celsius(values, unit), ([] if unit == "C" else [f"{column!r} was converted from {NAMES[unit]} to °C."])


def _dew_point(temp_c: np.ndarray, rh: np.ndarray) -> float:
    """Of the middle of both columns."""
    rh = _plausible(rh)
    middle = float(np.median(rh)) if len(rh) else 0.0
    middle *= 100 if 0 < middle <= f.FRACTION_MOST else 1
    return float(air.dew_point(float(np.median(temp_c)), middle)) if 5 < middle <= 100 else -np.inf


def _without_unit(middle: float, least: float, warm_c: float, name: str, column: str) -> tuple[str, str]:
    if middle > 120:
        if not KELVIN_LEAST <= least <= middle <= KELVIN_MOST:
            raise BadInput(
                f"{column!r} has no unit, and about {middle:.0f} (from {least:.0f}) is no temperature in °C, °F or K; "
                "tenths of a degree, perhaps. Export it again in °C.", place=name)  # fmt: skip
        return "K", f"{column!r} has no unit; its values (about {middle:.0f}) can only be kelvin."
    if middle > f.ROOM_WARMEST_C:
        return (
            "F",
            f"{column!r} has no unit; its values (about {middle:.0f}) can only be °F in a room, and were "
            "converted to °C.",
        )
    if middle > warm_c:
        raise Question(
            f"{column!r} has no unit, and about {middle:.0f} may be °C or °F.", "temp_unit", ("C", "F"), place=name
        )
    return "C", f"{column!r} has no unit; it was read as °C."


def _fractions(values: np.ndarray, seen: np.ndarray, unit: str | None) -> bool:
    """Whether humidities are fractions of 1. What is no humidity in percent either is a code, and says nothing."""
    if unit == "1":
        return float(np.median(seen)) <= f.HEADED_FRACTION_MOST
    held = seen[(seen >= f.RH_LEAST) & (seen <= f.RH_MOST)]
    if not len(held) or not f.FRACTION_LEAST < held.max() <= f.FRACTION_MOST or len(np.unique(held)) <= 2:
        return False
    return not ((values > f.FRACTION_MOST) & (values <= f.RH_MOST)).any()  # all rows, where the look was at some


def humidity(values, unit, name: str, column: str) -> tuple[np.ndarray, list[str]]:
    """A humidity column to percent; fractions are known by a header or by never passing 1.

    Raises
    ------
    BadInput : the values are no relative humidity.
    """
    seen = _plausible(values)
    column = column or "humidity"
    if not len(seen):
        return values, []
    if _fractions(values, seen, unit):
        return np.round(values * 100, 6), [f"{column!r} holds fractions of 1; they were converted to percent."]
    if unit == "1":
        return values, [f"{column!r} is headed as a fraction but holds percent; it was read as percent."]
    low = seen[(seen > 0) & (seen <= f.FRACTION_MOST)]
    if len(low) > 0.5 * len(seen) and len(np.unique(low)) > f.FRACTIONS_TELL:
        raise BadInput(
            f"{column!r} reads about {np.median(low):g} in most rows, and up to {seen.max():g}: neither "
            "percent nor fractions of 1 throughout. Export it again in percent.",
            place=name,
        )
    if ((seen < f.RH_LEAST) | (seen > f.RH_MOST)).mean() > 0.5:
        raise BadInput(
            f"{column!r} reads about {np.median(seen):g}, expected 0 to 100. It is no relative "
            "humidity in percent; "
            "export it again in percent.",
            place=name,
        )
    return values, []


def without_errors(kind: str, values: np.ndarray, code: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Numbers that are error codes rather than readings become NaN, and their code says so. (n,), (n,) -> (n,), (n,)"""
    least, most = (f.RH_LEAST, f.RH_MOST) if kind == "rh" else (f.TEMP_LEAST_C, f.TEMP_MOST_C)
    with np.errstate(invalid="ignore"):
        bad = (values < least) | (values > most)
    return (np.where(bad, np.nan, values), np.where(bad, FAULT_CODE, code)) if bad.any() else (values, code)


def check_pair(temp_c, rh_percent, name: str, column: str) -> list[str]:
    """A column headed humidity that is the temperature in another unit is refused.

    Raises
    ------
    BadInput : humidity is the temperature over again.
    """
    t, h = (some[:: max(1, len(some) // ENOUGH)] for some in (temp_c, rh_percent))
    both = np.isfinite(t) & np.isfinite(h)
    t, h = t[both], h[both]
    if len(t) < 12 or len(np.unique(t)) < 4:
        return []
    for what, other in (("°C", t), ("°F", t * 1.8 + 32), ("K", t + 273.15)):
        if np.abs(h - other).max() <= 0.11:
            raise BadInput(
                f"{column!r} is the temperature over again (in {what}), not humidity. Export the humidity column.",
                place=name,
            )
    return []


def check_dew_point(temp_c, rh_percent, dew_c) -> list[str]:
    """The dew point a logger gives must follow from its temperature and humidity; a disagreement is reported."""
    temp_c, rh_percent, dew_c = (a[:: max(1, len(a) // ENOUGH)] for a in (temp_c, rh_percent, dew_c))
    rows = np.isfinite(temp_c) & np.isfinite(rh_percent) & np.isfinite(dew_c) & (rh_percent > 5) & (dew_c > 0)
    if rows.sum() < 3:
        return []
    own = air.dew_point(temp_c[rows][:50_000], rh_percent[rows][:50_000])
    apart = float(np.nanmedian(np.abs(own - dew_c[rows][:50_000])))
    if apart <= f.DEW_POINT_AGREES_C:
        return []
    return [f"The logged dew point differs by {apart:.1f} K from what temperature and humidity give; one of "
            "the columns is not "
            "what its header says, or its unit is another."]  # fmt: skip
