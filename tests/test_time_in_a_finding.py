"""How findings stand against time: six Mondays of an invented studio, each foretold before it was printed.

A pipe leaks over the store on 8 Oct and is dry by the 10th; one of its two paintings is looked at. A third hangs at a
client's radiator from the 14th and comes back on the 21st. The store's file is not fetched on the 26th. That a look in
raking light, front and back, is what tells whether damp or heat did harm, and that mould and size show late: common
practice, no source.
"""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from envwatch.archive import reviews
from envwatch.cases import review
from envwatch.cases.review import PaintingLine, over, state
from envwatch.cases.review.paintings import _change
from envwatch.climate.exposure import Exposure, Stint
from envwatch.core.findings import Ending, Finding, Level, State, Verdict
from envwatch.core.painting import NOTHING_NEW, Look, Observation, Painting, Stay, Treatment
from envwatch.core.period import iso_week
from tests.bench.mondays_studio import Air, Life, layers, logger, painting

ZONE = "Europe/Berlin"
HERON, MILLER, BRIDGE, FERRY = "A1", "B2", "C3", "D4"
FIRST, LAST = pd.Timestamp("2026-08-31", tz=ZONE), pd.Timestamp("2026-11-09", tz=ZONE)


def local(text):
    return pd.Timestamp(text, tz=ZONE).tz_convert("UTC")


def air(temp_c, rh_percent, *spells):
    """Calm air with spells: (from, to, °C or None, % RH or None)."""
    rng = np.random.default_rng(5)
    time = pd.date_range(local("2026-06-01"), local("2026-11-09 09:00"), freq="h")
    day = np.sin(2 * np.pi * np.asarray(time.hour) / 24)
    temp, rh = (level + swing * day + rng.normal(0, noise, len(time))
                for level, swing, noise in ((temp_c, 1.0, 0.1), (rh_percent, 1.5, 0.3)))  # fmt: skip
    for begin, end, warm, damp in spells:
        there = (time >= local(begin)) & (time < local(end))
        temp = temp if warm is None else np.where(there, warm, temp)
        rh = rh if damp is None else np.where(there, damp, rh)
    return Air(time, temp, rh)


LOGS = {
    "TS": air(19.5, 50),
    "TT": air(16, 52, ("2026-10-08 02:00", "2026-10-10 14:00", None, 86),
              ("2026-10-21 06:00", "2026-10-23 22:00", None, 84)),
    "TH": air(21, 46, *((f"2026-10-{day} 13:00", f"2026-10-{day} 18:00", 47, 30) for day in range(14, 21))),
}  # fmt: skip
PLACES = (("studio", "Studio", "studio"), ("store", "Picture store", "store"), ("haus", "Haus Meise", "house"))
HUNG = (("TS", "studio", "easel"), ("TT", "store", "rack"), ("TH", "haus", "radiator"))
STOOD = ((HERON, "studio", "rack"), (MILLER, "store", "rack"), (BRIDGE, "studio", "easel"), (FERRY, "store", "rack"))


def enter(life):
    begin = {"from": "2026-06-01"}
    life.register(
        places=[{"id": id, "name": name, "kind": kind, "zone": ZONE} for id, name, kind in PLACES],
        loggers=[logger(key) for key in LOGS],
        hangings=[{"logger": key, "place": place, "position": at, **begin} for key, place, at in HUNG],
        paintings=[painting(HERON, "Heron at the Weir", glazed="yes", backed="yes"),
                   painting(MILLER, "Miller's Daughter"), painting(BRIDGE, "Bridge with Barges"),
                   painting(FERRY, "Ferry in Fog")],
        layers=[*layers(HERON, "film:eva_film:2001-05-04", "lining canvas:linen"),
                *layers(MILLER, "film:glue_paste:1962-06-01", "lining canvas:linen"),
                *layers(BRIDGE, "film:eva_film:2019-03-04", "lining canvas:linen"), *layers(FERRY)],
        stays=[{"painting": key, "place": place, "position": at, **begin} for key, place, at in STOOD],
    )  # fmt: skip


@pytest.fixture(scope="module")
def six():
    """The reviews of each Monday, by its date."""
    made, fetched = {}, dict.fromkeys(LOGS, local("2026-06-01"))
    with Life(zone=ZONE) as life:
        enter(life)
        for monday in pd.date_range(FIRST, LAST, freq="7D"):
            now, day = (monday + pd.Timedelta(hours=9)).tz_convert("UTC"), f"{monday:%m-%d}"
            for key in LOGS:
                if not (key == "TT" and day == "10-26"):
                    life.fetch({key: LOGS[key]}, fetched[key], now)
                    fetched[key] = now
            if day == "10-19":
                life.look(MILLER, "2026-10-13")
                life.studio.move(HERON, "haus", "2026-10-14 10:00", position="radiator")
            if day == "10-26":
                life.studio.move(HERON, "studio", "2026-10-21 15:00", position="rack")
            if day == "11-09":
                life.look(FERRY, "2026-11-03", "fine lifting at the lower edge")
                life.look(MILLER, "2026-11-08")
            made[day] = review.keep(life.studio, review.make(life.studio, now))
        made["open"] = {task.painting_id for task in reviews.tasks(life.studio)}
    return made


def line(made, id):
    return next(each for each in made.judged if each.id == id)


def do(made, id):
    """What To do asks of a painting."""
    return [due for due in made.tasks if due.painting_id == id]


def test_calm_weeks_ask_for_nobody(six):
    assert all(six[day].is_quiet for day in ("10-05", "11-09"))


def test_a_leak_that_is_dry_by_monday_is_raised_as_over_and_nobody_is_sent_to_move_anything(six):
    for id in (MILLER, FERRY):
        found = line(six["10-12"], id)
        assert (found.level, found.state, found.headline.ended_by) == (Level.URGENT, State.OVER, Ending.AIR)
        assert local("2026-10-10 14:00") <= found.ended <= local("2026-10-11 12:00")
        assert all(f.ended is not None for f in found.verdict.raised)
        (due,) = do(six["10-12"], id)
        assert due.what.startswith("Nothing to stop. Look at it") and "today" not in due.what
        assert not any(word in due.what.lower() for word in ("move it", "dry the room"))
        assert due.on > six["10-12"].made_at


def test_only_a_look_closes_it_and_damp_wants_a_second_one(six):
    (ferry,), (miller,) = do(six["10-19"], FERRY), do(six["10-19"], MILLER)
    assert "has not been looked at" in ferry.what and ferry.state == "over, not looked at"
    assert ferry.what.startswith("Nothing to stop. Look at it") and "It ended Sun 11 Oct 00:00" in ferry.what
    assert miller.what.startswith("Second look") and "Tue 13 Oct" in miller.what
    assert miller.on - line(six["10-12"], MILLER).ended == pd.Timedelta(days=14)
    assert not [each for each in six["10-19"].trouble if each.id in (MILLER, FERRY)]


def test_heat_that_goes_on_is_new_and_names_the_place_of_the_hours_judged(six):
    heron = line(six["10-19"], HERON)
    assert (heron.level, heron.state, heron.ended) == (Level.URGENT, State.NEW, None)
    assert heron.headline.place == heron.now == "Haus Meise, radiator"


def test_what_was_carried_home_is_over_by_the_move_and_says_where_it_is_now(six):
    heron = line(six["10-26"], HERON)
    assert (heron.state, heron.headline.ended_by) == (State.OVER, Ending.MOVE)
    assert heron.ended == local("2026-10-21 15:00")
    assert (heron.headline.place, heron.now) == ("Haus Meise, radiator", "Studio, rack")
    (due,) = do(six["10-26"], HERON)
    assert "(moved)" in due.what and "heat off" not in due.what.lower()


def test_nothing_read_is_not_known_and_never_eased(six):
    for id in (MILLER, FERRY):
        assert id in {each.id for each in six["10-26"].not_seen}
        assert line(six["10-26"], id).change != "eased"
    assert not [each for each in six["10-26"].changes if "Ferry" in each or "Miller" in each]


def test_a_sign_stays_until_a_later_look_finds_nothing_new_and_looks_had_close_the_rest(six):
    (ferry,) = do(six["11-09"], FERRY)
    assert "fine lifting at the lower edge" in ferry.what and "until an own look finds nothing new" in ferry.what
    assert FERRY in six["open"]
    assert [due.state for due in do(six["11-09"], MILLER)] == ["looked"] and MILLER not in six["open"]


# ------------------------------------------------------------------------------------------------ state by state

SPAN = iso_week("2026-W46", ZONE)
DRY = Finding(
    "fluctuation", "dry air", "glue size and ground", "room", Level.WATCH, "", value=33.0, uncertainty=1.0, limit=35.0,
    since=local("2026-11-02"), worst_at=local("2026-11-12"), until=local("2026-11-15"), look_for="Cracks.",
)  # fmt: skip
DAMP = replace(DRY, hazard="mould", mechanism="damp hours", value=80.0, limit=72.0)
HEAT = replace(DRY, hazard="lining", mechanism="heat", value=41.0, limit=40.0)
KEPT = {"level": 2, "value": 33.0, "limit": 35.0}


def kept(record, week="2026-W45", finding=DRY):
    period = iso_week(week, ZONE)
    found = {} if record is None else {(str(finding.hazard), str(finding.mechanism)): record}
    return state.KeptPainting(period.start, period.end, found, period.end)


@pytest.mark.parametrize(
    ("record", "value", "level", "expected"),
    [
        (None, 33.0, Level.WATCH, State.NEW),
        (KEPT, 33.5, Level.WATCH, State.SAME),
        (KEPT, 32.1, Level.WATCH, State.SAME),  # within what the sensor can explain
        (KEPT, 31.9, Level.WATCH, State.WORSE),
        (KEPT, 34.1, Level.WATCH, State.EASED),
        (KEPT, 24.0, Level.ACT, State.NEW),  # a level it did not have
        ({**KEPT, "level": 3, "value": 24.0}, 33.0, Level.WATCH, State.EASED),
        ({**KEPT, "ended": "2026-11-06T00:00:00+00:00"}, 33.0, Level.WATCH, State.NEW),  # it came back
    ],
)
def test_the_state_is_held_against_the_review_before(record, value, level, expected):
    assert state.compared(replace(DRY, value=value, level=level), record) is expected


def test_what_creeps_is_held_against_what_led_last_and_not_against_last_week():
    weeks = [kept(KEPT, "2026-W43"), kept({**KEPT, "value": 32.4, "standing": "ordinary"}, "2026-W44"),
             kept({**KEPT, "value": 31.9, "standing": "ordinary"}, "2026-W45")]  # fmt: skip
    for value, expected, why in ((31.5, State.WORSE, ""), (32.5, State.SAME, "ordinary, told Mon 26 Oct 2026")):
        found = replace(DRY, value=value, ordinary="ordinary,")
        found = state.with_state(found, Painting("a", "A"), weeks, SPAN, None, SPAN.end)
        assert found.state is expected and bool(found.standing) == bool(why) and found.standing.startswith(why)


def test_dryness_is_told_once_a_season_and_damp_each_time_it_comes_back():
    calm = [kept(None, week) for week in ("2026-W44", "2026-W45")]
    for finding, expected in ((DRY, State.SAME), (DAMP, State.NEW), (HEAT, State.NEW)):
        weeks = [kept({**KEPT, "value": finding.value, "limit": finding.limit}, "2026-W43", finding), *calm]
        found = state.with_state(finding, Painting("a", "A"), weeks, SPAN, None, SPAN.end)
        assert found.state is expected and bool(found.standing) == (expected is State.SAME)
    old = [kept(KEPT, "2026-W20"), *calm]
    assert state.with_state(DRY, Painting("a", "A"), old, SPAN, None, SPAN.end).state is State.NEW
    weeks = [kept(KEPT, "2026-W45")]
    assert not state.with_state(DRY, Painting("a", "A"), weeks, SPAN, None, SPAN.end, settled=False).standing


@pytest.mark.parametrize(
    ("change", "told_anew"),
    [
        ({"treatments": (Treatment("t", "keying out", local("2026-11-10")),)}, True),
        ({"treatments": (Treatment("t", "call", local("2026-11-10")),)}, False),  # nothing done to it
        ({"stays": (Stay("a", local("2026-11-10")),)}, True),
        ({"observations": (Observation(local("2026-11-10"), "a new crack"),)}, True),
        ({"observations": (Observation(local("2026-11-10"), NOTHING_NEW),)}, False),
        ({"observations": (Observation(local("2026-10-10"), "a new crack"),)}, False),  # before it was told
    ],
)
def test_what_was_told_is_told_anew_after_work_a_move_or_a_sign(change, told_anew):
    found = state.with_state(DRY, Painting("a", "A", **change), [kept(KEPT, "2026-W44")], SPAN, None, SPAN.end)
    assert found.state is (State.NEW if told_anew else State.SAME) and bool(found.standing) is not told_anew


def looked(on, sign=NOTHING_NEW, look=Look.OWN):
    return Painting("a", "A", observations=(Observation(local(on), sign, look=look, by="me"),))


@pytest.mark.parametrize(
    ("finding", "seen", "answered"),
    [
        (DRY, looked("2026-11-13"), True),
        (DRY, looked("2026-11-13", look=Look.TELEPHONE), False),
        (DRY, looked("2026-11-13", look=Look.PHOTO), False),
        (DRY, looked("2026-11-13", "a new crack"), False),
        (DRY, looked("2026-10-15"), False),  # before it began
        (replace(DRY, since=local("2026-10-01")), looked("2026-10-20"), True),  # 27 days
        (replace(DRY, since=local("2026-10-01")), looked("2026-10-15"), False),  # 32
        (DAMP, looked("2026-11-13"), True),
        (replace(DAMP, since=local("2026-10-01")), looked("2026-11-08"), False),  # worst after it, and 8 days
        (HEAT, looked("2026-11-13"), False),  # a hot hour since
        (HEAT, looked("2026-11-15 12:00"), True),
        (DRY, Painting("a", "A"), False),
    ],
)
def test_a_look_answers_for_so_long(finding, seen, answered):
    weeks = [kept({**KEPT, "value": finding.value, "limit": finding.limit}, "2026-W42", finding)]
    assert bool(state.answer(finding, seen, weeks, SPAN, SPAN.end)) is answered


def test_a_look_by_whoever_had_not_been_told_answers_nothing_that_goes_on_and_asks_to_act():
    damp, seen = replace(DAMP, level=Level.ACT), looked("2026-11-13")
    assert not state.answer(damp, seen, [], SPAN, SPAN.end)
    assert state.answer(
        damp, seen, [kept({**KEPT, "level": 3, "value": 80.0, "limit": 72.0}, finding=DAMP)], SPAN, SPAN.end
    )
    assert state.answer(replace(damp, ended=local("2026-11-12 12:00")), seen, [], SPAN, SPAN.end)


def test_what_goes_on_is_answered_only_by_who_was_told_of_this_spell_and_its_lesser_ones_with_it():
    damp, seen = replace(DAMP, level=Level.ACT), looked("2026-11-13")
    before = [kept({**KEPT, "level": 3, "value": 80.0, "limit": 72.0}, "2026-W40", DAMP)]
    assert not state.answer(damp, seen, before, SPAN, SPAN.end)
    lesser = replace(DAMP, hazard="fluctuation", mechanism="damp air")
    for standing, why in (("looked", "looked"), ("", "")):
        got = state.with_answers((replace(damp, standing=standing), lesser, DRY))
        assert [f.standing for f in got] == [standing, why, ""]


@pytest.mark.parametrize(("on", "counts"), [("2026-11-12", True), ("2026-11-11", False), ("2026-11-12 09:00", False)])
def test_a_look_of_which_the_day_alone_is_known_is_of_that_days_end(on, counts):
    assert bool(state.looks_since(looked(on), local("2026-11-12 11:00"), ZONE)) is counts


def test_a_sign_seen_since_it_ended_is_said_first_and_the_task_is_no_longer_one_nobody_looked_at():
    ended = replace(HEAT, level=Level.URGENT, ended=local("2026-11-12"))
    for seen, word in ((looked("2026-11-13", "a ripple"), over.SEEN), (looked("2026-11-10", "a ripple"), over.OVER)):
        found = state.with_state(ended, seen, [], SPAN, None, SPAN.end)
        assert over.state_of(ended, seen, ZONE) == word
        assert found.do.startswith("Seen Fri 13 Nov 2026: a ripple." if word == over.SEEN else "Nothing to stop")


def test_a_logger_that_comes_to_a_painting_is_no_move_of_it():
    begin, then, end = local("2026-11-01"), local("2026-11-12"), local("2026-11-16")
    stints = [Stint(begin, then, "h", "Haus", "radiator"), Stint(then, end, "h", "Haus", "radiator", own_logger=True)]
    found = replace(DRY, until=then, ended=then)
    for at, by in (("radiator", Ending.AIR), ("inner wall", Ending.MOVE)):
        way = Exposure({}, begin, end, (stints[0], replace(stints[1], position=at)))
        assert state.stood(found, [way], Painting("a", "A")).ended_by is by


def test_worse_breaks_what_a_look_answered():
    seen, weeks = looked("2026-11-09"), [kept(KEPT)]
    assert state.answer(replace(DRY, value=32.5), seen, weeks, SPAN, SPAN.end)
    assert not state.answer(replace(DRY, value=30.0), seen, weeks, SPAN, SPAN.end)
    assert not state.answer(replace(DRY, level=Level.ACT), seen, weeks, SPAN, SPAN.end)
    assert not state.answer(DRY, seen, [], SPAN, SPAN.end)  # nobody had told of it when it was looked at


@pytest.mark.parametrize(
    ("moved", "bare", "ended"),
    [
        ("2026-11-16 09:10", False, "2026-11-16 09:10"),  # on Monday, before the review: the minute it is entered
        ("2026-11-15 00:30", False, "2026-11-15 00:30"),
        ("2026-11-14", True, "2026-11-15"),  # a day alone is both places', and the readings say until when
        ("2026-11-12", True, None),  # where it was all that time, still over
    ],
)
def test_a_move_after_the_last_hour_over_ends_it(moved, bare, ended):
    stay = Stay("studio", local(moved), start_is_date=bare)
    found = state.moved_since(DRY, stay)
    assert found.ended == (None if ended is None else local(ended))
    assert found.ended_by == (None if ended is None else Ending.MOVE)


@pytest.mark.parametrize(
    ("held", "level", "change"),
    [(Level.ACT, Level.UNKNOWN, ""), (Level.ACT, Level.CLEAR, "eased"), (Level.ACT, Level.WATCH, "eased")],
)
def test_against_the_review_before_not_read_is_no_word(held, level, change):
    judged = Verdict((replace(DRY, level=level),), SPAN.start, SPAN.end, "a")
    found = PaintingLine(Painting("a", "A"), judged, "Store", None)
    assert _change(found, {"levels": {"a": int(held)}}) == change
