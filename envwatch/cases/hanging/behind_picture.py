"""Behind the picture in figures: wall face and canvas back, always both, over the year and at three colds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from envwatch import climate
from envwatch.cases.hanging import microclimate
from envwatch.cases.hanging.judging import PositionAssessment
from envwatch.cases.hanging.microclimate import Logs
from envwatch.cases.hanging.scenario import Scenario
from envwatch.climate.exposure import CANVAS_BACK, WALL_FACE
from envwatch.figures import hanging as fig

DAMP, WET = 75.0, 80.0


@dataclass(frozen=True)
class FaceYear:
    """One face over the coming year."""

    point: str
    scenario: str
    u_value: float
    lowest_c: float
    highest_rh: float
    hours_over_75: float
    hours_over_80: float
    longest_over_80_h: float
    read: float  # share of the year


@dataclass(frozen=True)
class ColdMoment:
    """Wall face and canvas back at one cold outdoors."""

    name: str
    scenario: str
    u_value: float
    out_c: float
    room_c: float
    room_rh: float
    wall_c: float
    wall_rh: float
    canvas_c: float
    canvas_rh: float


def years(asked: PositionAssessment, cases: dict[str, Scenario]) -> tuple[FaceYear, ...]:
    """Both faces in each way the blanks may be filled; none before an inner wall."""
    out = []
    for name, case in cases.items():
        points = asked.exposure(case).points
        for point in (WALL_FACE, CANVAS_BACK):
            if point not in points:
                continue
            hours = climate.hourly(points[point].between(asked.hang_on, points[point].end))
            rh = hours.rh_percent
            over = [s.hours for s in climate.spells(hours.time, rh > WET)]
            out.append(FaceYear(
                point, name, case.u_value, float(np.nanmin(hours.temp_c)), float(np.nanmax(rh)),
                float((rh > DAMP).sum()), float((rh > WET).sum()), float(max(over, default=0.0)),
                float(np.isfinite(rh).mean()),
            ))  # fmt: skip
    return tuple(out)


def cold_moments(asked: PositionAssessment, cases: dict[str, Scenario]) -> tuple[ColdMoment, ...]:
    """Both faces at the mean of the coldest month, at its mean nightly low, and in its coldest five days."""
    out = []
    for name, case in cases.items():
        if case.wall == "inner":
            continue
        outside, _ = microclimate.outdoors(case, asked.logs, asked.southern)
        inside = microclimate.room(
            case, asked.logs, asked.read, microclimate.outdoors(case, asked.logs, asked.southern)
        )
        for moment, out_c, rows in coldest(outside, asked.logs):
            room_c, room_rh = (float(np.nanmean(values[rows])) for values in inside)
            pair = microclimate.faces(
                case,
                (np.array([room_c]), np.array([room_rh])),
                np.array([out_c]),
                microclimate.height_m(asked.painting),
            )
            assert pair is not None
            (wall_c, wall_rh), (canvas_c, canvas_rh) = pair
            out.append(ColdMoment(
                moment, name, case.u_value, out_c, room_c, room_rh, float(wall_c[0]), float(wall_rh[0]),
                float(canvas_c[0]), float(canvas_rh[0]),
            ))  # fmt: skip
    return tuple(out)


def coldest(outside_c: np.ndarray, logs: Logs) -> list[tuple[str, float, np.ndarray]]:
    """(name, temperature outdoors, rows of the month) of the three colds."""
    month = climate.running_mean(outside_c, 30 * 24)
    last = int(np.nanargmin(month))
    rows = np.arange(max(last - 30 * 24 + 1, 0), last + 1)
    days = outside_c[rows][: len(rows) // 24 * 24].reshape(-1, 24)
    five = climate.running_mean(outside_c, int(float(fig.COLD_SPELL_D)) * 24)
    return [
        ("coldest month", float(month[last]), rows),
        ("its nights", float(np.nanmean(np.nanmin(days, axis=1))), rows),
        ("coldest five days", float(np.nanmin(five)), rows),
    ]
