"""Every place's hazards over a week with its history: a plain loop beside `dask.distributed` with two worker processes.

Run: python -m tests.bench.bench_partitions       (the studio of bench_scale; --small for a look)

Each is a first look by processes that hold nothing in memory; the workers stand ready before the clock starts, but load
the program within it. The readings have just been written and the loop reads them first: the system may hold them.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import pyarrow as pa

from envwatch.archive import Studio
from envwatch.cases import batch
from envwatch.core.period import Period
from tests.bench.bench_scale import END, make
from tests.bench.looks import forget


def timed(work: Callable[[], pa.Table]) -> tuple[pa.Table, float]:
    """What a call gives, and its wall time. [s]"""
    begun = time.perf_counter()
    return work(), time.perf_counter() - begun


def main() -> None:
    """Make the studio, work it out twice, print."""
    import pandas as pd
    from distributed import Client, LocalCluster

    paintings, places = (500, 20) if "--small" in sys.argv else (5000, 200)
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as name:
        make(Path(name), paintings, places)
        week = Period(END - pd.Timedelta(days=7), END, "2025-W52", "UTC")
        with Studio.open(Path(name) / "studio") as studio:
            todo = batch.orders(studio, week)
        forget()
        looped, alone_s = timed(lambda: batch.together(map(batch.work, todo)))
        local = {"processes": True, "host": "127.0.0.1", "dashboard_address": None}
        with LocalCluster(n_workers=2, threads_per_worker=1, **local) as two, Client(two) as client:
            shared, shared_s = timed(lambda: batch.together(client.gather(client.map(batch.work, todo, pure=False))))
    same = looped.to_pandas().equals(shared.to_pandas())
    pieces = sum(len(order.alike) for order in todo)
    print(f"{places} places, {pieces:,} build-ups in them, {looped.num_rows:,} findings")
    print(f"a plain loop: {alone_s:.1f} s; two Dask workers: {shared_s:.1f} s ({alone_s / shared_s:.2f} times as fast)")
    print(f"identical: {same}")


if __name__ == "__main__":
    main()
