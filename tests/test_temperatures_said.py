"""A difference of temperatures is never told as a temperature: every sentence that says one in °C, said in °F.

The table beside this file says of each figure which it is; what it should be in °F is reckoned here from that alone
(NIST SP 811, 2008, appendix B.9: °F = 9/5 °C + 32, so a difference of 10 °C is one of 18 °F).
"""

import ast
import re
from pathlib import Path

import pytest

from envwatch.present.units import DisplayUnits

ROOT = Path(__file__).parent.parent
TABLE = ROOT / "tests" / "temperatures_said.txt"
NEVER_IN_F = ("envwatch/cli/", "envwatch/present/terminal/", "envwatch/present/paper/", "envwatch/present/units.py",
              "envwatch/present/ledger.py", "dashboards/units.py")  # fmt: skip
N = r"[−+-]?\d+(?:\.\d+)?"
SAID = re.compile(rf"(?P<figures>{N}(?:(?: to | to under |–| or | and | against ){N})*)?(?P<off> ?± {N})? "
                  r"(?P<unit>Δ?°C|K)(?!\w)|\{(?P<apart>Δ?)(?P<bare>[^}]+)\}")  # fmt: skip
HOLE, UNIT = "\0", "\1"


def examples() -> dict[str, list[str]]:
    """The lines of the table, by the file that makes them."""
    parts = re.split(r"^## (.+)\n", TABLE.read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]
    return {file: lines.splitlines() for file, lines in zip(parts[::2], parts[1::2], strict=True)}


LINES = [line for lines in examples().values() for line in lines if not line.startswith("= ")]


def in_f(figure: str, apart: bool) -> str:
    """One figure, to as many places as it had; a whole difference to one place where it needs it."""
    _, point, places = figure.partition(".")
    value = float(figure.replace("−", "-")) * 9 / 5 + (0 if apart else 32)
    told = f"{value:.{len(places)}f}" if point or not apart else f"{round(value, 1):g}"
    return ("+" if figure.startswith("+") else "") + told.replace("-", "−")


def retold(marked: str) -> str:
    def one(m: re.Match) -> str:
        if m["bare"]:
            return in_f(m["bare"], bool(m["apart"]))
        apart = m["unit"] != "°C"
        told = re.sub(N, lambda f: in_f(f[0], apart), m["figures"] or "")
        return told + re.sub(N, lambda f: in_f(f[0], True), m["off"] or "") + " °F"

    return SAID.sub(one, marked)


def plain(marked: str) -> str:
    return re.sub(r"[Δ{}]", "", marked)


@pytest.mark.parametrize("marked", LINES)
def test_each_figure_is_told_as_what_it_is(marked):
    assert DisplayUnits("F").words(plain(marked)) == retold(marked)
    assert DisplayUnits().words(plain(marked)) == plain(marked)


def templates(path: Path) -> set[tuple[str, ...]]:
    """Sentences of a file that say a figure with °C, K or a unit yet to come: what stands between their figures."""
    text = path.read_text(encoding="utf-8")
    if not MAY_SAY_ONE.search(text):
        return set()
    nodes, skipped = list(ast.walk(ast.parse(text))), set()
    for node in nodes:
        if isinstance(node, ast.Expr):  # a docstring
            skipped.add(node.value)
        elif isinstance(node, ast.JoinedStr):
            skipped |= {part for part in ast.walk(node) if part is not node}
        elif isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Figure":
            skipped.add(node.args[1])  # its unit
    found = set()
    for node in nodes:
        if node not in skipped and isinstance(node, ast.JoinedStr | ast.Constant):
            sentences = re.split(r"(?<=[.;:]) ", _template(node))
            found |= {tuple(re.split("[\0\1]", said)) for said in sentences if SAYS_ONE.search(said)}
    return found


MAY_SAY_ONE = re.compile(r"°C|[}\d] K\b|unit\b[^}]*\}")
SAYS_ONE = re.compile("[\0\\d]\\s?(?:°C(?![\\w²/·])|K(?![\\w²/·)]))|[\0\\d] \1|(?:°C,? from|\1 from|\1) [\0\\d−]")


def _template(node: ast.JoinedStr | ast.Constant) -> str:
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else ""
    return "".join(
        part.value if isinstance(part, ast.Constant) else UNIT if _name(part.value).endswith("unit") else HOLE
        for part in node.values
    )


def _name(value: ast.expr) -> str:
    return getattr(value, "attr", getattr(value, "id", ""))


def says(line: str, parts: tuple[str, ...]) -> bool:
    """Whether a line has the fixed parts of a template, one after the other."""
    at = 0
    for part in parts:
        at = line.find(part.strip(), at)
        if at < 0:
            return False
        at += len(part.strip())
    return True


def test_every_sentence_that_says_a_temperature_stands_in_the_table():
    table = {file: list(map(plain, lines)) for file, lines in examples().items()}
    missing = []
    for path in sorted([*ROOT.glob("envwatch/**/*.py"), *ROOT.glob("dashboards/**/*.py")]):
        file = path.relative_to(ROOT).as_posix()
        if file.startswith(NEVER_IN_F):
            continue
        left = table.setdefault(file, [])
        for parts in sorted(
            templates(path), key=lambda parts: (-len("".join(parts)), parts)
        ):  # each has a line of its own
            line = next((line for line in left if says(line, parts)), None)
            missing += [f"{file}: {'…'.join(parts)}"] if line is None else []
            left.remove(line) if line is not None else None
    assert missing == []


def test_no_file_in_the_table_is_gone():
    assert [file for file in examples() if not (ROOT / file).is_file()] == []
