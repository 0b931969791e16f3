"""Signs that are not seen: refused where they are typed, shown as their codes where an older register holds them."""

import re
import shutil
import sqlite3

import pandas as pd
import pytest
from typer.testing import CliRunner

from dashboards import app as pages
from dashboards import create_app
from envwatch.archive import Studio
from envwatch.cases.hanging import inputs
from envwatch.cli import app
from envwatch.core import fields
from envwatch.core.errors import BadInput
from tests.test_dashboards import text_of

NOW = pd.Timestamp("2026-11-02T09:00Z")
SIGNS = {"carriage return": "\r", "bell": "\a", "escape": "\x1b", "C1": "\x9b", "override": "\u202e",
         "isolate": "\u2066", "line separator": "\u2028"}  # fmt: skip
OF_NAMES = {
    "line end": "\n",
    "line end of Windows": "\r\n",
    "tab": "\t",
    "direction mark": "\u200f",
    "no width": "\u200b",
}
RAW = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")
ODD = "x".join(SIGNS.values()) + "y\nz"


@pytest.mark.parametrize("sign", [*SIGNS.values(), *OF_NAMES.values()], ids=[*SIGNS, *OF_NAMES])
def test_a_name_with_a_sign_that_is_not_seen_is_refused_by_its_code(demo_folder, tmp_path, sign):
    code, odd = f"U+{ord(sign[0]):04X}", f"A{sign}b"
    cells_of = (("painting", {"id": "26-02", "title": odd}), ("painting", {"id": "26-02", "owner": odd}),
                ("logger", {"id": "crate", "name": odd}), ("place", {"id": "store", "name": odd}),
                ("painting", {"id": f"26{sign}99", "title": "Dunes"}))  # fmt: skip
    with Studio.open(demo_folder) as studio:
        for noun, cells in cells_of:
            with pytest.raises(BadInput) as refused:
                studio.enter(noun, cells)
            assert code in str(refused.value) and str(refused.value).isprintable(), noun
        (tmp_path / "places.csv").write_text(f'id,name,kind\nattic,"A{sign}b",loft\n', encoding="utf-8", newline="")
        with pytest.raises(BadInput, match="row 2: name"):
            studio.import_register(tmp_path)


@pytest.mark.parametrize("sign", SIGNS.values(), ids=SIGNS)
def test_a_note_may_go_over_lines_and_holds_no_such_sign_either(sign):
    assert fields.text("one\ntwo\r\nthree\tfour") == "one\ntwo\r\nthree\tfour"
    with pytest.raises(ValueError, match=f"U\\+{ord(sign):04X}"):
        fields.text(f"one{sign}two")


@pytest.fixture(scope="module")
def older(demo_folder, tmp_path_factory):
    """A studio whose register holds such signs since before they were refused."""
    folder = shutil.copytree(demo_folder, tmp_path_factory.mktemp("older") / "studio")
    with sqlite3.connect(folder / "register.sqlite") as db:
        for table, column in (("paintings", "title"), ("paintings", "maker"), ("places", "name"), ("loggers", "name"),
                              ("treatments", "note"), ("files", "name")):  # fmt: skip
            db.execute(f'UPDATE "{table}" SET "{column}" = "{column}" || ?', (ODD,))
    return folder


@pytest.mark.parametrize("words", [("review", "--no-keep", "--week", "2026-W44"), ("painting", "26-02"),
                                   ("place", "store"), ("marks", "--from", "2026-10-01"),
                                   ("call", "25-09", "--sign", "wet")])  # fmt: skip
def test_what_an_older_register_holds_is_shown_as_its_code(older, words):
    for more in ((), ("--json",)):
        done = CliRunner().invoke(app, [*words, *more, "--studio", str(older)])
        assert done.exit_code == 0, (done.output, done.exception)
        assert not RAW.search(done.output), (words, more)
        assert "U+202E" in done.output


def test_a_whole_number_may_be_the_least_and_the_most_that_is_possible():
    three_to_five = fields.integer(3, 5)
    assert [three_to_five(cell) for cell in "345"] == [3, 4, 5]
    for cell in ("2", "6", "4.0"):
        with pytest.raises(ValueError):
            three_to_five(cell)


def test_several_figures_hold_no_name_and_several_words_may():
    assert fields.several(fields.number(0, 1)).closed and not hasattr(fields.several(fields.line), "closed")


def test_a_time_zone_that_is_none_is_answered_with_a_near_one_if_there_is_any():
    with pytest.raises(ValueError, match=r"write it as Europe/Berlin \(did you mean Europe/London\?\)$"):
        fields.zone("Europe/Lodnon")
    with pytest.raises(ValueError, match="write it as Europe/Berlin$"):
        fields.zone("17 to 18")


def test_so_do_the_pages_and_what_is_exported_can_be_read_in_again(older, tmp_path):
    made = create_app(older, now=lambda: NOW)
    with made.server.test_request_context("/"):
        for path in ("/", "/paintings", "/painting/26-02", "/files", "/places"):
            told = text_of(pages.show(path, "")[0])
            assert not RAW.search(told), path
        assert "⟨U+202E⟩" in text_of(pages.show("/paintings", "")[0])
    made.server.config["HOUSE"].close()
    with Studio.open(older) as studio:
        studio.export_register(tmp_path, private=True)
        told = (tmp_path / "paintings.csv").read_text(encoding="utf-8")
        assert not RAW.search(told) and "⟨U+202E⟩" in told
        studio.import_register(tmp_path)
        studio.export_register(tmp_path / "again", private=True)
        assert (tmp_path / "again" / "paintings.csv").read_text(encoding="utf-8") == told


def test_of_positions_so_many_are_judged_at_once_and_more_are_refused(demo_folder):
    rows = [{"name": f"wall {n}"} for n in range(inputs.MOST_POSITIONS + 1)]
    with pytest.raises(BadInput, match=f"41 positions; at most {inputs.MOST_POSITIONS} are judged at once"):
        inputs.described({}, [(f"position {n}", row) for n, row in enumerate(rows)])


@pytest.mark.parametrize("content", [b"x = " + b"[" * 20_000, b"[house]\nname = " + b"{a=" * 20_000])
def test_a_file_nested_too_deeply_is_no_fault_of_ours(content):
    with pytest.raises(BadInput, match="is not TOML"):
        inputs.from_toml(content, "deep.toml")
