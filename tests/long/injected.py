"""Faults put into the central rules, one at a time, and whether a test notices.

    python -m tests.long.injected --seed 1 [--faults 100] [--calls FILE]

A fault is drawn from the functions of `TARGETS`: a comparison turned, a boundary moved (`<` to `<=`), a constant
changed, the branches of a condition swapped, a term of a sum or product dropped. It is put into a copy of the checkout,
where the tests that call the function are run, cheapest first, until one fails. Which tests call which function is
found by one run of the whole suite (some fifteen minutes), kept in FILE if one is named. Told are the faults that no
test noticed, each with its line before and after: equivalent, or a test that is missing. Exits with 1 where fewer than
nine in ten were noticed.
"""

from __future__ import annotations

import argparse
import ast
import copy
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
TARGETS = (
    "envwatch/records.py", "envwatch/verdict.py", "envwatch/climate", "envwatch/hazards", "envwatch/room",
    "envwatch/dehumidifier/recommend.py",
)  # fmt: skip
AT_MOST = 60  # tests for one fault
PATIENCE_S = 400
TURNED = {
    ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Gt: ast.LtE, ast.GtE: ast.Lt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
MOVED = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}


@dataclass(frozen=True)
class Fault:
    """One change of one expression. `text` is the whole file with it."""

    file: str
    function: int  # its first line, decorators included
    line: int
    kind: str
    before: str
    after: str
    text: str


def changes(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    """What one node may be turned into, with the kind of fault."""
    if isinstance(node, ast.Compare):
        for kind, table in (("comparison", TURNED), ("boundary", MOVED)):
            if type(node.ops[0]) in table:
                yield kind, _with(node, ops=[table[type(node.ops[0])](), *node.ops[1:]])
    if isinstance(node, ast.Constant) and type(node.value) in (int, float):
        yield "constant", _with(node, value=node.value + 1 if node.value in (0, 1) else node.value * 2)
    if isinstance(node, ast.IfExp):
        yield "branch", _with(node, body=node.orelse, orelse=node.body)
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add | ast.Sub | ast.Mult | ast.Div):
        yield "term", node.left


def _with(node: ast.AST, **fields) -> ast.AST:
    changed = copy.copy(node)
    for name, value in fields.items():
        setattr(changed, name, value)
    return changed


def faults_of(path: Path) -> Iterator[Fault]:
    """Every fault that can be put into the functions of a file; docstrings and f-strings left out."""
    text = path.read_text(encoding="utf-8")
    for function in ast.walk(ast.parse(text)):
        if not isinstance(function, ast.FunctionDef):
            continue
        first = min([function.lineno, *(part.lineno for part in function.decorator_list)])
        words = {id(part) for node in ast.walk(function) if isinstance(node, ast.JoinedStr) for part in ast.walk(node)}
        for node in (node for part in function.body for node in ast.walk(part)):
            if id(node) in words or not isinstance(node, ast.expr):
                continue
            was = ast.get_source_segment(text, node) or ""
            for kind, changed in changes(node):
                now = f"({ast.unparse(ast.fix_missing_locations(changed))})"
                file = str(path.relative_to(ROOT))
                yield Fault(file, first, node.lineno, kind, was, now, _put(text, node, now))


def _put(text: str, node: ast.expr, now: str) -> str:
    lines = text.encode().splitlines(keepends=True)
    start = sum(map(len, lines[: node.lineno - 1])) + node.col_offset
    end = sum(map(len, lines[: (node.end_lineno or 0) - 1])) + (node.end_col_offset or 0)
    raw = text.encode()
    return (raw[:start] + now.encode() + raw[end:]).decode()


def targets() -> list[Path]:
    return [path for name in TARGETS for path in sorted((ROOT / name).rglob("*.py")) or [ROOT / name]]


# ------------------------------------------------------------------------------------- which tests call a function


class Calls:
    """A pytest plugin: the functions of the targets that each test calls, and how long it takes. [s]"""

    def __init__(self, file: Path):
        self.file, self.of, self.took = file, {}, {}
        self.wanted, self.now = {str(path) for path in targets()}, None

    def pytest_runtest_logstart(self, nodeid):
        self.now = set()
        sys.setprofile(self._called)

    def pytest_runtest_logreport(self, report):
        self.took[report.nodeid] = self.took.get(report.nodeid, 0.0) + report.duration

    def pytest_runtest_logfinish(self, nodeid):
        sys.setprofile(None)
        for key in self.now:
            self.of.setdefault(key, []).append(nodeid)

    def _called(self, frame, event, _):
        if event == "call" and frame.f_code.co_filename in self.wanted:
            code = frame.f_code
            self.now.add(f"{Path(code.co_filename).relative_to(ROOT)}:{code.co_firstlineno}")

    def pytest_sessionfinish(self):
        self.file.write_text(json.dumps({"of": self.of, "took": self.took}), encoding="utf-8")


def calls(file: Path) -> dict:
    if not file.exists():
        script = (
            f"import pytest, pathlib; from tests.long.injected import Calls; "
            f"pytest.main(['-q', '-p', 'no:randomly', 'tests'], plugins=[Calls(pathlib.Path({str(file)!r}))])"
        )
        subprocess.run([sys.executable, "-c", script], cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
    return json.loads(file.read_text(encoding="utf-8"))


def noticed(fault: Fault, known: dict, copied: Path) -> str:
    """The word for how a fault fared: noticed, not noticed, or no test calls it."""
    tests = sorted(known["of"].get(f"{fault.file}:{fault.function}", ()), key=lambda test: known["took"].get(test, 0))
    if not tests:
        return "no test calls it"
    target = copied / fault.file
    whole = target.read_text(encoding="utf-8")
    target.write_text(fault.text, encoding="utf-8")
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-x",
        "-q",
        "-p",
        "no:randomly",
        "-p",
        "no:cacheprovider",
        *tests[:AT_MOST],
    ]
    try:
        done = subprocess.run(
            command, cwd=copied, env={**os.environ, "PYTHONPATH": str(copied)}, capture_output=True,
            timeout=PATIENCE_S, check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return "noticed"  # it never ends
    finally:
        target.write_text(whole, encoding="utf-8")
    return "noticed" if done.returncode else "not noticed"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--faults", type=int, default=100)
    parser.add_argument("--calls", type=Path)
    asked = parser.parse_args()
    every = [fault for path in targets() for fault in faults_of(path)]
    kinds = sorted({fault.kind for fault in every})
    rng = random.Random(asked.seed)
    drawn = [rng.choice([f for f in every if f.kind == kinds[n % len(kinds)]]) for n in range(asked.faults)]
    with tempfile.TemporaryDirectory() as scratch:
        known = calls(asked.calls or Path(scratch) / "calls.json")
        copied = Path(scratch) / "checkout"
        shutil.copytree(ROOT, copied, ignore=shutil.ignore_patterns(".git", ".venv*", "__pycache__", ".hypothesis"))
        count = 0
        for fault in drawn:
            word = noticed(fault, known, copied)
            count += word == "noticed"
            if word != "noticed":
                print(
                    f"{fault.file}:{fault.line} {fault.kind}, {word}\n  - {fault.before}\n  + {fault.after}", flush=True
                )
    print(f"seed {asked.seed}: {len(drawn)} faults of {len(every)} possible, {count} noticed")
    return count < 0.9 * len(drawn)


if __name__ == "__main__":
    sys.exit(main())
