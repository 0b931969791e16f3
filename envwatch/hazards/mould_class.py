"""How sensitive a painting is to mould: as its most sensitive exposed part."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from envwatch.figures.mould import CLASSES, INDEX_PAST_MOULD
from envwatch.records import Layer, Observation, Painting

GLUES = frozenset({"glue_paste", "starch", "animal_glue", "fish_glue"})
UNKNOWN = frozenset({"", "unknown"})
MATT = ("tempera", "distemper", "glue paint", "gouache")
ADHESIVE_ROLES = frozenset({"film", "old lining", "impregnation", "consolidant", "patch", "tear mend", "strip-lining"})
MOST, NEXT = "very sensitive", "sensitive"


@dataclass(frozen=True)
class Susceptibility:
    """Sensitivity class in words, the layer it comes from, why, and where the index starts."""

    sensitivity: str
    layer: str
    why: str
    start: float = 0.0


def susceptibility(painting: Painting | None, end: pd.Timestamp) -> Susceptibility:
    """Class of the most sensitive exposed part; one class more sensitive where mould was seen before `end`.

    Never better than "sensitive": canvas, stretcher and dust stay exposed whatever film holds a lining. What is not
    known takes the worst plausible. No publication classes linings; this is our judgement, from what feeds mould.
    """
    if painting is None:
        return Susceptibility(MOST, "anything that hangs here", "no painting named: taken as the most sensitive")
    found = min((_exposed(painting, layer) for layer in painting.layers), key=_rank, default=None)
    if found is None or not any(layer.role in ("canvas", "lining canvas") for layer in painting.layers):
        found = min(
            filter(None, (found, Susceptibility(MOST, "canvas", "build-up not known: taken as glue-sized"))), key=_rank
        )
    past = [seen for seen in painting.observations if seen.on <= end and shows_mould(seen)]
    if past:
        first = min(seen.on for seen in past)
        more = list(CLASSES)[max(_rank(found) - 1, 0)]
        return Susceptibility(
            more, found.layer, f"{found.why}; mould was seen on {first.day} {first:%b %Y}", float(INDEX_PAST_MOULD)
        )
    return found


def shows_mould(seen: Observation) -> bool:
    """An observation that mould was there (and does not deny it)."""
    return "mould" in seen.sign.lower() and not denies_mould(seen)


def denies_mould(seen: Observation) -> bool:
    """An observation that somebody looked and found none."""
    sign = seen.sign.lower()
    return "mould" in sign and (seen.confirms is False or "no mould" in sign)


def _rank(found: Susceptibility) -> int:
    return list(CLASSES).index(found.sensitivity)


def _exposed(painting: Painting, layer: Layer) -> Susceptibility:
    """Class of one layer as it lies in this painting."""
    name = f"{layer.role} ({layer.material.replace('_', ' ') or 'unknown'})"
    assumed = ", assumed" if layer.assumed else ""
    if layer.role == "size" and _sealed_behind(painting):
        return Susceptibility(NEXT, name, f"{name}, closed in by a synthetic film{assumed}")
    if layer.material in GLUES:
        return Susceptibility(MOST, name, f"{name} feeds mould{assumed}")
    if layer.role in ADHESIVE_ROLES | {"size"} and layer.material in UNKNOWN:
        return Susceptibility(MOST, name, f"{layer.role} of unknown material: taken as a glue")
    if layer.role in ("paint", "ground") and any(word in layer.material.lower() for word in MATT):
        return Susceptibility(MOST, name, f"{name} is matt and bound in what feeds mould")
    if layer.role == "canvas" and not any(other.role in ("size", "film", "impregnation") for other in painting.layers):
        return Susceptibility(MOST, name, "canvas with no size named: taken as glue-sized")
    return Susceptibility(NEXT, name, f"{name}, with canvas, stretcher and dust exposed{assumed}")


def _sealed_behind(painting: Painting) -> bool:
    films = [layer.material for layer in painting.layers if layer.role == "film" and layer.area == "whole"]
    return bool(films) and not any(material in GLUES | UNKNOWN for material in films)
