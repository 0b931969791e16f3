"""Describing a climate: hourly means, lagged response, running means, spells, seasons, cycles, places.

Everything here works on arrays with time on the last axis. NaN is a reading that is not there; it is
never filled in silently, and a window with too many of them is NaN too.
"""

from envwatch.climate.canvas_response import lagged, lagged_range, response_time_h
from envwatch.climate.means import Hourly, hourly, running_mean, running_range
from envwatch.climate.places import DampHours, PlaceSummary, Swing, daily_swings, describe_place
from envwatch.climate.seasons import seasonal_cycle, seasonal_so_far
from envwatch.climate.stretches import Spell, spells

__all__ = [
    "DampHours", "Hourly", "PlaceSummary", "Spell", "Swing", "daily_swings", "describe_place", "hourly", "lagged",
    "lagged_range", "response_time_h", "running_mean", "running_range", "seasonal_cycle", "seasonal_so_far", "spells",
]  # fmt: skip
