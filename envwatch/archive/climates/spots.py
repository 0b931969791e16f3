"""The air at each logger of a place, for itself: what the room's one logger does not say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from envwatch.archive.climates.deployments import Deployment, hung_in
from envwatch.archive.climates.place import probes
from envwatch.archive.store.records import require_id
from envwatch.climate.exposure import ENCLOSED
from envwatch.climate.series import Climate
from envwatch.core.place import Placement

if TYPE_CHECKING:
    from envwatch.archive.store.source import ReadingSource


@dataclass(frozen=True, eq=False)
class ProbeRecord:
    """What one logger, or one probe of it, read where it hung. `doubted`: most of it bears a mark, of a drift from a
    neighbour too."""

    position: Placement
    logger: str  # its id
    name: str
    channel: str
    air: Climate
    doubted: bool = False

    @property
    def key(self) -> tuple[str, str, str]:
        """What tells it from the others of its place."""
        return self.logger, self.channel, self.position

    @property
    def where(self) -> str:
        """ "at the floor"; by its logger where nobody said where that hangs."""
        return f"at {self.name}" if self.position == Placement.UNKNOWN else f"at the {self.position}"


def in_the_room(spots: Sequence[ProbeRecord]) -> tuple[ProbeRecord, ...]:
    """Without those in a crate or a chamber, whose air is their own."""
    return tuple(spot for spot in spots if spot.position not in ENCLOSED)


def spots(studio: ReadingSource, place_id: str, start: pd.Timestamp, end: pd.Timestamp) -> tuple[ProbeRecord, ...]:
    """The air at each logger of a place over a span, those that speak for the room first. See `Studio.spots`."""
    place = studio.places()[require_id("place", place_id, studio.places())]
    key = ("spots", place_id, start, end)

    def made() -> tuple[ProbeRecord, ...]:
        hung = [one for one in hung_in(studio, place.id) if one.covers(start, end)]
        return tuple(spot for one in hung if (spot := _spot(studio, place.id, one, start, end)) is not None)

    return studio.state().air.get(key, made, lambda found: sum(len(spot.air.time) for spot in found))


def _spot(
    studio: ReadingSource, place_id: str, hung: Deployment, start: pd.Timestamp, end: pd.Timestamp
) -> ProbeRecord | None:
    """While it hung there; None where it read nothing. Of probes that nobody has told apart the first, as elsewhere."""
    a, b = max(start, hung.hanging.start), end if hung.hanging.end is None else min(end, hung.hanging.end)
    read = probes(studio, studio.places()[place_id], hung, a, b)
    if not read or not np.isfinite(read[0].rh_percent).any():
        return None
    air = read[0]
    doubted = bool(air.suspect.mean() > 0.5)
    return ProbeRecord(hung.hanging.position, hung.logger.id, hung.logger.name, hung.hanging.channel, air, doubted)
