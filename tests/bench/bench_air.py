"""A year of dew points, and a logger-decade of mould and condensation, beside the plain way.

Run: python -m tests.bench.bench_air

The table of dew points is made once a process and told apart; each hazard takes a first look, nothing held in memory.
"""

from __future__ import annotations

import subprocess
import sys
import time

import numpy as np
import pandas as pd

from tests.bench.looks import forget

YEAR = 365 * 24 * 6  # readings at 10 minutes
DECADE = 10 * YEAR + 400


def timed(work, *args, times: int = 1) -> tuple[float, object]:
    """Best wall time of a call and its result. [s]"""
    best, result = float("inf"), None
    for _ in range(times):
        begin = time.perf_counter()
        result = work(*args)
        best = min(best, time.perf_counter() - begin)
    return best, result


def weather(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Invented room air with seasons, days and noise. [°C], [% RH]"""
    rng, day = np.random.default_rng(7), np.arange(count) / 144
    temp_c = 16 + 5 * np.sin(day / 58) + 1.5 * np.sin(day * 6.283) + rng.normal(0, 0.2, count)
    rh = 64 + 14 * np.sin(day / 58 + 1) - 3 * np.sin(day * 6.283) + rng.normal(0, 1.5, count)
    return temp_c, np.clip(rh, 5, 100)


def loop(temp_c: np.ndarray, rh_percent: np.ndarray) -> list[float]:
    """The obvious way: PsychroLib, one reading at a time."""
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    pairs = zip(temp_c.tolist(), rh_percent.tolist(), strict=True)
    return [psychrolib.GetTDewPointFromRelHum(temp, rh / 100) for temp, rh in pairs]


def table_cost() -> float:
    """The one-time cost of the saturation table, in a fresh process without imports. [s]"""
    code = (
        "import time; import psychrolib; from envwatch import air; t = time.perf_counter();"
        "air._table(); print(time.perf_counter() - t)"
    )
    return float(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout)


def dew_points() -> float:
    """Print the year of dew points and return how many times faster than the loop it is, table included."""
    from envwatch import air

    temp_c, rh = weather(YEAR)
    table = table_cost()
    air.dew_point(20.0, 50.0)
    ours, values = timed(air.dew_point, temp_c, rh, times=3)
    plain, others = timed(loop, temp_c, rh)
    worst = float(np.max(np.abs(np.asarray(values) - np.asarray(others))))
    print(f"a year of dew points ({YEAR:,} readings)")
    print(f"  loop over PsychroLib        {plain:8.3f} s")
    print(f"  table, once a process       {table:8.3f} s")
    print(f"  interpolation               {ours:8.3f} s   {plain / ours:7.0f} times as fast")
    print(f"  table and interpolation     {table + ours:8.3f} s   {plain / (table + ours):7.0f} times as fast")
    print(f"  largest difference          {worst:8.6f} K")
    return plain / (table + ours)


def plain_index(temp_c, rh_percent) -> float:
    """The obvious way: an hourly loop over the published equations, without closed forms."""
    import math

    index = dry_h = 0.0
    for t, rh in zip(temp_c.tolist(), rh_percent.tolist(), strict=True):
        critical = max(-0.00267 * t**3 + 0.16 * t**2 - 3.13 * t + 100, 80) if t <= 20 else 80
        if t > 0 and rh >= critical:
            dry_h, x = 0.0, (critical - rh) / (critical - 100)
            slow = max(1 - math.exp(2.3 * (index - 1 - 7 * x + 2 * x * x)), 0)
            weeks = math.exp(-0.68 * math.log(t) - 13.9 * math.log(rh) + 66.02)
            index += (1 if index < 1 else 2) * slow / (168 * weeks)
        else:
            rate = 0.00133 if dry_h < 6 else 0 if dry_h < 24 else 0.000667
            index, dry_h = max(index - 0.1 * rate, 0), dry_h + 1
    return index


def mould_index() -> None:
    """Print the growth index over a decade of hours."""
    from envwatch.hazards import mould

    temp_c, rh = weather(DECADE)
    rh = np.minimum(rh + 10, 100)  # damp enough that it grows
    temp_c, rh = temp_c[: DECADE // 6 * 6].reshape(-1, 6).mean(1), rh[: DECADE // 6 * 6].reshape(-1, 6).mean(1)
    ours, index = timed(mould.mould_index, temp_c, rh, 1.0, "very sensitive", times=3)
    plain, other = timed(plain_index, temp_c, rh)
    print(f"growth index over {len(rh):,} hours")
    print(f"  plain hourly loop           {plain:8.3f} s   ends at {other:.4f}")
    print(f"  closed form                 {ours:8.3f} s   ends at {index[-1]:.4f}, {plain / ours:.1f} times as fast")


def hazards(years: tuple[int, ...] = (1, 10)) -> None:
    """Print the time of both hazards for one painting with wall and canvas back, whole record judged."""
    from envwatch.climate.exposure import CANVAS_BACK, ROOM, WALL_FACE, Exposure
    from envwatch.climate.series import Climate
    from envwatch.core.painting import Layer, Painting
    from envwatch.hazards import condensation, mould
    from envwatch.physics import wall as walls

    painting = Painting("p", "x", layers=(Layer("canvas", "linen"), Layer("film", "glue_paste")))
    print("mould and condensation, one painting, three points, whole record judged")
    for count in (YEAR * n for n in years):
        temp_c, rh = weather(count)
        stamps = pd.date_range("2016-01-01", periods=count, freq="10min", tz="UTC")
        wall, back = walls.behind_picture(temp_c, rh, temp_c - 10)
        faces = {ROOM: (temp_c, rh), WALL_FACE: wall, CANVAS_BACK: back}
        points = {name: Climate.of(stamps, *pair) for name, pair in faces.items()}
        exposure = Exposure(points, points[ROOM].start, points[ROOM].end)
        for hazard in (mould, condensation):
            forget()
            took, _ = timed(hazard.assess, exposure, painting, exposure.start)
            name = hazard.__name__.rsplit(".", 1)[1]
            print(f"  {count // YEAR:4d} years, {name:14s}     {took:8.3f} s   {took / count * 1e6:6.2f} µs a reading")


if __name__ == "__main__":
    ratio = dew_points()
    mould_index()
    hazards((1, 10, 100) if "--century" in sys.argv else (1, 10))
    sys.exit(ratio < 20)
