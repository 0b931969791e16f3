"""What a canvas is held against: like with like, and nothing of a treatment's own damp."""

import numpy as np
import pandas as pd
import pytest

from envwatch import climate
from envwatch.climate.exposure import Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.findings import Level
from envwatch.core.painting import Layer, Painting, Treatment
from envwatch.hazards import canvas as fluctuation
from envwatch.hazards.canvas.history import what_it_knows
from envwatch.hazards.canvas.response import canvas_of, course

END = pd.Timestamp("2026-11-02", tz="UTC")
DAY, WEEK = pd.Timedelta(days=1), pd.Timedelta(days=7)
LINED = END - 60 * DAY
LAYERS = (Layer("paint", "oil_paint"), Layer("size", "animal_glue"), Layer("canvas", "linen"))
BEYOND = "swing beyond what it has known"


def exposure(rh, begin, end, stints=None):
    time = pd.date_range(begin, end, freq="h", inclusive="left")
    room = Climate.of(time, np.full(len(time), 18.0), rh[: len(time)], start=begin, end=end)
    return Exposure({"room": room}, begin, end, stints or (Stint(begin, end, "store", "Store"),))


def against(where, painting, start):
    return next(f for f in fluctuation.assess(where, painting, start) if f.mechanism == BEYOND)


def restless_years(years=4, seed=5, noise=3.5):
    """Hourly: a strong season, and weather of some days that is not always calm. [% RH]"""
    rng, hours = np.random.default_rng(seed), np.arange(8766 * years)
    weather = np.zeros(8766 * years // 24)
    for n in range(1, len(weather)):
        weather[n] = 0.8 * weather[n - 1] + rng.normal(0, noise)
    return 55 - 24 * np.cos(2 * np.pi * hours / 8766) + np.interp(hours / 24, np.arange(len(weather)), weather)


def test_a_monday_is_held_against_the_band_of_its_own_means_and_a_month_later_against_the_centred_one():
    rh, begin = restless_years(), END - pd.Timedelta(hours=8766 * 4)
    on_the_day, later = 0, 0
    for n in range(52):
        start = END - WEEK * (60 - n)
        weekly = exposure(rh, begin, start + WEEK)
        on_the_day += against(weekly, Painting("p", "Moor", layers=LAYERS), start).level >= Level.WATCH
        hours = int((start + WEEK - begin) / pd.Timedelta(hours=1))
        canvas = climate.canvas_humidity(rh[: hours + 400], climate.response_time_h(None))
        band = climate.fluctuation_band(canvas[: hours - 168])
        week = (canvas - climate.seasonal_cycle(canvas))[hours - 168 : hours]
        known = canvas[: hours - 168]
        new = (canvas[hours - 168 : hours] < known.min()) | (canvas[hours - 168 : hours] > known.max())
        later += bool((((week < band.low) | (week > band.high)) & new).any())
    assert abs(on_the_day - later) <= 3


def test_each_hour_has_the_edges_of_the_means_that_its_own_level_is_of():
    begin = END - pd.Timedelta(hours=8766 * 4)
    seen = course(
        exposure(restless_years(noise=6.0), begin, END), canvas_of(Painting("p", "Moor", layers=LAYERS)), END - WEEK
    )
    before = np.where(seen.time < END - WEEK, seen.canvas_percent, np.nan)
    centred, trailing = (climate.fluctuation_band(before, centred=c) for c in (True, False))
    known = what_it_knows(seen)
    assert trailing.high > centred.high + 1 and trailing.low < centred.low - 1
    assert (known.low[-1], known.high[-1]) == (trailing.low, trailing.high)  # Sunday: no centred mean yet
    assert (known.low[-24 * 40], known.high[-24 * 40]) == (centred.low, centred.high)


def test_departures_from_trailing_means_have_a_band_of_their_own():
    rh = restless_years()
    centred, trailing = climate.fluctuation_band(rh), climate.fluctuation_band(rh, centred=False)
    assert trailing.p93 > centred.p93 + 2 and trailing.p7 < centred.p7 - 2
    for band in (centred, trailing):  # EN 15757: 14 % of the record lies outside the percentiles, by construction
        outside = (band.departure < band.p7) | (band.departure > band.p93)
        assert outside[np.isfinite(band.departure)].mean() == pytest.approx(0.14, abs=0.002)


LINED_ONE = Painting("p", "Moor", layers=(*LAYERS, Layer("film", "eva_film", applied_on=LINED)))


def chamber_at_the_lining():
    """50 % but for the day before, of and after the lining, 85 % in a humidity chamber; an hour of each day outside."""
    begin = END - 200 * DAY
    time = pd.date_range(begin, END, freq="h", inclusive="left")
    inside = (time >= LINED - DAY) & (time < LINED + 1.5 * DAY)
    stints = (
        Stint(begin, LINED - DAY, "studio", "Studio"),
        Stint(LINED - DAY, LINED + 1.5 * DAY, "chamber", "Chamber", intended=True),
        Stint(LINED + 1.5 * DAY, END, "studio", "Studio"),
    )
    return exposure(np.where(inside, 85.0, 50.0), begin, END, stints)


def test_a_humidity_chamber_is_no_part_of_what_it_was_lined_at():
    found = against(chamber_at_the_lining(), LINED_ONE, END - WEEK)
    assert found.level is Level.CLEAR and "drier than the 8" not in found.sentence


def test_the_air_entered_with_the_lining_counts():
    from dataclasses import replace

    done = Treatment("t", "lining", LINED, studio_rh_percent=66.0)
    found = against(chamber_at_the_lining(), replace(LINED_ONE, treatments=(done,)), END - WEEK)
    assert found.level >= Level.WATCH and "drier than the 66.0 % it was lined at" in found.sentence
    assert "entered with it" in dict(found.working)["what it is held against"]
