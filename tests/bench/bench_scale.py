"""A large collection: 5,000 paintings in 200 places, ten years of hourly readings, all judged from what is stored.

Run: python -m tests.bench.bench_scale            (about a minute; --small for a look)

Measured on two cores with nothing else running, on a machine whose speed itself varies (the bare read took 4.6 to
5.7 s): 39 to 51 s, 8 to 10 ms a painting, 3,867 different verdicts; the aim is 60 s. Two paintings in five moved within
the history that the review looks back on, and no other painting shares their air; of the others, those in one place
share what each hazard makes of it. At a load of 2.5 it took 65 s. The whole review took 55 to 60 s in a process that
had done other things, and `envwatch review --no-keep` 49 to 54 s from command to prompt.

Each painting has had five stays, in places drawn at random, and one of 20 build-ups. Three tasks are timed, each
once: the verdicts of the last week for every painting, with the history the review gives them; the whole review; and,
beside them, a bare read of the same readings that does nothing with them. The program has nothing in memory then; the
system may, for the readings have just been written.
"""

from __future__ import annotations

import csv
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

from envwatch.archive import Studio
from envwatch.archive.intake.merge import marked, rewrite
from envwatch.archive.store.parts import by_year
from envwatch.cases import judging, review
from envwatch.core.period import Period
from envwatch.core.readings import Series
from tests.bench.looks import forget

BEGIN, END = pd.Timestamp("2016-01-04", tz="UTC"), pd.Timestamp("2025-12-29", tz="UTC")
HOURS = int((END - BEGIN) / pd.Timedelta(hours=1))
STAYS, BUILDUPS = 5, 20
FILMS = ("eva_film", "wax_resin", "glue_paste", "acr_disp", "eva_soln")
POSITIONS = ("rack", "inner wall", "easel")


def readings(number: int) -> Series:
    """Ten years of one room: its own seasons, days and weather."""
    rng = np.random.default_rng(number)
    hour = np.arange(HOURS)
    year, day = hour / 8766 * 2 * np.pi, hour / 24 * 2 * np.pi
    weather = np.repeat(np.convolve(rng.normal(0, 1, HOURS // 24 + 8), np.ones(5) / 5, "same"), 24)[:HOURS]
    damp, warm = rng.uniform(42, 66), rng.uniform(13, 21)
    temp_c = warm - rng.uniform(2, 6) * np.cos(year) + rng.uniform(0.2, 1.5) * np.sin(day) + weather
    rh = damp - rng.uniform(2, 10) * np.cos(year + 1) - 2 * np.sin(day) + 4 * weather
    time_us = BEGIN.value // 1000 + hour * 3_600_000_000
    counts = np.zeros(HOURS, np.uint16), np.zeros(HOURS, np.int32), hour.astype(np.int32)
    return marked(Series(time_us, temp_c.round(1), np.clip(rh, 5, 99).round(1), *counts))


def write_register(folder: Path, paintings: int, places: int) -> None:
    """The register's CSV files."""
    rng = np.random.default_rng(1)
    tables: dict[str, list] = {name: [] for name in ("places", "loggers", "hangings", "paintings", "layers", "stays")}
    for n in range(places):
        tables["places"].append({"id": f"r{n}", "name": f"Room {n}", "kind": "store"})
        tables["loggers"].append({"id": f"l{n}", "name": f"Logger {n}", "labels": f"SN{n}"})
        tables["hangings"].append({"logger": f"l{n}", "place": f"r{n}", "position": "rack", "from": "2016-01-01"})
    for n in range(paintings):
        build = int(rng.integers(BUILDUPS))
        tables["paintings"].append({"id": f"p{n}", "title": f"Painting {n}", "glazed": ("no", "yes")[build // 5 % 2],
                                    "backed": ("no", "yes")[build // 10]})  # fmt: skip
        stack = ("varnish", "natural_resin_varnish"), ("paint", "oil_paint"), ("size", "animal_glue"), (
            "canvas", "linen"), ("film", FILMS[build % 5]), ("lining canvas", "linen")  # fmt: skip
        for order, (role, material) in enumerate(stack, 1):
            on = "2016-06-01" if role in ("film", "lining canvas") else ""
            tables["layers"].append({"painting": f"p{n}", "order": order, "role": role, "material": material,
                                     "applied_on": on})  # fmt: skip
        days = np.sort(rng.choice(3600, STAYS - 1, replace=False)) + 1
        dates = [str((BEGIN + pd.Timedelta(days=int(d))).date()) for d in (0, *days)]
        for k, at in enumerate(dates):
            tables["stays"].append({"painting": f"p{n}", "place": f"r{rng.integers(places)}", "position": "rack",
                                    "from": at, "to": dates[k + 1] if k + 1 < STAYS else ""})  # fmt: skip
    folder.mkdir()
    for name, rows in tables.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)


def make(folder: Path, paintings: int, places: int) -> None:
    """The studio: register and stored readings."""
    write_register(folder / "register", paintings, places)
    with Studio.create(folder / "studio", name="bench", zone="UTC") as studio:
        studio.import_register(folder / "register")
        with studio.writing("bench"):
            for n in range(places):
                rewrite(studio, f"l{n}", by_year({"1": readings(n)}))


def plain_read(folder: Path) -> tuple[int, float]:
    """A bare read of all stored readings: how many, and wall time. [s]"""
    begun = time.perf_counter()
    rows = sum(len(pd.read_parquet(path)) for path in sorted(folder.rglob("*.parquet")))
    return rows, time.perf_counter() - begun


def run(folder: Path, processes: int) -> None:
    """All verdicts and the review, each a first look, beside a bare read."""
    week = Period(END - pd.Timedelta(days=7), END, "2025-W52", "UTC")
    forget()
    begun = time.perf_counter()
    with Studio.open(folder / "studio") as studio:
        found = judging.verdicts(studio, week, processes)
    seconds = time.perf_counter() - begun
    distinct = len({(v.coverage, tuple((f.level, f.value, f.layer) for f in v.findings)) for v in found.values()})
    raised = sum(bool(v.raised) for v in found.values())
    forget()
    begun = time.perf_counter()
    with Studio.open(folder / "studio") as studio:
        lines = len(review.make(studio, END, week).judged)
    print(f"the whole review of {lines:,} paintings: {time.perf_counter() - begun:.1f} s")
    rows, bare = plain_read(folder / "studio" / "readings")
    print(
        f"{len(found):,} paintings judged in {processes} processes: {seconds:.1f} s "
        f"({1000 * seconds / len(found):.1f} ms each), {raised:,} raised, {distinct:,} different verdicts"
    )
    print(f"a bare read of the {rows:,} readings: {bare:.1f} s; judging takes {seconds / bare:.1f} times as long")


def main() -> None:
    """Make the studio, judge, print."""
    paintings, places = (500, 20) if "--small" in sys.argv else (5000, 200)
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as name:
        folder = Path(name)
        begun = time.perf_counter()
        make(folder, paintings, places)
        print(f"{places} places of {HOURS:,} hourly readings, {paintings:,} paintings of {STAYS} stays and {BUILDUPS} "
              f"build-ups: made in {time.perf_counter() - begun:.0f} s")  # fmt: skip
        run(folder, 2)


if __name__ == "__main__":
    main()
