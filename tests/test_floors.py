"""The floors of the house: a room imports only what is below it, no file takes part in a circle, and a few things are
the business of one room."""

import ast
from functools import cache
from pathlib import Path

import grimp
from importlinter import cli

ROOT = Path(__file__).parent.parent
MAY_OPEN_FILES = {"logs", "figures", "archive", "cli"}
OPENS_FILES = {"open", "read_text", "read_bytes", "write_text", "write_bytes", "read_csv", "read_parquet"}
MODULES = sorted(ROOT.glob("envwatch/**/*.py"))


def room(path: Path) -> str:
    """The room that a file lives in."""
    return path.relative_to(ROOT / "envwatch").parts[0].removesuffix(".py")


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    return tuple(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))


def imports(path: Path) -> set[str]:
    """Dotted names of all modules imported anywhere in a file, inside functions too."""
    found: set[str] = set()
    for node in nodes(path):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import; write the module's name in full"
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def test_a_room_imports_only_what_is_below_it(capsys):
    held = cli.lint_imports(config_filename=str(ROOT / "pyproject.toml"), no_cache=True)
    assert held == cli.EXIT_STATUS_SUCCESS, capsys.readouterr().out


def test_no_file_takes_part_in_a_circle():
    graph = grimp.build_graph("envwatch", "dashboards", cache_dir=None)
    open_ = {name: set(graph.find_modules_directly_imported_by(name)) for name in graph.modules}
    while ends := [name for name, needs in open_.items() if not needs]:  # what needs nothing more is in no circle
        for name in ends:
            del open_[name]
        for needs in open_.values():
            needs.difference_update(ends)
    rest = set(open_)
    while tops := [name for name in rest if not any(name in open_[other] for other in rest)]:
        rest.difference_update(tops)  # what only leads to a circle
    assert not rest


def test_only_air_names_psychrolib():
    users = {room(path) for path in MODULES if any(name.split(".")[0] == "psychrolib" for name in imports(path))}
    assert users == {"air"}


def test_only_a_few_rooms_open_files():
    for path in MODULES:
        for node in nodes(path):
            if isinstance(node, ast.Call):
                name = getattr(node.func, "id", getattr(node.func, "attr", ""))
                assert name not in OPENS_FILES or room(path) in MAY_OPEN_FILES, f"{path} calls {name}"


def test_no_file_is_over_400_lines_and_no_function_over_50():
    files = [path for room in ("envwatch", "dashboards") for path in (ROOT / room).rglob("*.py")]
    functions = [(path, node) for path in files for node in nodes(path)
                 if isinstance(node, ast.FunctionDef)]  # fmt: skip
    assert [path.name for path in files if len(path.read_text(encoding="utf-8").splitlines()) > 400] == []
    assert [(path.name, node.name) for path, node in functions if node.end_lineno - node.lineno >= 50] == []
