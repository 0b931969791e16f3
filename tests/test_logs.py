"""Reading logger files: ordinary layouts, and what is asked or refused."""

import pytest
from logs_layouts import assert_reads, climate, read, rows_of, write

from envwatch.core.errors import BadInput, Question


def test_a_plain_comma_file_is_read_to_the_reading(tmp_path):
    truth = climate()
    path = write(tmp_path / "a.csv", "\n".join(["Date Time,Temperature (°C),Humidity (%RH)", *rows_of(truth)]) + "\n")
    assert_reads(read(path), truth)


def test_a_day_first_decimal_comma_file_with_a_preamble_is_read_to_the_reading(tmp_path):
    truth = climate()
    head = ["Seriennummer;10042", "Messstelle;Depot 2", "", "Datum/Zeit;Temperatur [°C];rel. Feuchte [%]"]
    body = rows_of(truth, "Europe/Berlin", "%d.%m.%Y %H:%M:%S", ";", ",")
    log = read(write(tmp_path / "a.csv", "\r\n".join(head + body), "cp1252"), "Europe/Berlin")
    assert_reads(log, truth)
    assert log.label == "10042"


def test_without_any_offset_the_zone_is_asked_for(tmp_path):
    path = write(tmp_path / "a.csv", "\n".join(["time,temp C,rh %", *rows_of(climate())]))
    with pytest.raises(Question) as asked:
        read(path, None)
    assert asked.value.field == "zone"


def test_one_day_that_may_be_the_third_of_april_or_the_fourth_of_march_is_asked_about(tmp_path):
    truth = climate("2024-04-03T00:00Z", 100)
    path = write(tmp_path / "a.csv", "\n".join(["time,temp C,rh %", *rows_of(truth, stamp="%d/%m/%Y %H:%M")]))
    with pytest.raises(Question) as asked:
        read(path)
    assert (asked.value.field, asked.value.choices) == ("dates", ("dmy", "mdy"))
    assert_reads(read(path, dates="dmy"), truth)


def test_a_file_without_humidity_is_refused_only_where_humidity_is_needed(tmp_path):
    truth = climate(n=20)
    rows = [row.rsplit(",", 1)[0] for row in rows_of(truth)]
    path = write(tmp_path / "a.csv", "\n".join(["time,temp C", *rows]))
    with pytest.raises(BadInput, match="no relative humidity"):
        read(path, need_rh="yes")
    assert len(read(path).channels[0].time) == 20
