"""What is looked for piece by piece is what a look at the whole record finds."""

import numpy as np
import pytest

from envwatch.logs.quality import marks, scan
from envwatch.logs.quality.scan import Record
from tests.test_quality import TEN_MINUTES, calm

PIECE = 7


@pytest.fixture
def small_pieces(monkeypatch):
    monkeypatch.setattr(scan, "PIECE", PIECE)


def some(rng: np.random.Generator):
    """A short rough record with missing values, gaps, and stretches that stand still."""
    size = int(rng.choice([2, 3, PIECE, PIECE + 1, PIECE + 2, 2 * PIECE, 40, 90]))
    gap = np.where(rng.random(size) < 0.1, rng.integers(1, 30, size), rng.choice([1, 1, 1, 2], size))
    time_us = np.cumsum(gap) * int(rng.choice([60_000_000, TEN_MINUTES]))
    temp_c, rh = np.round(rng.normal(20, rng.choice([0.1, 2]), size), 1), np.round(rng.normal(50, 3, size))
    for values in (temp_c, rh):
        values[rng.random(size) < 0.1] = np.nan
        at = int(rng.integers(size))
        values[at : at + 12] = values[at]
    return time_us, temp_c, rh


@pytest.mark.parametrize("seed", range(100))
def test_each_look_finds_what_its_definition_says(small_pieces, seed):
    time_us, temp_c, rh = some(np.random.default_rng(seed))
    it = Record.of(time_us, temp_c, rh)
    gap, limit = np.diff(time_us), 1.5
    assert (it.shortest_us, it.longest_us) == (gap.min(), gap.max())
    assert it.intervals_us[0] == np.sort(gap)[(len(gap) - 1) // 2]
    at = np.arange(len(gap))
    factor = np.sqrt(np.maximum(gap / 6e7, 1) / 10)
    np.testing.assert_array_equal(it.growth(at), factor)
    assert it.least_growth == factor.min()
    np.testing.assert_array_equal(scan.steps_over(temp_c, limit), np.abs(np.diff(temp_c)) > limit)
    near = gap <= 3 * it.intervals_us[0]
    np.testing.assert_array_equal(it.still(rh), (np.diff(rh) == 0) & near)
    np.testing.assert_array_equal(it.still(rh, temp_c), (np.diff(rh) == 0) & (np.diff(temp_c) == 0) & near)
    for lag in range(1, min(len(temp_c), 20)):
        found = np.flatnonzero(temp_c[lag:] - temp_c[:-lag] >= limit)
        np.testing.assert_array_equal(scan.rises(temp_c, lag, limit), found)


@pytest.mark.parametrize("seed", range(100))
def test_stretches_and_the_rows_in_them(seed):
    rng = np.random.default_rng(seed)
    true = rng.random(int(rng.integers(1, 40))) < rng.choice([0.1, 0.5, 0.9])
    start, stop = scan.runs(true)
    assert (start < stop).all() and (start[1:] > stop[:-1]).all()
    np.testing.assert_array_equal(scan.rows_in(start, stop) if len(start) else [], np.flatnonzero(true))
    start = rng.integers(0, 60, 12)  # in no order, over each other, some of them empty
    stop = start + rng.choice([0, 1, 1, 3, 20], 12)
    rows = {row for a, b in zip(start.tolist(), stop.tolist(), strict=True) for row in range(a, b)}
    assert scan.rows_in(start, stop).tolist() == sorted(rows)


@pytest.mark.parametrize("seed", range(30))
def test_marks_are_the_same_however_small_the_pieces(monkeypatch, seed):
    rng = np.random.default_rng(seed)
    time_us, temp_c, rh = calm(days=14, seed=seed)
    for values, sizes in ((temp_c, [-4, 3, 6]), (rh, [-12, 8, 30]), (temp_c, [3, 5])):
        for at in rng.integers(0, len(rh), 6).tolist():
            values[at : at + int(rng.choice([1, 2, 12, 100]))] += rng.choice(sizes)
    temp_c[650:660] = 20.0
    temp_c[655] = 29.0
    rh[700:1000], temp_c[900:1000] = rh[700], temp_c[900]  # stuck
    whole = marks.mark(time_us, temp_c, rh)
    for size in (1, PIECE, 97):
        monkeypatch.setattr(scan, "PIECE", size)
        np.testing.assert_array_equal(marks.mark(time_us, temp_c, rh), whole)
    assert {"spike", "step", "stuck"} <= marks.count(whole).keys()
