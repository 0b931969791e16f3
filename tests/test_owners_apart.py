"""On the pages nothing leads from an owner to a painting, and owner, house and value never stand on one page."""

import io
import json
import shutil
import zipfile
from urllib.parse import quote

import pandas as pd
import pypdf
import pytest

from dashboards import app as pages
from dashboards import create_app, guard
from dashboards.pages import apart, lining, paintings
from envwatch.archive import Studio
from envwatch.archive.register.redaction import Names
from envwatch.core.errors import BadInput
from tests.program import run
from tests.test_dashboards import press, text_of
from tests.test_names_withheld import files_in, letters, texts_of

NOW = pd.Timestamp("2026-11-02T09:00Z")
OWNER, HOUSE, VALUE = "Frau Xaveria Quelltröpf-Füßling", "Haus Quelltröpf", "band Zinnober"
SPELT = (  # free text, as it is jotted down
    "Quelltröpf, Xaveria", "QUELLTRÖPF", "quelltroepf", "Quelltropf", "X. Quelltröpf", "Füssling", "FUESSLING",
    "Füßlings",
    "Quelltröpf–Füßling", "Fußling-Quelltröpf", "Quelltro\u0308pf’s", "Quell-\ntröpf", "Xaveria Q.", "Frau Xaveria",
    "quelltroepf_26.jpg", "Quelltr&ouml;pf", "Quelltr%C3%B6pf", "F ü ß l i n g", "Ｑｕｅｌｌｔｒöｐｆ",
)  # fmt: skip
NEEDLES = ("quelltr", "quelltö", "xaveria", "fußling", "fussling", "fuessling", "ufling")


@pytest.fixture(scope="module")
def owned(demo_folder, tmp_path_factory):
    """A demo studio in which an owner stands in a painting's free text in each spelling; the house bears the name."""
    folder = shutil.copytree(demo_folder, tmp_path_factory.mktemp("owned") / "studio")
    with Studio.open(folder) as studio:
        studio.enter("painting", {"id": "26-02", "owner": OWNER, "value_band": VALUE})
        house = next(p for p in studio.places().values() if p.kind == "house")
        studio.enter("place", {"id": house.id, "name": HOUSE})
        studio.move("26-02", house.id, "2026-10-30")
        for n, spelt in enumerate(SPELT):
            studio.observe("26-02", "2026-10-20", f"dull {n}", where=spelt, note=f"rang {spelt}", look="telephone",
                           by=spelt.replace("\n", " "))  # fmt: skip
    return folder


@pytest.fixture
def shown(owned):
    """Its pages, within a request of somebody who has not unlocked the owners."""
    app = create_app(owned, now=lambda: NOW)
    with app.server.test_request_context("/"):
        yield app
    app.server.config["HOUSE"].close()


@pytest.mark.parametrize("words", [OWNER, "Xaveria", "quelltr", "Füßling", "FUESSLING", HOUSE])
def test_a_locked_page_finds_no_painting_by_its_owners_name(shown, words):
    home = shown.server.config["HOUSE"]
    rows = paintings._kept(paintings._rows(home)[0], words, {}, paintings._readable(home))
    assert rows == []
    assert paintings._kept(paintings._rows(home)[0], "herring", {}, paintings._readable(home))
    for path, query in ((f"/painting/{words}", ""), (f"/apart/owner/{words}", ""), (f"/apart/value/{words}", ""),
                        ("/around", f"?ask=leave&painting={quote(words)}"),
                        ("/hang", f"?ask=where&painting={quote(words)}&1.name=x")):  # fmt: skip
        told = text_of(pages.show(path, query)[0])
        assert "Herring Fleet" not in told.replace("[26-02]", "") or "no painting has the number" in told, path
    client = shown.server.test_client()
    for path in ("/dossier.pdf?painting=", "/dossier.zip?painting=", "/around.pdf?ask=leave&painting="):
        assert client.get(path + quote(words)).status_code == 404, path
    answer = lining.PAGE.go({"ask": "leave", "painting": words}, ("painting",))
    assert "no painting has the number" in str(answer[2]).lower()


def test_unlocked_in_this_session_the_search_finds_it(shown):
    home = shown.server.config["HOUSE"]
    assert guard.unlock(guard.Door(), "") == ""
    assert [row["id"] for row in paintings._kept(paintings._rows(home)[0], "quelltröpf", {}, paintings._readable(home))]


def test_owner_house_and_value_stand_on_a_page_each(shown):
    guard.unlock(guard.Door(), "")
    whole = {path: json.dumps(pages.show(path, "")[0], default=lambda part: part.to_plotly_json(), ensure_ascii=False)
             for path in ("/", "/paintings", "/painting/26-02", "/apart/owner/26-02", "/apart/value/26-02",
                          "/places", "/around", "/hang")}  # fmt: skip
    assert OWNER in whole["/apart/owner/26-02"] and VALUE in whole["/apart/value/26-02"]
    assert HOUSE in whole["/painting/26-02"]
    for path, told in whole.items():
        assert sum(secret in told for secret in (OWNER, HOUSE, VALUE)) <= 1, path


def test_an_owner_is_shown_once_unlocked_and_a_value_corrected(shown):
    assert OWNER not in text_of(pages.show("/apart/owner/26-02", "")[0])
    named, wrong = apart.show(1, "", {"id": "26-02"})
    assert OWNER in text_of(named) and wrong == ""
    of = {"id": "26-02", "value_band": VALUE}
    assert press(("value_band",), apart.correct, of, value_band="band Ocker") == (1, {})
    _again, faults = press(("value_band",), apart.correct, of, value_band="band Umbra")
    assert "is “band Ocker” now" in faults["value_band"]
    press(("value_band",), apart.correct, of | {"value_band": "band Ocker"}, value_band=VALUE)
    with shown.server.config["HOUSE"].writing() as studio, pytest.raises(BadInput, match="when this page was shown"):
        apart.correct(studio, of | {"value_band": "x"}, {"value_band": ""})


def test_no_spelling_of_an_owner_leaves_the_house(shown, owned, tmp_path):
    """What is printed from the pages, and what `export` writes: inside ZIP members, PDF text and tables."""
    client = shown.server.test_client()
    for path in ("/dossier.pdf?painting=26-02", "/dossier.zip?painting=26-02"):
        answer = client.get(path)
        assert answer.status_code == 200
        (tmp_path / f"{len(list(tmp_path.iterdir()))}.{path[9:12]}").write_bytes(answer.data)
    with Studio.open(owned) as studio:
        studio.export_register(tmp_path / "plain")
        studio.export_register(tmp_path / "redacted", redact=True)
    told = [(path.name, text) for path, content in files_in(tmp_path).items() for text in texts_of(path.name, content)]
    assert len(told) > 30 and any("dull 18" in text for _name, text in told)
    for name, text in told:
        assert not [needle for needle in NEEDLES if letters(needle) in letters(text)], name


def test_the_search_above_would_see_a_name_in_each_kind_of_file(owned, tmp_path):
    """The owner's own dossier bears the name: the same search finds it in PDF text and inside a ZIP."""
    pdf = pypdf.PdfWriter()
    pdf.add_blank_page(100, 100)
    pdf.add_metadata({"/Title": "Quelltröpf"})
    held = io.BytesIO()
    pdf.write(held)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as out:
        out.writestr("inner.pdf", held.getvalue())
        out.writestr("note.txt", "Ｑｕｅｌｌｔｒöｐｆ".encode())
    found = [text for text in texts_of("a.zip", packed.getvalue()) if "quelltr" in letters(text)]
    assert len(found) >= 2


@pytest.mark.parametrize("spelt", SPELT)
def test_each_spelling_is_taken_out(spelt):
    told = Names([OWNER]).hide(f"rang {spelt} at noon")
    assert "owner 1, withheld" in told and told.startswith("rang ") and told.endswith(" at noon")
    assert not [needle for needle in NEEDLES if letters(needle) in letters(told)]


def test_a_dossier_with_its_owner_has_them_on_a_page_where_no_house_stands(owned, tmp_path):
    folder = shutil.copytree(owned, tmp_path / "studio")
    with Studio.open(folder) as studio:  # a house whose name is not its owner's
        house = next(p for p in studio.places().values() if p.kind == "house")
        studio.enter("place", {"id": house.id, "name": "Haus Querlicht"})
    done = run("dossier", "26-02", "--owner", "--studio", folder)
    assert done.returncode == 0 and "stands on the last page alone" in done.stdout
    (path,) = (folder / "sheets").glob("dossier-26-02-*.pdf")
    pages = [letters(page.extract_text()) for page in pypdf.PdfReader(path).pages]
    owners = [n for n, text in enumerate(pages) if any(needle in text for needle in NEEDLES)]
    houses = [n for n, text in enumerate(pages) if "querlicht" in text]
    assert owners == [len(pages) - 1] and houses and not {*owners} & {*houses}


def test_the_command_for_a_painting_prints_its_value_alone(owned):
    shown = run("painting", "26-02", "--studio", owned)
    assert shown.returncode == 0 and "26-02" in shown.stdout and VALUE not in shown.stdout
    asked = run("painting", "26-02", "--value", "--studio", owned)
    assert asked.stdout.endswith(f"[26-02]: {VALUE}\n") and len(asked.stdout.splitlines()) == 1
