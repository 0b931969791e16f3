"""What is due after a treatment: weights off, restretching, keying, looks, the end of the first weeks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import pandas as pd

from envwatch.core.painting import Painting, Treatment, Work
from envwatch.figures.materials import Materials, Profile, first_weeks_ends, profiles, taken_as
from envwatch.figures.review import INSPECTION_DAYS

LOOKED_AFTER = ("lining", "strip-lining", "consolidation", "patch", "tear mend")  # whatever the material


@dataclass(frozen=True)
class CareStep:
    """One thing that falls due. `on`: UTC, from then on; `why`: where the day comes from; `done`: seen to on record."""

    painting_id: str
    treatment_id: str
    what: str
    on: pd.Timestamp
    why: str
    done: bool = False


def begins(treatment: Treatment, zone: str) -> pd.Timestamp:
    """From when its drying counts: of a bare day, from that day's end, for the hour is not known."""
    local = treatment.on.tz_convert(zone)
    bare = local == local.normalize()
    return (local.normalize() + pd.DateOffset(days=1)).tz_convert("UTC") if bare else treatment.on


def due_after(
    treatment: Treatment, zone: str, painting: Painting | None = None, materials: Materials | None = None
) -> tuple[CareStep, ...]:
    """What falls due after a treatment, in order of days.

    Parameters
    ----------
    zone : of the studio; a bare day of treatment counts to its end before anything is reckoned from it in hours.
    painting : for its number, and for the looks already recorded.
    materials : the profiles in force; by default the packaged ones.

    Returns
    -------
    Steps. Days by the hours of the materials file are for air of 20 °C and 50 % RH: `drying.owed` says what was
    really had. A treatment whose adhesive is not in the materials file has its looks alone; what binds nothing (a
    varnish, a humidity chamber) has none.

    >>> done = Treatment("t", "lining", pd.Timestamp("2026-03-02 10:00", tz="UTC"), "eva_film")
    >>> [(step.what.split(":")[0], str(step.on.date())) for step in due_after(done, "UTC")][:3]
    [('weights off', '2026-03-02'), ('look', '2026-03-03'), ('look', '2026-03-09')]
    """
    known = profiles(materials).get(treatment.material)
    bound = known is not None and known.adhesive
    if not bound and treatment.kind not in LOOKED_AFTER:
        return ()
    found = list(_looks(treatment, painting))
    if known is not None and bound:
        first = _first_weeks_end(treatment, known, painting, profiles(materials))
        found += _by_hours(treatment, known, zone, first, painting)
    return tuple(sorted(found, key=lambda step: (step.on, step.what)))


def _step(treatment: Treatment, painting: Painting | None, what: str, on: pd.Timestamp, why: str,
          done: bool = False) -> CareStep:  # fmt: skip
    return CareStep(painting.id if painting else "", treatment.id, what, on, why, done)


def _looked_at(painting: Painting, on: pd.Timestamp) -> bool:
    """Whether it was looked at from a day on: a photograph or what is said on the telephone does not do."""
    return any(seen.on >= on and not seen.look.from_afar for seen in painting.observations)


def _looks(treatment: Treatment, painting: Painting | None) -> Iterator[CareStep]:
    """Days 1, 7, 28 and 90, or the treatment's own."""
    own = treatment.inspection_days
    for days in own or INSPECTION_DAYS:
        on = treatment.on + pd.Timedelta(days=int(days))
        seen = painting is not None and _looked_at(painting, on)
        why = "the treatment's own days" if own else "our judgement"
        yield _step(treatment, painting, f"look: day {int(days)} after the {treatment.kind}", on, why, seen)


def _by_hours(
    treatment: Treatment, known: Profile, zone: str, first: pd.Timestamp, painting: Painting | None
) -> Iterator[CareStep]:
    begin = begins(treatment, zone)
    if known.handling_h is not None:
        why = f"{known.handling_h:g} h, {known.handling_h.confidence.value}"
        yield _step(treatment, painting, f"weights off: {known.short}", begin + _h(known.handling_h), why)
    if treatment.kind == Work.LINING and known.settled_h is not None:
        why = f"{known.settled_h:g} h, {known.settled_h.confidence.value}"
        yield _step(treatment, painting, f"restretch: {known.short} settled", begin + _h(known.settled_h), why)
    why = f"{(first - treatment.on).days} days, {known.first_weeks.days.confidence.value}"
    if treatment.kind == Work.LINING:
        yield _step(treatment, painting, "keying out: not before this day", first, why)
    yield _step(treatment, painting, f"first weeks end: {known.short}; watch until then: {known.first_weeks.watched}",
                first, why)  # fmt: skip


def _first_weeks_end(
    treatment: Treatment, known: Profile, painting: Painting | None, materials: Materials
) -> pd.Timestamp:
    """As the lining hazard has it for the layer that the treatment left; of a treatment alone, by its material."""
    layers = [] if painting is None else first_weeks_ends(painting, materials)
    ends = [end for layer, p, end in layers if p is known and layer.applied_on == treatment.on]
    return max(ends, default=treatment.on + pd.Timedelta(days=float(known.first_weeks.days)))


def _h(hours: float) -> pd.Timedelta:
    return pd.Timedelta(hours=float(hours))


def after_move(painting: Painting, materials: Materials | None = None) -> tuple[CareStep, ...]:
    """Looks after the last move for what it may bring out, where a material asks for them; no limit is tighter then.

    The days of the usual looks within the material's look-out: of wax-resin, for a belly, 7, 28 and 90 days.

    >>> from envwatch.records import Layer, Stay
    >>> wax = Layer("impregnation", "wax_resin")
    >>> here = Stay("a", pd.Timestamp("2025-01-01", tz="UTC"))
    >>> there = Stay("b", pd.Timestamp("2026-03-02", tz="UTC"))
    >>> [str(step.on.date()) for step in after_move(Painting("p", "Moor", layers=(wax,), stays=(here, there)))]
    ['2026-03-09', '2026-03-30', '2026-05-31']
    """
    moves = [after.start for before, after in pairwise(painting.stays) if before.place_id != after.place_id]
    kinds = {kind for layer in painting.layers for kind in taken_as(layer)}
    found, held = [], profiles(materials)
    for known in (held[kind] for kind in sorted(kinds & held.keys()) if moves):
        lookout = known.first_weeks.after_move_days if known.adhesive else None
        for days in INSPECTION_DAYS if lookout is not None else ():
            if 1 < days <= lookout:
                on = moves[-1] + pd.Timedelta(days=int(days))
                seen = _looked_at(painting, on)
                what = f"look: day {int(days)} after a move, for {known.first_weeks.watched}, which may recede"
                found.append(CareStep(painting.id, "", what, on, f"{known.short}; {lookout.confidence.value}", seen))
    return tuple(found)


def due(
    painting: Painting, zone: str, since: pd.Timestamp | None = None, materials: Materials | None = None
) -> tuple[CareStep, ...]:
    """What falls due after all treatments of a painting, from a moment on, and looks before it that nobody recorded."""
    steps = [step for t in painting.treatments for step in due_after(t, zone, painting, materials)]
    steps += after_move(painting, materials)
    kept = [s for s in steps if since is None or s.on >= since or (s.what.startswith("look") and not s.done)]
    return tuple(sorted(kept, key=lambda step: (step.on, step.what)))
