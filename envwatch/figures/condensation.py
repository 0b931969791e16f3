"""Figures of condensation: how slowly a painting warms, how near the dew point is near, bloom on fresh varnish."""

from envwatch.core.quantities import Confidence, Figure


def _judged(value: float, unit: str, note: str) -> Figure:
    return Figure(value, unit, "our-judgement", Confidence.OUR_JUDGEMENT, note)


OPEN_WARMS_H = _judged(
    0.3, "h", "time constant, open canvas on its stretcher: 2 to 3 kg/m² of cloth and paint 0.05 h, bars of 20 mm 0.3 h"
)
FRAMED_WARMS_H = _judged(1.5, "h", "framed with glass or a backing board, or not known; plausible 1 to 3 h")
CRATED_WARMS_H = _judged(8, "h", "in a lined crate; half-times up to 5 h are told of insulated cases, from memory")
GAP_FORGETS = _judged(3, "time constants", "after a longer gap the painting is taken to have come to the air")

NEAR_K = _judged(2, "K", "a surface within this of the dew point is near condensation: about 88 % RH at the surface")
WET_K = _judged(0, "K", "at the dew point water condenses")
PAINTING_WET_URGENT_H = _judged(1, "h", "water on a painting for this long, all spells together")
WALL_WET_URGENT_H = _judged(12, "h", "water on the wall behind for this long feeds mould and swells what touches it")

FRESH_VARNISH_DAYS = _judged(90, "d", "a varnish younger than this may bloom in damp air")
BLOOM_WATCH_RH = Figure(
    75,
    "% RH",
    "our-judgement",
    Confidence.OUR_JUDGEMENT,
    "24 h mean; the trade warns of varnishing and drying in damp air",
)
