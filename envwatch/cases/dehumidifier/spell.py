"""A heatwave or a cold snap: from tomorrow's highest and lowest outdoors, which painting crosses first, and where to.

Each room's own lag behind outdoors is learnt from its log; its moisture goes through the fitted balance.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from envwatch import air, verdict
from envwatch import climate as describing
from envwatch.archive import Studio
from envwatch.cases.dehumidifier.case import NEVER_MOVED_TO, setting, studio_outdoors
from envwatch.cases.dehumidifier.inputs import DryingInputs
from envwatch.cases.dehumidifier.judging import paintings_in
from envwatch.climate.exposure import Exposure, Stint
from envwatch.climate.outdoors import DATED, Outdoors, on_grid
from envwatch.climate.series import Climate
from envwatch.core.errors import BadInput, EnvwatchError
from envwatch.core.findings import Level
from envwatch.core.place import Place, Placement, Point
from envwatch.figures import dehumidifier as fig
from envwatch.figures.materials import Materials
from envwatch.physics.room import Forcing, simulate

LAGS_H = np.geomspace(0.5, 1000, 25)
HISTORY = pd.Timedelta(days=60)


@dataclass(frozen=True)
class Lag:
    """How a room follows outdoors: T = a + b x (outdoors, lagged). `rms_k` is what is left over."""

    lag_h: float
    a: float
    b: float
    rms_k: float


@dataclass(frozen=True)
class Crossing:
    """A painting that a limit is foretold for."""

    painting_id: str
    title: str
    level: Level
    at: pd.Timestamp | None
    sentence: str
    carry_to: str  # where nothing as bad is foretold; "" if nowhere


@dataclass(frozen=True, eq=False)
class Ahead:
    """What a spell would do to one room. `crossings`: the first first; `start_from` is the last reading."""

    place: Place
    zone: str
    start: pd.Timestamp
    end: pd.Timestamp
    highest_c: float
    lowest_c: float
    room_highest_c: float
    room_lowest_c: float
    room_highest_rh: float
    room_lowest_rh: float
    crossings: tuple[Crossing, ...]
    sentence: str
    notes: tuple[str, ...]


def lag_of(temp_c: np.ndarray, outside_c: np.ndarray) -> Lag:
    """Fit a room's first-order lag to hourly temperatures. (n,) each, NaN where not read; outdoors bridged.

    >>> t = np.arange(2000.0)
    >>> out = 10 + 8 * np.sin(t / 30)
    >>> room = 3 + 0.8 * describing.lagged(out, 20.0, 1.0, start=10.0)
    >>> lag = lag_of(room, out)
    >>> 17 < lag.lag_h < 24, round(lag.b, 1)
    (True, 0.8)
    """
    best = None
    read = np.isfinite(temp_c) & np.isfinite(outside_c)
    if read.sum() < 24 * fig.FIT_LEAST_DAYS:
        raise BadInput("less than a week was read in the room and outdoors together: its lag cannot be learnt")
    filled = pd.Series(outside_c).interpolate(limit_direction="both").to_numpy()
    for lag_h in LAGS_H.tolist():
        slow = describing.lagged(filled, np.full(len(filled), lag_h), np.ones(len(filled)), start=float(filled[0]))
        columns = np.column_stack([np.ones(read.sum()), slow[read]])
        (a, b), *_ = np.linalg.lstsq(columns, temp_c[read], rcond=None)
        rms = float(np.sqrt(np.mean((temp_c[read] - columns @ [a, b]) ** 2)))
        if best is None or rms < best.rms_k:
            best = Lag(lag_h, float(a), float(b), rms)
    assert best is not None
    return best


def ahead(
    studio: Studio, place_id: str, now: pd.Timestamp, highest_c: float, lowest_c: float, days: int, asked: DryingInputs
) -> Ahead:
    """What so many days between two temperatures outdoors would do, from the last reading on.

    Raises
    ------
    BadInput : the highest is not over the lowest, or both are not degrees outdoors; no dated air outdoors.
    """
    if not -50 <= lowest_c < highest_c <= 60 or not 1 <= days <= 14:
        raise BadInput(f"a spell of {days} days, {lowest_c:g} to {highest_c:g} °C: give the lowest under the highest, "
                       "within -50 to 60 °C, for 1 to 14 days")  # fmt: skip
    outdoors = asked.outdoors or studio_outdoors(studio, now)
    if outdoors.kind != DATED:
        raise BadInput("a spell ahead needs dated air outdoors: a logger of the studio's, or a station's file")
    given = setting(studio, place_id, now, replace(asked, draws=20))
    start = given.room.end
    spell = _spell(outdoors, start, highest_c, lowest_c, days)
    here, lag = _foretold(given.place, given.indoor, outdoors, spell, given)
    hung = paintings_in(studio, given.place.id, given.room.start, start, given.room)
    elsewhere = _elsewhere(studio, given, outdoors, spell, now)
    found = []
    for one in hung:
        found += _crossings(one, here, elsewhere, given.place, start, studio.materials())
    found.sort(key=lambda c: (c.at if c.at is not None else here.end, -c.level))
    during = here.between(start, here.end)
    notes = (
        f"the room follows outdoors with a lag of about {lag.lag_h:.0f} h; its log is met within {lag.rms_k:.1f} K",
        "the vapour outdoors is taken to stay as it was in the last day read, at most saturated; sun on the building "
        "counts only as far as the log shows it",
        f"the last reading is of {start:%Y-%m-%d %H:%M} UTC: the spell is reckoned from there",
    )
    return Ahead(
        given.place, given.place.zone, start, here.end, highest_c, lowest_c, float(during.temp_c.max()),
        float(during.temp_c.min()), float(during.rh_percent.max()), float(during.rh_percent.min()), tuple(found),
        _sentence(found, given.place, hung), notes,
    )  # fmt: skip


def _spell(outdoors: Outdoors, start: pd.Timestamp, highest_c: float, lowest_c: float, days: int) -> Outdoors:
    """Hours of a spell: a daily wave between the two, highest at three in the afternoon UTC, vapour as last seen."""
    time = pd.date_range(start, periods=24 * days, freq="h")
    wave = np.cos(2 * np.pi * (time.hour.to_numpy() - 15) / 24)
    temp_c = (highest_c + lowest_c) / 2 + (highest_c - lowest_c) / 2 * wave
    last = (outdoors.time < start) & (outdoors.time >= start - pd.Timedelta(days=1)) & np.isfinite(outdoors.vapour_pa)
    if not last.any():
        raise BadInput("nothing was read outdoors on the last day: add the logger's file, or name a station's file")
    vapour = np.minimum(float(outdoors.vapour_pa[last].mean()), air.saturation_pressure(temp_c))
    return Outdoors(time, temp_c, vapour, DATED, "as typed in")


def _foretold(place: Place, indoor: Climate, outdoors: Outdoors, spell: Outdoors, given) -> tuple[Climate, Lag]:
    """History and spell of one room as one climate. `given`: its fitted room, or None: humidity by vapour held."""
    hourly = describing.hourly(indoor)
    outside_c, _, _ = on_grid(outdoors, hourly.time, 1e9)
    lag = lag_of(hourly.temp_c, outside_c)
    whole = np.concatenate([outside_c, spell.temp_c])
    slow = describing.lagged(whole, np.full(len(whole), lag.lag_h), np.ones(len(whole)), start=float(whole[0]))
    temp_c = lag.a + lag.b * slow[len(outside_c) :]
    read = np.isfinite(hourly.temp_c) & np.isfinite(hourly.rh_percent)
    last = int(np.flatnonzero(read)[-1])
    temp_c = temp_c + (hourly.temp_c[last] - lag.a - lag.b * slow[last])  # begin where the room is now
    rh = _humidity(temp_c, spell, hourly.temp_c[last], hourly.rh_percent[last], given)
    before = indoor.between(max(indoor.start, spell.time[0] - HISTORY), spell.time[0])
    after = Climate.of(spell.time, temp_c, rh, sensor=indoor.sensor)
    return Climate.joined([before, after], before.start, after.end), lag


def _humidity(temp_c, spell: Outdoors, last_c: float, last_rh: float, given) -> np.ndarray:
    if given is None:  # a room that was not fitted keeps its vapour
        return np.clip(air.rh_at(last_c, last_rh, temp_c), 0, 100)
    drive = Forcing(spell.time, 1.0, temp_c, spell.vapour_pa, np.ones(len(temp_c), bool))
    rooms = given.draws.rooms(last_rh)
    return simulate(drive, replace(rooms, heat_loss_w_k=np.inf)).rh_percent[:, 0].astype(float)


def _elsewhere(studio: Studio, given, outdoors: Outdoors, spell: Outdoors, now) -> list[tuple[Place, Climate]]:
    found = []
    for place in studio.places().values():
        if place.id == given.place.id or place.kind in NEVER_MOVED_TO:
            continue
        there = studio.climate(place.id, given.room.start, given.room.end)
        try:
            found.append((place, _foretold(place, there, outdoors, spell, None)[0]))
        except EnvwatchError:
            continue  # too little was read there to foretell anything
    return found


def _crossings(
    one, here: Climate, elsewhere, place: Place, spell_from: pd.Timestamp, materials: Materials
) -> list[Crossing]:
    """What is raised in the spell and was not in the days before it."""
    before = _judged(one, here, here.start, spell_from, place, materials)
    was = {(f.hazard, f.mechanism): f.level for f in before.findings}
    now = _judged(one, here, spell_from, here.end, place, materials)
    out = []
    for finding in now.raised:
        if finding.level <= was.get((finding.hazard, finding.mechanism), Level.CLEAR):
            continue
        safer = [p.name for p, c in elsewhere if _level(one, c, spell_from, p, materials) < finding.level]
        at = finding.since if finding.since is not None and finding.since >= spell_from else finding.worst_at
        out.append(Crossing(one.painting.id, one.painting.title, finding.level, at, finding.sentence,
                            safer[0] if safer else ""))  # fmt: skip
    return out


def _judged(one, there: Climate, start: pd.Timestamp, end: pd.Timestamp, place: Place, materials: Materials):
    part = there.between(there.start, end)
    stint = Stint(part.start, part.end, place.id, place.name, one.position, place.zone)
    return verdict.judge(Exposure({Point.ROOM: part}, part.start, part.end, (stint,)), one.painting, start, materials)


def _level(one, there: Climate, start: pd.Timestamp, place: Place, materials: Materials) -> Level:
    """Worst level there, of whatever hazard: a cure must bring no other harm."""
    judged = _judged(replace(one, position=Placement.RACK), there, start, there.end, place, materials)
    return max((f.level for f in judged.findings if f.level >= Level.WATCH), default=Level.CLEAR)


def _sentence(found: list[Crossing], place: Place, hung) -> str:
    if not hung:
        return f"No painting stands in {place.name} now."
    if not found:
        return f"Nothing new is foretold for the {len(hung)} paintings in {place.name}."
    first = found[0]
    when = "" if first.at is None else f" on {first.at.tz_convert(place.zone):%a %d %b %H:%M}"
    where = (
        f"carry it to: {first.carry_to}" if first.carry_to else "no other room with a logger is foretold to be better"
    )
    return f"{first.title} crosses first{when} ({first.level.word}); {where}."
