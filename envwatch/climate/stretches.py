"""Unbroken stretches over or under a limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from envwatch.figures.coverage import SPELL_BRIDGES_H


@dataclass(frozen=True)
class Spell:
    """An unbroken stretch over (or under) a limit."""

    start: pd.Timestamp
    end: pd.Timestamp
    hours: float  # hours that truly passed the limit; breaks that were bridged are not counted


def spells(time: pd.DatetimeIndex, passed, bridge_h: float = SPELL_BRIDGES_H) -> list[Spell]:
    """Spells of a condition on an hourly record; breaks up to `bridge_h` do not end one.

    Parameters
    ----------
    time : (n,) whole hours, regular.
    passed : (n,) true where the condition holds; false where it does not or nothing was read.
    """
    at = np.flatnonzero(np.asarray(passed, bool))
    if not len(at):
        return []
    breaks = np.flatnonzero(np.diff(at) - 1 > bridge_h)
    first, last = np.append(0, breaks + 1), np.append(breaks, len(at) - 1)
    starts, ends = time[at[first]], time[at[last]] + pd.Timedelta(hours=1)
    return [Spell(a, b, float(n)) for a, b, n in zip(starts, ends, last - first + 1, strict=True)]
