"""How fast a canvas follows the air: time constants of first order, by build-up.

No measured half-times of backed or framed canvases were readable; these are from the conductances of
each build-up and the moisture the canvas holds, and carry a wide range.
"""

from envwatch.core.quantities import Confidence, Figure


def _tau(hours: float, note: str) -> Figure:
    return Figure(hours, "h", "our-judgement", Confidence.OUR_JUDGEMENT, note)


UNLINED_H = _tau(1, "unlined, open back; plausible 0.25 to 3 h")
PASTE_LINED_H = _tau(6, "lined with paste or glue, open back; plausible 2 to 24 h")
FILM_LINED_H = _tau(24, "lined with a film, open back; plausible 6 to 72 h")
WAX_LINED_H = _tau(30, "wax-resin; from a published 12-hour figure, CC-19 in adhesives")
BOARD_H = _tau(36, "backing board, unglazed; plausible 12 to 96 h")
GLAZED_BOARD_H = _tau(120, "glazed and backed in an ordinary frame; plausible 1 to 15 d")
WRAPPED_H = _tau(240, "wrapped or in a closed crate; leaks dominate")
