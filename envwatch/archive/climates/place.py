"""The air in a place, from the loggers that hung there.

Bad readings are missing, checks are applied, of conflicting readings the harsher of each quantity counts. Nothing
is averaged between loggers: one reads for the room, and where it read nothing another one that hung in the same
room fills in, and the climate says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from envwatch.archive.climates.deployments import ROOM_POSITIONS, Deployment, channels_of, hung_in, within
from envwatch.archive.climates.drift import drifted
from envwatch.archive.store.records import require_id
from envwatch.climate.series import NEIGHBOURS, Climate, bounds_of, readers
from envwatch.core.place import Place, PlaceKind, Sensor, StandIn, poorest
from envwatch.core.readings import Series
from envwatch.logs.quality import marks
from envwatch.logs.quality.answers import answered
from envwatch.logs.quality.marks import CONFLICT, harsher, without_bad
from envwatch.logs.quality.sensors import aged, corrected

if TYPE_CHECKING:
    from envwatch.archive.store.source import ReadingSource

HOUR_US = 3_600_000_000
TOGETHER = 24  # readings of two loggers side by side from which it can be told how far they differ


def climate(
    studio: ReadingSource, place_id: str, start: pd.Timestamp, end: pd.Timestamp, position: str | None = None
) -> Climate:
    """The air in a place over a span. See `Studio.climate`."""
    place = studio.places()[require_id("place", place_id, studio.places())]
    here = hung_in(studio, place_id)
    if position is not None and turns(here, position, start, end) == turns(here, None, start, end):
        position = None  # the same loggers speak for the room: one climate, shared
    key = ("climate", place_id, position, start, end)
    stand_ins = studio.register().stand_ins.get(place.id, ())
    return studio.state().air.get(
        key, lambda: _own_air(studio, place, position, start, end, stand_ins), lambda air: len(air.time)
    )


def _own_air(
    studio: ReadingSource, place: Place, position: str | None, start: pd.Timestamp, end: pd.Timestamp,
    stand_ins: Sequence[StandIn] = (),
) -> Climate:  # fmt: skip
    """What its own loggers read, and where they read nothing what stands in for them."""
    here, pieces = hung_in(studio, place.id), []
    for a, b, hung in turns(here, position, start, end):
        read_by = [source for one in hung for source in probes(studio, place, one, a, b)] or [Climate.joined([], a, b)]
        piece = read_by[0]
        for other in read_by[1:]:
            piece = filled(piece, other, place.name)
        if hung and hung[0].hanging.position not in (*ROOM_POSITIONS, position):
            piece = _noting(piece, f"{place.name}: the only logger there hangs at the {hung[0].hanging.position}")
        pieces.append(piece)
    if not any(hung.covers(start, end) for hung in here):
        pieces = [_noting(piece, f"{place.name}: no logger hung there") for piece in pieces]
    made = pieces[0] if len(pieces) == 1 else Climate.joined(pieces, start, end)
    for stand_in in stand_ins:
        made = _stood_in(studio, place, made, stand_in, start, end)
    return made


def _stood_in(
    studio: ReadingSource, place: Place, own: Climate, stand_in: StandIn, start: pd.Timestamp, end: pd.Timestamp
) -> Climate:
    """The place's own air; where that was not read, the neighbour's, with what it may be off by in its trust."""
    a, b = max(stand_in.start, start), end if stand_in.end is None else min(stand_in.end, end)
    if a >= b:
        return own
    neighbour = studio.places()[stand_in.neighbour]
    theirs = _own_air(studio, neighbour, None, a, b)
    if not len(theirs.time):
        return own
    told = (f"{place.name}: stood in for by {neighbour.name} where its own logger read "
            f"nothing, ± {stand_in.temp_u_c:g} °C and ± {stand_in.rh_u_percent:g} % RH as stated")  # fmt: skip

    def stated(sensor: Sensor) -> Sensor:
        return replace(
            sensor, temp_bias_c=float(np.hypot(sensor.temp_bias_c, stand_in.temp_u_c)),
            rh_bias_percent=float(np.hypot(sensor.rh_bias_percent, stand_in.rh_u_percent)), basis=told,
            stands_in=True,
        )  # fmt: skip

    theirs = replace(theirs, start=start, end=end, notes=(told,)).trusted_as(stated)
    if not len(own.time):
        return replace(theirs, notes=(*own.notes, told))
    made = merged(own, theirs)
    return own if made is None else made


def _noting(climate: Climate, note: str) -> Climate:
    return replace(climate, notes=(*climate.notes, note))


def speaking(
    here: Sequence[Deployment], position: str | None, start: pd.Timestamp, end: pd.Timestamp
) -> list[Deployment]:
    """Which loggers speak for a place, or for a position in it, over a span in which none comes or goes.

    Those at the position, and they alone; else those that hang as one hangs for the room; else any.
    """
    present = [hung for hung in here if hung.covers(start, end)]
    at_position = [hung for hung in present if position is not None and hung.hanging.position == position]
    return at_position or [hung for hung in present if hung.hanging.position in ROOM_POSITIONS] or present


def turns(
    here: Sequence[Deployment], position: str | None, start: pd.Timestamp, end: pd.Timestamp
) -> list[tuple[pd.Timestamp, pd.Timestamp, list[Deployment]]]:
    """The span cut where another set of loggers speaks: (start, end, loggers)."""
    ends = {hung.hanging.end for hung in here if hung.hanging.end is not None}
    cuts = sorted({start, end, *(t for t in {hung.hanging.start for hung in here} | ends if start < t < end)})
    turns: list[tuple[pd.Timestamp, pd.Timestamp, list[Deployment]]] = []
    for a, b in zip(cuts, cuts[1:], strict=False):
        hung = speaking(here, position, a, b)
        if turns and turns[-1][2] == hung:
            turns[-1] = (turns[-1][0], b, hung)
        else:
            turns.append((a, b, hung))
    return turns or [(start, end, [])]


def probes(
    studio: ReadingSource, place: Place, hung: Deployment, start: pd.Timestamp, end: pd.Timestamp
) -> list[Climate]:
    """What a logger read, one climate a probe; several where no probe is named and the file has several."""
    channels = channels_of(studio, hung.logger.id, start, end, hung.hanging.channel, NEIGHBOURS)
    notes: tuple[str, ...] = ()
    if len(channels) > 1:
        first = next(iter(channels))
        notes = (f"{hung.logger.name} has {len(channels)} probes and the register does not say which hangs in "
                 f"{place.name}; probe {first} is taken",)  # fmt: skip
    return [
        read(studio, rows, hung, name, place, start, end, notes if not number else ())
        for number, (name, rows) in enumerate(channels.items())
    ]


def read(
    studio: ReadingSource, rows: Series, hung: Deployment, channel: str, place: Place, start: pd.Timestamp,
    end: pd.Timestamp, notes: Sequence[str] = (),
) -> Climate:  # fmt: skip
    """One probe's rows as a climate: bad readings missing, checks applied, of conflicting rows the harsher.

    What a reading stands for is decided with the rows around the span; one from before it still stands where the
    logger hung there already.
    """
    logger, inside = hung.logger, within(rows, start, end)
    temp_c, rh_percent = without_bad(rows)
    checks = studio.register().calibrations.get(logger.id, ())
    temp_c, rh_percent = corrected(rows.time, temp_c, rh_percent, checks, channel, studio.zone)
    drift = drifted(studio, logger.id, channel, rows.time)
    answers = studio.register().mark_answers.get(logger.id, ())
    temp_c, rh_percent, believed, told = answered(rows, answers, channel, temp_c, rh_percent, drift, inside)
    notes = (*notes, *(f"{logger.name}: {sentence}" for sentence in told))
    away = ((rows.marks & marks.ON_ITS_WAY) != 0) & ~believed
    if away.any():
        temp_c, rh_percent = (np.where(away, np.nan, values) for values in (temp_c, rh_percent))
        told_away = f"{int(away.sum())} readings while it was carried, put up or read out"
        notes = (*notes, f"{logger.name}: {told_away}: no air of {place.name}, not counted")
    first, temp_c, rh_percent = harsher(rows.time, temp_c, rh_percent)
    conflicting = (rows.marks[first] & CONFLICT) != 0
    # out of doors fog saturates a sensor honestly and mornings warm up fast
    suspect_bits = CONFLICT if place.kind == PlaceKind.OUTDOORS else CONFLICT | marks.SUSPECT
    suspect = ((rows.marks[first] & suspect_bits) != 0) | drift[first]
    suspect &= ~believed[first] | conflicting  # which of two files is right stays open
    seen = np.isfinite(temp_c) | np.isfinite(rh_percent)
    sensor = replace(aged(logger.sensor, logger.calibrated_on, end), logger=logger.id)
    if not seen[(first >= inside.start) & (first < inside.stop)].any():
        return replace(Climate.joined([], start, end), sensor=sensor, notes=tuple(notes))
    conflicts = int(np.count_nonzero(conflicting & (first >= inside.start) & (first < inside.stop)))
    if conflicts:
        notes = (*notes, f"{logger.name}: {conflicts} readings that two files give differently; the harsher counts")
    time = pd.DatetimeIndex(rows.time[first][seen].view("M8[us]"), tz="UTC")
    bounded = None
    if (rows.marks & (marks.BOUND_TEMP | marks.BOUND_RH)).any():
        of_rows = marks.bounds(rows.marks, rows.temp_c, rows.rh_percent)
        bounded, many = of_rows[first][seen], int(np.count_nonzero(of_rows[inside]))
        beyond = f"{logger.name}: {many} readings are bounds in its files, such as >95: it went beyond what is shown"
        notes = (*notes, beyond) if many else notes
    whole = Climate.of(
        time, temp_c[seen], rh_percent[seen], suspect=suspect[seen], sensor=sensor, notes=notes, bounded=bounded
    )
    here = int(whole.time.searchsorted(hung.hanging.start))  # what it read elsewhere does not stand here
    return whole.rows(slice(here, None), start, end).between(start, end)


def filled(first: Climate, second: Climate, place: str) -> Climate:
    """A climate with another logger's readings of the room where it has none, and how far the two differed."""
    if not len(second.time) or not len(first.time):
        return first if len(first.time) else second
    (temp_u_c, rh_u_percent), told = _apart(first, second)

    def widened(sensor: Sensor) -> Sensor:
        return replace(sensor, temp_bias_c=max(temp_u_c, sensor.temp_bias_c),
                       rh_bias_percent=max(rh_u_percent, sensor.rh_bias_percent))  # fmt: skip

    made = merged(first, second.trusted_as(widened))
    if made is None:
        return first
    hours = float(made.hours.sum() - first.hours.sum())
    note = f"{place}: {hours:.0f} h read by a second logger there, where the first read nothing; {told}"
    return replace(made, sensor=poorest([made.sensor, widened(made.sensor)]), notes=(*made.notes, note))


def _apart(first: Climate, second: Climate) -> tuple[tuple[float, float], str]:
    """By how much two loggers differed where both read, 95 % of the time: (°C, % RH), and in words."""
    at = np.searchsorted(first.time.asi8, second.time.asi8, side="right") - 1
    until = first.time.asi8 + (first.hours * HOUR_US).astype(np.int64)
    both = (at >= 0) & (second.time.asi8 < until[np.maximum(at, 0)])
    differ = []
    for name in ("temp_c", "rh_percent"):
        gap = np.abs(getattr(first, name)[at[both]] - getattr(second, name)[both])
        gap = gap[np.isfinite(gap)]
        differ.append(float(np.percentile(gap, 95)) if len(gap) >= TOGETHER else float("nan"))
    if not np.isfinite(differ).all():
        return (0.0, 0.0), "how far the two differ is not known, they never read together for long"
    told = f"± {differ[0]:.1f} °C and ± {differ[1]:.1f} % RH, as the two differed where both read (95 % of it)"
    return (differ[0], differ[1]), told


def merged(first: Climate, second: Climate) -> Climate | None:
    """The first with the second where it has none, each reading standing for no more than what is open; None: never."""
    mine, theirs = first.time.asi8, second.time.asi8
    until = mine + (first.hours * HOUR_US).astype(np.int64)
    before = np.searchsorted(mine, theirs, side="right") - 1
    open_ = (before < 0) | (theirs >= until[np.maximum(before, 0)])
    if not open_.any():
        return None
    following = np.append(mine, np.iinfo(np.int64).max)[before + 1]
    hours = np.minimum(second.hours, (following - theirs) / HOUR_US)[open_]
    order = np.argsort(np.concatenate([mine, theirs[open_]]), kind="stable")

    def both(a, b):
        return np.concatenate([a, b[open_]])[order]

    bounds = bounds_of((first, second))
    made = Climate.of(
        pd.DatetimeIndex(both(mine, theirs).view("M8[us]"), tz="UTC"), both(first.temp_c, second.temp_c),
        both(first.rh_percent, second.rh_percent), start=first.start, end=first.end,
        hours=np.concatenate([first.hours, hours])[order], suspect=both(first.suspect, second.suspect),
        sensor=max((first.sensor, second.sensor), key=lambda s: (s.rh_u_percent, s.temp_u_c)),
        notes=tuple(dict.fromkeys((*first.notes, *second.notes))),
        bounded=None if bounds is None else both(bounds[: len(mine)], bounds[len(mine) :]),
    )  # fmt: skip
    sensors, read_by = readers((first, second))
    if read_by is None:
        return made
    return replace(made, sensors=sensors, read_by=both(read_by[: len(mine)], read_by[len(mine) :]))
