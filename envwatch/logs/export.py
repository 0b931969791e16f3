"""The normalised table of readings as CSV."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from envwatch.logs.model import LogFile


def to_csv(log: LogFile) -> Iterable[str]:
    """Normalised CSV, line by line with line ends: UTC time, channel, °C, % RH; by time, then channel.

    Values are rounded to 0.001 at the coarsest; nothing stands where humidity was not read.
    """
    yield "time_utc,channel,temperature_c,relative_humidity_pct\n"
    time = np.concatenate([c.time for c in log.channels])
    which = np.concatenate([np.full(len(c.time), i) for i, c in enumerate(log.channels)])
    temp, rh = (np.concatenate([getattr(c, k) for c in log.channels]) for k in ("temp_c", "rh_percent"))
    labels = [c.label for c in log.channels]
    order = np.lexsort((_ranks(labels)[which], time))
    quoted = [_cell(text) for text in labels]
    for at in range(0, len(order), 20_000):
        some = order[at : at + 20_000]
        rows_ = zip(_iso(time[some]), which[some].tolist(), temp[some].tolist(), rh[some].tolist(), strict=True)
        yield "".join(f"{t},{quoted[w]},{_number(a)},{_number(b)}\n" for t, w, a, b in rows_)


def _ranks(labels: list[str]) -> np.ndarray:
    order = sorted(range(len(labels)), key=lambda i: _label_key(labels[i]))
    rank = np.empty(len(labels), np.int64)
    rank[order] = np.arange(len(labels))
    return rank


def _label_key(text: str) -> tuple[int, int, str]:
    return (0, int(text), "") if text.isascii() and text.isdigit() and len(text) < 18 else (1, 0, text)


def _iso(time: np.ndarray) -> list[str]:
    unit = "s" if not (time % 1_000_000).any() else "ms" if not (time % 1000).any() else "us"
    return [t + "Z" for t in time.view("M8[us]").astype(f"M8[{unit}]").astype(str).tolist()]


def _number(value: float) -> str:
    return "" if value != value else f"{round(value, 3):g}" if abs(value) < 1000 else f"{value:.3f}"


def _cell(text: str) -> str:
    """A label safe in any spreadsheet: nothing that would be taken for a formula, quotes where needed."""
    text = "".join(c if c.isprintable() else " " for c in text)
    if text[:1] in ("=", "+", "-", "@"):
        text = "'" + text
    return '"' + text.replace('"', '""') + '"' if any(c in text for c in ',"\n\r;') else text
