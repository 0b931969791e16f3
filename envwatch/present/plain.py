"""Results -> plain values that JSON can hold: times as ISO with Z, levels as their words, NaN as null."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from pathlib import PurePath
from typing import Any

import numpy as np
import pandas as pd

from envwatch.core.findings import Level

PRIVATE = {"owner", "rested"}  # never leaves the studio by this way, and what only a later review can read


def plain(value: Any) -> Any:
    """The value as dicts, lists, strings, numbers, booleans and None.

    >>> plain({"level": Level.ACT, "value": float("nan"), "at": pd.Timestamp("2026-10-26T08:00Z")})
    {'level': 'act', 'value': None, 'at': '2026-10-26T08:00:00Z'}
    """
    if isinstance(value, Level):
        return value.word
    if isinstance(value, Enum):
        return plain(value.value)
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, pd.Timestamp):
        return value.tz_convert("UTC").strftime("%Y-%m-%dT%H:%M:%SZ") if value.tz is not None else value.isoformat()
    if isinstance(value, pd.Timedelta):
        return value.total_seconds()
    if isinstance(value, float | np.floating):
        return round(float(value), 6) if math.isfinite(value) else None
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, PurePath):
        return str(value)
    return _plain_container(value)


def _plain_container(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        if getattr(value, "private", False) is True:  # the course of the air in an owner's house
            return None
        shown = {f.name: plain(getattr(value, f.name)) for f in fields(value) if f.name not in PRIVATE}
        for name in ("level", "certainty"):  # properties that a reader of the JSON will want
            if isinstance(getattr(type(value), name, None), property):
                shown[name] = plain(getattr(value, name))
        return shown
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, pd.DatetimeIndex | np.ndarray | list | tuple | set):
        return [plain(item) for item in value]
    raise TypeError(f"{type(value).__name__} has no plain form")
