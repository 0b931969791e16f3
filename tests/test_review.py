"""The Monday review on the sample studio: what its README foretold, and what a review may never do."""

import json
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from envwatch.archive import Studio, reviews
from envwatch.cases import review
from envwatch.core import period
from envwatch.core.errors import NotThere
from envwatch.core.findings import Level
from envwatch.present import terminal
from envwatch.present.plain import plain

NOW = pd.Timestamp("2026-11-02T09:00", tz="UTC")
ZONE = "Europe/Berlin"


@pytest.fixture(scope="module")
def studio(demo_of_file):
    with Studio.open(demo_of_file) as house:
        yield house


@pytest.fixture(scope="module")
def w44(studio):
    return review.make(studio, NOW)


def test_the_default_is_the_last_full_week_for_which_there_are_readings(w44):
    assert w44.period.label == "2026-W44" and w44.opening == ()


def test_weeks_later_the_same_week_is_reviewed_and_now_is_called_not_known(studio):
    span, opening = review.default_period(studio, NOW + pd.Timedelta(days=21))
    assert span.label == "2026-W44"
    assert "3 weeks before" in opening[0] and "not known" in opening[0]


def test_three_paintings_are_in_trouble_in_the_order_foretold(w44):
    # as sample_logs/README.md foretells
    found = [(line.id, line.level, line.headline.hazard, line.headline.mechanism) for line in w44.needing]
    assert found == [
        ("26-02", Level.URGENT, "lining", "heat"),
        ("25-09", Level.ACT, "lining", "damp"),
        ("26-11", Level.ACT, "lining", "damp"),
    ]


def test_the_values_are_those_foretold_within_a_few_tenths(w44):
    values = {line.id: line.headline.value for line in w44.needing}
    assert values == pytest.approx({"26-02": 47.9, "25-09": 73.5, "26-11": 69.0}, abs=0.4)


def test_each_painting_in_trouble_says_layer_since_sign_deed_and_day(w44):
    for line in w44.needing:
        finding = line.headline
        assert finding.since is not None and finding.by is not None and finding.by >= NOW
        assert finding.layer.split(" (")[0] in finding.sentence
        assert finding.look_for and finding.do and finding.clears and finding.avoid


def test_a_level_that_rests_on_our_judgement_says_so_in_its_sentence(w44):
    for line in w44.needing:
        assert "our judgement" in line.headline.sentence


def test_closed_care_and_a_home_without_a_logger_never_crowd_the_list(w44):
    assert {title for title, _ in w44.left_out} == {"Girl with a Spindle", "The Dyke Breach, 1825"}


def test_a_flat_logger_and_an_empty_crate_are_not_known_and_never_quiet(w44):
    assert {line.id for line in w44.not_seen} == {"22-08", "24-12"}
    assert not {line.id for line in w44.quiet} & {"22-08", "24-12"}


def test_no_painting_is_lost_or_told_twice(w44, studio):
    told = [line.title for line in w44.judged] + [title for title, _ in w44.left_out]
    assert sorted(told) == sorted(p.title for p in studio.paintings().values())


def test_loggers_not_fetched_stand_apart_from_those_that_stopped_and_from_flat_ones(w44):
    states = {(line.id, line.state) for line in w44.loggers}
    assert {("outdoors", "not fetched"), ("crate", "stopped"), ("office", "flat")} <= states
    assert ("crate", "not fetched") not in states


def test_a_painting_in_trouble_is_one_task(w44):
    open_tasks = [due for due in w44.tasks if due.state == "open"]
    assert [due.painting_id for due in open_tasks] == ["26-02", "25-09", "26-11"] or len(open_tasks) == 3


def sentences(result):
    """All that is said of each painting."""
    return {line.id: [finding.sentence for finding in line.verdict.findings] for line in result.judged}


def test_moving_one_painting_never_changes_anothers_verdict(demo_copy):
    with Studio.open(demo_copy) as house:
        before = {line.id: line.verdict for line in review.make(house, NOW).judged}
        house.move("26-02", "studio", "2026-10-27 09:00", position="rack")
        after = {line.id: line.verdict for line in review.make(house, NOW).judged}
    changed = {
        id for id in before if [f.sentence for f in before[id].findings] != [f.sentence for f in after[id].findings]
    }
    assert changed == {"26-02"}


def test_a_kept_review_lets_the_next_say_what_changed(demo_copy):
    with Studio.open(demo_copy) as house:
        first = review.keep(house, review.make(house, NOW, period.iso_week("2026-W40", ZONE)))
        assert first.number is not None
        second = review.make(house, NOW)
    lines = {line.id: line.change for line in second.judged}
    assert lines["26-02"] == "worse"
    assert any("Herring Fleet" in sentence for sentence in second.changes)


def test_a_task_put_off_leaves_the_list_until_its_day_and_comes_back_if_it_grows_worse(demo_copy):
    with Studio.open(demo_copy) as house:
        kept = review.keep(house, review.make(house, NOW))
        line = next(line for line in kept.needing if line.id == "25-09")
        reviews.put_off(house, line.headline.number, "the racks are full", NOW + pd.Timedelta(days=10))
        again = review.make(house, NOW)
        assert "25-09" in {line.id for line in again.put_off}
        assert "the racks are full" in next(line for line in again.put_off if line.id == "25-09").put_off
        worse = replace(line.headline, level=Level.URGENT)
        assert reviews.put_off_reason(house, worse, NOW) == ""
        later = review.make(house, NOW + pd.Timedelta(days=11), period.iso_week("2026-W44", ZONE))
        assert reviews.put_off_reason(house, line.headline, NOW + pd.Timedelta(days=11)) == ""
    assert later.period.label == "2026-W44"


def test_a_task_closed_with_a_word_is_not_carried_over(demo_copy):
    with Studio.open(demo_copy) as house:
        kept = review.keep(house, review.make(house, NOW))
        numbers = {due.painting_id: due.number for due in kept.tasks if due.state == "open"}
        reviews.close_task(house, numbers["26-02"], "taken down, in the studio")
        following = review.tasks_of(house, (), period.iso_week("2026-W45", ZONE), NOW + pd.Timedelta(days=7))
        carried = {due.painting_id for due in following if due.state == "carried over"}
    assert "26-02" not in carried and "25-09" in carried


def test_an_empty_studio_is_told_so_and_refuses_nothing(tmp_path):
    with Studio.create(tmp_path / "new", name="Empty", zone=ZONE) as house:
        result = review.make(house, NOW)
    assert "No readings yet" in result.opening[0]
    assert "nothing is known" in terminal.review(result)
    assert not result.is_quiet


def test_a_week_without_readings_names_the_span_there_is(studio):
    with pytest.raises(NotThere, match="There are readings from 2025-09-01 to 2026-11-02"):
        review.make(studio, NOW, period.iso_week("2024-W10", ZONE))


@pytest.mark.parametrize("width", [72, 80, 100])
def test_no_line_is_wider_than_the_terminal(w44, width):
    assert max(map(len, terminal.review(w44, width).splitlines())) <= width


def test_the_review_as_json_is_valid_and_holds_no_owner(w44, studio):
    text = json.dumps(plain(w44), allow_nan=False)
    owners = {p.owner for p in studio.paintings().values()} - {"the studio"}
    assert owners and not any(owner in text for owner in owners)
    assert json.loads(text)["trouble"][0]["level"] == "urgent"


def test_with_three_weeks_of_data_each_rule_that_needs_more_names_its_day(studio):
    # the crate of the story aside, the records of store and studio begin on 1 September 2025
    early = review.make(studio, NOW, period.iso_week("2025-W38", ZONE))
    waits = [f for line in early.judged for f in line.verdict.unseen if f.decidable_on is not None]
    assert waits and all(f.decidable_on > early.period.end for f in waits)


def test_a_quiet_week_is_one_line_and_what_is_due(w44):
    quiet = replace(w44, trouble=(), not_seen=(), tray=(), loggers=(), opening=())
    lines = terminal.review(quiet).splitlines()
    assert quiet.is_quiet
    assert any(line.startswith("A quiet week: nothing against any of") for line in lines)
    assert not any("Places" in line for line in lines)


def test_hours_and_values_in_the_text_are_those_of_the_data(w44):
    text = terminal.review(w44)
    finding = w44.needing[0].headline
    assert f"{finding.value:.1f} ± {finding.uncertainty:.1f} °C" in text
    assert not np.isnan(finding.value)
