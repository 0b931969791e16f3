"""How a hot or a damp painting is handled: the one text, for review, call, sheets, pages and the owner's paper."""

from __future__ import annotations

from collections.abc import Callable

from envwatch.figures.condensation import FRAMED_WARMS_H
from envwatch.figures.lining import COOL_AFTER_TIMES

COOL_H = round(float(COOL_AFTER_TIMES * FRAMED_WARMS_H))
# in this order: warm, a film is soft, and the weight of a picture that is lifted shears it
HOT = (
    "Heat off: shade it from the sun, turn radiator, stove or lamp off.",
    "Leave it hanging or lying as it is until it is cool, {hours} hours from then at least (our judgement): warm, what "
    "holds the lining may be soft and slip.",
    "Nobody lifts it alone.",
    "Then flat, face up.",
)
HOT_IN_SHORT = "Heat off; leave it to cool {hours} h; then two lift it, face up."  # the same order, on one line


def hot(say: Callable[[str], str] = str) -> tuple[str, ...]:
    """What is done about a hot lining, step by step, in order. `say` translates.

    The hours are four time constants of a framed picture with a backing: of 28 °C over the room 0.5 are left, and
    3.8 where it cools at half that speed. A heat-seal film is firm again within an hour of being cool.

    >>> hot()[2:]
    ('Nobody lifts it alone.', 'Then flat, face up.')
    """
    return tuple(say(step).format(hours=COOL_H) for step in HOT)


__all__ = ["COOL_H", "HOT", "HOT_IN_SHORT", "hot"]
