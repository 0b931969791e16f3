"""What the humidity of a room answers to, apart: the vapour outdoors, a source, a known source, its state at the start.

The balance is linear in all of these, so for each pair of (air change over buffering, buffering) the rest of a fit is
least squares.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from envwatch.core.arrays import Array, Whole
from envwatch.physics.room.balance import content, per_percent, step_factors


@dataclass(frozen=True, eq=False)
class Hours:
    """Hourly air of a room and outdoors, without gaps in what drives; stretches follow one another.

    `rh_percent` is NaN where the room was not read. `begins` are the rows at which a stretch begins. `known_g_h` is
    water known to be given off (or, below 0, drawn off) in the hour.
    """

    temp_c: Array
    rh_percent: Array
    outside_pa: Array
    begins: Whole
    known_g_h: Array | None = None

    @property
    def reference_c(self) -> float:
        """Temperature at which buffering is told."""
        return float(np.mean(self.temp_c))

    def part(self, first: int, last: int) -> Hours:
        """Rows [first, last), which begin a stretch of their own."""
        inside = self.begins[(self.begins > first) & (self.begins < last)] - first
        cut = slice(first, last)
        known = None if self.known_g_h is None else self.known_g_h[cut]
        return Hours(self.temp_c[cut], self.rh_percent[cut], self.outside_pa[cut], np.append(0, inside), known)


def responses(hours: Hours, rate_h: Array, buffering: Array, every: int = 1) -> Array:
    """Hourly mean humidity in answer to each cause, for a room of 1 m³.

    Parameters
    ----------
    rate_h, buffering : (m,) air change over buffering, and buffering at the hours' mean temperature. [1/h], [1]
    every : rows that are kept: the first, and then each so many-th.

    Returns
    -------
    (4, n / every, m): to the vapour outdoors; to a source of 1 g/m³ over the air change; to `known_g_h`; to 1 % RH at
    the begin of each stretch. The first three begin each stretch at 0. [% RH]
    """
    reference = float(per_percent(hours.reference_c))
    changes = rate_h * buffering
    stored = (buffering - 1) * reference
    s1 = per_percent(hours.temp_c)
    come = content(hours.outside_pa, hours.temp_c)
    known = np.zeros(len(s1)) if hours.known_g_h is None else hours.known_g_h
    capacity = s1[:, None] + stored
    kept, raised = step_factors(changes, s1[:, None], capacity, 1.0)
    given = np.stack([changes * come[:, None] * raised, changes * raised, known[:, None] * raised, 0 * raised])
    diluted = np.append(np.ones((1, len(rate_h))), capacity[:-1] / capacity[1:], axis=0)
    begins = set(hours.begins.tolist())
    out = np.empty((4, -(-len(s1) // every), len(rate_h)))
    start = np.zeros((4, len(rate_h)))
    start[3] = 1
    after = start
    for k in range(len(s1)):
        before = start if k in begins else after * diluted[k]
        after = kept[k] * before + given[:, k]
        if k % every == 0:
            out[:, k // every] = (before + after) / 2
    return out
