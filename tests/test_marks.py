"""A person's dated answer to marked readings, and loggers that drift apart.

The rule of the marks is ours; that two loggers in one room share its vapour is common practice, no source.
"""

import numpy as np
import pandas as pd
import pytest

from envwatch import air
from envwatch.archive import Studio
from envwatch.archive.intake.summary import mark_notes
from envwatch.core.errors import BadInput, NotThere
from envwatch.logs.quality import marks as quality
from envwatch.logs.quality.sensors import apart, moved
from tests.test_archive import MONDAY

DAYS = 100
END = MONDAY + pd.Timedelta(days=DAYS)


def write(path, temp_c, rh_percent, label, freq="h"):
    """A logger file; humidity may be left out."""
    lines = [f"Logger: {label}", "Time,Temperature (°C)" + ("" if rh_percent is None else ",Relative humidity (%)")]
    for n, at in enumerate(pd.date_range(MONDAY, periods=len(temp_c), freq=freq)):
        humidity = "" if rh_percent is None else f",{rh_percent[n]:.2f}"
        lines.append(f"{at:%Y-%m-%dT%H:%M:%S}Z,{temp_c[n]:.2f}{humidity}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def room(hours):
    rng = np.random.default_rng(3)
    hour = np.arange(hours)
    temp_c = 18 + np.sin(hour / 24 * 2 * np.pi) + 2 * np.sin(hour / 900) + rng.normal(0, 0.05, hours)
    return temp_c, 52 + 6 * np.sin(hour / 500) + rng.normal(0, 0.2, hours)


@pytest.fixture
def studio(tmp_path):
    """One room: a logger that stood still for a week in its third month."""
    temp_c, rh = room(24 * DAYS)
    temp_c[1500:1668], rh[1500:1668] = 18.0, 55.0
    register = tmp_path / "register"
    register.mkdir()
    (register / "places.csv").write_text("id,name,kind\nroom,The room,store\n", encoding="utf-8")
    with Studio.create(tmp_path / "studio", name="A studio", zone="UTC") as made:
        made.add([write(tmp_path / "a.csv", temp_c, rh, "A")])
        made.import_register(register)
        made.set_hanging("a", "room", "2026-01-01")
        yield made


def week(studio):
    start = MONDAY + pd.Timedelta(hours=1500)
    return studio.climate("room", start, start + pd.Timedelta(hours=168))


def span_of(doubt):
    return doubt.start.strftime("%Y-%m-%d %H:%M"), doubt.end.strftime("%Y-%m-%d %H:%M:%S")


def stuck(studio):
    (doubt,) = [d for d in studio.doubts(MONDAY, END) if d.mark == "stuck"]
    return doubt


def test_marked_readings_stay_in_until_a_person_takes_them_out(studio):
    before = week(studio)
    assert before.coverage == 1.0 and before.suspect.all()
    doubt = stuck(studio)
    assert (doubt.readings, doubt.answer) == (168, None)
    said = studio.answer_marks("a", "out", "2026-01-01", None, because="battery flat", by="A. Ember")
    after = week(studio)
    assert after.coverage == 0.0  # missing, and so unknown: never clear
    assert stuck(studio).answer == said and said.on == pd.Timestamp.now("UTC").strftime("%Y-%m-%d")
    told = "168 readings taken out by A. Ember on"
    assert any(told in note and "battery flat" in note for note in studio.climate("room", MONDAY, END).notes)
    assert any("taken out by A. Ember" in note for note in mark_notes(studio, MONDAY, END))
    assert studio.climate("room", MONDAY, END).coverage == pytest.approx(1 - 168 / (24 * DAYS), abs=1e-3)
    studio.withdraw_answer(said.number)
    assert week(studio).suspect.all() and week(studio).coverage == 1.0
    assert studio.check(rebuild=True).problems == ()


def test_the_later_answer_counts_and_lifts_the_doubt(studio):
    studio.answer_marks("a", "out", "2026-01-01", None, because="battery flat", by="A. Ember")
    studio.answer_marks("a", "good", "2026-01-01", None, mark="stuck", because="salt check fine", by="A. Ember")
    assert week(studio).coverage == 1.0 and not week(studio).suspect.any()
    assert stuck(studio).answer.answer == "good"


def test_an_answer_touches_marked_readings_alone_and_within_its_time(studio):
    start, _ = span_of(stuck(studio))
    studio.answer_marks("a", "out", start, (MONDAY + pd.Timedelta(hours=1550)), because="seen", by="A. Ember")
    air_there = studio.climate("room", MONDAY, END)
    out = 24 * DAYS - len(air_there.time)
    assert out == 50  # from the 1500th hour to the 1549th
    assert [d.readings for d in studio.doubts(MONDAY, END) if d.mark == "stuck"] == [50, 118]


@pytest.mark.parametrize(("change", "told"), [
    ({"because": " "}, "say why"), ({"mark": "sticky"}, "'sticky' is not known; did you mean 'stuck'"),
    ({"answer": "maybe"}, "'maybe' is not known"), ({"mark": "spike"}, "no reading in that time bears the mark spike"),
    ({"start": "03/04/2026"}, "either order|write"),
])  # fmt: skip
def test_an_answer_that_makes_no_sense_is_one_line_and_keeps_nothing(studio, change, told):
    asked = {"answer": "out", "start": "2026-01-01", "end": None, "because": "seen", "mark": ""} | change
    with pytest.raises(BadInput, match=told) as error:
        studio.answer_marks("a", asked["answer"], asked["start"], asked["end"], because=asked["because"],
                            mark=asked["mark"])  # fmt: skip
    assert "\n" not in str(error.value)
    assert studio.register().mark_answers == {}
    with pytest.raises(NotThere):
        studio.withdraw_answer(1)


def test_answers_go_out_and_in_as_csv_exactly(studio, tmp_path):
    studio.answer_marks("a", "out", "2026-01-01", "2026-04-01", because='=flat, "he said"', by="A. Ember")
    studio.export_register(tmp_path / "one")
    text = (tmp_path / "one" / "mark_answers.csv").read_text(encoding="utf-8")
    assert "'=flat" in text  # no live formula
    before = studio.register().mark_answers["a"]
    studio.import_register(tmp_path / "one")
    (made,) = studio.register().mark_answers["a"]
    assert made == before[0].__class__(made.number, *list(vars(before[0]).values())[1:])
    studio.export_register(tmp_path / "two")
    assert (tmp_path / "two" / "mark_answers.csv").read_text(encoding="utf-8") == text


def test_a_logger_with_an_answer_survives_the_undo_of_its_file(studio):
    studio.answer_marks("a", "out", "2026-01-01", None, because="battery flat", by="A. Ember")
    studio.undo()
    assert "a" in studio.register().mark_answers
    assert studio.check().problems == ()


# ----------------------------------------------------------------------------------------------------- drift


def two_loggers(tmp_path, bias_percent, warmer_c=0.0):
    """Two loggers in one room; the second reads too damp by a bias that grows from the 50th day on."""
    temp_c, rh = room(24 * DAYS)
    vapour = air.vapour_pressure(temp_c, rh)
    their_c = temp_c + warmer_c * np.clip(np.arange(24 * DAYS) / (24 * 50) - 1, 0, 1)
    theirs = 100 * vapour / air.saturation_pressure(their_c)
    theirs = theirs + bias_percent * np.clip(np.arange(24 * DAYS) / (24 * 10) - 5, 0, 1)
    register = tmp_path / "register"
    register.mkdir()
    (register / "places.csv").write_text("id,name,kind\nroom,The room,store\n", encoding="utf-8")
    studio = Studio.create(tmp_path / "studio", name="A studio", zone="UTC")
    studio.add([write(tmp_path / "a.csv", temp_c, rh, "A"), write(tmp_path / "b.csv", their_c, theirs, "B")])
    studio.import_register(register)
    studio.set_hanging("a", "room", "2026-01-01", position="rack")
    studio.set_hanging("b", "room", "2026-01-01", position="outer wall")
    return studio


def drifting(studio):
    return {d.logger: d for d in studio.doubts(MONDAY, END) if d.mark == "drift"}


def test_two_loggers_that_drift_apart_are_both_doubted_until_one_is_checked(tmp_path):
    with two_loggers(tmp_path, bias_percent=5.0) as studio:
        found = drifting(studio)
        assert found.keys() == {"a", "b"}
        since = (found["a"].start - MONDAY) / pd.Timedelta(days=1)
        assert 60 < since < 85  # full at 60 days; the trailing month's middle passes 3 % some two weeks later
        late = studio.climate("room", END - pd.Timedelta(days=7), END)
        assert late.suspect.all() and np.isfinite(late.rh_percent).all()
        assert any("drift" in note for note in mark_notes(studio, MONDAY, END))
        studio.answer_marks(
            "a", "good", "2026-01-01", None, mark="drift", because="checked against salt", by="A. Ember"
        )
        assert not studio.climate("room", END - pd.Timedelta(days=7), END).suspect.any()
        assert drifting(studio)["b"].answer is None


def test_a_check_says_which_of_the_two_is_right(tmp_path):
    with two_loggers(tmp_path, bias_percent=5.0) as studio:
        since = drifting(studio)["a"].start
        studio.calibrate("a", since + pd.Timedelta(days=2), rh_points=((75.3, 75.3),))
        found = drifting(studio)
        assert found["a"].end < since + pd.Timedelta(days=2)
        assert found["b"].end > END - pd.Timedelta(days=2)


@pytest.mark.parametrize(("bias_percent", "warmer_c"), [(0.0, 0.0), (1.5, 0.0), (0.0, 4.0)])
def test_a_warm_spot_or_a_small_bias_is_no_drift(tmp_path, bias_percent, warmer_c):
    with two_loggers(tmp_path, bias_percent, warmer_c) as studio:
        assert drifting(studio) == {}


def test_what_moved_is_reckoned_against_the_first_month():
    days = pd.date_range(MONDAY, periods=90, freq="D")
    series = pd.Series(np.where(np.arange(90) < 40, 1.0, 3.5), days)
    found = moved(series)
    assert found.iloc[0] == 0.0 and found.iloc[-1] == 2.5
    assert moved(series.iloc[:59]).empty
    hours = pd.date_range(MONDAY, periods=48, freq="h")
    one = pd.DataFrame({"temp_c": 20.0, "rh_percent": 50.0}, hours)
    # 50 % at 20 °C and 60 % at 17.0 °C: 1170 and 1163 Pa, nearly one (ASHRAE 2017, table of moist air)
    other = pd.DataFrame({"temp_c": 17.0, "rh_percent": 60.0}, hours)
    assert apart(one, other).to_numpy() == pytest.approx(0.3, abs=0.2)


def test_a_fine_logger_with_temperature_alone_that_stands_still_is_stuck():
    temp_c, _ = room(24 * 20)
    temp_c[100:160] = 18.0
    time_us = np.arange(len(temp_c)) * quality.HOUR_US
    nothing = np.full(len(temp_c), np.nan)
    marks = quality.mark(time_us, temp_c.round(2), nothing)
    assert set(np.flatnonzero(marks & quality.STUCK)) == set(range(100, 160))
    temp_c[100:160], temp_c[100:140] = room(24 * 20)[0][100:160], 18.0  # 40 hours are not enough
    assert not (quality.mark(time_us, temp_c.round(2), nothing) & quality.STUCK).any()
