"""How often findings were borne out: counted from observations, and never a rate of too few."""

import numpy as np
import pandas as pd
import pytest

from envwatch.archive import Studio
from envwatch.cases import review
from envwatch.cases.painting import why
from envwatch.cases.review import hit_rate
from envwatch.cases.review.hit_rate import HazardRecord, hazard_record
from envwatch.core.painting import Observation, Painting
from envwatch.core.period import iso_week
from envwatch.present import terminal
from envwatch.present.paper.review import content
from envwatch.present.terminal import chain as as_text

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
