"""A painting that left in the week, or whose care was closed: judged until then, its owner rung about what was found.

Everything is foretold from the register of the sample; that one rings the owner and moves nothing by telephone is
common practice, no source.
"""

import json

import pandas as pd
import pytest

from envwatch.archive import Studio, reviews
from envwatch.cases import away, batch, review
from envwatch.cases.painting import call, record
from envwatch.core import period
from envwatch.core.findings import Level
from envwatch.figures.handling import hot
from envwatch.present import terminal
from envwatch.present.paper.review import content
from envwatch.present.plain import plain
from envwatch.present.terminal.files import dossier as told_of

ZONE = "Europe/Berlin"
NOW = pd.Timestamp("2026-11-02T09:00", tz="UTC")
W44 = period.iso_week("2026-W44", ZONE)
DAMP, CALM, HOUSE = "25-09", "26-06", "schummerkuhle"  # act in the store all week; nothing against it; no logger


@pytest.fixture
def studio(demo_copy):
    with Studio.open(demo_copy) as house:
        yield house


def close(studio, id, until=""):
    studio.enter("painting", {"id": id, "care": "closed", "care_until": until})


def line_of(made, id):
    return next(line for line in made.judged if line.id == id)


def local(text):
    return pd.Timestamp(text, tz=ZONE).tz_convert("UTC")


@pytest.mark.parametrize(
    ("moved", "care", "until", "ends"),
    [
        ("2026-10-30 10:00", None, None, "2026-10-30 10:00"),  # home, the hour known
        ("2026-10-30", None, None, "2026-10-31"),  # only the day: all of it may have been here
        ("2026-10-30 10:00", "closed", "2026-11-01", "2026-10-30 10:00"),  # what came first
        ("2026-10-30 10:00", "closed", "2026-10-28", "2026-10-29"),
        ("2026-10-30 10:00", "closed", "", "2026-10-30 10:00"),
        ("2026-10-30 10:00", "closed", "2027-09-12", "2026-10-30 10:00"),  # a day to come closed nothing
        (None, "closed", "2026-10-29", "2026-10-30"),
        (None, "closed", "2026-11-01", "2026-11-02"),
        ("2026-11-02 08:00", None, None, "2026-11-02"),  # after the week: all of it was here
    ],
)
def test_it_is_judged_until_it_left_and_no_further(studio, moved, care, until, ends):
    if moved:
        studio.move(DAMP, HOUSE, moved)
    if care:
        close(studio, DAMP, until)
    line = review.painting_line(studio, studio.paintings()[DAMP], W44, NOW)
    assert line.verdict.end == local(ends) and line.seen_until >= local(ends) - pd.Timedelta(hours=1)
    assert line.level is Level.ACT and line.verdict.coverage > 0.99 and not line.holes and not line.verdict.unseen
    assert line.trace.time[-1] < local(ends)


@pytest.mark.parametrize("until", ["2026-10-29", ""])
def test_the_verdict_is_that_of_the_hours_it_was_here(studio, until):
    part = period.from_to("2026-10-26", "2026-10-29", ZONE)
    before = review.painting_line(studio, studio.paintings()[DAMP], part, NOW).verdict
    studio.move(DAMP, HOUSE, "2026-10-30 00:00")
    close(studio, DAMP, until)
    after = review.painting_line(studio, studio.paintings()[DAMP], W44, NOW).verdict
    assert [f.sentence for f in after.findings] == [f.sentence for f in before.findings]


def all_told(studio, made):
    return {
        "review": terminal.review(made), "sheet": json.dumps(content(made), ensure_ascii=False),
        "json": json.dumps(plain(made), ensure_ascii=False), "painting": told_of(record.of(studio, DAMP, NOW)),
    }  # fmt: skip


def flat(text):
    return " ".join(text.split())


@pytest.mark.parametrize("care", [None, "closed"])
def test_every_telling_says_until_when_and_asks_to_ring_the_owner(studio, care):
    week_before = review.make(studio, NOW - pd.Timedelta(days=7), period.iso_week("2026-W43", ZONE))
    review.keep(studio, week_before)
    assert any(
        task.painting_id == DAMP and "Dry the room" in task.what for task in reviews.tasks(studio)
    )  # carried over
    studio.move(DAMP, HOUSE, "2026-10-30 10:00")
    if care:
        close(studio, DAMP, "2026-11-02")
    made = review.make(studio, NOW, W44)
    for where, text in all_told(studio, made).items():
        assert "was here until Fri 30 Oct 2026" in flat(text), where
        assert "Ring the owner: it was here until Fri 30 Oct 2026." in flat(text), where
    for finding in line_of(made, DAMP).verdict.raised:
        assert finding.do.startswith("Ring the owner") and "ove it" not in finding.do + finding.avoid + finding.clears
        assert finding.look_for.rstrip(".")[1:] in finding.do or not finding.look_for
    asked = [due for due in made.tasks if due.painting_id == DAMP and due.number]
    assert [due.state for due in asked] == ["carried over"] and asked[0].what.startswith("Ring the owner")


def test_a_quiet_painting_that_left_is_told_with_its_day_too(studio):
    studio.move(CALM, HOUSE, "2026-10-30")
    made = review.make(studio, NOW, W44)
    assert [title for title, _ in made.departed] == [f"Peat Cutters' Chapel [{CALM}]"]
    assert "here until Fri 30 Oct 2026, then at home in Hof Schummerkuhle" in flat(terminal.review(made))
    assert CALM not in {title for title, _ in made.left_out} and line_of(made, CALM).level is Level.CLEAR
    assert not any("Hof Schummerkuhle" in note for note in line_of(made, CALM).verdict.notes)


def test_closed_long_before_stays_left_out_and_so_does_the_week_after(studio):
    studio.move(DAMP, HOUSE, "2026-10-20")
    close(studio, DAMP, "2026-10-20")
    made = review.make(studio, NOW, W44)
    assert ("A Sluice Warden", "care closed") in made.left_out and (
        "Girl with a Spindle",
        "care closed",
    ) in made.left_out
    assert DAMP not in {line.id for line in made.judged}


def test_what_was_assumed_for_a_day_that_is_not_on_record_is_told(studio):
    close(studio, "25-16", "2027-09-12")  # in a house with a logger since September; that day is still to come
    close(studio, DAMP)  # in the store, by its stays
    made = review.make(studio, NOW, W44)
    why = dict(made.left_out)["View across the Marsh"]
    assert why == "care closed, its day not on record: taken as when it went home"
    line = line_of(made, DAMP)
    assert line.verdict.end == W44.end and line.left is None
    assert any("by its stays it has not left and is judged on" in note for note in line.verdict.notes)


def test_an_owner_is_rung_about_a_painting_that_its_stays_still_have_here(studio):
    close(studio, DAMP, "2026-10-29")
    line = review.painting_line(studio, studio.paintings()[DAMP], W44, NOW)
    assert (
        line.left.stands == "Picture store"
        and "If it still stands in Picture store, look at it there" in line.headline.do
    )


def test_a_catch_up_of_weeks_and_the_dossier_and_the_call_know_it_too(studio):
    studio.move(DAMP, HOUSE, "2026-10-30 10:00")
    long = period.from_to("2026-10-01", "2026-11-01", ZONE)
    assert review.painting_line(studio, studio.paintings()[DAMP], long, NOW).verdict.end == local("2026-10-30 10:00")
    ringing = call.ringing(studio, studio.paintings()[DAMP], "blister", NOW)
    assert "until it left on Fri 30 Oct 2026" in call.last_known(ringing) and "100%" in call.last_known(ringing)


def test_the_sheet_for_a_time_away_lists_it_nowhere_and_has_its_owner_rung_before(studio):
    studio.move(DAMP, HOUSE, "2026-10-30 10:00")
    sheet = away.sheet_for(studio, NOW, "2026-12-20", "2026-12-28")
    assert not any(DAMP in title for room in sheet.rooms for title in room.paintings)
    assert DAMP not in {one.painting_id for one in sheet.watched}
    assert any("Sluice Warden" in line and "Ring the owner" in line for line in sheet.before)


def test_no_step_of_a_treatment_falls_due_after_care_was_closed(studio):
    close(studio, "26-11", "2026-10-28")
    steps = [due.on for due in review.make(studio, NOW, W44).tasks if due.painting_id == "26-11" and due.number is None]
    assert steps and max(steps) < local("2026-10-29")


def test_a_place_worked_out_by_itself_keeps_those_that_were_there(studio):
    close(studio, DAMP, "2026-10-29")
    close(studio, CALM, "2026-10-20")
    stood = {id for order in batch.orders(studio, W44) for _, ids in order.alike for id in ids}
    assert DAMP in stood and CALM not in stood


def test_a_lining_that_got_hot_and_went_home_is_handled_in_the_one_order(studio):
    studio.move("26-02", HOUSE, "2026-10-31 10:00")
    line = review.painting_line(studio, studio.paintings()["26-02"], W44, NOW)
    assert line.level is Level.URGENT and " ".join(hot()) in line.headline.do
