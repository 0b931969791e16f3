"""All hazards for one painting over a logger-decade, the cost from 1 to 100 years, and the plain way beside it.

Run: python -m tests.bench.bench_hazards

Processor time of a first look, with nothing held in memory but tables of figures, which a process makes once and which
are told apart. What a hazard made of an air is kept for the next painting in it: a second look is told apart too.
"""

from __future__ import annotations

import math
import time

import numpy as np
import pandas as pd

from envwatch import verdict
from envwatch.climate.exposure import CANVAS_BACK, ROOM, WALL_FACE, Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.painting import Layer, Painting
from envwatch.physics import wall as walls
from tests.bench.looks import first_and_second, seconds

DECADE = 526_000  # readings at 10 minutes
YEARS = (1, 10, 100)


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


def tables() -> None:
    """What a process makes once: a look at another air."""
    verdict.judge(*case(5000))


def judged(count: int, times: int) -> tuple[float, float]:
    """Processor time of a first and of a second look at so many readings. [s]"""
    exposure, painting = case(count)
    return first_and_second(lambda: verdict.judge(exposure, painting), times, time.process_time, tables)


def main() -> None:
    """Print the decade, the growth and the loop."""
    found = verdict.judge(*case(DECADE)).findings  # imports too
    made, _ = first_and_second(tables, 3, time.process_time)
    decade, again = judged(DECADE, 3)
    print(f"a decade at 10 minutes, {DECADE:,} readings, at room, wall and canvas back: {decade:.2f} s of one core at "
          f"first look, {again:.2f} s at a second, {len(found)} findings (asked for: under 3 s for a room and a "
          f"surface); tables, once a process: under {made:.2f} s")  # fmt: skip
    each = {}
    for years in YEARS:
        count = years * DECADE // 10
        each[years] = judged(count, 2)[0] / count
        print(f"{years:>4} years: {each[years] * 1e6:.2f} µs a reading")
    worst = max(each.values()) / each[1]
    print(f"cost a reading grows by {worst:.2f} from 1 year to its worst (asked for: under 2)")
    _, temp_c, rh, out_c = room_air(DECADE)
    loop = seconds(lambda: plain_loop(temp_c, rh, out_c), time.process_time)
    print(
        f"plain Python with PsychroLib, a part of it at one point: {loop:.1f} s, {loop / decade:.0f} times all hazards"
    )


if __name__ == "__main__":
    main()
