"""The dossier's one checksum stands for what it rests on; each finding's row tells when, read, seen and answered."""

import re
import shutil
from io import BytesIO

import pandas as pd
import pytest
from pypdf import PdfReader

from envwatch.archive import Studio
from envwatch.archive.upkeep.backup import restore
from envwatch.cases import review
from envwatch.cases.painting import handover
from envwatch.cases.review import causes
from envwatch.core.period import iso_week
from envwatch.present.paper.dossier import content, dossier
from tests.long.refused import made
from tests.test_trust import by_hand

NOW = pd.Timestamp("2026-01-13T09:00Z")
SPAN = ("2026-01-05", "2026-01-11")


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """A week of damp air, reviewed; nobody writes to it."""
    folder = made(tmp_path_factory.mktemp("basis"))
    with Studio.open(folder) as studio:
        review.keep(studio, review.make(studio, NOW, iso_week("2026-W02", "UTC")))
    return folder


@pytest.fixture
def folder(kept, tmp_path):
    return shutil.copytree(kept, tmp_path / "studio")


def paper(folder, first="p1"):
    with Studio.open(folder) as studio:
        return handover.of(studio, first, NOW, *SPAN)


def sum_of(folder) -> str:
    return paper(folder).basis.sha256


def test_the_same_record_gives_the_same_sum_here_later_and_from_a_backup(folder, tmp_path):
    first = sum_of(folder)
    with Studio.open(folder) as studio:
        studio.back_up(tmp_path / "kept.zip")
        studio.observe("p2", "2026-01-08", "a ripple")  # of another painting
    restore(tmp_path / "kept.zip", tmp_path / "again")
    assert sum_of(folder) == sum_of(tmp_path / "again") == first
    assert re.fullmatch("[0-9a-f]{64}", first)


@pytest.mark.parametrize(
    "statement",
    ["UPDATE stays SET purpose = 'x' WHERE painting = 'p1'", "UPDATE paintings SET owner = 'x' WHERE id = 'p1'",
     "UPDATE layers SET material = 'cotton' WHERE painting = 'p1' AND role = 'canvas'",
     "UPDATE reviews SET record = replace(record, 'size', 'sise')", "UPDATE places SET note = 'x' WHERE id = 'room'",
     "UPDATE hangings SET \"from\" = '2025-01-02'", "UPDATE loggers SET note = 'x' WHERE id = 'a'"],
)  # fmt: skip
def test_a_letter_changed_in_what_it_rests_on_gives_another_sum_and_is_told_on_the_paper(folder, statement):
    before = paper(folder)
    by_hand(folder, statement)
    after = paper(folder)
    assert after.basis.sha256 != before.basis.sha256 and after.basis.rows == before.basis.rows
    assert before.amiss == () and any("by something else than envwatch" in line for line in after.amiss)
    printed = "".join(page.extract_text() for page in PdfReader(BytesIO(dossier(after))).pages)
    flat = "".join(printed.split())
    assert after.basis.sha256 in flat and "NotasenvwatchwroteitTHE".replace("THE", "") in flat


def test_each_finding_tells_in_one_row_when_it_happened_was_read_seen_by_whom_and_answered(folder):
    result = paper(folder)
    led = result.line.verdict.raised[0]
    assert led.number is not None and "not answered" in _row(result, led)
    with Studio.open(folder) as studio:
        studio.observe("p1", "2026-01-12", "nothing new", finding=led.number, confirms=False, look="own", by="A. Ember")
    row = _row(paper(folder), led)
    for part in (
        "happened ",
        "2026 · read ",
        "review of 2026-W02",
        " · answered Mon 12 Jan 2026 by A. Ember: nothing new",
    ):
        assert part in row, row
    assert re.search(r"seen \w+ 13 Jan 2026 by \S+, review", row), row


def _row(result, finding) -> str:
    assert len(result.times) == len(result.line.verdict.raised)
    told = content(result)["findings"]
    return next(one["times"] for one in told if one["layer"] == finding.layer and finding.sentence in one["sentence"])


def test_an_event_of_a_room_tells_its_times_in_one_row_too(demo_copy):
    at, days = pd.Timestamp("2026-11-02T11:00Z"), ("2026-05-01", "2026-11-01")
    with Studio.open(demo_copy) as studio:
        assert handover.of(studio, "25-09", at, *days).events == ()  # nobody has reviewed it
        made = review.make(studio, at, iso_week("2026-W44", studio.zone))
        review.keep(studio, made)
        event = next(e for e in made.events if e.place_id == "store")
        ((sentence, row),) = [e.values() for e in content(handover.of(studio, "25-09", at, *days))["events"]]
        assert sentence == event.sentence and row.endswith("not answered")
        causes.name(studio, event, "gutter over the wall", at, by="A. Ember")
        row = content(handover.of(studio, "25-09", at, *days))["events"][0]["times"]
        assert re.fullmatch(
            r"happened Tue 26 May 2026 to Mon 2 Nov 2026 · read .+ · seen Mon 2 Nov 2026 by .+, review of 2026-W44 · "
            r"answered Mon 2 Nov 2026 by A. Ember: gutter over the wall", row
        )  # fmt: skip
        assert content(handover.of(studio, "25-09", at, "2026-01-05", "2026-03-01"))["events"] == []
        home = handover.of(studio, "26-02", at, "2026-10-01", "2026-11-01")  # at its owner's
        assert all("Querlicht" not in told["sentence"] for told in content(home)["events"])
