"""How often findings were borne out: counted from observations, and never a rate of too few."""

import json

import numpy as np
import pandas as pd
import pytest

from envwatch.archive import Studio
from envwatch.cases import review
from envwatch.cases.painting import handover, why
from envwatch.cases.review import hit_rate
from envwatch.cases.review.hit_rate import HazardRecord, LimitRecord, hazard_record, limit_record
from envwatch.core.findings import Finding, Level
from envwatch.core.painting import Observation, Painting
from envwatch.core.period import iso_week
from envwatch.present import terminal
from envwatch.present.paper import dossier
from envwatch.present.paper.review import content
from envwatch.present.terminal import chain as as_text
from tests.program import run

NOW = pd.Timestamp("2026-11-02T12:00Z")


def painting(*seen: tuple[int | None, bool | None]) -> Painting:
    days = pd.date_range("2026-01-01", periods=len(seen), tz="UTC")
    return Painting("p", "Moor", observations=tuple(
        Observation(day, "looked", finding=number, confirms=confirms)
        for day, (number, confirms) in zip(days, seen, strict=True)
    ))  # fmt: skip


def test_confirmed_and_denied_findings_are_counted_by_hazard():
    found = hazard_record(
        [painting((1, True), (2, False), (None, True), (3, None)), painting((4, False), (9, True))],
        {1: "mould", 2: "mould", 3: "mould", 4: "lining", 5: "fluctuation"},
    )
    assert [(r.hazard, r.confirmed, r.denied) for r in found] == [
        ("fluctuation", 0, 0), ("lining", 0, 1), ("mould", 1, 1),
    ]  # fmt: skip


def test_a_finding_looked_at_twice_counts_by_its_last_word():
    assert hazard_record([painting((1, False), (1, True))], {1: "mould"}) == (HazardRecord("mould", 1, 0),)


def test_a_rate_carries_its_range_and_too_few_give_none():
    assert "too few" in HazardRecord("mould", 1, 2).sentence
    assert "no finding has been looked at" in HazardRecord("mould", 0, 0).sentence
    assert np.isnan(HazardRecord("mould", 0, 0).rate)
    # Wilson's interval for 8 of 10 at 95 %: 0.490 to 0.943, as in textbooks of statistics (Newcombe 1998, method 3)
    assert HazardRecord("mould", 8, 2).rate_range == pytest.approx((0.490, 0.943), abs=1e-3)
    assert "between 49% and 94%" in HazardRecord("mould", 8, 2).sentence
    assert HazardRecord("mould", 5, 0).rate_range[1] == 1.0


def test_why_shows_the_record_of_its_hazard(demo_copy):
    with Studio.open(demo_copy) as studio:
        made = review.keep(studio, review.make(studio, NOW, iso_week("2026-W44", studio.zone)))
        finding = next(f for line in made.trouble for f in line.verdict.raised if f.hazard == "mould")
        assert "nobody has noted yet" in as_text(why.chain(studio, finding.number, NOW))
        studio.observe(
            finding.painting_id, "2026-11-02", "grey fur behind the bar", finding=finding.number, confirms=True
        )
        assert hit_rate.of(studio) == (HazardRecord("mould", 1, 0),)
        assert "1 of 1 findings looked at" in as_text(why.chain(studio, finding.number, NOW)).replace("\n", " ")
        said = "mould: 1 of 1 findings looked at were borne out"
        again = review.make(studio, NOW, iso_week("2026-W44", studio.zone))
        assert made.borne_out == () and again.borne_out[0].startswith(said)
        assert said in terminal.review(again).replace("\n  ", " ")
        assert any(row["label"] == "borne out" for row in content(again)["rest"])


def test_confirmed_and_denied_findings_are_counted_limit_by_limit():
    heat, damp = (
        LimitRecord("lining", "heat", 45.0, "°C", "eva_film"),
        LimitRecord("lining", "damp", 70.0, "% RH", "glue_paste"),
    )
    other = LimitRecord("lining", "damp", 65.0, "% RH", "glue_paste")
    looked = painting((1, True), (2, False), (2, True), (3, False), (4, None))
    found = limit_record([looked], {1: heat, 2: heat, 3: damp, 4: other})
    assert [(r.mechanism, r.limit, r.confirmed, r.denied) for r in found] == [
        ("damp", 65.0, 0, 0), ("damp", 70.0, 0, 1), ("heat", 45.0, 2, 0),
    ]  # fmt: skip
    by_hazard = hazard_record([looked], dict.fromkeys(range(1, 5), "lining"))
    assert (by_hazard[0].confirmed, by_hazard[0].denied) == tuple(
        sum(getattr(r, name) for r in found) for name in ("confirmed", "denied")
    )
    assert found[-1].sentence.startswith("lining, heat, limit 45 °C (eva film): 2 of 2 findings looked at were borne")


def held(limit=45.0, mechanism="heat", material="eva_film"):
    return Finding("lining", mechanism, "film", "room", Level.ACT, "Hot.", limit=limit, unit="°C", material=material)


def test_beside_a_finding_stands_what_looking_showed_of_its_very_limit():
    kept = HazardRecord("lining", 2, 1, "heat", 45.0, "°C", "eva_film")
    older = HazardRecord("lining", 1, 0, "heat", 45.0, "°C")  # of a review that did not keep the material
    found = hit_rate.beside((kept, older), held())
    assert (found.confirmed, found.denied) == (3, 1)
    for another in (held(40.0), held(mechanism="damp"), held(float("nan"))):
        assert hit_rate.beside((kept, older), another) is None
    assert hit_rate.beside((kept,), held(material="bw_film")) is None


def test_what_looking_showed_stands_beside_each_limit_that_is_shown(demo_copy):
    with Studio.open(demo_copy) as studio:
        made = review.keep(studio, review.make(studio, NOW, iso_week("2026-W44", studio.zone)))
        raised = [f for line in made.judged for f in line.verdict.raised if f.material and f.limit == f.limit]
        hot, damp = (next(f for f in raised if f.mechanism == what) for what in ("heat", "damp"))
        studio.observe(hot.painting_id, "2026-11-02", "edge slipped", finding=hot.number, confirms=True)
        studio.observe(damp.painting_id, "2026-11-02", "all firm", finding=damp.number, confirms=False)
        seen = {(r.limit, r.material): (r.confirmed, r.denied) for r in hit_rate.by_limit(studio)}
        assert seen == {(hot.limit, hot.material): (1, 0), (damp.limit, damp.material): (0, 1)}
        said = f"lining, heat, limit {hot.limit:g} °C ({hot.material.replace('_', ' ')}): 1 of 1 findings looked at"
        assert said in as_text(why.chain(studio, hot.number, NOW)).replace("\n", " ")
        assert said in " ".join(review.make(studio, NOW, iso_week("2026-W44", studio.zone)).borne_out)
        paper = dossier.content(handover.of(studio, hot.painting_id, NOW, "2026-10-26", "2026-11-01"))
        assert any(found["looked"].startswith(said) for found in paper["findings"])
        short = studio.materials()[hot.material].short
    printed = run("limits", "--studio", str(demo_copy)).stdout
    assert f"Looked at: {said}" in " ".join(printed.split())
    told = json.loads(run("limits", "--json", "--studio", str(demo_copy)).stdout)
    beside = {name: one for name, one in told["limits"].items() if "confirmed" in one}
    assert {(one["limit"], one["confirmed"], one["denied"]) for one in beside.values()} == {
        (hot.limit, 1, 0), (damp.limit, 0, 1),
    }  # fmt: skip
    assert [name for name, one in beside.items() if one["confirmed"]] == [f"{short}: heat hour, urgent"]
    assert {one["limit"] for one in told["looked"]} == {hot.limit, damp.limit}
