"""Reading and adding a big logger file, beside the fastest bare readers that are told its layout and parse its times.

Run: python -m tests.bench.bench_logs           (5 million rows, about a minute; --small for a quick look)

pyarrow is always measured; polars and duckdb where they are installed. Every reader runs in a process of its own,
five times, ours each time with nothing held in memory of the run before, and the best run counts; peak memory is that
process's. The bare readers detect nothing and check nothing.
"add" is the whole of it, into a studio of its own each time: read, marked, the original and the readings kept.
"""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from tests.bench.looks import forget

STAMP = "%d.%m.%Y %H:%M:%S"
RUNS = 5
ASKED = {"read": 0.25, "add": 0.15}  # of the fastest bare reader's rows a second, at least
MOST_MEMORY = 6  # times the file


def write_big(path: Path, rows: int) -> Path:
    """Semicolons, decimal commas, day first; a reading every 30 seconds to 0.01."""
    rng = np.random.default_rng(0)
    place = np.arange(rows)
    temp = np.rint(1900 + 200 * np.sin(place / 458) + rng.normal(0, 30, rows)).astype(int)
    rh = np.rint(5000 + 500 * np.sin(place / 9000) + rng.normal(0, 50, rows)).astype(int)
    days = pd.date_range("2019-01-01", periods=rows // 2880 + 1, freq="D").strftime("%d.%m.%Y").tolist()
    clock = pd.date_range("2019-01-01", periods=2880, freq="30s").strftime("%H:%M:%S").tolist()
    shown = [f"{i / 100:.2f}".replace(".", ",") for i in range(10_000)]
    with path.open("w", encoding="utf-8", newline="\n") as out:
        out.write("Datum/Zeit;Temperatur [°C];rel. Feuchte [%]\n")
        for lo in range(0, rows, 100_000):
            some = range(lo, min(lo + 100_000, rows))
            out.writelines(f"{days[i // 2880]} {clock[i % 2880]};{shown[temp[i]]};{shown[rh[i]]}\n" for i in some)
    return path


def with_envwatch(path: str) -> int:
    """The whole of `logs.read`: layout found, rows counted, units and clock judged."""
    from envwatch import logs

    return len(logs.read(path, logs.Answers(zone="+01:00")).channels[0].time)


def with_pyarrow(path: str) -> int:
    """Told everything."""
    import pyarrow as pa
    from pyarrow import csv

    options = csv.ConvertOptions(
        decimal_point=",", timestamp_parsers=[STAMP], column_types={"Datum/Zeit": pa.timestamp("s")}
    )
    return csv.read_csv(path, parse_options=csv.ParseOptions(delimiter=";"), convert_options=options).num_rows


def with_polars(path: str) -> int:
    """Told everything."""
    import polars as pl

    frame = pl.read_csv(path, separator=";", decimal_comma=True)
    return frame.with_columns(pl.col("Datum/Zeit").str.to_datetime(STAMP)).height


def with_duckdb(path: str) -> int:
    """Told everything."""
    import duckdb

    columns = {"Datum/Zeit": "TIMESTAMP", "Temperatur [°C]": "DOUBLE", "rel. Feuchte [%]": "DOUBLE"}
    read = duckdb.read_csv(path, sep=";", decimal=",", timestamp_format=STAMP, header=True, columns=columns)
    return len(read.df())


def adding(path: str, folder: str) -> Callable[[], int]:
    """`add` into an empty studio."""
    from envwatch import logs
    from envwatch.archive import Studio

    studio = Studio.create(Path(folder) / "studio", name="bench", zone="UTC")

    def work() -> int:
        outcome = studio.add([path], logs.Answers(zone="+01:00")).outcomes[0]
        assert outcome.status == "kept", outcome
        studio.close()
        return outcome.new

    return work


READERS = {"read": with_envwatch, "pyarrow": with_pyarrow, "polars": with_polars, "duckdb": with_duckdb}


def peak_bytes() -> int:
    """Peak memory of this process; 0 where the system does not tell."""
    if importlib.util.find_spec("resource") is None:
        return 0
    import resource

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)


def one(reader: str, path: str) -> None:
    """Run one reader; prints rows, the runs in seconds, and peak memory after the first."""
    runs, rows, peak = [], 0, 0
    for _ in range(RUNS):
        with tempfile.TemporaryDirectory(dir=Path(path).parent) as folder:
            work = adding(path, folder) if reader == "add" else lambda: READERS[reader](path)
            forget()
            begin = time.perf_counter()
            rows = work()
            runs.append(time.perf_counter() - begin)
            peak = peak or peak_bytes()
    print(json.dumps({"rows": rows, "runs": runs, "peak": peak}))


def apart(*words: str) -> str:
    """What this file prints in a process of its own; its peak memory begins with that of the one that starts it."""
    return subprocess.run(
        [sys.executable, "-m", "tests.bench.bench_logs", *words], capture_output=True, text=True, check=True
    ).stdout


def main(rows: int) -> None:
    """All readers side by side."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "big.csv"
        apart("--write", str(path), str(rows))
        size = path.stat().st_size
        print(f"{rows:,} rows, {size / 1e6:.0f} MB")
        best, memory = {}, {}
        for reader in ("add", *READERS):
            if reader not in ASKED and importlib.util.find_spec(reader) is None:
                print(f"{reader:8s} not installed")
                continue
            told = json.loads(apart("--one", reader, str(path)))
            best[reader], memory[reader] = min(told["runs"]), told["peak"] / size
            print(
                f"{reader:8s} best {best[reader]:.2f} s, median {sorted(told['runs'])[RUNS // 2]:.2f} s, "
                f"first {told['runs'][0]:.2f} s, {told['rows'] / best[reader] / 1e6:.1f} M rows/s, "
                f"peak {told['peak'] / 1e6:.0f} MB = {memory[reader]:.1f} times the file"
            )
        fastest = min(seconds for reader, seconds in best.items() if reader not in ASKED)
        for reader, share in ASKED.items():
            print(
                f"{reader}: {fastest / best[reader]:.1%} of the fastest bare reader's rows a second "
                f"(asked: {share:.0%}); memory {memory[reader]:.1f} times the file (asked: under {MOST_MEMORY})"
            )


if __name__ == "__main__":
    if "--one" in sys.argv:
        one(*sys.argv[-2:])
    elif "--write" in sys.argv:
        write_big(Path(sys.argv[-2]), int(sys.argv[-1]))
    else:
        main(200_000 if "--small" in sys.argv else 5_000_000)
