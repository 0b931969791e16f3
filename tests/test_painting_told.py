"""One painting as it is told: the flag with what was seen of it, what is noted, and nothing of its owner's house."""

import json

import pandas as pd
import pytest
from typer.testing import CliRunner

from envwatch.archive import Studio
from envwatch.cases import review
from envwatch.cases.painting import record
from envwatch.cli import app
from envwatch.core.findings import Level
from envwatch.core.period import iso_week
from envwatch.present import terminal
from envwatch.present.paper.review import content
from envwatch.present.plain import plain

NOW = pd.Timestamp("2026-11-25T10:00Z")


@pytest.fixture
def demo(demo_copy):
    with Studio.open(demo_copy) as studio:
        yield studio


def told(studio, words):
    return terminal.dossier(record.of(studio, words, NOW))


def run(studio, *words):
    return CliRunner().invoke(app, [*words, "--studio", str(studio.folder)])


def test_a_flag_says_what_how_far_since_when_what_to_do_and_what_not(demo):
    text = " ".join(told(demo, "26-02").split())
    for part in ("urgent [●] lining film", "limit 45 °C (our judgement)", "since ", "look for:", "do: ", " By ",
                 "do not: Do not key out", "cleared by:"):  # fmt: skip
        assert part in text, part
    assert max(map(len, told(demo, "26-02").splitlines())) <= 80


def test_what_was_seen_of_a_finding_stands_with_it_and_counts_as_evidence(demo):
    line = record.of(demo, "26-02", NOW).line
    number = line.headline.number
    demo.observe("26-02", "2026-11-03", "edge slipped", where="top", finding=number, confirms=True, photo="edge.jpg")
    text = told(demo, "26-02")
    flag = text.partition(f"envwatch why {number}")[0]
    assert f"edge slipped, top; bears out finding {number}; photograph edge.jpg" in " ".join(flag.split())
    demo.observe("26-02", "2026-11-04", "all firm", finding=number, confirms=False)
    flag = told(demo, "26-02").partition(f"envwatch why {number}")[0]
    assert f"all firm; denies finding {number}" in " ".join(flag.split())


def test_a_painting_says_its_last_own_look_its_baseline_and_what_is_new(demo):
    demo.enter("painting", {"id": "looked", "title": "Looked at"})
    demo.move("looked", "store", "2026-09-01")
    assert "Last own look (raking light, front and back): none on record" in told(demo, "looked")
    demo.observe("looked", "2026-09-20", "bulge", where="lower edge", look="telephone", by="the neighbour")
    assert "no sign is on record from its arrival or a handover" in " ".join(told(demo, "looked").split())
    demo.observe("looked", "2026-09-01", "crackle", where="sky", look="own", by="A. Ember")
    demo.observe("looked", "2026-10-01", "crackle", where="sky", look="own", by="A. Ember")
    text = " ".join(told(demo, "looked").split())
    assert "Last own look: Thu 1 Oct 2026: crackle, sky (own look, A. Ember)" in text
    assert "- Tue 1 Sep 2026: crackle, sky (own look, A. Ember); baseline - Sun 20" in text
    assert "bulge, lower edge (telephone, the neighbour); new: not noted before - Thu 1 Oct" in text
    assert text.count("not noted before") == 1  # the crackle of October is that of the first day
    told_all = plain(record.of(demo, "looked", NOW))
    assert [one["novelty"] for one in told_all["signs"]] == ["new", "new", "known"]
    assert told_all["own_look"]["look"] == "own" and told_all["own_look"]["by"] == "A. Ember"


def test_pairs_that_hold_badly_are_noted_and_raise_nothing(demo):
    text = told(demo, "25-11")
    assert "noted: Compatibility, whatever the climate" in " ".join(text.split())
    assert "nothing against it ○" in text


def test_an_inspection_by_eye_stands_beside_not_known_and_never_turns_it_clear(demo):
    demo.enter("place", {"id": "shed", "name": "Shed", "kind": "store"})
    demo.move("25-14", "shed", "2026-09-01 10:00")
    demo.observe("25-14", "2026-10-28", "nothing found, front and back", where="raking light")
    text = " ".join(told(demo, "25-14").split())
    assert "Shed; not known [?] in 2026-W44" in text
    assert "looked at by eye Wed 28 Oct 2026: nothing found, front and back" in text
    result = review.make(demo, NOW, iso_week("2026-W44", demo.zone))
    assert "25-14" in {line.id for line in result.not_seen}
    (row,) = [p for p in content(result)["not_seen"] if p["id"] == "25-14"]
    assert "looked at by eye, Wed 28 Oct 2026: nothing found" in row["seen"]


def test_a_hole_between_stays_is_told_as_whereabouts_unknown(demo):
    demo.enter("painting", {"id": "hole", "title": "Hole"})
    demo.move("hole", "store", "2026-01-01", until="2026-02-01")
    demo.move("hole", "studio", "2026-03-01")
    assert "Sun 1 Feb 2026 to Sun 1 Mar 2026: whereabouts unknown" in told(demo, "hole")


def test_a_hole_between_stays_is_told_in_the_review_as_the_reason_of_not_known(demo):
    demo.enter("painting", {"id": "hole", "title": "Hole"})
    demo.move("hole", "studio", "2026-01-01 09:00", until="2026-10-27 10:00")
    demo.move("hole", "studio", "2026-10-31 16:00")
    result = review.make(demo, NOW, iso_week("2026-W44", demo.zone))
    (line,) = [line for line in result.not_seen if line.id == "hole"]
    assert all(finding.level is not Level.CLEAR for finding in line.verdict.findings)
    said = "hereabouts unknown from Tue 27 Oct 10:00 to Sat 31 Oct 16:00"
    assert said in " ".join(terminal.review(result).split())
    (row,) = [p for p in content(result)["not_seen"] if p["id"] == "hole"]
    assert said in row["reasons"]


def test_a_last_day_of_25_hours_is_known_to_its_end(demo):
    demo.enter("painting", {"id": "autumn", "title": "Autumn"})
    demo.move("autumn", "studio", "2026-01-01", until="2026-10-25")
    week = iso_week("2026-W44", demo.zone)
    (line,) = [line for line in review.make(demo, NOW, week).judged if line.id == "autumn"]
    assert line.holes == ((week.start, week.end),)
    week = iso_week("2026-W43", demo.zone)  # its last day is the one on which the clocks are set back
    (line,) = [line for line in review.make(demo, NOW, week).judged if line.id == "autumn"]
    assert line.holes == ()


def test_a_painting_to_watch_is_told_with_its_sign_its_day_and_what_is_not_known(demo):
    demo.enter("painting", {"id": "half", "title": "Half"})
    demo.enter("layer", {"painting": "half", "role": "film", "material": "starch"})
    demo.move("half", "store", "2025-10-01 09:00", until="2026-10-28 10:00")
    result = review.make(demo, NOW, iso_week("2026-W44", demo.zone))
    (line,) = [line for line in result.watched if line.id == "half"]
    text = " ".join(terminal.review(result).split()).partition("Half [half]")[2]
    text = text.partition("Not known: 2")[0].partition(" - ◐")[0]
    for part in (f"Look for: {line.headline.look_for}", "Do: ", "by Mon ", "Not known: ",
                 "whereabouts unknown from Wed 28 Oct 10:00 to Mon 2 Nov 00:00"):  # fmt: skip
        assert part in text, part
    (row,) = [p for p in content(result)["watched"] if p["id"] == "half"]
    assert "lining (" in row["unseen"] and "whereabouts unknown" in row["unseen"]


def test_a_neighbours_air_is_told_wherever_it_was_judged(demo):
    demo.enter("place", {"id": "shed", "name": "Shed", "kind": "store"})
    demo.enter("painting", {"id": "next", "title": "Next door"})
    demo.move("next", "shed", "2026-09-01")
    demo.stand_in("shed", "studio", "2026-09-01", temp_u_c=1, rh_u_percent=4)
    said = "Shed: stood in for by Studio where its own logger read nothing, ± 1 °C and ± 4 % RH as stated"
    assert said in " ".join(told(demo, "next").split())
    result = review.make(demo, NOW, iso_week("2026-W44", demo.zone))
    assert f"next: {said}" in " ".join(terminal.review(result).split())
    assert any(f"next: {said}" in str(row) for row in content(result)["rest"])


def test_the_air_of_an_owners_house_is_on_no_sheet_and_in_no_json(demo):
    result = review.make(demo, NOW, iso_week("2026-W44", demo.zone))
    homes = [line for line in result.judged if line.trace.private]
    assert homes
    assert all(plain(line)["trace"] is None for line in homes)
    others = [line for line in result.judged if not line.trace.private]
    assert any(plain(line)["trace"] is not None for line in others)
    drawn = {p["id"]: p["trace"] for p in content(result)["trouble"]}
    assert {line.id for line in homes if line.id in drawn}
    assert all(drawn[line.id] is None for line in homes if line.id in drawn)


def test_a_treatment_by_command_says_what_it_put_into_the_stack_or_asks(demo):
    asked = run(demo, "treat", "25-14", "lining")
    assert asked.exit_code != 0
    assert "of what material" in str(asked.exception)
    done = run(demo, "treat", "25-14", "lining", "batch=2026/114", "hold_min=10", "cloth=linen", "inspection_days=5;9",
               "--material", "eva_film", "--on", "2026-10-22")  # fmt: skip
    assert done.exit_code == 0, done.output
    assert "Put into its stack: film, eva film, whole" in done.output
    assert "An older film still stands in the stack" in done.output
    due = [d.what for d in review.make(demo, NOW, iso_week("2026-W44", demo.zone)).tasks if d.painting_id == "25-14"]
    assert any("day 5" in what for what in due)
    assert any("day 9" in what for what in due)
    assert not any("day 7" in what for what in due)


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (("enter", "painting", "id=x", "title=X", "high=3"), "no field 'high'"),
        (("enter", "painting", "x"), "is not name=value"),
        (("treat", "25-14", "patch", "hold=3", "--material", "mc"), "no field 'hold'"),
        (("treat", "25-14", "patch", "family=gleu", "--material", "mc"), "family 'gleu' is not known"),
        (("treat", "24-05", "patch", "--on", "1700-01-01", "--material", "mc"), "was made in 1868"),
        (("treat", "25-14", "patch", "--on", "03/04/2026", "--material", "mc"), "could be either order"),
        (("observe", "25-14", "bulge", "--confirms"), "--finding"),
        (("observe", "25-14", "bulge", "--confirms", "--finding", "9999"), "no finding has the number 9999"),
        (("done", "1", " "), "what was done"),
        (("putoff", "1", "--until", "2090-01-01", "--reason", " "), "why it can wait"),
        (("putoff", "1", "--until", "2020-01-01", "--reason", "abroad"), "give a day after today"),
        (("calibrate", "loft"), "nothing was measured"),
        (("calibrate", "loft", "--salt", "sodium chloride; 20"), "expected 2 numbers"),
        (("export", "out", "--private", "--redact"), "give one of the two"),
        (("dossier", "25-14", "--bundle", "x.pdf"), "ends in .zip"),
    ],
)
def test_wrong_words_are_refused_in_one_line_and_nothing_is_kept(demo, words, part):
    before = demo.register()
    result = run(demo, *words)
    assert result.exit_code != 0
    assert part in str(result.exception)
    assert "\n" not in str(result.exception)
    assert demo.register() == before


def test_a_check_over_salts_takes_the_published_fixed_points(demo):
    """75.47 % at 20 °C, 33.07 % at 20 °C: Greenspan 1977, table 2."""
    done = run(demo, "calibrate", "loft", "--on", "2026-11-01", "--salt", "sodium chloride; 20; 77",
               "--salt", "magnesium chloride; 20; 34")  # fmt: skip
    assert done.exit_code == 0, done.output
    (check,) = demo.register().calibrations["loft"]
    assert check["rh_true_high"] == pytest.approx(75.47, abs=0.05)
    assert check["rh_true_low"] == pytest.approx(33.07, abs=0.05)


def test_the_painting_as_json_has_no_owner(demo):
    shown = json.loads(run(demo, "painting", "25-16", "--json").stdout)
    assert "owner" not in shown["painting"]
    assert demo.find_painting("25-16").owner not in json.dumps(shown, ensure_ascii=False)
