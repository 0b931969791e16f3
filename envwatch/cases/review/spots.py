"""A place told by all loggers that hang in it: its dampest, driest and hottest spot, and loggers that part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd

from envwatch import air, climate
from envwatch.archive.climates.spots import ProbeRecord, in_the_room
from envwatch.cases.review.model import Extreme
from envwatch.climate import PlaceSummary
from envwatch.core.place import PlaceKind, Placement
from envwatch.core.text import number, stamp
from envwatch.figures import events as fig

COLDER = (Placement.FLOOR, Placement.OUTER_WALL, Placement.WINDOW)  # what hangs there may be colder, and so damper
WARMER = (Placement.RADIATOR, Placement.FIREPLACE, Placement.WINDOW)
EDGES = (  # what a row tells, and which end of a position's figures it is
    ("dampest", "rh_max_percent", max), ("driest", "rh_min_percent", min), ("hottest", "temp_max_c", max),
    ("coldest", "temp_min_c", min),
)  # fmt: skip


def widest(
    room: PlaceSummary, spots: Sequence[ProbeRecord], zone: str, start: pd.Timestamp
) -> tuple[PlaceSummary, tuple[Extreme, ...]]:
    """A place's figures from the dampest, driest and hottest of its positions, and which position each is of.

    The room's own figures stand where they are the widest. Means, coverage and the departure from the season are the
    room's; no position is told where the place has but one.
    """
    spots = in_the_room(spots)
    if len(spots) < 2:
        return room, ()
    each = [(spot, climate.describe_place(spot.air, zone, max(start, spot.air.start))) for spot in spots]
    found = []
    for what, figure, edge in EDGES:
        known = [(getattr(told, figure), spot) for spot, told in each if np.isfinite(getattr(told, figure))]
        if known:
            value, spot = edge(known, key=lambda pair: pair[0])
            found.append(Extreme(what, value, spot.where, spot.position, spot.logger, spot is spots[0]))
    summaries = [room, *(told for _, told in each)]
    return _joined(room, summaries), tuple(found)


def _joined(room: PlaceSummary, summaries: Sequence[PlaceSummary]) -> PlaceSummary:
    def edge(figure: str, of: Any) -> float:
        return of((v for one in summaries if np.isfinite(v := getattr(one, figure))), default=float("nan"))

    swings = [one.swing for one in summaries if one.swing is not None]
    damp = tuple(max(same, key=lambda d: d.hours) for same in zip(*(one.damp for one in summaries), strict=True))
    edges: dict[str, Any] = {
        name: edge(name, max if "max" in name else min)
        for name in ("temp_min_c", "temp_max_c", "rh_min_percent", "rh_max_percent", "dew_point_min_c",
                     "dew_point_max_c")
    }  # fmt: skip
    return replace(
        room, damp=damp, swing=max(swings, key=lambda s: s.percent, default=None),
        dry_hours=edge("dry_hours", max), suspect_hours=edge("suspect_hours", max), **edges,
    )  # fmt: skip


# ------------------------------------------------------------------------------------------------ loggers that part


@dataclass(frozen=True)
class Parting:
    """Two loggers of one room that part by more than they can. `first` is the damper one.

    Differences are medians of the day on which they parted farthest, first less second.
    """

    first: ProbeRecord
    second: ProbeRecord
    since: pd.Timestamp
    until: pd.Timestamp | None  # None: still so at the end of what was read
    rh_percent: float
    rh_at_equal_vapour: float  # how much of it no difference of temperature explains
    temp_c: float
    can_percent: float  # by how much they can part
    dew_points_c: tuple[float, float]

    @property
    def wet(self) -> bool:
        """Whether the vapour differs by more than the two can."""
        return abs(self.rh_at_equal_vapour) > self.can_percent

    def sentence(self, zone: str) -> str:
        """What is asked of who goes and looks."""
        when = f"since {stamp(self.since, zone)}"
        if self.until is not None:
            when = f"from {stamp(self.since, zone)} to {stamp(self.until, zone)}"
        dew = " against ".join(number(one) for one in self.dew_points_c)
        by = f"{self.rh_percent:+.0f} % RH, {self.temp_c:+.1f} °C".replace("-", "−")
        can = f"by more than the {number(self.can_percent, 0)} % RH they can"
        head = f"and {self.second.name} in one room part {can}, {when} ({by})"
        spot = self.first.where
        if self.wet:
            return (f"{head}. The vapour differs (dew point {dew} °C): a wet corner {spot}, or does one read wrong? "
                    "Look at wall and floor there, and hang the two side by side for a day")  # fmt: skip
        return (f"{head}. The vapour is the same (dew point {dew} °C): a cold spot {spot}, or hangs one wrongly, over "
                "heat or in the sun? Look where each hangs")  # fmt: skip


def partings(spots: Sequence[ProbeRecord], kind: PlaceKind) -> Iterator[Parting]:
    """Pairs of loggers of one room that part by more than they can for a day or more, damper one first.

    A colder spot on record as floor, outer wall or window, and a warmer one as radiator, fireplace or window, are what
    their position says. Doubted readings are asked about by their marks.
    """
    if kind is PlaceKind.OUTDOORS:
        return
    told = [spot for spot in in_the_room(spots) if not spot.doubted]
    frames = {spot.key: _hours(spot) for spot in told}
    for one, other in combinations(told, 2):
        if one.logger == other.logger and one.channel == other.channel:
            continue
        found = _parting(one, other, frames[one.key], frames[other.key])
        if found is not None and (found.wet or not _by_position(found)):
            yield found


def _by_position(found: Parting) -> bool:
    return found.first.position in COLDER or found.second.position in WARMER


def _hours(spot: ProbeRecord) -> pd.DataFrame:
    hours = climate.hourly(spot.air)
    return pd.DataFrame({"temp_c": hours.temp_c, "rh_percent": hours.rh_percent}, hours.time).dropna()


def _parting(
    one: ProbeRecord, other: ProbeRecord, a: pd.DataFrame, b: pd.DataFrame, turned: bool = False
) -> Parting | None:
    """By the medians of a day; None where they never part by more than they can, or hardly read together.

    `turned`: it was asked the other way round, and `one` was the damper; seen from its own temperature that may look
    otherwise where temperature and vapour part at once, and is not asked again.
    """
    a, b = a.align(b, join="inner", axis=0)
    if len(a) < fig.APART_H:
        return None
    vapour = a["rh_percent"] - air.rh_at(b["temp_c"], b["rh_percent"], a["temp_c"])
    differ = pd.DataFrame(
        {"rh": a["rh_percent"] - b["rh_percent"], "vapour": vapour, "temp": a["temp_c"] - b["temp_c"]}
    )
    day = differ.rolling(pd.Timedelta(hours=float(fig.APART_H)), min_periods=int(fig.APART_H / 2)).median()
    most = day[["rh", "vapour"]].abs().max(axis=1)
    at: Any = most.idxmax()
    can = _can(one, other, float(a["temp_c"][at]), float(a["rh_percent"][at]))
    if not most[at] > can:
        return None
    leads = "vapour" if abs(day["vapour"][at]) > can else "rh"
    if day[leads][at] < 0 and not turned:
        return _parting(other, one, b, a, turned=True)
    far = most.index[most > can]
    since = max(far[0] - pd.Timedelta(hours=float(fig.APART_H) / 2), most.index[0])
    until = None if far[-1] == most.index[-1] else far[-1]
    dew = [float(air.dew_point(f["temp_c"][at], f["rh_percent"][at])) for f in (a, b)]
    rh, moist, temp = (float(day[name][at]) for name in ("rh", "vapour", "temp"))
    return Parting(one, other, since, until, rh, moist, temp, can, (dew[0], dew[1]))


def _can(one: ProbeRecord, other: ProbeRecord, temp_c: float, rh_percent: float) -> float:
    """By how much two loggers of one air can part: both limits of error, that of temperature as humidity, a margin."""
    a, b = one.air.sensor, other.air.sensor
    rh_u = float(np.hypot(a.rh_u_percent, b.rh_u_percent))
    temp_u = float(np.hypot(a.temp_u_c, b.temp_u_c)) + float(fig.APART_C)
    by_temp = float(air.rh_at(temp_c, rh_percent, temp_c - temp_u)) - rh_percent
    return float(np.hypot(rh_u, by_temp)) + float(fig.APART_RH)
