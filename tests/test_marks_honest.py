"""Air that moves quickly of itself bears no mark; what happens to the logger does.

The rooms are invented: a shower wets the air within minutes and the vapour leaves by air change, which is exponential;
an air conditioner switches between two temperatures (common practice, no source).
"""

import numpy as np
import pandas as pd
import pytest

from envwatch import air
from envwatch.archive import Studio
from envwatch.climate.exposure import ROOM, Exposure
from envwatch.core.painting import Layer, Painting, Role
from envwatch.logs.quality import marks as quality
from envwatch.present import words
from envwatch.verdict import judge
from tests.test_quality import calm, marked

MINUTE_US = 60_000_000
BEGIN = pd.Timestamp("2026-01-05", tz="UTC")
END = BEGIN + pd.Timedelta(days=21)


def bathroom(days: float, step_min: int, seed: int = 3, at_h=(7.0, 19.5), off_days=()):
    """A calm room in which somebody showers: vapour and a little warmth at once, gone with 1.5 and 0.7 air changes."""
    rng = np.random.default_rng(seed)
    time_us, temp_c, rh = calm(days, step_min * MINUTE_US, seed)
    vapour = air.vapour_pressure(temp_c, rh)
    hours = time_us / 3.6e9
    for day in range(int(days)):
        for clock in at_h if day not in off_days else ():
            since = hours - day * 24 - clock - rng.uniform(0, 0.7)
            wet = np.where(since >= 0, np.minimum(since / 0.15, 1) * np.exp(-np.maximum(since, 0) * 1.5), 0)
            vapour += 1100 * wet
            temp_c = temp_c + 2.2 * np.where(since >= 0, np.exp(-np.maximum(since, 0) * 0.7), 0)
    rh = np.minimum(100 * vapour / air.saturation_pressure(temp_c), 97)
    return time_us, np.round(temp_c, 1), np.round(rh, 1)


def air_conditioned(days: float, step_min: int, seed: int = 4):
    """A saw tooth: warming in 20 minutes, cooled and dried in 10."""
    time_us, temp_c, rh = calm(days, step_min * MINUTE_US, seed)
    turn = (time_us / 60e6) % 30
    tooth = np.where(turn < 20, turn / 20, (30 - turn) / 10)
    temp_c = temp_c + 6 + 2.6 * tooth
    return time_us, np.round(temp_c, 1), np.round(rh + 13 * tooth, 1)


@pytest.mark.parametrize("step_min", [2, 5, 10, 15])
@pytest.mark.parametrize("seed", [3, 4, 5])
def test_showers_of_a_bathroom_are_air(step_min, seed):
    assert quality.count(quality.mark(*bathroom(28, step_min, seed))) == {}


@pytest.mark.parametrize("step_min", [2, 5, 10])
def test_a_single_shower_is_air_too(step_min):
    once = bathroom(3, step_min, at_h=(7.0,), off_days=(0, 2))
    assert quality.count(quality.mark(*once)) == {}


@pytest.mark.parametrize("step_min", [2, 5, 10])
def test_the_cycles_of_an_air_conditioner_are_air(step_min):
    record = air_conditioned(28, step_min)
    assert quality.count(quality.mark(*record)) == {}


def test_a_bad_contact_that_comes_back_every_day_is_marked():
    time_us, temp_c, rh = calm(28)
    bad = np.arange(500, 4000, 144)
    rh[bad] += 25
    assert set(bad) <= set(marked(quality.mark(time_us, temp_c, rh), quality.SPIKE))


def test_a_sun_patch_of_every_day_is_still_marked():
    time_us, temp_c, rh = calm(28)
    warm = np.zeros(len(temp_c))
    for day in range(28):
        warm[day * 144 + 60 : day * 144 + 78] += 8 * np.sin(np.linspace(0.2, np.pi - 0.2, 18))
    marks = quality.mark(time_us, temp_c + warm, np.round(air.rh_at(temp_c, rh, temp_c + warm), 1))
    days = {row // 144 for row in marked(marks, quality.SUN)}
    assert days == set(range(28))


def test_carried_off_twice_in_a_month_is_still_handling():
    time_us, temp_c, rh = calm(28)
    decay = np.exp(-np.arange(40) / 6)
    for at in (300, 3000):
        temp_c[at : at + 40] += 5 * decay
        rh[at : at + 40] -= 14 * decay
    found = marked(quality.mark(time_us, temp_c, rh), quality.HANDLING)
    assert {300, 3000} <= set(found)


# ------------------------------------------------------------------------------- as they count where a logger hangs


REGISTER = {"places": "id,name,kind\nroom,The room,house\nbox,The crate,crate\n", "loggers": "id,name,labels\na,A,A\n"}


@pytest.fixture
def hung(tmp_path):
    """A studio with one logger's files, hung as the rows say."""
    made = []

    def make(hangings: str, *records):
        folder = tmp_path / "register"
        folder.mkdir(exist_ok=True)
        texts = REGISTER | {"hangings": f"logger,channel,place,position,from,to\n{hangings}"}
        for name, text in texts.items():
            (folder / f"{name}.csv").write_text(text, encoding="utf-8")
        studio = Studio.create(tmp_path / "studio", name="A studio", zone="UTC")
        made.append(studio)
        studio.import_register(folder)
        for n, (time_us, temp_c, rh) in enumerate(records):
            rows = (
                f"{at:%Y-%m-%dT%H:%M:%S}Z,{t:.1f},{h:.1f}" for at, t, h in zip(at_us(time_us), temp_c, rh, strict=True)
            )
            path = tmp_path / f"{n}.csv"
            path.write_text(
                "\n".join(["Logger: A", "Time,Temperature (°C),Humidity (%)", *rows]) + "\n", encoding="utf-8"
            )
            studio.add([path])
        return studio

    yield make
    for studio in made:
        studio.close()


def at_us(time_us):
    return BEGIN + pd.to_timedelta(time_us, unit="us")


def radiator():
    """A radiator on from six to ten each evening: 25 K within an hour, the vapour as it was."""
    time_us, temp_c, rh = calm(21)
    hours = (time_us / 3.6e9) % 24
    hot = temp_c + 25 * np.clip((hours - 18) * 1.5, 0, 1) * np.exp(-np.maximum(hours - 22, 0) * 1.2)
    return time_us, hot, air.rh_at(temp_c, rh, hot)


@pytest.mark.parametrize("position, doubted", [("radiator", 0), ("fireplace", 0), ("window", 0), ("inner wall", 21)])
def test_heat_that_the_place_explains_is_no_sun_patch(hung, position, doubted):
    studio = hung(f"a,,room,{position},2026-01-01,\n", radiator())
    found = [d for d in studio.doubts(BEGIN, END) if d.mark in ("sun patch", "step", "handling")]
    assert len({d.start.date() for d in found}) == doubted
    assert studio.climate("room", BEGIN, END, position).suspect.any() == bool(doubted)


def test_a_bad_contact_at_a_radiator_is_still_marked(hung):
    time_us, temp_c, rh = calm(21)
    rh[700] += 30
    studio = hung("a,,room,radiator,2026-01-01,\n", (time_us, temp_c, rh))
    assert [d.mark for d in studio.doubts(BEGIN, END)] == ["spike"]


@pytest.mark.parametrize("position, doubted", [("outer wall", False), ("inner wall", True)])
def test_condensation_at_a_cold_wall_is_what_it_hangs_there_for(hung, position, doubted):
    time_us, temp_c, rh = calm(21)
    rh[600:700] = 100
    studio = hung(f"a,,room,{position},2026-01-01,\n", (time_us, temp_c, rh))
    assert any(d.mark == "saturated" for d in studio.doubts(BEGIN, END)) == doubted


def read_out(hours_away: int, comes_back: bool = True):
    """A week in the room, the last hours of it in a warm office; then the next week where it was."""
    time_us, temp_c, rh = calm(14)
    cut, rows = 1008, hours_away * 6
    first = time_us[:cut], temp_c[:cut].copy(), rh[:cut].copy()
    first[1][-rows:] += 6
    first[2][-rows:] -= 15
    change = (0, 0) if comes_back else (6, -15)
    return first, (time_us[cut + 1 :], temp_c[cut + 1 :] + change[0], rh[cut + 1 :] + change[1])


@pytest.mark.parametrize("hours_away", [1, 5, 30])
def test_a_logger_in_the_office_to_be_read_out_is_no_air_of_its_room(hung, hours_away):
    studio = hung("a,,room,rack,2026-01-01,\n", *read_out(hours_away))
    there = studio.climate("room", BEGIN, END)
    cut = at_us(np.array([1008 * 600_000_000]))[0]
    assert not ((there.time >= cut - pd.Timedelta(hours=hours_away)) & (there.time < cut)).any()
    assert there.temp_c.max() < 20
    assert any(f"{hours_away * 6} readings while it was carried, put up or read out" in note for note in there.notes)
    assert {d.mark for d in studio.doubts(BEGIN, END)} >= {"on its way"}


def test_a_room_that_stays_as_it_became_is_no_journey(hung):
    studio = hung("a,,room,rack,2026-01-01,\n", *read_out(5, comes_back=False))
    assert studio.climate("room", BEGIN, END).temp_c.max() > 22
    assert "on its way" not in {d.mark for d in studio.doubts(BEGIN, END)}


@pytest.mark.parametrize("position", ["radiator", "fireplace"])
def test_a_radiator_that_was_on_to_the_end_of_a_file_is_no_journey(hung, position):
    studio = hung(f"a,,room,{position},2026-01-01,\n", *read_out(5))
    assert studio.climate("room", BEGIN, END, position).temp_c.max() > 22


def carried():
    """From one room to the next at ten o'clock on the eighth day: half an hour in a cold car, then it settles."""
    time_us, temp_c, rh = calm(14)
    moved = 7 * 144 + 60
    decay = np.exp(-np.arange(len(temp_c) - moved) / 3)
    temp_c[moved:] -= 9 * decay
    rh[moved:] += 20 * decay
    return time_us, temp_c, rh


def test_what_it_read_on_the_way_to_its_place_is_not_counted(hung):
    hangings = "a,,box,crate,2026-01-01,2026-01-12 10:00\na,,room,rack,2026-01-12 10:00,\n"
    studio = hung(hangings, carried())
    there = studio.climate("room", BEGIN, END)
    assert there.temp_c.min() > 14  # the first rows were at 8 °C
    assert any("carried" in note for note in there.notes)
    assert there.time[0] > pd.Timestamp("2026-01-12T10:00Z")


def test_a_crate_that_is_carried_has_the_air_that_its_logger_reads(hung):
    studio = hung("a,,box,crate,2026-01-01,\n", carried())
    there = studio.climate("box", BEGIN, END)
    assert there.temp_c.min() < 10 and not there.suspect.any()


def test_a_reading_on_the_way_is_believed_once_a_person_says_so(hung):
    studio = hung("a,,room,rack,2026-01-01,\n", *read_out(5))
    studio.answer_marks("a", "good", "2026-01-05", "2026-01-20", because="the room was heated", mark="on its way")
    assert studio.climate("room", BEGIN, END).temp_c.max() > 22


@pytest.mark.parametrize("bound, usual, mechanism, word", [
    (">95", 70, "damp", "at least 95.0"), ("<12", 30, "dry", "at most 12.0")])  # fmt: skip
def test_a_finding_that_rests_on_bounds_says_at_least_or_at_most(hung, tmp_path, bound, usual, mechanism, word):
    studio = hung("a,,room,rack,2026-01-01,\n")
    film = Painting("1", "A", layers=(Layer(Role.FILM, "glue_paste", applied_on=BEGIN - pd.Timedelta(days=900)),))
    hours = [f"{BEGIN + pd.Timedelta(hours=h):%Y-%m-%dT%H:%M:%S}Z" for h in range(21 * 24)]
    for name, odd in (("plain", bound.strip("<>")), ("bounds", bound)):
        rows = [f"{at},20.{h % 7},{odd if h > 400 else usual + h % 5}" for h, at in enumerate(hours)]
        path = tmp_path / f"{name}.csv"
        path.write_text("\n".join(["Logger: A", "Time,Temperature (°C),Humidity (%)", *rows, ""]), encoding="utf-8")
        assert studio.add([path]).ok
        exposure = Exposure({ROOM: studio.climate("room", BEGIN, END, "rack")}, BEGIN, END)
        found = judge(exposure, film, END - pd.Timedelta(days=7)).raised
        one = next(f for f in found if f.mechanism == mechanism)
        if name == "plain":
            assert not any(f.bound for f in found) and "±" in words.measure(one)
            studio.undo()
    assert one.bound in one.sentence.partition(". ")[0]
    assert any("103 readings are bounds in its files" in note for note in exposure.room.notes)
    assert words.measure(one).startswith(f"{word} % RH;")
    assert "written as a bound, such as >95" in studio.trace("room", one.worst_at, position="rack").marks
