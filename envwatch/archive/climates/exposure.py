"""A painting's own climate, assembled from the places it has stood in; and a place's, judged by itself.

Where only the day of a move is known, that day belongs to both places: the stints are worked out once for each
place that may have had it, and whoever judges takes the worse.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import groupby, pairwise
from operator import itemgetter
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from envwatch import climate as describing
from envwatch.archive.climates.deployments import FOREVER, hung_in
from envwatch.archive.climates.place import climate, turns
from envwatch.archive.store.records import require_id
from envwatch.climate.exposure import CANVAS_BACK, ROOM, WALL_FACE, Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.dates import day_end, day_of
from envwatch.core.painting import Painting, Stay
from envwatch.core.period import SEVEN_DAYS
from envwatch.core.place import Place, PlaceKind, Placement, Point
from envwatch.figures.walls import OUTDOOR_MEAN_H, WALL_U_SOLID_BRICK, WALL_U_SOLID_MEASURED
from envwatch.physics import wall

if TYPE_CHECKING:
    from envwatch.archive.store.source import ReadingSource


def exposures(
    studio: ReadingSource,
    painting: Painting,
    start: pd.Timestamp,
    end: pd.Timestamp,
    doubt_from: pd.Timestamp | None = None,
    weekly: bool = False,
    reviewed: pd.Timestamp | None = None,
) -> tuple[Exposure, ...]:
    """A painting's exposure over a span, once for each way its bare move days may be read. See `Studio.exposures`."""
    span = Exposure({}, start, end, weekly=weekly, reviewed=reviewed)
    # of a week, its air reaches as far as a window may that lies mostly in the next (`hazards.hourly`)
    until, made = end + 1.5 * SEVEN_DAYS if weekly else end, []
    for way in variants(painting.stays, studio.places(), start, until, doubt_from):
        stints = []
        for stint in way:  # cut where a logger begins or ends to read at the painting's very position
            cut = [(a, b, bool(hung) and hung[0].hanging.position == stint.position) for a, b, hung in turns(
                hung_in(studio, stint.place_id), stint.position, stint.start, stint.end)]  # fmt: skip
            for own, some in groupby(cut, itemgetter(2)):
                run = list(some)
                stints.append(replace(stint, start=run[0][0], end=run[-1][1], own_logger=own))
        backed = bool(painting.backed) and any(stint.position == Placement.OUTER_WALL for stint in stints)
        key = "exposure", tuple(stints), backed, start, end, weekly, reviewed  # all paintings there share it
        made.append(studio.state().air.get(
            key, lambda stints=tuple(stints), backed=backed: _assembled(studio, stints, backed, span, until),
            lambda made: sum(len(air.time) for air in made.points.values()),  # what is made of it is as long again
        ))  # fmt: skip
    return tuple(made)


def place_exposure(studio: ReadingSource, place_id: str, start: pd.Timestamp, end: pd.Timestamp) -> Exposure:
    """The exposure of whatever stands in a place, its own climate alone."""
    place = studio.places()[require_id("place", place_id, studio.places())]
    air = climate(studio, place_id, start, end)
    return Exposure({ROOM: air}, start, end, (Stint(start, end, place.id, place.name, zone=place.zone),), air.notes)


def record_begin(studio: ReadingSource, painting: Painting, start: pd.Timestamp) -> pd.Timestamp:
    """When a painting's record begins: the air before a period that its layers carry into it, all of it."""
    stays = min((stay.start for stay in painting.stays), default=start)
    return min(max(stays, first_reading(studio) or start).floor("h"), start)


def first_reading(studio: ReadingSource) -> pd.Timestamp | None:
    """When the record of all loggers begins; None where nothing is kept."""
    state = studio.state()
    first_us = state.air.get(
        "first reading", lambda: min((parts[0].first_us for parts in state.parts.values()), default=None)
    )
    return None if first_us is None else pd.Timestamp(first_us, unit="us", tz="UTC")


def _assembled(
    studio: ReadingSource, stints: tuple[Stint, ...], backed: bool, span: Exposure, until: pd.Timestamp
) -> Exposure:
    start, pieces, zone = span.start, [], studio.zone
    for stint in stints:  # cut from the place's air over the whole span, which many share
        whole = climate(studio, stint.place_id, start, until, stint.position)
        here = stint.start, stint.end
        pieces.append(whole if here == (start, until) else whole.between(*here))
    one = len(pieces) == 1 and (pieces[0].start, pieces[0].end) == (start, until)
    room = pieces[0] if one else Climate.joined(pieces, start, until)
    points, notes = {}, []
    if any(stint.position == Placement.OUTER_WALL and stint.start < span.end for stint in stints):
        points, notes = _behind(studio, stints, pieces, backed, start, until)
    edges = [start, *(min(edge, span.end) for stint in stints for edge in (stint.start, stint.end)), span.end]
    holes = [f"whereabouts unknown from {a.tz_convert(zone):%Y-%m-%d %H:%M} to {b.tz_convert(zone):%Y-%m-%d %H:%M}"
             for a, b in zip(edges[::2], edges[1::2], strict=True) if a < b]  # fmt: skip
    told = (*holes, *room.notes, *notes)
    return replace(span, points={ROOM: room, **points}, stints=stints, notes=tuple(dict.fromkeys(told)))


# ------------------------------------------------------------------------------- where it was, hour by hour


def variants(
    stays: Sequence[Stay], places: Mapping[str, Place], start: pd.Timestamp, end: pd.Timestamp,
    doubt_from: pd.Timestamp | None = None,
) -> list[tuple[Stint, ...]]:  # fmt: skip
    """The stints within [start, end), once for each way in which the days of moves can be given away.

    First all those days to the place left, then to the next one, and so on where a painting was in three
    places on one day. One way where no such day matters, or where all lie before `doubt_from`.
    """
    begin = start if doubt_from is None else max(start, doubt_from)
    chains, deepest = _chains(stays, places), 1
    for first, last in chains:
        day, zone = stays[first + 1].start, places[stays[first + 1].place_id].zone
        spots = {(stay.place_id, stay.position, stay.intended) for stay in stays[first : last + 1]}
        if len(spots) > 1 and day < end and day_end(day, zone) > begin:
            deepest = max(deepest, last - first + 1)
    ways = [_stints(stays, places, chains, turn, start, end) for turn in range(deepest)]
    return list(dict.fromkeys(ways))


def _chains(stays: Sequence[Stay], places: Mapping[str, Place]) -> list[tuple[int, int]]:
    """Runs of stays (first, last) that share one bare day."""
    chains: list[tuple[int, int]] = []
    first_day = [day_of(stay.start, places[stay.place_id].zone) for stay in stays]
    last_day = ["" if stay.end is None else day_of(stay.end, places[stay.place_id].zone) for stay in stays]
    for i, (before, after) in enumerate(pairwise(stays)):
        bare = before.end is not None and before.end_is_date and after.start_is_date
        if not bare or last_day[i] != first_day[i + 1]:
            continue
        if chains and chains[-1][1] == i and first_day[i] == last_day[i]:
            chains[-1] = (chains[-1][0], i + 1)
        else:
            chains.append((i, i + 1))
    return chains


def _stints(
    stays: Sequence[Stay], places: Mapping[str, Place], chains: Sequence[tuple[int, int]], turn: int,
    start: pd.Timestamp, end: pd.Timestamp,
) -> tuple[Stint, ...]:  # fmt: skip
    """First the edges of each stay, where a bare day that no other claims counts as a whole; then the days of moves."""
    edges = []
    for before, stay, after in zip((None, *stays), stays, (*stays[1:], None), strict=False):
        a, b = stay.start, stay.end or FOREVER
        if stay.start_is_date and before and before.end and not before.end_is_date:
            a = max(a, before.end)
        if stay.end and stay.end_is_date:
            b = day_end(b, places[stay.place_id].zone)
            b = after.start if after and not after.start_is_date and after.start < b else b
        edges.append([a, b])
    for first, last in chains:
        owner = first + min(turn, last - first)
        day = stays[first + 1].start, day_end(stays[first + 1].start, places[stays[first + 1].place_id].zone)
        for i in range(first, last + 1):
            if i > first:
                edges[i][0] = day[0] if i <= owner else day[1]
            if i < last:
                edges[i][1] = day[1] if i >= owner else day[0]
    out: list[Stint] = []
    for stay, (a, b) in zip(stays, edges, strict=True):
        a, b = max(a, start, out[-1].end if out else start), min(b, end)
        if a < b:
            place = places[stay.place_id]
            out.append(Stint(a, b, place.id, place.name, stay.position, place.zone, stay.intended, stay.purpose))
    return tuple(out)


# ----------------------------------------------------------------------------------------- behind a picture


def _behind(
    studio: ReadingSource, stints: Sequence[Stint], pieces: Sequence[Climate], backed: bool, start: pd.Timestamp,
    end: pd.Timestamp,
) -> tuple[dict[Point, Climate], list[str]]:  # fmt: skip
    """Wall face and canvas back for the stints on an outer wall, where the air outdoors is known."""
    at_wall = [(s, piece) for s, piece in zip(stints, pieces, strict=True) if s.position == Placement.OUTER_WALL]
    measured = any(s.own_logger and len(piece.time) for s, piece in at_wall)
    notes = ["read by a logger at the outer wall itself; right behind the picture it may be damper"] * measured
    # what a logger reads at the wall is not room air: reckoning from it would count the cold wall twice
    hung = [piece for s, piece in at_wall if not s.own_logger and len(piece.time)]
    if not hung:
        return {}, notes
    outdoors = next((place.id for place in studio.places().values() if place.kind == PlaceKind.OUTDOORS), None)
    outside_c = None if outdoors is None else _outdoor_mean(studio, outdoors, start, end)
    if outside_c is None or not outside_c.notna().any():
        return {}, [*notes, "on an outer wall, but no logger reads outdoors: the air behind the picture is not known"]
    faces = [_faces(piece, outside_c, backed) for piece in hung]
    points = (WALL_FACE, CANVAS_BACK)
    found = {point: Climate.joined([face[n] for face in faces], start, end) for n, point in enumerate(points)}
    return found, [*notes, _reckoned(found)]


def _reckoned(found: dict[Point, Climate]) -> str:
    """How the faces were reckoned, and what the other end of what such walls are would change."""
    return (
        f"behind the picture reckoned from the room and the mean outdoors over {OUTDOOR_MEAN_H:g} h, for a solid brick "
        f"wall of U {WALL_U_SOLID_BRICK:g} W/(m²K); with {WALL_U_SOLID_MEASURED:g}, as measured on "
        f"such walls, the wall is up to {found[WALL_FACE].reckoned_u_k:.1f} °C and the canvas back up to "
        f"{found[CANVAS_BACK].reckoned_u_k:.1f} °C warmer"
    )


def _outdoor_mean(studio: ReadingSource, outdoors: str, start: pd.Timestamp, end: pd.Timestamp) -> pd.Series:
    """Running mean outdoors by hour, over the hours a wall follows. [°C]"""

    def mean() -> pd.Series:
        hours = int(OUTDOOR_MEAN_H)
        by_hour = describing.hourly(climate(studio, outdoors, start - pd.Timedelta(hours=hours), end))
        return pd.Series(describing.running_mean(by_hour.temp_c, hours), index=by_hour.time)

    return studio.state().air.get(("outdoor mean", outdoors, start, end), mean, len)


def _faces(piece: Climate, outside_c: pd.Series, backed: bool) -> list[Climate]:
    outside = outside_c.reindex(piece.time.floor("h")).to_numpy()
    known = np.isfinite(outside)
    # judged at the colder end of what a solid brick wall may be; the other end is its uncertainty
    faces, milder = (
        wall.behind_picture(piece.temp_c[known], piece.rh_percent[known], outside[known], backed=backed, u_value=u)
        for u in (WALL_U_SOLID_BRICK, WALL_U_SOLID_MEASURED)
    )
    return [
        replace(
            Climate.of(piece.time[known], temp_c, rh_percent, start=piece.start, end=piece.end,
                       hours=piece.hours[known], suspect=piece.suspect[known], sensor=piece.sensor,
                       bounded=None if piece.bounded is None else piece.bounded[known]),
            reckoned_u_k=float(np.nanmax(np.abs(other_c - temp_c), initial=0.0)), sensors=piece.sensors,
            read_by=None if piece.read_by is None else piece.read_by[known],
        )
        for (temp_c, rh_percent), (other_c, _) in zip(faces, milder, strict=True)
    ]  # fmt: skip
