"""Writes a known climate in any layout a logger might use, for the tests of reading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from envwatch import logs
from envwatch.logs import Answers, LogFile

NOW = pd.Timestamp("2026-06-01", tz="UTC")


@dataclass(frozen=True)
class Truth:
    """A climate as it really was: UTC times, °C and % RH as a logger of 0.1 resolution shows them."""

    time: pd.DatetimeIndex
    temp_c: np.ndarray
    rh_percent: np.ndarray


def climate(start: str = "2024-03-01T00:00Z", n: int = 300, step: str = "10min", seed: int = 1) -> Truth:
    """An invented room: a slow wave and some noise, to 0.1."""
    rng = np.random.default_rng(seed)
    time = pd.date_range(start, periods=n, freq=step)
    hours = (time - time[0]) / pd.Timedelta(hours=1)
    temp = 19 + 2 * np.sin(hours / 24 * 6.28) + rng.normal(0, 0.3, n)
    rh = 52 + 5 * np.cos(hours / 31 * 6.28) + rng.normal(0, 0.6, n)
    return Truth(time, np.round(temp, 1), np.round(rh, 1))


def write(path: Path, content: str | bytes, encoding: str = "utf-8") -> Path:
    """A file with exactly these characters or bytes."""
    path.write_bytes(content if isinstance(content, bytes) else content.encode(encoding))
    return path


def rows_of(
    truth: Truth, zone: str = "UTC", stamp: str = "%Y-%m-%d %H:%M:%S", delimiter: str = ",", decimal: str = "."
) -> list[str]:
    """Plain rows: stamp, temperature, humidity."""
    local = truth.time.tz_convert(zone)
    return [
        delimiter.join((t, f"{a:.1f}".replace(".", decimal), f"{b:.1f}".replace(".", decimal)))
        for t, a, b in zip(local.strftime(stamp), truth.temp_c, truth.rh_percent, strict=True)
    ]


def read(path: Path, zone: str | None = "UTC", **answers: str) -> LogFile:
    """Read with a fixed clock, so that no test depends on the day it runs."""
    need_rh = bool(answers.pop("need_rh", ""))
    return logs.read(path, Answers(zone=zone, **answers), now=NOW, need_rh=need_rh)


def assert_reads(
    log: LogFile, truths: Truth | Sequence[Truth], labels: Sequence[str] = ("1",), tolerance: float = 1e-6
) -> None:
    """The file gave this climate, reading for reading, and its counts add up."""
    truths = [truths] if isinstance(truths, Truth) else list(truths)
    assert [c.label for c in log.channels] == list(labels)
    for channel, truth in zip(log.channels, truths, strict=True):
        np.testing.assert_array_equal(channel.time, truth.time.as_unit("us").asi8)
        np.testing.assert_allclose(channel.temp_c, truth.temp_c, atol=tolerance)
        np.testing.assert_allclose(channel.rh_percent, truth.rh_percent, atol=tolerance)
    assert_adds_up(log)


def assert_adds_up(log: LogFile) -> None:
    """Every data row once."""
    counts = log.counts
    assert counts.used + counts.duplicate + sum(counts.set_aside.values()) == counts.data_rows
    assert min(counts.used, counts.duplicate, *counts.set_aside.values(), 0) == 0
