"""One painting's page: its layers corrected or taken out, a treatment in the trade's fields, its dossier."""

import io
import zipfile

import pandas as pd
import pytest
from test_dashboards import text_of

from dashboards import app as pages
from dashboards import create_app
from dashboards.forms import entered
from dashboards.pages import painting_forms
from envwatch.archive import Studio
from envwatch.archive.register import edit_layers
from envwatch.core.errors import BadInput, NotThere

NOW = pd.Timestamp("2026-11-02T11:00Z")
ID = "26-02"  # lined in April 2026 with a heat-seal film


@pytest.fixture
def own(demo_copy):
    made = create_app(demo_copy, now=lambda: NOW)
    with made.server.test_request_context("/"):
        yield made
    made.server.config["HOUSE"].close()


def held(app) -> object:
    with Studio.open(app.server.config["HOUSE"].folder) as studio:
        return studio.paintings()[ID]


def film(app) -> int:
    return next(n for n, layer in enumerate(held(app).layers, 1) if layer.role == "film")


def of(app, number: int) -> dict:
    """What the page keeps of the layer that its form shows."""
    with Studio.open(app.server.config["HOUSE"].folder) as studio:
        layer = studio.paintings()[ID].layers[number - 1]
        return {"id": ID, "number": number, "role": layer.role, "shown": painting_forms.relayered(studio, layer)}


def press(fields, enter, whose, **given):
    _again, _said, refused, *faults = entered(fields, 0, (whose, *(given.get(name, "") for name in fields)), enter)
    told = {name: fault for name, fault in zip(fields, faults, strict=True) if isinstance(fault, str) and fault}
    return told | ({"": text_of(refused)} if refused and not isinstance(refused, type(pages.no_update)) else {})


def page(app, search: str = "") -> str:
    return text_of(pages.show(f"/painting/{ID}", search)[0])


def test_a_layer_is_corrected_and_what_it_was_stays_told(own):
    number, before = film(own), held(own)
    layer = before.layers[number - 1]
    given = {"material": "bees_wax" if layer.material != "bees_wax" else "eva_film", "area": "whole",
             "applied_on": "2026-04-20", "assumed": "no"}  # fmt: skip
    with Studio.open(own.server.config["HOUSE"].folder) as studio:
        given["material"] = next(key for key, p in studio.materials().items() if p.adhesive and key != layer.material)
    assert press(painting_forms.RELAYER, painting_forms.correct_layer, of(own, number), **given) == {}
    after = held(own)
    assert after.layers[number - 1].material == given["material"]
    assert [one.role for one in after.layers] == [one.role for one in before.layers]
    told = after.treatments[-1]
    assert told.kind == "correction" and layer.material.replace("_", " ") in told.note
    assert after.lined_on == before.lined_on and "correction" in page(own)


def test_a_correction_begins_nothing_anew(own):
    house = own.server.config["HOUSE"]
    before = {due.what for due in house.review().tasks if due.painting_id == ID}
    number = film(own)
    given = {"material": held(own).layers[number - 1].material, "area": "whole", "applied_on": "2026-04-20",
             "assumed": "no", "note": "as the invoice has it"}  # fmt: skip
    assert press(painting_forms.RELAYER, painting_forms.correct_layer, of(own, number), **given) == {}
    assert {due.what for due in house.review().tasks if due.painting_id == ID} == before


def test_a_layer_taken_out_is_judged_no_longer_and_the_reason_is_kept(own):
    before = held(own)
    number = next(n for n, layer in enumerate(before.layers, 1) if layer.role == "stretcher")
    assert "because" in press(painting_forms.UNLAYER, painting_forms.take_out_layer, of(own, number))
    assert held(own).layers == before.layers
    why = "entered twice"
    assert press(painting_forms.UNLAYER, painting_forms.take_out_layer, of(own, number), because=why) == {}
    after = held(own)
    assert [one.role for one in after.layers] == [one.role for one in before.layers if one.role != "stretcher"]
    assert why in after.treatments[-1].note and why in page(own)


def test_a_film_taken_out_that_a_lining_left_is_taken_for_granted_again(own):
    why = {"because": "typed by mistake"}
    assert press(painting_forms.UNLAYER, painting_forms.take_out_layer, of(own, film(own)), **why) == {}
    again = held(own).layers[film(own) - 1]
    assert again.assumed and not edit_layers.entered(again)
    with Studio.open(own.server.config["HOUSE"].folder) as studio, pytest.raises(BadInput, match="taken for granted"):
        edit_layers.change(studio, ID, film(own), {"area": "edge"}, "2026-11-02")
    behind = film(own) + 1  # numbered past the one that is no row
    with Studio.open(own.server.config["HOUSE"].folder) as studio:
        edit_layers.change(studio, ID, behind, {"note": "this one"}, "2026-11-02")
    assert held(own).layers[behind - 1].note == "this one"


@pytest.mark.parametrize(("cells", "said"), [
    ({"material": "chewing gum"}, "chewing gum"), ({"applied_on": "20.4.26"}, "20.4.26"), ({"role": "film"}, "role"),
    ({}, "nothing differs"),
])  # fmt: skip
def test_a_wrong_correction_changes_nothing(own, cells, said):
    before, number = held(own), film(own)
    with Studio.open(own.server.config["HOUSE"].folder) as studio, pytest.raises(BadInput, match=said):
        edit_layers.change(studio, ID, number, cells, "2026-11-02")
    assert held(own) == before


def test_a_layer_that_is_not_there_is_said(own):
    with Studio.open(own.server.config["HOUSE"].folder) as studio, pytest.raises(NotThere, match="no layer 99"):
        edit_layers.take_out(studio, ID, 99, "why not", "2026-11-02")


def test_the_address_of_a_layer_opens_its_form_until_it_was_changed(own):
    number = film(own)
    layer = held(own).layers[number - 1]
    assert f"Correct layer {number}, film" in page(own, f"?layer={painting_forms.key(number, layer)}")
    assert "Correct layer" not in page(own, f"?layer={number}-film-other")


def test_a_treatment_is_recorded_in_the_trades_own_fields(own):
    given = {
        "kind": "patch", "on": "2026-10-30", "material": "eva_film", "batch": "B-7", "temps_interface_c": "66;65.5",
        "hold_min": "6", "pressure_mbar": "120", "peel_trial": "30 N/m", "strip_kept": "yes", "coats": "2",
        "studio_temp_c": "20.5", "studio_rh_percent": "52", "weight_after_kg": "3.4", "inspection_days": "7;28",
        "limits_told": "not over a radiator", "removal": "warm and peel",
    }  # fmt: skip
    assert press(painting_forms.TREAT, painting_forms.treat, ID, **given) == {}
    done = held(own).treatments[-1]
    assert (done.batch, done.temps_interface_c, done.hold_min, done.pressure_mbar) == ("B-7", (66.0, 65.5), 6, 120)
    assert (done.strip_kept, done.coats, done.inspection_days, done.removal) == (True, 2, (7, 28), "warm and peel")


@pytest.mark.parametrize(("name", "text"), [
    ("solids_percent", "140"), ("coats", "two"), ("hold_min", "long"), ("studio_rh_percent", "0.5 of it"),
    ("inspection_days", "soon"), ("temps_interface_c", "66;hot"), ("end", "31.2.26"), ("family", None),
])  # fmt: skip
def test_a_wrong_field_of_a_treatment_is_said_beside_it(own, name, text):
    if text is None:
        assert name not in painting_forms.TREAT  # the material says its family
        return
    before = held(own)
    given = {"kind": "patch", "on": "2026-10-30", "material": "eva_film", name: text}
    assert list(press(painting_forms.TREAT, painting_forms.treat, ID, **given)) == [name]
    assert held(own) == before


def test_a_move_may_be_meant_as_a_treatment(own):
    given = {"place": "studio", "position": "easel", "from": "2026-11-02", "until": "2026-11-05", "intended": "yes",
             "purpose": "to look at it"}  # fmt: skip
    assert press(painting_forms.MOVE, painting_forms.move, ID, **given) == {}
    assert any(stay.intended and stay.purpose == "to look at it" for stay in held(own).stays)


def test_the_dossier_comes_as_paper_and_with_its_evidence_and_names_no_owner(own):
    browser = own.server.test_client()
    paper = browser.get(f"/dossier.pdf?painting={ID}", base_url="http://127.0.0.1")
    assert paper.data.startswith(b"%PDF") and paper.mimetype == "application/pdf"
    bundle = browser.get(f"/dossier.zip?painting={ID}", base_url="http://127.0.0.1")
    with zipfile.ZipFile(io.BytesIO(bundle.data)) as held_in:
        names = held_in.namelist()
        words = b"".join(held_in.read(name) for name in names)
    assert "dossier.pdf" in names and len(names) > 3
    owner = held(own).owner
    assert owner and owner.encode() not in words


@pytest.mark.parametrize("id", ["", "99-99", "Querlicht"])
def test_a_dossier_is_found_by_number_alone(own, id):
    answer = own.server.test_client().get(f"/dossier.pdf?painting={id}", base_url="http://127.0.0.1")
    assert answer.status_code == 404 and answer.mimetype == "text/plain"
