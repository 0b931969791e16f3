"""A hot lining: one text of what is done about it, in one order, in everything that comes out."""

import re
from io import BytesIO
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from pypdf import PdfReader

from envwatch.archive import Studio
from envwatch.cases import away, lining, review
from envwatch.cases.painting import call as ring
from envwatch.cases.painting import record
from envwatch.figures.condensation import FRAMED_WARMS_H
from envwatch.figures.handling import COOL_H, HOT, hot
from envwatch.figures.materials import profiles
from envwatch.present import paper, terminal
from envwatch.present.paper import away as away_sheet
from envwatch.present.paper import lining as lining_sheet
from envwatch.present.paper import owner
from envwatch.present.paper.language import LANGUAGES, language
from envwatch.present.terminal import away as away_text
from envwatch.present.terminal import lining as lining_text

NOW = pd.Timestamp("2026-11-02T11:00Z")
POSITIONS = Path(__file__).parent.parent / "sample_logs" / "positions.toml"
# common practice of the trade, no source: the heat, then the wait, then hands, then the table
ORDER = (
    "Heat off",
    "Leave it hanging or lying as it is until it is cool, 6 hours",
    "Nobody lifts it alone",
    "flat, face up",
)


def words(text: str) -> str:
    """Without line ends, boxes and dashes of a layout."""
    return " ".join(text.replace("│", " ").split())


def pdf(content: bytes) -> str:
    return words(" ".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages))


@pytest.fixture(scope="module")
def printed(demo_of_file, sample_advice):
    """Everything that speaks of a hot painting, by its name."""
    from tests.test_around_lining import LEAVES, journey

    with Studio.open(demo_of_file) as studio:
        herring = studio.paintings()["26-02"]
        week, rung = review.make(studio, NOW), ring.ringing(studio, herring, "soft", NOW)
        gone = away.sheet_for(studio, NOW, "2026-11-05", "2026-11-30")
        leaves = lining.may_leave(studio, studio.paintings()["25-11"], LEAVES, NOW, journey())
        return {
            "review": words(terminal.review(week)), "sheet": pdf(paper.weekly(week)),
            "painting": words(terminal.dossier(record.of(studio, "26-02", NOW))),
            "call": words(lining_text.call(rung)), "reply": words(rung.reply),
            "away": words(away_text.away(gone)), "away sheet": pdf(away_sheet.page(gone)),
            "receipt": pdf(lining_sheet.receipt(leaves)), "owner's page": pdf(owner.page(sample_advice)),
        }  # fmt: skip


@pytest.mark.parametrize(
    "name", ["review", "sheet", "painting", "call", "reply", "away", "away sheet", "receipt", "owner's page"]
)
def test_the_steps_stand_in_one_order_everywhere(printed, name):
    text = printed[name]
    for begin in (found.start() for found in re.finditer(ORDER[0], text)):
        at = [text[begin : begin + 320].find(step) for step in ORDER]
        assert -1 not in at and at == sorted(at), (name, at)
    assert ORDER[0] in text
    for old in ("out of the heat", "Move it away from the heat", "Take it out"):
        assert old not in text


def test_the_pages_say_the_same(app):
    from dashboards import app as pages
    from tests.test_dashboards import text_of

    for path in ("/", "/painting/26-02"):
        with app.server.test_request_context(path):
            text = words(text_of(pages.show(path, "")[0]))
        at = [text.find(step) for step in ORDER]
        assert -1 not in at and at == sorted(at), (path, at)


@pytest.mark.parametrize("code", sorted(LANGUAGES))
def test_the_owners_page_has_every_step_in_order_in_its_language(code):
    say = language(code).say
    text = owner._ring(say)[-1]["text"]
    at = [text.find(step) for step in hot(say)]
    assert -1 not in at and at == sorted(at) and len(at) == len(HOT)
    assert "6" in hot(say)[1] and "{" not in text


def test_after_the_hours_told_a_picture_is_colder_than_any_film_softens():
    """Newton's law of cooling, by hand: 48 °C in a room of 20 °C, at half the speed that is reckoned with."""
    left = 20 + (48 - 20) * np.exp(-COOL_H / (2 * float(FRAMED_WARMS_H)))
    assert left == pytest.approx(23.8, abs=0.1)
    assert left < min(float(p.softening_c) for p in profiles().values() if p.adhesive and p.softening_c is not None)
