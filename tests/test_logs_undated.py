"""Files whose rows bear no date: time since the start, time of day alone, day numbers beside fractions of a day."""

import json

import numpy as np
import pandas as pd
import pytest

from envwatch.archive import Studio
from envwatch.core.errors import BadInput, Question
from envwatch.logs import Answers
from tests.logs_layouts import assert_reads, climate, read, write

VIENNA = "Europe/Vienna"
BEGIN = pd.Timestamp("2024-03-27 10:00", tz=VIENNA)


def since_start(unit_s: float, truth, decimal=".", places=4):
    """Rows "elapsed;T;RH" of a truth, counted in some unit."""
    spans = (truth.time - truth.time[0]).total_seconds() / unit_s
    return [f"{s:.{places}f};{a:.1f};{b:.1f}".replace(".", decimal)
            for s, a, b in zip(spans, truth.temp_c, truth.rh_percent, strict=True)]  # fmt: skip


def clocks(truth, style="{h}:{m:02d}:{s:02d}", days=False):
    out = []
    for t, a, b in zip(truth.time, truth.temp_c, truth.rh_percent, strict=True):
        all_s = int((t - truth.time[0]).total_seconds())
        d = all_s // 86_400 if days else 0
        h, m, s = (all_s - d * 86_400) // 3600, all_s // 60 % 60, all_s % 60
        out.append(f"{style.format(d=d, h=h, m=m, s=s)};{a:.1f};{b:.1f}")
    return out


def of_day(truth, zone=VIENNA, style="%H:%M"):
    local = truth.time.tz_convert(zone).strftime(style)
    return [f"{t};{a:.1f};{b:.1f}" for t, a, b in zip(local, truth.temp_c, truth.rh_percent, strict=True)]


@pytest.mark.parametrize(
    ("start", "head", "unit_s"),
    [
        ("Start: 2024-03-27 10:00", "Elapsed (h);Temp (°C);RH (%)", 3600),
        ("Startzeit;27.03.2024 10:00:00", "Laufzeit [min];Temperatur [°C];rel. Feuchte [%]", 60),
        ("Début des mesures : 27/03/2024 10:00", "Temps écoulé (s);Température (°C);Humidité (%)", 1),
        ("Inicio;27/03/2024 10:00", "Tiempo transcurrido (h);Temperatura (°C);Humedad (%)", 3600),
        ("Início: 27-03-2024 10:00", "Tempo decorrido (min);Temperatura (°C);Umidade (%)", 60),
        ("Inizio 27/03/2024 10.00", "Tempo trascorso (giorni);Temperatura (°C);Umidità (%)", 86_400),
        ("Aanvang: 27 maart 2024 10:00", "Verstreken tijd (uur);Temperatuur (°C);Vochtigheid (%)", 3600),
        ("開始日時: 2024年3月27日 10:00", "経過時間 (分);温度 (°C);湿度 (%)", 60),
        ("开始时间：2024/03/27 10:00", "经过时间 (秒);温度 (°C);湿度 (%)", 1),
        ("Start date: 2024-03-27;;\nStart time: 10:00;;", "Seconds since start;Temp (°C);RH (%)", 1),
        ('"Start"\t"2024-03-27 10:00"', "Elapsed (h);Temp (°C);RH (%)", 3600),
        ("Launched: 27 Mar 2024 10:00 AM\nExported: 03.04.2024 17:00", "Time (h);Temp (°C);RH (%)", 3600),
    ],
)  # fmt: skip
def test_time_since_a_start_that_the_file_gives(tmp_path, start, head, unit_s):
    truth = climate(BEGIN.tz_convert("UTC").isoformat(), n=700)  # over the change of the clocks on 31 March
    places = 6 if unit_s > 60 else 1
    rows = since_start(unit_s, truth, "," if "rel." in head else ".", places)
    log = read(write(tmp_path / "a.csv", "\n".join([start, "", head, *rows, ""])), VIENNA)
    if unit_s > 60:  # six places of an hour or a day are a tenth of a second at best
        np.testing.assert_allclose(log.channels[0].time, truth.time.as_unit("us").asi8, atol=100_000)
        log.channels[0].time.flags.writeable = True
        log.channels[0].time[:] = truth.time.as_unit("us").asi8
    assert_reads(log, truth)
    assert any("added to the start" in note for note in log.notes)


@pytest.mark.parametrize("rows", [
    lambda t: clocks(t), lambda t: clocks(t, "{h:02d}:{m:02d}:{s:02d}"),
    lambda t: clocks(t, "{d}.{h:02d}:{m:02d}:{s:02d}", True),
    lambda t: clocks(t, "{d} {h:02d}:{m:02d}:{s:02d}", True), lambda t: clocks(t, "{d}d {h:02d}:{m:02d}:{s:02d}", True),
])  # fmt: skip
def test_spans_of_hours_minutes_and_seconds(tmp_path, rows):
    truth = climate("2024-03-13T10:00Z", n=300)
    text = "\n".join(["Start: 2024-03-13 10:00", "Elapsed;Temp (°C);RH (%)", *rows(truth), ""])
    assert_reads(read(write(tmp_path / "a.csv", text)), truth)


def test_a_column_called_time_that_begins_at_nought_counts_from_a_start_at_another_hour(tmp_path):
    truth = climate("2024-03-13T10:00Z", n=60)
    text = "\n".join(["Start: 2024-03-13 10:00", "Time;Temp (°C);RH (%)", *clocks(truth), ""])
    assert_reads(read(write(tmp_path / "a.csv", text)), truth)


@pytest.mark.parametrize("above", ["", "Depot\n", "Exported: 2024-03-27 10:00\n", "Depot 2024-03-27 10:00\n"])
def test_without_a_start_it_is_asked_for_and_the_answer_is_used(tmp_path, above):
    truth = climate("2024-03-13T10:00Z")
    path = write(tmp_path / "a.csv", above + "\n".join(["Elapsed (min);Temp (°C);RH (%)", *since_start(60, truth), ""]))
    with pytest.raises(Question, match="start"):
        read(path)
    assert_reads(read(path, start="2024-03-13 10:00"), truth)


@pytest.mark.parametrize("said", ["yesterday", "03/04/2024 10:00", "2024-02-31 10:00", "2024-03-13 25:10", ""])
def test_a_start_that_is_none_is_refused(tmp_path, said):
    path = write(tmp_path / "a.csv", "\n".join(["Elapsed (min);Temp (°C);RH (%)", *since_start(60, climate()), ""]))
    with pytest.raises((BadInput, Question), match="start"):
        read(path, start=said)


def test_a_count_without_a_unit_and_a_count_that_begins_again_are_refused(tmp_path):
    rows = since_start(60, climate(n=20))
    with pytest.raises(BadInput, match="which unit"):
        read(write(tmp_path / "a.csv", "\n".join(["Elapsed;Temp (°C);RH (%)", *rows])), start="2024-03-13 10:00")
    with pytest.raises(BadInput, match="begins again"):
        read(
            write(tmp_path / "b.csv", "\n".join(["Elapsed (s);Temp (°C);RH (%)", *rows, *rows])),
            start="2024-03-13 10:00",
        )
    two = [f"{i}:30;20.1;50.{i}" for i in range(9)]
    with pytest.raises(BadInput, match="mm:ss"):
        read(write(tmp_path / "c.csv", "\n".join(["Elapsed;Temp (°C);RH (%)", *two])), start="2024-03-13 10:00")
    log = read(
        write(tmp_path / "d.csv", "\n".join(["Elapsed (mm:ss);Temp (°C);RH (%)", *two])), start="2024-03-13 10:00"
    )
    assert set(np.diff(log.channels[0].time)) == {60_000_000}


@pytest.mark.parametrize("title", [
    "Depot Nord, 27.03.2024", "Date: 2024-03-27", "Datum;27.03.2024;;", "Messung vom 27. März 2024",
    "Date : 27 mars 2024", "27.03.2024 - 29.03.2024", "測定日 2024年3月27日",
    "Start;27.03.2024 00:00\nExport;05.04.2024 08:00",
])  # fmt: skip
def test_a_date_above_the_rows_serves_times_of_day_over_several_nights(tmp_path, title):
    truth = climate("2024-03-26T23:00Z", n=300)
    log = read(write(tmp_path / "a.csv", "\n".join([title, "Uhrzeit;Temp (°C);RH (%)", *of_day(truth), ""])), VIENNA)
    assert_reads(log, truth)
    assert any("next day" in note for note in log.notes)


def test_times_of_day_without_a_header_and_with_am_and_pm(tmp_path):
    truth = climate("2024-03-27T17:00Z", n=100)
    text = "\n".join(["Store 2024-03-27", *of_day(truth, "UTC", "%I:%M:%S %p")])
    with pytest.raises((BadInput, Question)):  # nothing tells the two columns apart but their range, which does
        assert_reads(read(write(tmp_path / "a.csv", text)), truth)
        raise BadInput("read")
    text = "\n".join(["Store 2024-03-27", "Time;Temp (°C);RH (%)", *of_day(truth, "UTC", "%I:%M:%S %p")])
    assert_reads(read(write(tmp_path / "b.csv", text)), truth)


def test_a_date_above_that_may_be_read_two_ways_is_asked_about_unless_another_date_decides(tmp_path):
    truth = climate("2024-04-03T10:00Z", n=100)
    rows = ["Time;Temp (°C);RH (%)", *of_day(truth, "UTC")]
    path = write(tmp_path / "a.csv", "\n".join(["Depot 03/04/2024", *rows]))
    with pytest.raises(Question, match="dates"):
        read(path)
    assert_reads(read(path, dates="dmy"), truth)
    assert_reads(read(write(tmp_path / "b.csv", "\n".join(["Start 03/04/2024", "End 15/04/2024", *rows]))), truth)


def test_times_of_day_without_any_date_or_with_several_are_asked_about(tmp_path):
    truth = climate("2024-03-27T17:00Z", n=100)
    rows = ["Time;Temp (°C);RH (%)", *of_day(truth, "UTC")]
    for title in ("", "Version 1.2.10", "Calibrated 2024-01-01", "A 2024-03-27\nB 2024-03-28"):
        path = write(tmp_path / "a.csv", "\n".join([title, *rows]))
        with pytest.raises(Question, match="start"):
            read(path)
        assert_reads(read(path, start="2024-03-27"), truth)


def test_times_of_day_that_go_back_by_less_than_a_night_are_refused(tmp_path):
    """The doubled hour of autumn, or a restart: nothing tells how many days have passed."""
    truth = climate("2024-10-26T22:00Z", n=40)
    path = write(tmp_path / "a.csv", "\n".join(["Depot 2024-10-27", "Time;Temp (°C);RH (%)", *of_day(truth)]))
    with pytest.raises(BadInput, match="go back from 02:50 to 02:00"):
        read(path, VIENNA)


def test_a_start_late_in_the_evening_puts_the_first_reading_past_midnight_on_the_next_day(tmp_path):
    truth = climate("2024-03-28T00:05Z", n=60)
    text = "\n".join(["Start: 2024-03-27 23:58", "Time;Temp (°C);RH (%)", *of_day(truth, "UTC")])
    assert_reads(read(write(tmp_path / "a.csv", text)), truth)
    with pytest.raises(Question, match="hours away"):
        read(write(tmp_path / "b.csv", text.replace("23:58", "12:00")))


def test_newest_first_needs_a_date_that_is_said_to_be_the_start(tmp_path):
    truth = climate("2024-03-27T17:00Z", n=100)
    rows = ["Time;Temp (°C);RH (%)", *of_day(truth, "UTC")[::-1]]
    with pytest.raises(Question, match="newest"):
        read(write(tmp_path / "a.csv", "\n".join(["Depot 2024-03-27", *rows])))
    assert_reads(read(write(tmp_path / "b.csv", "\n".join(["Start 2024-03-27", *rows]))), truth)


@pytest.mark.parametrize("head", ["Date;Time;T (°C);RH (%)", "Datum;Uhrzeit;Temperatur;Feuchte", "日付;時刻;温度;湿度"])
@pytest.mark.parametrize("style", ["{f:.7f}", "{f:.10g}", "{c}"])
def test_day_numbers_beside_fractions_of_a_day(tmp_path, head, style):
    truth = climate("2024-03-12T22:30Z", n=300)
    days = truth.time.as_unit("us").asi8 / 86_400e6 + 25_569
    rows = [f"{int(d)};{style.format(f=d % 1, c=t)};{a:.1f};{b:.1f}".replace(".", ",") for d, t, a, b in
            zip(days, truth.time.strftime("%H:%M:%S"), truth.temp_c, truth.rh_percent, strict=True)]  # fmt: skip
    assert_reads(read(write(tmp_path / "a.csv", "\n".join([head, *rows, ""]))), truth)
    assert_reads(read(write(tmp_path / "b.csv", "\n".join([head, *rows, "Average;;20,1;50,2"]))), truth)


def test_day_numbers_without_a_time_of_day_are_refused(tmp_path):
    rows = [f"{45_000 + i // 9};20.{i % 10};50.{i % 7}" for i in range(40)]
    with pytest.raises(BadInput, match="no time of day"):
        read(write(tmp_path / "a.csv", "\n".join(["Date;Temp (°C);RH (%)", *rows])))


def test_dates_on_the_first_row_of_each_day_are_still_read_as_such(tmp_path):
    truth = climate("2024-03-13T00:00Z", n=300)
    rows = [f"{t if t.endswith('00:00') else '          ' + t[10:]}" for t in truth.time.strftime("%d.%m.%Y %H:%M")]
    rows = [
        f"{r[:10].strip()};{r[11:]};{a:.1f};{b:.1f}"
        for r, a, b in zip(rows, truth.temp_c, truth.rh_percent, strict=True)
    ]
    log = read(write(tmp_path / "a.csv", "\n".join(["Depot", "Date;Time;Temp (°C);RH (%)", *rows])))
    assert_reads(log, truth)


def test_a_big_file_that_counts_from_its_start(tmp_path, monkeypatch):
    from envwatch.logs.text import lines as text_lines

    monkeypatch.setattr(text_lines, "QUICK_FROM", 1000)
    truth = climate("2024-03-13T10:00Z", n=3000)
    text = "\n".join(["Start: 2024-03-13 10:00", "Elapsed (s);Temp (°C);RH (%)", *since_start(1, truth, places=0), ""])
    assert_reads(read(write(tmp_path / "a.csv", text)), truth)


def test_an_add_asks_for_the_start_and_keeps_the_answer_beside_the_original(tmp_path):
    truth = climate("2024-03-13T10:00Z", n=100)
    path = write(tmp_path / "a.csv", "\n".join(["Elapsed (min);Temp (°C);RH (%)", *since_start(60, truth), ""]))
    with Studio.create(tmp_path / "studio", name="s", zone="UTC") as studio:
        studio.add([path])
        (waiting,) = studio.tray()
        assert waiting.option == "start"
        report = studio.add([waiting.number], Answers(start="2024-03-13 10:00"))
        assert report.totals.readings == 100
        sidecars = [json.loads(p.read_text("utf-8")) for p in (tmp_path / "studio" / "originals").glob("*.json")]
        assert [s["answers"]["start"] for s in sidecars] == ["2024-03-13 10:00"]
        assert not studio.check(True).problems
        other = write(tmp_path / "b.csv", path.read_text("utf-8").replace("20.", "21."))
        studio.add([other])  # a start holds for one file alone
        assert [item.option for item in studio.tray()] == ["start"]
