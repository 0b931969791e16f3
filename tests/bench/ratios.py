"""How long envwatch takes beside the plain way, by version: measured, shown beside the last entry, and kept.

    python -m tests.bench.ratios [--keep]

A ratio is the processor's time that envwatch takes over that of the plain way, both measured in turns on one machine,
the best of nine each, so that neither the machine nor other work on it matters much: 2 is twice as long, 0.1 a tenth.
Each of ours is a first look, with nothing held in memory of the one before; only the dew points have their table.
`--keep` adds a row for each to `tests/bench/ratios.csv`, which belongs into the repository with the version. One that
takes more than a quarter longer than its last entry is named as slower.
"""

from __future__ import annotations

import argparse
import csv
import os
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pandas as pd

from envwatch import air, logs, verdict
from envwatch.archive import Studio
from envwatch.cli.studio import make_demo
from tests.bench import bench_add, bench_air, bench_hazards, bench_review
from tests.bench.looks import forget
from tests.bench.looks import seconds as timed

KEPT = Path(__file__).with_name("ratios.csv")
COLUMNS = ("version", "date", "benchmark", "ratio")
TIMES, SLOWER, LEAST_S = 9, 1.25, 0.2


def clock() -> float:
    """Processor time of this process and of those it waited for; the latter in hundredths. [s]"""
    return time.process_time() + sum(os.times()[2:4])


def ratio(ours: Callable[[], object], plain: Callable[[], object], before: Callable[[], object] = forget) -> float:
    """Best time of one over that of the other, taken in turns after a first run of each.

    `before` goes before each run of ours, and its own time does not count.
    """
    ours(), plain()
    taken: tuple[list[float], list[float]] = [], []
    for _ in range(TIMES):
        for work, seconds in zip((ours, plain), taken, strict=True):
            again, total = 0, 0.0
            while total < LEAST_S:
                if work is ours:
                    before()
                total, again = total + timed(work, clock), again + 1
            seconds.append(total / again)
    return min(taken[0]) / min(taken[1])


def measured(folder: Path) -> Iterator[tuple[str, float]]:
    """Each benchmark and its ratio."""
    temp_c, rh = bench_air.weather(bench_air.YEAR // 4)
    yield "dew points, beside a loop over PsychroLib", ratio(
        lambda: air.dew_point(temp_c, rh), lambda: bench_air.loop(temp_c, rh), before=lambda: None
    )  # fmt: skip

    log = bench_add.write_log(folder / "year.csv", "Y-1", bench_add.WORKED, bench_add.YEAR)
    now = pd.Timestamp("2027-01-01", tz="UTC")
    yield "reading a year's file, beside pandas told its layout", ratio(
        lambda: logs.read(log, now=now), lambda: pd.read_csv(log, skiprows=1, parse_dates=["Time"])
    )  # fmt: skip

    (folder / "many").mkdir()
    files, rounds = bench_add.overlapping(folder / "many", small=True), iter(range(100))

    def add() -> None:
        with Studio.create(folder / f"studio{next(rounds)}", name="bench", zone="UTC") as studio:
            studio.add(files)

    yield (
        "adding overlapping files, beside one Parquet file",
        ratio(add, lambda: bench_add.plain(files, folder / "plain.parquet")),
    )

    exposure, painting = bench_hazards.case(bench_hazards.DECADE // 10)
    _, room_c, room_rh, out_c = bench_hazards.room_air(bench_hazards.DECADE // 10)
    yield (
        "all hazards of a year, beside a loop over a part of it",
        ratio(lambda: verdict.judge(exposure, painting), lambda: bench_hazards.plain_loop(room_c, room_rh, out_c)),
    )

    make_demo(folder / "demo", quiet=True).close()
    with Studio.open(folder / "demo") as studio:
        bench_review.one_csv(studio, folder / "all.csv")
    yield (
        "the demo's review, beside pandas reading its readings",
        ratio(
            lambda: _run("-m", "envwatch", "review", "--no-keep", "--studio", str(folder / "demo")),
            lambda: _run("-c", bench_review.BARE, str(folder / "all.csv")),
        ),
    )


def _run(*words: str) -> None:
    subprocess.run([sys.executable, *words], capture_output=True, check=True)


def entries() -> list[dict[str, str]]:
    """All rows kept so far, the oldest first."""
    with KEPT.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def beside(name: str, value: float, kept: list[dict[str, str]]) -> tuple[str, bool]:
    """A ratio beside its last entry, in words; whether it is slower.

    >>> beside("a", 3.0, [{"version": "0.1.0", "date": "2026-01-01", "benchmark": "a", "ratio": "2"}])
    ('a: 3 (0.1.0 on 2026-01-01: 2; 1.50 times as long: SLOWER)', True)
    """
    last = next((row for row in reversed(kept) if row["benchmark"] == name), None)
    if last is None:
        return f"{name}: {value:.3g} (no entry before)", False
    by = value / float(last["ratio"])
    slower = by > SLOWER
    said = f"{by:.2f} times as long" + (": SLOWER" if slower else "")
    return f"{name}: {value:.3g} ({last['version']} on {last['date']}: {last['ratio']}; {said})", slower


def main() -> None:
    """Run it from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--keep", action="store_true")
    said = parser.parse_args()
    about = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8"))
    version, kept, found, slow = about["project"]["version"], entries(), [], 0
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        for name, value in measured(Path(folder)):
            line, slower = beside(name, value, kept)
            print(line, flush=True)
            found.append((version, date.today().isoformat(), name, f"{value:.3g}"))
            slow += slower
    if said.keep:
        with KEPT.open("a", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows(found)
    raise SystemExit(1 if slow else 0)


if __name__ == "__main__":
    main()
