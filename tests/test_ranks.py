"""The structure: a module imports lower ranks only, and a few things are the business of one module."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
RANK = {
    "errors": 0, "figures": 0, "palette": 0,
    "air": 1, "intervals": 1, "materials": 1,
    "records": 2, "period": 2, "walls": 2, "heat": 2, "light": 2, "wall_facts": 3,
    "handling": 3, "drying_back": 3,
    "wording": 3, "logs": 3, "climate": 3, "thinning": 3, "retold": 3, "first_weeks": 3, "due": 4,
    "hazards": 4, "room": 4, "archive": 4,
    "verdict": 5,
    "track_record": 5, "leaving": 5, "review": 6, "course": 6, "dehumidifier": 6, "hanging": 6, "lining": 6,
    "why": 7, "dossier": 7, "handover": 7, "away": 7, "place_history": 7, "desk": 7, "logger_course": 7,
    "partitions": 7,
    "charts": 8, "sheets": 8, "terminal": 8, "plain": 8,
    "cli": 9,
    "__main__": 10,
}  # fmt: skip
MAY_OPEN_FILES = {"logs", "materials", "archive", "cli"}
OPENS_FILES = {"open", "read_text", "read_bytes", "write_text", "write_bytes", "read_csv", "read_parquet"}
MODULES = sorted(ROOT.glob("envwatch/**/*.py"))


def unit(path: Path) -> str:
    """The ranked unit a file belongs to: a module, or the folder it is in."""
    inside = path.relative_to(ROOT / "envwatch").parts
    return inside[0].removesuffix(".py")


def imports(path: Path) -> set[str]:
    """Dotted names of all modules imported anywhere in a file, inside functions too."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import; write the module's name in full"
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_a_module_imports_lower_ranks_only(path):
    own = unit(path)
    if own == "__init__":
        return
    assert own in RANK, f"{own} has no rank"
    for name in imports(path):
        if name.startswith("envwatch."):
            other = name.split(".")[1]
            if other in RANK and other != own:
                assert RANK[other] < RANK[own] or (RANK[other] == RANK[own] == 0), f"{own} imports {other}"


def test_only_verdict_imports_hazards():
    users = {unit(p) for p in MODULES if any(n.startswith("envwatch.hazards") for n in imports(p))}
    assert users <= {"hazards", "verdict"}


def test_only_air_names_psychrolib():
    users = {unit(p) for p in MODULES if any(n.split(".")[0] == "psychrolib" for n in imports(p))}
    assert users == {"air"}


def test_only_a_few_modules_open_files():
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                name = getattr(node.func, "id", getattr(node.func, "attr", ""))
                assert name not in OPENS_FILES or unit(path) in MAY_OPEN_FILES, f"{path} calls {name}"
