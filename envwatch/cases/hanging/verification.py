"""After hanging: what the owner's logger read since, judged by the same path and held against the advice."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from envwatch import climate, verdict
from envwatch.archive import Studio
from envwatch.cases.hanging import judging, microclimate
from envwatch.cases.hanging.advice import as_hung, asked_of, history_of
from envwatch.cases.hanging.microclimate import RoomLog
from envwatch.cases.hanging.model import PositionResult
from envwatch.cases.hanging.scenario import case_of, pick_for
from envwatch.cases.hanging.spot import HangingPosition
from envwatch.climate.exposure import CANVAS_BACK, ROOM, WALL_FACE, Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.errors import BadInput
from envwatch.core.findings import Finding, Hazard, Level, Verdict
from envwatch.core.painting import Painting
from envwatch.core.place import Placement

WORSE, AS_ADVISED, BETTER = "worse than advised", "as advised", "better than advised"


@dataclass(frozen=True, eq=False)
class SinceHanging:
    """One count since hanging, beside what was advised of it."""

    finding: Finding
    low: Level
    high: Level
    word: str


@dataclass(frozen=True, eq=False)
class HangingCheck:
    """The owner's log against the advice for one position."""

    name: str
    start: pd.Timestamp
    end: pd.Timestamp
    verdict: Verdict
    counts: tuple[SinceHanging, ...]
    winter: bool
    sentence: str
    notes: tuple[str, ...]


def after_hanging(
    studio: Studio,
    painting: Painting,
    spot: HangingPosition,
    advised: PositionResult,
    log: Climate,
    hang_on: pd.Timestamp,
) -> HangingCheck:
    """Judge what was logged at a position from the day of hanging, or from the log's begin where it is later.

    Parameters
    ----------
    log : the owner's file, read. It counts as the air of the room beside the picture.

    Raises
    ------
    BadInput : a log that ends before the day of hanging.
    """
    start = max(log.start, hang_on)
    if log.end <= start:
        raise BadInput(f"the log ends on {log.end.date()}, before it was hung on {hang_on.date()}", place=spot.name)
    hung, _ = as_hung(painting, hang_on)
    history = history_of(studio, painting, start)
    asked = asked_of(studio, hung, replace(spot, log="", log_here=False), hang_on, history)
    judged = verdict.judge(_exposure(asked, log.between(start, log.end), history), hung, start, asked.materials)
    counts = tuple(
        _count(finding, advised) for finding in judged.findings if finding.hazard not in (Hazard.LIGHT, Hazard.POSITION)
    )
    winter = bool(np.isin(climate.hourly(log.between(start, log.end)).time.month, (12, 1, 2)).sum() > 24 * 60)
    return HangingCheck(spot.name, start, log.end, judged, counts, winter, _sentence(counts, winter), asked.spot.notes)


def _count(finding: Finding, advised: PositionResult) -> SinceHanging:
    key = finding.hazard, finding.mechanism
    same = next((i for i in advised.found if (i.worst.hazard, i.worst.mechanism) == key), None)
    low, high = (same.low, same.high) if same else (Level.CLEAR, Level.CLEAR)
    if finding.level is Level.UNKNOWN or low <= finding.level <= high:
        word = AS_ADVISED if finding.level is not Level.UNKNOWN else "not known yet"
    else:
        word = WORSE if finding.level > high else BETTER
    return SinceHanging(finding, low, high, word)


def _sentence(counts: tuple[SinceHanging, ...], winter: bool) -> str:
    worse = [count for count in counts if count.word == WORSE]
    tail = "" if winter else " No winter has been read yet: the worst season is still to come."
    if worse:
        first = max(worse, key=lambda count: count.finding.level)
        return f"Worse than advised: {first.finding.sentence}{tail}"
    if any(count.finding.level >= Level.ACT for count in counts):
        return f"As bad as the advice feared: see what was found.{tail}"
    return f"Within what was advised.{tail}"


def _exposure(asked: judging.PositionAssessment, log: Climate, history: Climate | None) -> Exposure:
    """The log as the room's air, with wall face and canvas back reckoned from it at the worst filling of the blanks."""
    case = case_of(asked.spot, pick_for("damp"))
    hours = climate.hourly(log)
    logs = replace(asked.logs, time=hours.time, outside_c=_on(asked, hours.time), outside_rh=None, history=history)
    read = RoomLog(hours.temp_c, hours.rh_percent, log.sensor)
    case = replace(case, plume=None, lamp_k=0.0, evening_c=None)  # the logger hangs there: nothing is added
    air_there = (read.temp_c, read.rh_percent)
    outside, _ = microclimate.outdoors(case, logs, asked.southern)
    mean = climate.running_mean(outside, 24)
    mean = np.where(np.isfinite(mean), mean, outside)
    height = microclimate.height_m(asked.painting)
    behind = microclimate.faces(case, air_there, mean, height)
    points = {ROOM: microclimate.with_history(logs, air_there, log.sensor, True)}
    if behind is not None:
        points[WALL_FACE] = microclimate.with_history(logs, behind[0], log.sensor, False)
        points[CANVAS_BACK] = microclimate.with_history(logs, behind[1], log.sensor, True)
    start, end = points[ROOM].start, points[ROOM].end
    at = Placement.INNER_WALL if case.wall == "inner" else Placement.OUTER_WALL
    stints = (Stint(hours.time[0], end, asked.place[0] or "the house", asked.place[1], at, asked.logs.zone),)
    return Exposure(points, start, end, stints, (), None)


def _on(asked: judging.PositionAssessment, time: pd.DatetimeIndex) -> np.ndarray | None:
    if asked.logs.outside_c is None:
        return None
    at = asked.logs.time.get_indexer(time)
    return np.asarray(np.where(at >= 0, asked.logs.outside_c[at], np.nan))


__all__ = ["AS_ADVISED", "BETTER", "WORSE", "HangingCheck", "SinceHanging", "after_hanging"]
