"""Which channel hung where, from when to when."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from envwatch.archive.climates.placing import as_hung
from envwatch.core.place import Hanging, Logger, Placement
from envwatch.core.readings import Series

if TYPE_CHECKING:
    from envwatch.archive.store.source import ReadingSource

FOREVER = pd.Timestamp("2200-01-01", tz="UTC")
# In this order they speak for a room; the others are spots of their own, and speak for it only if no other does.
ROOM_POSITIONS = (Placement.UNKNOWN, Placement.RACK, Placement.EASEL, Placement.INNER_WALL, Placement.FLOOR)


@dataclass(frozen=True)
class Deployment:
    """A logger in a place."""

    logger: Logger
    hanging: Hanging

    @property
    def rank(self) -> tuple[int, str]:
        known = ROOM_POSITIONS.index(self.position) if self.position in ROOM_POSITIONS else len(ROOM_POSITIONS)
        return known, self.logger.id

    @property
    def position(self) -> str:
        return self.hanging.position

    def covers(self, start: pd.Timestamp, end: pd.Timestamp) -> bool:
        """Whether it hung there at any time of a span."""
        return self.hanging.start < end and (self.hanging.end is None or self.hanging.end > start)


def hung_in(studio: ReadingSource, place_id: str) -> list[Deployment]:
    """All loggers that ever hung in a place, those that speak for the room first."""
    return studio.state().worked_out.get("hung", lambda: _by_place(studio)).get(place_id, [])


def _by_place(studio: ReadingSource) -> dict[str, list[Deployment]]:
    by_place: dict[str, list[Deployment]] = {}
    for logger in studio.loggers().values():
        for hanging in logger.hangings:
            by_place.setdefault(hanging.place_id, []).append(Deployment(logger, hanging))
    return {id: sorted(hung, key=lambda h: h.rank) for id, hung in by_place.items()}


def has_logger(studio: ReadingSource, place_id: str, start: pd.Timestamp, end: pd.Timestamp) -> bool:
    """Whether a logger hung in a place at any time of a span."""
    return any(hung.covers(start, end) for hung in hung_in(studio, place_id))


def has_readings(studio: ReadingSource, start: pd.Timestamp, end: pd.Timestamp) -> bool:
    """Whether any logger read anything in a span."""
    return any(channels_of(studio, id, start, end) for id in studio.loggers())


def channels_of(
    studio: ReadingSource, logger_id: str, start: pd.Timestamp, end: pd.Timestamp, channel: str = "", around: int = 0
) -> dict[str, Series]:
    """Stored rows of a logger over a span, by probe; those with humidity first.

    `channel`: that probe alone. `around`: so many rows before and after the span too, for what a reading stands for.
    """
    logger, places = studio.loggers().get(logger_id), studio.places()
    found, sought = {}, channel.casefold()
    for name, rows in _stored(studio, logger_id, start, end, around).items():
        if sought in ("", name.casefold()):
            inside = within(rows, start, end)
            if inside.start < inside.stop:
                wide = slice(max(inside.start - around, 0), inside.stop + around)
                found[name] = as_hung(rows, logger, places, name).take(wide)
    humid = {name: np.isfinite(rows.rh_percent[within(rows, start, end)]).any() for name, rows in found.items()}
    return dict(sorted(found.items(), key=lambda item: (not humid[item[0]], item[0])))


def within(rows: Series, start: pd.Timestamp, end: pd.Timestamp) -> slice:
    """Which rows lie in a span."""
    return slice(*(int(at) for at in np.searchsorted(rows.time, [start.value // 1000, -(-end.value // 1000)])))


def _stored(
    studio: ReadingSource, logger_id: str, start: pd.Timestamp, end: pd.Timestamp, around: int
) -> dict[str, Series]:
    """All rows of the parts that reach into a span; with those beside them where too few rows lie around it."""
    parts, lo, hi = studio.state().parts.get(logger_id, []), start.value // 1000, -(-end.value // 1000)
    at = [n for n, part in enumerate(parts) if part.first_us < hi and part.last_us >= lo]
    if not at:
        return {}
    series = studio.reader.series(parts[at[0] : at[-1] + 1])
    if around:
        inside = [(within(rows, start, end), len(rows)) for rows in series.values()]
        first = max(at[0] - any(rows.start < around for rows, _ in inside), 0)
        stop = at[-1] + 1 + any(total - rows.stop < around for rows, total in inside)
        if (first, stop) != (at[0], at[-1] + 1) and len(parts[first:stop]) > at[-1] + 1 - at[0]:
            return studio.reader.series(parts[first:stop])
    return series
