"""Describing a climate: hourly means, lagged response, running means, spells, seasons, cycles, places.

Everything here works on arrays with time on the last axis. NaN is a reading that is not there; it is
never filled in silently, and a window with too many of them is NaN too.
"""

from envwatch.climate.ageing import ageing_sentence, mean_relative_life, relative_life
from envwatch.climate.control_classes import (
    ClassResult,
    ClassTest,
    TargetHours,
    best_class,
    control_classes,
    hours_outside,
    target_hours,
)
from envwatch.climate.fluctuation import (
    CYCLE_EDGES,
    DAY_POINTS,
    Band,
    Cycles,
    DayChange,
    change_24h,
    change_within_week,
    fluctuation_band,
    rainflow_cycles,
    seasonal_cycle,
    seasonal_so_far,
    turning_points,
)
from envwatch.climate.history import PlaceHistory, describe_history
from envwatch.climate.hours import (
    Hourly,
    Spell,
    held,
    hourly,
    hours_in_spell,
    rows_of_spells,
    running_extremes,
    running_mean,
    running_range,
    spells,
    worst_about,
    worst_in_gaps,
)
from envwatch.climate.response import (
    BUILD_UPS,
    LaggedRange,
    bridged,
    canvas_humidity,
    canvas_humidity_range,
    lagged,
    lagged_range,
    response_time_h,
)
from envwatch.climate.summary import DampHours, DampSpell, PlaceSummary, Swing, daily_swings, describe_place

__all__ = [
    "BUILD_UPS", "CYCLE_EDGES", "DAY_POINTS", "Band", "DayChange", "ClassResult", "ClassTest", "Cycles", "DampHours",
    "DampSpell", "LaggedRange", "Hourly", "PlaceHistory", "PlaceSummary", "Spell", "Swing", "TargetHours",
    "ageing_sentence", "best_class", "bridged", "canvas_humidity", "canvas_humidity_range", "change_24h",
    "change_within_week", "control_classes", "daily_swings", "describe_history", "describe_place",
    "fluctuation_band", "held", "hourly", "hours_in_spell", "hours_outside", "lagged", "lagged_range",
    "mean_relative_life", "rainflow_cycles", "relative_life", "response_time_h", "rows_of_spells",
    "running_extremes", "running_mean", "running_range", "seasonal_cycle", "seasonal_so_far", "spells",
    "target_hours", "turning_points", "worst_about", "worst_in_gaps",
]  # fmt: skip
