"""Verdicts that paintings share: never another one than their own, whoever else there is and in what order."""

import multiprocessing
import os
from dataclasses import replace

import pandas as pd
import pytest
from sqlalchemy import select

from envwatch import verdict
from envwatch.archive import Studio
from envwatch.archive.climates.exposure import record_begin
from envwatch.archive.reviews import FINDINGS
from envwatch.cases import judging, review
from envwatch.core.period import iso_week
from envwatch.present.plain import plain

NOW = pd.Timestamp("2026-11-25T10:00Z")
WEEK = "2026-W44"


@pytest.fixture
def demo(demo_copy):
    with Studio.open(demo_copy) as studio:
        yield studio


@pytest.fixture(scope="module")
def before(demo_of_file):
    """The verdicts of the demo as it comes, made in one process."""
    with Studio.open(demo_of_file) as studio:
        return {id: plain(found) for id, found in judging.verdicts(studio, iso_week(WEEK, studio.zone)).items()}


def by_itself(studio, painting, span):
    """A verdict as if there were no other painting."""
    exposures = studio.exposures(painting, record_begin(studio, painting, span.start), span.end)
    return verdict.judge_either(exposures, painting, span.start, studio.materials())


def test_sharing_never_changes_a_verdict(demo):
    twin = {"id": "twin", "title": "Another", "owner": "B. Other", "made": demo.paintings()["25-09"].made}
    demo.enter("painting", twin)
    span = iso_week(WEEK, demo.zone)
    for painting in demo.paintings().values():
        exposures = demo.exposures(painting, record_begin(demo, painting, span.start), span.end)
        own = by_itself(demo, painting, span)
        for alike in (painting, replace(painting, id="x", title="Alike", owner="C. Third", value_band="A")):
            shared = judging.judged(demo, alike, exposures, span.start)
            findings = tuple(replace(f, painting_id=alike.id) for f in own.findings)
            alone = replace(own, painting_id=alike.id, findings=findings)
            assert plain(shared) == plain(alone), painting.id


def test_what_a_hazard_looks_at_is_never_shared(demo):
    painting = demo.paintings()["25-11"]
    for change in ({"glazed": True}, {"backed": True}, {"tacking_margins": "trimmed"}, {"layers": painting.layers[:-1]},
                   {"made": "1650"}, {"observations": ()}):  # fmt: skip
        assert judging.build_up(painting) != judging.build_up(replace(painting, **change)), change


def test_a_verdict_that_is_kept_gives_way_to_a_changed_register_or_material(demo):
    span = iso_week(WEEK, demo.zone)
    before = review.painting_line(demo, demo.paintings()["25-14"], span, NOW).verdict
    demo.move("25-14", "loft", "2026-10-20 10:00", position="rack")
    after = review.painting_line(demo, demo.paintings()["25-14"], span, NOW).verdict
    assert after.coverage != before.coverage


def test_moving_a_painting_never_changes_anothers_verdict(demo, before):
    span = iso_week(WEEK, demo.zone)
    demo.move("25-14", "loft", "2026-10-20 10:00", position="rack")
    demo.move("26-06", "store", "2026-10-27 11:00", position="floor")
    after = {id: plain(found) for id, found in judging.verdicts(demo, span).items()}
    assert after["25-14"] != before["25-14"]
    assert {id for id in before if after[id] != before[id]} <= {"25-14", "26-06"}


def test_where_nothing_is_read_nothing_is_clear_whole_way(demo):
    demo.enter("place", {"id": "shed", "name": "Shed", "kind": "store"})
    demo.move("25-14", "shed", "2026-09-01 10:00")
    demo.enter("painting", {"id": "new", "title": "No stay at all"})
    demo.enter("layer", {"painting": "new", "role": "film", "material": "eva_film"})
    span = iso_week(WEEK, demo.zone)
    found = judging.verdicts(demo, span)
    for id in ("25-14", "new"):
        assert found[id].level.word == "not known"
        assert {f.level.word for f in found[id].findings if f.mechanism != "compatibility"} == {"not known"}


def test_the_order_of_layers_changes_nothing_on_the_whole_way(demo):
    span = iso_week(WEEK, demo.zone)
    for id in ("25-11", "26-11"):
        painting = demo.paintings()[id]
        turned = replace(painting, layers=painting.layers[::-1])
        one, other = by_itself(demo, painting, span), by_itself(demo, turned, span)
        assert one.level == other.level
        levels = [{(f.hazard, f.mechanism): f.level for f in v.findings} for v in (one, other)]
        assert levels[0] == levels[1]


def test_one_more_layer_never_makes_a_painting_milder_on_the_whole_way(demo):
    span = iso_week(WEEK, demo.zone)
    for id in ("25-11", "24-12", "26-11"):
        before = by_itself(demo, demo.paintings()[id], span)
        for material in ("wax_resin", "glue_paste"):
            demo.treat(id, "lining", f"2024-0{1 + len(material) % 5}-02", material=material, id=f"{id}-{material}")
            after = by_itself(demo, demo.paintings()[id], span)
            held = {(f.hazard, f.mechanism): f.level for f in before.findings}
            for f in after.findings:
                assert f.level >= held.get((f.hazard, f.mechanism), f.level), (id, f.mechanism)


def test_several_processes_give_the_same_verdicts(demo, before):
    span = iso_week(WEEK, demo.zone)
    assert {id: plain(found) for id, found in judging.verdicts(demo, span, 2).items()} == before


def test_a_review_that_several_processes_share_is_the_same_review(demo, monkeypatch):
    span = iso_week(WEEK, demo.zone)
    alone = review.make(demo, NOW, span)
    monkeypatch.setattr(judging, "SHARED_FROM", 1)
    monkeypatch.setattr(judging, "SHARE", 3)
    monkeypatch.setattr(judging.os, "cpu_count", lambda: 2)
    said = []
    shared = review.make(demo, NOW, span, lambda *told: said.append(told))
    assert plain(shared) == plain(alone)
    assert [done for done, _, _ in said] == [3, 6, 9, 12] and {of for _, of, _ in said} == {12}


def _ends_its_process(_studio, painting, _span):
    if multiprocessing.parent_process() is not None:
        os._exit(1)
    return painting.title


def test_where_a_process_is_ended_the_work_is_done_all_the_same(demo):
    paintings = list(demo.paintings().values())
    found = judging.each(demo, paintings, iso_week(WEEK, demo.zone), _ends_its_process, processes=2)
    assert found == {painting.id: painting.title for painting in paintings}


def test_a_review_gives_its_numbers_in_one_go(demo):
    """Each write has the whole register read again: one a painting would cost the square of the paintings."""
    with demo.reading() as connection:
        before = set(connection.execute(select(FINDINGS.c.number)).scalars())
    made = review.make(demo, NOW, iso_week("2026-W36", demo.zone))  # three paintings have news in it
    numbers = {f.number for line in (*made.trouble, *made.quiet) for f in line.verdict.findings if f.number}
    with demo.reading() as connection:
        given = connection.execute(select(FINDINGS.c.number, FINDINGS.c.first_at)).all()
    news = [row for row in given if row.number not in before]
    assert len(news) >= 3 and {row.number for row in news} <= numbers
    assert len({row.first_at for row in news}) == 1
