"""Marked readings on the page of logger files: the trace, a person's answer, and taking it back.

The demo's scenario gives the facts: its office logger stands still from 20 October on, its garden shed lies in fog.
"""

import numpy as np
import pandas as pd
import pytest
from dash import no_update
from test_dashboards import dropped, text_of

from dashboards.forms import entered
from dashboards.pages import files, loggers, marks
from envwatch.archive import Studio
from envwatch.cases import logger
from envwatch.present import charts

NOW = pd.Timestamp("2026-11-02T11:00Z")
SPAN = {"logger": "office", "from": "2026-10-18", "to": "2026-11-02"}
EDGES = (pd.Timestamp("2026-10-18", tz="UTC"), pd.Timestamp("2026-11-03", tz="UTC"))
OUT = ("out", "stuck", "", "2026-10-20", "2026-11-02", "battery flat", "A. Ember")


def states(house) -> dict[str, int]:
    with house.reading() as studio:
        shown = logger.of_logger(studio, "office", *EDGES)
    return {marked.words: int(np.isfinite(marked.rh_percent.values).sum()) for marked in shown.marked}


def test_the_page_lists_what_is_marked_and_leads_to_its_trace(own):
    with own.reading():
        listed = text_of(files.layout(own, "", {}))
        shown = text_of(files.layout(own, "", SPAN))
    assert "stuck" in listed and "none yet" in listed
    assert "stuck: unchanged for too long" in shown and "Say what counts" in shown


def test_an_answer_takes_marked_readings_out_of_the_line_and_can_be_taken_back(own):
    before = states(own)
    assert set(before) == {"doubted"} and before["doubted"] > 1000
    again, _said, refused, *faults = entered(marks.FIELDS, 0, ("office", *OUT), marks.enter)
    assert again == 1 and not refused and not any(faults)
    assert set(states(own)) == {"taken out"}
    with own.reading() as studio:
        shown = logger.of_logger(studio, "office", *EDGES)
        first = pd.Timestamp("2026-10-20T11:05Z")
        assert shown.rh_percent.time[np.isfinite(shown.rh_percent.values)].max() < first
        assert "taken out by A. Ember" in text_of(files.layout(own, "", SPAN))
        number = studio.register().mark_answers["office"][-1].number
    with own.writing() as studio:
        studio.withdraw_answer(number)
    assert states(own) == before


def test_what_was_found_good_stays_in_the_line_and_is_ringed(own):
    entered(marks.FIELDS, 0, ("office", "good", *OUT[1:]), marks.enter)
    assert set(states(own)) == {"found good"}
    with own.reading() as studio:
        drawn = charts.course(logger.of_logger(studio, "office", *EDGES))
    ringed = [t for t in drawn["data"] if t["name"] == "found good"]
    assert {t["marker"]["symbol"] for t in ringed} == {"circle-open"} and {t["yaxis"] for t in ringed} == {"y", "y2"}


@pytest.mark.parametrize(("at", "given", "said"), [
    ("because", "", "say why"), ("answer", "", "is empty"), ("from", "1.2.26", "1.2.26"), ("mark", "step", "bears"),
])  # fmt: skip
def test_an_answer_without_reason_or_readings_is_refused_and_nothing_is_kept(own, at, given, said):
    values = dict(zip(marks.FIELDS, OUT, strict=True)) | {at: given}
    again, _said, refused, *faults = entered(marks.FIELDS, 0, ("office", *values.values()), marks.enter)
    assert again is no_update
    assert said in text_of(refused) + " ".join(faults)
    assert set(states(own)) == {"doubted"}


def test_days_without_readings_are_refused_in_one_line(own):
    shown = text_of(files.layout(own, "", {"logger": "office", "from": "2016-01-01", "to": "2016-01-02"}))
    assert "read nothing in that time" in shown


def test_a_dropped_folder_keeps_its_logs_and_leaves_its_litter(own):
    log = "time,temp_c,rh_percent\n" + "".join(f"2026-10-{d:02d}T12:00:00Z,18.5,5{d % 10}.0\n" for d in range(1, 29))
    names = ["logs/attic.csv", "logs/.DS_Store", "logs/~$attic.xlsx", "logs/Thumbs.db"]
    _again, said, refused = files.take([dropped(log.encode()), *[dropped(b"x")] * 3], names, 0)
    assert refused == "" and "one file kept" in text_of(said) and "refused" not in text_of(said)


def test_a_check_keeps_when_the_next_is_due_and_how_far_it_can_be_off(own):
    given = ("", "studio", "2026-10-30", "75.3", "73", "", "", "", "", "1.5", "2027-10-30", "salt")
    again, _said, refused, *faults = entered(loggers.CHECK, 0, given, loggers.check)
    assert again == 1 and not refused and not any(faults)
    with Studio.open(own.folder) as studio:
        last = studio.register().calibrations["studio"][-1]
    assert last["rh_accuracy_percent"] == 1.5 and str(last["due"]).startswith("2027-10-30")
