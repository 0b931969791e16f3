"""One condition of a decision: what was asked, and whether it stands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

IN_ORDER, NOT_YET, NOT_KNOWN = "nothing against it", "not yet", "not known"
YES, WITH_CARE, NO = "yes", "with care", "no"


@dataclass(frozen=True)
class Check:
    """One condition. `sentence` says what was found and what follows.

    `word` is one of the first three above where it is asked whether a painting may leave; "yes", "with care", "no" or
    "not known" where it is asked whether it may be lined. What was measured stands beside: `value` (the mean of the
    last 24 hours), `lowest` and `highest` of its hours, `plus_minus` of the logger, in `unit`; None: no figure.
    """

    what: str
    word: str
    sentence: str
    value: float | None = None
    lowest: float | None = None
    highest: float | None = None
    plus_minus: float | None = None
    unit: str = ""
    watched: bool = False  # nothing against leaving, but something is watched


def answer(checks: Iterable[Check]) -> str:
    """The word for all together: one that is open keeps it open, one that is not known leaves it not known.

    >>> answer([Check("a", IN_ORDER, ""), Check("b", NOT_KNOWN, "")])
    'not known'
    """
    return _worst(checks, (NOT_YET, NOT_KNOWN, IN_ORDER))


def may_be_lined(checks: Iterable[Check]) -> str:
    """The same for a lining: a "no" before what is not known, that before "with care".

    >>> may_be_lined([Check("a", YES, ""), Check("b", WITH_CARE, "")])
    'with care'
    """
    return _worst(checks, (NO, NOT_KNOWN, WITH_CARE, YES))


def _worst(checks: Iterable[Check], order: tuple[str, ...]) -> str:
    words = {check.word for check in checks}
    return next((word for word in order if word in words), NOT_KNOWN)


__all__ = ["IN_ORDER", "NO", "NOT_KNOWN", "NOT_YET", "WITH_CARE", "YES", "Check", "answer", "may_be_lined"]
