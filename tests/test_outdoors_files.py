"""Air outdoors from files of others: typical years as published and as EPW, a station's file, twelve months."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from envwatch.cases.dehumidifier.machine import data_sheet
from envwatch.core.errors import BadInput, EnvwatchError, Question
from envwatch.logs.weather import read

pvlib = pytest.importorskip("pvlib")
NOW = pd.Timestamp("2026-11-02T11:00Z")
DATA = Path(pvlib.__file__).parent / "data"
COAST = DATA / "703165TY.csv"  # Sand Point, TMY3, a national laboratory
PLACE = "LOCATION,Sand Point,AK,USA,TMY3,703165,55.317,-160.517,-9.0,7.0"
HEAD = [PLACE, "DESIGN CONDITIONS,0", "TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0",
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0", "COMMENTS 1,", "COMMENTS 2,",
        "DATA PERIODS,1,1,Data,Sunday,1/1,12/31"]  # fmt: skip


def epw(temp_c, dew_c, time) -> str:
    """The table in EPW's own layout: eight head lines, then 35 columns; what is not told is EPW's mark for it."""
    rows = []
    for t, temp, dew in zip(time, temp_c, dew_c, strict=True):
        cells = [t.year, t.month, t.day, t.hour + 1, 60, "?9?9", f"{temp:.1f}", f"{dew:.1f}", 70, 101325]
        rows.append(",".join(map(str, [*cells, *[9999] * 25])))
    return "\n".join([*HEAD, *rows]) + "\n"


@pytest.fixture(scope="module")
def coast():
    from pvlib import iotools

    table, _ = iotools.read_tmy3(str(COAST), map_variables=True)
    return table["temp_air"].to_numpy(float), table["temp_dew"].to_numpy(float), pd.DatetimeIndex(table.index)


@pytest.mark.parametrize("name", ["703165TY.csv", "723170TYA.CSV", "12839.tm2"])
def test_typical_years_as_published_are_read(name):
    found = read(DATA / name, None, NOW)
    assert len(found.temp_c) == 8760 and name in found.words
    assert np.isfinite(found.vapour_pa).all() and found.vapour_pa.min() > 0


def test_the_same_year_as_epw_and_as_tmy3_is_the_same_air(coast, tmp_path):
    temp, dew, time = coast
    file = tmp_path / "coast.epw"
    file.write_text(epw(temp, dew, time), encoding="utf-8")
    as_epw, as_tmy = read(file, None, NOW), read(COAST, None, NOW)
    assert_allclose(np.sort(as_epw.temp_c), np.sort(as_tmy.temp_c), atol=0.051)  # EPW writes tenths
    assert_allclose(np.sort(as_epw.vapour_pa), np.sort(as_tmy.vapour_pa), rtol=0.005)


def test_hours_that_epw_marks_as_missing_are_missing_and_said(coast, tmp_path):
    temp, dew, time = coast
    temp = np.where(np.arange(len(temp)) < 30, 99.9, temp)
    file = tmp_path / "holes.epw"
    file.write_text(epw(temp, dew, time), encoding="utf-8")
    found = read(file, None, NOW)
    assert np.isnan(found.temp_c).sum() == 30 and "30 hours missing" in found.words


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.epw", ""), ("a.epw", "\n".join(HEAD)), ("a.epw", "a web page"), ("a.epw", "\0" * 4000),
        ("a.tm2", "nonsense\n" * 30), ("a.csv", "Dry-bulb\nx,y\n1,2\n"), ("a.csv", "month,temp_c,rh_percent\n1,2,3\n"),
        ("a.csv", "month,temp_c,rh_percent\n" + "\n".join(f"{m},warm,70" for m in range(1, 13))),
        ("a.csv", "time,temp_c\n2026-01-01 00:00,3\n2026-01-01 01:00,4\n"),
    ],
)  # fmt: skip
def test_a_file_that_is_none_of_these_is_refused_in_one_line(tmp_path, name, content):
    file = tmp_path / name
    file.write_text(content, encoding="utf-8")
    with pytest.raises(EnvwatchError) as refused:
        read(file, "UTC", NOW)
    assert "\n" not in str(refused.value) and name in str(refused.value)


def test_half_a_typical_year_is_refused_and_not_filled_from_the_other_half(coast, tmp_path):
    temp, dew, time = (part[:4380] for part in coast)
    file = tmp_path / "half.epw"
    file.write_text(epw(temp, dew, time), encoding="utf-8")
    with pytest.raises(BadInput, match="month 7, 8, 9, 10, 11, 12"):
        read(file, None, NOW)


def test_twelve_months_carry_their_vapour(tmp_path):
    file = tmp_path / "months.csv"
    file.write_text("month,temp_c,rh_percent\n" + "".join(f"{m},{m},80\n" for m in range(1, 13)), encoding="utf-8")
    found = read(file, None, NOW)
    # saturation over water at 7 °C, 1002 Pa: ASHRAE Fundamentals, moist air table
    july = found.vapour_pa[np.argmin(np.abs(found.temp_c - 7))]
    assert july == pytest.approx(0.8 * 1002, rel=0.01)


@pytest.mark.parametrize("spoilt", [b"month,temp_c\n1,\xff\xfe\n", b"month,temp_c\n1," + b"9" * 200_000 + b"\n"])
def test_a_table_that_is_no_csv_is_refused_plainly(tmp_path, spoilt):
    file = tmp_path / "months.csv"
    file.write_bytes(spoilt)
    for take in (lambda: read(file, None, NOW), lambda: data_sheet(file)):
        with pytest.raises(BadInput, match=r"months.csv: ") as told:
            take()
        assert "\n" not in str(told.value)


def test_a_typical_year_serves_the_case_from_outside(demo_copy, coast, tmp_path):
    from typer.testing import CliRunner

    from envwatch.cli import app

    temp, dew, time = coast
    file = tmp_path / "coast.epw"
    file.write_text(epw(temp, dew, time), encoding="utf-8")
    asked = ["dehumidifier", "store", "--studio", str(demo_copy), "--outdoors", str(file), "--log-from", "2026-08-15",
             "--log-to", "2026-10-10", "--machine-in-log", "no", "--draws", "20", "--no-keep"]  # fmt: skip
    question = CliRunner().invoke(app, asked).exception
    assert "cannot be laid beside a log" in str(question) and question.field == "air_change"
    done = CliRunner().invoke(app, [*asked, "--air-change", "0.1-0.3", "--source", "40-120"])
    assert done.exit_code == 0, done.exception
    assert "outdoors: coast.epw" in " ".join(done.output.split())


def test_a_stations_file_without_dates_is_read_from_when_it_begins(tmp_path):
    path = tmp_path / "station.csv"
    rows = "".join(f"{n};{9 + n % 7}.{n % 9};{70 + n % 11}.5\n" for n in range(48))
    path.write_text(f"Elapsed (h);Temp (°C);RH (%)\n{rows}", encoding="utf-8")
    with pytest.raises(Question) as asked:
        read(path, "UTC", NOW)
    assert asked.value.field == "outdoors_start"
    assert read(path, "UTC", NOW, "2026-03-01 10:00").time[0] == pd.Timestamp("2026-03-01 10:00", tz="UTC")
