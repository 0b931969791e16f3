"""What PROMISES.md promises: the tests and commands that it names are there, and no long run is left out."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
TEXT = (ROOT / "tests" / "PROMISES.md").read_text(encoding="utf-8")
SECTION = TEXT.partition("\n## What is promised, and how it is tested\n")[2].partition("\n## ")[0]
NAMED = sorted(set(re.findall(r"`([\w.]+\.py::\w+)`", SECTION)))


def test_the_section_names_tests():
    assert len(NAMED) > 30


@pytest.mark.parametrize("named", NAMED)
def test_every_test_that_a_promise_names_exists(named):
    file, _, test = named.partition("::")
    tree = ast.parse((ROOT / "tests" / file).read_text(encoding="utf-8"))
    assert test in {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}


def test_every_long_run_is_named_and_every_command_named_exists():
    modules = set(re.findall(r"`python -m ([\w.]+)", SECTION))
    assert all((ROOT / (module.replace(".", "/") + ".py")).is_file() for module in modules)
    runs = {path.stem for path in (ROOT / "tests" / "long").glob("*.py")} - {
        "__init__",
        "hostile",
        "archive_model",
        "archive_harm",
    }
    assert {f"tests.long.{run}" for run in runs} <= modules and "tests/long/hostile.py" in SECTION
    assert all((ROOT / script).is_file() for script in re.findall(r"`(\.ci/[\w.]+)", SECTION))
