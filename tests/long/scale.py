"""A large archive on one machine: 200 loggers of nearly ten years at 10 minutes, 1e8 readings; what a logger costs.

    python -m tests.long.scale [--loggers 20 200] [--days 3591] [--times 5] [--folder FOLDER]

The archive is made for the first number of loggers, measured, and grown to the next. At each size: the rate of adding
(files of a year each), a new week of every logger added, the week's review, a ten-year page, and all hazards of all
paintings worked out again over the whole record. Each is done in a process of its own from a cold start, so often as
is said; told are the median, the processor's time for each logger (which other programs on the machine do not change),
and the most memory that the process held. Every painting has had five stays in places drawn at random; there is one to
a logger. Wants 5 GB of disk and one to three hours.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from statistics import median

import numpy as np
import pandas as pd
import pyarrow as pa
from pyarrow import csv

from envwatch.archive import Studio
from envwatch.core.period import Period
from tests.bench.bench_scale import write_register

END = pd.Timestamp("2025-11-03", tz="UTC")
STEP, DAY, WEEK = pd.Timedelta(minutes=10), pd.Timedelta(days=1), pd.Timedelta(days=7)
CHUNK = 4  # loggers whose files come in one add


@dataclass(frozen=True)
class Took:
    """One step at one size: seconds of each run by the clock and of the processor, the most memory, what was done."""

    loggers: int
    seconds: tuple[float, ...]
    work_s: tuple[float, ...]
    memory_mb: int
    done: int

    @property
    def each_s(self) -> float:
        """Median seconds of the processor for each logger."""
        return median(self.work_s) / self.loggers


# ------------------------------------------------------------------------------------------------ what is read


def write_log(path: Path, logger: int, start: pd.Timestamp, end: pd.Timestamp) -> int:
    """A logger's file over [start, end): its own seasons, days, weather and noise; one reading in a thousand missing;
    how many readings."""
    stamp = pd.date_range(start, end, freq=STEP, inclusive="left")
    rng = np.random.default_rng([logger, start.value // 10**9])
    own = np.random.default_rng(logger)
    day = stamp.as_unit("s").asi8 / 86_400
    rough = np.convolve(
        own.normal(0, 1, 4000), np.ones(5) / 5, "same"
    )  # a value a day, the same whatever span is asked
    weather = np.interp(day % 4000, np.arange(4000), rough)
    warm, damp, by_season, by_day = own.uniform((13, 42, 2, 0.2), (21, 66, 6, 1.5))
    season, hour = np.cos(day / 365.25 * 2 * np.pi), np.sin(day * 2 * np.pi)
    temp_c = warm - by_season * season + by_day * hour + weather + rng.normal(0, 0.07, len(day))
    rh = np.clip(damp - 1.5 * by_season * season - 2 * hour + 4 * weather + rng.normal(0, 0.2, len(day)), 5, 99)
    kept = rng.random(len(day)) > 0.001
    table = pa.table({"Time": stamp.strftime("%Y-%m-%dT%H:%M:%SZ").to_numpy()[kept],
                      "Temperature (°C)": temp_c.round(1)[kept], "Humidity (%)": rh.round(1)[kept]})  # fmt: skip
    with path.open("wb") as file:
        file.write(f"Logger: SN{logger}\n".encode())
        csv.write_csv(table, file, csv.WriteOptions(quoting_style="none"))
    return int(kept.sum())


def years(start: pd.Timestamp, end: pd.Timestamp) -> Iterator[tuple[pd.Timestamp, pd.Timestamp]]:
    """A span cut into spans of 365 days."""
    at = start
    while at < end:
        yield at, min(at + 365 * DAY, end)
        at += 365 * DAY


# ------------------------------------------------------------------------------- the steps, each in its own process


def adding(folder: Path, files: list[Path]) -> int:
    """Files kept."""
    with Studio.open(folder) as studio:
        report = studio.add(files)
    assert all(outcome.status == "kept" for outcome in report.outcomes), report.outcomes
    return len(report.outcomes)


def review(folder: Path) -> int:
    """Paintings judged in the week's review."""
    from envwatch.cases.review import make

    with Studio.open(folder) as studio:
        made = make(studio, END + 3 * DAY, Period(END - WEEK, END, "2025-W44", "UTC"))
        assert len(made.places) == len(studio.places())
    return len(made.judged)


def page(folder: Path) -> int:
    """Letters sent for the page of a place over its whole record: words, table and drawing."""
    from dashboards import app, create_app

    made = create_app(folder, now=lambda: END + 3 * DAY)
    with made.server.test_request_context("/"):
        sent = repr(app.show("/places", "?place=r0&days=all"))
    made.server.config["HOUSE"].close()
    assert "Room 0" in sent
    return len(sent)


def hazards(folder: Path, days: int) -> int:
    """Paintings judged over the whole record."""
    from envwatch.cases import judging

    with Studio.open(folder) as studio:
        found = judging.verdicts(studio, Period(END - days * DAY, END, "all of it", "UTC"))
    assert any(verdict.findings for verdict in found.values())
    return len(found)


Run = tuple[float, float, int, int]  # seconds by the clock, of the processor, most memory in MB, what was done


def apart(work: Callable[..., int], *given: object) -> Run:
    """A step in a fresh process, without the starting of Python."""
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(here, (work, *given))


def here(work: Callable[..., int], *given: object) -> Run:
    """A step in this process."""
    begun, worked = time.perf_counter(), time.process_time()
    done = work(*given)
    took, worked = time.perf_counter() - begun, time.process_time() - worked
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return took, worked, int(next(line for line in lines if line.startswith("VmHWM")).split()[1]) // 1024, done


# ------------------------------------------------------------------------------------------------------- the run


class Scale:
    """The archive as it grows."""

    def __init__(self, folder: Path, days: int, times: int, run=apart) -> None:
        self.folder, self.days, self.times, self.do = folder, days, times, run
        self.studio, self.loggers, self.readings, self.weeks = folder / "studio", 0, 0, 0
        Studio.create(self.studio, name="Large", zone="UTC").close()

    def grow(self, loggers: int) -> Took:
        """Add loggers with their whole record; the last adds count, of `CHUNK` loggers each."""
        write_register(self.folder / f"register{loggers}", loggers, loggers)
        with Studio.open(self.studio) as studio:
            studio.import_register(self.folder / f"register{loggers}")
        runs = []
        for first in range(self.loggers, loggers, CHUNK):
            these = range(first, min(first + CHUNK, loggers))
            files, before = [], self.readings
            for logger in these:
                for n, (start, end) in enumerate(years(END - self.days * DAY, END)):
                    files.append(self.folder / f"L{logger}-{n}.csv")
                    self.readings += write_log(files[-1], logger, start, end)
            seconds, worked, memory, _ = self.do(adding, self.studio, files)
            share = CHUNK / len(these)
            runs.append((seconds * share, worked * share, memory, int((self.readings - before) * share)))
            for file in files:
                file.unlink()
        self.loggers = loggers
        return self._took(runs[-self.times :], CHUNK)

    def week(self) -> Took:
        """A new week of every logger, added in one go, so often."""
        runs = []
        for _ in range(self.times):
            start = END + self.weeks * WEEK
            files = [self.folder / f"L{logger}-week{self.weeks}.csv" for logger in range(self.loggers)]
            more = sum(write_log(file, logger, start, start + WEEK) for logger, file in enumerate(files))
            runs.append((*self.do(adding, self.studio, files)[:3], more))
            self.readings, self.weeks = self.readings + more, self.weeks + 1
        return self._took(runs)

    def look(self, work: Callable[..., int], *given: object) -> Took:
        """A step that changes nothing, so often."""
        runs = []
        for _ in range(self.times):
            runs.append(self.do(work, self.studio, *given))
            print(
                "    {}: {:.1f} s, {:.1f} s of the processor, {} MB".format(work.__name__, *runs[-1]), file=sys.stderr
            )
        return self._took(runs)

    def _took(self, runs: list[Run], loggers: int = 0) -> Took:
        seconds, worked, memory, done = zip(*runs, strict=True)
        return Took(loggers or self.loggers, seconds, worked, max(memory), done[-1])

    def all(self) -> Iterator[tuple[str, Took]]:
        """Every step but growing at the present size; the readings are counted."""
        yield "the week's review", self.look(review)
        yield "a page of the whole record", self.look(page)
        yield "a week of each logger added", self.week()
        with Studio.open(self.studio) as studio:
            kept = sum(part.rows for parts in studio.state().parts.values() for part in parts)
        assert kept == self.readings, (kept, self.readings)
        yield "all hazards, whole record", self.look(hazards, self.days)


def run(folder: Path, sizes: list[int], days: int, times: int, do=apart, say=print) -> dict[str, list[Took]]:
    """Every step at every size."""
    scale, found = Scale(folder, days, times, do), {}
    for loggers in sizes:
        grown = scale.grow(loggers)
        say(f"{loggers} loggers, {scale.readings:,} readings")
        rate = grown.done / median(grown.seconds)
        for what, took in chain([("adding", grown)], scale.all()):
            found.setdefault(what, []).append(took)
            more = f"; {rate:,.0f} readings/s" if what == "adding" else ""
            beside = f"; {took.each_s / found[what][0].each_s:.2f} of the cost at first" if len(found[what]) > 1 else ""
            say(f"  {what:30} {median(took.seconds):8.1f} s (of {len(took.seconds)}), {1000 * took.each_s:8.1f} ms a "
                f"logger, {took.memory_mb:6,} MB at most{more}{beside}")  # fmt: skip
    return found


def main() -> None:
    """Run it from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--loggers", type=int, nargs="+", default=[20, 200])
    parser.add_argument("--days", type=int, default=3591)
    parser.add_argument("--times", type=int, default=5)
    parser.add_argument("--folder", type=Path)
    said = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=said.folder) as folder:
        run(Path(folder), said.loggers, said.days, said.times, say=lambda text: print(text, flush=True))


if __name__ == "__main__":
    main()
