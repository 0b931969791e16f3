"""When the client rings: triage, the flood sheet, the reply, the call on record."""

import io

import pandas as pd
import pypdf
import pytest
from typer.testing import CliRunner

from envwatch.archive import Studio
from envwatch.cases import lining
from envwatch.cases.painting import call as ring
from envwatch.cases.painting import handover
from envwatch.cli import app
from envwatch.core.errors import BadInput
from envwatch.core.findings import Level
from envwatch.present.paper import lining as sheet
from envwatch.present.terminal import lining as tell

NOW = pd.Timestamp("2026-11-02T10:00Z")
LEVELS = ("watch", " act ", "urgent", "not known")


@pytest.fixture(scope="module")
def studio(demo_folder):
    with Studio.open(demo_folder) as house:
        yield house


@pytest.mark.parametrize(
    ("said", "sign"),
    [("there are bubbles in the sky", "lifting"), ("It FELL off the wall", "fall or knock"),
     ("ripples", "ripples or slackness"),      ("a wet spot and mould", "leak or flood"), ("bloom", "bloom"),
     ("it went soft above the radiator", "soft or slipped"),
     ("I sent a photograph of a crack", "tight or cracked"), ("the paint flakes", "flaking"), ("musty", "mould")],
)  # fmt: skip
def test_a_clients_words_find_their_triage(said, sign):
    assert ring.triage_of(said).sign == sign


def test_water_goes_before_everything():
    assert ring.triage_of("flakes and mould since the leak").sign == "leak or flood"


def test_words_that_fit_nothing_are_asked_again_with_what_there_is():
    with pytest.raises(BadInput, match="did you mean 'blister'.*leak or flood") as refused:
        ring.triage_of("blistr")
    assert "\n" not in str(refused.value)


def test_lifted_soft_wet_and_mouldy_are_seen_the_same_day_and_ripples_within_a_week():
    """Common practice of the trade, without a source."""
    soon = {one.sign: one.soon for one in ring.SIGNS}
    for sign in ("lifting", "flaking", "soft or slipped", "mould", "leak or flood", "fall or knock"):
        assert soon[sign] == ring.TODAY
    assert soon["ripples or slackness"] == soon["bloom"] == ring.WEEK


def test_the_studio_sees_where_it_is_and_what_was_last_known(studio):
    found = ring.ringing(studio, studio.paintings()["26-02"], "soft", NOW)
    assert found.where == "Haus Querlicht, radiator" and found.assessment.level is Level.URGENT
    assert "lining film" in ring.last_known(found) and found.last_treatment.kind == "lining"
    seen = ring.ringing(studio, studio.paintings()["25-11"], "soft", NOW).last_visit
    assert seen.sign == "lining edge slipped by a millimetre"


def test_where_nothing_was_read_its_air_is_not_known(studio):
    found = ring.ringing(studio, studio.paintings()["23-17"], "bloom", NOW)
    assert found.assessment is None and "not known" in ring.last_known(found)
    assert "its care is closed" in ring.care_told(found.painting, "UTC")


@pytest.mark.parametrize("sign", [one.sign for one in ring.SIGNS])
def test_the_reply_carries_no_levels_no_owner_and_no_promise(studio, sign):
    painting = studio.paintings()["26-02"]
    reply = ring.ringing(studio, painting, sign, NOW).reply
    assert painting.title in reply and painting.owner not in reply
    assert not [word for word in LEVELS if word in reply.casefold()]
    assert "not an assessment" in reply and "guarantee" not in reply


def test_a_leak_is_answered_with_what_to_do_first_and_not_with_readings(studio):
    found = ring.ringing(studio, studio.paintings()["26-02"], "burst pipe", NOW)
    assert found.flood[0].startswith("Stop. People first")
    assert any("Readings of the air are the wrong tool" in line for line in found.flood)
    assert "Readings" not in found.reply and "People first" in found.reply
    pdf = pypdf.PdfReader(io.BytesIO(sheet.wet(found))).pages
    text = " ".join(pdf[0].extract_text().split())
    assert len(pdf) == 1 and "wrong tool now" in text and found.painting.owner not in text
    assert all(len(line) <= 80 for line in tell.call(found).splitlines())


def test_a_call_is_kept_and_counts_as_no_look_and_no_layer(demo_copy):
    with Studio.open(demo_copy) as house:
        before = house.paintings()["26-02"]
        ring.log(house, ring.ringing(house, before, "soft", NOW), "it went soft", "since Friday")
        after = house.paintings()["26-02"]
    assert after.treatments[-1].note.startswith(
        "Client: it went soft. Advised: soft or slipped, to be seen the same day."
    )
    assert after.treatments[-1].note.endswith("since Friday")
    assert after.layers == before.layers and after.observations == before.observations
    assert lining.due(after, "UTC") == lining.due(before, "UTC") and after.lined_on == before.lined_on


def test_a_call_does_not_begin_the_dossiers_period_anew(demo_copy):
    with Studio.open(demo_copy) as house:
        before = handover.of(house, "26-08", NOW, None, None, False).period
        ring.log(house, ring.ringing(house, house.paintings()["26-08"], "bloom", NOW), "bloom")
        assert handover.of(house, "26-08", NOW, None, None, False).period == before


def test_the_command_prints_keeps_and_refuses(demo_copy):
    def run(*words):
        return CliRunner().invoke(app, ["call", *words, "--studio", str(demo_copy)])

    done = run("herring", "--sign", "wet", "--log")
    assert done.exit_code == 0 and "Stop, do this first" in done.output and "on record" in done.output
    assert list((demo_copy / "sheets").glob("wet-26-02-a4.pdf"))
    assert isinstance(run("herring", "--sign", "xyz").exception, BadInput)
