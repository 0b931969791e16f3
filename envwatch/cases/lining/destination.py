"""The climate of the place a painting is going to: a year of logs, or a position as it is described."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
import pandas as pd

from envwatch.archive import Studio
from envwatch.climate.exposure import Exposure
from envwatch.core.errors import NotThere
from envwatch.core.painting import Painting, Stay
from envwatch.core.place import Placement
from envwatch.figures import around_lining as fig

YEAR = pd.Timedelta(days=float(fig.YEAR_D))


@dataclass(frozen=True, eq=False)
class Destination:
    """A year at a place, in each way its blanks may be filled; the harsher counts. `basis`: where it comes from."""

    name: str
    exposures: tuple[Exposure, ...]
    start: pd.Timestamp
    end: pd.Timestamp
    zone: str
    basis: str
    notes: tuple[str, ...]

    @property
    def coverage(self) -> float:
        """Share of the year for which there is air, 0 to 1; of the poorest of the exposures."""
        return min(exposure.room.coverage for exposure in self.exposures)


class Year(Protocol):
    """What is taken of a year that another part has reckoned: `hanging.year.DescribedYear` is one."""

    @property
    def name(self) -> str: ...
    @property
    def exposures(self) -> tuple[Exposure, ...]: ...
    @property
    def start(self) -> pd.Timestamp: ...
    @property
    def end(self) -> pd.Timestamp: ...
    @property
    def zone(self) -> str: ...
    @property
    def basis(self) -> str: ...
    @property
    def notes(self) -> tuple[str, ...]: ...


def of_year(year: Year) -> Destination:
    """A year that was reckoned elsewhere, as a destination."""
    return Destination(year.name, year.exposures, year.start, year.end, year.zone, year.basis, year.notes)


def part(exposure: Exposure, start: pd.Timestamp, end: pd.Timestamp) -> Exposure:
    """The part of an exposure in [start, end), as if nothing came before."""
    points = {name: there.between(start, end) for name, there in exposure.points.items()}
    stints = tuple(
        replace(s, start=max(s.start, start), end=min(s.end, end))
        for s in exposure.stints
        if s.start < end and s.end > start
    )
    return replace(exposure, points=points, start=start, end=end, stints=stints)


def of_place(
    studio: Studio, painting: Painting, place_id: str, position: str, arrives: pd.Timestamp,
    year_from: pd.Timestamp | None = None,
) -> Destination:  # fmt: skip
    """A logged year at a place, as this painting would have stood in it.

    Parameters
    ----------
    arrives : the day it would go there; the year begins on that day of a past year.
    year_from : the year to take instead; by default the one that was read best, of equals the latest.

    Raises
    ------
    NotThere : no such place, or nothing was read there in that year.
    """
    places = studio.places()
    if place_id not in places:
        raise NotThere(f"not a place of the register. There are {', '.join(places)}", field="to", seen=place_id)
    place = places[place_id]
    start = year_from.floor("h") if year_from is not None else _latest(studio, place_id, arrives)
    end = start + YEAR
    stay = Stay(place_id, start, end, Placement(position), start_is_date=False, end_is_date=False)
    ways = studio.exposures(replace(painting, stays=(stay,)), start, end)
    if not any(np.isfinite(way.room.temp_c).any() for way in ways):
        raise NotThere(
            f"nothing was read there from {start.date()} on for a year. Hang a logger there, or describe "
            "the position in a file (⟦positions⟧)",
            place=place.name,
        )
    share = min(way.room.coverage for way in ways)
    first, last = (day.tz_convert(place.zone).date() for day in (start, end))
    notes = tuple(dict.fromkeys(note for way in ways for note in way.notes))
    return Destination(
        f"{place.name}, {position}", ways, start, end, place.zone,
        f"read there from {first} to {last}, {share:.0%} of that year", notes,
    )  # fmt: skip


def _latest(studio: Studio, place_id: str, arrives: pd.Timestamp) -> pd.Timestamp:
    """The anniversary of the arrival from which a year was read best; of equals, the latest."""
    tried = [arrives.floor("h") - n * YEAR for n in range(int(fig.YEARS_BACK) + 1)]
    return max(tried, key=lambda day: (round(studio.climate(place_id, day, day + YEAR).coverage, 1), day.value))
