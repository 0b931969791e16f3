"""Until when the air of a finding was over its limit, and whether that has ended."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from envwatch.core.arrays import Mask
from envwatch.core.findings import Finding, Level
from envwatch.figures.coverage import ENDED_NEEDS_H, SPELL_BRIDGES_H

HOUR = pd.Timedelta(hours=1)


def asks_from(level: Level) -> Level:
    """The level at which the air of a raised finding still goes on: what was urgent goes on while it asks to act."""
    return min(level, Level.ACT)


def with_ending(finding: Finding, time: pd.DatetimeIndex, over: Mask, read: Mask, window_h: float = 1) -> Finding:
    """A raised finding with the end of its last hour over a limit, and when it ended; any other as it is.

    Parameters
    ----------
    time : (n,) whole hours of the record, those read after the period too.
    over : (n,) hours over the limit of `asks_from` its level. read : (n,) hours in which that can be told.
    window_h : hours from which each is formed: a mean or a range of a day holds the day that has to pass. [h]

    Nothing read since, or less than a day within the limit, is no end: `Finding.ended` stays None.
    """
    rows = np.flatnonzero(over)
    if finding.level < Level.WATCH or not len(rows):
        return finding
    last = int(rows[-1])
    until = time[last] + HOUR
    needs = max(ENDED_NEEDS_H - window_h, float(SPELL_BRIDGES_H))
    ended = until if int(read[last + 1 :].sum()) >= needs else None
    return replace(finding, until=until, ended=ended)
