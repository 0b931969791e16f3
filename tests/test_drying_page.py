"""The page *Drying the room* without a browser: what is typed, what is shown, what is refused."""

import base64
import json

import pandas as pd
import pytest
from typer.testing import CliRunner

from dashboards import create_app, jobs
from dashboards.pages import drying, drying_fields
from envwatch.archive import Studio
from envwatch.cases.dehumidifier import typed
from envwatch.core.errors import BadInput, EnvwatchError, Question
from tests.test_dashboards import page, text_of

NOW = pd.Timestamp("2026-11-02T11:00Z")
SHORT = {"place": "store", "log_from": "2026-08-01", "log_to": "2026-09-12", "machine_in_log": "no"}
STATION = "time,temp_c,rh_percent\n" + "".join(
    f"2026-{month:02}-{day:02} {hour:02}:00,{12 + hour / 4},{70 - hour}\n"
    for month in (8, 9) for day in range(1, 31) for hour in range(24)
)  # fmt: skip


def test_the_page_shows_what_the_command_says(app, home, demo_of_file, monkeypatch):
    from envwatch.cli import common
    from envwatch.cli import dehumidifier as command
    from envwatch.cli.__init__ import app as cli

    for module in (common, command):
        monkeypatch.setattr(module, "now", lambda: NOW)
    said = CliRunner().invoke(cli, [
        "dehumidifier", "store", "--studio", str(demo_of_file), "--log-from", "2026-08-01", "--log-to", "2026-09-12",
        "--machine-in-log", "no", "--json", "--no-keep",
    ])  # fmt: skip
    assert said.exit_code == 0, said.output
    told = json.loads(said.stdout)
    asked = {"ask": "case", **SHORT}
    drying.begin(home, asked).over.wait()
    shown = page(app, "/drying", "?" + "&".join(f"{name}={text}" for name, text in asked.items()))
    assert told["advice"]["sentence"] in shown
    for outcome in told["outcomes"]:
        assert outcome["name"] in shown
        assert f"{outcome['damp_h'][1]:,.0f}" in shown
    assert "--" not in shown, "an option of the command line on a page"
    answer = app.server.test_client().get("/drying.pdf", query_string=asked)
    assert answer.status_code == 200 and answer.data.startswith(b"%PDF")
    other = app.server.test_client().get("/drying.pdf", query_string=asked | {"paper": "a3"})
    assert other.status_code == 404 and b"a3" in other.data


def test_what_is_asked_before_is_found_again_and_not_worked_out_twice(home):
    asked = {"ask": "spell", "place": "store", "tomorrow_max": "36", "tomorrow_min": "20"}
    first = drying.begin(home, asked)
    assert drying.begin(home, dict(reversed(asked.items()))) is first
    first.over.wait()
    assert drying.begin(home, asked) is first and first.refused is None
    assert "spell of 20 to 36 °C" in text_of(drying.layout(home, "", asked))


def test_a_question_stands_at_its_field(home):
    asked = {"ask": "case", "place": "studio"}
    drying.begin(home, asked).over.wait()
    shown = text_of(drying.layout(home, "", asked))
    assert "Was one running?" in shown
    assert f"under “{drying_fields.LABELS['machine_in_log']}”" in shown


@pytest.mark.parametrize(
    ("given", "field", "word"),
    [
        ({"volume": "zwölf"}, "volume", "not a number"),
        ({"volume": "0"}, "volume", "expected 1 to"),
        ({"capacity": "20"}, "rated_at", "label"),
        ({"capacity2": "20", "rated_at2": "warm"}, "rated_at2", "rating point"),
        ({"rated_at": "27C/60%"}, "capacity", "Empty"),
        ({"source": "-3"}, "source", "below 0"),
        ({"air_change": "0"}, "air_change", "tight"),
        ({"tank": "5"}, "visits", "empties"),
        ({"visits": "Mon, Someday", "tank": "5"}, "visits", "days of the week"),
        ({"log_from": "01/02/2026"}, "log_from", "2026"),
        ({"weighed": "6 litres"}, "weighed", "first day"),
        ({"outdoors": "file:gone"}, "outdoors", "drop it again"),
        ({"ask": "spell", "tomorrow_max": "30"}, "tomorrow_min", "lowest"),
        ({"ask": "after", "bought": "last week"}, "bought", ""),
    ],
)
def test_what_cannot_be_used_is_said_beside_its_field_and_nothing_begins(home, given, field, word):
    with pytest.raises(EnvwatchError) as refused:
        drying.begin(home, {"ask": "case", "place": "store", **given})
    faults = drying.PAGE.faults(refused.value, given)
    assert list(faults) == [field]
    assert word in faults[field] and "--" not in faults[field]


def test_litres_and_pints_are_typed_and_cannot_be_confused():
    label = {"capacity": "20", "rated_at": "27C/60%"}
    litres = typed.asked({"kind": "condensing, litres a day", **label}, "UTC", None).machines[0]
    pints = typed.asked({"kind": "condensing, US pints a day", **label}, "UTC", None).machines[0]
    ratio = litres.capacity.amount.grams_h / pints.capacity.amount.grams_h
    assert ratio == pytest.approx(1 / 0.473176473, rel=1e-6)  # NIST SP 811, US liquid pint
    with pytest.raises(Question, match="rated at"):
        typed.asked({"capacity": "20"}, "UTC", None)
    with pytest.raises(BadInput, match="kind"):
        typed.asked({"kind": "gallons", **label}, "UTC", None)


def test_empty_fields_are_not_said_and_commas_are_decimal_marks():
    asked = typed.asked({"volume": " 140,5 ", "tariff": "", "also": "panels, furniture", "air_change": "0,1-0,3"},
                        "UTC", None)  # fmt: skip
    assert (asked.volume_m3, asked.money.tariff_kwh, asked.others) == (140.5, None, ("panels", "furniture"))
    assert asked.air_change_h == (0.1, 0.3)
    assert typed.asked({"also": "nothing"}, "UTC", None).others == ()


def test_a_dropped_file_is_held_under_a_name_that_cannot_lead_out_and_read(home):
    content = "data:text/csv;base64," + base64.b64encode(STATION.encode()).decode()
    _options, chosen, _said = drying.take(content, "../../etc/weather.csv", "studio")
    ((name, kept),) = [home.shelf[chosen.removeprefix("file:")]]
    assert (name, kept.decode()) == ("weather.csv", STATION)
    with home.reading() as studio:
        found = drying._outdoors(home, studio, {"outdoors": chosen, "outdoors_zone": "UTC", "place": "store"})
    assert "weather.csv" in found.words and len(found.time) == 60 * 24


def test_too_many_reckonings_are_refused_and_a_fault_is_told():
    bench, gate = jobs.JobQueue(), __import__("threading").Event()
    waiting = [bench.job(n, lambda report: gate.wait(20)) for n in range(jobs.MOST_WAITING)]
    with pytest.raises(BadInput, match="still at work"):
        bench.job("one more", lambda report: None)
    gate.set()
    assert all(job.over.wait(20) for job in waiting)
    broken = bench.job("broken", lambda report: 1 / 0)
    assert broken.over.wait(20) and "ZeroDivisionError" in str(broken.refused)


def test_an_empty_studio_leads_to_the_logger_files(tmp_path):
    Studio.create(tmp_path / "new", name="New", zone="Europe/Berlin").close()
    made = create_app(tmp_path / "new", now=lambda: NOW)
    assert "bring in a logger's files" in page(made, "/drying")
    made.server.config["HOUSE"].close()
