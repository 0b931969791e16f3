"""One event of a room is one line; its cause is named once; loggers that part; a place's extremes; what nobody reads.

A room of twelve has a pipe burst over it on Sat 14 Nov 03:00; beside it a store loses its heating in the night to the
12th and its vapour stays, and a loft is heated by a stove on the 13th. Saturation pressures: ASHRAE Handbook
Fundamentals 2017, chapter 1, table 3 (16 °C: 1.8188 kPa; 20 °C: 2.3393 kPa; 22 °C: 2.6453 kPa; 10 °C: 1.2282 kPa),
and PsychroLib, which computes from that chapter's equations. That water let in adds vapour, that heating adds none and
dries the air, and that a cold wall is damper at the same vapour: facts of the trade.
"""

from dataclasses import replace

import numpy as np
import pandas as pd
import psychrolib
import pytest
from program import run

from envwatch.archive import reviews
from envwatch.cases import review
from envwatch.cases.painting import handover
from envwatch.cases.review import causes, events
from envwatch.climate import Hourly
from envwatch.climate.air_change import Course, between, course_of, split, steepest
from envwatch.core.errors import BadInput
from envwatch.core.findings import Ending
from envwatch.present import terminal
from tests.bench.mondays_studio import Air, Life, layers, logger, painting

ZONE = "Europe/Berlin"
TODAY = pd.Timestamp.now(tz=ZONE)
NAMED = f"{TODAY:%a} {TODAY.day} {TODAY:%b} {TODAY.year}"
KPA = {10: 1.2282, 16: 1.8188, 20: 2.3393, 22: 2.6453}


def local(text):
    return pd.Timestamp(text, tz=ZONE).tz_convert("UTC")


# ------------------------------------------------------------------------------------------- what the air did


@pytest.mark.parametrize("temp_c, later_c, rh", [(16, 22, 60.0), (22, 16, 50.0), (20, 10, 45.0)])
def test_air_that_is_only_heated_or_cooled_changes_by_temperature_alone(temp_c, later_c, rh):
    later = rh * KPA[temp_c] / KPA[later_c]
    by_vapour, by_temp = split(temp_c, rh, later_c, later)
    assert by_vapour == pytest.approx(0, abs=0.02)
    assert by_temp == pytest.approx(later - rh, abs=0.02)
    change = between(local("2026-11-14"), 2, (temp_c, rh), (later_c, later))
    assert change.course is Course.STEADY


@pytest.mark.parametrize("rh, later, course", [(50.0, 90.0, Course.IN), (70.0, 40.0, Course.OUT)])
def test_at_a_steady_temperature_all_of_it_is_vapour(rh, later, course):
    change = between(local("2026-11-14"), 2, (18.0, rh), (18.0, later))
    assert (change.rh_by_vapour, change.rh_by_temp) == pytest.approx((later - rh, 0), abs=1e-9)
    assert change.course is course


def test_the_vapour_of_both_states_is_psychrolibs():
    psychrolib.SetUnitSystem(psychrolib.SI)
    change = between(local("2026-11-14"), 2, (16.0, 60.0), (22.0, 55.0))
    theirs = [psychrolib.GetVapPresFromRelHum(t, rh / 100) for t, rh in ((16.0, 0.60 * 100), (22.0, 0.55 * 100))]
    assert change.vapour_pa == pytest.approx(theirs, rel=1e-4)
    assert change.rh_by_vapour + change.rh_by_temp == pytest.approx(-5.0)
    assert change.rh_by_vapour > 0 > change.rh_by_temp  # it was heated, and vapour came in


def test_what_was_not_read_gives_no_course():
    assert course_of(float("nan"), 10.0) is None
    assert np.isnan(split(16, float("nan"), 22, 50)).all()
    assert np.isnan(split(16, 0, 22, 50)).all()  # air without any vapour has no logarithm


def hourly(rh, temp_c=18.0):
    rh = np.asarray(rh, float)
    time = pd.date_range("2026-11-14", periods=len(rh), freq="h", tz="UTC")
    temp = np.full(len(rh), float(temp_c))
    return Hourly(time, temp, rh, temp)


def test_a_leap_is_told_by_the_shortest_time_in_which_most_of_it_came():
    found = steepest(hourly([50] * 30 + [70, 90] + [91] * 20), "rh_percent", 1)
    assert (found.start, found.hours) == (hourly([0]).time[0] + pd.Timedelta(hours=30), 2)
    assert found.rh_change_percent == 40
    assert steepest(hourly([50] * 30), "rh_percent", 1) is None
    assert steepest(hourly([90, 50]), "rh_percent", 1) is None
    assert steepest(hourly([90, 50]), "rh_percent", 0).rh_change_percent == -40
    assert steepest(hourly([np.nan] * 9), "rh_percent", 1) is None


def test_a_rise_over_more_than_a_day_is_no_leap_of_all_of_it():
    assert steepest(hourly(np.linspace(40, 88, 97)), "rh_percent", 1).rh_change_percent < 13


# ---------------------------------------------------------------------------------------------- a room's event


def air(temp_c, rh_percent, *spells, seed=7):
    """Calm air with spells: (from, to, °C or None, % RH or None). seed : of the noise, which no two loggers share."""
    rng = np.random.default_rng(seed)
    time = pd.date_range(local("2026-08-01"), local("2026-11-23 09:00"), freq="h")
    day = np.sin(2 * np.pi * np.asarray(time.hour) / 24)
    temp, rh = (level + swing * day + rng.normal(0, noise, len(time))
                for level, swing, noise in ((temp_c, 0.5, 0.05), (rh_percent, 1.0, 0.2)))  # fmt: skip
    for begin, end, warm, damp in spells:
        there = (time >= local(begin)) & (time < local(end))
        temp = temp if warm is None else np.where(there, warm + rng.normal(0, 0.05, len(time)), temp)
        rh = rh if damp is None else np.where(there, damp + rng.normal(0, 0.2, len(time)), rh)
    return Air(time, temp, rh)


BURST = (("2026-11-14 03:00", "2026-11-14 04:00", None, 68), ("2026-11-14 04:00", "2026-11-24 00:00", None, 88))
LOGS = {
    "TS": air(18, 48, *BURST),
    "TT": air(20, 48, ("2026-11-12 00:00", "2026-11-24 00:00", 10, 48 * KPA[20] / KPA[10])),
    "TL": air(19, 48, ("2026-11-13 12:00", "2026-11-13 20:00", 47, 20)),
}
PLACES = (("studio", "Studio", "studio"), ("store", "Picture store", "store"), ("loft", "Loft", "loft"))
PASTE, FILM = ("film:glue_paste:1962-06-01", "lining canvas:linen"), ("film:eva_film:2001-05-04", "lining canvas:linen")
HERE = {f"S{n:02}": (("studio", PASTE) if n < 3 else ("studio", FILM)) for n in range(12)} | {
    "T1": ("store", PASTE), "T2": ("store", PASTE), "L1": ("loft", FILM), "L2": ("loft", FILM),
}  # fmt: skip


def enter(life, here, logs, hung=None, begin="2026-08-01"):
    since = {"from": begin}
    hung = hung or (("TS", "studio", "easel"), ("TT", "store", "rack"), ("TL", "loft", "rack"))
    stands = {key: (*where, "rack") if len(where) == 2 else where for key, where in here.items()}
    life.register(
        places=[{"id": id, "name": name, "kind": kind, "zone": ZONE} for id, name, kind in PLACES],
        loggers=[logger(key) for key in logs],
        hangings=[{"logger": key, "place": place, "position": at, **since} for key, place, at in hung],
        paintings=[painting(key, f"Title {key}") for key in here],
        layers=[row for key, (_, stack, _) in stands.items() for row in layers(key, *stack)],
        stays=[{"painting": key, "place": place, "position": at, **since} for key, (place, _, at) in stands.items()],
    )  # fmt: skip


MONDAY, NEXT = local("2026-11-16 09:00"), local("2026-11-23 09:00")


@pytest.fixture(scope="module")
def life():
    with Life(zone=ZONE) as made:
        enter(made, HERE, LOGS)
        made.fetch(LOGS, local("2026-08-01"), MONDAY)
        yield made


@pytest.fixture(scope="module")
def week(life):
    return review.keep(life.studio, review.make(life.studio, MONDAY))


def of(made, place, kind):
    (found,) = (event for event in made.events if (event.place_id, event.kind) == (place, kind))
    return found


def test_twelve_paintings_under_one_burst_pipe_are_one_event(week):
    burst = of(week, "studio", "damp")
    assert burst.sentence.startswith("Studio, Sat 14 Nov 03:00: +40 % RH within two hours, vapour came in; ")
    assert burst.began == local("2026-11-14 03:00") and burst.ended is None
    assert (len(burst.paintings), burst.there, burst.cause) == (12, 12, "")
    asked = {f.number for line in week.trouble if line.id in burst.paintings for f in line.asking}
    assert asked == set(burst.numbers)
    assert "soaked" not in burst.sentence
    assert burst.air.course is Course.IN
    assert all(line.headline.do for line in week.trouble)  # each beneath keeps its own


def test_cooling_and_heating_are_told_as_such_and_damp_cold_and_heat_apart(week):
    damp, cold, heat = of(week, "store", "damp"), of(week, "store", "cold"), of(week, "loft", "heat")
    assert "it cooled from 19.8 to 10.0 °C and the vapour in it stayed" in damp.sentence
    assert damp.air.course is Course.STEADY
    assert cold.sentence.startswith("Picture store, Thu 12 Nov 00:00: −9.7 °C within an hour")
    assert heat.began == local("2026-11-13 12:00") and heat.ended == local("2026-11-13 20:00")
    assert len(week.events) == 4  # a swing, and water on a cold canvas in warm air, go with what brought them


def test_the_cause_is_named_once_and_spoken_of_from_then_on_and_closes_nothing(life, week, tmp_path):
    number, asked = of(week, "studio", "damp").numbers[-1], len(reviews.tasks(life.studio))
    here = ["--studio", str(life.studio.folder)]
    told = run("cause", str(number), "pipe", "over", "the", "rack", *here)
    assert told.returncode == 0 and "closes no look" in told.stdout
    assert len(reviews.tasks(life.studio)) == asked
    again = review.make(life.studio, MONDAY)
    assert f"(cause: pipe over the rack, named {NAMED})." in of(again, "studio", "damp").sentence
    assert not of(again, "loft", "heat").cause
    life.fetch(LOGS, MONDAY, NEXT)
    later = review.keep(life.studio, review.make(life.studio, NEXT))
    assert of(later, "studio", "damp").cause == "pipe over the rack"
    assert f"cause: pipe over the rack, named {NAMED}" in run("why", str(number), *here).stdout
    assert "cause: pipe over the rack" in " ".join(run("painting", "S01", *here).stdout.split())
    assert "cause: pipe over the rack" in " ".join(text for _, text in handover.of(life.studio, "S01", NEXT).said)
    renamed = run("cause", str(number), "tap left open", *here)
    assert renamed.returncode == 0 and len(life.studio.register().causes["studio"]) == 1


@pytest.mark.parametrize("number, words, said", [
    ("99999", "a pipe", "no finding has the number 99999"), (None, " ", "say in a few words"),
])  # fmt: skip
def test_a_cause_without_an_event_or_without_words_is_refused_in_one_line(life, week, number, words, said):
    number = number or str(of(week, "loft", "heat").numbers[0])
    told = run("cause", number, words, "--studio", str(life.studio.folder))
    assert told.returncode != 0 and said in told.stderr and len(told.stderr.strip().splitlines()) == 1
    assert "loft" not in life.studio.register().causes


def test_causes_go_out_and_come_in_as_csv(life, week, tmp_path):
    life.studio.name_cause("store", "damp", "2026-11-12", "2026-11-13", "boiler off", by="A. Ember", on="2026-11-16")
    life.studio.export_register(tmp_path / "out", private=True)
    text = (tmp_path / "out" / "causes.csv").read_text(encoding="utf-8")
    assert "store,damp,2026-11-12,2026-11-13,boiler off,A. Ember,2026-11-16" in text
    then = local("2026-11-12 10:00"), local("2026-11-14 10:00")
    assert causes.cause_of(life.studio, "store", "damp", *then).words == "boiler off"
    assert causes.cause_of(life.studio, "store", "cold", *then) is None
    assert causes.cause_of(life.studio, "store", "damp", then[1], NEXT) is None  # up to a bare day is to its end
    before = life.studio.register().causes
    life.studio.import_register(tmp_path / "out")
    assert life.studio.register().causes == before
    (tmp_path / "out" / "causes.csv").write_text(
        "place,kind,from,to,cause,on\nstore,fog,2026-11-12,2026-11-13,x,2026-11-16\n"
    )
    with pytest.raises(BadInput, match=r"causes\.csv, row 2.*kind"):
        life.studio.import_register(tmp_path / "out")


def test_two_hundred_paintings_in_one_room_are_one_event_a_spell(week):
    lines = [
        replace(line, painting=replace(line.painting, id=f"{line.id}-{n}")) for n in range(20) for line in week.trouble
    ]
    found = [events.raised(line.painting, f) for line in lines for f in line.verdict.raised]
    groups = events._groups([one for one in found if one])
    assert len(groups) == 4 and sum(map(len, groups)) == len(found) > 1000


def test_on_one_screen_an_event_is_told_whole_on_as_many_lines_as_it_needs(week):
    cause = "the pipe over the rack burst once more, as in the year before"
    named = f" (cause: {cause}, named Mon 16 Nov 2026)."
    told = tuple(replace(one, cause=cause, sentence=one.sentence[:-1] + named) for one in week.events)
    shown = terminal.brief(replace(week, events=told))
    assert max(map(len, shown.splitlines())) <= 80 and shown.count("\n* ") == len(week.events)
    assert all(one.sentence in " ".join(shown.split()) for one in told)


def test_a_spot_that_heats_one_painting_is_no_event_of_the_room():
    logs = {"TS": LOGS["TL"], "TR": air(19, 48, seed=8)}
    with Life(zone=ZONE) as life:
        hung = (("TR", "loft", "rack"), ("TS", "loft", "radiator"))
        enter(life, {"R1": ("loft", FILM, "radiator"), "R2": ("loft", FILM, "rack")}, logs, hung)
        life.fetch(logs, local("2026-08-01"), MONDAY)
        made = review.make(life.studio, MONDAY)
    assert [line.id for line in made.trouble] == ["R1"] and made.events == ()


def test_one_painting_is_enough_where_the_rooms_own_air_made_a_leap_and_what_was_carried_out_is_said_so():
    with Life(zone=ZONE) as life:
        logs, hung = {"TS": LOGS["TS"], "TT": air(20, 48)}, (("TS", "studio", "rack"), ("TT", "store", "rack"))
        enter(life, {"S1": ("studio", PASTE)}, logs, hung)
        life.fetch(logs, local("2026-08-01"), NEXT)
        life.studio.move("S1", "store", "2026-11-15 18:00", position="rack")
        made = review.make(life.studio, MONDAY)
        (event,) = made.events
        assert event.paintings == ("S1",) and "all carried out of it by Sun 15 Nov 18:00" in event.sentence
        assert event.sentence.startswith("Studio, Sat 14 Nov 03:00: +40 % RH")


def test_what_the_air_at_a_painting_reached_is_the_airs_own_highest(life, week):
    """And no mean of it, nor what a canvas that lags behind has come to: against the file as it was fetched."""
    for place, log, quantity, kind in (("studio", "TS", "rh_percent", "damp"), ("loft", "TL", "temp_c", "heat")):
        one = next(r for line in week.trouble for f in line.verdict.raised
                   if (r := events.raised(line.painting, f)) and (r.stay.place_id, r.kind) == (place, kind)
                   )  # fmt: skip
        low = replace(one, finding=replace(one.finding, value=one.finding.value - 9))
        read = (LOGS[log].time >= one.start) & (LOGS[log].time < min(one.end, MONDAY, week.period.end))
        highest = getattr(LOGS[log], quantity)[read].max()
        assert events._extreme(life.studio, week.period, [low]) == pytest.approx(highest, abs=0.06)  # a file's decimals
    heat = of(week, "loft", "heat").sentence
    assert f"the air at two reached {LOGS['TL'].temp_c.max():.1f} °C" in heat


def test_a_painting_that_still_hangs_there_is_not_carried_out_though_its_logger_is(week):
    line = week.trouble[0]
    gone = replace(line.headline, ended=MONDAY, ended_by=Ending.MOVE)
    one = events.raised(line.painting, gone)
    out, other = replace(one.stay, end=MONDAY), replace(one.stay, start=MONDAY)
    for after, carried in ((replace(other, position="easel"), True), (other, False)):
        moved = replace(one, stay=out, painting=replace(one.painting, stays=(out, after)))
        assert events._moved([moved]) is carried
    assert not events._moved([one])
    assert "carried out" not in events._over([one], MONDAY, ZONE)


def test_slow_damp_is_told_from_the_day_before_it_began():
    time = LOGS["TS"].time
    slow = np.interp(time.as_unit("ns").asi8, [t.value for t in (local("2026-10-20"), local("2026-11-10"))], [48, 74])
    logs = {"TS": Air(time, LOGS["TL"].temp_c * 0 + 17.0 + np.sin(np.arange(len(time))) * 0.1, slow)}
    with Life(zone=ZONE) as life:
        enter(life, {"S1": ("studio", PASTE), "S2": ("studio", PASTE)}, logs, (("TS", "studio", "rack"),))
        life.fetch(logs, local("2026-08-01"), MONDAY)
        (event,) = review.make(life.studio, MONDAY).events
    assert ", since " in event.sentence and " days, vapour came in" in event.sentence
    assert event.air.rh_change_percent == pytest.approx(26, abs=0.7)  # from 48 to 74 % RH, 20 Oct to 10 Nov
    assert event.air.hours / 24 == pytest.approx(21, abs=2)
