"""Faults put into the central rules, one at a time, and whether a test notices.

    python -m tests.long.injected --seed 1 [--faults 100] [--skip 0] [--calls FILE]

A fault is drawn from the functions of `ROOMS`: a comparison turned, a boundary moved (`<` to `<=`), a constant changed,
the branches of a condition swapped, a term dropped. In a copy of the checkout the tests that call the function are run
with it until one fails. Which tests call which function is found by one run of the test files that import from the
rooms, less a few that are dear (some six minutes), kept in FILE if one is named. Printed are the faults that no test
noticed, each before and after: equivalent, or a test that is missing. Exits with 1 where fewer than nine in ten were
noticed.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import itertools
import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).parents[2]
ROOMS = ("core", "verdict.py", "climate", "hazards", "physics/room", "cases/dehumidifier/recommend.py")
WANTED = re.compile(r"^(from|import) envwatch.*\b(records|verdict|climate|hazards|room|dehumidifier)\b", re.M)
TOO_DEAR = {
    "dashboards", "drying_page", "hanging_files", "leaving", "register", "review", "sample_logs", "sharing", "sheets",
}  # fmt: skip
OPTIONS = ("-q", "-p", "no:randomly", "-p", "no:cacheprovider")
SILENT = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
BUDGET_S = 20  # of tests for one fault, as they took when they were mapped
STUDIO_S = 3  # what the sample studio costs each run that uses it, once
PATIENCE_S = 600
TURNED = {ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Eq: ast.NotEq, ast.Is: ast.IsNot, ast.In: ast.NotIn}
TURNED |= {after: before for before, after in TURNED.items()}
MOVED = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}


class Fault(NamedTuple):
    file: str
    function: str  # file and qualified name
    kind: str
    node: ast.expr
    after: str


def changes(node: ast.AST) -> Iterator[tuple[str, ast.expr]]:
    """What an expression may be turned into, with the kind of fault."""
    match node:
        case ast.Compare(left, [op, *ops], of):
            for kind, table in (("comparison", TURNED), ("boundary", MOVED)):
                if type(op) in table:
                    yield kind, ast.Compare(left, [table[type(op)](), *ops], of)
        case ast.Constant(value) if type(value) in (int, float):
            yield "constant", ast.Constant(value + 1 if value in (0, 1) else value * 2)
        case ast.IfExp(test, body, orelse):
            yield "branch", ast.IfExp(test, orelse, body)
        case ast.BinOp(left, ast.Add() | ast.Sub() | ast.Mult() | ast.Div()) | ast.BoolOp(_, [left, *_]):
            yield "term", left


def functions(tree: ast.AST, within: str = "") -> Iterator[tuple[str, ast.FunctionDef]]:
    """Every function outside others, with its qualified name."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.FunctionDef):
            yield within + node.name, node
        elif isinstance(node, ast.ClassDef):
            yield from functions(node, f"{within}{node.name}.")


def expressions(node: ast.AST) -> Iterator[ast.AST]:
    """All parts of a function; of its text with figures in it, none."""
    if not isinstance(node, ast.JoinedStr):
        yield node
        for part in ast.iter_child_nodes(node):
            yield from expressions(part)


def modules() -> list[Path]:
    rooms = [ROOT / "envwatch" / room for room in ROOMS]
    return [path for room in rooms for path in sorted(room.rglob("*.py")) or [room]]


def faults() -> Iterator[Fault]:
    """Every one that can be put in."""
    for path in modules():
        file = str(path.relative_to(ROOT))
        for name, function in functions(ast.parse(path.read_text(encoding="utf-8"))):
            for node in (node for part in function.body for node in expressions(part)):
                for kind, changed in changes(node):
                    yield Fault(file, f"{file}:{name}", kind, node, f"({ast.unparse(changed)})")


def put(text: str, node: ast.expr, after: str) -> str:
    """The file with the expression replaced; columns count bytes."""
    raw = text.encode()
    starts = [0]
    for line in raw.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    begin, end = starts[node.lineno - 1] + node.col_offset, starts[node.end_lineno - 1] + node.end_col_offset
    return (raw[:begin] + after.encode() + raw[end:]).decode()


class Calls:
    """A pytest plugin: the functions of the rooms that each test calls, and how long it takes. [s]"""

    def __init__(self, file: Path):
        self.file, self.of, self.took, self.now = file, {}, {}, set()
        self.wanted = {str(path): str(path.relative_to(ROOT)) for path in modules()}

    def pytest_itemcollected(self, item):
        self.took[item.nodeid] = STUDIO_S if "demo_folder" in getattr(item, "fixturenames", ()) else 0.0

    def pytest_runtest_logstart(self):
        self.now = set()
        sys.settrace(self.called)

    def called(self, frame, *_):
        if file := self.wanted.get(frame.f_code.co_filename):
            self.now.add(f"{file}:{frame.f_code.co_qualname.partition('.<locals>')[0]}")

    def pytest_runtest_logreport(self, report):
        self.took[report.nodeid] += report.duration

    def pytest_runtest_logfinish(self, nodeid):
        sys.settrace(None)
        for function in self.now:
            self.of.setdefault(function, []).append(nodeid)

    def pytest_sessionfinish(self):
        self.file.write_text(json.dumps({"of": self.of, "took": self.took}), encoding="utf-8")


def mapped(file: Path) -> dict:
    """The calls kept in a file; where there is none, they are found and kept."""
    if not file.exists():
        every = set(ROOT.glob("tests/test_*.py")) - {ROOT / "tests" / f"test_{name}.py" for name in TOO_DEAR}
        tests = [path for path in sorted(every) if WANTED.search(path.read_text(encoding="utf-8"))]
        with contextlib.redirect_stdout(sys.stderr):
            pytest.main([*OPTIONS, *map(str, [*modules(), *tests])], plugins=[Calls(file)])  # their doctests too
    return json.loads(file.read_text(encoding="utf-8"))


def noticed(fault: Fault, calls: dict, checkout: Path) -> bool:
    """Whether a test fails: first those that call little else and are quick."""
    took, reach = calls["took"], Counter(itertools.chain.from_iterable(calls["of"].values()))
    tests = sorted(calls["of"].get(fault.function, ()), key=lambda test: took[test] * reach[test])
    spent = itertools.accumulate(took[test] for test in tests)
    tests = [test for test, so_far in zip(tests, spent, strict=True) if so_far < BUDGET_S]
    path = checkout / fault.file
    whole = path.read_text(encoding="utf-8")
    path.write_text(put(whole, fault.node, fault.after), encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-x", *OPTIONS, *tests]
    held = os.environ | {"PYTHONPATH": str(checkout), "ENVWATCH_ORDER": "written"}
    try:
        return bool(tests) and bool(subprocess.call(command, cwd=checkout, env=held, timeout=PATIENCE_S, **SILENT))
    except subprocess.TimeoutExpired:
        return True  # it never ends
    finally:
        path.write_text(whole, encoding="utf-8")


def drawn(seed: int, many: int) -> list[Fault]:
    """Faults of each kind in turn, so that terms and constants, of which there are most, do not crowd out the rest."""
    every = list(faults())
    of_kind = ([fault for fault in every if fault.kind == kind] for kind in sorted({fault.kind for fault in every}))
    rounds = zip(*(random.Random(seed).sample(some, len(some)) for some in of_kind), strict=False)
    return list(itertools.islice(itertools.chain.from_iterable(rounds), many))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--faults", type=int, default=100)
    parser.add_argument("--skip", type=int, default=0, help="the first so many of them, put in before")
    parser.add_argument("--calls", type=Path)
    given = parser.parse_args()
    left, todo = 0, drawn(given.seed, given.faults)[given.skip :]
    with tempfile.TemporaryDirectory() as scratch:
        calls = mapped(given.calls or Path(scratch) / "calls.json")
        checkout = Path(scratch) / "checkout"
        shutil.copytree(ROOT, checkout, ignore=shutil.ignore_patterns(".*", "__pycache__"))
        for number, fault in enumerate(todo, given.skip):
            if not noticed(fault, calls, checkout):
                left += 1
                before = ast.unparse(fault.node)
                where = f"{number}: {fault.function}, line {fault.node.lineno}, {fault.kind}"
                print(f"{where}\n- {before}\n+ {fault.after}", flush=True)
    print(f"seed {given.seed}: of {len(todo)} faults {len(todo) - left} were noticed")
    return left > len(todo) / 10


if __name__ == "__main__":
    sys.exit(main())
