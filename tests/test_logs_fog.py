"""Fog out of doors is no failed sensor; the same readings in a room are doubted."""

import numpy as np
import pandas as pd
import pytest

from envwatch.archive import Studio
from envwatch.archive.intake.summary import mark_notes
from envwatch.logs.quality import marks as quality

START, END = pd.Timestamp("2026-03-01", tz="UTC"), pd.Timestamp("2026-04-01", tz="UTC")
REGISTER = {
    "places": "id,name,kind\nloft,Loft,loft\nout,Outside,outdoors\n",
    "loggers": "id,name,labels\nl,Loft logger,L-1\no,Outdoor logger,O-1\n",
    "hangings": "logger,channel,place,position,from,to\nl,,loft,unknown,2026-01-01,\no,,out,unknown,2026-01-01,\n",
}


def foggy(path, label, hours):
    """Hourly over two weeks, saturated from the fifth day on for so many hours, the air moving by 4 K."""
    times = pd.date_range(START, periods=14 * 24, freq="h")
    n = np.arange(len(times))
    temp_c = 5 + 2 * np.sin(n / 24 * 2 * np.pi)
    rh = np.where((n >= 100) & (n < 100 + hours), 100.0, 85 + 4 * np.sin(n / 24 * 2 * np.pi + 2))
    rows = [f"{t:%Y-%m-%dT%H:%M:%SZ},{a:.1f},{b:.1f}" for t, a, b in zip(times, temp_c, rh, strict=True)]
    path.write_text("\n".join([f"Logger: {label}", "Time,Temp (°C),RH (%)", *rows, ""]), encoding="utf-8")
    return path


@pytest.fixture
def studio(tmp_path):
    folder = tmp_path / "register"
    folder.mkdir()
    for name, text in REGISTER.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    with Studio.create(tmp_path / "studio", name="A studio", zone="UTC") as made:
        made.import_register(folder)
        yield made


def marked(studio):
    return {(doubt.logger, doubt.mark) for doubt in studio.doubts(START, END) if doubt.mark in ("saturated", "stuck")}


def test_two_days_of_fog_are_marked_in_a_loft_and_not_outside(studio, tmp_path):
    studio.add([foggy(tmp_path / "l.csv", "L-1", 40), foggy(tmp_path / "o.csv", "O-1", 40)])
    assert marked(studio) == {("l", "saturated"), ("l", "stuck")}
    notes = mark_notes(studio, START, END)
    assert any("Loft logger" in n and "saturated" in n for n in notes)
    assert not any("Outdoor logger" in n and ("saturated" in n or "stuck" in n) for n in notes)
    assert not studio.check(True).problems


def test_what_add_says_of_marks_is_what_counts_where_the_logger_hangs(studio, tmp_path):
    report = studio.add([foggy(tmp_path / "l.csv", "L-1", 40), foggy(tmp_path / "o.csv", "O-1", 40)])
    loft, outside = (outcome.marked for outcome in report.outcomes)
    assert (loft["saturated"], loft["stuck"]) == (40, 40)
    assert outside.keys() == loft.keys() - {"saturated", "stuck"}
    (again,) = studio.add([foggy(tmp_path / "longer.csv", "O-1", 170)], logger="o").outcomes
    assert again.marked["saturated"] >= 120  # with the file before it: too long for fog


def test_a_week_at_saturation_is_doubted_outside_too_however_it_is_looked_at(studio, tmp_path):
    studio.add([foggy(tmp_path / "o.csv", "O-1", 170)])
    assert marked(studio) == {("o", "saturated"), ("o", "stuck")}
    inside = studio.doubts(START + pd.Timedelta(hours=120), START + pd.Timedelta(hours=150))
    assert {doubt.mark for doubt in inside} >= {"saturated"}


def test_what_stands_still_with_its_temperature_stays_stuck():
    time_us, temp_c, rh = np.arange(60) * quality.HOUR_US, np.full(60, 5.0), np.full(60, 100.0)
    temp_c[:10], rh[:10] = 5 + np.arange(10) / 10, 90 + np.arange(10) / 10
    marks = quality.out_of_doors(quality.mark(time_us, temp_c, rh), time_us, temp_c, rh)
    assert quality.count(marks)["stuck"] >= 40 and "saturated" not in quality.count(marks)
