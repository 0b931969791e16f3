"""One condition of a decision: what was asked, and whether it stands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

IN_ORDER, NOT_YET, NOT_KNOWN = "nothing against it", "not yet", "not known"


@dataclass(frozen=True)
class Check:
    """One condition. `word` is one of the three above; `sentence` says what was found and what follows."""

    what: str
    word: str
    sentence: str


def answer(checks: Iterable[Check]) -> str:
    """The word for all together: one that is open keeps it open, one that is not known leaves it not known.

    >>> answer([Check("a", IN_ORDER, ""), Check("b", NOT_KNOWN, "")])
    'not known'
    """
    words = {check.word for check in checks}
    return next((word for word in (NOT_YET, NOT_KNOWN) if word in words), IN_ORDER if words else NOT_KNOWN)
