"""Errors as data: what an error carries, who names its inputs, and that only the command line knows options."""

import ast
import json
import pickle
import re
from functools import cache
from pathlib import Path

import pytest
import typer
from flask import Response
from sqlalchemy import update
from typer.testing import CliRunner

from dashboards.asking import called_as_here
from dashboards.pages import files
from dashboards.units import CALL
from envwatch.archive.store.tables import TRAY
from envwatch.cases import hanging
from envwatch.cases.dehumidifier import typed
from envwatch.cli import app
from envwatch.cli.common import option
from envwatch.core.errors import REFERENCE, BadCell, BadInput, EnvwatchError, Question, named

TOP = Path(__file__).parent.parent
BELOW = [path for room in ("envwatch", "dashboards") for path in sorted((TOP / room).rglob("*.py"))
         if "cli" not in path.relative_to(TOP).parts]  # fmt: skip
OPTION = re.compile(r"(?:^|[\s(\"'“…])--[a-z]")
COMMAND = re.compile(r"envwatch (?:review|check|why …) --")  # a command quoted whole is the same for whoever reads it
COMMANDS = typer.main.get_command(app).commands  # the oracle: what the parser itself takes


@cache
def strings(path: Path) -> list[str]:
    """All strings of a file; of one with values in it the words between them."""
    nodes = list(ast.walk(ast.parse(path.read_text("utf-8"))))
    whole = [[part for part in node.values if isinstance(part, ast.Constant)]
             for node in nodes if isinstance(node, ast.JoinedStr)]  # fmt: skip
    inside = {id(part) for parts in whole for part in parts}
    alone = [[node] for node in nodes if isinstance(node, ast.Constant) and id(node) not in inside]
    return ["…".join(str(part.value) for part in parts) for parts in (*whole, *alone)]


def options() -> set[str]:
    return {name for command in COMMANDS.values() for param in command.params for name in param.opts}


def test_nothing_below_the_command_line_names_an_option():
    found = {f"{path.relative_to(TOP)}: {text[:60]}" for path in BELOW for text in strings(path)
             if OPTION.search(text) and not COMMAND.search(text)}  # fmt: skip
    assert not {line for line in found if not line.startswith("dashboards/app.py")}, found  # its palette: CSS


def test_every_input_that_a_sentence_names_is_an_option_of_a_command():
    named_in = {name: path.name for path in BELOW for text in strings(path) for name in REFERENCE.findall(text)}
    page_only = {"its_name", "their_name"}  # the docstrings that explain the mark
    assert len(named_in) > 20
    assert {name for name in named_in if option(name) not in options()} <= page_only


def test_the_line_is_made_of_place_field_seen_and_what_to_do():
    error = BadInput("expected 1 to 9", field="cold_wall", place="store", seen="12\nK")
    assert (error.field, error.place, error.seen, error.todo) == ("cold_wall", "store", "12 K", "expected 1 to 9")
    assert str(error) == "store: cold_wall 12 K: expected 1 to 9" and error.beside == "12 K: expected 1 to 9"
    error.naming = option
    assert str(error) == "store: --cold-wall 12 K: expected 1 to 9"
    asked = Question("dmy or mdy?", "dates", ("dmy", "mdy"), place="a.csv")
    assert named(asked.sentence, option) == "a.csv: dmy or mdy? Answer with --dates dmy|mdy"
    assert asked.statement == "a.csv: dmy or mdy?"
    cell = BadCell("'x' is not a number", place="row 2", field="height_cm")
    assert named(cell.sentence, option) == "row 2: height_cm 'x' is not a number", "a column keeps its name"


def test_what_a_file_holds_cannot_break_the_line():
    for part in ("todo", "place", "seen"):
        error = BadInput(**{"todo": "x", part: "a\x1b[2J\r\nb"})
        assert str(error).isprintable()


@pytest.mark.parametrize("error", [BadInput("x", field="set", seen=3), Question("which?", "dates", ("dmy",))])
def test_an_error_keeps_what_it_carries_from_one_process_to_another(error):
    again = pickle.loads(pickle.dumps(error))
    assert (str(again), again.field, again.seen) == (str(error), error.field, error.seen)


def test_the_input_at_fault_is_that_of_the_second_machine_and_of_the_second_position():
    label = {"capacity": "20", "rated_at": "27C/60%"}
    with pytest.raises(BadInput) as refused:
        typed.asked(label | {"capacity2": "30", "rated_at2": "27C/0.6%"}, "UTC", None)
    assert refused.value.field == "rated_at2"
    with pytest.raises(EnvwatchError) as refused:
        hanging.described({}, [{}, {"name": "hall", "sun": "maybe"}])  # the first is left out, and counted
    assert refused.value.field == "2.sun" and "position 2 (hall)" in str(refused.value)


def test_results_on_a_page_call_inputs_by_the_words_over_them(app):
    for text in ("(⟦tariff⟧, ⟦house_rh⟧)", "(\\u27e6tariff\\u27e7, \\u27e6house_rh\\u27e7)"):
        with app.server.test_request_context(CALL, method="POST"):
            said = json.loads(called_as_here(Response(f'{{"said": "{text}"}}')).get_data())["said"]
        assert said == "(“price of a kWh”, “house rh”)"


def test_a_register_made_before_shows_and_answers_its_questions(demo_copy, tmp_path):
    from envwatch.archive import Studio

    rows = "".join(f"03/04/2026 {hour:02}:00,19.5,5{hour % 10}.0\n" for hour in range(24))
    file = tmp_path / "amb.csv"
    file.write_text(f"time,temp C,rh %\n{rows}", "utf-8")
    words = ["--studio", str(demo_copy), "--json"]
    added = CliRunner().invoke(app, ["add", str(file), *words])
    (waits,) = json.loads(added.stdout)["outcomes"]
    assert waits["option"] == "--dates" and waits["question"].endswith("Answer with --dates dmy|mdy")
    for old in (False, True):
        if old:
            with Studio.open(demo_copy) as studio, studio.writing("a test"), studio.saving() as connection:
                connection.execute(update(TRAY).values(option="--dates", question=waits["question"]))
        (item,) = json.loads(CliRunner().invoke(app, ["tray", *words]).stdout)
        assert (item["option"], item["question"]) == (waits["option"], waits["question"])
        with Studio.open(demo_copy) as studio:
            (there,) = studio.tray()
            assert there.option == "dates" and files._asked(there).endswith("the file decides it.")
