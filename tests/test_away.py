"""The sheet for a time away: what it asks, what it never says, and the way back."""

import json
import re

import pandas as pd
import pytest
from typer.testing import CliRunner

from envwatch.archive import Studio
from envwatch.cases import aftercare, away
from envwatch.cli import app
from envwatch.core.errors import BadInput
from envwatch.core.painting import CareStatus
from envwatch.figures.materials import comfort
from envwatch.present.paper import away as sheet
from envwatch.present.paper.limit_marks import marked
from envwatch.present.terminal import away as tell

NOW = pd.Timestamp("2026-11-02T11:00Z")


@pytest.fixture(scope="module")
def studio(demo_of_file):
    with Studio.open(demo_of_file) as opened:
        yield opened


@pytest.fixture(scope="module")
def told(studio):
    return away.sheet_for(studio, NOW, "2026-11-05", "2026-11-30", "a colleague", ("conservator: paintings",))


def test_each_room_has_the_narrowest_lines_of_all_that_stands_in_it(studio, told):
    store = next(room for room in told.rooms if room.name == "Picture store")
    inside = [p for p in studio.paintings().values() if f"{p.title} [{p.id}]" in store.paintings]
    assert len(inside) == 3
    bears = [comfort(p, studio.materials()) for p in inside]
    assert store.rh_percent == (max(rh[0] for rh, _ in bears), min(rh[1] for rh, _ in bears))
    assert store.lines.startswith("40 to 62 % RH")


def test_what_falls_due_in_that_time_is_told_and_only_looks_are_asked_of_who_looks_after_it(studio, told):
    for one in told.dated:
        assert told.start <= one.on < told.end
        assert (one.who == "let it wait") == (not one.what.startswith("look"))
    bridge = aftercare.due(studio.paintings()["26-11"], studio.zone, told.start)
    assert any("restretch" in one.what for one in told.dated) == any(
        "restretch" in step.what and told.start <= step.on < told.end for step in bridge
    )


def test_what_is_in_trouble_is_said_before_leaving_and_the_paper_carries_no_level_no_owner_and_no_house(studio, told):
    assert any("Sluice Warden" in line for line in told.before)
    paper = json.dumps(marked(sheet.content(told)), ensure_ascii=False)
    assert re.search(r"40 to 62 % RH, \d+ to \d+ °C‡", paper)
    for word in ("urgent", "act.", *(p.owner for p in studio.paintings().values() if p.owner != "the studio")):
        assert word not in paper
    for place in studio.places().values():
        if place.kind == "house":
            assert place.name not in paper
    assert not any(p.care not in (CareStatus.IN_STUDIO, CareStatus.IN_STORE) and p.title in paper
                   for p in studio.paintings().values())  # fmt: skip
    assert sheet.page(told).startswith(b"%PDF") and sheet.page(told, "letter").startswith(b"%PDF")


def test_paintings_that_cannot_be_kept_by_one_line_are_told_to_be_parted():
    room = away.RoomDuties("attic", ("a", "b"), (60.0, 50.0), (10.0, 25.0), (), "")
    assert "part them before you go" in room.lines
    assert away.RoomDuties("empty", (), None, None, (), "").lines == "no limits on record"


def test_electricity_water_and_what_is_not_asked_are_on_it(told):
    text = " ".join(tell.away(told).split())
    for words in ("wet and live", "no extension lead", "rinse it", "ladders alone", "licensed trade", "Power cut"):
        assert words in text
    assert "envwatch review --from 2026-11-05 --to 2026-11-30" in text
    assert max(map(len, tell.away(told, 80).splitlines())) <= 80


@pytest.mark.parametrize(
    ("first", "last", "word"),
    [("2026-12-24", "2026-12-20", "before"), ("2026-01-02", "2026-01-09", "is over"), ("soon", "2026-12-20", "soon")],
)
def test_impossible_days_are_refused(studio, first, last, word):
    with pytest.raises(BadInput, match=word):
        away.sheet_for(studio, NOW, first, last)


def test_the_command_keeps_the_sheet_and_the_catch_up_review_runs(demo_copy):
    run = CliRunner().invoke
    done = run(app, ["away", "--from", "2099-12-20", "--until", "2100-01-06", "--studio", str(demo_copy)])
    assert done.exit_code == 0 and (demo_copy / "sheets" / "away-2099-12-20-a4.pdf").is_file()
    back = run(app, ["review", "--from", "2026-10-05", "--to", "2026-11-01", "--as-of", "2026-11-02", "--no-keep",
                     "--studio", str(demo_copy)])  # fmt: skip
    assert back.exit_code == 0 and "2026-10-05 to 2026-11-01" in back.output
