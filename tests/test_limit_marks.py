"""On paper a limit that envwatch set is marked and told once; one from memory alone decides no level that leaves."""

import tomllib
from dataclasses import replace
from io import BytesIO

import pytest
from pypdf import PdfReader
from typer.testing import CliRunner

from envwatch import __version__
from envwatch.archive import Studio
from envwatch.cases.painting import handover
from envwatch.cli import app
from envwatch.core.errors import BadInput
from envwatch.core.findings import Level
from envwatch.present import paper as sheets
from envwatch.present.paper import dossier
from envwatch.present.paper.limit_marks import MARK, marked
from envwatch.records import Confidence
from tests.conftest import MONDAY


def words(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


@pytest.fixture
def house(demo_copy):
    with Studio.open(demo_copy) as studio:
        yield studio


@pytest.fixture
def told(house):
    return handover.of(house, "25-09", MONDAY)


@pytest.mark.parametrize(
    "said, shown",
    [
        ("limit 70 % RH (our judgement); 168 h", f"limit 70 % RH{MARK}; 168 h"),
        ("act from 70 % RH (limit: our judgement).", f"act from 70 % RH{MARK}."),
        ("9 days damp. (A limit of our judgement.)", f"9 days damp.{MARK}"),
        ("30 days, our judgement", f"30 days, working limit{MARK}"),
        ("70 % RH (published)", "70 % RH (published)"),
        ("limit 25 % RH (from memory)", "limit 25 % RH (from memory, not checked against the text)"),
    ],
)
def test_each_use_bears_the_mark_in_place_of_whose_judgement(said, shown):
    assert marked({"a": [{"b": said}], "adoption": ""})["a"] == [{"b": shown}]


def test_a_sheet_without_such_a_limit_has_no_legend():
    assert marked({"a": "70 % RH (published)", "adoption": ""})["legend"] == ""


def test_the_dossier_says_once_whose_the_working_limits_are(house, told):
    told = words(sheets.page.printed(dossier.content(told), dossier.LAYOUT, "a4", MONDAY))
    assert "our judgement" not in told and told.count(f"{MARK} working limit of envwatch, version {__version__}") == 1
    assert "nobody has published one; the studio has not yet said whether it adopts it" in told


def test_what_the_studio_adopted_stands_on_every_sheet_with_day_and_reason(demo_copy):
    said = ["limits", "--adopt", "the trade knows\nno others", "--on", "2026-11-01", "--studio", str(demo_copy)]
    assert "Adopted on 2026-11-01, because the trade knows no others." in CliRunner().invoke(app, said).stdout
    facts = tomllib.loads((demo_copy / "studio.toml").read_text(encoding="utf-8"))
    assert facts["limits_because"] == "the trade knows no others" and facts["zone"] == "Europe/Berlin"
    with Studio.open(demo_copy) as studio:
        paper = words(
            sheets.page.printed(dossier.content(handover.of(studio, "25-09", MONDAY)), dossier.LAYOUT, "a4", MONDAY)
        )
    assert "adopted by the studio on 2026-11-01, because the trade knows no others." in paper


@pytest.mark.parametrize("day, why", [("2026-11-01", "  "), ("the first", "a reason")])
def test_no_reason_or_no_day_adopts_nothing(house, day, why):
    with pytest.raises(BadInput):
        house.adopt_limits(day, why)
    assert house.adoption == "" and "limits_because" not in (house.folder / "studio.toml").read_text(encoding="utf-8")


def test_a_limit_from_memory_alone_decides_no_level_on_paper_that_leaves(told):
    judged = told.line.verdict
    assert judged.level is Level.ACT
    remembered = tuple(replace(f, confidence=Confidence.FROM_MEMORY) for f in judged.findings)
    line = replace(told.line, verdict=replace(judged, findings=remembered))
    paper = dossier.content(replace(told, line=line))
    assert paper["summary"].startswith("Not known")
    assert {finding["word"] for finding in paper["findings"]} == {"not known"}
    assert all("from memory, and alone decides no level here" in finding["sentence"] for finding in paper["findings"])


def test_the_limits_are_counted_by_who_set_them_in_lines_of_eighty(demo_copy):
    told = CliRunner().invoke(app, ["limits", "--studio", str(demo_copy)]).stdout
    assert "our judgement" in told and "published" in told and "envwatch limits --adopt" in " ".join(told.split())
    assert max(map(len, told.splitlines())) <= 80
