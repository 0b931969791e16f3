"""The demo review from stored readings, and `--help`, as whole processes; beside a bare read of the same files.

Run: python -m tests.bench.bench_review            (about half a minute)

Each process begins with nothing in memory. The first run, which gives the findings their numbers and finds nothing kept
before it, is told apart; the median is of five later runs, of the same week.

The bare read beside the review loads every reading of the studio with pandas from one CSV of the same content and
does nothing with it.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pandas as pd

from envwatch.archive import Studio
from envwatch.cli.studio import make_demo

BARE = "import pandas as pd, sys; print(len(pd.read_csv(sys.argv[1], parse_dates=['time'])))"


def seconds(*words: str, runs: int = 5) -> tuple[float, float]:
    """Wall time of a whole process: its first run, and the median of those after it."""
    taken = []
    for _ in range(runs + 1):
        begun = time.perf_counter()
        subprocess.run([sys.executable, *words], capture_output=True, check=True)
        taken.append(time.perf_counter() - begun)
    return taken[0], statistics.median(taken[1:])


def one_csv(studio: Studio, path: Path) -> int:
    """All readings of a studio as one CSV."""
    begin, end = pd.Timestamp("2025-01-01", tz="UTC"), pd.Timestamp("2027-01-01", tz="UTC")
    climates = [studio.climate(place, begin, end) for place in studio.places()]
    frames = [pd.DataFrame({"time": c.time, "temp_c": c.temp_c, "rh_percent": c.rh_percent}) for c in climates]
    whole = pd.concat(frames)
    whole.to_csv(path, index=False)
    return len(whole)


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "studio"
        make_demo(folder, quiet=True).close()
        with Studio.open(folder) as studio:
            rows = one_csv(studio, Path(scratch) / "all.csv")
        kept = str(folder)
        review = seconds("-m", "envwatch", "review", "--studio", kept)
        unkept = seconds("-m", "envwatch", "review", "--studio", kept, "--no-keep")
        bare = seconds("-c", BARE, str(Path(scratch) / "all.csv"))
        usage = seconds("-m", "envwatch", "--help")
        nothing = seconds("-c", "pass")
    print(f"{'':<52}{'first s':>10}{'median s':>10}{'ratio':>8}")
    for label, (first, value), (_, beside) in (
        ("envwatch review, kept and on paper", review, bare), ("envwatch review --no-keep", unkept, bare),
        (f"pandas reads {rows:,} rows of one CSV", bare, bare), ("envwatch --help", usage, nothing),
        ("an empty Python", nothing, nothing),
    ):  # fmt: skip
        print(f"{label:<52}{first:>10.2f}{value:>10.2f}{value / beside:>8.1f}")


if __name__ == "__main__":
    main()
