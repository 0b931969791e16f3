"""Marks as they count where a logger hung: what the place explains is air, and a logger's own journey is none.

A probe at a radiator is hot in November; condensation at a cold wall is what it hangs there for; a crate's air changes
as it is carried. There such marks are lifted, so that nothing real is taken for milder. And a logger that is carried to
its place, or lies in the office to be read out, reads on: known from the register's hangings, and from where its files
end, those readings are no air of its room.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from envwatch.climate.exposure import ENCLOSED
from envwatch.core.place import Hanging, Logger, Place, PlaceKind, Placement
from envwatch.core.readings import Series
from envwatch.figures import quality as q
from envwatch.logs.quality import marks as quality
from envwatch.logs.quality.marks import without_bad
from envwatch.logs.quality.scan import HOUR_US, MINUTE_US

FOREVER = np.iinfo(np.int64).max
QUICK = quality.SPIKE | quality.STEP | quality.HANDLING | quality.SUN | quality.SETTLING
# what moves the air there moves it quickly; our judgement
HOT_SPOTS = (Placement.RADIATOR, Placement.FIREPLACE, Placement.WINDOW)
MOVING = (PlaceKind.CRATE, PlaceKind.VEHICLE, PlaceKind.CHAMBER)
WET_SPOTS = (Placement.OUTER_WALL, Placement.WINDOW)
COLD_TO_TOUCH = quality.SATURATED | quality.STUCK


def as_hung(rows: Series, logger: Logger | None, places: Mapping[str, Place], channel: str) -> Series:
    """A probe's rows with the marks that count where it hung, and those of its journeys."""
    marks = rows.marks.copy()
    for hanging, part in _hung(rows, logger, channel):
        place = places.get(hanging.place_id)
        if place is None:
            continue
        marks[part] = _explained(marks[part], rows.take(part), hanging, place)
    for hanging, part in _hung(rows, logger, channel):
        place = places.get(hanging.place_id)
        if place is not None and place.kind != PlaceKind.OUTDOORS and not _moves_quickly(hanging, place):
            marks[part] |= _journeys(rows.take(part), hanging, place)
    return rows if (marks == rows.marks).all() else replace(rows, marks=marks)


def _hung(rows: Series, logger: Logger | None, channel: str) -> Iterator[tuple[Hanging, slice]]:
    for hanging in logger.hangings if logger else ():
        if hanging.channel.casefold() in ("", channel.casefold()):
            end = FOREVER if hanging.end is None else hanging.end.value // 1000
            lo, hi = np.searchsorted(rows.time, [hanging.start.value // 1000, end])
            if lo < hi:
                yield hanging, slice(int(lo), int(hi))


def _moves_quickly(hanging: Hanging, place: Place) -> bool:
    return hanging.position in (*HOT_SPOTS, *ENCLOSED) or place.kind in MOVING


def _explained(marks: np.ndarray, rows: Series, hanging: Hanging, place: Place) -> np.ndarray:
    """Marks without what the place explains. (n,) -> (n,)"""
    if place.kind == PlaceKind.OUTDOORS or hanging.position in WET_SPOTS or place.kind == PlaceKind.CHAMBER:
        marks = quality.out_of_doors(marks, rows.time, rows.temp_c, rows.rh_percent)
    if _moves_quickly(hanging, place):
        lifted = _temp_moved(rows.temp_c) | (marks & (quality.SUN | quality.SETTLING) != 0)
        marks = np.where(lifted, marks & np.uint16(0xFFFF ^ QUICK), marks)
    return marks


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
    out, leaps = np.zeros(len(time_us), bool), _leaps(time_us[: last + 1], temp_c[: last + 1], rh_percent[: last + 1])
    if not leaps:
        return out
    since_h = (time_us - time_us[last + 1]) / HOUR_US
    back = np.arange(len(time_us)) > last
    settled = back & (since_h > q.SETTLING_H) & (since_h <= q.EDGE_H)
    if not (np.isfinite(temp_c[settled]) & np.isfinite(rh_percent[settled])).any():
        return out
    home = float(np.nanmedian(temp_c[settled])), float(np.nanmedian(rh_percent[settled]))
    left = next((at for at in leaps if all(
        _stays_away(values[at - 1 : last + 1], level) for values, level in zip((temp_c, rh_percent), home, strict=True)
    )), None)  # fmt: skip
    if left is None:
        return out
    out[left : last + 1] = True
    far = np.abs(temp_c - home[0]) > q.SETTLED * abs(temp_c[last] - home[0])
    return out | (back & (since_h <= q.SETTLING_H) & far)


def _leaps(time_us: np.ndarray, temp_c: np.ndarray, rh_percent: np.ndarray) -> list[int]:
    """Rows at which both quantities leap as a hand makes them, in order."""
    growth = np.sqrt(np.maximum(np.diff(time_us) / MINUTE_US, float(q.STEP_LEAST_MIN)) / q.STEP_BASE_MIN)
    leap = np.abs(np.diff(temp_c)) >= q.HANDLING_C * growth
    leap &= np.abs(np.diff(rh_percent)) >= q.HANDLING_RH * growth
    return (1 + np.flatnonzero(leap)).tolist()


def _stays_away(values: np.ndarray, home: float) -> bool:
    """Whether values leap from their first one, do not come half back, and the level afterwards is that again."""
    change = values[1] - values[0]
    away = (values[1:] - values[0]) * np.sign(change)
    half = q.RETURNED * abs(change)
    return bool((away[np.isfinite(away)] >= half).all() and abs(home - values[0]) <= half)
