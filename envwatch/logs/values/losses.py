"""Readings lost where the air was dampest, driest, coldest or warmest: what is left looks kinder than it was."""

from __future__ import annotations

import math

import numpy as np

from envwatch.figures.logs import LOST_BY_CHANCE, LOST_END, LOST_LEAST
from envwatch.logs.text.cells import OK, REASON

MOST_STRETCHES = 50  # a hundred more would say the same
ENDS = (("rh", 1, "dampest", "damp"), ("temp", -1, "coldest", "cold"), ("rh", -1, "driest", "dry"),
        ("temp", 1, "warmest", "warm"))  # fmt: skip


def one_sided(temp_c: np.ndarray, temp_code: np.ndarray, rh_percent: np.ndarray, rh_code: np.ndarray) -> list[str]:
    """A note for each class of lost readings that stands at one end of the record.

    Parameters
    ----------
    temp_c, rh_percent : (n,) in the order of the file, NaN where lost. [°C], [% RH]
    temp_code, rh_code : (n,) why; rows that are no readings are left out beforehand.
    """
    worst, values = np.maximum(temp_code, rh_code), {"rh": rh_percent, "temp": temp_c}
    found = []
    for code, reason in REASON.items():
        lost = worst == code
        many = int(lost.sum())
        if many >= LOST_LEAST:
            weighed = [(*among(side * values[what], lost, worst == OK), end, how) for what, side, end, how in ENDS]
            likely = [w for w in weighed if w[1] < LOST_BY_CHANCE and 2 * w[0] >= many]
            for there, _, end, how in sorted(likely, key=lambda w: w[1])[:1]:
                found.append(
                    f"! {there:,} of {many:,} rows with a lost reading ({reason}) stand among the {end} fifth "
                    f"of the record: what is left understates how {how} the air was."
                )
    return found


def among(values: np.ndarray, lost: np.ndarray, good: np.ndarray) -> tuple[int, float]:
    """How many lost rows stand beside the highest fifth of the values, and how likely chance alone put them so high.

    The readings on either side of each stretch that was lost are ranked among all; that ranks are even is the chance
    (Fisher's way to combine them).

    >>> values = np.arange(1000.0) % 100
    >>> [among(values, lost, ~lost)[0] for lost in (values % 99 > 95, values == 20)]
    [30, 0]
    """
    kept, at = np.flatnonzero(good), np.flatnonzero(lost)
    after = np.searchsorted(kept, at)
    inside = (after > 0) & (after < len(kept))
    after = after[inside]
    if not len(after) or np.isnan(values[kept]).all():
        return 0, 1.0
    beside = (values[kept[after - 1]] + values[kept[after]]) / 2
    ranks = np.sort(values[kept])
    above = 1 - np.searchsorted(ranks, beside, side="left") / len(ranks)
    stretches = above[np.append(0, np.flatnonzero(np.diff(after)) + 1)]
    stretches = stretches[:: len(stretches) // MOST_STRETCHES + 1]
    total = -float(np.log(stretches).sum())
    chance = math.exp(-total) * sum(total**j / math.factorial(j) for j in range(len(stretches)))
    return int((above <= LOST_END).sum()), chance
