"""The pages without a browser: what they show, what they write, and who is let in."""

import ast
import base64
import json
import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from dash import no_update

from dashboards import app as pages
from dashboards import components, create_app, guard, pace
from dashboards.forms import entered
from dashboards.pages import events, files, loggers, looks, painting_forms, paintings, places, week
from envwatch.archive import Studio
from envwatch.cases import review, timeline
from envwatch.cases.review import desk
from envwatch.climate import decimation
from envwatch.climate.series import Climate
from envwatch.core.errors import BadInput, NotThere
from envwatch.core.painting import NOTHING_NEW, Look
from envwatch.present import charts, palette
from envwatch.present.plain import plain

ROOT = Path(__file__).parent.parent
NOW = pd.Timestamp("2026-11-02T11:00Z")
AA_TEXT, AA_SHAPE = 4.5, 3.0  # WCAG 2.2, success criteria 1.4.3 and 1.4.11


def text_of(shown) -> str:
    """All words of a page, in their order."""
    if shown is None or isinstance(shown, bool | int | float):
        return "" if shown is None or isinstance(shown, bool) else str(shown)
    if isinstance(shown, str):
        return shown
    if isinstance(shown, list | tuple):
        return " ".join(map(text_of, shown))
    return text_of(getattr(shown, "children", None))


def ids_of(shown) -> list:
    if isinstance(shown, list | tuple):
        return [id for part in shown for id in ids_of(part)]
    own = [shown.id] if getattr(shown, "id", None) else []
    return own + (ids_of(shown.children) if hasattr(shown, "children") else [])


def page(app, path: str, search: str = "") -> str:
    with app.server.test_request_context("/"):
        return text_of(pages.show(path, search)[0])


SHORT = (
    "app",
    "components",
    "events",
    "files",
    "looks",
    "marks",
    "painting",
    "painting_forms",
    "paintings",
    "places",
    "week",
    "why",
)


@pytest.mark.parametrize("name", SHORT)
def test_a_callback_is_five_lines_read_call_return(name):
    source = ast.parse(next((ROOT / "dashboards").rglob(f"{name}.py")).read_text(encoding="utf-8"))
    wired = {
        arg.id for call in ast.walk(source) if isinstance(call, ast.Call) and isinstance(call.func, ast.Call)
        and getattr(call.func.func, "attr", "") == "callback" for arg in call.args if isinstance(arg, ast.Name)
    }  # fmt: skip
    for found in ast.walk(source):
        if isinstance(found, ast.FunctionDef) and found.name in wired:
            body = found.body[1:]  # without its docstring
            assert body[-1].end_lineno - body[0].lineno < 5, f"{name}.{found.name}"


# --------------------------------------------------------------------------------------------------- what is shown


def test_this_week_shows_every_painting_and_sentence_of_the_review(app, demo_of_file):
    with Studio.open(demo_of_file) as studio:
        told = plain(review.make(studio, NOW))
    shown = page(app, "/")
    assert [line["painting"]["title"] for line in told["trouble"]], "the demo week is not quiet"
    for line in told["trouble"]:
        worst = [f for f in line["verdict"]["findings"] if f["level"] == line["level"]]
        assert line["painting"]["title"] in shown
        assert any(f["sentence"] in shown for f in worst)
    for due in told["tasks"]:
        assert due["what"] in shown


def test_this_week_has_the_answer_first_and_rooms_loggers_and_files_last(app):
    shown = page(app, "/")
    heads = ("Of 14 paintings: 1 urgent, 2 act", "Paintings that need me", "1.  Herring Fleet", "To watch", "Not known",
             "Besides, to do", "Take care", "The rooms", "The fetch round", "For the record")  # fmt: skip
    places = [shown.find(head) for head in heads]
    assert -1 not in places and places == sorted(places)
    deed, because = shown.index("Do:  Heat off"), shown.index("The lining film (heat-seal film) stood")
    assert deed < because < shown.index("still so")


def test_a_task_stands_once_on_the_page_with_its_tick(app):
    with app.server.test_request_context("/"):
        ids = [id for id in ids_of(pages.show("/", "")[0]) if isinstance(id, dict) and id.get("task") == "done"]
    assert len(ids) == len({id["n"] for id in ids}) == 3


def test_a_long_register_says_how_much_of_it_is_shown():
    row = {"id": "", "title": "", "maker": "", "level": -1, "word": "not judged", "where": "", "care": "", "lined": ""}
    rows = [{**row, "id": f"n-{n}", "glued": ""} for n in range(paintings.MOST + 1)]
    first = text_of(paintings._table(rows, paintings.FIRST))
    assert f"The first {paintings.MOST} of {len(rows)} paintings" in first and f"n-{paintings.MOST}" not in first
    every = text_of(paintings._table(rows, paintings.FIRST, whole=True))
    assert "The first" not in every and all(one["id"] in every for one in rows)


def test_the_register_is_filtered_by_every_word_and_every_column_and_sorted_stably(app, demo_of_file):
    rows, shown = paintings._rows(app.server.config["HOUSE"])
    with Studio.open(demo_of_file) as studio:
        kept = studio.paintings()
    assert {row["id"] for row in rows} == set(kept)
    stored = paintings._kept(rows, "STORE rack", {"care": ["in store"], "word": None, "where": []})
    assert stored and all(row["care"] == "in store" and "rack" in row["where"] for row in stored)
    unbound = paintings._kept(rows, "", {"glued": [paintings.NOTHING]})
    assert unbound and all(
        not any(layer.role in ("film", "impregnation") for layer in kept[row["id"]].layers) for row in unbound
    )
    by_care = paintings._sorted(rows, [["care", False], ["level", True]])
    assert [row["care"] for row in by_care] == sorted(row["care"] for row in rows)
    assert all(a["level"] >= b["level"] for a, b in zip(by_care, by_care[1:], strict=False) if a["care"] == b["care"])


def test_a_paintings_page_shows_all_its_findings_with_their_figures(app, demo_of_file):
    with Studio.open(demo_of_file) as studio:
        line = next(line for line in review.make(studio, NOW).trouble if line.id == "26-02")
    shown = page(app, "/painting/26-02")
    assert len(line.verdict.raised) >= 3
    assert all(finding.sentence in shown for finding in line.verdict.raised)


def test_why_leads_to_file_and_line(own):
    with own.writing() as studio:
        kept = review.keep(studio, own.review())
    line = next(line for line in kept.trouble if line.id == "26-02")
    shown = text_of(pages.show(f"/why/{line.headline.number}", "")[0])
    assert "HM-7741_export_7.csv, line 2041" in shown
    assert "softening" in shown


def test_why_of_a_week_shows_that_week_kept_or_not(own):
    """A finding keeps its number from week to week; the way from a week's page leads to that week's figure."""
    with own.writing() as studio:
        review.keep(studio, own.review("2026-W43"))
    figures = {}
    for label in ("2026-W43", "2026-W44"):
        line = next(line for line in own.review(label).trouble if line.id == "26-02")
        heat = next(finding for finding in line.verdict.raised if finding.mechanism == "heat")
        href = components.why_link(heat, label).href
        shown = text_of(pages.show(*href.split("?"))[0])
        assert f"Why: finding {heat.number}" in shown and f"{heat.value:.1f}" in shown
        figures[label] = heat.number, heat.worst_at
    assert figures["2026-W43"][0] == figures["2026-W44"][0] and figures["2026-W43"][1] != figures["2026-W44"][1]
    assert "2026-W44" in text_of(pages.show("/why/8", "week=2026-W44")[0])


@pytest.mark.parametrize("path", ["/", "/paintings", "/painting/26-02", "/files", "/places", "/painting/26-08"])
def test_no_page_gives_away_an_owner(app, demo_of_file, path):
    with Studio.open(demo_of_file) as studio:
        owners = {p.owner for p in studio.paintings().values() if p.owner}
    with app.server.test_request_context("/"):
        sent = json.dumps(pages.show(path, "")[0].to_plotly_json(), default=lambda part: part.to_plotly_json())
    assert owners
    assert not [owner for owner in owners if owner in sent]


def test_an_owners_name_is_no_address(app, demo_of_file):
    with Studio.open(demo_of_file) as studio:
        owned = next(p for p in studio.paintings().values() if p.owner)
    assert "no painting has the number" in page(app, f"/painting/{owned.owner}")


def test_an_empty_studio_leads_to_logger_files(tmp_path):
    Studio.create(tmp_path / "new", name="New", zone="Europe/Berlin").close()
    app = create_app(tmp_path / "new", now=lambda: NOW)
    for path in ("/", "/paintings", "/places"):
        with app.server.test_request_context("/"):
            shown = pages.show(path, "")[0]
        assert "/files" in str(shown.to_plotly_json()), path
    app.server.config["HOUSE"].close()


def test_a_wrong_address_is_answered_in_one_line(app):
    assert "no such page" in page(app, "/nothing")
    assert "no finding has the number 999" in page(app, "/why/999")
    assert "not an ISO week" in page(app, "/", "?week=2026-W99")
    assert "no logger read anything then" in page(app, "/", "?week=1999-W10")
    assert "lies before the start" in page(app, "/places", "?place=store&from=2026-03-02&to=2026-03-01")


def test_an_earlier_week_is_found_by_a_day_of_it(app):
    with app.server.test_request_context("/"):
        assert week.go(1, "2026-07-08")[0] == "/?week=2026-W28"
        assert "write a date" in text_of(week.go(1, "8.7.26")[1])
    assert "Harbour Office by Lamplight" in page(app, "/", "?week=2026-W28")


# ------------------------------------------------------------------------------------------------ what is entered


def press(fields, enter, whose: str, **given):
    """What the button of a form answers: whether the page is shown again, and what is said beside which field."""
    answer = entered(fields, 0, (whose, *(given.get(name) for name in fields)), enter)
    return answer[0], {name: fault for name, fault in zip(fields, answer[3:], strict=True) if fault}


def test_a_call_is_logged_and_a_wrong_day_is_refused_beside_its_field(own):
    said = {"sign": "slack", "where": "top edge", "note": "the owner rang"}
    _again, faults = press(painting_forms.OBSERVE, painting_forms.observe, "26-02", on="2.11.26", **said)
    assert "must be written as 2026-11-02" in faults["on"] and len(faults) == 1
    with own.reading() as studio:
        assert not studio.paintings()["26-02"].observations
    assert press(painting_forms.OBSERVE, painting_forms.observe, "26-02", on="2026-11-02", **said) == (1, {})
    with own.reading() as studio:
        seen = studio.paintings()["26-02"].observations[-1]
    assert (seen.sign, seen.where, seen.note) == ("slack", "top edge", "the owner rang")


def test_a_look_without_a_sign_is_nothing_new_and_without_either_is_refused(own):
    given = {"on": "2026-11-02", "look": "photo", "by": "the owner"}
    assert press(painting_forms.OBSERVE, painting_forms.observe, "26-02", **given) == (1, {})
    _again, faults = press(painting_forms.OBSERVE, painting_forms.observe, "26-02", on="2026-11-02")
    assert faults == {"sign": "is empty; it must be filled"}
    with own.reading() as studio:
        (seen,) = studio.paintings()["26-02"].observations
    assert (seen.sign, seen.look, seen.by) == (NOTHING_NEW, Look.PHOTO, "the owner")


def test_the_cause_of_an_event_is_named_on_the_page_and_stands_there_from_then_on(own):
    shown = pages.show("/", "")[0]
    assert "name the cause" in text_of(shown)
    number = next(id["n"] for id in ids_of(shown) if isinstance(id, dict) and id.get("cause") == "name")
    told = events.name("2026-W44", number, " drain blocked ")
    assert told == "Cause named: drain blocked. It closes no look and no task."
    assert "(cause: drain blocked, named Mon 2 Nov 2026)" in " ".join(text_of(pages.show("/", "")[0]).split())
    with pytest.raises(BadInput, match="say in a few words"):
        events.name("2026-W44", number, " ", "drain blocked")


def test_one_tap_logs_an_own_look_of_now_and_is_taken_back(own):
    said = looks.enter("26-02", "A. Ember")
    assert "Herring Fleet before the Storm: nothing new (own look, A. Ember)" in text_of(said)
    with own.reading() as studio:
        (seen,) = studio.paintings()["26-02"].observations
    assert (seen.on, seen.sign, seen.look, seen.by) == (own.now(), NOTHING_NEW, Look.OWN, "A. Ember")
    assert "by whom is not known" in text_of(looks.enter("26-11", ""))
    (button,) = (id for id in ids_of(said) if isinstance(id, dict))
    looks.withdraw(button["unlook"], button["on"])
    with own.reading() as studio:
        assert studio.paintings()["26-02"].observations == ()
        assert len(studio.paintings()["26-11"].observations) == 1
    with pytest.raises(NotThere, match="no look of"):
        looks.withdraw(button["unlook"], button["on"])


@pytest.mark.parametrize(("path", "id"), [("/", "26-11"), ("/painting/26-02", "26-02")])
def test_the_tap_stands_with_the_last_own_look(own, path, id):
    looks.enter(id, "A. Ember")
    shown = pages.show(path, "")[0]
    assert {"look": id} in ids_of(shown)
    said = "Last own look: Mon 2 Nov 2026: nothing new (own look, A. Ember) looked, nothing new"
    assert said in " ".join(text_of(shown).split())


def test_a_move_is_entered_and_shown(own):
    given = {"place": "studio", "position": "easel", "from": "2026-11-02", "purpose": "to dry"}
    assert press(painting_forms.MOVE, painting_forms.move, "26-11", **given) == (1, {})
    with own.reading() as studio:
        stay = studio.paintings()["26-11"].stays[-1]
    assert (stay.place_id, stay.position, stay.purpose) == ("studio", "easel", "to dry")


def test_the_week_is_judged_again_once_something_was_entered(own):
    def where():
        return next(line.where for line in own.review().judged if line.id == "26-11")

    assert where() == "Drying loft, rack" and own.review() is own.review()
    given = {"place": "studio", "position": "easel", "from": "2026-10-30"}
    press(painting_forms.MOVE, painting_forms.move, "26-11", **given)
    assert where() == "Studio, easel"


def test_a_treatment_older_than_the_painting_is_refused_beside_its_day(own):
    given = {"kind": "lining", "on": "1700-01-01", "material": "eva_film"}
    _again, faults = press(painting_forms.TREAT, painting_forms.treat, "26-02", **given)
    assert "1869" in faults["on"]


def test_a_painting_is_corrected_and_its_owner_stays(own):
    with own.reading() as studio:
        before = studio.paintings()["26-02"]
    whose = form_of(own, "26-02")
    given = whose["shown"] | {"height_cm": "66.5", "maker": ""}
    assert press(painting_forms.EDIT, painting_forms.edit, whose, **given) == (1, {})
    with own.reading() as studio:
        after = studio.paintings()["26-02"]
    assert after == replace(before, height_cm=66.5, maker="")
    whose = form_of(own, "26-02")
    _again, faults = press(painting_forms.EDIT, painting_forms.edit, whose, **(given | {"height_cm": "tall"}))
    assert list(faults) == ["height_cm"]
    assert press(painting_forms.EDIT, painting_forms.edit, whose, **whose["shown"]) == (no_update, {})


def form_of(home, id: str) -> dict:
    """What the page keeps of a painting that its form shows."""
    with home.reading() as studio:
        painting = studio.paintings()[id]
    return {"id": id, "shown": painting_forms.edited(painting, "Europe/Berlin"), "owner": guard.sealed(painting.owner)}


def test_a_layer_takes_its_place_in_the_stack(own):
    given = {"role": "patch", "material": "acr_solv", "area": "local", "applied_on": "2026-11-01"}
    assert press(painting_forms.LAYER, painting_forms.add_layer, "26-02", **given) == (1, {})
    with own.reading() as studio:
        assert any(layer.role == "patch" and layer.area == "local" for layer in studio.paintings()["26-02"].layers)


def test_a_new_painting_and_a_new_place_are_entered_once(own):
    given = {"id": "26-99", "title": "Dunes", "care": "in studio"}
    assert press(paintings.NEW, paintings.enter_new, "", **given) == (1, {})
    assert "is taken" in press(paintings.NEW, paintings.enter_new, "", **given)[1]["id"]
    room = {"id": "attic", "name": "Attic", "kind": "loft", "zone": "Europe/Berlin"}
    assert press(places.ROOM, places.enter_new, "", **room) == (1, {})
    with own.reading() as studio:
        assert studio.places()["attic"].kind == "loft" and studio.paintings()["26-99"].title == "Dunes"


def test_a_check_of_a_logger_corrects_its_readings(own):
    at = pd.Timestamp("2026-10-28T12:00Z")
    with own.reading() as studio:
        before = studio.trace("store_rack", at)
    given = {"logger": "store_rack", "on": "2026-10-01", "rh_true": "75,3", "rh_read": "73.3"}
    assert press(loggers.CHECK, loggers.check, "", **given) == (1, {})
    with own.reading() as studio:
        after = studio.trace("store_rack", at)
    assert after.raw_rh_percent == before.raw_rh_percent and after.rh_percent > before.rh_percent + 1
    assert list(press(loggers.CHECK, loggers.check, "", **(given | {"rh_read": "x"}))[1]) == ["rh_read"]


def test_a_task_is_ticked_with_a_word_and_not_without(own):
    due = next(due for due in own.review().tasks if due.number is not None)
    with own.writing() as studio, pytest.raises(BadInput, match="what was done"):
        desk.tick(studio, due, " ", NOW)
    said = week._settled({"task": "done", "n": due.number}, own.review().period.label, "moved", "", "")
    assert "moved" in said
    with own.reading() as studio:
        assert desk.settled(studio, own.review())[due.number] == "done: moved"


def test_a_task_put_off_needs_a_later_day_and_a_reason(own):
    due = next(due for due in own.review().tasks if due.number is not None)
    with own.writing() as studio:
        for until, reason in (("2026-11-30", ""), ("2026-10-01", "waiting"), ("30.11.26", "waiting")):
            with pytest.raises(BadInput):
                desk.put_off(studio, due, until, reason, NOW)
        desk.put_off(studio, due, "2026-11-30", "waiting", NOW)
        assert "waiting" in desk.settled(studio, own.review())[due.number]


def dropped(content: bytes) -> str:
    return "data:text/csv;base64," + base64.b64encode(content).decode()


LOG = "time,temp_c,rh_percent\n" + "".join(f"2026-10-{d:02d}T12:00:00Z,18.5,5{d % 10}.0\n" for d in range(1, 29))


def test_a_dropped_file_is_kept_and_told_beside_its_first_rows(own):
    _again, said, refused = files.take([dropped(LOG.encode())], ["attic.csv"], 0)
    assert refused == "" and "28 new readings" in text_of(said)
    with own.reading() as studio:
        number = files.preview.kept_files(studio)[0].number
        shown = text_of(files.layout(own, "", {"file": str(number)}))
    assert "2026-10-01T12:00:00Z,18.5,51.0" in shown and "Thu 1 Oct 2026 14:00" in shown


def test_an_ambiguous_file_waits_with_its_choices_and_takes_the_answer(own):
    rows = "".join(f"03/04/2026 {hour:02d}:00,18.5,50\n" for hour in range(24))
    files.take([dropped(b"date,temp C,RH %\n" + rows.encode())], ["which.csv"], 0)
    with own.reading() as studio:
        item = studio.tray()[0]
        shown = text_of(files.layout(own, "", {}))
    assert (
        "day first or month first" in shown
        and "--dates" not in shown
        and "day, month, year" in shown
        and "03/04/2026 00:00,18.5,50" in shown
    )
    with own.writing() as studio:
        assert "kept" in text_of(files._answered(studio, item.number, "dmy"))
        assert not studio.tray()


def test_an_undo_takes_back_what_was_dropped(own):
    files.take([dropped(LOG.encode())], ["attic.csv"], 0)
    shown = files.layout(own, "", {})
    (batch,) = (id["undo"] for id in ids_of(shown) if isinstance(id, dict) and "undo" in id)
    assert f"take back add {batch}" in text_of(shown)
    files.take([dropped(LOG.replace("2026", "2025").encode())], ["another.csv"], 0)  # somebody else, since
    assert "is taken back: 1 file" in text_of(files._undone(batch))
    with own.reading() as studio:
        kept = {file.name for file in files.preview.kept_files(studio, 500)}
    assert "attic.csv" not in kept and "another.csv" in kept
    with pytest.raises(BadInput, match=f"add {batch}: nothing is kept of it"):
        files._undone(batch)


@pytest.mark.parametrize(
    ("name", "kept"),
    [("../../x.csv", "x.csv"), ("C:\\logs\\a.csv", "a.csv"), ("CON", "_CON"), ("..", "_"), ("a\x00b?.txt", "a_b_.txt")],
)
def test_a_files_name_cannot_lead_out_of_the_folder(tmp_path, name, kept):
    (path,) = files.put_down([dropped(b"x")], [name], tmp_path)
    assert path.name == kept and tmp_path in path.parents


def test_too_many_and_broken_uploads_are_refused(tmp_path):
    with pytest.raises(BadInput, match="301 files at once"):
        files.put_down([dropped(b"x")] * 301, ["a.csv"] * 301, tmp_path)
    with pytest.raises(BadInput, match="did not arrive whole"):
        files.put_down(["data:text/csv;base64,@@@"], ["a.csv"], tmp_path)


# ----------------------------------------------------------------------------------------------------------- safety


def test_the_printed_sheet_is_a_pdf_of_the_week(app):
    answer = app.server.test_client().get("/sheet.pdf?week=2026-W44")
    assert answer.data.startswith(b"%PDF") and answer.mimetype == "application/pdf"
    assert app.server.test_client().get("/sheet.pdf?week=x").status_code == 404


def test_nothing_is_loaded_from_outside_and_no_page_may_frame_it(app):
    answer = app.server.test_client().get("/")
    html, policy = answer.text, answer.headers["Content-Security-Policy"]
    assert "http://" not in html and "https://" not in html and 'src="//' not in html
    assert "default-src 'self'" in policy and "frame-ancestors 'none'" in policy and "unsafe-eval" not in policy


@pytest.mark.parametrize(("host", "status"), [("127.0.0.1:8050", 200), ("localhost", 200), ("evil.example", 421)])
def test_only_this_computers_names_are_answered(app, host, status):
    assert app.server.test_client().get("/", headers={"Host": host}).status_code == status


def test_a_call_from_another_site_is_refused(app):
    client = app.server.test_client()
    sent = client.post("/_dash-update-component", json={}, headers={"Origin": "https://evil.example"})
    assert sent.status_code == 403
    assert client.post("/enter", headers={"Sec-Fetch-Site": "cross-site"}).status_code == 403


def test_a_body_over_the_limit_is_refused(app):
    body = b"x" * (guard.MOST_BYTES + 1)
    client = app.server.test_client()
    assert client.post("/_dash-update-component", data=body, content_type="application/json").status_code == 413


@pytest.fixture
def shared(demo_of_file):
    door = guard.Door(passphrase_hash=guard.hashed("four quiet grey herons"), secure=True)
    made = create_app(demo_of_file, now=lambda: NOW, door=door)
    yield made.server.test_client(), door
    made.server.config["HOUSE"].close()


def test_a_shared_studio_shows_nothing_before_the_passphrase(shared):
    client, door = shared
    assert client.get("/", headers={"Accept": "text/html"}).headers["Location"] == "/enter"
    assert client.post("/_dash-update-component", json={}).status_code == 401
    assert client.get("/_dash-layout").status_code == 401
    assert "four quiet grey herons" not in door.passphrase_hash and door.passphrase_hash.startswith("scrypt:")
    answer = client.post("/enter", data={"passphrase": "four quiet grey herons"}, base_url="https://localhost")
    cookie = answer.headers["Set-Cookie"]
    assert all(word in cookie for word in ("HttpOnly", "SameSite=Strict", "Secure"))
    assert client.get("/_dash-layout", base_url="https://localhost").status_code == 200


def test_where_no_server_of_ours_holds_a_try_back_it_is_told_to_come_again(shared):
    client, door = shared
    tries = [client.post("/enter", data={"passphrase": "x"}).status_code for _ in range(pace.FREE + 2)]
    assert tries == [403] * (pace.FREE + 1) + [429]
    right = client.post("/enter", data={"passphrase": "four quiet grey herons"}, headers={"Envwatch-Held": "yes"})
    assert right.status_code == 429 and 0 < int(right.headers["Retry-After"]) <= pace.pause(pace.FREE + 1)
    door.pace.visitors["127.0.0.1"].next_at = 0.0  # the pause is over
    assert client.post("/enter", data={"passphrase": "four quiet grey herons"}).status_code == 303


def test_a_studio_is_not_shared_without_passphrase_name_and_a_word_on_tls(tmp_path):
    from envwatch.cli.serve import door_of, told

    secret = tmp_path / "word.txt"
    secret.write_text("four quiet grey herons\n", encoding="utf-8")
    with pytest.raises(BadInput, match="passphrase-file"):
        door_of(True, None, False, ("store.local",))
    with pytest.raises(BadInput, match="--name"):
        door_of(True, secret, False, ())
    with pytest.raises(BadInput, match="go with --share"):
        door_of(False, None, True, ())
    assert door_of(True, secret, False, ("store.local",)).secure
    assert "overhear" in told(door_of(True, secret, True, ("store.local",)), 8050, True)
    secret.write_text("short", encoding="utf-8")
    with pytest.raises(BadInput, match="12 characters"):
        door_of(True, secret, True, ("store.local",))


# --------------------------------------------------------------------------------------------- figures and colours


def ten_years(gap: bool = False) -> Climate:
    time = pd.date_range("2016-01-01", periods=526_000, freq="10min", tz="UTC")
    rng = np.random.default_rng(7)
    rh = 55 + 8 * np.sin(np.arange(len(time)) / 8_000) + rng.normal(0, 1, len(time))
    rh[123_457] = 99.0
    rh[400_001] = 3.0
    keep = np.ones(len(time), bool)
    keep[200_000:230_000] = not gap
    return Climate.of(time[keep], rng.normal(18, 1, keep.sum()), rh[keep])


def test_thinning_loses_no_extreme_and_invents_no_reading():
    air = ten_years()
    line = decimation.thinned(air, air.rh_percent)
    assert len(line.values) <= 2 * decimation.SCREEN
    assert (np.nanmin(line.values), np.nanmax(line.values)) == (3.0, 99.0)
    at = air.time.get_indexer(line.time)
    assert (at >= 0).all() and (air.rh_percent[at] == line.values).all()
    # a general library's own grouping finds the same extremes in every step
    edges = np.linspace(air.start.value // 1000, air.end.value // 1000, decimation.SCREEN + 1)
    steps = pd.Series(air.rh_percent).groupby(np.searchsorted(edges, air.time.asi8, side="right"))
    assert set(steps.min()) | set(steps.max()) == set(line.values)


def test_a_gap_stays_a_gap():
    air = ten_years(gap=True)
    line = decimation.thinned(air, air.rh_percent)
    (at,) = np.flatnonzero(np.isnan(line.values))
    assert line.time[at + 1] - line.time[at - 1] > pd.Timedelta(days=200)


def test_a_short_line_is_drawn_whole():
    air = ten_years().between(pd.Timestamp("2020-03-01", tz="UTC"), pd.Timestamp("2020-03-08", tz="UTC"))
    assert decimation.thinned(air, air.temp_c).values.tolist() == air.temp_c.tolist()


def test_figures_are_figures_to_plotly_and_hold_the_extremes(demo_of_file):
    import plotly.graph_objects as go

    with Studio.open(demo_of_file) as studio:
        start, end = pd.Timestamp("2025-11-02", tz="UTC"), pd.Timestamp("2026-11-02", tz="UTC")
        shown = timeline.of_place(studio, "store", start, end)
        air = studio.climate("store", start, end)
    made = go.Figure(charts.course(shown, (("outdoors", shown),)))
    humidity = next(trace for trace in made.data if trace.name == "humidity")
    known = [value for value in humidity.y if value is not None]
    assert min(known) == pytest.approx(np.nanmin(air.rh_percent), abs=0.01)
    assert max(known) == pytest.approx(np.nanmax(air.rh_percent), abs=0.01)
    lows = [row.rh[0] for row in shown.rows]
    assert min(lows) == np.nanmin(air.rh_percent) and len(shown.rows) == 13


def test_readings_that_are_doubted_are_crossed(demo_of_file):
    start, end = pd.Timestamp("2026-10-26", tz="UTC"), pd.Timestamp("2026-11-02", tz="UTC")
    with Studio.open(demo_of_file) as studio:
        office, store = (charts.course(timeline.of_place(studio, id, start, end)) for id in ("office", "store"))
    crosses = next(trace for trace in office["data"] if trace["name"] == "doubtful")
    assert len(crosses["x"]) >= 600 and crosses["mode"] == "markers"
    assert not [trace for trace in store["data"] if trace["name"] == "doubtful"]


def test_where_the_clock_is_put_back_the_line_is_parted():
    time = pd.date_range("2026-10-25T00:00Z", periods=4, freq="h")
    drawn = charts._points(decimation.Line(time, np.arange(4.0)), "Europe/Berlin")
    assert drawn["y"] == [0.0, None, 1.0, 2.0, 3.0]
    assert drawn["x"][0] == drawn["x"][2] == "2026-10-25T02:00:00"


def test_zooming_reads_the_stretch_again(app):
    with app.server.test_request_context("/"):
        shown = {"place": "store", "beside": "", "start": "2025-11-01T00:00Z", "end": "2026-11-01T00:00Z"}
        drawn = places.zoom({"xaxis.range[0]": "2026-06-01 00:00", "xaxis.range[1]": "2026-06-08 00:00"}, shown)
        humidity = next(trace for trace in drawn["data"] if trace["name"] == "humidity")
        assert humidity["x"][0].startswith("2026-06-01T00") and len(humidity["x"]) >= 7 * 96
        whole = places.zoom({"xaxis.autorange": True}, shown)["layout"]["xaxis"]["range"]
    assert whole[0].startswith("2025-11-01") and whole[1].startswith("2026-11-01")


@pytest.mark.parametrize("scheme", [palette.LIGHT, palette.DARK], ids=["light", "dark"])
def test_every_colour_keeps_the_contrast_of_its_use(scheme):
    for ground in ("paper", "leaf"):
        for ink in ("ink", "soft", "madder", "indigo", "verdigris"):
            assert palette.contrast(scheme[ink], scheme[ground]) >= AA_TEXT, (ink, ground)
        for line in ("edge", "ochre"):
            assert palette.contrast(scheme[line], scheme[ground]) >= AA_SHAPE, (line, ground)


def test_contrast_agrees_with_the_worked_example_of_the_guideline():
    # W3C, "Understanding SC 1.4.3": #777777 on white has 4.48 : 1 and fails; #767676 has 4.54 : 1 and passes
    assert palette.contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)
    assert palette.contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


def test_pages_are_read_while_a_file_is_added(own):
    before = own.review().period.label
    go, done = threading.Event(), threading.Event()

    def add():
        with own.writing() as studio, studio.writing("adding"):
            go.set()
            done.wait(10)

    writer = threading.Thread(target=add)
    writer.start()
    assert go.wait(10)
    try:
        assert text_of(pages.show("/places", "?place=store")[0]).startswith("Picture store")
        assert own.review().period.label == before
    finally:
        done.set()
        writer.join()


def test_the_band_is_a_closed_outline_round_each_unbroken_stretch():
    from envwatch.present.charts import _outlined

    low = {"x": ["a", "b", "c", "d", "e"], "y": [1, 2, None, 4, 5]}
    high = {"x": low["x"], "y": [11, 12, None, 14, 15]}
    drawn = _outlined(low, high)
    assert drawn["x"] == ["a", "b", "b", "a", "a", None, "d", "e", "e", "d", "d"]
    assert drawn["y"] == [1, 2, 12, 11, 1, None, 4, 5, 15, 14, 4]


def test_a_question_of_columns_is_answered_by_their_names_and_first_values(tmp_path):
    """Three columns without a name that tells: each button says what it takes for temperature and for humidity."""
    rng = np.random.default_rng(1)
    walks = [start + np.cumsum(rng.normal(0, 0.1, 400)) for start in (21, 20, 22)]
    times = pd.date_range("2026-01-05", periods=400, freq="30min")
    rows = (f"{at:%Y-%m-%d %H:%M};" + ";".join(f"{walk[n]:.1f}" for walk in walks) for n, at in enumerate(times))
    path = tmp_path / "x.csv"
    path.write_text("zeit;w1;w2;w3\n" + "\n".join(rows) + "\n", encoding="utf-8")
    with Studio.create(tmp_path / "s", name="x", zone="Europe/Berlin") as studio:
        (asked,) = studio.add([path]).outcomes
        shown = text_of(files._question(studio, studio.tray()[0]))
    one, other = (f"'w{n}' ({' '.join(f'{v:.1f}' for v in walks[n - 1][:3])} …)" for n in (2, 3))
    assert "3,4" in asked.choices and f"temperature {one}, humidity {other}" in shown
