"""Layouts seldom met, labels, probes without humidity, workbooks of several sheets, and what is assumed."""

import io

import numpy as np
import pytest
from logs_layouts import NOW, Truth, assert_adds_up, assert_reads, climate, read, rows_of, write

from envwatch import air, logs
from envwatch.core.errors import BadInput, Question
from envwatch.logs import Answers, to_csv

TRUTH = climate(n=60, step="1h")
TABLE = [(t, f"{a:.1f}", f"{b:.1f}") for t, a, b in zip(TRUTH.time, TRUTH.temp_c, TRUTH.rh_percent, strict=True)]


def body(pattern: str) -> str:
    return "".join(pattern.format(t=t, a=a, b=b, h=t.hour, doy=t.day_of_year, ap="午前" if t.hour < 12 else "午後",
        h12=t.hour % 12)
                   for t, a, b in TABLE)  # fmt: skip


ODD = {
    "AM and PM in a column": "Date,Time,AM/PM,Temp C,RH %\n" + body("{t:%m/%d/%Y},{t:%I:%M:%S},{t:%p},{a},{b}\n"),
    "year last": "Time;Temp C;RH %\n" + body("{t:%a %b %d %H:%M:%S %Y};{a};{b}\n"),
    "header cells with line ends": '"Date\nTime","Temp\n(°C)","RH\n(%)"\n' + body("{t:%Y-%m-%d %H:%M},{a},{b}\n"),
    "hour in a column": "Date,Hour,Temp C,RH %\n" + body("{t:%d/%m/%Y},{h},{a},{b}\n"),
    "hour and minute in one number": "Date,Time,Temp C,RH %\n" + body("{t:%d/%m/%Y},{h}00,{a},{b}\n"),
    "day of the year": "Year,DOY,HHMM,Temp C,RH %\n" + body("{t:%Y},{doy},{t:%H%M},{a},{b}\n"),
    "zone column": "Time,TZ,Temp C,RH %\n" + body("{t:%Y-%m-%d %H:%M},UTC,{a},{b}\n"),
    "framed": "| Time | Temp °C | RH % |\n|---|---|---|\n" + body("| {t:%Y-%m-%d %H:%M} | {a} | {b} |\n"),
    "fixed places": body("{t:%d.%m.%Y}   {t:%H:%M}     {a}     {b}\n"),
    "symbols": "t;ϑ [°C];φ [%]\n" + body("{t:%Y-%m-%d %H:%M};{a};{b}\n"),
    "blanks around all": "time ; Temp ; RH \n" + body("{t:%Y-%m-%d %H:%M} ; {a} ; {b} \n"),
    "half days in japanese": "日時,温度,湿度\n" + body("{t:%Y/%m/%d} {ap}{h12}:{t:%M},{a},{b}\n"),
    "one time a column": "\n".join(
        ",".join(row) for row in (["what", *(f"{t:%Y-%m-%d %H:%M}" for t, _, _ in TABLE)],
                                  ["temp °C", *(a for _, a, _ in TABLE)], ["rh %", *(b for _, _, b in TABLE)])),
    "other decimals in each column": "time;Temp;RH\n" + "".join(
        f"{t:%Y-%m-%d %H:%M};{a.replace('.', ',')};{b}\n" for t, a, b in TABLE),
    "dates once a day": "Date;Time;Temp C;RH %\n" + "".join(
        f"{format(t, '%d.%m.%Y') if t.hour == 0 else ''};{t:%H:%M};{a};{b}\n" for t, a, b in TABLE),
    "value in the names": "time,Temperature value (°C),Humidity value (%)\n" + body("{t:%Y-%m-%d %H:%M},{a},{b}\n"),
    "units in columns": "time,temp,temp_unit,humidity,humidity_unit\n" + body("{t:%Y-%m-%d %H:%M},{a},C,{b},%\n"),
    "end of the interval beside": "Start time,End time,Temp C,RH %\n"
    + body("{t:%Y-%m-%d %H:%M},2024-03-09 10:00,{a},{b}\n"),
    "UTC beside local": "Date,Time,UTC time,Temp C,RH %\n" + body("05/03/2024,10:05,{t:%Y-%m-%d %H:%M},{a},{b}\n"),
    "german short for humidity": "Zeit;T;rF\n" + body("{t:%Y-%m-%d %H:%M};{a};{b}\n"),
    "czech": "Čas;Teplota;Vlhkost\n" + body("{t:%Y-%m-%d %H:%M};{a};{b}\n"),
    "russian": "Дата;Температура;Влажность\n" + body("{t:%d.%m.%Y %H:%M};{a};{b}\n"),
    "thousands in another column": "time,Temp °C,RH %,lux\n" + body('{t:%Y-%m-%d %H:%M},{a},{b},"1,250"\n'),
}  # fmt: skip


@pytest.mark.parametrize("name", ODD)
def test_layouts_seldom_met(tmp_path, name):
    assert_reads(read(write(tmp_path / "a.csv", ODD[name])), TRUTH)


LABELS = {
    "serial": ("Serial number: 10042", "10042"), "german serial": ("Seriennummer;A-17/3", "A-17/3"),
    "name": ("Device name: North store", "North store"),
    "title": ("North store", "North store"),
    "titled": ("Room title: North store", "North store"), "japanese": ("製造番号,A-1234", "A-1234"),
    "french": ("Numéro de série : 77", "77"), "none": ("", None),
    "title with a number": ("Logger 7", "Logger 7"), "words of any logger": ("Messdaten des Geräts", None),
    "who read it out": ("Opérateur: Anne", None), "interval": ("Intervalo: 10 min", None),
    "kanji": ("温湿度データ", None),
}  # fmt: skip


@pytest.mark.parametrize("name", LABELS)
def test_the_loggers_own_label_is_found(tmp_path, name):
    line, label = LABELS[name]
    log = read(
        write(
            tmp_path / "file-name-4711.csv", f"{line}\n\ntime;temp °C;rh %\n" + "\n".join(rows_of(TRUTH, delimiter=";"))
        )
    )
    assert log.label == label


def test_a_serial_number_in_the_column_names_is_the_loggers_and_no_probe(tmp_path):
    head = "Date,Temp °C [S/N: 10042 / PROBE S/N: 930],RH % [S/N: 10042 / PROBE S/N: 930]"
    log = read(write(tmp_path / "a.csv", "\n".join([head, *rows_of(TRUTH)])))
    assert (log.label, log.channels[0].label) == ("10042", "1")


CODES = {
    "before a quantity": ("QRX temp,QRX hum", ["1"]), "in small letters": ("qrx_temp,qrx_hum", ["1"]),
    "in every name": ("T1 WNK,RH1 WNK,T2 WNK,RH2 WNK", ["1", "2"]),
    "of one probe each": ("QRX temp,QRX hum,WNK temp,WNK hum", ["QRX", "WNK"]),
    "two before serial numbers": ("HB S/N 700 °C,HB S/N 700 %,HB S/N 701 °C,HB S/N 701 %", ["1", "2"]),
    "six before serial numbers": ("TURRET S/N 700 °C,TURRET S/N 700 %,TURRET S/N 701 °C,TURRET S/N 701 %", ["1", "2"]),
    "before a place": ("WNK Attic °C,WNK Attic %,WNK Loft °C,WNK Loft %", ["Attic", "Loft"]),
    "before a colon": ("WNK: Attic °C,WNK: Attic %,WNK: Loft °C,WNK: Loft %", ["Attic", "Loft"]),
    "a word before a serial number": ("Temp (Attic S/N: 700),RH (Attic S/N: 700),Temp (Loft S/N: 701),"
                                      "RH (Loft S/N: 701)", ["Attic", "Loft"]),
    "glued to a number": ("QRX31 temp,QRX31 hum", ["QRX31"]),
    "behind a number": ("31qrx temp,31qrx hum", ["31qrx"]),
    "said to be a label": ("Temp (label: Attic; at 2 m),RH (label: Attic; at 2 m)",
                           ["Attic"]), "a short word": ("Loo temp,Loo hum", ["Loo"]),
}  # fmt: skip


@pytest.mark.parametrize("name", CODES)
def test_letter_codes_in_the_column_names_are_no_probes_names_where_all_bear_them(tmp_path, name):
    head, labels = CODES[name]
    truths = [climate(n=60, step="1h", seed=seed) for seed in (1, 2)][: len(labels)]
    more = (
        truths[1:] and [f",{a},{b}" for a, b in zip(truths[1].temp_c, truths[1].rh_percent, strict=True)] or [""] * 60
    )
    rows = [row + end for row, end in zip(rows_of(TRUTH), more, strict=True)]
    assert_reads(read(write(tmp_path / "a.csv", "\n".join([f"time,{head}", *rows]))), truths, labels)


def test_a_letter_code_before_a_quantity_in_its_row_is_no_probes_name(tmp_path):
    rows = [row for t, a, b in TABLE for row in (f"{t:%Y-%m-%d %H:%M},QRX temp,{a}", f"{t:%Y-%m-%d %H:%M},QRX hum,{b}")]
    assert_reads(read(write(tmp_path / "a.csv", "\n".join(["time,quantity,value", *rows]))), TRUTH)


def test_german_compounds_name_their_probes(tmp_path):
    second = climate(n=60, step="1h", seed=2)
    rows = [
        f"{r};{a};{b}" for r, a, b in zip(rows_of(TRUTH, delimiter=";"), second.temp_c, second.rh_percent, strict=True)
    ]
    head = "Zeit;Innentemperatur;Innenfeuchte;Außentemperatur;Außenfeuchte"
    assert_reads(read(write(tmp_path / "a.csv", "\n".join([head, *rows]))), [TRUTH, second], ["Innen", "Außen"])


def test_daily_means_with_a_humidity_called_hr_are_read(tmp_path):
    truth = climate("2024-03-20T00:00Z", 40, "1D")
    rows = rows_of(truth, stamp="%d/%m/%Y")
    log = read(write(tmp_path / "a.csv", "\n".join(["Date,T (°C),HR", *rows]) + "\n"))
    assert_reads(log, truth)
    assert any("without a time of day" in note for note in log.notes)


def test_a_bare_serial_number_in_the_column_names_is_the_loggers_too(tmp_path):
    head = "time,air °C 40551,air %RH 40551"
    log = read(write(tmp_path / "a.csv", "\n".join(["Rack by the door", head, *rows_of(TRUTH)])))
    assert (log.label, log.channels[0].label) == ("40551", "1")


def test_a_probe_without_humidity_is_kept_or_left_out_as_asked(tmp_path):
    rows = [f"{row},{t - 3:.1f}" for row, t in zip(rows_of(TRUTH), TRUTH.temp_c, strict=True)]
    path = write(tmp_path / "a.csv", "\n".join(["time,Temp (°C),RH (%),External temp (°C)", *rows]))
    assert [c.label for c in read(path).channels] == ["1", "External"]
    strict = read(path, need_rh="yes")
    assert_reads(strict, TRUTH)
    assert any("External" in note for note in strict.notes)


def test_the_studios_zone_is_assumed_with_a_note_and_an_answer_wins_over_it(tmp_path):
    path = write(tmp_path / "a.csv", "\n".join(["time,temp °C,rh %", *rows_of(TRUTH, "Europe/Berlin")]))
    log = logs.read(path, now=NOW, zone_default="Europe/Berlin")
    assert_reads(log, TRUTH)
    assert any("studio's zone" in note for note in log.notes)
    told = logs.read(path, Answers(zone="UTC"), now=NOW, zone_default="Europe/Berlin")
    assert told.channels[0].time[0] - log.channels[0].time[0] == 3_600_000_000


def workbook(**sheets) -> bytes:
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def cells(truth: Truth) -> list[list]:
    times = [t.to_pydatetime().replace(tzinfo=None) for t in truth.time]
    return [
        ["Date", "Temp (°C)", "RH (%)"],
        *map(list, zip(times, truth.temp_c.tolist(), truth.rh_percent.tolist(), strict=True)),
    ]


def test_each_sheet_with_readings_is_a_probe_and_the_others_are_named(tmp_path):
    second = climate(n=60, step="1h", seed=2)
    content = workbook(Attic=cells(TRUTH), About=[["made by"], ["the logger"]], Cellar=cells(second))
    log = read(write(tmp_path / "a.xlsx", content))
    assert_reads(log, [TRUTH, second], ["Attic", "Cellar"])
    assert any("About" in note for note in log.notes)


def test_dates_that_a_spreadsheet_has_half_turned_round_are_refused(tmp_path):
    truth = climate("2024-03-10T00:00Z", 120, "1h")
    rows = cells(truth)
    for row in rows[1:]:
        day = row[0].day
        row[0] = row[0].replace(month=day, day=3) if day <= 12 else f"{row[0]:%d/%m/%Y %H:%M}"
    with pytest.raises(BadInput, match="written in two ways"):
        read(write(tmp_path / "a.xlsx", workbook(Data=rows)))


def test_humidity_shown_in_percent_by_the_cells_format_is_percent(tmp_path):
    import openpyxl

    rows = [[*row[:2], row[2] / 100] if i else row for i, row in enumerate(cells(TRUTH))]
    book = openpyxl.load_workbook(io.BytesIO(workbook(Data=rows)))
    for row in book["Data"].iter_rows(min_row=2):
        row[2].number_format = "0.0%"
    book.save(tmp_path / "a.xlsx")
    assert_reads(read(tmp_path / "a.xlsx"), TRUTH)


def test_a_charge_in_percent_is_no_humidity(tmp_path):
    path = write(tmp_path / "a.csv", "\n".join(["time,temp °C,charge %", *rows_of(TRUTH)]))
    assert np.isnan(read(path).channels[0].rh_percent).all()


def test_values_without_a_header_that_could_be_either_are_refused(tmp_path):
    rows = [f"{t:%Y-%m-%d %H:%M},{68 + i % 3}.0,{55 + i % 5}.0" for i, t in enumerate(TRUTH.time)]
    with pytest.raises(BadInput, match="do not settle"):
        read(write(tmp_path / "a.csv", "\n".join(rows)))


def test_whole_numbers_between_commas_without_a_header_are_asked_about(tmp_path):
    rows = [f"{t:%Y-%m-%d %H:%M},19,{i % 9},52,{i % 7}" for i, t in enumerate(TRUTH.time)]
    path = write(tmp_path / "a.csv", "\n".join(rows))
    with pytest.raises(Question) as asked:
        read(path)
    assert asked.value.field == "decimal"
    assert read(path, decimal=",").channels[0].temp_c[3] == 19.3


def test_humidity_between_100_and_the_limit_is_kept(tmp_path):
    rows = [*rows_of(TRUTH), "2024-03-03 13:00:00,18.0,102.6"]
    log = read(write(tmp_path / "a.csv", "\n".join(["time,temp °C,rh %", *rows]) + "\n"), need_rh="yes")
    assert log.channels[0].rh_percent[-1] == 102.6


def test_light_and_dew_point_are_kept_apart(tmp_path):
    dew = air.dew_point(TRUTH.temp_c, TRUTH.rh_percent)
    rows = [f"{row},{d:.1f},120" for row, d in zip(rows_of(TRUTH), dew, strict=True)]
    log = read(write(tmp_path / "a.csv", "\n".join(["time,temp °C,rh %,dew point °C,Light (lux)", *rows])))
    assert set(log.channels[0].others) == {"dew_point_c", "lux"}
    assert log.channels[0].others["lux"].tolist() == [120.0] * 60


def test_temperature_and_humidity_at_different_seconds_are_joined_with_the_nearest(tmp_path):
    out = []
    for t, a, b in TABLE:
        out += [f"{t:%Y-%m-%d %H:%M}:03,temperature,{a}", f"{t:%Y-%m-%d %H:%M}:09,humidity,{b}"]
    log = read(write(tmp_path / "a.csv", "\n".join(["time,quantity,value", *out])))
    np.testing.assert_allclose(log.channels[0].rh_percent, TRUTH.rh_percent)
    assert any("at most 6 s" in note for note in log.notes)
    assert_adds_up(log)


def test_a_humidity_without_a_temperature_is_set_aside(tmp_path):
    out = [
        row for t, a, b in TABLE for row in (f"{t:%Y-%m-%d %H:%M},temperature,{a}", f"{t:%Y-%m-%d %H:%M},humidity,{b}")
    ]
    log = read(
        write(
            tmp_path / "a.csv",
            "\n".join(["time,quantity,value", *out[:10], *out[11:], "2024-03-09 10:00,pressure,1013"]),
        )
    )
    assert log.counts.set_aside == {
        "humidity without a temperature at its time": 1,
        "other quantity without a temperature at its time": 1,
    }
    assert_adds_up(log)


def test_the_big_files_way_and_the_general_way_give_the_same(tmp_path, monkeypatch):
    from envwatch.logs.text import lines as text_lines

    truth = climate(n=3000)
    rows = rows_of(truth, "UTC", "%d.%m.%Y %H:%M", ";", ",")
    rows[500:500] = [
        "",
        "13.03.2024 10:00;;",
        "Mittelwert;19,0;50,0",
        "13.03.2024 10:05;Err;50,0",
        '"13.03.2024 10:07;19,0;50,0',
        "1;2;3;4;5;6",
    ]
    rows.append(rows[-1])
    path = write(tmp_path / "a.csv", "\n".join(["Zeit;Temp °C;RH %", *rows]) + "\n")
    general = read(path)
    monkeypatch.setattr(text_lines, "QUICK_FROM", 0)
    quick = read(path)
    assert quick.counts == general.counts
    assert quick.notes == general.notes
    assert quick.events == general.events
    assert "".join(to_csv(quick)) == "".join(to_csv(general))
    np.testing.assert_array_equal(quick.channels[0].line, general.channels[0].line)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r", "\r\r\n"], ids=["LF", "CRLF", "CR", "CRCRLF"])
@pytest.mark.parametrize("tail", ["", "\x00" * 500, "\x1a"], ids=["clean", "padded", "control Z"])
def test_a_big_file_with_odd_bytes_is_read_all_the_same(tmp_path, monkeypatch, end, tail):
    from envwatch.logs.text import lines as text_lines

    monkeypatch.setattr(text_lines, "QUICK_FROM", 0)
    truth = climate(n=3000)
    rows = rows_of(truth, delimiter=";")
    text = end.join(["\ufefftime;temp °C;rh %", *rows[:1000], "\ufefftime;temp °C;rh %", *rows[1000:]]) + end + tail
    log = read(write(tmp_path / "a.csv", text))
    assert_reads(log, truth)
    line = int(log.channels[0].line[1500])
    assert text.replace("\ufeff", "").replace("\r\r\n", "\n").splitlines()[line - 1] == rows[1500]


def test_an_open_quote_in_a_big_file_swallows_nothing(tmp_path, monkeypatch):
    from envwatch.logs.text import lines as text_lines

    monkeypatch.setattr(text_lines, "QUICK_FROM", 0)
    rows = rows_of(climate(n=2000))
    rows[7] = '"' + rows[7]
    log = read(write(tmp_path / "a.csv", "\n".join(["time,temp °C,rh %", *rows]) + "\n"))
    assert log.counts.data_rows == 2000
    assert log.counts.used >= 1999
