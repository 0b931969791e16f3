"""Setting content in type. What people wrote reaches the page as data and is never read as markup."""

from __future__ import annotations

import json
import pkgutil
from pathlib import Path

import pandas as pd

from envwatch.core.errors import BadInput
from envwatch.present.palette import LIGHT
from envwatch.present.paper.limit_marks import marked
from envwatch.present.paper.wording import clean_all

PAPERS = {"a4": "a4", "letter": "us-letter", "us-letter": "us-letter"}

PIGMENTS = ("ink", "soft", "rule", "ochre", "madder", "indigo")


# Typst. `content` is the sheet as data; strings in it are set as they are.
def layout(name: str) -> str:
    """A page's typst, from the files in `layouts/`."""
    return (pkgutil.get_data(__package__, f"layouts/{name}.typ") or b"").decode("utf-8")


SETTING = layout("setting").replace("COLOURS", "\n".join(f'#let {name} = rgb("{LIGHT[name]}")' for name in PIGMENTS), 1)

# What the marks beside limits mean, once, at the end.
LEGEND = layout("legend")


def _fonts():
    """The faces that come with typst, and DejaVu's for scripts that those have no letters for."""
    import typst

    return typst.Fonts(include_system_fonts=False, font_paths=[str(Path(__file__).parent / "fonts")])


def printed(content: dict, layout: str, paper: str, at: pd.Timestamp) -> bytes:
    """Content and a layout for it as a PDF.

    Parameters
    ----------
    content : strings, numbers, lists and dicts; with `title` and `foot`, and `adoption`: what the studio says of
        envwatch's working limits, empty where nothing.
    layout : typst that sets `content`; it follows `SETTING`.
    paper : "a4", or "letter" (also "us-letter").
    at : when it was printed; the same content printed at the same time gives the same bytes.

    Raises
    ------
    BadInput : another paper.
    """
    import typst

    if paper not in PAPERS:
        raise BadInput(f'paper "{paper}": expected a4 or letter')
    return typst.compile(
        (SETTING + layout + LEGEND).encode(),
        sys_inputs={"content": json.dumps(clean_all(marked(content))), "paper": PAPERS[paper]},
        ignore_system_fonts=True,
        font_paths=_fonts(),
        timestamp=int(at.timestamp()),
    )
