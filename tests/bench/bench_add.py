"""Adding files to a studio folder and reading back from it, beside the plain way.

Run: python -m tests.bench.bench_add            (about half a minute; --small for a quick look)

The plain way beside `add` reads each file with pandas, told its layout, and writes one Parquet file: no marks, no
merging, no originals, nothing that survives a crash. Each is timed once, with nothing held in memory of the files
before it.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

from envwatch.archive import Studio
from tests.bench.looks import forget

YEAR = 365 * 24 * 6  # readings at 10 minutes
WORKED = pd.Timestamp("2025-01-01", tz="UTC")


def write_log(path: Path, label: str, start: pd.Timestamp, rows: int) -> Path:
    """An invented record of 10 minutes, the same at the same time whatever file it stands in."""
    time = pd.date_range(start, periods=rows, freq="10min")
    day = time.as_unit("s").asi8 / 86_400
    temp_c = 18 + 3 * np.sin(day / 58) + np.sin(day * 6.283) + 0.1 * np.sin(day * 977)
    rh = 55 + 8 * np.sin(day / 58 + 1) - 2 * np.sin(day * 6.283) + 0.4 * np.sin(day * 1013)
    lines = [f"{t},{c:.1f},{h:.1f}" for t, c, h in zip(time.strftime("%Y-%m-%dT%H:%M:%SZ"), temp_c, rh, strict=True)]
    path.write_text(
        "\n".join([f"Logger: {label}", "Time,Temperature (°C),Humidity (%)", *lines]) + "\n", encoding="utf-8"
    )
    return path


def plain(files: list[Path], target: Path) -> int:
    """The plain way: rows read."""
    frames = [pd.read_csv(file, skiprows=1, parse_dates=["Time"]) for file in files]
    whole = pd.concat(frames)
    whole.drop_duplicates().to_parquet(target)
    return len(whole)


def timed(work, *args) -> tuple[float, object]:
    """Wall time of a call with nothing held in memory, and its result. [s]"""
    forget()
    begin = time.perf_counter()
    result = work(*args)
    return time.perf_counter() - begin, result


def say(what: str, seconds: float, note: str) -> None:
    print(f"{what:<58} {seconds:8.3f} s   {note}")


def overlapping(folder: Path, small: bool) -> list[Path]:
    """Six loggers' downloads of four weeks and three days, each reaching back three days."""
    weeks, loggers = (4, 2) if small else (13, 6)
    step = pd.Timedelta(days=28)
    return [
        write_log(folder / f"L{n}_{at:%Y-%m-%d}.csv", f"L-{n}", at, 31 * 144)
        for n in range(loggers) for at in (WORKED + k * step for k in range(weeks))
    ]  # fmt: skip


def main() -> None:
    small = "--small" in sys.argv
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as name:
        folder = Path(name)
        for part in ("many", "heap", "year"):
            (folder / part).mkdir()
        with Studio.create(folder / "studio", name="bench", zone="UTC") as studio:
            _run(studio, folder, small)


def _run(studio: Studio, folder: Path, small: bool) -> None:
    studio.add([write_log(folder / "warm.csv", "W-0", WORKED, 500)])
    files = overlapping(folder / "many", small)
    seconds, report = timed(studio.add, [folder / "many"])
    beside, count = timed(plain, files, folder / "plain.parquet")
    totals = report.totals
    assert totals.readings + totals.duplicate == count
    say(f"add {len(files)} overlapping files, {count:,} readings", seconds, f"{count / seconds:,.0f} readings/s")
    say("  the plain way", beside, f"{count / beside:,.0f} readings/s; add takes {seconds / beside:.1f} times as long")

    rows = YEAR // 12 if small else YEAR
    seconds, _ = timed(studio.add, [write_log(folder / "year.csv", "Y-1", WORKED, rows)])
    say(f"add one file of {rows:,} readings", seconds, f"{rows / seconds:,.0f} readings/s")

    number = 100 if small else 1000
    for n in range(number):
        write_log(folder / "heap" / f"h{n}.csv", f"H-{n % 20}", WORKED + pd.Timedelta(days=n // 20), 150)
    seconds, report = timed(studio.add, [folder / "heap"])
    assert report.totals.files == number
    say(f"add {number:,} small files", seconds, f"{number / seconds:.0f} files/s")
    seconds, report = timed(studio.add, [folder / "heap"])
    assert report.totals.already == number
    say("  the same again", seconds, f"{number / seconds:.0f} files/s")
    _read_back(studio, rows)
    seconds, report = timed(studio.check, True)
    assert not report.problems
    say("check --rebuild of it all", seconds, f"{report.counts['readings'] / seconds:,.0f} readings/s")


def _read_back(studio: Studio, rows: int) -> None:
    (part,) = studio.state().parts["y-1"]
    studio.reader = type(studio.reader)(studio.folder)
    seconds, found = timed(studio.reader.read, part)
    beside, _ = timed(pd.read_parquet, studio.folder / part.path)
    assert sum(map(len, found.values())) == rows
    say(f"read {rows:,} readings of a year back", seconds, f"pandas.read_parquet {beside / seconds:.1f} times as long")


if __name__ == "__main__":
    main()
