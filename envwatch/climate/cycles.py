"""Counting cycles by the rainflow method, so that a year of humidity becomes a table of swings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from envwatch.core.arrays import Array, ArrayLike, Mask
from envwatch.figures.canvas import HALF_CYCLE

CYCLE_EDGES = (5.0, 10.0, 20.0, 30.0)


@dataclass(frozen=True, eq=False)
class Cycles:
    """Cycles of a record: range and mean of each, and its count, 0.5 or 1. All (k,)."""

    span: Array
    mean: Array
    count: Array

    def table(self, edges: Sequence[float] = CYCLE_EDGES) -> tuple[float, ...]:
        """Cycles with a range from each edge up to the next, the last without end."""
        bounds = [*edges, np.inf]
        return tuple(
            float(self.count[(self.span >= a) & (self.span < b)].sum())
            for a, b in zip(bounds[:-1], bounds[1:], strict=True)
        )


def turning_points(values: ArrayLike) -> Array:
    """First, last and every value where the course turns; repeated values count once.

    (n,) without NaN -> (k,), k at most n: one record at a time. Source: ASTM E1049-85, definition of a reversal.

    >>> turning_points([0, 1, 1, 2, 1, 1, 3]).tolist()
    [0.0, 2.0, 1.0, 3.0]
    """
    values = np.asarray(values, np.float64)
    moves: Mask = np.append(True, np.diff(values) != 0)[: len(values)]
    values = values[moves]
    if len(values) < 3:
        return values
    rising = np.diff(values) > 0
    turns: Mask = np.concatenate([[True], rising[1:] != rising[:-1], [True]])
    return values[turns]


def _without_small(points: Array, least: float) -> Array:
    """Turning points without the pairs that enclose a whole cycle under `least`, which leaves all other cycles.

    A range smaller than the one before it, and no larger than the one after, is such a cycle whatever comes later.
    """
    while len(points) > 3:
        span = np.abs(np.diff(points))
        small = (span[1:-1] < least) & (span[1:-1] < span[:-2]) & (span[1:-1] <= span[2:])
        at = np.flatnonzero(small) + 1
        if not len(at):
            break
        points = np.delete(points, np.concatenate([at, at + 1]))
    return points


def rainflow_cycles(values: ArrayLike, least: float = 0.0) -> Cycles:
    """Rainflow cycles of a record; a gap splits it, and no cycle spans one.

    Parameters
    ----------
    values : (n,) NaN in a gap. The first and the last value of a stretch count as turning points.
    least : whole cycles with a smaller range may be left out, for speed.

    Returns
    -------
    `Cycles`; empty for a constant or an empty record. Half cycles stay halves.

    Source: ASTM E1049-85, section 5.4.4, through the package rainflow.

    >>> found = rainflow_cycles([-2, 1, -3, 5, -1, 3, -4, 4, -2])
    >>> found.span.tolist(), found.count.tolist()
    ([3.0, 4.0, 4.0, 8.0, 9.0, 8.0, 6.0], [0.5, 0.5, 1.0, 0.5, 0.5, 0.5, 0.5])
    """
    values = np.asarray(values, np.float64)
    gaps = np.flatnonzero(np.isnan(values)).tolist()
    edges = zip([0, *(gap + 1 for gap in gaps)], [*gaps, len(values)], strict=True)
    found = [cycle for a, b in edges if b - a > 1 for cycle in _stretch(values[a:b], least)]
    table = np.array(found, np.float64).reshape(-1, 3)
    return Cycles(table[:, 0], table[:, 1], table[:, 2])


def _stretch(values: Array, least: float) -> list[tuple[float, float, float]]:
    import rainflow

    points = _without_small(turning_points(values), least)
    if len(points) < 2:
        return []
    if len(points) == 2:  # the package leaves out the last point of a pair
        return [(abs(float(points[1] - points[0])), float(points.mean()), float(HALF_CYCLE))]
    return [cycle[:3] for cycle in rainflow.extract_cycles(points.tolist())]
