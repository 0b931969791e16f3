"""The growth index with what gaps leave open: what the air may have been in the hours not read."""

from __future__ import annotations

import numpy as np

from envwatch import air, climate
from envwatch.core.arrays import Array, ArrayLike
from envwatch.figures import mould as fig
from envwatch.hazards.mould.index import mould_index


def mould_index_range(
    temp_c: ArrayLike, rh_percent: ArrayLike, sensitivity: str = "sensitive",
    decline: float | str = fig.DECLINE_DEFAULT, start: float = 0.0,
) -> tuple[Array, Array, Array]:  # fmt: skip
    """The index with what the gaps leave open, on hourly air.

    In a gap the air is taken as dry for the lowest, and for the highest as in the dampest week on record. The lowest
    and the highest are given in the gaps too; `held` is NaN there.

    Parameters
    ----------
    temp_c, rh_percent : (n,) regular hourly means, NaN in a gap. [°C], [% RH]
    sensitivity, decline, start : as in `mould_index`; `start` a number.

    Returns
    -------
    (n,) lowest, (n,) held, (n,) highest.

    Raises
    ------
    ValueError : as `mould_index`.

    Source: as `mould_index`; what a gap may have been is our judgement.

    >>> low, held, high = mould_index_range([20.0] * 4, [95.0, 95.0, float("nan"), 95.0])
    >>> bool(low[-1] < held[-1] < high[-1])
    True
    """
    held = mould_index(temp_c, rh_percent, 1.0, sensitivity, decline, start)
    fillings = gap_fillings(temp_c, rh_percent)
    if not fillings:
        return held, held, held
    low, high = (mould_index(*filled, 1.0, sensitivity, decline, start) for filled in fillings[:2])
    return low, held, high


def gap_fillings(temp_c: ArrayLike, rh_percent: ArrayLike) -> tuple[tuple[Array, Array], ...]:
    """The air with its gaps taken as dry; as damp as the dampest week on record; and as the dampest hour about them.

    (n,) hourly [°C], (n,) [% RH], NaN in a gap -> three pairs of (n,): at the temperature of that week, in which a gap
    counts as the worst read within a week about it; the last as warm and as damp as any hour within a week about the
    gap. Nothing without gaps, or of gaps alone.

    Source: what a gap may have been is our judgement.

    >>> [rh.tolist() for _, rh in gap_fillings([20.0] * 4, [90.0, float("nan"), 90.0, 60.0])]
    [[90.0, 0.0, 90.0, 60.0], [90.0, 82.5, 90.0, 60.0], [90.0, 90.0, 90.0, 60.0]]
    """
    temp, rh = np.broadcast_arrays(np.asarray(temp_c, np.float64), air.usable_rh(rh_percent))
    gap = ~(np.isfinite(temp) & np.isfinite(rh))
    if not gap.any() or gap.all():
        return ()
    near_c, near = climate.worst_in_gaps(np.where(gap, np.nan, temp)), climate.worst_in_gaps(np.where(gap, np.nan, rh))
    window = int(min(fig.GAP_TAKES_H, len(rh)))
    damp = climate.running_mean(near, window)  # a gap in a damp week makes it no drier
    last = int(np.nanargmax(damp)) if np.isfinite(damp).any() else len(rh) - 1
    week = slice(max(last - window + 1, 0), last + 1)
    if not np.isfinite(near[week]).any():  # of too few hours, all there are
        week = slice(None)
    week_c, week_percent = np.nanmean(near_c[week]), np.nanmean(near[week])
    filled_c = np.where(gap, week_c, temp)
    worst = np.where(gap, np.fmax(near_c, week_c), temp), np.where(gap, np.fmax(near, week_percent), rh)
    return (filled_c, np.where(gap, 0.0, rh)), (filled_c, np.where(gap, week_percent, rh)), worst
