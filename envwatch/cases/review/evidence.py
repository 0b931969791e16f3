"""The air that a review judged, by painting: a digest that a later review holds against what is known by then."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import blake2b

import numpy as np
import pandas as pd

from envwatch.archive import Studio
from envwatch.archive.climates.exposure import first_reading, variants
from envwatch.climate.exposure import Stint
from envwatch.climate.series import Climate
from envwatch.core.arrays import Whole
from envwatch.core.painting import NO_WORK, Painting, Stay
from envwatch.core.period import SEVEN_DAYS, Period
from envwatch.core.place import PlaceKind, Placement
from envwatch.figures.review import BARE_DAY_COUNTS_DAYS, LATE_REACH_DAYS, READ_OUT_H
from envwatch.figures.walls import OUTDOOR_MEAN_H

REACH, DAY = pd.Timedelta(days=float(LATE_REACH_DAYS)), pd.Timedelta(days=1)
OUTDOORS = pd.Timedelta(hours=float(OUTDOOR_MEAN_H))
READ_OUT = pd.Timedelta(hours=float(READ_OUT_H))


class StudioAir:
    """The airs of a studio from its first reading to a week and a half past `end`, each assembled once.

    That is the span of a weekly review's own exposures (`archive.climates.exposure`): what it assembled serves here.
    """

    def __init__(self, studio: Studio, end: pd.Timestamp) -> None:
        self.studio, self.start, self.end = studio, (first_reading(studio) or end).floor("h"), end + 1.5 * SEVEN_DAYS
        self._ways: dict[tuple, list[tuple[Stint, ...]]] = {}
        self._airs: dict[tuple[str, str], Climate] = {}
        self._sums: dict[tuple[str, str], Whole] = {}
        self._places = studio.places()
        self._outdoors = next((p.id for p in self._places.values() if p.kind == PlaceKind.OUTDOORS), None)

    def digest(self, painting: Painting, span: Period, read_until: pd.Timestamp | None) -> str:
        """Of where it was, of what was read there until then, and of what was done to it, as known now.

        Over the period and the days before it that a window of it may reach back; nothing that is read after the
        period, or merely goes on from `read_until`, changes it.
        """
        until = span.start if read_until is None else min(span.end, read_until - READ_OUT)
        ways = [[self._at(stint, until) for stint in way] for way in self.ways(painting, span)]
        done = [(t.kind, t.on, t.intended_end, t.material, t.layer) for t in painting.treatments
                if t.on < span.end and t.kind not in NO_WORK]  # fmt: skip
        return blake2b(repr((ways, done)).encode(), digest_size=8).hexdigest()

    def ways(self, painting: Painting, span: Period) -> list[tuple[Stint, ...]]:
        """Where it was in the period and before it, once for each way in which the bare days of moves may be read."""
        start, end = span.start - REACH, span.end
        around = [s for s in painting.stays if s.start < end + DAY and (s.end is None or s.end > start - 2 * DAY)]
        key = _spot(around, start, end) or tuple(around), start, end
        if key not in self._ways:
            doubt_from = span.start - pd.Timedelta(days=float(BARE_DAY_COUNTS_DAYS))
            self._ways[key] = variants(around, self._places, start, end, doubt_from)
        return self._ways[key]

    def stint_at(self, painting: Painting, span: Period, moment: pd.Timestamp) -> Stint | None:
        """Where it was at a moment of the period or before it; None where that is not known."""
        stints = (stint for way in self.ways(painting, span) for stint in way)
        return next((stint for stint in stints if stint.start <= moment < stint.end), None)

    def read_in(self, painting: Painting, span: Period, start: pd.Timestamp, end: pd.Timestamp) -> bool:
        """Whether anything was read in a part of the period where it was."""
        parts = [(stint, max(start, stint.start), min(end, stint.end))
                 for way in self.ways(painting, span) for stint in way]  # fmt: skip
        return any(a < b and len(self.air(s.place_id, s.position).between(a, b).time) for s, a, b in parts)

    def air(self, place_id: str, position: str) -> Climate:
        """The air at a position over the whole span."""
        key = place_id, position
        if key not in self._airs:
            self._airs[key] = self.studio.climate(place_id, self.start, self.end, position)
        return self._airs[key]

    def _at(self, stint: Stint, until: pd.Timestamp) -> tuple:
        end = min(stint.end, until)
        outside: tuple[int, ...] = ()
        own = self._digest(stint.place_id, stint.position, stint.start, end)
        if stint.position == Placement.OUTER_WALL and self._outdoors is not None:  # what is behind it is reckoned
            outside = self._digest(self._outdoors, Placement.UNKNOWN, stint.start - OUTDOORS, end)
        return stint.place_id, stint.position, stint.start.value, stint.end.value, stint.intended, own, outside

    def _digest(self, place_id: str, position: str, start: pd.Timestamp, end: pd.Timestamp) -> tuple[int, int]:
        """Of the readings in [start, end): how many, and the sum of what each is mixed to."""
        key = place_id, position
        if key not in self._sums:
            self._sums[key] = np.append(np.uint64(0), np.cumsum(_mixed(self.air(*key)), dtype=np.uint64))
        first, last = np.searchsorted(self.air(*key).time.asi8, [start.value // 1000, end.value // 1000]).tolist()
        last = max(first, last)
        return last - first, (int(self._sums[key][last]) - int(self._sums[key][first])) % 2**64


def _spot(stays: Sequence[Stay], start: pd.Timestamp, end: pd.Timestamp) -> tuple:
    """What tells one whole stint from another, where a single stay holds the whole span and days beside it."""
    if len(stays) != 1:
        return ()
    stay, apart = stays[0], 2 * DAY
    whole = stay.start <= start - apart and (stay.end is None or stay.end >= end + apart)
    return (stay.place_id, stay.position, stay.intended, stay.purpose) if whole else ()


def _mixed(air: Climate) -> Whole:
    """Each reading as one whole number that any change of it makes another; (n,) 64 bits."""
    mixed = np.zeros(len(air.time), np.uint64)
    for column in (air.time.asi8, air.temp_c, air.rh_percent, air.suspect.astype(np.int64)):
        mixed = (mixed ^ np.ascontiguousarray(column).view(np.uint64)) * np.uint64(0x9E3779B97F4A7C15)
        mixed ^= mixed >> np.uint64(29)
    return mixed
