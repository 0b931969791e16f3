"""A sceptic takes one finding of each hazard in the sample week and does its figure again from what `why` prints.

Nothing here calls the hazards' own arithmetic: the numbers come out of the printed lines, the equations are written out
once more, and for one figure of each kind the readings are taken from the logger's own file.
"""

import math
import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from envwatch.archive import Studio
from envwatch.cases import review
from envwatch.cases.painting import why
from envwatch.climate.exposure import ROOM, Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.findings import Level
from envwatch.core.painting import Layer, Painting
from envwatch.core.period import iso_week
from envwatch.core.place import Sensor
from envwatch.figures import SOURCES
from envwatch.hazards import canvas, condensation, mould
from envwatch.hazards.grading import hour_of_readings, read_by
from envwatch.hazards.mould.surfaces import MOST

NOW = pd.Timestamp("2026-11-02T12:00Z")


@pytest.fixture(scope="module")
def chains(demo_folder, tmp_path_factory):
    """Chains behind all findings of the sample week, by painting, hazard and mechanism."""
    import shutil

    folder = shutil.copytree(demo_folder, tmp_path_factory.mktemp("why") / "studio")
    with Studio.open(folder) as studio:
        made = review.keep(studio, review.make(studio, NOW, iso_week("2026-W44", studio.zone)))
        lines = (*made.trouble, *made.quiet, *made.not_seen, *made.waiting, *made.put_off)
        numbers = [f.number for line in lines for f in line.verdict.raised if f.number is not None]
        found = {}
        for number in numbers:
            chain = why.chain(studio, number, NOW)
            key = chain.painting.id, chain.finding.hazard, chain.finding.mechanism
            found[key] = chain
        yield found


def numbers(text: str) -> list[float]:
    return [float(x) for x in re.findall(r"(?<![\w-])[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?", text.replace("−", "-"))]


def line(finding, begins: str) -> str:
    return next(told for what, told in finding.working if what.startswith(begins))


def in_hour(finding) -> list[float]:
    """The readings of the worst hour, as they are listed."""
    return [float(x) for x in line(finding, "readings of the hour").split("°C")[0].split(",")]


def listed(text: str, after: str) -> list[float]:
    """The numbers of a list such as "y: 60.1, 60.2, 60.3; sum ..."."""
    return [float(x) for x in text.split(after)[-1].split(";")[0].replace("°C", "").replace("% RH", "").split(",")]


def test_every_raised_finding_has_what_a_sceptic_asks_for(chains):
    assert {hazard for _, hazard, _ in chains} >= {"lining", "mould", "fluctuation"}
    for chain in chains.values():
        finding = chain.finding
        told = " ".join(f"{what}: {said}" for what, said in finding.working)
        assert any(what == "what would change the level" for what, _ in finding.working), finding.mechanism
        assert "our judgement" in told or "published" in told or "from memory" in told, finding.mechanism
        assert any("=" in said for _, said in finding.working) or "mean" in told, finding.mechanism
        assert chain.reference in SOURCES.values()
        assert chain.trace is not None and chain.trace.line > 0
        assert finding.clears


def test_lining_heat_is_the_mean_of_the_readings_of_its_hour(chains, demo_folder):
    chain = chains["26-02", "lining", "heat"]
    readings = in_hour(chain.finding)
    assert np.mean(readings) == pytest.approx(chain.finding.value, abs=0.01)
    # and the first of them stands in the logger's own file, at the line named
    (original,) = demo_folder.glob(f"originals/**/{chain.trace.sha256}*[!n]")
    written = original.read_bytes().splitlines()[chain.trace.line - 1].decode("latin-1").replace(",", ".")
    assert f"{readings[0]:g}" in written
    onset, top, distance = numbers(line(chain.finding, "distance to softening").split("°C")[0])
    assert onset - top == pytest.approx(distance)
    assert chain.finding.value >= 45  # urgent from 45 °C


@pytest.mark.parametrize("painting, mechanism", [("25-09", "damp"), ("26-02", "dry")])
def test_lining_damp_and_dry_are_means_of_24_lagged_hours(chains, painting, mechanism):
    finding = chains[painting, "lining", mechanism].finding
    hours = listed(line(finding, "mean of"), "humidity y: ")
    assert len(hours) == 24
    assert np.mean(hours) == pytest.approx(finding.value, abs=0.05)
    before, tau, air, again, after = _lag(line(finding, "lag, the last step"))
    assert before + (1 - math.exp(-1 / tau)) * (air - again) == pytest.approx(after, abs=0.01)
    assert hours[-1] == pytest.approx(after, abs=0.06)


def _lag(text: str) -> tuple[float, ...]:
    found = re.fullmatch(r"([\d.]+) \+ \(1 - exp\(-1 / ([\d.]+)\)\) \(([\d.]+) - ([\d.]+)\) = ([\d.]+) % RH", text)
    assert found, text
    return tuple(float(x) for x in found.groups())


def test_lining_swing_is_its_highest_less_its_lowest_hour(chains):
    finding = chains["26-02", "lining", "swing"].finding
    high, low, swing = (float(x) for x in re.findall(r"(\d+\.\d\d)", line(finding, "highest less lowest")))
    assert high - low == pytest.approx(swing, abs=0.011)
    assert swing == pytest.approx(finding.value, abs=0.01)


def test_mould_damp_hours_by_its_week_and_its_readings(chains):
    chain = chains["24-05", "mould", "damp hours"]
    days = listed(line(chain.finding, "mean of 7 days"), "means ")
    assert len(days) == 7
    assert np.mean(days) == pytest.approx(chain.finding.value, abs=0.06)  # all hours were read
    assert chain.trace.rh_percent == pytest.approx(days[-1], abs=3)


def test_fluctuation_beyond_is_a_difference_that_can_be_done_again(chains):
    finding = chains["25-09", "fluctuation", "swing beyond what it has known"].finding
    now, then, departure = numbers(line(finding, "departure").split("%")[0])
    assert now - then == pytest.approx(departure, abs=0.06)
    assert abs(departure) == pytest.approx(finding.value, abs=0.06)


def test_fluctuation_dry_is_one_step_of_the_lag(chains):
    finding = chains["26-02", "fluctuation", "dry air"].finding
    before, tau, air, _, after = _lag(line(finding, "lag, the last step"))
    assert before + (1 - math.exp(-1 / tau)) * (air - before) == pytest.approx(after, abs=0.01)
    assert after == pytest.approx(finding.value, abs=0.01)
    # the strain of the size by its bands, written out: 3.5e-4 to 40 %, 4e-4 to 30 %, 5e-4 under it; yield 0.004
    used_to = numbers(line(finding, "size alone would yield"))[0]
    swelled = (max(used_to - 40, 0) * 3.5 + (min(used_to, 40) - 30) * 4 + (30 - after) * 5) * 1e-4
    warmer_k = float(re.search(r"\(([+-][\d.]+) K\)", line(finding, "strain"))[1])
    share = (swelled - 30e-6 * warmer_k) / 0.004
    assert f"size pulled to {share:.1f} " in line(finding, "strain")


def test_fluctuation_cold_is_the_mean_of_the_readings_of_its_hour(chains):
    finding = chains["26-11", "fluctuation", "cold"].finding
    assert np.mean(in_hour(finding)) == pytest.approx(finding.value, abs=0.06)


def test_fluctuation_within_a_week_is_one_24_hour_mean_less_another(chains):
    finding = chains["26-11", "fluctuation", "swing in a day or a week"].finding
    told = [told for what, told in finding.working if what == "highest less lowest"][-1]
    high, low, moved = (float(x) for x in re.findall(r"(\d+\.\d\d)", told))
    assert high - low == pytest.approx(moved, abs=0.011)
    assert moved == pytest.approx(finding.value, abs=0.01)
    assert np.mean(listed(line(finding, "mean of 24 hours"), "humidity y: ")) == pytest.approx(high, abs=0.06)


# ------------------------------------------- hazards that the sample week does not raise, on air of their own


END = pd.Timestamp("2026-11-02", tz="UTC")
WEEK = END - pd.Timedelta(days=7)


def exposure(rh, temp_c=20.0, days=40) -> Exposure:
    start = END - pd.Timedelta(days=days)
    time = pd.date_range(start, END, freq="h", inclusive="left")
    there = Climate.of(time, np.broadcast_to(temp_c, len(time)), np.broadcast_to(rh, len(time)))
    return Exposure({ROOM: there}, start, END, (Stint(start, END, "store", "Store"),))


PLAIN = Painting("p", "Moor", glazed=False, backed=False, layers=(Layer("size", "animal_glue"),))


def test_the_growth_index_hour_by_hand():
    finding = next(f for f in mould.assess(exposure(90.0), PLAIN, WEEK) if f.mechanism == "growth index")
    assert finding.level >= Level.ACT and f"{MOST}:" in line(finding, "class")
    weeks = math.exp(-0.68 * math.log(20) - 13.9 * math.log(90) + 66.02)
    critical = -0.00267 * 20**3 + 0.160 * 20**2 - 3.13 * 20 + 100
    x = (90 - critical) / (100 - critical)
    top = 1 + 7 * x - 2 * x * x
    before = float(re.search(r"2\.3 \(([\d.]+) -", line(finding, "growth"))[1])
    rate = (2 if before >= 1 else 1) * (1 - math.exp(2.3 * (before - top))) / (168 * weeks)
    assert float(line(finding, "growth").split("= ")[-1].split()[0]) == pytest.approx(rate, rel=2e-3)
    assert numbers(line(finding, "weeks"))[-1] == pytest.approx(weeks, abs=6e-4)
    assert numbers(line(finding, "highest index"))[-1] == pytest.approx(top, abs=6e-4)


def test_the_30_day_mean_by_hand():
    finding = next(f for f in mould.assess(exposure(84.0), PLAIN, WEEK) if f.mechanism == "30-day mean")
    days = listed(line(finding, "mean of 30 days"), "means ")
    assert len(days) == 30 and np.mean(days) == pytest.approx(finding.value, abs=0.05)
    assert "ashrae-160-2009" in line(finding, "constants")


def test_condensation_by_hand():
    # cold painting in a warm room: the painting was at 4 °C for days, then 20 °C and 60 %
    start = END - pd.Timedelta(days=7)
    time = pd.date_range(start, END, freq="10min", inclusive="left")
    warm = time >= END - pd.Timedelta(days=1)
    there = Climate.of(time, np.where(warm, 20.0, 4.0), np.where(warm, 60.0, 70.0))
    where = Exposure({ROOM: there}, start, END, (Stint(start, END, "studio", "Studio"),))
    found = condensation.assess(where, replace(PLAIN, backed=True), start)[0]
    share, saturated, at_c, vapour, dew = numbers(line(found, "dew point").split("(ashrae")[0])
    assert share / 100 * saturated == pytest.approx(vapour, abs=0.1)
    # Magnus over water, another formula than ours: 17.62, 243.12
    gamma = math.log(share / 100) + 17.62 * at_c / (243.12 + at_c)
    assert dew == pytest.approx(243.12 * gamma / (17.62 - gamma), abs=0.03)
    surface, least = (float(x) for x in re.search(r"([\d.]+) - [\d.]+ = (-?[\d.]+) K", line(found, "surface")).groups())
    assert surface - dew == pytest.approx(least, abs=0.011)
    # wet until 20 - 16 exp(-t / 1.5) = dew point: t = 1.5 ln(16 / (20 - dew))
    assert found.hours == pytest.approx(1.5 * math.log(16 / (20 - dew)), abs=0.01)


def test_damp_canvas_by_hand():
    found = next(f for f in canvas.assess(exposure(82.0), PLAIN, WEEK) if f.mechanism == "damp air")
    assert found.value == pytest.approx(82.0, abs=1e-6)
    told = line(found, "what would change")
    assert "8.0 % RH more would be urgent" in told
    shrunk = 0.01 * ((82 - 80) / 18) ** 2
    assert f"= {100 * shrunk:.2f} %" in line(found, "free shrinkage")


@pytest.mark.parametrize(("minutes", "more"), [(5, ""), (4, " … (15 readings)")])
def test_twelve_readings_of_an_hour_are_written_out_and_more_are_counted(minutes, more):
    times = pd.date_range("2026-03-02T10:00Z", "2026-03-02T11:00Z", freq=f"{minutes}min", inclusive="left")
    there = Climate.of(times, np.arange(len(times)) + 10.0, np.full(len(times), 50.0))
    ((_, told),) = hour_of_readings(there, times[0], "temp_c", "UTC")
    assert told.startswith("10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21" + more + " °C")


def test_the_line_of_the_sensor_names_the_logger_that_read_where_it_is_known():
    assert read_by(Sensor(basis="typed", logger="L-1"))[1].startswith("L-1: bias ± ")
    assert read_by(Sensor(basis="typed"))[1].startswith("bias ± ")
