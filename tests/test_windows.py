"""Each running window is judged in exactly one of consecutive weekly reviews: walked across every hour of a week."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import pytest
from numpy.lib.stride_tricks import sliding_window_view

from envwatch import climate, verdict
from envwatch.archive import Studio
from envwatch.cases import review
from envwatch.climate.exposure import ROOM, Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core import period
from envwatch.core.findings import Level
from envwatch.core.painting import Layer, Painting
from envwatch.core.period import SEVEN_DAYS, iso_week
from envwatch.hazards import canvas, lining, mould
from envwatch.hazards.hourly import HourlyExposure

HOUR = pd.Timedelta(hours=1)
FILM = Painting("q", "Moor", glazed=False, backed=False, layers=(Layer("film", "eva_film"),))
BARE = Painting("q", "Moor", glazed=False, backed=False, layers=(Layer("paint", "oil_paint"),))
MONDAY = pd.Timestamp("2026-03-02", tz="UTC")  # the week that is walked, and its neighbours on both sides
WEEKS = (-1, 0, 1)


@dataclass(frozen=True)
class Walk:
    """A spell or a ramp of one quantity that brings one window, and no other, to its limit."""

    window_h: int
    hazard: str
    mechanism: str
    limit: float
    level: Level = Level.WATCH
    temp: bool = False  # of temperature, else of humidity
    base: float = 50.0
    shape: str = "spell"
    length_h: int = 0  # of the shape; by default that of the window
    statistic: str = "mean"
    painting: Painting = FILM
    lags: bool = False
    peak: float | None = None  # of the spell, where it is not sought

    @property
    def unit(self) -> np.ndarray:
        """The course that is scaled: 0 before, 1 in the spell or at the end of the ramp."""
        length = self.length_h or self.window_h
        after = 60 * 24 + self.window_h
        if self.shape == "ramp":
            return np.concatenate([np.linspace(0, 1, length), np.ones(after)])
        return np.concatenate([np.ones(length), np.zeros(after)])

    def course(self, hours: int, begin: int) -> np.ndarray:
        """The values over a record, the spell begun in an hour of it."""
        shape = np.concatenate([np.zeros(begin), self.unit])[:hours]
        return self.base + shape * self._scale()

    def _scale(self) -> float:
        if self.peak is not None:
            return self.peak - self.base
        raw = np.concatenate([np.zeros(self.window_h + 400), self.unit])
        most = np.nanmax(self.statistics(raw))
        away = self.limit - self.base if self.statistic == "mean" else self.limit
        return away / most * (1 + 1e-9)

    def statistics(self, values: np.ndarray) -> np.ndarray:
        """What is held against the limit at each row, by plain sliding windows."""
        if self.lags:
            values = climate.canvas_humidity(values, climate.response_time_h(self.painting))
        made = np.full(len(values), np.nan)
        if self.statistic == "week of day means":
            day = sliding_window_view(values, 24).mean(-1)
            week = sliding_window_view(day, 169)
            made[23 + 168 :] = week.max(-1) - week.min(-1)
            return made
        rows = self.window_h + (self.statistic == "away")  # from one hour to the same of the next day
        seen = sliding_window_view(values, rows)
        found = {
            "mean": lambda: seen.mean(-1), "range": lambda: seen.max(-1) - seen.min(-1),
            "away": lambda: np.abs(seen[:, -1] - seen.mean(-1)),
            "least": lambda: seen.min(-1),
        }[self.statistic]()  # fmt: skip
        made[rows - 1 :] = found
        return made


WALKS = {
    "heat, hour": Walk(1, "lining", "heat", 35, temp=True, base=20, peak=35.5),
    "heat, 24 h": Walk(24, "lining", "heat", 30, temp=True, base=20, peak=30),
    "heat, 30 d": Walk(720, "lining", "heat", 28, temp=True, base=20, peak=28),
    "damp, 24 h": Walk(24, "lining", "damp", 70, lags=True),
    "dry, 24 h": Walk(24, "lining", "dry", 30, lags=True),
    "swing, 24 h": Walk(24, "lining", "swing", 20, shape="ramp", statistic="range", lags=True),
    "dry canvas, 24 h": Walk(24, "fluctuation", "dry air", 35, painting=BARE, lags=True),
    "change, 24 h": Walk(24, "fluctuation", "swing in a day or a week", 10, painting=BARE, lags=True, length_h=1,
                         statistic="away"),
    "change, 7 d": Walk(168, "fluctuation", "swing in a day or a week", 15, painting=BARE, lags=True, shape="ramp",
                        length_h=167, statistic="week of day means"),
    "damp, 7 d": Walk(168, "mould", "damp hours", 65, painting=BARE, peak=65.0),
    "clock, 7 d": Walk(168, "mould", "damp hours", 75, Level.ACT, painting=BARE, peak=76.0, statistic="least"),
    "clock, 2 d": Walk(48, "mould", "damp hours", 90, Level.URGENT, painting=BARE, peak=91.0, statistic="least"),
    "clock, 21 d": Walk(504, "mould", "damp hours", 75, Level.URGENT, painting=BARE, peak=76.0, statistic="least"),
    "mould, 30 d": Walk(720, "mould", "30-day mean", 80, Level.ACT, painting=BARE, peak=80.0),
}  # fmt: skip


EVERY_HOUR = ("heat, 24 h", "dry, 24 h", "change, 7 d", "damp, 7 d", "heat, 30 d")  # the others at every fifth


def week_of(row: int, window_h: int, begun: pd.Timestamp) -> int:
    """The week of a window by the rule, its hours counted one by one; 0 is that of `MONDAY`."""
    ends = (begun - MONDAY) // HOUR + row
    weeks = [(ends - k) // 168 for k in range(window_h)]
    if window_h > 168:
        return weeks[0]
    return max(set(weeks), key=lambda week: (weeks.count(week), week))


def record(walk: Walk, offset: int) -> tuple[pd.DatetimeIndex, np.ndarray, int]:
    """Three weeks and what comes before, and the row of the one window at the limit: it ends in an hour of week 0."""
    before = walk.window_h + 14 * 24
    begun = MONDAY - (before // 24 + 8) * 24 * HOUR
    time = pd.date_range(begun, MONDAY + 3 * SEVEN_DAYS, freq="h", inclusive="left")
    values = walk.course(len(time), time.searchsorted(MONDAY) + offset - walk.window_h)
    sign = 1 if walk.statistic != "mean" or walk.limit > walk.base else -1
    rows = np.flatnonzero(sign * walk.statistics(values) >= sign * walk.limit - 1e-12)
    assert len(rows) == 1, f"{len(rows)} windows are at the limit"
    return time, values, int(rows[0])


def week_exposure(walk, time, values, week, read_until=None, reviewed=None) -> Exposure:
    """A week's exposure with all that was read until a moment, at most the week and a half after it."""
    start, end = MONDAY + week * SEVEN_DAYS, MONDAY + (week + 1) * SEVEN_DAYS
    until = end + 1.5 * SEVEN_DAYS
    read = time < (until if read_until is None else min(until, read_until))
    temp, rh = (values, np.full(len(time), 50.0)) if walk.temp else (np.full(len(time), 20.0), values)
    air = Climate.of(time[read], temp[read], rh[read], start=time[0], end=until)
    stints = (Stint(time[0], until, "s", "Studio"),)
    return Exposure({"room": air}, time[0], end, stints, weekly=True, reviewed=reviewed), start


HAZARDS = {"lining": lining, "mould": mould, "fluctuation": canvas}


def raises(walk: Walk, exposure: Exposure, start: pd.Timestamp) -> bool:
    found = verdict.judge(exposure, walk.painting, start, hazards=[HAZARDS[walk.hazard]]).findings
    return any(f.mechanism == walk.mechanism and f.level >= walk.level for f in found)


@pytest.mark.parametrize("name", WALKS)
def test_a_spell_of_any_hour_is_raised_by_one_week_and_by_the_one_that_holds_it(name):
    """The rule itself is ours; the weeks expected are counted hour by hour, not by a formula."""
    walk = WALKS[name]
    for offset in range(0, 168, 1 if name in EVERY_HOUR else 5):
        time, values, row = record(walk, offset)
        weeks = WEEKS if offset % 12 == 0 else WEEKS[:2]  # no window that ends in week 0 can lie in week 1
        seen = [week for week in weeks if raises(walk, *week_exposure(walk, time, values, week))]
        assert seen == [week_of(row, walk.window_h, time[0])], f"ends {time[row]}"


# what, hours of the spell, its value: far over the limit, so that many windows pass it, those beside the spell too
STRONG = [("heat, 24 h", 24, 34.0), ("heat, 24 h", 20, 34.5), ("heat, 24 h", 30, 33.0), ("damp, 7 d", 168, 74.0)]


@pytest.mark.parametrize(("name", "length_h", "peak"), STRONG)
@pytest.mark.parametrize("fetched_h", [None, 9])
def test_a_spell_far_over_the_limit_is_raised_once_too(name, length_h, peak, fetched_h):
    """With all read by the week that holds most of its hours; made each Monday at nine by that week or the next."""
    walk = replace(WALKS[name], length_h=length_h, peak=peak)
    for offset in range(0, 168, 6):
        time, seen, reviewed = pd.date_range(MONDAY - 24 * 24 * HOUR, periods=60 * 24, freq="h"), [], None
        begun = int(time.searchsorted(MONDAY)) + offset - length_h
        values = walk.course(len(time), begun)
        for week in (-2, *WEEKS):
            read_until = None if fetched_h is None else MONDAY + (week + 1) * SEVEN_DAYS + fetched_h * HOUR
            exposure, start = week_exposure(walk, time, values, week, read_until, reviewed)
            seen += [week] if raises(walk, exposure, start) else []
            reviewed = None if fetched_h is None else exposure.read_until
        most = week_of(begun + length_h - 1, length_h, time[0])
        assert len(seen) == 1 and seen[0] in ({most} if fetched_h is None else {most - 1, most, most + 1}), (
            offset,
            seen,
        )


@pytest.mark.parametrize("name", ["heat, hour", "heat, 24 h", "damp, 7 d", "heat, 30 d"])
@pytest.mark.parametrize("fetched_h", [9, -9])
def test_reviews_made_on_what_was_read_by_monday_or_by_sunday_raise_it_once_each(name, fetched_h):
    """Each review on what had been read nine hours after the week's end, or before it, told to the next one."""
    walk, late = WALKS[name], pd.Timedelta(hours=fetched_h)
    for offset in range(0, 168, 5):
        time, values, row = record(walk, offset)
        seen, reviewed = [], None
        for week in (-2, *WEEKS):
            read_until = MONDAY + (week + 1) * SEVEN_DAYS + late
            exposure, start = week_exposure(walk, time, values, week, read_until, reviewed)
            seen += [week] if raises(walk, exposure, start) else []
            reviewed = exposure.read_until
        own = week_of(row, walk.window_h, time[0])
        read_by = own if time[row] + HOUR <= MONDAY + (own + 1) * SEVEN_DAYS + late else own + 1
        # one that ends in its week is judged there on three quarters of its hours, and with the next week on all
        twice = fetched_h < 0 and walk.window_h > 1
        assert seen == [read_by] or (twice and seen == [own, read_by]), f"ends {time[row]}"


@pytest.mark.parametrize("zone", ["Europe/Berlin", "Asia/Kolkata", "America/St_Johns", "UTC"])
@pytest.mark.parametrize("hours", [1, 24, 49, 167, 168, 169, 336, 504, 720, 1440])
def test_every_window_of_a_year_is_in_one_week(zone, hours):
    """Through both changes of clock, and where the week begins at half past an hour of UTC."""
    time = pd.date_range("2025-12-01", "2027-02-01", freq="h", tz="UTC")
    counted = np.zeros(len(time), int)
    air = Climate.of(time, np.full(len(time), 20.0), np.full(len(time), 50.0))
    for number in range(1, 54):
        week = iso_week(f"2026-W{number:02d}", zone)
        exposure = Exposure({"room": air}, time[0], week.end, weekly=True)
        counted[HourlyExposure.at(exposure, week.start, ROOM, air).judged_rows(hours)] += 1
    first, last = counted.argmax(), len(counted) - counted[::-1].argmax()
    assert (counted[first:last] == 1).all() and last - first == 53 * 168


def test_any_other_period_judges_the_windows_that_end_in_it():
    time = pd.date_range(MONDAY, periods=72, freq="h")
    air = Climate.of(time, np.full(72, 20.0), np.full(72, 50.0))
    hourly = HourlyExposure.at(Exposure({ROOM: air}, time[0], time[60]), time[24], ROOM, air)
    assert [hourly.judged_rows(hours) for hours in (1, 24, 168, 720)] == [slice(24, 60)] * 4


@pytest.mark.parametrize(("begins_h", "told"), [(8, False), (9, True)])
def test_days_that_had_begun_when_the_week_before_was_reviewed_leave_their_spell_to_it(begins_h, told):
    time = pd.date_range(MONDAY - SEVEN_DAYS, MONDAY + 2 * SEVEN_DAYS, freq="h", inclusive="left")
    air = Climate.of(time, np.full(len(time), 20.0), np.full(len(time), 50.0))
    reviewed = MONDAY + 9 * HOUR  # the windows of a day that end by then were looked at
    exposure = Exposure({ROOM: air}, time[0], MONDAY + SEVEN_DAYS, weekly=True, reviewed=reviewed)
    hourly = HourlyExposure.at(exposure, MONDAY, ROOM, air)
    level = np.zeros(len(time), int)
    first = time.searchsorted(MONDAY + begins_h * HOUR)
    level[first : first + 10] = 2
    rows = hourly.judged_rows(24)
    mine = hourly.told_rows(24, level, level)[rows][level[rows] > 0]
    assert rows.start >= first and len(mine) == first + 10 - rows.start and (mine == told).all()


def test_a_day_that_no_earlier_review_could_read_keeps_its_hours_its_begin_and_its_worst_hour():
    walk = WALKS["heat, hour"]
    time, values, row = record(walk, 0)
    assert time[row] == MONDAY - HOUR  # Sunday, the last hour
    read_until = MONDAY - 9 * HOUR
    (late, start) = week_exposure(walk, time, values, 0, MONDAY + SEVEN_DAYS, read_until)
    heat = next(f for f in verdict.judge(late, walk.painting, start).findings if f.mechanism == "heat")
    assert (heat.level, heat.hours, heat.since, heat.worst_at) == (Level.WATCH, 1.0, time[row], time[row])
    assert heat.coverage == pytest.approx(1.0)  # of the week alone: what was read late widens no period
    kept = replace(late, reviewed=MONDAY + 9 * HOUR)
    assert next(f for f in verdict.judge(kept, walk.painting, start).findings if f.mechanism == "heat").level == 0


def test_water_across_the_edge_of_a_week_is_counted_together():
    """Wet for 40 minutes before Sunday midnight and 40 after: over an hour in all, urgent (our judgement) once."""
    time = pd.date_range(MONDAY - 2 * SEVEN_DAYS, MONDAY + 2 * SEVEN_DAYS, freq="10min", inclusive="left")
    rh = np.where((time >= MONDAY - 4 * HOUR / 6) & (time < MONDAY + 4 * HOUR / 6), 100.0, 50.0)
    levels = []
    for week in WEEKS:
        start, end = MONDAY + week * SEVEN_DAYS, MONDAY + (week + 1) * SEVEN_DAYS
        air = Climate.of(time, np.full(len(time), 18.0), rh).between(time[0], end + SEVEN_DAYS / 2)
        found = verdict.judge(Exposure({"room": air}, time[0], end, weekly=True), BARE, start).findings
        levels.append(next(f.level for f in found if f.mechanism == "water on the painting"))
    assert levels == [Level.ACT, Level.URGENT, Level.CLEAR]


# -------------------------------------------------------------------------------------- the archive and the review

SPELLS = [MONDAY + hours * HOUR for hours in (-30, -18, -15, -13, -12, -11, -6, 12)]  # 24 h at 30 °C from then on
OF_WEEKS = ["2026-W08", "2026-W09", "2026-W10", "2026-W11"]  # `MONDAY` begins W10


@pytest.fixture
def studio(tmp_path):
    """A room for each spell, with a logger and a painting lined with a film."""
    numbers = range(len(SPELLS))
    tables = {
        "places": ["id,name,kind", *(f"r{n},Room {n},studio" for n in numbers)],
        "loggers": ["id,name,labels", *(f"l{n},Logger {n},S-{n}" for n in numbers)],
        "hangings": ["logger,channel,place,position,from,to", *(f"l{n},,r{n},rack,2026-01-01," for n in numbers)],
        "paintings": ["id,title", *(f"p{n},Painting {n}" for n in numbers)],
        "layers": ["painting,order,role,material", *(f"p{n},1,film,eva_film" for n in numbers)],
        "stays": ["painting,place,position,from,to", *(f"p{n},r{n},rack,2026-01-01," for n in numbers)],
    }
    (tmp_path / "register").mkdir()
    for name, rows in tables.items():
        (tmp_path / "register" / f"{name}.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    with Studio.create(tmp_path / "studio", name="A studio", zone="UTC") as made:
        made.import_register(tmp_path / "register")
        yield made


def fetch(studio, folder, start, end):
    """All loggers read out: hourly, 20 °C but for the spell."""
    files = []
    for n, spell in enumerate(SPELLS):
        warm = {at: 20 + 10 * (spell <= at < spell + 24 * HOUR) for at in pd.date_range(start, end, freq="h")[:-1]}
        rows = [f"{at:%Y-%m-%dT%H:%M:%S}Z,{temp:.1f},50.0" for at, temp in warm.items()]
        files.append(folder / f"{n}-{end:%m%d}.csv")
        head = [f"Logger: S-{n}", "Time,Temperature (°C),Humidity (%)"]
        files[-1].write_text("\n".join([*head, *rows]) + "\n", encoding="utf-8")
    studio.add(files)


def raised(made) -> list[str]:
    return [line.id for line in made.judged if any(f.mechanism == "heat" for f in line.verdict.raised)]


def test_reviews_of_an_archive_that_holds_all_name_each_spell_in_the_week_of_its_most_hours(studio, tmp_path):
    fetch(studio, tmp_path, MONDAY - 3 * SEVEN_DAYS, MONDAY + 3 * SEVEN_DAYS)
    made = {week: review.make(studio, MONDAY + 3 * SEVEN_DAYS, iso_week(week, "UTC")) for week in OF_WEEKS}
    assert {week: raised(seen) for week, seen in made.items()} == {
        # p0's heat was over six hours before the week's end, and what goes on ranks before what is over;
        # p4 has twelve hours in each: the later week
        "2026-W08": [], "2026-W09": ["p1", "p2", "p3", "p0"],
        "2026-W10": ["p4", "p5", "p6", "p7"], "2026-W11": [],
    }  # fmt: skip


def test_reviews_kept_each_monday_at_nine_name_each_spell_once(studio, tmp_path):
    read, seen = MONDAY - 3 * SEVEN_DAYS, {}
    for number, week in enumerate(OF_WEEKS):
        monday = MONDAY + (number - 1) * SEVEN_DAYS
        fetch(studio, tmp_path, read, monday + 9 * HOUR)
        read = monday + 9 * HOUR
        seen[week] = review.keep(studio, review.make(studio, read, iso_week(week, "UTC")))
    assert {week: raised(made) for week, made in seen.items()} == {
        # what goes on at the week's end ranks before p0, which was over by then; p3 was hot until Monday, eleven
        "2026-W08": [], "2026-W09": ["p1", "p2", "p0"],
        "2026-W10": ["p3", "p4", "p5", "p6", "p7"], "2026-W11": [],
    }  # fmt: skip
    again = review.make(studio, read, iso_week("2026-W10", "UTC"))
    assert raised(again) == raised(seen["2026-W10"])  # what W09 had read then stands in its record
    today = review.make(studio, MONDAY + 11 * HOUR, period.today(MONDAY + 11 * HOUR, "UTC"))
    assert raised(today) == ["p1", "p2", "p3"]  # the windows that end today so far, whatever week they belong to
