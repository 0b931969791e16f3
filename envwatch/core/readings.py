"""One channel's readings as they are kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from envwatch.core.arrays import Array, Mask, Whole


@dataclass(frozen=True, eq=False)
class Series:
    """One probe's rows, ordered by time, raw as the logger gave them.

    Arrays of one length: `time` [µs UTC], `temp_c`, `rh_percent` (NaN where not read), `marks` (bits of `MARK_NAMES`),
    `file` (number in the register) and `line` in it.
    """

    time: NDArray[np.int64]
    temp_c: Array
    rh_percent: Array
    marks: NDArray[np.uint16]
    file: NDArray[np.int32]
    line: NDArray[np.int32]

    def __len__(self) -> int:
        return len(self.time)

    def take(self, rows: Whole | Mask | slice) -> Series:
        """The rows asked for: an index array, a mask, or a slice."""
        return Series(*(getattr(self, field.name)[rows] for field in fields(self)))


TYPES = {"time": np.int64, "temp_c": float, "rh_percent": float, "marks": np.uint16, "file": np.int32, "line": np.int32}


EMPTY = Series(*(np.empty(0, kind) for kind in TYPES.values()))


def joined(parts: Sequence[Series]) -> Series:
    """Rows of several series, one after the other."""
    parts = [part for part in parts if len(part)]
    if len(parts) < 2:
        return parts[0] if parts else EMPTY
    return Series(*(np.concatenate([getattr(part, name) for part in parts]) for name in TYPES))
