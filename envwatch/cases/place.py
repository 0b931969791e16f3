"""One place, found by its name or id: its climate over as long as it was read, or over a span."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from envwatch.archive import Studio
from envwatch.archive.climates.spots import in_the_room
from envwatch.climate import PlaceHistory, describe_history
from envwatch.core.errors import NotThere
from envwatch.core.period import Period
from envwatch.core.place import Place
from envwatch.figures.review import LOOKS_BACK_DAYS


@dataclass(frozen=True)
class SpotTold:
    """What one logger of a place read where it hung: lowest and highest. [% RH], [°C]"""

    where: str  # "at the floor"
    logger: str
    name: str
    rh_range_percent: tuple[float, float]
    temp_range_c: tuple[float, float]


@dataclass(frozen=True)
class PlaceTold:
    """A place and its climate; `opening` is said first."""

    place: Place
    label: str
    history: PlaceHistory
    opening: tuple[str, ...] = ()
    spots: tuple[SpotTold, ...] = ()  # each logger for itself; empty where there is but one


def of(studio: Studio, words: str, now: pd.Timestamp, span: Period | None = None) -> PlaceTold:
    """The climate of the one place that the words fit; by default over the 14 months up to its last reading.

    Raises
    ------
    NotThere : no place fits, or nothing was read there in the span. Question : several places fit.
    """
    place = studio.find_place(words)
    start, end = (now - pd.Timedelta(days=float(LOOKS_BACK_DAYS)), now) if span is None else (span.start, span.end)
    read = studio.climate(place.id, start, end)
    if not len(read.time):
        hint = "" if span else ". Give another span with ⟦from⟧ and ⟦to⟧"
        raise NotThere(f"nothing was read there from {start:%Y-%m-%d} to {end:%Y-%m-%d}{hint}", place=place.name)
    opening: tuple[str, ...] = ()
    if span is None:  # the record itself: what was not fetched yet is not a hole in it
        end = min(read.time[-1] + pd.Timedelta(hours=float(read.hours[-1])), now)
        read = read.between(read.time[0], end)
        silent = (now - end) / pd.Timedelta(days=1)
        opening = (f"Nothing was read in the last {silent:.0f} days.",) if silent >= 2 else ()
    label = span.label if span else "all that was read, 14 months at most"
    return PlaceTold(place, label, describe_history(read, place.zone), opening,
                     _spots(studio, place, start, end))  # fmt: skip


def _spots(studio: Studio, place: Place, start: pd.Timestamp, end: pd.Timestamp) -> tuple[SpotTold, ...]:
    found = in_the_room(studio.spots(place.id, start, end))
    if len(found) < 2:
        return ()
    return tuple(
        SpotTold(spot.where, spot.logger, spot.name, spot.air.edges("rh_percent"), spot.air.edges("temp_c"))
        for spot in found
    )
