"""One source of colours: no page, sheet or drawing names one of its own."""

import re
from pathlib import Path

import pytest

from envwatch.present import palette

ROOT = Path(__file__).parent.parent
COLOUR = re.compile(r"(?<![&\w])#(?:[0-9a-fA-F]{8}|[0-9a-fA-F]{6}|[0-9a-fA-F]{3})\b|\brgba?\(\s*\d|\bhsl\(")
SOURCES = sorted(
    path for kind in ("py", "css", "js") for folder in ("envwatch", "dashboards")
    for path in (ROOT / folder).rglob(f"*.{kind}") if path.name != "palette.py"
)  # fmt: skip


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_no_file_names_a_colour_of_its_own(path):
    assert not COLOUR.findall(path.read_text(encoding="utf-8"))


def test_a_colour_is_found_where_one_is():
    assert all(COLOUR.search(text) for text in ('"#24211d"', "background: #fff;", "rgba(1,2,3,0.5)"))


def test_fills_of_drawings_keep_their_lines_readable():
    """WCAG 2.2, criterion 1.4.11: 3 to 1 between a line and what it lies on."""
    assert all(palette.contrast(palette.LIGHT["ink"], fill) >= 3 for fill in palette.FILLS.values())
