"""The case for a dehumidifier, split by part, beside a plain per-step loop.

Run: python -m tests.bench.bench_dehumidifier            (a minute or two; --small for a quick look)

One year at 15 minutes, ten alternatives, 500 plausible rooms, 14 paintings. The plain way beside it steps one room at a
time in Python, without machines; its time is told for one room and for all of them.
Each part is timed once, with nothing in memory but what the parts before it left there, as in the command.
"""

from __future__ import annotations

import math
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import pandas as pd

from envwatch.cases.dehumidifier.alternatives import list_of, machines_to_try, run_all
from envwatch.cases.dehumidifier.case import setting
from envwatch.cases.dehumidifier.inputs import DryingInputs
from envwatch.cases.dehumidifier.judging import HungPainting, build_up, judged_at
from envwatch.cases.dehumidifier.sizing import load
from envwatch.cli.studio import make_demo
from envwatch.physics.room import content, per_percent

NOW = pd.Timestamp("2026-11-02T12:00Z")


def clock() -> tuple[float, float]:
    return time.perf_counter(), time.process_time()


def say(what: str, begin: tuple[float, float], note: str = "") -> None:
    wall, cpu = (now - then for now, then in zip(clock(), begin, strict=True))
    print(f"{what:<58} {wall:8.2f} s, of the processor {cpu:6.2f} s   {note}")


def plain_loop(drive, draws) -> float:
    """Humidity at the end of the year of one room, step by step."""
    s1, come = per_percent(drive.temp_c).tolist(), content(drive.outside_pa, drive.temp_c).tolist()
    volume, buffer_g = draws.volume_m3, float(draws.buffer_g[0])
    flow, source = float(draws.changes_h[0]) * volume, float(draws.source_g_h[0])
    water = (volume * s1[0] + buffer_g) * 60.0
    for per_cent, brought in zip(s1, come, strict=True):
        capacity = volume * per_cent + buffer_g
        settles = (brought + source / flow) / per_cent
        rh = water / capacity
        water = capacity * (settles + (rh - settles) * math.exp(-flow * per_cent / capacity * drive.step_h))
    return water


def main(small: bool) -> None:
    with tempfile.TemporaryDirectory() as folder:
        house = make_demo(Path(folder) / "studio", quiet=True)
        begin = clock()
        asked = DryingInputs(draws=50 if small else 500)
        given = setting(house, "store", NOW, asked)
        say("learning the room from a year of its log", begin, "fit, bootstrap, weeks held out")
        given = replace(given, hung=tuple(HungPainting(p, "rack", None) for p in house.paintings().values()))
        tried = list_of(asked, machines_to_try(asked)[0])[:10]
        whole = clock()
        done = run_all(tried, given.drive, given.draws, asked, given.start_rh)
        steps = len(given.drive.time)
        rooms = len(tried) * given.draws.count
        say(f"simulating and counting {rooms:,} rooms of {steps:,} steps", whole)
        begin = clock()
        load(given.drive, given.draws, 55.0)
        say("labels", begin)
        begin = clock()
        for one in done:
            for lane in one.picks:
                judged_at(house, given.room, given.hung, one, lane, given.treated_on)
        built = len({(build_up(h), h.position) for h in given.hung})
        say(f"judging {len(done) * 3} whole draws for {len(given.hung)} paintings", begin,
            f"{built} build-ups")  # fmt: skip
        say("the case", whole)
        begin = clock()
        plain_loop(given.drive, given.draws)
        all_rooms = (time.process_time() - begin[1]) * rooms
        say("plain per-step loop, one room without a machine", begin, f"{all_rooms:,.0f} s for all of them")
        house.close()


if __name__ == "__main__":
    main("--small" in sys.argv)
