"""What was entered wrongly, corrected or taken out on the page that tells it."""

import pytest

from dashboards import app as pages
from dashboards.pages import corrections
from envwatch.archive.register import correct as record
from envwatch.core.errors import BadInput
from envwatch.core.painting import CORRECTION
from tests.test_dashboards import page, press

WHY = {"because": "month mistyped", "by": "the studio"}


def form_of(home, noun: str, name: str) -> dict:
    """What the page keeps of the row that its form shows."""
    with home.reading() as studio:
        entry = record.find(studio, noun, name)
    return {"noun": noun, "name": name, "shown": corrections.shown_of(entry)}


def enter(home, noun: str, name: str, **given):
    """Press "correct it", the rest as shown."""
    whose = form_of(home, noun, name)
    fields = (*whose["shown"], *corrections.BECAUSE)
    return press(fields, corrections.correct, whose, **(whose["shown"] | WHY | given))


def test_each_row_that_a_page_tells_leads_to_its_form(app, demo_of_file):
    with app.server.test_request_context("/"):
        told = str(pages.show("/painting/26-02", "")[0].to_plotly_json())
    with app.server.config["HOUSE"].reading() as studio:
        names = [entry.name for noun in corrections.OF_PAINTING for entry in record.entries(studio, noun, "26-02")]
    assert len(names) > 3
    for name in names:
        assert f"correct {name}, or take it out" in told
        assert f"Correct {name}" in page(app, "/painting/26-02", f"?row={name.replace(' ', '-', 1)}")
    for gone in ("treatment-26-02:99", "treatment-25-14:1", "hanging-store:1", "nothing"):
        assert "or take it out of the record" not in page(app, "/painting/26-02", f"?row={gone}")


def test_where_a_logger_hung_and_its_checks_are_corrected_on_the_page_of_the_files(own, app):
    with own.writing() as studio:
        studio.calibrate("crate", "2026-10-01", rh_points=((75.3, 76.0),), basis="salt")
    with app.server.test_request_context("/"):
        told = str(pages.show("/files", "")[0].to_plotly_json())
    names = []
    with app.server.config["HOUSE"].reading() as studio:
        for id in studio.loggers():
            names += [e.name for noun in ("hanging", "calibration") for e in record.entries(studio, noun, id)]
    assert len(names) > 8 and all(f"correct {name}, or take it out" in told for name in names)
    assert enter(own, "hanging", "crate:1", position="rack") == (1, {})
    assert enter(own, "calibration", "crate:1", basis="a checked logger") == (1, {})
    with own.reading() as studio:
        assert studio.loggers()["crate"].hangings[0].position == "rack"
        assert studio.register().calibrations["crate"][0]["basis"] == "a checked logger"


def test_a_wrong_date_is_corrected_and_the_old_one_stays_told(own):
    assert enter(own, "treatment", "26-02:1", on="2026-09-14") == (1, {})
    with own.reading() as studio:
        painting = studio.paintings()["26-02"]
        entry = record.find(studio, "treatment", "26-02:1")
        note = next(t.note for t in painting.treatments if t.kind == CORRECTION)
    assert entry.row["on"] == "2026-09-14" and note.endswith("now 2026-09-14: month mistyped (the studio)")


def test_a_refusal_stands_beside_its_field_and_changes_nothing(own):
    before = form_of(own, "treatment", "26-02:1")
    assert list(enter(own, "treatment", "26-02:1", on="3/4/2026")[1]) == ["on"]
    assert list(enter(own, "treatment", "26-02:1", on="2026-09-14", because="")[1]) == ["because"]
    assert list(enter(own, "treatment", "26-02:1", on="3/4/2026", hold_min="long")[1]) == ["on", "hold_min"]
    assert enter(own, "treatment", "26-02:1")[1] == {}, "nothing differs: said under the button"
    assert form_of(own, "treatment", "26-02:1") == before


def test_what_another_corrected_since_is_refused_with_both_values(own):
    stale = form_of(own, "stay", "26-02:1")
    fields = (*stale["shown"], *corrections.BECAUSE)
    assert enter(own, "stay", "26-02:1", purpose="varnishing") == (1, {})
    _again, faults = press(fields, corrections.correct, stale, **(stale["shown"] | WHY | {"purpose": "a visit"}))
    assert "is “varnishing” now" in faults["purpose"] and "“a visit” was not taken" in faults["purpose"]
    with own.writing() as studio, pytest.raises(BadInput, match="is not what this page showed any more"):
        corrections.take_out(studio, stale, dict(WHY))


def test_a_row_entered_twice_is_taken_out(own):
    with own.writing() as studio:
        studio.observe("26-02", "2026-11-02", "slack", by="KM")
        studio.observe("26-02", "2026-11-02", "slack", by="KM")
        n = len(record.entries(studio, "observation", "26-02"))
    whose = form_of(own, "observation", f"26-02:{n}")
    assert press(corrections.BECAUSE, corrections.take_out, whose, **WHY) == (1, {})
    with own.reading() as studio:
        assert len(record.entries(studio, "observation", "26-02")) == n - 1
        assert studio.paintings()["26-02"].observations[-1].sign == "slack"
