"""Merging downloads: whatever is cut and repeated, nothing is lost, doubled, or counted twice."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from envwatch.archive.intake.merge import decimals, marked, merge
from envwatch.core.readings import EMPTY, Series
from envwatch.logs.quality.marks import CONFLICT, harsher

MINUTE = 60_000_000
ONE_DECIMAL = dict.fromkeys(range(10), (1, 1))


def series(file, first, temp_c, rh_percent=None):
    """One file's rows, a minute apart."""
    n = len(temp_c)
    rh = np.full(n, 50.0) if rh_percent is None else np.array(rh_percent, float)
    time = (np.arange(n) + first) * MINUTE
    return Series(time, np.array(temp_c, float), rh, np.zeros(n, np.uint16), np.full(n, file, np.int32),
                  np.arange(2, n + 2, dtype=np.int32))  # fmt: skip


def rows(found):
    return list(zip(found.time.tolist(), found.temp_c.tolist(), found.rh_percent.tolist(), strict=True))


RECORD = [18 + n % 7 / 10 for n in range(60)]
cuts = st.lists(st.tuples(st.integers(0, 59), st.integers(1, 60)), min_size=1, max_size=6)


def downloads(wanted):
    return [series(k, first, RECORD[first : first + n]) for k, (first, n) in enumerate(wanted)]


@settings(max_examples=60, deadline=None)
@given(cuts, st.integers(1, 5))
def test_downloads_of_one_record_merge_to_what_they_cover_in_any_batches(wanted, at_once):
    files = downloads(wanted)
    held, tallies = EMPTY, {}
    for start in range(0, len(files), at_once):
        held, told = merge(held, files[start : start + at_once], ONE_DECIMAL)
        tallies |= told
    covered = sorted({at for first, n in wanted for at in range(first, min(first + n, 60))})
    assert rows(held) == [(at * MINUTE, RECORD[at], 50.0) for at in covered]
    assert [sum(vars(tallies[k]).values()) for k in range(len(files))] == [len(file) for file in files]
    assert sum(tally.new for tally in tallies.values()) == len(covered)
    assert all(tally.conflict == 0 for tally in tallies.values())


@settings(max_examples=60, deadline=None)
@given(cuts)
def test_merging_the_same_downloads_again_changes_nothing(wanted):
    files = downloads(wanted)
    held, _ = merge(EMPTY, files, ONE_DECIMAL)
    again, tallies = merge(held, files, ONE_DECIMAL)
    assert rows(again) == rows(held)
    assert {(tally.new, tally.conflict) for tally in tallies.values()} == {(0, 0)}


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(st.sampled_from([18.0, 18.04, 19.0, 25.0]), min_size=3, max_size=3), min_size=1, max_size=5))
def test_every_reading_is_new_a_duplicate_or_a_conflict_and_differing_ones_all_stay(files):
    made = [series(k, 0, temps) for k, temps in enumerate(files)]
    held, tallies = merge(EMPTY, made, ONE_DECIMAL)
    assert [sum(vars(tallies[k]).values()) for k in range(len(files))] == [3] * len(files)
    for at in range(3):
        kept = set(held.temp_c[held.time == at * MINUTE].round(1))
        assert kept == {round(temps[at], 1) for temps in files}
    several = {at for at in range(3) if (held.time == at * MINUTE).sum() > 1}
    conflicts = {int(t) // MINUTE for t, m in zip(held.time, marked(held).marks, strict=True) if m & CONFLICT}
    assert conflicts == several


def test_a_humidity_that_only_one_file_has_is_kept_and_no_conflict():
    without = series(0, 0, [18.0, 18.1], [np.nan, np.nan])
    both = series(1, 0, [18.0, 18.1], [50.0, 51.0])
    held, tallies = merge(without, [both], ONE_DECIMAL)
    assert rows(held) == rows(both)
    assert (tallies[1].duplicate, tallies[1].conflict) == (2, 0)


def test_an_endless_heap_of_readings_for_one_instant_is_kept_in_bounded_time():
    heap = [series(k % 10, 0, [k / 7]) for k in range(3000)]
    held, _ = merge(EMPTY, heap, ONE_DECIMAL)
    assert len(held) > 2000
    assert (marked(held).marks & CONFLICT).all()


def test_decimals_are_told_from_many_readings_and_not_from_few():
    assert decimals(np.tile([20.0, 21.0], 50)) == 0
    assert decimals(np.array([20.0, 21.0])) == 2
    assert decimals(np.tile([68.1, 68.3], 50) * 5 / 9 - 17.7777777) == 3


def test_of_conflicting_readings_the_harsher_of_each_quantity_counts():
    time = np.array([0, 1, 1, 1, 2])
    temp_c = np.array([18.0, 18.0, np.nan, 21.0, 18.0])
    rh = np.array([50.0, 45.0, 62.0, np.nan, 50.0])
    first, hot, far = harsher(time, temp_c, rh)
    assert first.tolist() == [0, 1, 4]
    assert hot.tolist() == [18.0, 21.0, 18.0]
    assert far.tolist() == [50.0, 62.0, 50.0]


def test_nothing_read_stays_nothing():
    _, temp_c, rh = harsher(np.array([0, 0]), np.array([np.nan, np.nan]), np.array([40.0, 60.0]))
    assert np.isnan(temp_c).all()
    assert rh[0] in (40.0, 60.0)
    assert len(marked(EMPTY)) == 0
    assert len(merge(EMPTY, [], {})[0]) == 0
