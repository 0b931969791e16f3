"""Before a painting is lined: what was tried on it and written down, and whether it is lined already.

A trial is kept among the treatments (kinds `trial of water`, `trial of heat`, `trial of solvent`); its note says on
what it was tried and what it did. What counts as written down is our judgement.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pandas as pd

from envwatch.cases.lining.checks import NO, NOT_KNOWN, WITH_CARE, YES, Check
from envwatch.core.painting import TRIALS, Layer, Painting, Role, Treatment, Work
from envwatch.core.text import date
from envwatch.figures.materials import Materials, Profile

TRIED_ON = (Role.CANVAS, Role.GROUND, Role.PAINT)
NEGATED = re.compile(r"\b(?:no|not|never|nor|without)\b[^.;,]{0,25}")
HARMED = re.compile(
    r"\b(?:bloom|blanch|blister|soft|stain|tide|lift|flak|crack|sw[eo]ll|cup|dissolv|bled|bleed|yellow|moved|melt|stuck)"
)
HELD, SHRINKS = re.compile(r"\b(?:held|holds)\b"), re.compile(r"\bshr[aiu]nk")
LINED = (Role.FILM, Role.OLD_LINING, Role.IMPREGNATION, Role.LINING_CANVAS)


def trials(painting: Painting, now: pd.Timestamp, zone: str) -> Iterator[Check]:
    """Water, heat and solvent: whether each was tried on canvas, ground and paint, and held."""
    for what, kind in TRIALS.items():
        done = [t for t in painting.treatments if t.kind == kind and t.on <= now]
        yield _trial(what, kind, max(done, key=lambda t: t.on, default=None), zone)


def _trial(what: str, kind: str, done: Treatment | None, zone: str) -> Check:
    name = f"{what} tried"
    if done is None:
        return Check(name, NOT_KNOWN, f"No trial of {what} on this painting is on record. Try it on canvas, ground and "
                     f"paint, out of sight, and record a treatment “{kind}” whose note names all three and says "
                     "“held”, or what it did.")  # fmt: skip
    note = done.note.casefold()
    missing = [part for part in TRIED_ON if part not in note]
    told = f"{date(done.on, zone)}: “{done.note.strip() or 'no note'}”"
    if missing:
        return Check(name, NOT_KNOWN, f"{told}. It does not say how it went on {', '.join(missing)}.")
    plainly = NEGATED.sub("", note)
    if HELD.search(plainly) and not HARMED.search(plainly) and not SHRINKS.search(plainly):
        return Check(name, YES, f"{told}.")
    return Check(name, WITH_CARE, f"{told}. It does not say that all held: read it before you begin.")


def _shrinks(text: str) -> bool:
    return SHRINKS.search(NEGATED.sub("", text.casefold())) is not None


def shrinker(painting: Painting, now: pd.Timestamp) -> str:
    """Where the record says that its canvas shrinks; "" where it does not."""
    tried = [t.note for t in painting.treatments if t.kind in TRIALS.values() and t.on <= now]
    seen = [f"{o.sign} {o.note}" for o in painting.observations if o.on <= now]
    told = [painting.support, painting.ground, *seen, *tried]
    return next((text.strip() for text in told if _shrinks(text)), "")


def against_water(painting: Painting, known: Profile, now: pd.Timestamp) -> Iterator[Check]:
    """A shrinker takes no water, whatever the air."""
    told = shrinker(painting, now) if known.water_borne == "yes" else ""
    if told:
        yield Check("bears water", NO, f"Its canvas is on record as one that shrinks (“{told}”): nothing that brings "
                    "water, whatever the air (common practice).")  # fmt: skip


def lined(painting: Painting, materials: Materials) -> Check:
    """Whether it is lined already, and by what."""
    what = "no lining yet"
    if not painting.layers:
        return Check(what, NOT_KNOWN, "No layer of it is on record, so nor is whether it is lined.")
    held = [layer for layer in painting.layers if layer.role in LINED]
    lining = any(t.kind == Work.LINING for t in painting.treatments)
    if not held and not lining:
        return Check(what, YES, "No lining is on record.")
    named = [layer for layer in held if layer.role != Role.LINING_CANVAS]
    told = ", ".join(f"{layer.role} of {_name(layer, materials)}" for layer in held) or "a lining"
    if not named or any(_unknown(layer, materials) for layer in named):
        return Check(what, NOT_KNOWN, f"On record: {told}; by what it is lined is not known. Try a corner, and enter "
                     "the layer.")  # fmt: skip
    return Check(what, WITH_CARE, f"On record: {told}. Taken off first, or kept: then heat, water or solvent reach it "
                 "too, and its own limits stand.")  # fmt: skip


def on_wax(painting: Painting, known: Profile, materials: Materials) -> Iterator[Check]:
    """What holds badly on the wax that is in it."""
    waxed = [layer for layer in painting.layers if _family(layer, materials) == "wax"]
    if waxed and known.adheres_to_wax != "yes":
        word = NO if known.adheres_to_wax == "no" else WITH_CARE
        told = "holds badly on traces of it" if word == NO else "may hold badly on traces of it; make a peel trial"
        basis = known.adheres_to_wax.confidence.value if known.adheres_to_wax else ""
        wax = f"{waxed[0].role} of {_name(waxed[0], materials)}"
        yield Check("holds on its wax", word, f"{wax}: {known.short} {told} ({basis}).")


def _unknown(layer: Layer, materials: Materials) -> bool:
    known = materials.get(layer.material)
    return known is None or not known.adhesive


def _family(layer: Layer, materials: Materials) -> str:
    known = materials.get(layer.material)
    return "" if known is None else known.family


def _name(layer: Layer, materials: Materials) -> str:
    known = materials.get(layer.material)
    return (layer.material or "unknown") if known is None else known.short


__all__ = ["against_water", "lined", "on_wax", "shrinker", "trials"]
