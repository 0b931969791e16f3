"""How often each hazard raises ordinary paintings: over a real year of a house, weather brought indoors, the sample.

Run: python -m tests.bench.false_alarms [--sample]

- A year of the study of an ordinary house, read every hour (tests/open_data, an open record). It is one house of a
  cold climate, heated and lived in.
- Two years of real hours outdoors (typical meteorological years that ship with pvlib: a cool coast and a warm, humid
  inland), brought indoors by three rules written out below. Real weather, reckoned rooms.
- Six days of a real office at a reading a quarter of an hour, where the package river is installed. Too short for any
  rule that asks for weeks; it shows what noise, heating and people do to the rules of the day.
- The sample studio, week by week (--sample). Invented, and with troubles put in on purpose.

A raised finding in a bad room is no false alarm; in the steady store each one is.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from importlib import resources, util
from pathlib import Path

import numpy as np
import pandas as pd

from envwatch import air, climate, logs, verdict
from envwatch.climate.exposure import ROOM, Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.findings import Level, Verdict
from envwatch.core.painting import Layer, Painting
from envwatch.core.place import Sensor
from envwatch.logs.quality import marks

WEEK = pd.Timedelta(days=7)
HISTORY = pd.Timedelta(days=400)
OLD = pd.Timestamp("1985-05-01", tz="UTC")  # long before each record here, the earliest of which begins in 2011
BUILD = (Layer("varnish", "natural_resin_varnish"), Layer("paint", "oil_paint"), Layer("ground", "glue_ground"),
         Layer("size", "animal_glue"), Layer("canvas", "linen"), Layer("stretcher", "softwood"))  # fmt: skip
ORDINARY = tuple(
    Painting(name, name, made="1880", glazed=False, backed=False, layers=(*BUILD, *more))
    for name, more in (
        ("unlined", ()),
        ("film-lined, settled", (Layer("film", "eva_film", applied_on=OLD), Layer("lining canvas", "linen"))),
        ("paste-lined long ago", (Layer("old lining", "glue_paste", applied_on=OLD), Layer("lining canvas", "linen"))),
        ("wax-lined long ago", (Layer("impregnation", "wax_resin", applied_on=OLD),)),
    )
)


SITES = {"cool coast": "703165TY.csv", "warm and humid": "723170TYA.CSV"}


def weather_year(file: str) -> tuple[np.ndarray, np.ndarray]:
    """A typical year outdoors, hour by hour. [°C], [Pa of vapour]"""
    from pvlib import iotools

    path = resources.files("pvlib") / "data" / file
    table, _ = iotools.read_tmy3(str(path), map_variables=True)
    temp_c, rh = table["temp_air"].to_numpy(float), table["relative_humidity"].to_numpy(float)
    return temp_c, np.asarray(air.vapour_pressure(temp_c, rh))


def smooth(values: np.ndarray, hours: int) -> np.ndarray:
    """Running mean that runs round the year's end."""
    return climate.running_mean(np.concatenate([values[-hours:], values]), hours)[hours:]


def rooms(file: str) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Temperature and humidity of three reckoned rooms over the year. All rules our judgement.

    What a room holds evens out its vapour: a week's mean outdoors in the house, a month's in the store.
    """
    out_c, out_pa = weather_year(file)
    hour = np.arange(len(out_c)) % 24
    gain = np.clip(1 - smooth(out_c, 72) / 20, 0, 1) * 3.0 * 461.5 * 293 / 1000  # 3 g/m³ in frost, none at 20 °C
    house_c = np.maximum(20 - 2 * ((hour < 6) | (hour > 22)), smooth(out_c, 48))
    store_c = smooth(out_c, 24 * 10) * 0.7 + 5
    steady_c = 17 + 2 * np.sin(2 * np.pi * (np.arange(len(out_c)) / 8760 - 0.3))
    found = {
        "heated house": (house_c, 100 * (smooth(out_pa, 168) + gain) / air.saturation_pressure(house_c)),
        "unheated store": (store_c, 100 * smooth(out_pa, 720) / air.saturation_pressure(store_c)),
    }
    free = 100 * smooth(out_pa, 72) / air.saturation_pressure(steady_c)
    found["steady store, 48 to 55 %"] = steady_c, np.clip(free, 48, 55)
    return {name: (temp_c, np.clip(rh, 5, 99.5)) for name, (temp_c, rh) in found.items()}


def as_read(temp_c: np.ndarray, rh: np.ndarray, times: int) -> Climate:
    """The year, so many times over, as a logger with ordinary noise reads it."""
    rng = np.random.default_rng(3)
    temp_c, rh = np.tile(temp_c, times), np.tile(rh, times)
    noisy = rng.normal(0, 0.05, len(rh)), rng.normal(0, 0.3, len(rh))
    index = pd.date_range("2024-01-01", periods=len(rh), freq="h", tz="UTC")
    return Climate.of(index, temp_c + noisy[0], np.clip(rh + noisy[1], 0, 100), sensor=Sensor(rh_bias_percent=2.0))


def exposure(there: Climate, start: pd.Timestamp, end: pd.Timestamp) -> Exposure:
    """The room alone, rack."""
    return Exposure({ROOM: there.between(start, end)}, start, end, (Stint(start, end, "room", "Room", "rack"),))


def raised(verdicts: list[Verdict]) -> Counter[tuple[str, str, Level]]:
    """Weeks in which a mechanism was raised, by its level."""
    return Counter(
        (f.hazard, f.mechanism, f.level) for v in verdicts for f in v.findings if f.level >= Level.WATCH
    )  # fmt: skip


def show(title: str, verdicts: list[Verdict], whole: bool = True) -> None:
    """One block: how many weeks raised what."""
    any_raised = sum(bool(v.raised) for v in verdicts)
    urgent = sum(v.level is Level.URGENT for v in verdicts)
    print(f"{title}: {any_raised} of {len(verdicts)} judged weeks raised something, {urgent} were urgent")
    for (hazard, mechanism, level), count in (
        sorted(raised(verdicts).items(), key=lambda item: -item[1]) if whole else ()
    ):
        print(f"  {hazard}, {mechanism}: {level.word} in {count} ({count / len(verdicts):.0%})")


def over_the_year() -> None:
    """Each ordinary painting in each reckoned room, for 52 weeks behind a year of history."""
    for site, name, temp_c, rh in ((s, n, *its) for s, file in SITES.items() for n, its in rooms(file).items()):
        there = as_read(temp_c, rh, 3)
        first = there.start + pd.Timedelta(days=500)
        starts = [first + n * WEEK for n in range(52)]
        print(
            f"\n=== {site}, {name}: {temp_c.min():.0f} to {temp_c.max():.0f} °C, {rh.min():.0f} to {rh.max():.0f} % RH"
        )
        every = []
        for painting in ORDINARY:
            weeks = [verdict.judge(exposure(there, s - HISTORY, s + WEEK), painting, s) for s in starts]
            show(painting.title, weeks, whole=False)
            every += weeks
        show("all four", every)


HOUSE = Path(__file__).parent.parent / "open_data" / "house_study.csv"


def real_house() -> logs.LogFile:
    """The open record of a house's study, as any logger file is read."""
    return logs.read(HOUSE, logs.Answers(zone="Etc/GMT-2"))


def real_marks() -> np.ndarray:
    """The quality marks that its readings bear."""
    (read,) = real_house().channels
    return marks.mark(read.time, read.temp_c, read.rh_percent)


def real_climate() -> Climate:
    """Its air, uncorrected, with the marks of doubt it bears. The accuracy is our assumption: none is stated."""
    (read,) = real_house().channels
    index = pd.DatetimeIndex(read.time.astype("M8[us]"), tz="UTC")
    return Climate.of(index, read.temp_c, read.rh_percent, suspect=real_marks() > 0, sensor=Sensor(rh_bias_percent=3.0))


def real_weeks(there: Climate) -> list[pd.Timestamp]:
    """The begins of its weeks from the sixth on, when the rules of a month are formed."""
    return list(pd.date_range(there.start.normalize() + 5 * WEEK, there.end - WEEK, freq=WEEK))


def over_the_real_year() -> None:
    """Each ordinary painting on a wall of the house, week by week, with what the record held before as its history."""
    read, there = real_house(), real_climate()
    said = ", ".join(f"{name} {count}" for name, count in marks.count(real_marks()).items()) or "none"
    reach = f"{there.temp_c.min():.1f} to {there.temp_c.max():.1f} °C, {there.rh_percent.min():.0f} to "
    reach += f"{there.rh_percent.max():.0f} % RH"
    print(f"=== a real year of a house's study: {read.counts.used:,} readings, {reach}; marked: {said}")
    every = []
    for painting in ORDINARY:
        weeks = [verdict.judge(exposure(there, there.start, s + WEEK), painting, s) for s in real_weeks(there)]
        show(painting.title, weeks, whole=False)
        every += weeks
    show("all four", every)


def six_days() -> None:
    """The real office, where the package that carries it is installed."""
    if util.find_spec("river") is None:
        print("\nsix real days: left out, the package river is not installed")
        return
    table = pd.read_csv(str(resources.files("river") / "drift" / "datasets" / "occupancy.csv"))
    index = pd.DatetimeIndex(pd.to_datetime(table["time"], utc=True))
    there = Climate.of(index, table["V1"].to_numpy(float), table["V2"].to_numpy(float))  # °C, % RH
    days = [verdict.judge(exposure(there, there.start, there.end), painting) for painting in ORDINARY]
    show("\nsix real days of an office, each ordinary painting once", days)


def over_the_sample() -> None:
    """Every painting of the sample studio, every week of its readings, as the review judges it."""
    from envwatch.cases.review.paintings import painting_line
    from envwatch.cli.studio import make_demo
    from envwatch.core.period import full_week_before

    with tempfile.TemporaryDirectory() as folder:
        studio = make_demo(Path(folder) / "studio", quiet=True)
        last = pd.Timestamp("2026-11-02T12:00Z")
        spans = [full_week_before(last - n * WEEK, studio.zone) for n in range(52)]
        for painting in studio.paintings().values():
            verdicts = [painting_line(studio, painting, span, span.end).verdict for span in spans]
            show(f"\n{painting.title} [{painting.id}]", [v for v in verdicts if v.coverage > 0])
        studio.close()


if __name__ == "__main__":
    over_the_real_year()
    over_the_year()
    six_days()
    if "--sample" in sys.argv[1:]:
        over_the_sample()
