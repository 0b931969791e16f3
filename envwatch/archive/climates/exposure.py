"""A painting's own climate, assembled from the places it has stood in; and a place's, judged by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from envwatch import climate as describing
from envwatch.archive.climates import stints as whereabouts
from envwatch.archive.climates.place import climate, reads_at
from envwatch.archive.store.records import the
from envwatch.climate.exposure import CANVAS_BACK, ROOM, WALL_FACE, Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.painting import Painting
from envwatch.core.period import SEVEN_DAYS
from envwatch.core.place import PlaceKind, Placement, Point
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
    ways = whereabouts.variants(painting.stays, studio.places(), start, _until(span), doubt_from)
    return tuple(_exposure(studio, _with_loggers(studio, way), bool(painting.backed), span) for way in ways)


def _until(span: Exposure) -> pd.Timestamp:
    """How far its air reaches: of a week, as far as a window may that lies mostly in the next (`hazards.windows`)."""
    return span.end + 1.5 * SEVEN_DAYS if span.weekly else span.end


def _with_loggers(studio: ReadingSource, stints: tuple[Stint, ...]) -> tuple[Stint, ...]:
    """Stints cut where a logger begins or ends to read at the painting's very position."""
    return tuple(
        replace(stint, start=start, end=end, own_logger=own)
        for stint in stints
        for start, end, own in reads_at(studio, stint.place_id, stint.position, stint.start, stint.end)
    )


def place_exposure(studio: ReadingSource, place_id: str, start: pd.Timestamp, end: pd.Timestamp) -> Exposure:
    """The exposure of whatever stands in a place, its own climate alone."""
    place = studio.places()[the("place", place_id, studio.places())]
    air = climate(studio, place_id, start, end)
    return Exposure({ROOM: air}, start, end, (Stint(start, end, place.id, place.name, zone=place.zone),), air.notes)


def _exposure(studio: ReadingSource, stints: tuple[Stint, ...], backed: bool, span: Exposure) -> Exposure:
    """Worked out once for all paintings that were at the same places at the same times; `span` has no air yet."""
    outer = any(stint.position == Placement.OUTER_WALL for stint in stints)
    key = ("exposure", stints, backed and outer, span.start, span.end, span.weekly, span.reviewed)
    return studio.state().worked_out.get(
        key, lambda: _assembled(studio, stints, backed, span), lambda made: _rows(made, stints)
    )


def _rows(made: Exposure, stints: Sequence[Stint]) -> int:
    """What an exposure adds to memory: nothing where the place's own climate serves."""
    own = len(stints) > 1 or len(made.points) > 1
    return sum(len(air.time) for air in made.points.values()) if own else 0


def _assembled(studio: ReadingSource, stints: tuple[Stint, ...], backed: bool, span: Exposure) -> Exposure:
    start, until = span.start, _until(span)
    pieces = [_during(studio, stint, start, until) for stint in stints]
    room = joined(pieces, start, until)
    points, notes = {}, []
    if any(stint.position == Placement.OUTER_WALL and stint.start < span.end for stint in stints):
        points, notes = _behind(studio, stints, pieces, backed, start, until)
    told = (*_holes(stints, start, span.end, studio.zone), *room.notes, *notes)
    return replace(span, points={ROOM: room, **points}, stints=stints, notes=tuple(dict.fromkeys(told)))


def _during(studio: ReadingSource, stint: Stint, start: pd.Timestamp, end: pd.Timestamp) -> Climate:
    """The air around a painting in one stint: cut from the place's over the whole span, which many share."""
    whole = climate(studio, stint.place_id, start, end, stint.position)
    return whole if (stint.start, stint.end) == (start, end) else whole.between(stint.start, stint.end)


def joined(pieces: Sequence[Climate], start: pd.Timestamp, end: pd.Timestamp) -> Climate:
    """Pieces that follow one another, as one; a single one that fills the span stays the very same."""
    whole = len(pieces) == 1 and (pieces[0].start, pieces[0].end) == (start, end)
    return pieces[0] if whole else Climate.joined(pieces, start, end)


def _holes(stints: Sequence[Stint], start: pd.Timestamp, end: pd.Timestamp, zone: str) -> list[str]:
    """Time in no stint, in words."""
    edges = [start, *(min(edge, end) for stint in stints for edge in (stint.start, stint.end)), end]
    holes = [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if a < b]
    return [f"whereabouts unknown from {_local(a, zone)} to {_local(b, zone)}" for a, b in holes]


def _local(moment: pd.Timestamp, zone: str) -> str:
    return moment.tz_convert(zone).strftime("%Y-%m-%d %H:%M")


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
    found = {point: joined([face[n] for face in faces], start, end) for n, point in enumerate(points)}
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

    return studio.state().worked_out.get(("outdoor mean", outdoors, start, end), mean, len)


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
                       hours=piece.hours[known], suspect=piece.suspect[known], sensor=piece.sensor),
            reckoned_u_k=float(np.nanmax(np.abs(other_c - temp_c), initial=0.0)), sensors=piece.sensors,
            read_by=None if piece.read_by is None else piece.read_by[known],
        )
        for (temp_c, rh_percent), (other_c, _) in zip(faces, milder, strict=True)
    ]  # fmt: skip
