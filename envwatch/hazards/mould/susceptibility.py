"""How sensitive a painting is to mould: as its most sensitive exposed part."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from envwatch.core.painting import Area, Layer, Observation, Painting, Role
from envwatch.figures.materials import Materials, profile
from envwatch.figures.mould import INDEX_PAST_MOULD, Sensitivity

MOST, NEXT = Sensitivity.VERY, Sensitivity.SENSITIVE
NAMED_FIRST = (
    Role.FILM, Role.OLD_LINING, Role.IMPREGNATION, Role.PATCH, Role.TEAR_MEND, Role.SIZE, Role.LINING_CANVAS,
    Role.CANVAS,
)  # fmt: skip


@dataclass(frozen=True)
class Susceptibility:
    """Sensitivity class in words, the layer it comes from, why, and where the index starts."""

    sensitivity: Sensitivity
    layer: str
    why: str
    start: float = 0.0


def susceptibility(painting: Painting | None, end: pd.Timestamp, materials: Materials | None = None) -> Susceptibility:
    """Class of the most sensitive exposed part; one class more sensitive where mould was seen before `end`.

    Never better than "sensitive": canvas edges, stretcher and dust stay exposed whatever film holds a lining. What is
    not known takes the worst plausible. No publication classes linings; the classes are those of the materials file.
    """
    if painting is None:
        return Susceptibility(MOST, "anything that hangs here", "no painting named: taken as the most sensitive")
    order = {role: place for place, role in enumerate(NAMED_FIRST)}
    layers = sorted(  # of equals, what feeds it most; then by name, so that the order of layers changes nothing
        painting.layers, key=lambda layer: (order.get(layer.role, len(order)), layer.material, layer.assumed)
    )
    parts = [_exposed(painting, layer, materials) for layer in layers]
    if not any(layer.role in (Role.CANVAS, Role.LINING_CANVAS) for layer in painting.layers):
        parts.append(Susceptibility(MOST, "canvas", "build-up not known: taken as a canvas sized with glue"))
    found = min(parts, key=_rank)
    past = [seen.on for seen in painting.observations if seen.on <= end and shows_mould(seen)]
    if not past:
        return found
    more = list(Sensitivity)[max(_rank(found) - 1, 0)]
    why = f"{found.why}; mould was seen on {min(past).day} {min(past):%b %Y}"
    return Susceptibility(more, found.layer, why, float(INDEX_PAST_MOULD))


def shows_mould(seen: Observation) -> bool:
    """An observation that mould was there (and does not deny it)."""
    return "mould" in seen.sign.lower() and not denies_mould(seen)


def denies_mould(seen: Observation) -> bool:
    """An observation that somebody looked and found none."""
    sign = seen.sign.lower()
    return "mould" in sign and (seen.confirms is False or "no mould" in sign)


def _rank(found: Susceptibility) -> int:
    return list(Sensitivity).index(found.sensitivity)


def _exposed(painting: Painting, layer: Layer, materials: Materials | None) -> Susceptibility:
    """Class of one layer as it lies in this painting."""
    known = profile(layer.material or "unknown", materials)
    name = f"{layer.role} ({known.short})"
    kind = min(Sensitivity(known.mould_class), NEXT, key=list(Sensitivity).index)
    why = f"{name} is {kind}" + (", assumed" if layer.assumed or known.id == "unknown" else "")
    if layer.role == Role.SIZE and _sealed_behind(painting, materials):
        return Susceptibility(NEXT, name, f"{name}, closed in by a lining film")
    return Susceptibility(kind, name, why)


def _sealed_behind(painting: Painting, materials: Materials | None) -> bool:
    """Whether a whole film that does not itself feed mould closes in what lies before it."""
    films = [layer for layer in painting.layers if layer.role == Role.FILM and layer.area == Area.WHOLE]
    kinds = [Sensitivity(profile(f.material or "unknown", materials).mould_class) for f in films]
    return bool(kinds) and MOST not in kinds
