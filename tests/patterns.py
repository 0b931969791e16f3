"""Every literal pattern and word of envwatch/logs, each with a test of reading that uses it: python -m tests.patterns

    python -m tests.patterns             # all of them
    python -m tests.patterns --unused    # those that no test uses; fails where there are any

A pattern is used where it matches in a test, a word where it stands in a text that a test has the reader look at.
Outside the gate: it runs the tests of reading, a minute or two.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import importlib
import os
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import openpyxl  # noqa: F401  what else compiles patterns is imported before they are watched
import pandas as pd  # noqa: F401
import pyarrow.csv  # noqa: F401
import pytest

ROOT = Path(__file__).parent.parent
LOGS = ROOT / "envwatch" / "logs"
WORDS = ("text/vocabulary", "text/roles")  # the modules with tables of words
KINDS = ("CALCULATED", "AIR", "DEVICE", "STATISTICS")  # names of kinds, which no file holds
MATCHING = ("search", "match", "fullmatch", "findall", "finditer", "sub", "split")
used: dict[str | bytes, str] = {}  # pattern -> the first test in which it matched
texts: dict[str, str] = {}  # text that was looked at -> the first test that had it


def test_now() -> str:
    """The test that runs."""
    return os.environ.get("PYTEST_CURRENT_TEST", "").split(" (")[0]


class Watched:
    """A compiled pattern that remembers in which test it first matched."""

    def __init__(self, pattern: re.Pattern) -> None:
        self.it = pattern

    def __getattr__(self, name: str):
        """The pattern's own; a method that matches is watched."""
        own = getattr(self.it, name)
        return self.watch(own) if name in MATCHING else own

    def watch(self, method):
        """The method, and where it finds the pattern in its last argument, a note of the test."""

        def call(*given, **more):
            if (
                test_now()
                and self.it.pattern not in used
                and self.it.search(given[-1 if method.__name__ == "sub" else 0])
            ):
                used[self.it.pattern] = test_now()
            return method(*given, **more)

        return call


class WatchedRe(ModuleType):
    """Stands for the module `re` while the reader is imported."""

    def __getattr__(self, name: str):
        """What matches goes through a watched pattern."""
        if name == "compile":
            return lambda pattern, flags=0: Watched(re.compile(pattern, flags))
        if name in MATCHING:
            return lambda pattern, *given, **more: self.matching(name, pattern, list(given), more)
        return getattr(re, name)

    @staticmethod
    def matching(name: str, pattern, given: list, more: dict):
        """A function of `re`; what it is given ends in flags, except for `sub` and `split`."""
        flags = given.pop() if len(given) > 1 and name not in ("sub", "split") else more.pop("flags", 0)
        return getattr(Watched(re.compile(pattern, flags)), name)(*given, **more)


def note(plain, text: str) -> str:
    """Remember that a text was looked at; figures do not matter."""
    if test_now():
        texts.setdefault(re.sub(r"\d+", "0", plain(text)), test_now())
    return text


def files() -> list[Path]:
    """The reader's files: not those of weather data."""
    return [path for path in sorted(LOGS.rglob("[a-z]*.py")) if path.name != "weather.py"]


def _module(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts)


def watch() -> None:
    """Import the reader so that its patterns and the texts it looks at are remembered."""
    sys.modules["re"] = WatchedRe("re")
    try:
        modules = [importlib.import_module(_module(path)) for path in files()]
    finally:
        sys.modules["re"] = re
    plain, tidy = sys.modules["envwatch.logs.text.words"].plain, sys.modules["envwatch.logs.text.stamps"].tidy
    watched = {plain: lambda text: plain(note(plain, text)), tidy: lambda cell: note(plain, tidy(cell))}
    for module in modules:
        for name, value in vars(module).items():
            if callable(value) and value in watched:
                setattr(module, name, watched[value])


def patterns() -> Iterator[tuple[str, str | bytes]]:
    """Where each literal pattern stands, and the pattern; those put together from parts as they were compiled."""
    for path in files():
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and _of_re(node.func) and isinstance(node.args[0], ast.Constant):
                yield f"{path.name}:{node.lineno}", node.args[0].value
        module = sys.modules.get(_module(path))
        for name, value in vars(module).items() if module else ():
            for one in _within(value):
                yield f"{path.name}:{name}", one.it.pattern


def _of_re(node: ast.AST) -> bool:
    return isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "re"


def _within(value) -> Iterator[Watched]:
    if isinstance(value, Watched):
        yield value
    elif isinstance(value, tuple):
        for part in value:
            yield from _within(part)


def tables() -> Iterator[tuple[str, str]]:
    """The words of every table that is written out, and where it stands."""
    words = sys.modules["envwatch.logs.text.words"]
    for tongue, kinds in words.HEADERS.items():
        for word in " ".join(kinds.values()).split():
            yield f"text/words.py:{tongue}", words.plain(word.strip("*").replace("_", " "))
    for name in WORDS:
        for node in ast.parse((LOGS / f"{name}.py").read_text("utf-8")).body:
            for target in getattr(node, "targets", [getattr(node, "target", None)]):
                if getattr(target, "id", "") in KINDS:
                    continue
                with contextlib.suppress(ValueError, TypeError, AttributeError):
                    value = ast.literal_eval(node.value)
                    yield from ((f"{name}.py:{target.id}", word) for word in _words(value))


def _words(value) -> Iterator[str]:
    """A table's words: not the names that tuples of words bear."""
    if isinstance(value, str):
        yield from value.split() if value.count(" ") > 2 else [value] * bool(value)
    elif isinstance(value, dict):
        yield from value if all(isinstance(part, int) for part in value.values()) else _words([*value.values()])
    elif isinstance(value, tuple | set | list):
        nested = any(isinstance(part, tuple) for part in value)
        yield from (word for part in value if not (nested and isinstance(part, str)) for word in _words(part))


def report() -> list[tuple[str, str, str]]:
    """Where, pattern or word, and the first test that uses it ("" where none does)."""
    rows = [(where, f"/{one!s}/", used.get(one, "")) for where, one in dict.fromkeys(patterns())]
    held = {word: "" for _, word in tables()}
    for text, test in texts.items():
        for word in [word for word, known in held.items() if not known and holds(text, word)]:
            held[word] = test
    return rows + [(where, word, held[word]) for where, word in dict.fromkeys(tables())]


def holds(text: str, word: str) -> bool:
    """Whether a word stands in a text: as a word of its own where it is of one script with spaces.

    >>> holds("temp 2", "temp"), holds("stempel", "temp"), holds("相対湿度", "湿度")
    (True, False, True)
    """
    word = re.sub(r"\d+", "0", word)
    if word not in text:
        return False
    return not word.isascii() or bool(re.search(rf"(?<![^\W\d_]){re.escape(word)}", text))


def main() -> int:
    """Run the tests of reading and print what uses what."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--unused", action="store_true", help="only what no test uses")
    asked = asked.parse_args()
    watch()
    some = sorted(str(path) for path in (ROOT / "tests").glob("test_logs*.py"))
    failed = pytest.main(["-q", "-p", "no:randomly", "-p", "no:cacheprovider", *some])
    rows = report()
    for where, what, test in rows:
        if not (asked.unused and test):
            print(f"{where}\t{what}\t{test or 'NO TEST'}")
    unused = sum(not test for _, _, test in rows)
    print(f"{len(rows)} patterns and words, {unused} of them used by no test")
    return int(bool(failed) or asked.unused and unused > 0)


if __name__ == "__main__":
    sys.exit(main())
