"""The same climate in many layouts is the same climate: languages, encodings, dates, headers, shapes."""

import io
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from logs_layouts import Truth, assert_reads, climate, read, rows_of, write

TRUTH = climate()  # 2024-03-01 00:00 to 2024-03-03 02:00 UTC, every 10 minutes
LONG = climate("2024-03-08T00:00Z", 1500)  # past the twelfth: an impossible month settles the order
SECOND = climate(seed=2)
BERLIN = "Europe/Berlin"


def lines(*head: str, body) -> str:
    return "\n".join([*head, *body]) + "\n"


def local(truth: Truth, zone: str, stamp: str) -> list[str]:
    return list(truth.time.tz_convert(zone).strftime(stamp))


def values(truth: Truth, decimal: str = ".") -> list[tuple[str, str]]:
    return [
        (f"{a:.1f}".replace(".", decimal), f"{b:.1f}".replace(".", decimal))
        for a, b in zip(truth.temp_c, truth.rh_percent, strict=True)
    ]


def table(truth: Truth, pattern: str, stamps=None, decimal: str = ".") -> list[str]:
    """One line a reading; the pattern takes n (from 1), t (stamp), a (temperature), b (humidity)."""
    stamps = stamps if stamps is not None else local(truth, "UTC", "%Y-%m-%d %H:%M:%S")
    rows = zip(stamps, values(truth, decimal), strict=True)
    return [pattern.format(n=n, t=t, a=a, b=b) for n, (t, (a, b)) in enumerate(rows, 1)]


HEADERS = {
    "english": ("Date/Time", "Temperature (°C)", "Relative Humidity (%)"),
    "english short": ("Timestamp", "Temp", "RH"),
    "english camel": ("timeStamp", "airTempC", "relHumidity"),
    "english units": ("Time", "T [degC]", "RH [%]"),
    "german": ("Datum/Uhrzeit", "Temperatur [°C]", "rel. Luftfeuchte [%]"),
    "german short": ("Zeit", "T in °C", "% r.F."),
    "german humidity": ("Zeitstempel", "Lufttemperatur °C", "Relative Feuchtigkeit %"),
    "french": ("Date et heure", "Température (°C)", "Humidité relative (%)"),
    "french short": ("Horodatage", "Temp. (°C)", "HR (%)"),
    "spanish": ("Fecha y hora", "Temperatura (°C)", "Humedad relativa (%)"),
    "portuguese": ("Data e hora", "Temperatura (°C)", "Umidade relativa (%)"),
    "portuguese of europe": ("Data/Hora", "Temperatura (ºC)", "Humidade relativa (%)"),
    "italian": ("Data e ora", "Temperatura (°C)", "Umidità relativa (%)"),
    "italian short": ("Data ora", "Temp.", "U.R. %"),
    "dutch": ("Datum en tijd", "Temperatuur (°C)", "Relatieve vochtigheid (%)"),
    "dutch points": ("Tijdstip", "Temp [°C]", "R.V."),
    "dutch short": ("Tijdstip", "Temp [°C]", "RV [%]"),
    "japanese": ("日時", "温度(℃)", "湿度(%RH)"),
    "japanese kana": ("タイムスタンプ 日時", "センサ温度(℃)", "センサ湿度(%RH)"),
    "japanese air": ("測定日時", "気温[℃]", "相対湿度[％]"),
    "chinese": ("时间", "温度(°C)", "湿度(%RH)"),
    "chinese long": ("记录时间", "温度 ℃", "相对湿度 %"),
    "chinese traditional": ("日期時間", "溫度(℃)", "濕度(%)"),
}


@pytest.mark.parametrize("name", HEADERS)
@pytest.mark.parametrize("delimiter", [",", ";", "\t"], ids=["comma", "semicolon", "tab"])
def test_headers_are_understood_in_nine_languages(tmp_path, name, delimiter):
    path = write(tmp_path / "a.csv", lines(delimiter.join(HEADERS[name]), body=rows_of(TRUTH, delimiter=delimiter)))
    assert_reads(read(path), TRUTH)


ENCODINGS = [
    ("english", "utf-8-sig"), ("english", "utf-16"), ("german", "cp1252"), ("german", "utf-16-le"), ("german",
        "mac_roman"),
    ("german", "utf-16-be"), ("french", "cp1252"), ("french", "latin-1"), ("italian", "cp1252"), ("spanish", "cp850"),
    ("japanese", "cp932"), ("japanese kana", "cp932"), ("japanese", "euc_jp"), ("japanese", "utf-16"),
    ("chinese", "gb18030"), ("chinese long",
        "gbk"),
    ("chinese traditional", "big5"), ("portuguese of europe", "cp1252"), ("german", "utf-32"), ("french", "mac_roman"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "encoding"), ENCODINGS)
def test_encodings_are_told_apart(tmp_path, name, encoding):
    text = lines(
        ";".join(HEADERS[name]).replace("℃", "°C" if encoding == "big5x" else "℃"), body=rows_of(TRUTH, delimiter=";")
    )
    log = read(write(tmp_path / "a.csv", text, encoding))
    assert_reads(log, TRUTH)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r", "\r\r\n"], ids=["LF", "CRLF", "CR", "CRCRLF"])
@pytest.mark.parametrize("last", [True, False], ids=["ended", "open"])
def test_all_kinds_of_line_ends(tmp_path, end, last):
    text = end.join(["time;temp °C;rh %", *rows_of(TRUTH, delimiter=";")]) + (end if last else "")
    assert_reads(read(write(tmp_path / "a.csv", text)), TRUTH)


STAMPS = {
    "iso": "%Y-%m-%dT%H:%M:%S", "iso minutes": "%Y-%m-%d %H:%M", "iso slashes": "%Y/%m/%d %H:%M:%S",
    "day first dots": "%d.%m.%Y %H:%M:%S", "day first slashes": "%d/%m/%Y %H:%M", "month first": "%m/%d/%Y %H:%M:%S",
    "day first dashes": "%d-%m-%Y %H:%M", "month first dashes": "%m-%d-%Y %H:%M", "two digit year": "%d.%m.%y %H:%M",
    "two digit year first": "%y.%m.%d %H:%M", "two digit slashes": "%m/%d/%y %H:%M",
    "month first am pm": "%m/%d/%Y %I:%M:%S %p",
    "two digit am pm": "%m/%d/%y %I:%M:%S %p", "day first am pm": "%d/%m/%Y %I:%M %p",
    "month name": "%d %b %Y %H:%M:%S",
    "month name dashes": "%d-%b-%y %H:%M", "us month name": "%b %d, %Y %H:%M", "compact": "%Y%m%d %H%M",
    "compact T": "%Y%m%dT%H%M%S", "compact all": "%Y%m%d%H%M%S", "dotted time": "%d.%m.%Y %H.%M", "h": "%d/%m/%Y %Hh%M",
    "month name within": "%Y-%b-%d %H:%M", "blanks within": "%Y %m %d %H:%M",
    "cjk": "%Y年%m月%d日 %H时%M分%S秒", "japanese": "%Y年%m月%d日 %H:%M",
    "weekday": "%a %d %b %Y %H:%M:%S", "day of the year": "%Y-%j %H:%M", "time first": "%H:%M:%S %d/%m/%Y",
    "comma between": "%d.%m.%Y, %H:%M", "underscore": "%Y-%m-%d_%H:%M:%S", "spaced dots": "%d. %m. %Y %H:%M",
    "single am pm dots": "%d/%m/%Y %I:%M:%S a. m.",
}  # fmt: skip


@pytest.mark.parametrize("name", STAMPS)
@pytest.mark.parametrize("truth", [TRUTH, LONG], ids=["three days", "ten days"])
def test_ways_to_write_a_time(tmp_path, name, truth):
    stamps = local(truth, "UTC", STAMPS[name])
    if STAMPS[name].endswith("a. m."):
        hours = truth.time.hour
        stamps = [s.replace("a. m.", "p. m." if h >= 12 else "a. m.") for s, h in zip(stamps, hours, strict=True)]
    path = write(tmp_path / "a.csv", lines("time;temp °C;rh %", body=table(truth, "{t};{a};{b}", stamps)))
    assert_reads(read(path), truth)


@pytest.mark.parametrize("name", ["day first dots", "month first", "two digit am pm", "dotted time", "iso"])
def test_times_without_leading_zeros(tmp_path, name):
    stamps = [
        s.replace("/0", "/").replace(".0", ".").lstrip("0").replace(" 0", " ", 1) if name != "iso" else s
        for s in local(LONG, "UTC", STAMPS[name])
    ]
    path = write(tmp_path / "a.csv", lines("time;temp °C;rh %", body=table(LONG, "{t};{a};{b}", stamps)))
    if name == "dotted time":  # 10.5 may be five or fifty minutes: only whole pairs are times
        return
    assert_reads(read(path), LONG)


MONTHS = {
    "de": ("Februar", "März"), "fr": ("févr.", "mars"), "es": ("febrero", "marzo"), "it": ("febbraio", "marzo"),
    "nl": ("februari", "maart"),
    "pt": ("fevereiro", "março"), "de short": ("Feb", "Mrz"), "nl short": ("feb", "mrt"), "es of": ("de feb de",
        "de mar de"),
}  # fmt: skip


@pytest.mark.parametrize("language", MONTHS)
def test_month_names_in_other_languages(tmp_path, language):
    truth = climate("2024-02-28T00:00Z", 600)
    names = MONTHS[language]
    stamps = [f"{t.day} {names[t.month - 2]} {t.year} {t:%H:%M}" for t in truth.time]
    assert_reads(
        read(write(tmp_path / "a.csv", lines("t;temp °C;rh %", body=table(truth, "{t};{a};{b}", stamps)))), truth
    )


def test_epoch_numbers_and_spreadsheet_days(tmp_path):
    seconds = TRUTH.time.as_unit("s").asi8
    for stamps, zone in (
        (seconds.astype(str), None), ((seconds * 1000).astype(str), None), ((seconds * 1000 + 500).astype(str), None),
        ([f"{s}.0" for s in seconds], None), ([f"{s / 86400 + 25569:.6f}" for s in seconds], "UTC"),
    ):  # fmt: skip
        log = read(
            write(tmp_path / "a.csv", lines("time,temp °C,rh %", body=table(TRUTH, "{t},{a},{b}", stamps))), zone
        )
        late = 500_000 if str(stamps[0]).endswith("500") else 0
        np.testing.assert_array_equal(log.channels[0].time, TRUTH.time.as_unit("us").asi8 + late)


def test_fractions_of_a_second_are_kept(tmp_path):
    truth = climate(n=200, step="250ms")
    for mark in (".", ","):
        stamps = [f"{t:%Y-%m-%d %H:%M:%S}{mark}{t.microsecond // 1000:03d}" for t in truth.time]
        assert_reads(
            read(write(tmp_path / "a.csv", lines("t;temp °C;rh %", body=table(truth, "{t};{a};{b}", stamps)))), truth
        )


SPLIT = {
    "date and time": ("Date,Time,Temp (°C),RH (%)", "%d/%m/%Y,%H:%M:%S"),
    "time and date": ("Time,Date,Temp (°C),RH (%)", "%H:%M:%S,%Y-%m-%d"),
    "german": ("Datum,Zeit,Temp (°C),Feuchte (%)", "%d.%m.%Y,%H:%M"),
    "am pm": ("Date,Time,Temp (°C),RH (%)", "%m/%d/%y,%I:%M:%S %p"),
    "parts": ("Year,Month,Day,Hour,Minute,Temp (°C),RH (%)", "%Y,%m,%d,%H,%M"),
    "german parts": ("Jahr,Monat,Tag,Stunde,Minute,Temp (°C),Feuchte (%)", "%Y,%m,%d,%H,%M"),
    "minutes with a prime": ("Date,Time,Temp (°C),RH (%)", "%d/%m/%Y,%Hh%M'%S"),
    "date at midnight": ("Date,Time,Temp (°C),RH (%)", "%Y-%m-%d 00:00:00,%H:%M:%S"),
    "one name over two": ("Date/Time,Temp (°C),RH (%)", "%Y-%m-%d,%H:%M:%S"),
    "compact": ("Date,Time,Temp (°C),RH (%)", "%Y%m%d,%H:%M"),
    "day first two digits": ("fecha,hora,temperatura C,humedad %", "%d/%m/%y,%H:%M"),
}  # fmt: skip


@pytest.mark.parametrize("name", SPLIT)
def test_date_and_time_in_columns_of_their_own(tmp_path, name):
    head, stamp = SPLIT[name]
    assert_reads(read(write(tmp_path / "a.csv", lines(head, body=rows_of(LONG, stamp=stamp)))), LONG)


OFFSETS = {
    "Z in the rows": ("time", "%Y-%m-%dT%H:%M:%SZ", "UTC"),
    "offset in the rows": ("time", "%Y-%m-%dT%H:%M:%S+05:30", "Asia/Kolkata"),
    "short offset": ("time", "%Y-%m-%d %H:%M:%S+0530", "Asia/Kolkata"),
    "spaced offset": ("time", "%Y-%m-%d %H:%M:%S +05:30", "Asia/Kolkata"),
    "UTC and an offset in the rows": ("time", "%Y-%m-%d %H:%M:%S UTC-07:00", "Etc/GMT+7"),
    "abbreviation": ("time", "%Y-%m-%d %H:%M:%S CET", "Etc/GMT-1"),
    "UTC in the rows": ("time", "%d.%m.%Y %H:%M:%S UTC", "UTC"),
    "header": ("Read at (UTC-7 all year)", "%m/%d/%y %I:%M:%S %p", "Etc/GMT+7"),
    "header utc": ("t_UTC+2", "%Y-%m-%d %H:%M:%S", "Etc/GMT-2"),
    "header bare utc": ("Timestamp (UTC)", "%Y-%m-%d %H:%M:%S", "UTC"),
    "header abbreviation": ("Zeit (MESZ)", "%d.%m.%Y %H:%M", "Etc/GMT-2"),
    "header typographic minus": ("Read at UTC−07:00", "%Y-%m-%d %H:%M", "Etc/GMT+7"),
    "bracketed zone": ("time", "%Y-%m-%dT%H:%M:%S+01:00[Europe/Berlin]", "Etc/GMT-1"),
}  # fmt: skip


@pytest.mark.parametrize("name", OFFSETS)
@pytest.mark.parametrize("told", [None, "America/New_York"])
def test_an_offset_in_the_file_needs_no_zone_and_wins_over_one(tmp_path, name, told):
    head, stamp, zone = OFFSETS[name]
    body = table(LONG, '"{t}",{a},{b}', local(LONG, zone, stamp))
    log = read(write(tmp_path / "a.csv", lines(f'"{head}",Temp (°C),RH (%)', body=body)), told)
    assert_reads(log, LONG)
    assert (told is None) != any("America/New_York" in note for note in log.notes)


@pytest.mark.parametrize(
    "line",
    ["Time zone: UTC+01:00", "Zeitzone;GMT+1", "Timezone,Etc/GMT-1", "UTC offset: +01:00", "All times are GMT+1"],
)
def test_an_offset_in_the_preamble_counts(tmp_path, line):
    body = rows_of(LONG, "Etc/GMT-1", "%d.%m.%Y %H:%M:%S", ";")
    assert_reads(
        read(write(tmp_path / "a.csv", lines("Logger 7", line, "", "Zeit;Temp °C;RH %", body=body)), None), LONG
    )


WIDE = {
    "event columns": ("Row,Date,Temp (°C),RH (%),Lid opened,Button,Remark", "{n},{t},{a},{b},,,"),
    "trailing delimiter": ("Date,Temp (°C),RH (%),", "{t},{a},{b},"),
    "trailing delimiter in the rows only": ("Date,Temp (°C),RH (%)", "{t},{a},{b},"),
    "trailing delimiters in the header only": ("Date,Temp (°C),RH (%),,", "{t},{a},{b}"),
    "row number without a name": ("Date,Temp (°C),RH (%)", "{n},{t},{a},{b}"),
    "row number with a sign": ("#,Date,Temp (°C),RH (%)", "{n},{t},{a},{b}"),
    "header as comment": ("# Date,Temp (°C),RH (%)", "{t},{a},{b}"),
    "header semicolon rows comma": ("Date;Temp (°C);RH (%)", "{t},{a},{b}"),
    "humidity first": ("Date,RH (%),Temp (°C)", "{t},{b},{a}"),
    "time last": ("Temp (°C),RH (%),Date", "{a},{b},{t}"),
    "quoted": ('"Date","Temp (°C)","RH (%)"', '"{t}","{a}","{b}"'),
    "single quotes": ("'Date','Temp (°C)','RH (%)'", "'{t}','{a}','{b}'"),
    "lines quoted whole": ('"Date,Temp (°C),RH (%)"', '"{t},{a},{b}"'),
    "comma and blank": ("Date, Temp (°C), RH (%)", "{t}, {a}, {b}"),
    "units in the cells": ("Date,Temp,RH", "{t},{a}°C,{b}%"),
    "units in the cells with blanks": ("Date,Temp,RH", "{t},{a} °C,{b} %RH"),
    "star for degree": ("Date,Temp (*C),RH (%)", "{t},{a}*C,{b}%"),
    "battery and signal": ("Date,Battery (%),Temp (°C),RH (%),RSSI (dBm),Volt (V)", "{t},98,{a},{b},-71,3.6"),
    "dew point": ("Date,Dew Point (°C),Temp (°C),RH (%)", "{t},9.3,{a},{b}"),
    "light and carbon dioxide": ("Date,Temp (°C),RH (%),Light (lux),CO2 (ppm),Pressure (hPa)",
        "{t},{a},{b},120,640,1013.2"),
    "absolute humidity": ("Date,Absolute Humidity (g/m3),Temperature (°C),Relative Humidity (%)", "{t},8.5,{a},{b}"),
    "units row": ("Date,Temperature,Humidity\n,°C,%", "{t},{a},{b}"),
    "units row with a format": ("Date,Temperature,Humidity\nyyyy-mm-dd hh:mm:ss,°C,%RH", "{t},{a},{b}"),
    "three header rows": ("When,Air,RH\nUTC,degrees C,%\n,mean,mean", '"{t}",{a},{b}'),
    "a line above and two below": ("north shelf,,,\nMoment,Air temp,Air RH,Row\nday and hour,degrees C,%,\n"
                                   ",mean,mean,counted", "{t},{a},{b},{n}"),
    "sep line": ("sep=,\nDate,Temp (°C),RH (%)", "{t},{a},{b}"),
    "statistics": ("Date,Temp min (°C),Temp avg (°C),Temp max (°C),RH (%)", "{t},1.0,{a},39.0,{b}"),
    "alarm limits": ("Date,Temp (°C),RH (%),Alarm Temp high,Alarm RH high", "{t},{a},{b},30.0,70.0"),
    "both units": ("Date,Temp (°F),Temp (°C),RH (%)", "{t},66.0,{a},{b}"),
    "no header": ("", "{t},{a},{b}"),
    "no header with number": ("", "{n},{t},{a},{b}"),
    "unknown names but units": ("Date,X (°C),Y (%)", "{t},{a},{b}"),
    "bar": ("Date|Temp (°C)|RH (%)", "{t}|{a}|{b}"),
    "bar framed": ("|Date|Temp (°C)|RH (%)|", "|{t}|{a}|{b}|"),
    "blank": ("Date Time Temp RH", "{t} {a} {b}"),
    "wide blanks": ("Date                Temp    RH", "{t}   {a}   {b}"),
    "equals quoted": ("Date,Temp (°C),RH (%)", '"{t}","=""{a}""","=""{b}"""'),
    "quality flags": ("Date,Temp (°C),Temp flag,RH (%),RH flag", "{t},{a},ok,{b},ok"),
    "serial in the column": ("Date,Temp °C (S/N: 1004243),RH % (S/N: 1004243)", "{t},{a},{b}"),
    "celsius in words": ("Date,Temperature Celsius,Humidity percent", "{t},{a},{b}"),
    "underscores": ("date_time,temperature_c,humidity_pct", "{t},{a},{b}"),
    "broken degree sign": ("Date,Temperature (?C),Humidity (%)", "{t},{a},{b}"),
    "mojibake": ("Date,Temperature (Â°C),Humidity (%)", "{t},{a},{b}"),
    "elapsed beside": ("Elapsed,Date,Temp (°C),RH (%)", "{n},{t},{a},{b}"),
    "plus signs": ("Date,Temp (°C),RH (%)", "{t},+{a},{b}"),
    "two stamps": ("Received (UTC),Temp (°C),RH (%),Sent", "{t},{a},{b},2024-03-01T09:00:00"),
}  # fmt: skip


@pytest.mark.parametrize("name", WIDE)
def test_ways_to_lay_out_the_columns(tmp_path, name):
    head, pattern = WIDE[name]
    log = read(write(tmp_path / "a.csv", lines(*head.split("\n") if head else (), body=table(TRUTH, pattern))))
    assert_reads(log, TRUTH)


@pytest.mark.parametrize("pattern", ["{t};{a};{b}", '{t},"{a}","{b}"', "{t}\t{a}\t{b}", "{t} °;{a} °C;{b} %"])
def test_decimal_commas_behind_any_delimiter(tmp_path, pattern):
    head = (
        pattern.replace(" °", "")
        .replace("{t}", "Zeit")
        .replace("{a}", "Temp °C")
        .replace("{b}", "RH %")
        .replace("C C", "C")
    )
    body = table(TRUTH, pattern.replace(" °;", ";"), decimal=",")
    assert_reads(read(write(tmp_path / "a.csv", lines(head.replace("% %", "%"), body=body))), TRUTH)


def test_unquoted_decimal_commas_between_commas_are_paired_by_the_header(tmp_path):
    path = write(tmp_path / "a.csv", lines("time,temp °C,rh %", body=table(TRUTH, "{t},{a},{b}", decimal=",")))
    log = read(path)
    assert_reads(log, TRUTH)
    assert any("two fields were read as one number" in note for note in log.notes)


PREAMBLES = {
    "none": (), "title": ("North store",), "many": tuple(f"Line {i} of the preamble, with a comma" for i in range(60)),
    "padded": ("Serial number,10042,,", "Interval,10 min,,", "Started,2024-03-01 00:00:00,,", ",,,"),
    "dated": ("Start,2024-03-01 00:00:00,600", "End,2024-03-03 02:00:00,600", ""),
    "key and value": ("Logger: 10042", "Start: 01.03.2024 00:00", "Readings: 300", "Min: 17.2 Max: 22.9", "-----"),
    "summary table": ("Channel,Min,Max,Avg", "Temp,17.2,22.9,19.0", "RH,45,59,52", ""),
    "comments": ("# made by the logger", "# 2024-03-05", "#"),
    "blank lines": ("", "", "", "Logger 10042", "", ""),
}  # fmt: skip


@pytest.mark.parametrize("name", PREAMBLES)
def test_preambles_of_any_length(tmp_path, name):
    log = read(write(tmp_path / "a.csv", lines(*PREAMBLES[name], "Date,Temp (°C),RH (%)", body=rows_of(TRUTH))))
    assert_reads(log, TRUTH)


PROBES = {
    "numbered": ("Date,T1 (°C),RH1 (%),T2 (°C),RH2 (%)", "{t},{a},{b},{c},{d}", ("1", "2")),
    "named": ("Date,Attic Temp (°C),Attic RH (%),Cellar Temp (°C),Cellar RH (%)", "{t},{a},{b},{c},{d}", ("Attic",
        "Cellar")),
    "grouped": ("Date,Temp Attic,Temp Cellar,RH Attic,RH Cellar", "{t},{a},{c},{b},{d}", ("Attic", "Cellar")),
    "same names": ("Date,Temp (°C),RH (%),Temp (°C),RH (%)", "{t},{a},{b},{c},{d}", ("1", "2")),
    "label": ("Date,Temp °C [label: Attic],RH % [label: Attic],Temp °C [label: Cellar],RH % [label: Cellar]",
              "{t},{a},{b},{c},{d}", ("Attic", "Cellar")),
    "two rows": (",Attic,,Cellar,\nDate,Temp (°C),RH (%),Temp (°C),RH (%)", "{t},{a},{b},{c},{d}", ("Attic", "Cellar")),
    "in and out": ("Date,Indoor temperature,Indoor humidity,Outdoor temperature,Outdoor humidity",
        "{t},{a},{b},{c},{d}", ("Indoor", "Outdoor")),
    "german": ("Datum;Temperatur Kanal 1;Feuchte Kanal 1;Temperatur Kanal 2;Feuchte Kanal 2", "{t};{a};{b};{c};{d}",
        ("Kanal 1", "Kanal 2")),
    "hyphen": ("Date,Store-A Temp,Store-A RH,Store-B Temp,Store-B RH", "{t},{a},{b},{c},{d}", ("Store-A", "Store-B")),
    "unit only": ("Date,Attic °C,Attic %,Cellar °C,Cellar %", "{t},{a},{b},{c},{d}", ("Attic", "Cellar")),
    "shuffled": ("Date,RH Cellar,Temp Attic,RH Attic,Temp Cellar", "{t},{d},{a},{b},{c}", ("Attic", "Cellar")),
}  # fmt: skip


@pytest.mark.parametrize("name", PROBES)
def test_several_probes_side_by_side(tmp_path, name):
    head, pattern, labels = PROBES[name]
    rows = zip(local(TRUTH, "UTC", "%Y-%m-%d %H:%M:%S"), values(TRUTH), values(SECOND), strict=True)
    body = [pattern.format(t=t, a=a, b=b, c=c, d=d) for t, (a, b), (c, d) in rows]
    assert_reads(read(write(tmp_path / "a.csv", lines(*head.split("\n"), body=body))), [TRUTH, SECOND], labels)


TIDY = {
    "sensor column": ("Date,Sensor,Temp (°C),RH (%)", "{t},{p},{a},{b}"),
    "room column last": ("Date,Temp (°C),RH (%),Room", "{t},{a},{b},{p}"),
    "german": ("Standort,Datum,Temperatur,Feuchte", "{p},{t},{a},{b}"),
    "sensor first": ("sensor_id,timestamp,temperature,humidity", "{p},{t},{a},{b}"),
}  # fmt: skip


@pytest.mark.parametrize("name", TIDY)
@pytest.mark.parametrize("blocks", [False, True], ids=["interleaved", "one after the other"])
@pytest.mark.parametrize("labels", [("Attic", "Cellar"), ("1", "2")])
def test_one_probe_a_row_named_in_a_column(tmp_path, name, blocks, labels):
    head, pattern = TIDY[name]
    stamps = local(TRUTH, "UTC", "%Y-%m-%d %H:%M:%S")
    each = [[pattern.format(t=t, p=p, a=a, b=b) for t, (a, b) in zip(stamps, values(truth), strict=True)]
            for p, truth in zip(labels, (TRUTH, SECOND), strict=True)]  # fmt: skip
    body = each[0] + each[1] if blocks else [row for pair in zip(*each, strict=True) for row in pair]
    assert_reads(read(write(tmp_path / "a.csv", lines(head, body=body))), [TRUTH, SECOND], labels)


LONG_SHAPES = {
    "parameter": ("time,parameter,value", "{t},{q},{v}", ("temperature", "humidity")),
    "with unit": ("time,parameter,value,unit", "{t},{q},{v},{u}", ("temperature", "relative humidity")),
    "german": ("Zeit;Messgröße;Wert;Einheit", "{t};{q};{v};{u}", ("Temperatur", "rel. Feuchte")),
    "french": ("date;grandeur;valeur", "{t};{q};{v}", ("Température", "Humidité")),
    "short codes": ("time,variable,value", "{t},{q},{v}", ("T", "RH")),
    "time last": ("of what,reading,read at", "{q},{v},{t}", ("room_temperature", "room_humidity")),
    "no header": ("", "{t},{q},{v}", ("temperature", "humidity")),
}  # fmt: skip


@pytest.mark.parametrize("name", LONG_SHAPES)
def test_one_quantity_a_row(tmp_path, name):
    head, pattern, names = LONG_SHAPES[name]
    body = []
    for t, (a, b) in zip(local(TRUTH, "UTC", "%Y-%m-%d %H:%M:%S"), values(TRUTH), strict=True):
        body += [pattern.format(t=t, q=q, v=v, u=u) for q, v, u in zip(names, (a, b), ("°C", "%"), strict=True)]
    log = read(write(tmp_path / "a.csv", lines(*(head,) if head else (), body=body)))
    assert_reads(log, TRUTH)
    assert log.counts.data_rows == log.counts.used == 2 * len(TRUTH.time)


def test_one_quantity_a_row_with_two_rooms(tmp_path):
    body = []
    for i, t in enumerate(local(TRUTH, "UTC", "%Y-%m-%d %H:%M:%S")):
        for room, truth in (("Attic", TRUTH), ("Cellar", SECOND)):
            body += [f"{t},{room},temperature,{truth.temp_c[i]:.1f}", f"{t},{room},humidity,{truth.rh_percent[i]:.1f}"]
    log = read(write(tmp_path / "a.csv", lines("time,room,quantity,value", body=body)))
    assert_reads(log, [TRUTH, SECOND], ("Attic", "Cellar"))


@pytest.mark.parametrize("shuffle", ["newest first", "two halves swapped"])
def test_any_order_of_rows_gives_time_order(tmp_path, shuffle):
    rows = rows_of(TRUTH)
    rows = rows[::-1] if shuffle == "newest first" else rows[150:] + rows[:150]
    assert_reads(read(write(tmp_path / "a.csv", lines("time,temp °C,rh %", body=rows))), TRUTH)


UNITS = {
    "F in the header": ("Temp (°F)", lambda t: f"{t * 1.8 + 32:.2f}"), "F in the cells": ("Temp",
        lambda t: f"{t * 1.8 + 32:.2f} °F"),
    "F by its values": ("Temp", lambda t: f"{t * 1.8 + 32:.2f}"), "F bare": ("temp_f", lambda t: f"{t * 1.8 + 32:.2f}"),
    "K in the header": ("Temp [K]", lambda t: f"{t + 273.15:.2f}"), "K by its values": ("Temp",
        lambda t: f"{t + 273.15:.2f}"),
    "degrees kelvin": ("Temp (deg K)", lambda t: f"{t + 273.15:.2f}"),
    "degF": ("Temperature degF", lambda t: f"{t * 1.8 + 32:.2f}"), "Fahrenheit": ("Temperature Fahrenheit",
        lambda t: f"{t * 1.8 + 32:.2f}"),
}  # fmt: skip


@pytest.mark.parametrize("name", UNITS)
def test_fahrenheit_and_kelvin_become_celsius(tmp_path, name):
    head, shown = UNITS[name]
    stamps = local(TRUTH, "UTC", "%Y-%m-%d %H:%M:%S")
    body = [f"{t},{shown(a)},{b:.1f}" for t, a, b in zip(stamps, TRUTH.temp_c, TRUTH.rh_percent, strict=True)]
    assert_reads(read(write(tmp_path / "a.csv", lines(f"time,{head},RH (%)", body=body))), TRUTH, tolerance=0.006)


@pytest.mark.parametrize("head", ["RH", "RH (0-1)", "Relative humidity (fraction)", "RH (%)"])
def test_fractions_become_percent(tmp_path, head):
    stamps = local(TRUTH, "UTC", "%Y-%m-%d %H:%M:%S")
    body = [f"{t},{a:.1f},{b / 100:.3f}" for t, a, b in zip(stamps, TRUTH.temp_c, TRUTH.rh_percent, strict=True)]
    assert_reads(read(write(tmp_path / "a.csv", lines(f"time,temp °C,{head}", body=body))), TRUTH)


def workbook(rows, title: str = "Data") -> bytes:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = title
    for row in rows:
        sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_a_workbook_is_read(tmp_path):
    times = [t.to_pydatetime().replace(tzinfo=None) for t in TRUTH.time]
    rows = [
        ["Logger 10042"],
        [],
        ["Date", "Temp (°C)", "RH (%)"],
        *zip(times, TRUTH.temp_c.tolist(), TRUTH.rh_percent.tolist(), strict=True),
    ]
    log = read(write(tmp_path / "a.xlsx", workbook(rows)))
    assert_reads(log, TRUTH)
    assert (log.layout.encoding, log.label) == ("xlsx", "Logger 10042")


def test_a_workbook_with_texts_and_split_times_is_read(tmp_path):
    texts = [
        [t, a.replace(".", ","), b.replace(".", ",")]
        for t, (a, b) in zip(local(LONG, "UTC", "%d.%m.%Y %H:%M"), values(LONG), strict=True)
    ]
    assert_reads(read(write(tmp_path / "a.xlsx", workbook([["Zeit", "Temp °C", "RH %"], *texts]))), LONG)
    moments = [t.to_pydatetime().replace(tzinfo=None) for t in TRUTH.time]
    split = [
        [m.replace(hour=0, minute=0), m.time(), a, b]
        for m, a, b in zip(moments, TRUTH.temp_c.tolist(), TRUTH.rh_percent.tolist(), strict=True)
    ]
    assert_reads(read(write(tmp_path / "b.xlsx", workbook([["Date", "Time", "Temp °C", "RH %"], *split]))), TRUTH)


def test_every_step_of_the_invented_climates_is_ten_minutes():
    for truth in (TRUTH, LONG):
        assert {b - a for a, b in pairwise(truth.time)} == {pd.Timedelta(minutes=10)}
