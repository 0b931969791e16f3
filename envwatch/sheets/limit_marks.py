"""Whose a limit is, on paper: a short mark beside each limit that envwatch set, told once at the end.

On the screen such a limit is "our judgement"; under a studio's own foot that would read as the studio's.
"""

from __future__ import annotations

import re
from typing import Any

from envwatch import __version__
from envwatch.records import Confidence

MARK = "‡"
OURS = Confidence.OUR_JUDGEMENT.value
IN_BRACKETS = re.compile(rf" ?\((?:limit: |a limit of )?{OURS}\.?\)", re.IGNORECASE)
IN_WORDS = re.compile(rf"\b(?:limit: |a limit of )?{OURS}\b", re.IGNORECASE)
FROM_MEMORY = re.compile(rf"\b{Confidence.FROM_MEMORY.value}\b(?!, not checked)")
NOT_CHECKED = f"{Confidence.FROM_MEMORY.value}, not checked against the text"


def marked(content: dict[str, Any]) -> dict[str, Any]:
    """The content of a sheet with its working limits marked, and the mark's meaning as `legend`; empty without any.

    >>> told = marked({"a": "73.5 % RH; limit 70 % RH (our judgement); 166 h", "adoption": ""})
    >>> told["a"], told["legend"].startswith("‡ working limit of envwatch, version ")
    ('73.5 % RH; limit 70 % RH‡; 166 h', True)
    """
    shown = _each(content)
    return shown | {"legend": _legend(content.get("adoption", "")) if MARK in str(shown) else ""}


def _each(part: Any) -> Any:
    if isinstance(part, str):
        ours = IN_WORDS.sub(f"working limit{MARK}", IN_BRACKETS.sub(MARK, part))
        return FROM_MEMORY.sub(NOT_CHECKED, ours)
    if isinstance(part, dict):
        return {key: value if key == "svg" else _each(value) for key, value in part.items()}
    return [_each(item) for item in part] if isinstance(part, list | tuple) else part


def _legend(adoption: str) -> str:
    taken = f"adopted by the studio {adoption}" if adoption else "the studio has not yet said whether it adopts it"
    return f"{MARK} working limit of envwatch, version {__version__}; nobody has published one; {taken.rstrip('.')}."
