"""What one logger read, as it was read, with its marks of doubt and what a person answered about them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from envwatch.archive import Studio
from envwatch.archive.climates.answers import DOUBTED, FOUND_GOOD, TAKEN_OUT, mark_states
from envwatch.archive.climates.deployments import channels_of, within
from envwatch.archive.store.records import require_id
from envwatch.cases.timeline import ClimateChart, Marked, course_of
from envwatch.climate.decimation import SCREEN, thinned
from envwatch.climate.series import NEIGHBOURS, Climate
from envwatch.core.errors import NotThere
from envwatch.core.readings import Series
from envwatch.logs.quality.marks import without_bad

WORDS = {DOUBTED: "doubted", FOUND_GOOD: "found good", TAKEN_OUT: "taken out"}


def of_logger(
    studio: Studio, logger_id: str, start: pd.Timestamp, end: pd.Timestamp, channel: str = "", steps: int = SCREEN
) -> ClimateChart:
    """A logger's readings over [start, end), uncorrected, by the studio's clock, with every reading that bears a mark.

    Parameters
    ----------
    channel : one probe of it; empty, its first. What was taken out is drawn as a mark and is no part of the line.

    Raises
    ------
    NotThere : no such logger, or it read nothing in that time.
    """
    logger = studio.loggers()[require_id("logger", logger_id, studio.loggers())]
    channels = channels_of(studio, logger_id, start, end, channel, NEIGHBOURS)
    if not channels:
        raise NotThere(f"{logger.name} read nothing in that time; give other days")
    name, rows = next(iter(channels.items()))
    rows = rows.take(np.unique(rows.time, return_index=True)[1])  # of two rows of one instant the first is drawn
    air, inside = _air(rows), within(rows, start, end)
    air, state = air.rows(inside, start, end), mark_states(studio, logger_id, name, rows.take(inside))
    shown = course_of(_left(air, state), logger.name, studio.zone, steps)
    marked = tuple(_marked(air, state == kind, words, steps) for kind, words in WORDS.items()
                   if (state == kind).any())  # fmt: skip
    return replace(shown, marked=marked)


def _air(rows: Series) -> Climate:
    return Climate.of(pd.DatetimeIndex(rows.time.view("M8[us]"), tz="UTC"), *without_bad(rows))


def _left(air: Climate, state: np.ndarray) -> Climate:
    """The air without what was taken out."""
    kept = state != TAKEN_OUT
    if kept.all():
        return air
    temp_c, rh_percent = (np.where(kept, values, np.nan) for values in (air.temp_c, air.rh_percent))
    return Climate.of(air.time, temp_c, rh_percent, start=air.start, end=air.end, hours=air.hours)


def _marked(air: Climate, of_them: np.ndarray, words: str, steps: int) -> Marked:
    temp_c, rh_percent = (np.where(of_them, values, np.nan) for values in (air.temp_c, air.rh_percent))
    return Marked(words, thinned(air, temp_c, steps), thinned(air, rh_percent, steps))


__all__ = ["WORDS", "of_logger"]
