"""The surfaces that matter for one painting: the air at each as mould sees it, how sensitive it is, what is advised."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from envwatch import air
from envwatch.climate.drying_back import RULE
from envwatch.climate.exposure import WALL_FACE, WHERE, Exposure
from envwatch.core.arrays import Mask
from envwatch.core.findings import Certainty, Finding, Level
from envwatch.core.painting import Area, Layer, Observation, Painting, Role
from envwatch.core.place import Sensor
from envwatch.figures.canvas import LOOK_WITHIN_DAYS
from envwatch.figures.coverage import CLEAR_NEEDS
from envwatch.figures.materials import Materials, profile
from envwatch.figures.mould import DAMP_CLOCK, INDEX_PAST_MOULD, WALL_SENSITIVITY, Sensitivity
from envwatch.hazards.hourly import HOUR, HourlyExposure, reckoned_u_k

LOOKS_BACK = pd.Timedelta(hours=int(max(rung.within or rung.hours for rung in DAMP_CLOCK)))  # the longest window
MOST, NEXT = Sensitivity.VERY, Sensitivity.SENSITIVE
ORDER = list(Sensitivity)  # the most sensitive first
NAMED_FIRST = (
    Role.FILM, Role.OLD_LINING, Role.IMPREGNATION, Role.PATCH, Role.TEAR_MEND, Role.SIZE, Role.LINING_CANVAS,
    Role.CANVAS,
)  # fmt: skip
CAUTION = (
    "Mould is an allergen and an irritant, dead spores too: people with asthma or allergies stay away; look with a "
    "mask (FFP2 or FFP3) and gloves; no fan, no dry brushing in the open, no bleach on a painting. Bag or box what "
    "shows growth once it is dry; over 0.3 m² or where it may be toxic, call a specialist. No medical advice."
)
LOOK_FOR = (
    "Torch in raking light, front and back: fuzzy or dusty spots, stars on dark passages; a musty smell; the reverse, "
    "behind the stretcher bars, cracks in the paint, the wall behind."
)
AVOID = "Do not key out, do not lift or brush what is loose or grows, no fan and no warm or cold air on it."
FETCH = "Fetch the logger, or hang one where the painting is."
ADVICE = {
    Level.WATCH: f"Bring the air under 65 %, {RULE}; look once, with the torch, at the reverse as well.",
    Level.ACT: f"Bring the air under 65 %, {RULE}, or move it to air only a step drier, away from outer walls; look "
    "this week.",
    Level.URGENT: "Look now, before anyone handles it; part it from the others, not wrapped damp, in air only a step "
    f"drier; from there under 65 %, {RULE}.",
}


@dataclass(frozen=True)
class Susceptibility:
    """Sensitivity class in words, the layer it comes from, why, and where the index starts."""

    sensitivity: Sensitivity
    layer: str
    why: str
    start: float = 0.0


@dataclass(frozen=True, eq=False)
class Surface(HourlyExposure):
    """Hourly air at one surface up to the end of the period, history included, and what is there for mould to grow on.

    Attributes
    ----------
    weak : the most sensitive part of the painting.
    where : the point in words.
    layer, on_layer : what a finding here is about, and the same in a sentence that has named the surface already.
    sensitivity : the class here: the painting's own, or that of a papered or painted wall.
    most : the most that damp hours ask for: urgent is for what feeds mould most.
    read, in_stay : (n,) hours in which both were read; that begin in an intended stay, which raises no alarm.
    first : the row at which the judged hours begin.
    sensor : the trust in the loggers that read what a window of the period looks back on.
    reckoned_u_percent : what humidity may be off by at a face whose temperature is reckoned. [% RH]
    whole : the same with the hours after the period, for the windows that end there; None of that itself.
    """

    weak: Susceptibility
    where: str
    layer: str
    on_layer: str
    sensitivity: Sensitivity
    most: Level
    read: Mask
    in_stay: Mask
    first: int
    sensor: Sensor
    reckoned_u_percent: float = 0.0
    whole: Any = None  # a Surface

    def bias_percent(self, sensor: Sensor) -> float:
        """What all readings may be off by together: the sensor, and the reckoning of a face."""
        return float(np.hypot(sensor.rh_bias_percent, self.reckoned_u_percent))

    def partly_read(self, what: str) -> str:
        """Why a finding of too little air is not clear."""
        share = self.period.coverage
        return f"Only {share:.0%} of the period was read {self.where}: {what} cannot be called clear."


def surfaces(exposure: Exposure, start: pd.Timestamp, weak: Susceptibility) -> list[Surface]:
    """The surfaces of which anything was read in the judged period or before it, room first."""
    found = []
    for point, there in exposure.points.items():
        hours, wall = HourlyExposure.at(exposure, start, point, there), point == WALL_FACE
        rows, read = hours.judged_rows(1), np.isfinite(hours.temp_c) & np.isfinite(hours.rh_percent)
        if not read[: rows.stop].any():
            continue
        whole = Surface.at(
            exposure, start, point, there, weak=weak, where=WHERE[point],
            layer="wall behind the picture" if wall else weak.layer,
            on_layer="there" if wall else f"on the {weak.layer}",
            sensitivity=WALL_SENSITIVITY if wall else weak.sensitivity,
            most=Level.URGENT if weak.sensitivity == MOST and not wall else Level.ACT,
            read=read, in_stay=exposure.intended_mask(hours.time), first=rows.start,
            sensor=there.sensor_over(start - LOOKS_BACK, there.end),
        )  # fmt: skip
        names = ("time", "temp_c", "rh_percent", "read", "in_stay")
        kept = {name: getattr(whole, name)[: rows.stop] for name in names}
        off = np.zeros(1)
        if unsure_k := reckoned_u_k(point, there):
            off = air.rh_at(kept["temp_c"], kept["rh_percent"], kept["temp_c"] - unsure_k) - kept["rh_percent"]
        off_percent = float(np.median(off[np.isfinite(off)])) if np.isfinite(off).any() else 0.0
        surface = replace(whole, **kept, end=kept["time"][-1] + HOUR, reckoned_u_percent=off_percent, whole=whole)
        found.append(surface)
    return found


def worst_of(seen: list[Surface], judge: Callable[[Surface], Finding]) -> Finding:
    """The worst finding over the surfaces; the others go under `why`.

    By level; at the same level the painting's own surfaces before the wall behind it, those seen in the period before
    those known from their history alone, then the nearest to its limit.
    """
    found = [judge(surface) for surface in seen]
    ranks = [
        (
            each.level, each.point != WALL_FACE, each.coverage >= CLEAR_NEEDS,
            float(np.nan_to_num(each.value / each.limit if each.limit else each.value)),
        ) for each in found
    ]  # fmt: skip
    at = ranks.index(max(ranks))
    worst, marked = found[at], seen[at].period.suspect
    if len(marked) and marked.mean() > 0.5:
        worst = replace(
            worst, certainty=Certainty.CANNOT_TELL, sentence=f"{worst.sentence} Most readings are doubtful."
        )
    other = max((f for f in found if f.level_high is not None), key=lambda f: int(f.level_high or 0), default=worst)
    if (other.level_high or worst.level) > max(worst.level, worst.level_high or worst.level):
        word = (other.level_high or worst.level).word
        worst = replace(
            worst, certainty=Certainty.CANNOT_TELL, level_high=other.level_high,
            sentence=f"{worst.sentence.removesuffix('.')}; {WHERE[other.point]} it may be {word}.",
        )  # fmt: skip
    looked = "; ".join(f"{f.point.replace('_', ' ')} {f.value:.2f} {f.unit}: {f.level.word}" for f in found)
    return replace(worst, working=(*worst.working, ("looked at", looked)))


def run_start(passed: Mask, at: int) -> int:
    """First row of the unbroken run of true values that ends at row `at` or later."""
    broken = np.flatnonzero(~passed[: at + 1])
    return int(broken[-1]) + 1 if len(broken) else 0


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
    found = min(parts, key=lambda part: ORDER.index(part.sensitivity))
    past = [
        seen.on for seen in painting.observations
        if seen.on <= end and "mould" in seen.sign.lower() and not denies_mould(seen)
    ]  # fmt: skip
    if not past:
        return found
    more = ORDER[max(ORDER.index(found.sensitivity) - 1, 0)]
    why = f"{found.why}; mould was seen on {min(past).day} {min(past):%b %Y}"
    return Susceptibility(more, found.layer, why, float(INDEX_PAST_MOULD))


def denies_mould(seen: Observation) -> bool:
    """An observation that somebody looked and found none."""
    sign = seen.sign.lower()
    return "mould" in sign and (seen.confirms is False or "no mould" in sign)


def _exposed(painting: Painting, layer: Layer, materials: Materials | None) -> Susceptibility:
    """Class of one layer as it lies in this painting."""
    known = profile(layer.material or "unknown", materials)
    name = f"{layer.role} ({known.short})"
    kind = min(Sensitivity(known.mould_class), NEXT, key=ORDER.index)
    why = f"{name} is {kind}" + (", assumed" if layer.assumed or known.id == "unknown" else "")
    # a whole film that does not itself feed mould closes in what lies before it
    films = [film for film in painting.layers if film.role == Role.FILM and film.area == Area.WHOLE]
    classes = [Sensitivity(profile(film.material or "unknown", materials).mould_class) for film in films]
    if layer.role == Role.SIZE and films and MOST not in classes:
        return Susceptibility(NEXT, name, f"{name}, closed in by a lining film")
    return Susceptibility(kind, name, why)


def raised(level: Level, end: pd.Timestamp, clears: str) -> dict[str, Any]:
    """The fields of a mould finding that asks for something; nothing for one that does not."""
    if level < Level.WATCH:
        return {}
    by = end + pd.Timedelta(days=float(LOOK_WITHIN_DAYS[int(level)]))
    return {
        "look_for": LOOK_FOR, "do": ADVICE[level], "avoid": AVOID, "by": by, "clears": clears, "caution": CAUTION,
    }  # fmt: skip
