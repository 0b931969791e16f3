"""The course of the air over a span: of a place, or of a painting through the places where it stood.

What a chart shows and what the table behind it says come from the same object.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.archive import Studio
from envwatch.climate.decimation import SCREEN, Line, thinned
from envwatch.climate.exposure import ENCLOSED
from envwatch.climate.series import Climate
from envwatch.core.errors import BadInput, NotThere
from envwatch.core.findings import Finding
from envwatch.core.painting import NO_WORK, Painting
from envwatch.core.place import Place, Placement, Point

LONG = pd.Timedelta(days=62)  # a longer span is told by months, a shorter one by days
QUANTITIES = ("temp_c", "rh_percent", "dew_point_c")


@dataclass(frozen=True)
class Stretch:
    """A stay of the painting within the span, in words."""

    start: pd.Timestamp
    end: pd.Timestamp
    words: str
    intended: bool = False


@dataclass(frozen=True)
class Mark:
    """A moment with a word: a treatment, a move, the worst moment of a finding."""

    time: pd.Timestamp
    words: str


@dataclass(frozen=True)
class Limit:
    """A limit that the air of the room can be held against."""

    value: float
    unit: str
    words: str


class Marked(NamedTuple):
    """Readings that bear a mark, and how they stand: in words, and where they lie in °C and in % RH."""

    words: str
    temp_c: Line
    rh_percent: Line


@dataclass(frozen=True)
class DayRow:
    """A day or a month as figures: lowest and highest reading, and how much was read (0 to 1)."""

    label: str
    temp: tuple[float, float]
    rh: tuple[float, float]
    dew_point: tuple[float, float]
    coverage: float


@dataclass(frozen=True, eq=False)
class ClimateChart:
    """Lines to draw and figures to print. `seasonal` and `band` are absent where there is too little history."""

    title: str
    zone: str
    start: pd.Timestamp
    end: pd.Timestamp
    temp_c: Line
    rh_percent: Line
    dew_point_c: Line
    rows: tuple[DayRow, ...]
    coverage: float
    doubtful: Line | None = None  # humidity where a reading bears a quality mark and stays in
    seasonal: Line | None = None
    band: tuple[float, float] | None = None  # offsets from the seasonal level [% RH]
    band_words: str = ""
    stretches: tuple[Stretch, ...] = ()
    marks: tuple[Mark, ...] = ()
    limits: tuple[Limit, ...] = ()
    marked: tuple[Marked, ...] = ()  # of one logger: readings with marks, by how they stand
    notes: tuple[str, ...] = ()


def of_place(
    studio: Studio, place_id: str, start: pd.Timestamp, end: pd.Timestamp, steps: int = SCREEN
) -> ClimateChart:
    """The course of a place over [start, end), with the seasonal level and band of all that was read there.

    Raises
    ------
    NotThere : no such place, or no logger ever read there. BadInput : the end does not lie after the start.
    """
    place, whole = _whole(studio, place_id)
    if end <= start:
        raise BadInput("the last day lies before the first")
    part = whole.between(start, end)
    temp, rh, dew_point = (thinned(part, getattr(part, name), steps) for name in QUANTITIES)
    doubtful = thinned(part, np.where(part.suspect, part.rh_percent, np.nan), steps) if part.suspect.any() else None
    season = studio.memory.get(("season", whole.digest), lambda: _season(whole), _cost)
    seasonal, band, words = _within(season, start, end)
    return ClimateChart(place.name, place.zone, start, end, temp, rh, dew_point, _rows(part, place.zone), part.coverage,
                  doubtful=doubtful, seasonal=seasonal, band=band, band_words=words, notes=part.notes)  # fmt: skip


def shifted(shown: ClimateChart, later: pd.Timedelta, title: str) -> ClimateChart:
    """A course moved in time, to lie over another one; its figures by days keep the days on which they were read."""
    temp, rh, dew_point = (
        Line(line.time + later, line.values) for line in (shown.temp_c, shown.rh_percent, shown.dew_point_c)
    )
    return replace(shown, title=title, start=shown.start + later, end=shown.end + later, temp_c=temp, rh_percent=rh,
                   dew_point_c=dew_point, doubtful=None, seasonal=None, band=None, band_words="")  # fmt: skip


def course_of(air: Climate, title: str, zone: str, steps: int = SCREEN) -> ClimateChart:
    """The course of any air over its own span, by the clock of a zone."""
    temp, rh, dew_point = (thinned(air, getattr(air, name), steps) for name in QUANTITIES)
    return ClimateChart(title, zone, air.start, air.end, temp, rh, dew_point, _rows(air, zone), air.coverage,
                  notes=air.notes)  # fmt: skip


def span_of(studio: Studio, place_id: str) -> tuple[pd.Timestamp, pd.Timestamp]:
    """First and last time at which a place was read. NotThere: no such place, or never."""
    whole = _whole(studio, place_id)[1]
    return whole.time[0], whole.time[-1]


def places_read(studio: Studio) -> tuple[Place, ...]:
    """Places in which a logger ever hung."""
    hung = {hanging.place_id for logger in studio.loggers().values() for hanging in logger.hangings}
    return tuple(place for place in studio.places().values() if place.id in hung)


def _whole(studio: Studio, place_id: str) -> tuple[Place, Climate]:
    """All that was ever read in a place, one climate that every view of it is cut from."""
    place = studio.places().get(place_id)
    if place is None:
        raise NotThere(f"no place {place_id!r}")
    parts = [part for held in studio.state().parts.values() for part in held]
    if not parts:
        raise NotThere("no logger has been read yet")
    first = pd.Timestamp(min(part.first_us for part in parts), unit="us", tz="UTC").floor("D")
    last = pd.Timestamp(max(part.last_us for part in parts), unit="us", tz="UTC").ceil("D")
    whole = studio.climate(place_id, first, last)
    if not len(whole.time):
        raise NotThere("no logger has been read there yet", place=place.name)
    return place, whole


def _season(whole: Climate):
    """Hourly time, seasonal level, which of it is provisional, and the band."""
    hours = climate.hourly(whole)
    cycle, provisional = climate.seasonal_so_far(hours.rh_percent)
    return hours.time, cycle, provisional, climate.fluctuation_band(hours.rh_percent)


def _cost(season) -> int:
    return 3 * len(season[0])


def _within(season, start: pd.Timestamp, end: pd.Timestamp):
    time, cycle, provisional, band = season
    rows = slice(*time.searchsorted([start, end]))
    if not np.isfinite(cycle[rows]).any():
        return None, None, ""
    every = max(len(cycle[rows]) // SCREEN, 1)
    line = Line(time[rows][::every], cycle[rows][::every])
    words = "seasonal level (30 days)" + (", its last two weeks provisional" if provisional[rows].any() else "")
    if band is None:
        return line, None, words
    return line, (band.low, band.high), words + ("" if band.standard else "; band from less than 13 months")


def of_painting(
    studio: Studio, painting: Painting, start: pd.Timestamp, end: pd.Timestamp,
    findings: tuple[Finding, ...] = (), steps: int = SCREEN,
) -> ClimateChart:  # fmt: skip
    """What a painting went through over [start, end): its air, where it stood, what was done, its limits.

    Of two readings of a bare move day the one is drawn that gives the day to the place left.
    """
    exposure = studio.exposures(painting, start, end)[0]
    room = exposure.room
    temp, rh, dew_point = (thinned(room, getattr(room, name), steps) for name in QUANTITIES)
    stretches = tuple(Stretch(s.start, s.end, _where(s), s.intended) for s in exposure.stints if s.place_id)
    done = [Mark(t.on, t.kind) for t in painting.treatments if start <= t.on < end and t.kind not in NO_WORK]
    return ClimateChart(
        painting.title, studio.zone, start, end, temp, rh, dew_point, _rows(room, studio.zone), room.coverage,
        stretches=stretches, marks=tuple(done), limits=_limits(findings), notes=exposure.notes,
    )  # fmt: skip


def _where(stint) -> str:
    plain = stint.position in ("", Placement.UNKNOWN, *ENCLOSED)
    return stint.place_name if plain else f"{stint.place_name}, {stint.position}"


def _limits(findings: tuple[Finding, ...]) -> tuple[Limit, ...]:
    """Limits of the room's own temperature and humidity; those of swings, indices and other points are none."""
    of_air = [
        Limit(f.limit, f.unit, f"{f.limit:g} {f.unit}: {f.layer}")
        for f in findings
        if f.point == Point.ROOM and f.unit in ("°C", "% RH") and np.isfinite(f.limit)
        and any(word in f.mechanism for word in ("heat", "damp", "dry", "cold"))
    ]  # fmt: skip
    return tuple({(limit.value, limit.unit): limit for limit in of_air}.values())


def _rows(air: Climate, zone: str) -> tuple[DayRow, ...]:
    """By days, or by months where the span is long; a day of which nothing was read is a row that says so."""
    by_months = air.end - air.start > LONG
    edges = _edges(air.start, air.end, zone, "MS" if by_months else "D")
    spans = zip(edges, edges[1:], strict=False)
    return tuple(_row(air.between(a, b), _label(a.tz_convert(zone), by_months)) for a, b in spans)


def _label(local: pd.Timestamp, by_months: bool) -> str:
    return f"{local:%b %Y}" if by_months else f"{local:%a} {local.day} {local:%b}"


def _edges(start: pd.Timestamp, end: pd.Timestamp, zone: str, step: str) -> list[pd.Timestamp]:
    days = pd.date_range(start.tz_convert(zone).tz_localize(None).normalize(),
                         end.tz_convert(zone).tz_localize(None), freq=step)  # fmt: skip
    first = np.ones(len(days), bool)  # where midnight comes twice, the day begins with the first
    begins = days.tz_localize(zone, nonexistent="shift_forward", ambiguous=first).tz_convert("UTC")
    inner = [moment for moment in begins if start < moment < end]
    return [start, *inner, end]


def _row(part: Climate, label: str) -> DayRow:
    temp, rh, dew_point = (_range(getattr(part, name)) for name in QUANTITIES)
    return DayRow(label, temp, rh, dew_point, part.coverage)


def _range(values: np.ndarray) -> tuple[float, float]:
    read = values[np.isfinite(values)]
    return (float(read.min()), float(read.max())) if len(read) else (float("nan"), float("nan"))


__all__ = [
    "ClimateChart", "DayRow", "Limit", "Mark", "Marked", "Stretch", "course_of", "of_painting", "of_place",
    "places_read", "shifted", "span_of",
]  # fmt: skip
