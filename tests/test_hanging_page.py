"""The page *Where to hang* without a browser: questions, answer, papers, the owner's file afterwards."""

import base64
import json
from pathlib import Path
from urllib.parse import urlencode

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from dashboards import create_app
from dashboards.pages import hanging as where_to_hang
from dashboards.pages import hanging_fields
from envwatch.archive import Studio
from envwatch.cases import hanging
from envwatch.cases.fields.hanging import INPUTS
from envwatch.cases.fields.positions import HOUSE, LENGTHS, POSITION
from envwatch.core.errors import BadInput, EnvwatchError
from tests.test_dashboards import page, text_of

NOW = pd.Timestamp("2026-11-02T11:00Z")
SAMPLE = Path(__file__).parent.parent / "sample_logs" / "positions.toml"


@pytest.fixture(scope="module")
def asked() -> dict[str, str]:
    house, rows = hanging.cells(SAMPLE.read_bytes(), SAMPLE.name)
    return {"ask": "where", "painting": "26-02", "on": "2026-11-27", **hanging_fields.asked_of(house, rows)}


def dropped(content: bytes) -> str:
    return "data:text/plain;base64," + base64.b64encode(content).decode()


def test_the_page_says_what_the_command_says(app, home, asked, demo_of_file):
    from envwatch.cli import app as cli

    said = CliRunner().invoke(cli, ["hang", "26-02", "--positions", str(SAMPLE), "--on", "2026-11-27", "--studio",
                                    str(demo_of_file), "--no-keep", "--json"])  # fmt: skip
    assert said.exit_code == 0, said.output
    told = json.loads(said.stdout)
    where_to_hang.begin(home, asked).over.wait()
    shown = " ".join(page(app, "/hang", "?" + urlencode(asked)).split())
    assert told["answer"] in shown
    for spot in told["positions"]:
        assert spot["name"] in shown and spot["why"] in shown
        assert all(condition in shown for condition in spot["conditions"])
    assert shown.index("Never here") < shown.index("Good place if"), "never here stands first"


@pytest.mark.parametrize("paper", ["owner", "studio"])
def test_the_papers_come_from_the_same_judging(app, home, asked, paper):
    where_to_hang.begin(home, asked).over.wait()
    answer = app.server.test_client().get(f"/hanging-{paper}.pdf", query_string=asked | {"language": "pt"})
    assert answer.status_code == 200 and answer.data.startswith(b"%PDF")
    none = app.server.test_client().get(f"/hanging-{paper}.pdf", query_string={"painting": "26-02"})
    assert none.status_code == 404 and b"Describe one position" in none.data
    odd = app.server.test_client().get("/hanging-owner.pdf", query_string=asked | {"language": "xx"})
    assert odd.status_code == 404 and b"xx" in odd.data


def test_a_file_typed_into_an_address_is_the_same_file():
    direct = hanging.read(SAMPLE.read_bytes(), SAMPLE.name)
    house, rows = hanging.cells(SAMPLE.read_bytes(), SAMPLE.name)
    address = hanging_fields.known(hanging_fields.asked_of(house, rows))
    assert hanging.described(*hanging_fields.rows_of(address)) == direct


def test_every_input_that_has_words_stands_once_on_the_page(home):
    with home.reading() as studio:
        shown = hanging_fields.form(studio, {}, {}, {})
    ids = [one.id["hang"] for one in shown._traverse() if isinstance(getattr(one, "id", None), dict)]
    of_house = [f"h.{name}" for name, one in HOUSE.items() if one.words]
    assert sorted(ids) == sorted([*INPUTS, *of_house, *(f"{n}.{name}" for n in "12" for name in POSITION | LENGTHS)])


CELLS = {name: one.choices for name, one in POSITION.items() if one.choices}


@given(st.lists(st.fixed_dictionaries({}, optional={
    name: st.sampled_from([key for key, _ in options]) for name, options in CELLS.items()
    if name not in ("log", "log_here")
}), min_size=1, max_size=8))  # fmt: skip
def test_every_choice_on_the_page_is_one_that_positions_take(rows):
    typed = [{"name": f"place {n}", **row} for n, row in enumerate(rows)]
    spots = hanging.described({}, typed)
    assert [spot.name for spot in spots] == [row["name"] for row in typed]


@pytest.mark.parametrize(
    ("change", "field", "word"),
    [
        ({"painting": ""}, "painting", "choose the painting"),
        ({"1.name": ""}, "1.name", "name"),
        ({"1.standoff": "25"}, "1.standoff", "which unit"),
        ({"2.thickness": "9 parsec"}, "2.thickness", "parsec"),
        ({"2.wall_c": "14"}, "2.wall_room_c", "read together"),
        ({"1.wall": "north"}, "1.wall", "inner"),
        ({"2.name": "inner wall by the bookcase"}, "2.name", "two positions"),
        ({"h.latitude": "north"}, "h.latitude", "north"),
        ({"h.empty_months": "13"}, "h.empty_months", "13"),
        ({"adhesive": "jam"}, "adhesive", "jam"),
        ({"on": "soon"}, "on", "soon"),
        ({"spots": "40"}, "", "at most"),
    ],
)
def test_what_cannot_be_used_is_said_beside_its_field(home, asked, change, field, word):
    with pytest.raises(EnvwatchError) as refused:
        where_to_hang.begin(home, {name: text for name, text in (asked | change).items() if text})
    faults = where_to_hang.PAGE.faults(refused.value, change)
    assert list(faults) == [field]
    assert word.casefold() in faults[field].casefold() and "--" not in faults[field]


def test_a_dropped_file_fills_in_the_questions_and_a_broken_one_is_refused(home):
    where, said = where_to_hang.fill(dropped(SAMPLE.read_bytes()), "positions.toml", {"painting": "26-02"})
    assert where.startswith("/hang?painting=26-02&") and "filled in" in text_of(said)
    _, refused = where_to_hang.fill(dropped(b"[house\n"), "x.toml", {})
    assert "x.toml" in text_of(refused)


def test_the_owners_file_is_held_against_the_advice(home, asked):
    days = pd.date_range("2026-10-05", "2026-10-28", freq="h", tz="UTC")  # read before the file is handed in
    content = "time,temp_c,rh_percent\n" + "".join(f"{t:%Y-%m-%d %H:%M},19.0,74.0\n" for t in days)
    late = asked | {"on": "2026-10-05"}
    where, _ = where_to_hang.take(dropped(content.encode()), "../living room.csv", "inner wall by the bookcase",
                                  "UTC", None, late)  # fmt: skip
    assert where.startswith("/hang?")
    said = dict(part.split("=") for part in where.partition("?")[2].split("&") if part.startswith(("ask=", "log=")))
    token = said["log"]
    assert said["ask"] == "after" and home.shelf[token][0] == "living room.csv"
    again = late | {"ask": "after", "log": token, "at": "inner wall by the bookcase", "zone": "UTC"}
    where_to_hang.begin(home, again).over.wait()
    shown = text_of(where_to_hang.layout(home, "", again))
    assert "worse than advised" in shown and "of the time was read" in shown
    with pytest.raises(BadInput, match="drop it again"):
        where_to_hang.begin(home, again | {"log": "gone"})


def test_the_owners_file_without_dates_is_read_from_when_its_record_begins(home, asked):
    rows = "".join(f"{n};19,{n % 7};7{n % 5},0\n" for n in range(500))
    content, late = dropped(f"Elapsed (h);Temp (°C);RH (%)\n{rows}".encode()), asked | {"on": "2026-10-05"}
    spot = "inner wall by the bookcase"
    _, refused = where_to_hang.take(content, "x.csv", spot, "UTC", None, late)
    assert "Say so under “its record begins”" in text_of(refused)
    where, _ = where_to_hang.take(content, "x.csv", spot, "UTC", "2026-10-05 00:00", late)
    assert "start=2026-10-05" in where


def test_an_empty_studio_leads_to_the_paintings(tmp_path):
    Studio.create(tmp_path / "new", name="New", zone="Europe/Berlin").close()
    made = create_app(tmp_path / "new", now=lambda: NOW)
    assert "enter a painting" in page(made, "/hang")
    made.server.config["HOUSE"].close()
