"""Pages that were shown a while ago: what another entered since stays, and a folder that was replaced is noticed."""

import shutil

import pytest

from dashboards import app as pages
from dashboards import create_app
from dashboards.forms import entered
from dashboards.pages import events, files, loggers, painting_forms, week
from envwatch.archive import Studio
from envwatch.core.errors import BadInput, NotThere
from tests.test_dashboards import LOG, NOW, dropped, form_of, press, text_of


def test_a_stale_form_takes_nothing_away_that_another_entered(own):
    """Each field against what the form showed: two people, one page each, one after the other."""
    stale = form_of(own, "26-02")
    first = stale["shown"] | {"height_cm": "66.5", "ground": "red bole", "owner": "Frau Neu"}
    assert press(painting_forms.EDIT, painting_forms.edit, stale, **first) == (1, {})
    second = stale["shown"] | {"width_cm": "81.25"}  # does not touch what the first one entered
    assert press(painting_forms.EDIT, painting_forms.edit, stale, **second) == (1, {})
    _again, faults = press(
        painting_forms.EDIT, painting_forms.edit, stale, **(second | {"ground": "white", "made": "x"})
    )
    assert list(faults) == ["ground"]
    assert "is “red bole” now" in faults["ground"] and "“white” was not taken" in faults["ground"]
    _again, faults = press(painting_forms.EDIT, painting_forms.edit, stale, **(stale["shown"] | {"owner": "Herr Alt"}))
    assert list(faults) == ["owner"] and "Neu" not in faults["owner"]
    with own.reading() as studio:
        after = studio.paintings()["26-02"]
    assert (after.height_cm, after.width_cm, after.ground, after.owner) == (66.5, 81.25, "red bole", "Frau Neu")
    assert after.made == stale["shown"]["made"]


def test_a_stale_form_of_a_layer_is_refused_with_both_values(own):
    with own.reading() as studio:
        number, layer = next(
            (n, one) for n, one in enumerate(studio.paintings()["26-02"].layers, 1) if one.role == "film"
        )
        shown = painting_forms.relayered(studio, layer)
    stale = {"id": "26-02", "number": number, "role": layer.role, "shown": shown}
    press(painting_forms.RELAYER, painting_forms.correct_layer, stale, **(shown | {"note": "thin"}))
    _again, faults = press(painting_forms.RELAYER, painting_forms.correct_layer, stale, **(shown | {"note": "thick"}))
    assert "is “thin” now" in faults["note"] and "“thick” was not taken" in faults["note"]
    press(painting_forms.LAYER, painting_forms.add_layer, "26-02", role="varnish", material="mastic", area="whole")
    with own.reading() as studio:
        before = studio.paintings()["26-02"]
        assert before.layers[number - 1].role != "film" or before.layers[number - 1].note == "thin"
    with own.writing() as studio, pytest.raises(BadInput, match="when this page was shown"):
        painting_forms.take_out_layer(studio, stale, {"because": "entered twice"})
    with own.reading() as studio:
        assert studio.paintings()["26-02"].layers == before.layers


def test_a_task_or_cause_that_another_settled_is_not_settled_over(own):
    label, due = own.review().period.label, next(due for due in own.review().tasks if due.number is not None)
    week._settled({"task": "off", "n": due.number}, label, "", "2099-01-05", "abroad")
    with pytest.raises(BadInput, match=r"settled since this page was shown: .*abroad"):
        week._settled({"task": "done", "n": due.number}, label, "moved", "", "")
    with pytest.raises(NotThere, match="no task 99999 any more"):
        week._settled({"task": "done", "n": 99999}, label, "moved", "", "")
    event = next(event for event in own.review().events if event.numbers)
    events.name(label, event.numbers[0], "drain blocked", event.cause)
    with pytest.raises(BadInput, match=r"drain blocked.* now.*“rain” was not taken"):
        events.name(label, event.numbers[0], "rain", event.cause)
    with pytest.raises(NotThere, match="no event with finding 99999 any more"):
        events.name(label, 99999, "rain")


def test_a_logger_that_another_hung_since_is_not_hung_over(own):
    with own.reading() as studio:
        shown = {id: loggers.hangs(studio, id) for id in studio.loggers()}
    given = {"logger": "crate", "place": "studio", "on": "2026-11-02"}
    assert press(loggers.HANG, loggers.hang, shown, **given) == (1, {})
    _again, faults = press(loggers.HANG, loggers.hang, shown, **(given | {"place": "loft"}))
    assert (
        "“loft from 2026-11-02” was not taken" in faults["place"]
        and "“Studio from Tue 3 Nov 2026” now" in faults["place"]
    )
    with own.reading() as studio:
        assert studio.loggers()["crate"].hangings[-1].place_id == "studio"


def test_another_folder_in_its_place_is_said_and_nothing_is_written_into_it(demo_of_file, tmp_path):
    """A folder restored over the one that is served, or another studio moved there, while the pages are open."""
    here = tmp_path / "studio"
    shutil.copytree(demo_of_file, here)
    app = create_app(here, now=lambda: NOW)
    home = app.server.config["HOUSE"]
    with app.server.test_request_context("/"):
        shown = form_of(home, "26-02")
        here.rename(tmp_path / "moved away")
        assert "it is not there any more" in text_of(pages.show("/", "")[0])
        Studio.create(here, name="Another studio", zone="UTC").close()
        there = {path: path.read_bytes() for path in here.rglob("*") if path.is_file()}
        for path in ("/", "/paintings", "/painting/26-02"):
            assert "another folder stands in its place" in text_of(pages.show(path, "")[0])
        said = entered(
            painting_forms.EDIT, 0, (shown, *({**shown["shown"], "owner": ""}).values()), painting_forms.edit
        )
        assert "another folder stands in its place" in text_of(said[2])
        assert "another folder stands in its place" in text_of(files.take([dropped(LOG.encode())], ["a.csv"], 0)[2])
    assert app.server.test_client().get("/dossier.pdf?painting=26-02").status_code == 404
    assert {path: path.read_bytes() for path in here.rglob("*") if path.is_file()} == there
    home.close()
