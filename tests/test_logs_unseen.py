"""Layouts that are easily refused without need, or read wrong."""

from functools import cache

import numpy as np
import pandas as pd
import pytest
from logs_layouts import NOW, assert_adds_up, assert_reads, climate, read, write

from envwatch import logs
from envwatch.core.errors import BadInput
from envwatch.logs.text import roles

TRUTH = climate("2024-03-04T00:00Z")
TABLE = [(t, f"{a:.1f}", f"{b:.1f}") for t, a, b in zip(TRUTH.time, TRUTH.temp_c, TRUTH.rh_percent, strict=True)]
FRENCH_DAYS = ("lun.", "mar.", "mer.", "jeu.", "ven.", "sam.", "dim.")


@cache  # of each stamp once: bodies are made while tests are collected
def serial(t: pd.Timestamp, places: int) -> str:
    """A spreadsheet's day number as it shows it: no zeros at the end."""
    day = (t.tz_localize(None) - pd.Timestamp("1899-12-30")) / pd.Timedelta("1D")
    return f"{day:.{places}f}".rstrip("0").rstrip(".")


def body(pattern: str, rows=TABLE) -> str:
    return "".join(
        pattern.format(t=t, a=a, b=b, ac=a.replace(".", ","), bc=b.replace(".", ","), mar=FRENCH_DAYS[t.weekday()],
                       day=serial(t, 5), day4=serial(t, 4), i=i) for i, (t, a, b) in enumerate(rows, 1))  # fmt: skip


UNSEEN = {
    "day numbers to five places": "Time;Temp C;RH %\n" + body("{day};{a};{b}\n"),
    "day numbers to four places": "Time;Temp C;RH %\n" + body("{day4};{a};{b}\n"),
    "time called temps": "Temps;Température (°C);Humidité (%)\n" + body("{t:%d/%m/%Y %H:%M};{ac};{bc}\n"),
    "time called tempo": "Tempo;Temperatura;Umidità\n" + body("{t:%d/%m/%Y %H:%M};{ac};{bc}\n"),
    "half past two as 14.30": "Data;Ora;Temperatura;Umidità\n" + body("{t:%d/%m/%Y};{t:%H.%M};{ac};{bc}\n"),
    "half past two as 2.30, points": "Date,Time,Temp,RH\n" + body("{t:%Y-%m-%d},{t.hour}.{t:%M},{a},{b}\n"),
    "temperature called temps": "Date,Temps (°C),RH\n" + body("{t:%Y-%m-%d %H:%M},{a},{b}\n"),
    "temporal mark": "Marca temporal;Temperatura;Humedad\n" + body("{t:%d/%m/%Y %H:%M};{ac};{bc}\n"),
    "dry bulb": "Time,Dry Bulb,Wet Bulb,RH\n" + body("{t:%Y-%m-%d %H:%M},{a},7.0,{b}\n"),
    "Tuesday that looks like March": "Temps;Temp;HR\n" + body("{mar} {t:%d/%m/%Y %H:%M};{a};{b}\n"),
    "date of a file's name": "Time;Temp;RH\n" + body("{t:%Y-%m-%d_%H-%M-%S};{a};{b}\n"),
    "date glued to the time": "Time;Temp;RH\n" + body("{t:%d%b%Y:%H:%M:%S};{a};{b}\n"),
    "hours, minutes and seconds in one number": "Date;Time;Temp;RH\n" + body("{t:%Y%m%d};{t:%H%M%S};{a};{b}\n"),
    "fraction of a german humidity": "Zeit;Temp;rF (0-1)\n"
    + "".join(f"{t:%Y-%m-%d %H:%M};{a};{float(b) / 100:.3f}\n" for t, a, b in TABLE[:300]),
    "three decimals and headers with points between": "Zeit;Temp. Luft;r.F.\n".join(
        ["", *(body("{t:%Y-%m-%d %H:%M};{ac}00;{bc}00\n", TABLE[i : i + 2]) for i in range(0, 300, 2))]),
    "fraction under a sign": "Zeit;t [°C];φ (0-1)\n"
    + "".join(f"{t:%Y-%m-%d %H:%M};{a};{float(b) / 100:.3f}\n" for t, a, b in TABLE[:300]),
    "small table of calibrations above": "Calibration\nDate;T offset;RH offset\n2023-01-05;0,1;-1,2\n"
    "2024-01-05;0,2;-1,0\n\nTime;Temp °C;RH %\n" + body("{t:%Y-%m-%d %H:%M};{ac};{bc}\n"),
    "columns in another order half way": "Time;Temp;RH\n" + body("{t:%Y-%m-%d %H:%M};{a};{b}\n", TABLE[:150])
    + "\nTime;RH;Temp\n" + body("{t:%Y-%m-%d %H:%M};{b};{a}\n", TABLE[150:]),
}  # fmt: skip


@pytest.mark.parametrize("name", UNSEEN)
def test_layouts_that_were_once_misread(tmp_path, name):
    log = read(write(tmp_path / "a.csv", UNSEEN[name]), "UTC")
    assert_adds_up(log)
    assert_reads(log, TRUTH)
    assert log.counts.data_rows == len(TABLE) or "calibration" in name


PREAMBLE = "Serial; 001\nStart; 2024-03-01 08:00:00\nMax temperature; 23.4 °C\nCalibrated; 12.01.2023\n\n"


@pytest.mark.parametrize("n", [1, 2, 3])
def test_dated_lines_above_a_table_of_few_rows_are_no_rows_of_it(tmp_path, n):
    text = PREAMBLE + "Datum/Zeit;Temperatur [°C];Feuchte [%]\n" + body("{t:%Y-%m-%d %H:%M};{ac};{bc}\n", TABLE[:n])
    log = read(write(tmp_path / "a.csv", text), "UTC")
    assert log.counts.data_rows == log.counts.used == n
    np.testing.assert_allclose(log.channels[0].temp_c, TRUTH.temp_c[:n], atol=0.051)


def test_many_dated_lines_parted_by_tabs_do_not_outweigh_one_row(tmp_path):
    above = "Anzahl\t1\nStartzeit\t2023-12-01 09:30:00\n" * 5
    log = read(
        write(
            tmp_path / "a.csv",
            above + "\nDatum/Uhrzeit;Temp;Feuchte\n" + body("{t:%Y-%m-%d %H:%M};{ac};{bc}\n", TABLE[:1]),
        )
    )
    assert log.counts.used == 1


def test_words_that_begin_like_temperature_and_mean_time():
    found = [roles.role_of(n).kind for n in ("Temps", "Tempo", "Marca temporal", "Temps (°C)", "Temp")]
    assert found == [None, None, None, "temp", "temp"]
    assert [roles.time_word(n) for n in ("Temps", "Marca temporal", "Temps (°C)")] == ["time", "stamp", None]


ENCODED = {
    "cp932": "番号,日付,時刻,温度(℃),湿度(%),露点(℃),照度(lx),気圧(hPa),電池\n"
    + body("{i},{t:%Y/%m/%d,%H:%M},{a},{b},1,2,1013,良\n"),
    "gb18030": "Time;Temp °C;RH %\n" + body("{t:%Y}年{t:%m}月{t:%d}日 {t:%H:%M:%S};{a};{b}\n"),
}  # fmt: skip


@pytest.mark.parametrize("codec", ENCODED)
def test_east_asian_rows_are_not_taken_for_many_accents(tmp_path, codec):
    log = read(write(tmp_path / "a.csv", ENCODED[codec].encode(codec)), "UTC")
    assert log.layout.encoding == codec
    assert_reads(log, TRUTH)


def test_a_name_in_chinese_that_is_no_known_word_is_no_row_of_accents(tmp_path):
    text = "仓库二楼北\nTime;Temp;RH\n" + body("{t:%Y-%m-%d %H:%M};{a};{b}\n")
    assert read(write(tmp_path / "a.csv", text.encode("gb18030")), "UTC").layout.encoding == "gb18030"


def test_air_humidity_in_dutch_is_no_vapour_of_solvents():
    assert [roles.role_of(n).kind for n in ("Luchtvochtigheid %", "Luchtvochtigheid", "tVOC (ppb)")] == [
        "rh",
        "rh",
        "voc",
    ]


@pytest.mark.parametrize("time", ["????-??-?? ??:??", "", "2024-02-31 10:00", "N/A", "mar. 99/99/2024 10:00"])
@pytest.mark.parametrize("at", [0, 1, 150, 299])
def test_a_reading_whose_time_is_lost_is_set_aside_and_counted(tmp_path, time, at):
    rows = body("{t:%Y-%m-%d %H:%M};{a};{b}\n").splitlines(keepends=True)
    rows[at] = f"{time};{TABLE[at][1]};{TABLE[at][2]}\n"
    log = read(write(tmp_path / "a.csv", "Time;Temp;RH\n" + "".join(rows)), "UTC")
    assert (log.counts.data_rows, log.counts.used, sum(log.counts.set_aside.values())) == (300, 299, 1)


def test_lines_of_statistics_are_no_data_rows(tmp_path):
    text = (
        "Time;Temp;RH\n" + body("{t:%Y-%m-%d %H:%M};{a};{b}\n") + "Average;18,0;50,0\nMin at 2024-03-06 10:00;12.1;\n"
    )
    assert read(write(tmp_path / "a.csv", text), "UTC").counts.data_rows == 300


def test_day_and_month_turned_round_in_those_dates_that_fit_both_is_refused(tmp_path):
    truth = climate(n=2500, step="10min")
    rows = [f"{t:%d/%m/%Y %H:%M};19.0;50.0" if t.day <= 12 else f"{t:%m/%d/%Y %H:%M};19.0;50.0" for t in truth.time]
    with pytest.raises(BadInput, match="two orders"):
        read(write(tmp_path / "a.csv", "\n".join(["Time;Temp;RH", *rows, ""])), "UTC")


def test_many_readings_a_day_without_a_time_of_day_are_refused(tmp_path):
    text = "Date;Remark;Temp;RH\n" + body("{t:%Y-%m-%d};{t:%H}.1667;{a};{b}\n")
    with pytest.raises(BadInput, match="no time of day"):
        read(write(tmp_path / "a.csv", text), "UTC")
    log = read(write(tmp_path / "b.csv", text.replace("Remark", "Hour")), "UTC")  # ten minutes past
    assert all(t.minute == 10 for t in pd.to_datetime(log.channels[0].time, unit="us"))


def test_probes_side_by_side_with_times_of_their_own_keep_them(tmp_path):
    rows = [(t, t + pd.Timedelta("5min"), a, b, float(a) + 2) for t, a, b in TABLE]
    text = "Time;Temp;RH;Time;Temp;RH\n" + "".join(
        f"{t:%Y-%m-%d %H:%M};{a};{b};{later:%Y-%m-%d %H:%M};{warm:.1f};{b}\n" for t, later, a, b, warm in rows
    )
    first, second = read(write(tmp_path / "a.csv", text), "UTC").channels
    assert (first.label, second.label) == ("1", "2")
    assert (second.time - first.time == 300_000_000).all()


@pytest.mark.parametrize("layout", ["{t:%Y-%m-%d %H:%M};{a};{b}", "{t:%Y/%m/%d};{t:%H:%M};{a};{b}"])
def test_a_line_of_statistics_below_a_single_row_leaves_its_time_alone(tmp_path, layout):
    head = "Date;Time;Temp;RH\n" if "/" in layout else "Time;Temp;RH\n"
    log = read(write(tmp_path / "a.csv", head + body(layout + "\n", TABLE[7:8]) + "\nMax;30,1;70,2\n"), "UTC")
    assert log.channels[0].time.tolist() == [TABLE[7][0].value // 1000]


def test_a_time_of_day_that_cannot_be_read_is_refused_rather_than_left_out(tmp_path):
    text = "Date;Time;Temp;RH\n" + body("{t:%Y-%m-%d};morning {i};{a};{b}\n", TABLE[::144])
    with pytest.raises(BadInput, match="the times under 'Time' cannot be read"):
        read(write(tmp_path / "a.csv", text), "UTC")


def test_an_error_code_in_the_doubled_hour_leaves_the_other_pass_in_its_place(tmp_path):
    truth = climate("2024-10-26T20:30Z", n=10, step="1h")
    rows = [
        f"{t:%Y-%m-%d %H:%M};{'Err' if i == 4 else '19.0'};50.0"
        for i, t in enumerate(truth.time.tz_convert("Europe/Berlin"))
    ]
    assert rows[3][:16] == "2024-10-27 01:30" and rows[4][:16] == rows[5][:16]
    log = read(write(tmp_path / "a.csv", "\n".join(["Time;Temp;RH", *rows, ""])), "Europe/Berlin")
    np.testing.assert_array_equal(log.channels[0].time, np.delete(truth.time.as_unit("us").asi8, 4))


def test_a_missing_value_in_the_doubled_hour_is_no_sign_of_a_clock_that_stood_still(tmp_path):
    truth = climate("2024-04-05T20:30Z", n=60, step="1h")
    local = truth.time.tz_convert("Australia/Sydney")
    twice = [i for i in range(59) if f"{local[i]:%H}" == f"{local[i + 1]:%H}"]
    rows = [f"{t:%Y-%m-%d %H:%M};{q};{'' if i in twice else v}" for i, t in enumerate(local)
            for q, v in (("Temperature", "19.0"), ("Humidity", "50.0"))]  # fmt: skip
    log = read(write(tmp_path / "a.csv", "\n".join(["Time;Quantity;Value", *rows, ""])), "Australia/Sydney")
    np.testing.assert_array_equal(log.channels[0].time, np.delete(truth.time.as_unit("us").asi8, twice))


def test_overlapping_tables_of_two_loggers_are_refused(tmp_path):
    text = "Time;Temp;RH\n" + body("{t:%Y-%m-%d %H:%M};{a};{b}\n")
    text += "\nTime;Temp;RH;Dew point\n" + body("{t:%Y-%m-%d %H:%M};{a};{b};5\n")
    with pytest.raises(BadInput, match="second table"):
        logs.read(write(tmp_path / "a.csv", text), logs.Answers(zone="UTC"), now=NOW)


def test_small_files_are_read_without_threads(tmp_path, monkeypatch):
    from envwatch.logs.tables import body as table_body

    used = []
    options = table_body.pc_csv.ReadOptions
    monkeypatch.setattr(table_body.pc_csv, "ReadOptions", lambda **k: used.append(k["use_threads"]) or options(**k))
    read(write(tmp_path / "a.csv", UNSEEN["dry bulb"]), "UTC")
    assert used and not any(used)


def test_times_that_hang_on_a_mark_are_refused_and_never_put_at_midnight(tmp_path):
    file = tmp_path / "keyed.txt"
    file.write_text(body("{t:%Y-%m-%d %H:%M:%S}; temp: {a} C; hum: {b} %\n"), encoding="utf-8")
    with pytest.raises(BadInput, match="times in column 2 cannot be read"):
        logs.read(file, logs.Answers(zone="UTC"), now=NOW)


@pytest.mark.parametrize("labels", [("Vitrine", "Depot"), ("1", "2")])
@pytest.mark.parametrize("word", ["ambiente", "sensor"])
def test_a_word_that_all_temperatures_bear_names_no_probe_and_mixes_none(tmp_path, word, labels):
    one, two = labels
    head = f"Fecha y hora;Temperatura {word} {one} (°C);Temperatura {word} {two} (°C);"
    head += f"Humedad relativa {two} (%);Humedad relativa {one} (%)\n"
    rows = "".join(f"14/03/2024 10:{m}0:00;20,{m};15,{m};61,{m};45,{m}\n" for m in range(1, 5))
    log = read(write(tmp_path / "two.csv", head + rows))
    found = {c.label: (c.temp_c[0], c.rh_percent[0]) for c in log.channels}
    assert found == {one: (20.1, 45.1), two: (15.1, 61.1)}


@pytest.mark.parametrize("head", ["RH", "RH (0-1)"])
@pytest.mark.parametrize("code", ["-999", "850", "200", "-50", "3000", "1e6"])
def test_an_error_code_among_fractions_leaves_them_fractions(tmp_path, head, code):
    rows = [(t, a, f"{float(b) / 100:.3f}") for t, a, b in TABLE]
    rows[5] = (*rows[5][:2], code)
    log = read(write(tmp_path / "a.csv", f"Time,Temp C,{head}\n" + body("{t:%Y-%m-%d %H:%M},{a},{b}\n", rows)))
    rh_percent = log.channels[0].rh_percent
    assert np.isnan(rh_percent[5]) and np.isnan(rh_percent).sum() == 1
    assert np.nanmax(np.abs(TRUTH.rh_percent - rh_percent)) < 0.01
    assert_adds_up(log)


def test_humidity_neither_in_percent_nor_in_fractions_throughout_is_refused(tmp_path):
    rows = [(t, a, f"{float(b) / 100:.3f}" if i % 10 else b) for i, (t, a, b) in enumerate(TABLE)]
    with pytest.raises(BadInput, match="neither percent nor fractions"):
        read(write(tmp_path / "a.csv", "Time,Temp C,RH\n" + body("{t:%Y-%m-%d %H:%M},{a},{b}\n", rows)))


def test_many_lines_without_time_and_reading_are_told(tmp_path):
    table = "Time,Temp C,RH\n" + body("{t:%Y-%m-%d %H:%M},{a},{b}\n")
    log = read(write(tmp_path / "a.csv", table + "<p>The session has ended</p>\n" * 11))
    assert_reads(log, TRUTH)
    assert sum(note.startswith("11 lines, the first of them line 302 ('<p>The session") for note in log.notes) == 1
    quiet = read(write(tmp_path / "b.csv", table + "Minimum,16.1,40\nMaximum,21.0,60\nEnd of file\n"))
    assert not any("were left out" in note for note in quiet.notes)


@pytest.mark.parametrize("year", [2000, 2010, 2015])
@pytest.mark.parametrize("again", [False, True])
def test_a_clock_that_fell_back_to_a_first_of_january_is_told_and_its_rows_are_set_aside(tmp_path, year, again):
    fell = pd.date_range(f"{year}-01-01 00:00:07", periods=40, freq="10min")
    rows = [*TABLE[:200], *((t, "20.0", "50.0") for t in fell), *(TABLE[200:] if again else [])]
    log = read(write(tmp_path / "a.csv", "Time,Temp C,RH\n" + body("{t:%Y-%m-%d %H:%M:%S},{a},{b}\n", rows)))
    assert (log.counts.used, list(log.counts.set_aside.values())) == (len(rows) - 40, [40])
    assert_adds_up(log)
    assert any(f"clock was reset: 40 rows from line 202 count from {year}-01-01" in note for note in log.notes)


def test_one_probe_below_the_other_from_the_same_new_year_is_no_clock_that_was_reset(tmp_path):
    days = pd.date_range("2020-01-01", "2023-12-31", freq="D")
    rows = [f"{p},{t:%Y-%m-%d %H:%M},{a + i % 3:.1f},50.{i % 9}" for p, a in (("A", 15), ("B", 20))
            for i, t in enumerate(days)]  # fmt: skip
    log = read(write(tmp_path / "a.csv", "Probe,Time,Temp C,RH\n" + "\n".join(rows) + "\n"))
    assert log.counts.used == 2 * len(days)
