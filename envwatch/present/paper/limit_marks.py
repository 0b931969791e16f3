"""Whose a limit is, on paper: a short mark beside each limit that envwatch set, told once at the end.

On the screen such a limit is "our judgement"; under a studio's own foot that would read as the studio's.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from envwatch import __version__
from envwatch.core.quantities import Confidence

MARK = "‡"
OURS = Confidence.OUR_JUDGEMENT.value
IN_BRACKETS = re.compile(rf" ?\((?:limit: |a limit of )?{OURS}\.?\)", re.IGNORECASE)
IN_WORDS = re.compile(rf"\b(?:limit: |a limit of )?{OURS}\b", re.IGNORECASE)
FROM_MEMORY = re.compile(rf"\b{Confidence.FROM_MEMORY.value}\b(?!, not checked)")
MEANING = "working limit of envwatch, version {version}; nobody has published one; {taken}."
ADOPTED = "adopted by the studio on {day}, because {why}"
NOT_SAID = "the studio has not yet said whether it adopts it"
NOT_CHECKED = f"{Confidence.FROM_MEMORY.value}, not checked against the text"


def marked(content: dict[str, Any]) -> dict[str, Any]:
    """The content of a sheet with its working limits marked, and the mark's meaning as `legend`; empty without any.

    A sheet in another language brings its own `legend`; it stands only where the mark does.

    >>> told = marked({"a": "73.5 % RH; limit 70 % RH (our judgement); 166 h", "adoption": ""})
    >>> told["a"], told["legend"].startswith("‡ working limit of envwatch, version ")
    ('73.5 % RH; limit 70 % RH‡; 166 h', True)
    """
    shown = _each({key: value for key, value in content.items() if key != "legend"})
    told = content.get("legend") or legend(content.get("adoption", ""))
    return shown | {"legend": told if MARK in str(shown) else ""}


def legend(adoption: str, say: Callable[[str], str] = str) -> str:
    """What the mark means. `adoption`: as `Studio.adoption` says it; `say` translates.

    >>> legend("on 2026-11-02, because it is so.").partition("one; ")[2]
    'adopted by the studio on 2026-11-02, because it is so.'
    """
    day, _, why = adoption.removeprefix("on ").partition(", because ")
    taken = say(ADOPTED).format(day=day, why=why) if adoption else say(NOT_SAID)
    return f"{MARK} {say(MEANING).format(version=__version__, taken=taken.rstrip('.'))}"


def _each(part: Any) -> Any:
    if isinstance(part, str):
        ours = IN_WORDS.sub(f"working limit{MARK}", IN_BRACKETS.sub(MARK, part))
        return FROM_MEMORY.sub(NOT_CHECKED, ours)
    if isinstance(part, dict):
        return {key: value if key == "svg" else _each(value) for key, value in part.items()}
    return [_each(item) for item in part] if isinstance(part, list | tuple) else part
