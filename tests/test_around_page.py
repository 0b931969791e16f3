"""The page *Around the lining* without a browser: its questions, answers, papers, and what it puts on record."""

import base64
import json
from urllib.parse import urlencode

import icalendar
import pandas as pd
import pytest
from plotly.utils import PlotlyJSONEncoder
from typer.testing import CliRunner

from dashboards import create_app, units
from dashboards.pages import lining, lining_fields
from envwatch.archive import Studio
from envwatch.cases.fields.lining import INPUTS
from envwatch.core.errors import EnvwatchError
from envwatch.present.units import DisplayUnits
from tests.test_dashboards import page, text_of

NOW = pd.Timestamp("2026-11-02T11:00Z")
AGREED = b"""painting = "24-12"
place = "querlicht"
position = "inner wall"
from = 2026-09-01
to = 2026-10-15
rh_high = 60
"""


def told(home, **asked: str) -> str:
    lining.begin(home, asked).over.wait()
    return " ".join(text_of(lining.layout(home, "", asked)).split())


def command(folder, *arguments: str) -> dict:
    from envwatch.cli import app as cli

    done = CliRunner().invoke(cli, [*arguments, "--studio", str(folder), "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def test_which_adhesive_is_told_as_the_command_tells_it_and_not_ranked(home, demo_of_file):
    shown = told(home, ask="where", painting="26-11", to="querlicht", at="inner wall", arrives="2026-11-02",
                 candidates="eva_film, glue_paste")  # fmt: skip
    said = command(demo_of_file, "lining", "26-11", "--to", "querlicht", "--at", "inner wall",
                   "--arrives", "2026-11-02", "--adhesive", "eva_film", "--adhesive", "glue_paste",
                   "--no-keep")  # fmt: skip
    assert [c["id"] for c in said["candidates"]] == ["eva_film", "glue_paste"]
    for candidate in said["candidates"]:
        for finding in candidate["own"]:
            if finding["level"] in ("watch", "act", "urgent"):
                assert f"{finding['value']:.1f}".replace("-", "−") in shown
    assert "the choice is yours" in shown and "heat-seal film" in shown and "glue-paste" in shown


def test_may_i_line_today_and_what_is_due_as_a_calendar(app, home):
    asked = {"ask": "today", "painting": "26-11", "adhesive": "eva_film", "f_rh_max": "70"}
    shown = told(home, **asked)
    assert "May I line today" in shown and "nothing to see to first: no" in shown and "not known °C" not in shown
    assert "days ahead: no" in shown and "Lined and dried in Studio: assumed" in shown and "Usual cautions" in shown
    assert "--" not in shown
    answer = app.server.test_client().get("/around.ics", query_string=asked)
    events = icalendar.Calendar.from_ical(answer.data).walk("VEVENT")  # icalendar: RFC 5545
    assert any("keying out" in str(event["SUMMARY"]) for event in events)
    assert all(str(event["SUMMARY"]).startswith("The Toll Bridge Mended") for event in events)


def test_it_is_handed_over_only_with_a_reason_while_something_is_open_and_the_reason_is_kept(own):
    asked = {"ask": "leave", "painting": "26-11", "leave": "2026-11-10", "house_rh": "45"}
    assert "first weeks: not yet" in told(own, **asked)
    _, _, refused = lining.handed(1, "", asked, None)
    assert "say why" in text_of(refused) and "--" not in text_of(refused)
    with Studio.open(own.folder) as studio:
        assert not any(t.kind == "handover" for t in studio.paintings()["26-11"].treatments)
    _, said, _ = lining.handed(1, "The owner insists.", asked, None)
    assert "on record" in text_of(said)
    with Studio.open(own.folder) as studio:
        kept = [t for t in studio.paintings()["26-11"].treatments if t.kind == "handover"]
    assert len(kept) == 1 and "The owner insists." in kept[0].note


def test_what_could_not_be_judged_is_not_handed_over(own):
    asked = {"ask": "leave", "painting": "26-11", "leave": "2026-11-10", "l_to": "moon"}
    _, _, refused = lining.handed(1, "The owner insists.", asked, None)
    assert "not in the register" in text_of(refused)
    with Studio.open(own.folder) as studio:
        assert not any(t.kind == "handover" for t in studio.paintings()["26-11"].treatments)


def test_a_receipt_is_not_printed_while_something_is_open_without_a_reason(app, home):
    asked = {"ask": "leave", "painting": "26-11", "leave": "2026-11-10"}
    get = app.server.test_client().get
    assert get("/around.pdf", query_string=asked).status_code == 404
    assert get("/around.pdf", query_string=asked | {"although": "asked for"}).data.startswith(b"%PDF")


def test_a_call_is_answered_and_kept_and_a_leak_goes_before_all(app, own):
    asked = {"ask": "call", "painting": "26-02", "sign": "there is a bubble at the edge"}
    shown = told(own, **asked)
    assert "to be seen the same day" in shown and "Thank you for ringing" in shown
    lining.rang(1, "by telephone", asked, None)
    with Studio.open(own.folder) as studio:
        last = studio.paintings()["26-02"].treatments[-1]
    assert last.kind == "call" and "bubble" in last.note and "by telephone" in last.note
    wet = {"ask": "call", "painting": "26-02", "sign": "burst pipe"}
    shown = told(own, **wet)
    assert shown.index("Stop, do this first") < shown.index("assessed") and "wrong tool" in shown
    assert app.server.test_client().get("/around.pdf", query_string=wet).data.startswith(b"%PDF")


def test_a_loan_is_held_against_its_agreement(app, home):
    home.keep_on_shelf("0123", "loan.toml", AGREED)
    asked = {"ask": "loan", "painting": "24-12", "agreement": "0123"}
    shown = told(home, **asked)
    assert "Not kept" in shown and "too damp" in shown
    assert app.server.test_client().get("/around.pdf", query_string=asked).data.startswith(b"%PDF")
    with pytest.raises(EnvwatchError) as refused:
        lining.begin(home, asked | {"painting": "26-02"})
    (other,) = lining.PAGE.faults(refused.value, asked).items()
    assert other[0] == "" and other[1].startswith("loan.toml: is about 24-12, not 26-02 (")


def test_what_was_agreed_is_retold_with_what_was_read(home):
    home.keep_on_shelf("0124", "loan.toml", AGREED.replace(b"rh_high = 60", b"temp_high = 10"))
    asked = {"ask": "loan", "painting": "24-12", "agreement": "0124"}
    lining.begin(home, asked).over.wait()
    shown = json.loads(json.dumps(lining.layout(home, "", asked), cls=PlotlyJSONEncoder))
    rows = [units._cells(row, "Td", "") for row in units._cells(units._part(shown, DisplayUnits("F")), "Tr", "Table")]
    agreed = {units._text(cells[4]) for cells in rows if len(cells) == 6}
    assert agreed == {"50"}  # 10 °C


@pytest.mark.parametrize(
    ("asked", "field", "word"),
    [
        ({"ask": "today"}, "painting", "choose"),
        ({"ask": "today", "painting": "26-11", "f_max": "warm"}, "f_max", "not a number"),
        ({"ask": "where", "painting": "26-11"}, "to", "choose a place"),
        ({"ask": "where", "painting": "26-11", "to": "store", "candidates": "jam"}, "candidates", "no lining adhesive"),
        ({"ask": "where", "painting": "26-11", "to": "store", "arrives": "soon"}, "arrives", "soon"),
        ({"ask": "where", "painting": "26-11", "positions": "gone"}, "", "drop it again"),
        ({"ask": "leave", "painting": "26-11"}, "leave", "give the day"),
        ({"ask": "leave", "painting": "26-11", "leave": "3.11.2026"}, "leave", "2026"),
        ({"ask": "call", "painting": "26-11"}, "sign", "what the client sees"),
        ({"ask": "call", "painting": "26-11", "sign": "quux"}, "sign", "There are"),
        ({"ask": "loan", "painting": "24-12"}, "", "drop the file"),
    ],
)
def test_what_cannot_be_used_is_said_beside_its_field(home, asked, field, word):
    with pytest.raises(EnvwatchError) as refused:
        lining.begin(home, asked)
    faults = lining.PAGE.faults(refused.value, asked)
    assert list(faults) == [field] and word.casefold() in faults[field].casefold() and "--" not in faults[field]


def test_every_input_that_has_words_stands_once_on_the_page(home):
    with home.reading() as studio:
        shown = lining_fields.form(studio, {}, {}, NOW)
    ids = [id for one in shown._traverse() if isinstance(id := getattr(one, "id", None), dict)]
    names = [id[key] for id in ids for key in ("around", "around-drop") if key in id]
    assert sorted(names) == sorted(name for name, one in INPUTS.items() if one.words)


@pytest.mark.parametrize("ask", lining_fields.QUESTIONS)
def test_a_refusal_of_no_input_stands_beside_none(ask):
    assert list(lining.PAGE.faults(EnvwatchError("the disk is full"), {"ask": ask})) == [""]


def test_an_address_keeps_only_what_belongs_to_its_question():
    typed = {"painting": "26-11", "f_max": "20 ", "to": "store", "sign": "wet", "agreement": "0123"}
    assert lining_fields.given(typed, "today") == {"ask": "today", "painting": "26-11", "f_max": "20"}
    assert lining_fields.given(typed, "loan") == {"ask": "loan", "painting": "26-11", "agreement": "0123"}
    assert lining_fields.known({"ask": "today", "x": "1", "painting": "26-11"}) == {"ask": "today", "painting": "26-11"}


def test_a_dropped_agreement_is_held_until_it_is_asked_about(home, monkeypatch):
    class Clicked:
        triggered_id = {"around-drop": "agreement"}

    monkeypatch.setattr(lining, "ctx", Clicked)
    content = "data:;base64," + base64.b64encode(AGREED).decode()
    ids = [{"around-drop": "positions"}, {"around-drop": "agreement"}]
    shown = lining.take([None, content], ["", "../loan.toml"], ids)
    assert "loan.toml is held" in text_of(shown[1])
    assert list(home.shelf.values())[-1] == ("loan.toml", AGREED)


def test_an_empty_studio_leads_to_the_paintings(tmp_path):
    Studio.create(tmp_path / "new", name="New", zone="Europe/Berlin").close()
    made = create_app(tmp_path / "new", now=lambda: NOW)
    assert "enter a painting" in page(made, "/around", "?" + urlencode({"ask": "today"}))
    made.server.config["HOUSE"].close()


def test_a_sheet_for_a_time_away_needs_no_painting(app, home):
    asked = {"ask": "away", "a_from": "2026-11-05", "a_until": "2026-11-30", "who": "a colleague"}
    shown = told(home, **asked)
    assert "See to before you go" in shown and "Picture store" in shown and "Dehumidifier" in shown
    assert app.server.test_client().get("/around.pdf", query_string=asked).data.startswith(b"%PDF")
    with pytest.raises(EnvwatchError) as refused:
        lining.begin(home, asked | {"a_until": "2026-11-01"})
    assert list(lining.PAGE.faults(refused.value, asked)) == ["a_until"]
