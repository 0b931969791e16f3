"""A place over its whole record: what is told of it, what is withheld, and the command."""

import json

import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner

from envwatch import climate
from envwatch.archive import Studio
from envwatch.cases import place
from envwatch.cli import app
from envwatch.climate import describe_history
from envwatch.climate.series import Climate
from envwatch.core.errors import NotThere, Question
from envwatch.core.period import from_to
from envwatch.present.terminal.place import place as as_text

START = pd.Timestamp("2025-01-01", tz="UTC")
NOW = pd.Timestamp("2026-11-02T12:00Z")


def record(rh, days, temp_c=18.0) -> Climate:
    time = pd.date_range(START, periods=days * 24, freq="h")
    t = np.arange(len(time)) / 24
    values = (np.broadcast_to(f(t) if callable(f) else f, len(time)) for f in (temp_c, rh))
    return Climate.of(time, *values)


def yearly(t):
    return 58 + 8 * np.sin(2 * np.pi * (t - 100) / 365) + 4 * np.sin(2 * np.pi * t)


def test_a_record_of_thirteen_months_says_all_there_is_to_say():
    told = describe_history(record(yearly, 396), "UTC")
    assert told.band is not None and told.band.standard
    assert told.season.highest_percent == pytest.approx(58 + 7.911, abs=0.01)  # own calculation: gain of a 30-day mean
    # the 7/93 percentiles of a daily wave of ±4: 4 sin 75° = 3.864, own calculation
    assert told.band.p93 == pytest.approx(3.864, abs=0.05)
    assert told.band.widened == (True, True)
    assert told.control_met == "B"  # the season passes A1, the outer limit of 65 % does not: up to 70 %
    assert [n.what for n in told.not_yet] == ["the season of the last 15 days, which is a trailing mean"]


@pytest.mark.parametrize(
    "days, withheld",
    [
        (20, ["the seasonal level", "a provisional band", "the band as the standard asks for it"]),
        (60, ["the season of the last", "a provisional band", "the band as the standard asks for it"]),
        (120, ["the season of the last", "the band as the standard asks for it"]),
    ],
)
def test_what_a_short_record_cannot_say_is_withheld_with_the_day_it_can(days, withheld):
    told = describe_history(record(50.0, days), "UTC")
    for begin, item in zip(withheld, told.not_yet, strict=False):
        assert item.what.startswith(begin)
        assert item.since > told.end - pd.Timedelta(days=1) or item.what.startswith("the season of")
    assert told.control_met == ""
    assert {result.met for result in told.control} == {None}
    due = {item.what: item.since for item in told.not_yet}
    assert due["the band as the standard asks for it"] == START + pd.Timedelta(days=395)


def test_cycles_shrink_with_every_slower_build_up():
    told = describe_history(record(lambda t: 50 + 8 * np.sin(2 * np.pi * t), 120), "UTC")
    sizes = [table.largest_percent for table in told.cycles]
    assert [table.build_up for table in told.cycles] == [
        "unlined", "lined with paste", "lined with a film", "with a backing board", "glazed and backed",
        "crated or wrapped",
    ]  # fmt: skip
    assert all(quicker > slower for quicker, slower in zip(sizes, sizes[1:], strict=False))
    # a sine of one day behind a lag of 24 h: 1 / sqrt(1 + (2 pi)²) of its 16 %; the hourly steps add a little
    assert np.median(climate.rainflow_cycles(climate.canvas_humidity(
        hourly_rh := np.asarray(50 + 8 * np.sin(2 * np.pi * np.arange(2880) / 24)), 24.0)).span[-20:]) == pytest.approx(
        16 / np.hypot(1, 2 * np.pi), rel=0.03)  # fmt: skip
    assert hourly_rh.max() < 58.1


def test_damp_is_told_in_hours_spells_and_depth():
    rh = np.full(2400, 55.0)
    rh[100:150], rh[700:900] = 72.0, 83.0
    told = describe_history(Climate.of(pd.date_range(START, periods=2400, freq="h"), np.full(2400, 18.0), rh), "UTC")
    found = {round(d.limit_percent): d for d in told.damp}
    assert {limit: d.hours for limit, d in found.items()} == {65: 250, 70: 250, 75: 200, 80: 200}
    assert (found[65].longest.hours, found[65].longest.highest_percent, len(found[65].spells)) == (200, 83, 2)


def test_a_place_without_humidity_is_told_as_not_known():
    time = pd.date_range(START, periods=48, freq="h")
    told = describe_history(Climate.of(time, np.full(48, 18.0), np.full(48, np.nan)), "UTC")
    assert (told.season, told.band, told.control, told.cycles) == (None, None, (), ())
    assert np.isnan(told.rh_mean_percent)
    assert "Nothing can be said" in told.ageing


@pytest.fixture(scope="module")
def studio(demo_of_file):
    with Studio.open(demo_of_file) as opened:
        yield opened


def test_a_place_is_found_by_id_name_or_words(studio):
    assert studio.find_place("store").id == "store"
    assert studio.find_place("picture").id == "store"
    with pytest.raises(Question, match="places"):
        studio.find_place("o")
    with pytest.raises(NotThere, match="Picture store"):
        studio.find_place("Pitcure stoer")


def test_by_default_it_is_all_that_was_read_and_an_old_end_is_said(studio):
    told = place.of(studio, "office", NOW + pd.Timedelta(days=10))
    assert told.history.coverage > 0.99
    assert any("Nothing was read in the last" in line for line in told.opening)
    assert not place.of(studio, "office", pd.Timestamp("2026-11-02T09:00Z")).opening
    text = as_text(told)
    assert max(map(len, text.splitlines())) <= 80
    assert "bear a mark of doubt" in text  # the office logger stood still in the last week


def test_the_span_asked_for_counts_what_is_missing_in_it(studio):
    told = place.of(studio, "office", NOW, from_to("2026-08-01", "2026-09-30", "Europe/Berlin"))
    assert 0.4 < told.history.coverage < 0.6
    with pytest.raises(NotThere, match="nothing was read there"):
        place.of(studio, "office", NOW, from_to("2020-01-01", "2020-01-31", "Europe/Berlin"))


def test_the_command_prints_text_and_json_of_the_same(demo_of_file):
    run = CliRunner().invoke
    text = run(app, ["place", "store", "--from", "2026-01-01", "--to", "2026-10-31", "--studio", str(demo_of_file)])
    assert text.exit_code == 0 and "Types of control" in text.stdout and "What cannot be said yet" in text.stdout
    asked = run(
        app, ["place", "store", "--from", "2026-01-01", "--to", "2026-10-31", "--studio", str(demo_of_file), "--json"]
    )
    told = json.loads(asked.stdout)
    over_70 = next(d for d in told["history"]["damp"] if d["limit_percent"] == 70)
    assert f"over 70 % RH: {over_70['hours']:.0f} h" in text.stdout
    half = run(app, ["place", "store", "--from", "2026-01-01", "--studio", str(demo_of_file)])
    assert half.exit_code != 0 and "--to" in str(half.exception)


def test_a_paintings_dossier_tells_slow_ageing_once_and_without_years(studio):
    from envwatch.cases.painting import record as dossier
    from envwatch.present.terminal import dossier as dossier_text

    told = dossier.of(studio, "26-02", NOW)
    assert "times the pace" in told.ageing and "A direction, not a span of years" in told.ageing
    assert dossier_text(told).count("Slow ageing") == 1
