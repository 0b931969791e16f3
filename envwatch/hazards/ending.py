"""Until when the air of a finding was over its limit, and whether that has ended."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from envwatch.core.arrays import Mask
from envwatch.core.findings import Finding, Level
from envwatch.figures.coverage import ENDED_NEEDS_H

HOUR = pd.Timedelta(hours=1)


def with_ending(finding: Finding, time: pd.DatetimeIndex, over: Mask, read: Mask) -> Finding:
    """A raised finding with the end of its last hour over a limit, and when it ended; any other as it is.

    Parameters
    ----------
    time : (n,) whole hours of the record, those read after the period too.
    over : (n,) hours over the limit. read : (n,) hours in which that can be told.

    Nothing read since, or less than a day within the limit, is no end: `Finding.ended` stays None.
    """
    rows = np.flatnonzero(over)
    if finding.level < Level.WATCH or not len(rows):
        return finding
    last = int(rows[-1])
    until = time[last] + HOUR
    ended = until if int(read[last + 1 :].sum()) >= ENDED_NEEDS_H else None
    return replace(finding, until=until, ended=ended)
