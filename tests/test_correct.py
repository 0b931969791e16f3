"""What was entered wrongly is corrected or taken out, with what followed from it; what stood there stays told."""

import pandas as pd
import pytest

from envwatch.archive import Studio
from envwatch.archive.register import correct as record
from envwatch.cases import aftercare
from envwatch.core.errors import BadInput, NotThere
from envwatch.core.painting import CORRECTION
from tests.program import run

DAY = "2026-11-02"
WHY = {"because": "month mistyped", "on": DAY, "by": "the studio"}


@pytest.fixture
def studio(tmp_path):
    with Studio.create(tmp_path / "s", name="s", zone="Europe/Berlin") as studio:
        for place in ("store", "easel"):
            studio.enter("place", {"id": place, "name": place, "kind": "store"})
        studio.enter("logger", {"id": "a", "name": "Rack"})
        studio.enter("painting", {"id": "p1", "title": "Harbour", "support": "linen canvas"})
        studio.enter("layer", {"painting": "p1", "role": "canvas", "material": "linen"})
        studio.move("p1", "store", "2026-01-10")
        studio.move("p1", "easel", "2026-05-01")
        studio.treat("p1", "lining", "2026-06-14", material="glue_paste", cloth="linen", inspection_days=(7, 28))
        studio.observe("p1", "2026-06-20", "bulge", where="lower edge")
        studio.set_hanging("a", "store", "2026-01-01")
        studio.set_hanging("a", "easel", "2026-05-01")
        studio.calibrate("a", "2026-02-01", rh_points=((75.0, 76.5),), basis="salt", note="", channel="")
        yield studio


def rows(studio):
    """The whole register in text, but for when it was written."""
    return {noun: record.entries(studio, noun, "a" if noun in ("hanging", "calibration") else "p1")
            for noun in record.DATED}  # fmt: skip


def test_a_corrected_day_takes_layers_and_looks_with_it_and_the_old_one_stays_told(studio):
    lines = record.correct(studio, "treatment", "p1:1", {"on": "2026-09-14"}, **WHY)
    assert lines[0] == "on 2026-06-14, now 2026-09-14"
    painting = studio.paintings()["p1"]
    assert {str(layer.applied_on)[:10] for layer in painting.layers if layer.applied_on} == {"2026-09-13"}  # UTC
    assert len([layer for layer in painting.layers if layer.applied_on]) == 2, "the film and its cloth"
    note = next(one.note for one in painting.treatments if one.kind == CORRECTION)
    assert note == "treatment, on 2026-06-14, now 2026-09-14: month mistyped (the studio)"
    due = aftercare.due(painting, studio.zone)
    assert due and min(step.on for step in due) >= pd.Timestamp("2026-09-14", tz="Europe/Berlin")


def test_a_treatment_entered_twice_goes_once_and_its_layers_stay(studio):
    for _ in range(2):
        studio.treat("p1", "consolidation", "2026-07-01", material="fish_glue")
    before = studio.paintings()["p1"].layers
    record.remove(studio, "treatment", "p1:3", because="entered twice", on=DAY)
    assert studio.paintings()["p1"].layers == before
    record.remove(studio, "treatment", "p1:1", because="never was", on=DAY)
    record.remove(studio, "treatment", "p1:1", because="nor was this", on=DAY)
    assert [layer.role for layer in studio.paintings()["p1"].layers if not layer.assumed] == ["canvas"]


def test_a_stay_and_a_hanging_take_their_neighbours_along(studio):
    record.correct(studio, "stay", "p1:2", {"from": "2026-05-09"}, **WHY)
    assert [one.row["to"] for one in record.entries(studio, "stay", "p1")] == ["2026-05-09", ""]
    record.remove(studio, "stay", "harbour:2", because="never was", on=DAY)
    assert [(one.row["place"], one.row["to"]) for one in record.entries(studio, "stay", "p1")] == [("store", "")]
    record.correct(studio, "hanging", "a:1", {"to": "2026-04-20"}, **WHY)
    assert [one.row["from"] for one in record.entries(studio, "hanging", "a")] == ["2026-01-01", "2026-04-20"]
    with studio.reading() as connection:
        from envwatch.archive.store import records, tables

        assert "hanging, to 2026-05-01, now 2026-04-20" in records.rows(connection, tables.LOGGERS)[0]["note"]


def test_a_look_and_a_check_are_corrected_and_taken_out(studio):
    record.correct(studio, "observation", "p1:1", {"sign": "blister"}, **WHY)
    assert [one.sign for one in studio.paintings()["p1"].observations] == ["blister"]
    record.correct(studio, "calibration", "a:1", {"rh_true_low": "76.0"}, **WHY)
    assert record.entries(studio, "calibration", "a")[0].row["rh_true_low"] == 76.0
    record.remove(studio, "observation", "p1:1", because="another painting", on=DAY)
    record.remove(studio, "calibration", "a:1", because="another logger", on=DAY)
    assert not studio.paintings()["p1"].observations and not record.entries(studio, "calibration", "a")


@pytest.mark.parametrize(
    ("noun", "name", "cells", "because", "says"),
    [
        ("treatment", "p1:1", {"on": "20xx"}, "x", "on '20xx' is not a date"),
        ("treatment", "p1:1", {"on": "2026-09-14"}, " ", "because is empty"),
        ("treatment", "p1:1", {"on": "2026-06-14"}, "x", "nothing differs"),
        ("treatment", "p1:1", {"colour": "red"}, "x", "no field 'colour'; there is kind, on, material"),
        ("treatment", "p1:1", {"kind": "consolidation"}, "x", "remove it, and enter the other"),
        ("treatment", "p1:1", {"material": "marmalade"}, "x", "marmalade"),
        ("stay", "p1:1", {"from": "2026-06-01"}, "x", "2026"),
        ("observation", "p1:1", {"sign": "a\u202eb"}, "x", "sign"),
        ("observation", "p1:1", {"sign": "b"}, "a\u202eb", "because"),
    ],
)
def test_what_cannot_be_is_refused_by_its_field_and_nothing_changes(studio, noun, name, cells, because, says):
    before = rows(studio)
    with pytest.raises(BadInput) as refused:
        record.correct(studio, noun, name, cells, because=because, on=DAY)
    assert says in str(refused.value)
    assert rows(studio) == before


def test_a_row_that_is_not_there_is_named_with_those_that_are(studio):
    with pytest.raises(NotThere, match="no place 'moon'"):
        record.correct(studio, "stay", "p1:2", {"place": "moon"}, because="x", on=DAY)
    for name in ("p1:3", "p1:0", "p1:x", "p1"):
        with pytest.raises(NotThere, match="which stay\\? p1:1 to p1:2"):
            record.correct(studio, "stay", name, {"to": ""}, because="x", on=DAY)
    with pytest.raises(BadInput, match="'door' is none of treatment"):
        record.entries(studio, "door", "p1")


def test_the_air_that_went_on_record_is_said_to_be_of_the_old_day(studio):
    record.correct(studio, "treatment", "p1:1", {"studio_rh_percent": "50"}, **WHY)
    lines = record.correct(studio, "treatment", "p1:1", {"on": "2026-06-15"}, **WHY)
    assert lines[-1].startswith("still on record: studio_rh_percent 50.0, of the old day")


def test_the_commands_list_correct_and_remove(studio, tmp_path):
    where = ("--studio", str(tmp_path / "s"))
    assert "stay p1:2: place=easel" in run("correct", "stay", "harbour", *where).stdout
    done = run("correct", "stay", "harbour:2", "from=2026-05-03", "--because", "read off the lorry's paper", *where)
    assert done.returncode == 0 and "stay in store up to 2026-05-03" in done.stdout, done.stdout + done.stderr
    done = run("remove", "observation", "harbour:1", "--because", "the other Harbour", *where)
    assert done.returncode == 0 and "removed, on 2026-06-20, sign bulge" in done.stdout, done.stdout + done.stderr
    refused = run("remove", "stay", "harbour:2", *where)
    assert refused.returncode != 0 and "because" in refused.stderr and "Traceback" not in refused.stderr
