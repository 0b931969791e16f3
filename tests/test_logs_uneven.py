"""Rows, columns and words that do not come out even: read whole or asked about, never read as something else.

Every file is written from an invented climate, so what must be read of it is known.
"""

import numpy as np
import pytest
from logs_layouts import Truth, assert_adds_up, assert_reads, climate, read, rows_of, write

from envwatch.core.errors import BadInput, Question
from envwatch.logs.quality import marks as quality

TRUTH = climate(n=60)


def test_what_is_missing_or_a_bound_takes_one_field_between_unquoted_decimal_commas(tmp_path):
    rows = rows_of(TRUTH, decimal=",")
    t = [row.partition(",")[0] for row in rows]
    rows[5], rows[9], rows[12] = f"{t[5]},19,3,", f"{t[9]},19,4,>68", f"{t[12]},,52,4"
    rows[20], rows[21] = f"{t[20]},19,52,4", f"{t[21]},19,3,52,4,7"
    log = read(write(tmp_path / "a.csv", "\n".join(["time,temp °C,rh %", *rows]) + "\n"))
    (probe,) = log.channels
    by_line = dict(zip(probe.line.tolist(), zip(probe.temp_c, probe.rh_percent, probe.bound, strict=True), strict=True))
    assert by_line[7][0] == 19.3 and np.isnan(by_line[7][1])
    assert by_line[11] == (19.4, 68.0, quality.RH_ODD)
    assert not {14, 22, 23} & by_line.keys()  # no temperature; no even number of fields in any way
    others = [i for i in range(60) if i not in (5, 9, 12, 20, 21)]
    assert [by_line[i + 2][:2] for i in others] == [(TRUTH.temp_c[i], TRUTH.rh_percent[i]) for i in others]
    assert_adds_up(log)


def test_unquoted_decimal_commas_are_told_in_fahrenheit_and_before_a_delimiter_at_the_end(tmp_path):
    warm = np.round(TRUTH.temp_c * 1.8 + 32, 2)
    rows = [f"{t:%Y-%m-%d %H:%M},{a:.2f},{b:.0f},21,".replace(".", ",")
            for t, a, b in zip(TRUTH.time, warm, TRUTH.rh_percent, strict=True)]  # fmt: skip
    (probe,) = read(write(tmp_path / "a.csv", "\n".join(["time,temp °F,rh %,zone,", *rows]) + "\n")).channels
    np.testing.assert_allclose(probe.temp_c, TRUTH.temp_c, atol=0.006)
    np.testing.assert_allclose(probe.rh_percent, np.round(TRUTH.rh_percent))


@pytest.mark.parametrize("word", ["Kellonaika", "Klokkeslæt", "Qwzxal"])
def test_times_of_day_beside_year_and_day_of_the_year_under_any_word(tmp_path, word):
    rows = [f"{t.year};{t.day_of_year};{t:%H:%M};{a};{b}"
            for t, a, b in zip(TRUTH.time, TRUTH.temp_c, TRUTH.rh_percent, strict=True)]  # fmt: skip
    assert_reads(read(write(tmp_path / "a.csv", "\n".join([f"Year;DOY;{word};Temp °C;RH %", *rows]))), TRUTH)


def test_rows_without_readings_below_a_header_of_parts_are_counted_though_the_header_is_repeated(tmp_path):
    head = "Year|DOY|Time|Air °C|Air %"
    rows = [f"{t.year}|{t.day_of_year:03d}|{t:%H:%M}|{a}|{b}"
            for t, a, b in zip(TRUTH.time, TRUTH.temp_c, TRUTH.rh_percent, strict=True)]  # fmt: skip
    empty = [row.rsplit("|", 2)[0] + "|#N/A|#N/A" for row in rows[:25]]
    log = read(write(tmp_path / "a.csv", "\n".join([head, "||||", *empty, head, *rows[25:]])))
    assert log.counts.data_rows == 60 and sum(log.counts.set_aside.values()) == 25
    assert log.channels[0].temp_c.tolist() == TRUTH.temp_c[25:].tolist()


def test_two_probes_without_a_header_are_asked_about_and_read_as_answered(tmp_path):
    each = zip(rows_of(TRUTH, delimiter=";"), TRUTH.temp_c, TRUTH.rh_percent, strict=True)
    rows = [f"{row};{a - 9:.1f};{b + 6:.1f}" for row, a, b in each]
    path = write(tmp_path / "a.csv", "\n".join(rows))
    with pytest.raises(Question) as asked:
        read(path)
    assert asked.value.field == "columns" and asked.value.choices[-1] == "2,3,4,5"
    assert len(read(path, columns="2,3,4,5").channels) == 2


def test_a_frost_in_fahrenheit_without_a_header_is_asked_about(tmp_path):
    cold = Truth(TRUTH.time, np.round(TRUTH.temp_c - 21, 1), TRUTH.rh_percent)
    rows = [f"{t:%Y-%m-%d %H:%M};{a * 1.8 + 32:.2f};{b}"
            for t, a, b in zip(cold.time, cold.temp_c, cold.rh_percent, strict=True)]  # fmt: skip
    path = write(tmp_path / "a.csv", "\n".join(rows))
    with pytest.raises(Question) as asked:
        read(path)
    assert asked.value.field == "temp_unit"
    np.testing.assert_allclose(read(path, temp_unit="F").channels[0].temp_c, cold.temp_c, atol=0.006)


def test_a_word_of_a_central_european_code_page_is_no_chinese(tmp_path):
    head = "Data i godzina|Temp. °C|Wilgotność %|Temperatura Średnia".replace(" °C", " C")
    rows = [f"{row}|19.0" for row in rows_of(TRUTH, delimiter="|")]
    log = read(write(tmp_path / "a.csv", "\n".join([head, *rows]), "cp1250"))
    assert log.layout.encoding == "cp1250" and len(log.channels) == 1
    assert any("'Temperatura Średnia' (average)" in note for note in log.notes)


@pytest.mark.parametrize("word", ["Time", "Klokke"])
def test_year_day_of_the_year_and_clock_with_one_quantity_a_row(tmp_path, word):
    rows = [f"{t.year};{t.day_of_year};{t:%H:%M};{what};{value}"
            for t, a, b in zip(TRUTH.time, TRUTH.temp_c, TRUTH.rh_percent, strict=True)
            for what, value in (("temperature", a), ("humidity", b))]  # fmt: skip
    assert_reads(read(write(tmp_path / "a.csv", "\n".join([f"Year;DOY;{word};quantity;value", *rows]))), TRUTH)


@pytest.mark.parametrize(("head", "unit"), [("T (0.1 degrees Celsius)", ""), ("Temp", "1/10 °C")])
def test_tenths_of_degrees_are_read_as_such_where_the_header_says_so(tmp_path, head, unit):
    cold = Truth(TRUTH.time, np.round(TRUTH.temp_c - 19, 1), TRUTH.rh_percent)
    rows = [f"{t:%Y-%m-%d %H:%M};{round(a * 10)};{b}"
            for t, a, b in zip(cold.time, cold.temp_c, cold.rh_percent, strict=True)]  # fmt: skip
    below = [f";{unit};%"] if unit else []
    log = read(write(tmp_path / "a.csv", "\n".join([f"time;{head};RH (0.1 %)", *below, *rows])))
    assert_reads(log, cold)
    assert any("is in tenths, as its header says" in note for note in log.notes)
    rows = [row for t, a, b in zip(cold.time, cold.temp_c, cold.rh_percent, strict=True)
            for row in (f"{t:%Y-%m-%d %H:%M};{head};{unit};{round(a * 10)}", f"{t:%Y-%m-%d %H:%M};RH;%;{round(b)}")
            ]  # fmt: skip
    log = read(write(tmp_path / "b.csv", "\n".join(["time;quantity;unit;value", *rows])))
    np.testing.assert_allclose(log.channels[0].temp_c, cold.temp_c)
    np.testing.assert_allclose(log.channels[0].rh_percent, np.round(cold.rh_percent))


def test_an_accuracy_of_a_tenth_of_a_degree_is_no_unit(tmp_path):
    rows = rows_of(TRUTH, delimiter=";")
    assert_reads(read(write(tmp_path / "a.csv", "\n".join(["time;Temp ±0.1 °C;RH %", *rows]))), TRUTH)


def test_a_number_that_may_be_the_hour_is_not_passed_over(tmp_path):
    daily = climate(n=60, step="1D")
    rows = [f"{t:%Y-%m-%d};5;{a};{b}" for t, a, b in zip(daily.time, daily.temp_c, daily.rh_percent, strict=True)]
    with pytest.raises(BadInput, match="whether column 2 is the hour"):
        read(write(tmp_path / "a.csv", "\n".join(rows)))
    log = read(write(tmp_path / "b.csv", "\n".join(["Date;Hour;Temperature;Humidity", *rows])))
    assert log.channels[0].time[0] // 3_600_000_000 % 24 == 5


def test_a_delimiter_at_the_end_of_rows_is_no_field_where_each_field_has_its_name(tmp_path):
    rows = [f"{t:%Y-%m-%d %H:%M},Attic,{what},{value},"
            for t, a, b in zip(TRUTH.time, TRUTH.temp_c, TRUTH.rh_percent, strict=True)
            for what, value in (("Temperatur (°C)", a), ("Feuchte (%)", b))]  # fmt: skip
    assert_reads(read(write(tmp_path / "a.csv", "\n".join(["Zeit,Raum,Größe,Wert", *rows]))), TRUTH, ["Attic"])


@pytest.mark.parametrize("date", ["Year;Month;Day", "Date"])
@pytest.mark.parametrize("clock", ["Hour;Minute;AM/PM", "Hour;Half;Minute"])
def test_an_hour_of_twelve_in_a_column_beside_its_half_of_the_day(tmp_path, date, clock):
    truth = climate(n=200)
    words = {"Hour": "%I", "Minute": "%M", "AM/PM": "%p", "Half": "%p"}
    stamp = ";".join(["%Y-%m-%d" if date == "Date" else "%Y;%m;%d", *(words[word] for word in clock.split(";"))])
    rows = rows_of(truth, stamp=stamp, delimiter=";")
    rows.insert(50, f"{truth.time[50].strftime(stamp.replace('%I', '?'))};19.0;50.0")  # one unreadable hour
    assert_reads(read(write(tmp_path / "a.csv", "\n".join([f"{date};{clock};Temp °C;RH %", *rows]))), truth)


@pytest.mark.parametrize(
    ("head", "stamp"), [("Year;Month;Day;Hour;Minute", "%Y;%m;%d;%I;%M"), ("Year;DOY;HHMM", "%Y;%j;%I%M")]
)
def test_hours_of_twelve_in_columns_without_their_half_are_refused(tmp_path, head, stamp):
    rows = rows_of(climate(n=200), stamp=stamp, delimiter=";")
    with pytest.raises(BadInput, match="AM and PM are lost"):
        read(write(tmp_path / "a.csv", "\n".join([f"{head};Temp °C;RH %", *rows])))


@pytest.mark.parametrize("lost", ["NaN", "", "---"])
def test_a_humidity_that_is_mostly_lost_makes_none_of_a_decimal(tmp_path, lost):
    rows = [row.rsplit(",", 2)[0] + f",{lost}" for row in rows_of(TRUTH, decimal=",")]
    with pytest.raises(BadInput, match="which is which cannot be told"):
        read(write(tmp_path / "a.csv", "\n".join(["time,temp °C,rh %", *rows])))


@pytest.mark.parametrize("unit", ["°C", ""])
def test_decimal_commas_between_commas_below_a_header_of_parts_are_refused(tmp_path, unit):
    rows = [f"{t.year},{t.day_of_year},{t:%H:%M},{what},{value},{unit and sign}".replace(".", ",").rstrip(",")
            for t, a, b in zip(TRUTH.time, TRUTH.temp_c, TRUTH.rh_percent, strict=True)
            for what, value, sign in (("Temperature", a, unit), ("Humidity", b, "%"))]  # fmt: skip
    head = "Year,DOY,Time,Quantity,Value" + ",Unit" * bool(unit)
    with pytest.raises(BadInput, match="Export the file again, or mend the header"):
        read(write(tmp_path / "a.csv", "\n".join([head, *rows])))
