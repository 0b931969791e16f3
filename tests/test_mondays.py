"""The benchmark of Mondays: what it expects is what is written, its weeks are right, and it sees what is wrong.

The limits are recomputed without the hazards (`tests.bench.mondays_limits`): a first-order lag by its closed form, the
dew point of a handbook (16.4 °C for 25 °C and 59 %: WMO-No. 8, by Magnus' formula, worked by hand).
"""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from tests.bench import mondays_dangers as dangers
from tests.bench import mondays_house as house
from tests.bench import mondays_limits as limits
from tests.bench import mondays_slow as slow
from tests.bench.mondays_studio import Air, Life, Row, Told, layers, live, logger, painting

BEGIN = pd.Timestamp("2026-03-04 12:00", tz="UTC")
TABLE = dangers.table()


def test_the_table_has_dangers_in_five_strengths_of_which_the_weakest_passes_nothing():
    names = {row.danger for row in TABLE}
    assert len(names) >= 24 and len(TABLE) == 5 * len(names)
    assert {row.level for row in TABLE if row.strength == 1} == {""}


@pytest.mark.parametrize(
    "row",
    [row for row in TABLE if row.figure != "" and row.level != "standing"],
    ids=lambda row: f"{row.danger} {row.strength}",
)
def test_each_limit_of_the_table_is_the_one_in_force(row):
    assert limits.differs(row.figure, row.limit) == ""


def calm(row: dangers.Danger) -> Air:
    """The danger without noise or daily swings, begun at BEGIN after forty days of its base."""
    time = pd.date_range(BEGIN - pd.Timedelta(days=40), BEGIN + pd.Timedelta(hours=row.lasts_h + 96), freq="30min")
    way = dangers.share_of_way(row, time, BEGIN)
    return Air(time, row.base_c + way * (row.peak_c - row.base_c),
               row.base_rh_percent + way * (row.peak_rh_percent - row.base_rh_percent))  # fmt: skip


@pytest.mark.parametrize(
    "row", [row for row in TABLE if row.passed_after_h > 0 and row.test != "share of week"],
    ids=lambda row: f"{row.danger} {row.strength}",
)  # fmt: skip
def test_the_hours_of_the_table_are_those_recomputed_on_its_air(row):
    """The table was reckoned in half hours and its lag from the first; an hour's mean may tell a little later."""
    end, _ = limits.first_monday(row.test, row.limit, row.build, calm(row), BEGIN, "UTC")
    assert (end - BEGIN) / limits.HOUR == pytest.approx(row.passed_after_h, abs=2.5)


def test_a_lag_and_a_dew_point_by_hand():
    step = pd.Series([50.0] + [30.0] * 24)
    assert limits.lagged(step, 24).iloc[-1] == pytest.approx(30 + 20 * np.exp(-1))
    dew = limits.dew_point_c(pd.Series([25.0]), pd.Series([59.0])).iloc[0]
    assert dew == pytest.approx(16.4, abs=0.1)


def test_a_window_belongs_to_the_week_that_holds_most_of_it():
    """Monday 9 March 2026, 00:00 UTC is the edge; a mean of 24 h up to 11:00 lies mostly in the week before."""
    for end, monday in (("2026-03-09 11:00", "2026-03-09"), ("2026-03-09 13:00", "2026-03-16")):
        middle = pd.Timestamp(end, tz="UTC") - pd.Timedelta(hours=12)
        assert f"{limits.monday_after(middle, 'UTC'):%Y-%m-%d}" == monday


def test_a_window_that_ends_after_the_monday_fetch_is_due_a_week_later():
    """A step to 30 °C on Sunday 8 March 2026: its mean of 24 h is 30 °C a day later, read by 09:00 or not."""
    time = pd.date_range("2026-03-02", "2026-03-12", freq="30min", tz="UTC")
    for begin, passes, due in (
        ("08:00", "2026-03-09 08:00", "2026-03-09"),
        ("11:00", "2026-03-09 11:00", "2026-03-16"),
    ):
        hot = np.where(time >= f"2026-03-08 {begin}", 30.0, 20.0)
        found = limits.first_monday("day hot", 30.0, "film", Air(time, hot, hot), time[48], "UTC")
        assert (f"{found[0]:%Y-%m-%d %H:%M}", f"{found[1]:%Y-%m-%d}") == (passes, due)


def test_a_share_of_a_week_is_counted_in_one_week():
    sunday = pd.Timestamp("2026-03-08 00:00", tz="UTC")
    assert limits.silent_monday(sunday, 33, 20, "UTC") is None
    assert limits.silent_monday(sunday, 24 + 34, 20, "UTC") == pd.Timestamp("2026-03-16", tz="UTC")


def test_late_never_and_false_alarms_are_seen():
    case = replace(next(row for row in TABLE if row.level == "act"), begin=BEGIN)
    told = Told("act", case.hazard, case.mechanism, "film", "It is so.", "Dry it.")
    asks = Row("2026-03-16", case.id, "trouble", "act", told, (told,))
    due = pd.Timestamp("2026-03-09", tz="UTC")
    assert dangers.Score(case, 1, due, "2026-03-09", (asks,), True).verdict == "in time"
    assert dangers.Score(case, 1, due, asks.monday, (asks,), True).verdict == "late"
    assert dangers.Score(case, 1, due, "", (), False).verdict == "never"
    assert dangers.score(case, calm(case), [asks], 1).first == asks.monday
    answered = replace(asks, told=(replace(told, standing="met before"),))
    assert dangers.score(case, calm(case), [answered], 1).first == ""
    weakest = replace(case, level="")
    assert dangers.score(weakest, calm(case), [asks], 1).verdict == "false alarm"
    assert "false alarm 1" in next(iter(dangers.report([dangers.score(weakest, calm(case), [asks], 1)])))


def test_a_history_that_stands_is_wrong_and_one_that_was_never_raised_is_said():
    history = next(h for h in slow.table() if h.name.startswith("telephone"))
    rows = [Row("2026-01-12", history.id, word, "watch") for word in ("trouble", "standing")]
    assert slow.wrong(history, rows) == rows[1:]
    met = Told("watch", "fluctuation", "dry air", "glue size and ground", "Dry.", "Look.", standing="as last", met=True)
    among = Row("2026-01-19", history.id, "trouble", "act", told=(met,))
    assert slow.wrong(history, [among]) == [among]
    control = next(h for h in slow.table() if h.must == "stand")
    assert slow.wrong(control, rows) == rows[:1]
    assert "was not tried" in " ".join(slow.report([(history, [])]))


def test_no_year_of_the_house_is_lived_through_twice():
    air = house.record([str(path) for path in house.RECORDS], [house.HOUSE_ZONE] * 2)
    first, second, last = house.mondays_of(air, house.HOUSE_ZONE)
    assert len(air.time) == 13_105 and air.time.is_monotonic_increasing and air.time.is_unique
    assert first < second and last - second == pd.Timedelta(days=364) and last <= air.time[-1]


def test_a_room_lived_in_for_three_mondays_is_counted_by_painting_and_week():
    time = pd.date_range("2026-01-26", "2026-03-02", freq="h", tz="UTC")
    hot = np.where((time >= "2026-02-11 10:00") & (time < "2026-02-11 15:00"), 50.0, 20.0)
    with Life(zone="UTC") as life:
        life.register(
            places=[{"id": "r", "name": "Room", "kind": "store"}], loggers=[logger("L1")],
            hangings=[{"logger": "L1", "place": "r", "position": "rack", "from": "2026-01-01"}],
            paintings=[painting("p", "Harbour")], layers=layers("p", "film:eva_film:2001-05-04"),
            stays=[{"painting": "p", "place": "r", "position": "rack", "from": "2026-01-01"}],
        )  # fmt: skip
        mondays = pd.Timestamp("2026-02-09", tz="UTC"), pd.Timestamp("2026-02-23", tz="UTC")
        rows = live(life, {"L1": Air(time, hot, np.full(len(time), 50.0))}, *mondays)
    assert [(row.monday, row.asks) for row in rows[:2]] == [("2026-02-09", False), ("2026-02-16", True)]
    assert (rows[1].level, rows[1].leads.mechanism) == ("urgent", "heat")  # softens from 45 °C: Young and Ackroyd 2001
