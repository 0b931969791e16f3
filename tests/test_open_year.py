"""A year of open indoor readings end to end: what is read, what is marked, how often ordinary paintings are raised.

Source of the readings: TRH database, CC BY 4.0 (tests/open_data/SOURCE.md).
"""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from envwatch import climate, verdict
from envwatch.core.findings import Level
from envwatch.logs.quality import marks as quality
from tests.bench import false_alarms as bench


@pytest.fixture(scope="module")
def table():
    """The file as pandas reads it, told the time's offset."""
    found = pd.read_csv(bench.HOUSE, parse_dates=["t_UTC+2"])
    return found.set_index(found["t_UTC+2"].dt.tz_localize("Etc/GMT-2"))


def test_every_reading_is_read_as_pandas_reads_it(table):
    read = bench.real_house()
    (channel,) = read.channels
    assert read.counts.used == read.counts.data_rows == len(table)
    assert len(table) >= 365 * 24 - 24
    assert_allclose(channel.temp_c, table["T"])
    assert_allclose(channel.rh_percent, table["RH"])
    assert (pd.DatetimeIndex(channel.time.astype("M8[us]"), tz="UTC") == table.index.tz_convert("UTC")).all()


def test_running_means_are_those_of_pandas(table):
    hourly = climate.hourly(bench.real_climate())
    ours = climate.running_mean(hourly.rh_percent, 720)
    regular = table["RH"].reindex(pd.date_range(table.index[0], table.index[-1], freq="h"))
    theirs = regular.rolling(720, min_periods=648).mean().to_numpy(copy=True)
    theirs[:719] = np.nan
    assert_allclose(ours[: len(theirs)], theirs, rtol=1e-9)


def test_an_ordinary_year_bears_few_marks_and_none_that_takes_a_reading_out():
    marks = bench.real_marks()
    assert quality.count(marks) == {"spike": 3, "step": 1}  # 0.05 %, as PROMISES.md says
    assert not (marks & quality.BAD).any()


def test_what_is_called_settled_or_long_ago_was_so_when_the_record_began():
    """First weeks are over after 60 days at most, twice that under a film; the record begins in July 2011."""
    dated = [
        layer.applied_on for painting in bench.ORDINARY for layer in painting.layers if layer.applied_on is not None
    ]
    assert len(dated) == 3 and max(dated) < bench.real_climate().start - pd.Timedelta(days=20 * 365)


def test_a_settled_lining_in_an_ordinary_heated_house_is_often_watched_and_never_urgent():
    """The dry weeks of a northern winter are most of it. Settled glue is watched from a swing of 20 % RH a day on, by
    our judgement: no week of this house has that, where it had been 32 of them at 12 %, six by nothing else."""
    there, painting = bench.real_climate(), bench.ORDINARY[1]
    weeks = [
        verdict.judge(bench.exposure(there, there.start, start + bench.WEEK), painting, start)
        for start in bench.real_weeks(there)
    ]
    assert (len(weeks), sum(bool(week.raised) for week in weeks)) == (47, 36)
    assert not any(f.mechanism == "swing" for week in weeks for f in week.raised)
    assert max(week.level for week in weeks) is Level.ACT
