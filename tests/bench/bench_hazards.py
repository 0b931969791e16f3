"""All hazards for one painting over a logger-decade, the cost from 1 to 100 years, and the plain way beside it.

Run: python -m tests.bench.bench_hazards
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np
import pandas as pd

from envwatch import verdict, walls
from envwatch.records import CANVAS_BACK, ROOM, WALL_FACE, Climate, Exposure, Layer, Painting, Stint

DECADE = 526_000  # readings at 10 minutes
YEARS = (1, 10, 100)


def timed(work: Callable[[], object]) -> float:
    """Processor time of a call. [s]"""
    begin = time.process_time()
    work()
    return time.process_time() - begin


def room_air(count: int) -> tuple[pd.DatetimeIndex, np.ndarray, np.ndarray, np.ndarray]:
    """Invented damp room air with seasons, days, slow weather and noise, and the mean outdoors."""
    rng, day = np.random.default_rng(7), np.arange(count) / 144
    weather = np.cumsum(rng.normal(0, 0.5, count // 144 + 2))
    weather = 4 * (weather - pd.Series(weather).rolling(20, min_periods=1).mean().to_numpy())
    season, hour = np.sin(day / 58), np.sin(day * 2 * np.pi)
    temp_c = 16 + 5 * season + 1.5 * hour + rng.normal(0, 0.1, count)
    rh = 64 + 14 * np.sin(day / 58 + 1) - 3 * hour + weather[day.astype(int)] + rng.normal(0, 0.5, count)
    time_utc = pd.date_range("1920-01-05", periods=count, freq="10min", tz="UTC")
    return time_utc, temp_c, np.clip(rh, 5, 100), 9 + 8 * season


def case(count: int) -> tuple[Exposure, Painting]:
    """A film-lined painting on an outer wall: the room, the canvas back and the wall face."""
    times, temp_c, rh, out_c = room_air(count)
    wall, back = walls.behind_picture(temp_c, rh, out_c)
    points = {ROOM: Climate.of(times, temp_c, rh), WALL_FACE: Climate.of(times, *wall),
              CANVAS_BACK: Climate.of(times, *back)}  # fmt: skip
    start, end = points[ROOM].start, points[ROOM].end
    stint = Stint(start, end, "house", "House", "outer wall")
    layers = (Layer("paint", "oil_paint"), Layer("size", "animal_glue"), Layer("canvas", "linen"),
              Layer("film", "eva_film"), Layer("lining canvas", "linen"))  # fmt: skip
    return Exposure(points, start, end, (stint,)), Painting("p", "Harbour", glazed=False, backed=False, layers=layers)


def plain_loop(temp_c: np.ndarray, rh_percent: np.ndarray, out_c: np.ndarray) -> float:
    """A part of the same, one reading at a time, with PsychroLib: dew point, humidity at the wall, index, lag."""
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    index, lag, dry_h, least, step = 0.0, 60.0, 0.0, 99.0, 1 / 6
    for temp, rh, out in zip(temp_c.tolist(), rh_percent.tolist(), out_c.tolist(), strict=True):
        dew = psychrolib.GetTDewPointFromRelHum(temp, min(rh, 100) / 100)
        face = out + 0.57 * (temp - out)
        at_wall = min(100 * psychrolib.GetVapPresFromTDewPoint(dew) / psychrolib.GetSatVapPres(face), 100.0)
        least = min(least, face - dew)
        lag += (1 - math.exp(-step / 24)) * (rh - lag)
        critical = max(-0.00267 * face**3 + 0.16 * face**2 - 3.13 * face + 100, 80) if face <= 20 else 80
        if face > 0 and at_wall >= critical:
            weeks = math.exp(-0.68 * math.log(face) - 13.9 * math.log(at_wall) + 66.02)
            x = (critical - at_wall) / (critical - 100)
            top = 0.3 + 6 * x - x**2
            growth = max(1 - math.exp(2.3 * (index - top)), 0)
            index, dry_h = index + (0.578 if index < 1 else 0.386) * growth * step / (168 * weeks), 0.0
        else:
            dry_h += step
            index = max(index - 0.1 * (0.00133 if dry_h <= 6 else 0.0 if dry_h <= 24 else 0.000667) * step, 0)
    return index + least + lag


def main() -> None:
    """Print the decade, the growth and the loop."""
    verdict.judge(*case(5000))  # tables and imports
    exposure, painting = case(DECADE)
    decade = min(timed(lambda: verdict.judge(exposure, painting)) for _ in range(3))
    found = verdict.judge(exposure, painting).findings
    print(f"a decade at 10 minutes, {DECADE:,} readings, at room, wall and canvas back: {decade:.2f} s of one core, "
          f"{len(found)} findings (asked for: under 3 s for a room and a surface)")  # fmt: skip
    each = {}
    for years in YEARS:
        count = years * DECADE // 10
        exposure, painting = case(count)
        each[years] = min(timed(lambda e=exposure, p=painting: verdict.judge(e, p)) for _ in range(2)) / count
        print(f"{years:>4} years: {each[years] * 1e6:.2f} µs a reading")
    worst = max(each.values()) / each[1]
    print(f"cost a reading grows by {worst:.2f} from 1 year to its worst (asked for: under 2)")
    _, temp_c, rh, out_c = room_air(DECADE)
    loop = timed(lambda: plain_loop(temp_c, rh, out_c))
    print(
        f"plain Python with PsychroLib, a part of it at one point: {loop:.1f} s, {loop / decade:.0f} times all hazards"
    )


if __name__ == "__main__":
    main()
