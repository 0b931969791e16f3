"""Which channel hung where, from when to when, and its readings with the marks that count there.

What a place explains is air, and a logger's own journey is none. A probe at a radiator is hot in November; condensation
at a cold wall is what it hangs there for; a crate's air changes as it is carried. There such marks are lifted, so that
nothing real is taken for milder. And a logger that is carried to its place, or lies in the office to be read out, reads
on: known from the register's hangings, and from where its files end, those readings are no air of its room.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from envwatch.climate.exposure import ENCLOSED
from envwatch.core.place import Hanging, Logger, Place, PlaceKind, Placement
from envwatch.core.readings import Series
from envwatch.figures import quality as q
from envwatch.logs.quality import marks as quality
from envwatch.logs.quality.marks import without_bad
from envwatch.logs.quality.scan import HOUR_US, MINUTE_US

if TYPE_CHECKING:
    from envwatch.archive.store.source import ReadingSource

FOREVER = pd.Timestamp("2200-01-01", tz="UTC")
# In this order they speak for a room; the others are spots of their own, and speak for it only if no other does.
ROOM_POSITIONS = (Placement.UNKNOWN, Placement.RACK, Placement.EASEL, Placement.INNER_WALL, Placement.FLOOR)
QUICK = quality.SPIKE | quality.STEP | quality.HANDLING | quality.SUN | quality.SETTLING
# what moves the air there moves it quickly; our judgement
HOT_SPOTS = (Placement.RADIATOR, Placement.FIREPLACE, Placement.WINDOW)
MOVING = (PlaceKind.CRATE, PlaceKind.VEHICLE, PlaceKind.CHAMBER)
WET_SPOTS = (Placement.OUTER_WALL, Placement.WINDOW)


@dataclass(frozen=True)
class Deployment:
    """A logger in a place."""

    logger: Logger
    hanging: Hanging

    def covers(self, start: pd.Timestamp, end: pd.Timestamp) -> bool:
        """Whether it hung there at any time of a span."""
        return self.hanging.start < end and (self.hanging.end is None or self.hanging.end > start)


def hung_in(studio: ReadingSource, place_id: str) -> list[Deployment]:
    """All loggers that ever hung in a place, those that speak for the room first."""
    rank = {position: number for number, position in enumerate(ROOM_POSITIONS)}
    return studio.state().air.get(("hung", place_id), lambda: sorted(
        (Deployment(logger, hanging)
         for logger in studio.loggers().values() for hanging in logger.hangings if hanging.place_id == place_id),
        key=lambda one: (rank.get(one.hanging.position, len(rank)), one.logger.id),
    ))  # fmt: skip


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


# ------------------------------------------------------------------------------------- marks as they count there


def as_hung(rows: Series, logger: Logger | None, places: Mapping[str, Place], channel: str) -> Series:
    """A probe's rows with the marks that count where it hung, and those of its journeys."""
    marks, here = rows.marks.copy(), []
    for hanging in logger.hangings if logger else ():
        place = places.get(hanging.place_id)
        if place is not None and hanging.channel.casefold() in ("", channel.casefold()):
            edges = hanging.start.value // 1000, (hanging.end or FOREVER).value // 1000
            part = slice(*np.searchsorted(rows.time, edges).tolist())
            quickly = hanging.position in (*HOT_SPOTS, *ENCLOSED) or place.kind in MOVING
            here += [(hanging, place, part, quickly)] if part.start < part.stop else []
    for hanging, place, part, quickly in here:
        if place.kind in (PlaceKind.OUTDOORS, PlaceKind.CHAMBER) or hanging.position in WET_SPOTS:
            some = rows.take(part)
            marks[part] = quality.out_of_doors(marks[part], some.time, some.temp_c, some.rh_percent)
        if quickly:
            lifted = _temp_moved(rows.temp_c[part]) | (marks[part] & (quality.SUN | quality.SETTLING) != 0)
            marks[part] = np.where(lifted, marks[part] & np.uint16(0xFFFF ^ QUICK), marks[part])
    for hanging, place, part, quickly in here:
        if place.kind != PlaceKind.OUTDOORS and not quickly:
            marks[part] |= _journeys(rows.take(part), hanging, place)
    return rows if (marks == rows.marks).all() else replace(rows, marks=marks)


def _temp_moved(temp_c: np.ndarray) -> np.ndarray:
    """Rows about which the temperature moved; a bad contact moves humidity alone. (n,) -> (n,)"""
    moved = np.abs(np.diff(temp_c, prepend=temp_c[:1], append=temp_c[-1:])) >= q.HABIT_C
    return moved[1:] | moved[:-1] | np.append(False, moved[:-2]) | np.append(moved[2:], False)


def _journeys(rows: Series, hanging: Hanging, place: Place) -> np.ndarray:
    """`ON_ITS_WAY` for the readings of a hanging that were taken on the way. (n,)"""
    temp_c, rh_percent = without_bad(rows)
    out = np.zeros(len(rows), bool)
    local = hanging.start.tz_convert(place.zone)
    if local != local.normalize():  # of a bare day the hour is not known, and that day counts for neither place
        out |= _settles(rows.time, hanging.start.value // 1000, temp_c, rh_percent)
    if hanging.end is not None and (local := hanging.end.tz_convert(place.zone)) != local.normalize():
        back = _settles(-rows.time[::-1], -hanging.end.value // 1000, temp_c[::-1], rh_percent[::-1])
        out |= back[::-1]
    for last in np.flatnonzero(np.diff(rows.file) != 0).tolist():
        ends = rows.time[last] - q.AWAY_MAX_H * HOUR_US, rows.time[last + 1] + q.EDGE_H * HOUR_US + 1
        near = slice(*np.searchsorted(rows.time, ends).tolist())
        out[near] |= _read_out(rows.time[near], temp_c[near], rh_percent[near], last - near.start)
    return np.where(out, np.uint16(quality.ON_ITS_WAY), np.uint16(0))


def _settles(time_us: np.ndarray, edge_us: int, temp_c: np.ndarray, rh_percent: np.ndarray) -> np.ndarray:
    """Rows of the first hour after an edge that are away from where the next two hours settle. (n,) -> (n,)"""
    out, since_h = np.zeros(len(time_us), bool), (time_us - edge_us) / HOUR_US
    early, after = since_h <= q.SETTLING_H, (since_h > q.SETTLING_H) & (since_h <= q.EDGE_H)
    if not early.any():
        return out
    for values, limit in ((temp_c, q.SETTLING_C), (rh_percent, q.SETTLING_RH)):
        later = values[after & np.isfinite(values)]
        if len(later) and np.abs(later - values[0]).min() > limit:
            distance = np.abs(values - np.median(later))
            out |= early & (distance > q.SETTLED * distance[0])
    return out


def _read_out(time_us: np.ndarray, temp_c: np.ndarray, rh_percent: np.ndarray, last: int) -> np.ndarray:
    """Rows about the end of a file in which the logger was away from its room to be read out. (n,)

    Both quantities leap, stay away to the file's last reading, and the next file comes back to where they were.
    """
    out, own = np.zeros(len(time_us), bool), slice(0, last + 1)
    growth = np.sqrt(np.maximum(np.diff(time_us[own]) / MINUTE_US, float(q.STEP_LEAST_MIN)) / q.STEP_BASE_MIN)
    leap = np.abs(np.diff(temp_c[own])) >= q.HANDLING_C * growth  # as a hand makes it
    leap &= np.abs(np.diff(rh_percent[own])) >= q.HANDLING_RH * growth
    if not leap.any():
        return out
    since_h = (time_us - time_us[last + 1]) / HOUR_US
    back = np.arange(len(time_us)) > last
    settled = back & (since_h > q.SETTLING_H) & (since_h <= q.EDGE_H)
    if not (np.isfinite(temp_c[settled]) & np.isfinite(rh_percent[settled])).any():
        return out
    home = float(np.nanmedian(temp_c[settled])), float(np.nanmedian(rh_percent[settled]))
    left = next((at for at in (1 + np.flatnonzero(leap)).tolist() if all(
        _stays_away(values[at - 1 : last + 1], level) for values, level in zip((temp_c, rh_percent), home, strict=True)
    )), None)  # fmt: skip
    if left is None:
        return out
    out[left : last + 1] = True
    far = np.abs(temp_c - home[0]) > q.SETTLED * abs(temp_c[last] - home[0])
    return out | (back & (since_h <= q.SETTLING_H) & far)


def _stays_away(values: np.ndarray, home: float) -> bool:
    """Whether values leap from their first one, do not come half back, and the level afterwards is that again."""
    change = values[1] - values[0]
    away = (values[1:] - values[0]) * np.sign(change)
    half = q.RETURNED * abs(change)
    return bool((away[np.isfinite(away)] >= half).all() and abs(home - values[0]) <= half)
