"""Faulty rows and hostile files: every data row is counted once, and what cannot be read is refused in one line."""

import io
import os
import time
import zipfile

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from logs_layouts import NOW, Truth, assert_adds_up, assert_reads, climate, read, rows_of, write

from envwatch import logs
from envwatch.core.errors import BadInput, EnvwatchError, Question
from envwatch.logs import Answers, to_csv

TRUTH = climate(n=200)
HEAD = "time;temp °C;rh %"
ROWS = rows_of(TRUTH, delimiter=";")


def file(tmp_path, rows, head: str = HEAD, end: str = "\n"):
    return write(tmp_path / "a.csv", "\n".join([head, *rows]) + end)


def with_row(row: str, at: int = 100) -> list[str]:
    return [*ROWS[:at], row, *ROWS[at:]]


ASIDE = {
    "empty cells": ("2024-03-02 20:05:00;;", "missing value"), "no humidity": ("2024-03-02 20:05:00;19.0;",
        "missing value"),
    "words for nothing": ("2024-03-02 20:05:00;n/a;---", "missing value"), "short row": ("2024-03-02 20:05:00",
        "missing value"),
    "error word": ("2024-03-02 20:05:00;Err;50.0", "error code"), "minus 200": ("2024-03-02 20:05:00;-200;50.0",
        "error code"),
    "9999": ("2024-03-02 20:05:00;9999;9999", "error code"), "850": ("2024-03-02 20:05:00;850.0;50.0", "error code"),
    "6553.5": ("2024-03-02 20:05:00;19.0;6553.5", "error code"), "inf": ("2024-03-02 20:05:00;inf;50", "error code"),
    "overload": ("2024-03-02 20:05:00;OL;50", "error code"), "formula error": ("2024-03-02 20:05:00;#DIV/0!;50",
        "error code"),
    "minus 127": ("2024-03-02 20:05:00;-127.0;50", "error code"), "huge": ("2024-03-02 20:05:00;1e308;50",
        "unreadable value"),
    "underscore": ("2024-03-02 20:05:00;1_000;50", "unreadable value"), "word": ("2024-03-02 20:05:00;hello;50",
        "unreadable value"),
    "bad date": ("2024-02-31 20:05:00;19.0;50.0", "unreadable time"), "bad time": ("2024-03-02 25:05:00;19.0;50.0",
        "unreadable time"),
    "no time": (";19.0;50.0", "no time"), "glued": ("2024-03-02 20:05:00;19.0;87.02023-01-25T10:00:00;19.1;50.1",
        "records run together"),
    "too many fields": ("2024-03-02 20:05:00;19.0;50.0;1;2;3", "too many fields"),
    "NUL inside": ("2024-03-0\x002 20:05:00;19.0;50.0", "damaged: NUL bytes"),
}  # fmt: skip


@pytest.mark.parametrize("name", ASIDE)
def test_a_row_that_cannot_be_used_is_set_aside_with_its_reason(tmp_path, name):
    row, reason = ASIDE[name]
    log = read(file(tmp_path, with_row(row)), need_rh="yes")
    assert_reads(log, TRUTH)
    assert dict(log.counts.set_aside) == {reason: 1}
    assert log.counts.data_rows == 201


def test_a_temperature_without_humidity_is_kept_where_humidity_is_not_needed(tmp_path):
    log = read(file(tmp_path, with_row("2024-03-02 20:05:00;19.0;")))
    assert log.counts.used == 201
    assert np.isnan(log.channels[0].rh_percent).sum() == 1
    assert "".join(to_csv(log)).count(",\n") == 1


NO_ROWS = {
    "blank": "", "spaces": "   ", "delimiters": ";;", "average": "Average;19.0;50.1", "end": "End of data",
    "comment": "# restarted here",
    "minimum": "Min;17.0;45.0", "sum line": "Readings: 200", "rule": "-----", "repeated header": HEAD,
    "german": "Mittelwert;19,0;50,1",
    "control Z": "\x1a",
}  # fmt: skip


@pytest.mark.parametrize("name", NO_ROWS)
@pytest.mark.parametrize("at", [100, 200])
def test_lines_that_are_no_data_rows_are_not_counted(tmp_path, name, at):
    log = read(file(tmp_path, with_row(NO_ROWS[name], at)))
    assert_reads(log, TRUTH)
    assert log.counts.data_rows == 200


def test_summary_lines_are_kept_as_events(tmp_path):
    log = read(file(tmp_path, [*ROWS, "", "Average;19.0;50.1"]))
    assert log.events == ((203, "Average 19.0 50.1"),)


def test_event_rows_are_counted_and_kept_as_events(tmp_path):
    rows = [f"{row};" for row in ROWS] + ["2024-03-02 20:05:17;;;read out"]
    log = read(file(tmp_path, rows, HEAD + ";Remark"), need_rh="yes")
    assert_reads(log, TRUTH)
    assert dict(log.counts.set_aside) == {"event row without a reading": 1}
    assert log.events == ((202, "Remark: read out"),)


def test_duplicates_are_counted_and_readings_of_one_minute_all_kept(tmp_path):
    rows = [*ROWS, *ROWS[:7], "2024-03-01 00:00:00;25.0;40.0"]
    log = read(file(tmp_path, rows))
    assert (log.counts.used, log.counts.duplicate) == (201, 7)
    assert log.channels[0].temp_c[:2].tolist() == [TRUTH.temp_c[0], 25.0]
    assert any("bear the same time" in note for note in log.notes)


def test_line_numbers_are_those_of_the_file(tmp_path):
    log = read(write(tmp_path / "a.csv", "\r\n".join(["Logger 1", "", HEAD, *with_row("", 50)])))
    text = (tmp_path / "a.csv").read_text().splitlines()
    for i in (0, 49, 50, 199):
        assert text[log.channels[0].line[i] - 1] == ROWS[i]


@pytest.mark.parametrize("cut", [1, 2, 3, 4, 5, 8, 12, 20])
def test_a_last_row_that_breaks_off_is_not_read_as_a_reading(tmp_path, cut):
    whole = "\n".join([HEAD, *ROWS])
    log = read(write(tmp_path / "a.csv", whole[:-cut]), need_rh="yes")
    assert_reads(log, Truth(TRUTH.time[:-1], TRUTH.temp_c[:-1], TRUTH.rh_percent[:-1]))
    assert sum(log.counts.set_aside.values()) == 1


@pytest.mark.parametrize("tail", ["\x00" * 4096, "\n" + "\x00" * 100, "\n" + "\x00" * 300 + "\n"])
def test_nul_padding_at_the_end_is_left_out(tmp_path, tail):
    assert_reads(read(write(tmp_path / "a.csv", "\n".join([HEAD, *ROWS]) + tail)), TRUTH)


def test_a_nul_block_in_the_middle_costs_only_its_rows(tmp_path):
    log = read(file(tmp_path, [*ROWS[:100], "\x00" * 500, *ROWS[100:]]))
    assert_reads(log, TRUTH)


def test_a_byte_order_mark_in_the_middle_is_no_part_of_a_stamp(tmp_path):
    both = "\ufeff" + "\n".join([HEAD, *ROWS[:100]]) + "\n\ufeff" + "\n".join([HEAD, *ROWS[100:]])
    assert_reads(read(write(tmp_path / "a.csv", both)), TRUTH)


def test_an_unclosed_quote_costs_only_its_row(tmp_path):
    rows = rows_of(TRUTH)
    rows.insert(50, '"2024-03-02 20:05:00,19.0,50.0')
    log = read(write(tmp_path / "a.csv", "\n".join(["time,temp °C,rh %", *rows]) + "\n"))
    assert_adds_up(log)
    assert log.counts.data_rows == 201
    assert log.counts.used >= 200


def test_two_unclosed_quotes_near_each_other_take_no_row_between_them(tmp_path):
    rows = rows_of(TRUTH)
    rows[3], rows[6] = f'"{rows[3]}', f'"{rows[6]}'
    log = read(write(tmp_path / "a.csv", "\n".join(["time,temp °C,rh %", *rows]) + "\n"))
    assert_adds_up(log)
    assert set(range(6, 8)) | set(range(9, 202)) <= set(log.channels[0].line.tolist())


REFUSED = {
    "empty": ("", "empty"), "blanks": ("  \n\n", "empty"), "nul": (b"\x00" * 5000, "empty"),
    "header only": (HEAD + "\n", "no reading below"),
    "web page": ("<!DOCTYPE html><html><body>Sign in</body></html>", "web page"),
    "late web page": ("\n\n<html>" + "x" * 300, "web page"),
    "json": ('[{"t": 1}]', "JSON"), "pdf": (b"%PDF-1.7 \x00\x01", "PDF"), "png": (b"\x89PNG\r\n\x1a\n", "picture"),
    "xls": (b"\xd0\xcf\x11\xe0" + b"\x00" * 600, "xlsx"), "gzip": (b"\x1f\x8b\x08\x00", "gzip"),
    "binary": (bytes(range(256)) * 40, "binary"),
    "letter": ("Dear Sir,\nplease find attached.\n", "no table"), "one long line": ("x" * 6_000_000, "line of over"),
    "a million columns": ("time," + ",".join("c" * 1 for _ in range(300_000)) + "\n", "no table|columns|fields"),
    "a million words": ("\n".join(["time " + "c " * 300_000, *["2024-03-02 " + "1 " * 300_000] * 24]), "columns"),
    "ninety columns alike": ("\n".join(["date," + "1," * 90, *["2024-03-02," + "1," * 90] * 3]), "temperature|columns"),
    "times only": ("time\n" + "\n".join(r.split(";")[0] for r in ROWS), "no table|no row|header"),
    "no temperature": ("time;lux\n" + "\n".join(r.rsplit(";", 1)[0] for r in ROWS), "no column holds a temperature"),
    "times without dates": ("time;temp °C;rh %\n" + "\n".join(r[11:] for r in ROWS), "date"),
    "damaged by a spreadsheet": ("\n".join([HEAD, *ROWS[:50], "2024-03-02 20:05:00;05. Jun;50.0", *ROWS[50:]]),
        "line 52: a spreadsheet has turned"),
    "damaged to a whole date": (
        "\n".join([HEAD, *ROWS[:50], "2024-03-02 20:05:00;05.06.2024;50.0", *ROWS[50:]]),
        "line 52: a spreadsheet has turned",
    ),
    "humidity is the temperature": ("\n".join([HEAD, *(f"{r.rsplit(';', 1)[0]};{t * 1.8 + 32:.1f}" for r,
        t in zip(ROWS, TRUTH.temp_c, strict=True))]), "over again"),
    "humidity in tenths": ("\n".join([HEAD, *(f"{r.rsplit(';', 1)[0]};{h * 10:.0f}" for r, h in zip(ROWS,
        TRUTH.rh_percent, strict=True))]), "expected 0 to 100"),
    "two tables": ("\n".join([HEAD, *ROWS[:100], "", "time;lux;temp outside", *ROWS[100:]]), "second table"),
    "plain zip": (b"PK\x05\x06" + b"\x00" * 18, "archive"), "broken zip": (b"PK\x03\x04 nonsense", "archive"),
    "mostly broken": ("\n".join([HEAD, *(r if i % 3 else "2024-99-99 10:00:00;19;50" for i, r in enumerate(ROWS))]),
        "unreadable time"),
    "all missing": ("\n".join([HEAD, *(r.split(";")[0] + ";;" for r in ROWS), "2024-03-09 10:00:00;Err;50.0"]),
        "no row|no table|no reading|holds no number"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_logger_file_is_refused_in_one_line(tmp_path, name):
    content, words = REFUSED[name]
    begin = time.monotonic()
    with pytest.raises(EnvwatchError, match=words) as refused:
        read(write(tmp_path / "a.csv", content))
    assert "\n" not in str(refused.value)
    assert len(str(refused.value)) < 500
    assert time.monotonic() - begin < 10


ASKED = {
    "celsius that cannot be": ("time;temp °C;rh %", lambda t: t * 1.8 + 32, "temp_unit"),
    "fahrenheit that cannot be": ("time;temp °F;rh %", lambda t: t, "temp_unit"),
}  # fmt: skip


@pytest.mark.parametrize("name", ASKED)
def test_a_unit_that_the_values_contradict_is_asked_about(tmp_path, name):
    head, convert, option = ASKED[name]
    rows = [
        f"{r.split(';')[0]};{convert(t):.2f};{h}" for r, t, h in zip(ROWS, TRUTH.temp_c, TRUTH.rh_percent, strict=True)
    ]
    path = file(tmp_path, rows, head)
    with pytest.raises(Question) as asked:
        read(path)
    assert asked.value.field == option
    told = "F" if "celsius" in name else "C"
    assert_reads(read(path, temp_unit=told), TRUTH, tolerance=0.006)


def test_a_dew_point_that_does_not_follow_is_reported_or_asked_about_and_one_that_does_is_not(tmp_path):
    from envwatch import air

    dew = air.dew_point(TRUTH.temp_c, TRUTH.rh_percent)

    def rows(shift):
        return file(tmp_path, [f"{r};{d + shift:.1f}" for r, d in zip(ROWS, dew, strict=True)], HEAD + ";dew point °C")

    for shift, said in ((0.0, False), (1.5, True)):
        log = read(rows(shift))
        assert any("dew point differs" in note for note in log.notes) is said
        np.testing.assert_allclose(log.channels[0].others["dew_point_c"], dew + shift, atol=0.051)
    with pytest.raises(Question, match=r"differs by 3\.\d K"):
        read(rows(3.0))


def test_folders_missing_files_and_strange_names_are_refused(tmp_path):
    for path in (tmp_path, tmp_path / "none.csv", tmp_path / ("x" * 300), "a\x00b", "../../../nowhere/\x1b[31m.csv"):
        with pytest.raises(BadInput) as refused:
            read(path)
        assert str(refused.value).isprintable()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_is_refused_without_waiting(tmp_path):
    os.mkfifo(tmp_path / "pipe.csv")
    with pytest.raises(BadInput, match="not a file"):
        read(tmp_path / "pipe.csv")


def bomb(size: int) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr("xl/workbook.xml", "<workbook/>")
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * size)
    return out.getvalue()


def test_a_packed_bomb_is_refused_whatever_it_is_called(tmp_path):
    begin = time.monotonic()
    for name in ("a.xlsx", "a.csv"):
        with pytest.raises(BadInput, match="unpacks to"):
            read(write(tmp_path / name, bomb(60_000_000)))
    assert time.monotonic() - begin < 10


def test_a_label_like_a_formula_stays_text_in_the_table_and_is_quoted_on_the_way_out(tmp_path):
    rows = [f"{row};=cmd()" for row in ROWS]
    log = read(file(tmp_path, rows, HEAD + ";sensor"))
    assert "".join(to_csv(log)).splitlines()[1].split(",")[1].startswith("'=")


def test_the_normalised_table_is_ordered_by_time_then_channel(tmp_path):
    body = [f"{t};{p};{a};{b}" for t, a, b in (r.split(";") for r in ROWS[:30]) for p in ("10", "2", "b")]
    log = read(file(tmp_path, body, "time;sensor;temp °C;rh %"))
    out = "".join(to_csv(log)).splitlines()
    assert out[0] == "time_utc,channel,temperature_c,relative_humidity_pct"
    assert [line.split(",")[1] for line in out[1:4]] == ["2", "10", "b"]
    assert out[1].split(",")[0] == "2024-03-01T00:00:00Z"
    assert [line.split(",")[0] for line in out[1:]] == sorted(line.split(",")[0] for line in out[1:])


# --- any bytes ------------------------------------------------------------------------------------------------------

QUICK = settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
SOUND = "\n".join([HEAD, *ROWS[:40]]).encode()


def readings_or_refusal(path, content: bytes) -> None:
    try:
        log = logs.read(write(path, content), Answers(zone="Europe/Berlin"), now=NOW)
    except EnvwatchError as refused:
        assert "\n" not in str(refused)
        assert "unforeseen" not in str(refused)
        return
    assert_adds_up(log)
    for channel in log.channels:
        assert np.isfinite(channel.temp_c).all()
        assert (np.diff(channel.time) >= 0).all()
    assert "".join(to_csv(log)).count("\n") == sum(len(c.time) for c in log.channels) + 1


@QUICK
@given(content=st.binary(max_size=600))
@example(b"\xff\xfe\x00\xd8")
@example(b"PK\x03\x04")
@example(b"\xff\xfe\x00\x00\x00")
def test_any_bytes_give_readings_or_a_refusal(tmp_path_factory, content):
    readings_or_refusal(tmp_path_factory.getbasetemp() / "any.csv", content)


@QUICK
@given(data=st.data())
def test_a_sound_file_with_damage_gives_readings_or_a_refusal(tmp_path_factory, data):
    content = bytearray(SOUND)
    for _ in range(data.draw(st.integers(1, 12))):
        at = data.draw(st.integers(0, len(content) - 1))
        what = data.draw(
            st.sampled_from(
                [
                    b"",
                    b"\x00",
                    b"\n",
                    b";",
                    b",",
                    b'"',
                    b"\xff",
                    b"9",
                    b"-",
                    b"\t",
                    b"\xef\xbb\xbf",
                    b"e",
                    b":",
                    b"%",
                    b"#",
                ]
            )
        )
        length = data.draw(st.integers(0, 30))
        content[at : at + length] = what * data.draw(st.integers(1, 4))
        if not content:
            content = bytearray(b"x")
    readings_or_refusal(tmp_path_factory.getbasetemp() / "damaged.csv", bytes(content))


WORDS = ["time", "Date", "temp", "°C", "rh %", "2024-03-01 10:00", "01/02/03", "21.5", "21,5", "-", "", "Err", ";",
    ",", "\t", "\n", "\r", "|", '"',
         "10:00", "1709287200", "45352.5", "#", "sensor", "value", "unit", "UTC+1", "NaN", "1e5", "Europe/Berlin",
         "24:00", "p.m.", "05. Jun", "٣", "²"]  # fmt: skip


@QUICK
@given(parts=st.lists(st.sampled_from(WORDS), max_size=200))
def test_any_mixture_of_table_words_gives_readings_or_a_refusal(tmp_path_factory, parts):
    readings_or_refusal(tmp_path_factory.getbasetemp() / "words.csv", "".join(parts).encode())
