"""What is known of one material. Every value carries its unit, its source and how far to trust it.

And what that makes of the layers of a painting: as what one of unknown material is judged, until when first weeks hold.
"""

from __future__ import annotations

import pickle
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from hashlib import blake2b
from typing import Any

import pandas as pd

from envwatch.core.dates import utc
from envwatch.core.painting import Layer, Painting, Role
from envwatch.figures import Confidence, Figure
from envwatch.figures import lining as fig
from envwatch.figures.canvas import DRY_LINED_RH, OIL_COLD_WATCH_C
from envwatch.figures.mould import WEEK_MEAN_WATCH

UNKNOWN = ("", "unknown")
# a layer whose material is not known is judged as each of these, and the worse counts
TAKEN_AS = {
    Role.SIZE: ("animal_glue",), Role.CONSOLIDANT: ("animal_glue",),
    Role.FILM: ("glue_paste", "wax_resin"), Role.OLD_LINING: ("glue_paste", "wax_resin"),
    Role.IMPREGNATION: ("glue_paste", "wax_resin"), Role.STRIP_LINING: ("glue_paste", "wax_resin"),
    Role.PATCH: ("glue_paste", "wax_resin", "pvac_disp"), Role.TEAR_MEND: ("glue_paste", "wax_resin", "pvac_disp"),
}  # fmt: skip
LININGS = (Role.FILM, Role.OLD_LINING, Role.STRIP_LINING)
OVERLYING = (Role.FILM, Role.OLD_LINING, Role.IMPREGNATION)
DAY = pd.Timedelta(days=1)
OF_ADHESIVES: Any = None  # only where `kind` is not "adhesive": reading refuses an adhesive without its limits


class Words(str):
    """A statement in words that knows its source and confidence, as a `Figure` does. Behaves as a plain string."""

    unit: str
    source: str
    confidence: Confidence
    note: str

    def __new__(cls, value: str, unit: str, source: str, confidence: Confidence, note: str = "") -> Words:
        self = super().__new__(cls, value)
        self.unit, self.source, self.confidence, self.note = unit, source, confidence, note
        return self

    def __getnewargs__(self) -> tuple[Any, ...]:  # so that it survives copying and pickling
        return str(self), self.unit, self.source, self.confidence, self.note


@dataclass(frozen=True)
class Limits:
    """From where to watch, to act, and to act today; a step that the material does not have is None."""

    watch: Figure
    act: Figure | None = None
    urgent: Figure | None = None


@dataclass(frozen=True)
class FirstWeeks:
    """The period after treatment in which stricter limits hold, and what is watched in it."""

    days: Figure
    cooler_c: Figure  # all heat limits are lower by so much
    damp_watch_percent: Figure
    swing_watch_percent: Figure
    watched: Words
    after_move_days: Figure | None = None  # so long after any move it is looked for what is watched; limits stay
    lingers_days: Figure | None = None  # solvent may still be leaving: said, without a limit of its own


@dataclass(frozen=True)
class Working:
    """The air of the room in which it is laid on and dried; the note of a "no" says what happens there.

    Attributes
    ----------
    yes_* : from low to high nothing is against it, unless its first weeks are watched there.
    no_*, canvas_no_* : not under, not over; of the room's air, and of the canvas's own humidity. None: no such edge.
    film_forming_margin_c : of a dispersion, over the film-forming temperature of its label; under that, no.
    hold_h : for how long the air must stay so; attended_h : how long somebody must be there to change what is on it.
    """

    yes_low_c: Figure
    yes_high_c: Figure
    yes_high_percent: Figure
    hold_h: Figure
    yes_low_percent: Figure | None = None
    no_under_c: Figure | None = None
    no_over_c: Figure | None = None
    no_under_percent: Figure | None = None
    no_over_percent: Figure | None = None
    canvas_no_under_percent: Figure | None = None
    canvas_no_over_percent: Figure | None = None
    film_forming_margin_c: Figure | None = None
    attended_h: Figure | None = None


@dataclass(frozen=True)
class Profile:
    """One material. `kind` is "adhesive" for whatever binds a layer; only those have limits.

    Attributes
    ----------
    label, short : plain words, with and without the chemistry.
    handling_h, settled_h : hours at 20 °C and 50 % RH until it may be handled (weights off), and until it is settled.
    softening_c : onset of softening, well below the heat at which the bond is made; None where heat only dries.
    water_softening : "none", "gelatine" or "starch": what softens in damp.
    heat_hour_c, heat_day_c, heat_month_c : limits of the hourly, 24-hour and 30-day mean temperature.
    damp_percent, dry_percent : limits of the 24-hour mean of the lagged humidity, from above and from below.
    cold_c : limits of the hourly mean, from above; swing_percent : of largest less smallest in 24 hours.
    working : the air in which it may be worked; None: not known.
    signs : what to look for, by mechanism: heat, damp, dry, cold, swing.
    overruled : what a studio changed or added, with its reason; every sheet says so.
    """

    id: str
    label: str
    short: str
    family: str
    kind: str
    form: str
    roles: tuple[str, ...]
    mould_class: Words
    insect_food: Words
    softening_c: Figure | None = None
    activation_low_c: Figure | None = None
    activation_high_c: Figure | None = None
    transition_c: Figure | None = None
    peel_low_n_per_m: Figure | None = None
    handling_h: Figure | None = None
    settled_h: Figure | None = None
    water_softening: Words | None = None
    adheres_to_wax: Words | None = None
    water_borne: Words | None = None
    stiff: Words | None = None
    strength: Words | None = None
    removal: Words | None = None
    ageing: Words | None = None
    heat_hour_c: Limits = OF_ADHESIVES
    heat_day_c: Limits = OF_ADHESIVES
    heat_month_c: Limits = OF_ADHESIVES
    damp_percent: Limits = OF_ADHESIVES
    dry_percent: Limits = OF_ADHESIVES
    cold_c: Limits = OF_ADHESIVES
    swing_percent: Limits = OF_ADHESIVES
    first_weeks: FirstWeeks = OF_ADHESIVES
    working: Working | None = None
    signs: tuple[tuple[str, Words], ...] = ()
    overruled: tuple[str, ...] = ()

    @cached_property
    def digest(self) -> str:
        """One key for all that it holds: profiles of equal figures may have other words and sources."""
        return blake2b(pickle.dumps(self), digest_size=16).hexdigest()

    @property
    def adhesive(self) -> bool:
        """Whether it binds a layer, and so has limits."""
        return self.kind == "adhesive"

    def sign(self, mechanism: str) -> str:
        """What to look for, by mechanism; "" where the file says nothing."""
        return next((str(words) for name, words in self.signs if name == mechanism), "")


Materials = Mapping[str, Profile]


def taken_as(layer: Layer) -> tuple[str, ...]:
    """The materials a layer is judged as: its own, or what may be there where it is not known."""
    return TAKEN_AS.get(layer.role, ()) if layer.material in UNKNOWN else (layer.material,)


def first_weeks_length(painting: Painting, layer: Layer, known: Profile, materials: Materials) -> pd.Timedelta:
    """How long the stricter limits hold for a layer after it was put on.

    Water-borne work under a film or wax dries slowly: its first weeks are longer.
    """
    over = [o for o in painting.layers if o is not layer and o.role in OVERLYING and o.material not in UNKNOWN]
    tight = [o for o in over if o.material in materials and materials[o.material].water_borne == "no"]
    slow = known.water_borne == "yes" and layer.role not in LININGS and tight
    return (float(fig.FRESH_UNDER_FILM_TIMES) if slow else 1.0) * float(known.first_weeks.days) * DAY


def first_weeks_ends(painting: Painting, materials: Materials) -> list[tuple[Layer, Profile, pd.Timestamp]]:
    """Until when the stricter limits hold for each dated layer that holds something, in the order of the layers.

    >>> from envwatch.figures.materials import profiles
    >>> laid = Layer("film", "eva_film", "whole", pd.Timestamp("2026-03-02", tz="UTC"))
    >>> [str(end.date()) for _, _, end in first_weeks_ends(Painting("p", "Moor", layers=(laid,)), profiles())]
    ['2026-03-16']
    """
    found = []
    for layer in painting.layers:
        for kind in taken_as(layer):
            known, born = materials.get(kind), utc(layer.applied_on)
            if known is not None and known.adhesive and born is not None:
                found.append((layer, known, born + first_weeks_length(painting, layer, known, materials)))
    return found


def comfort(painting: Painting, materials: Materials) -> tuple[tuple[Figure, Figure], tuple[Figure, Figure]]:
    """Humidity and temperature between which nothing of it asks to be watched: its layers, its paint, mould."""
    known = [materials.get(layer.material) for layer in painting.layers]
    bound = [profile for profile in known if profile is not None and profile.adhesive]
    bound = bound or [profile for name, profile in materials.items() if name in ("glue_paste", "wax_resin")]
    dry = max(DRY_LINED_RH, *(p.dry_percent.watch for p in bound))
    damp = min(WEEK_MEAN_WATCH, *(p.damp_percent.watch for p in bound))
    cold = max(OIL_COLD_WATCH_C, *(p.cold_c.watch for p in bound))
    return (dry, damp), (cold, min(p.heat_day_c.watch for p in bound))
