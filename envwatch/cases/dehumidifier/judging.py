"""Simulated air at each painting of a room, handed to `verdict.judge`, once for each distinct build-up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from envwatch import air, verdict
from envwatch import climate as describing
from envwatch.archive import Studio
from envwatch.cases.dehumidifier.alternatives import Counted
from envwatch.cases.dehumidifier.model import FindingChange
from envwatch.climate.exposure import CANVAS_BACK, ROOM, WALL_FACE, Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.findings import Level, Verdict, outside
from envwatch.core.painting import Painting
from envwatch.core.place import Place, Placement, Sensor
from envwatch.figures.walls import OUTDOOR_MEAN_H
from envwatch.physics import wall


@dataclass(frozen=True)
class HungPainting:
    """A painting in the room, and where in it."""

    painting: Painting
    position: Placement
    colder_k: np.ndarray | None  # (hours,) what a logger at that very position read below (or above) the room's
    own_logger: bool = False


@dataclass(frozen=True, eq=False)
class RoomAir:
    """The room hour by hour (h,): `temp_c` without machines, `outside_c` as a wall follows it."""

    place: Place
    time: pd.DatetimeIndex
    temp_c: np.ndarray
    outside_c: np.ndarray
    sensor: Sensor
    start: pd.Timestamp
    end: pd.Timestamp
    judged_from: pd.Timestamp  # the days before it, the run-in, carry the layers' state


def paintings_in(
    studio: Studio, place_id: str, start: pd.Timestamp, end: pd.Timestamp, room: RoomAir
) -> list[HungPainting]:
    """The paintings in a place at the end of a span, with the air of their own position where it was read."""
    found = []
    for painting in studio.paintings().values():
        stay = next((s for s in reversed(painting.stays) if s.start < end), None)
        if stay is None or stay.place_id != place_id or (stay.end is not None and stay.end < end):
            continue
        found.append(_hung(studio, painting, stay.position, place_id, start, end, room))
    return found


def _hung(studio, painting: Painting, position: Placement, place_id: str, start, end, room: RoomAir) -> HungPainting:
    there, general = (describing.hourly(studio.climate(place_id, start, end, p)) for p in (position, None))
    away = pd.Series(there.temp_c - general.temp_c, index=there.time)
    if not np.nanmax(np.abs(away.to_numpy()), initial=0.0) > 0:
        return HungPainting(painting, position, None)
    away = away.reindex(room.time)
    by_month = away.groupby(room.time.month).transform("mean")
    return HungPainting(painting, position, away.fillna(by_month).fillna(away.mean()).to_numpy(), True)


def exposure(room: RoomAir, hung: HungPainting, rh_percent: np.ndarray, warmer_k: np.ndarray | float) -> Exposure:
    """The exposure of a painting at its position, from the room's simulated humidity. (h,) NaN: not known."""
    temp_c = room.temp_c + warmer_k
    rh = np.clip(rh_percent, 0, 100).astype(float)
    if hung.colder_k is not None:
        here_c = temp_c + hung.colder_k
        rh, temp_c = np.minimum(air.rh_at(temp_c, rh, here_c), 100.0), here_c
    points = {ROOM: _climate(room, temp_c, rh)}
    known = np.isfinite(room.outside_c)
    if hung.position == Placement.OUTER_WALL and not hung.own_logger and known.any():
        faces = wall.behind_picture(temp_c, rh, room.outside_c, backed=bool(hung.painting.backed))
        points |= {point: _climate(room, *face) for point, face in zip((WALL_FACE, CANVAS_BACK), faces, strict=True)}
    stint = Stint(room.start, room.end, room.place.id, room.place.name, hung.position, room.place.zone,
                  own_logger=hung.own_logger)  # fmt: skip
    return Exposure(points, room.start, room.end, (stint,))


def _climate(room: RoomAir, temp_c: np.ndarray, rh_percent: np.ndarray) -> Climate:
    read = np.isfinite(temp_c) & np.isfinite(rh_percent)
    return Climate.of(room.time[read], temp_c[read], rh_percent[read], start=room.start, end=room.end,
                      hours=np.ones(int(read.sum())), sensor=room.sensor)  # fmt: skip


def build_up(hung: HungPainting) -> Painting:
    """The painting without what no hazard looks at: paintings alike in the rest are judged once."""
    return replace(hung.painting, id="", title="", maker="", owner="", stays=(), care_until=None)


def judged(
    studio: Studio,
    room: RoomAir,
    hung: Sequence[HungPainting],
    rh_percent: np.ndarray,
    warmer_k,
    treated_on: pd.Timestamp,
) -> dict[str, Verdict]:
    """Verdict by painting, as treated at a stated start; of a room without paintings, of the bare room under ""."""
    found: dict[tuple, Verdict] = {}
    airs: dict[tuple, Exposure] = {}  # paintings at one position share their air
    out = {}
    for one in hung:
        key = (build_up(one), one.position)
        if key not in found:
            treated = one.painting.as_treated(treated_on)
            where = (one.position, one.painting.backed)
            if where not in airs:
                airs[where] = exposure(room, one, rh_percent, warmer_k)
            found[key] = verdict.judge(airs[where], treated, room.judged_from, studio.materials())
        out[one.painting.id] = replace(found[key], painting_id=one.painting.id)
    if not hung:
        bare = HungPainting(Painting("", ""), Placement.UNKNOWN, None)
        out[""] = verdict.judge(exposure(room, bare, rh_percent, warmer_k), None, room.judged_from)
    return out


def judged_at(
    studio: Studio, room: RoomAir, hung: Sequence[HungPainting], counted: Counted, lane: int, treated_on: pd.Timestamp
) -> dict[str, Verdict]:
    """Verdicts on one whole draw of an alternative."""
    warmer = 0.0 if counted.warmer_k is None else counted.warmer_k[:, lane].astype(float)
    return judged(studio, room, hung, counted.rh_percent[:, lane], warmer, treated_on)


def wall_mean(time: pd.DatetimeIndex, outside_c: np.ndarray) -> np.ndarray:
    """Outdoor temperature as masonry follows it. (h,) -> (h,)"""
    return describing.running_mean(outside_c, int(OUTDOOR_MEAN_H))


# ------------------------------------------------------------------------------------------------- before and after


def changes(before: Mapping[str, Verdict], after: Mapping[str, Verdict]) -> tuple[FindingChange, ...]:
    """Flag by flag, what an alternative cleared, left, or brought; those raised in neither are left out.

    A limit from memory alone raises none: the case goes to whoever pays.
    """
    out = []
    for id, was in before.items():
        old = {(f.hazard, f.mechanism): f for f in was.findings}
        new = {(f.hazard, f.mechanism): f for f in after[id].findings}
        for key in dict.fromkeys((*old, *new)):
            a, b = old.get(key), new.get(key)
            levels = [Level.CLEAR if f is None else outside(f) for f in (a, b)]
            if max(levels) < Level.WATCH:
                continue
            shown = b if b is not None and levels[1] >= Level.WATCH else a
            assert shown is not None
            out.append(FindingChange(id, *key, *levels, shown.layer, shown.sentence))
    return tuple(out)
