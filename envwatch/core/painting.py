"""A painting, what it is made of, what was done to it, and where it has stood."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import pandas as pd

from envwatch.core.place import Placement
from envwatch.core.text import fold
from envwatch.core.words import Word


class CareStatus(Word):
    """Where a painting is in its care."""

    IN_STUDIO = "in studio"
    IN_STORE = "in store"
    ON_LOAN = "on loan"
    FIRST_YEAR = "at home in its first year"
    CLOSED = "closed"


class Role(Word):
    """What a layer is, from the face to the back."""

    VARNISH, PAINT, GROUND, CONSOLIDANT, SIZE, CANVAS = "varnish", "paint", "ground", "consolidant", "size", "canvas"
    INSERT, TEAR_MEND, PATCH, OLD_LINING = "insert", "tear mend", "patch", "old lining"
    IMPREGNATION, FILM, INTERLEAF, LINING_CANVAS = "impregnation", "film", "interleaf", "lining canvas"
    STRIP_LINING, STRETCHER, BOARD = "strip-lining", "stretcher", "board"


class Area(Word):
    """How much of the painting a layer takes."""

    WHOLE, LOCAL, EDGE = "whole", "local", "edge"


class Margins(Word):
    """The tacking margins."""

    INTACT, TRIMMED, STRIP_LINED, UNKNOWN = "intact", "trimmed", "strip-lined", "unknown"


ROLES, AREAS = tuple(role.value for role in Role), tuple(area.value for area in Area)


class Work(Word):
    """Kinds of treatment that mean something here, others are free text. All but a lining leave the painting alone."""

    LINING = "lining"
    CORRECTION = "correction"  # where the record was corrected
    HANDOVER, CALL = "handover", "call"
    TRIAL_OF_WATER, TRIAL_OF_HEAT, TRIAL_OF_SOLVENT = "trial of water", "trial of heat", "trial of solvent"


CORRECTION, HANDOVER, CALL = Work.CORRECTION, Work.HANDOVER, Work.CALL
TRIALS = {"water": Work.TRIAL_OF_WATER, "heat": Work.TRIAL_OF_HEAT, "solvent": Work.TRIAL_OF_SOLVENT}  # before a lining
NO_WORK = tuple(kind for kind in Work if kind != Work.LINING)  # kept among the treatments; nothing done to the painting


PUTS_ON = {
    "lining": Role.FILM, "relining": Role.FILM, "strip-lining": Role.STRIP_LINING, "consolidation": Role.CONSOLIDANT,
    "patch": Role.PATCH, "tear mend": Role.TEAR_MEND, "impregnation": Role.IMPREGNATION, "insert": Role.INSERT,
    "varnish": Role.VARNISH, "varnishing": Role.VARNISH,
}  # fmt: skip
AREA = {
    Role.PATCH: Area.LOCAL, Role.TEAR_MEND: Area.LOCAL, Role.INSERT: Area.LOCAL, Role.STRIP_LINING: Area.EDGE,
}  # fmt: skip


def role_of(kind: str) -> Role | None:
    """The role of the layer that a kind of treatment leaves behind; None where it leaves none.

    >>> role_of("Lining"), role_of("humidity chamber")
    ('film', None)
    """
    return PUTS_ON.get(kind.strip().casefold())


def kind_of(kind: str) -> str:
    """A kind of treatment as it is judged: those that leave a layer behind in small letters, a relining as a lining.

    >>> kind_of("Relining"), kind_of("Humidity chamber")
    ('lining', 'Humidity chamber')
    """
    role = role_of(kind)
    return Work.LINING.value if role == Role.FILM else kind.strip().casefold() if role else kind


def area_of(role: Role) -> Area:
    """How much of the painting a layer of this role takes, if nothing else is said."""
    return AREA.get(role, Area.WHOLE)


@dataclass(frozen=True)
class Layer:
    """One layer of a painting's build-up. `material` is a key of the materials file, or "unknown"."""

    role: Role
    material: str
    area: Area = Area.WHOLE
    applied_on: pd.Timestamp | None = None  # None: old, or date unknown
    assumed: bool = False
    note: str = ""
    year_only: bool = False  # of `applied_on` only the year is known


@dataclass(frozen=True)
class Treatment:
    """What was done, in the trade's own fields; free text where the trade writes free text.

    Empty, and None for a figure, is not known. `temps_interface_c` are the temperatures measured at the interface (or
    the paint surface) at several points; `temp_interface_c` the one figure where only one is known.
    """

    id: str
    kind: str  # lining, consolidation, patch, tear mend, humidity chamber, varnish, ...
    on: pd.Timestamp
    material: str = ""
    intended_end: pd.Timestamp | None = None
    temp_interface_c: float | None = None
    note: str = ""
    layer: str = ""  # which layer it was done to, or made
    family: str = ""  # generic family, where the material alone does not say it
    form: str = ""  # film, solution, dispersion, paste, powder, ...
    batch: str = ""
    carrier: str = ""  # solvent or water
    solids_percent: float | None = None
    bloom: float | None = None
    thickness_um: float | None = None
    coats: int | None = None
    amount_g_m2: float | None = None
    side: str = ""
    cloth: str = ""
    temps_interface_c: tuple[float, ...] = ()
    heating_min: float | None = None
    hold_min: float | None = None
    cooling_min: float | None = None
    pressure_mbar: float | None = None
    weight_g_cm2: float | None = None  # laid on while it set
    drying_h: float | None = None
    peel_trial: str = ""  # N/m, or in a word
    strip_kept: bool | None = None  # the test strip
    studio_temp_c: float | None = None
    studio_rh_percent: float | None = None
    weight_after_kg: float | None = None
    inspection_days: tuple[int, ...] = ()  # after the treatment; none: the usual ones
    limits_told: str = ""  # to the owner
    removal: str = ""
    year_only: bool = False  # of `on` only the year is known


@dataclass(frozen=True)
class Stay:
    """A painting's stay at one place. `end` None: it is still there.

    `start_is_date` (and `end_is_date`): only the day is known; it then belongs to both places.
    An `intended` stay (a humidity chamber, say) counts for the layers but raises no alarm.
    """

    place_id: str
    start: pd.Timestamp
    end: pd.Timestamp | None = None
    position: Placement = Placement.UNKNOWN
    intended: bool = False
    purpose: str = ""
    start_is_date: bool = True
    end_is_date: bool = True


class Look(Word):
    """How a painting was looked at. Only an own look, in raking light, front and back, shows that it is well."""

    OWN, PASSING, PHOTO, TELEPHONE, UNKNOWN = "own", "passing", "photo", "telephone", "unknown"

    @property
    def from_afar(self) -> bool:
        """Whether nobody who knows stood before the painting."""
        return self in (Look.PHOTO, Look.TELEPHONE)


NOTHING_NEW = "nothing new"  # the sign of a look that found the painting as it was


@dataclass(frozen=True)
class Observation:
    """A sign seen on a painting, or that nothing new was; it may confirm or deny a finding by its number."""

    on: pd.Timestamp
    sign: str
    where: str = ""
    finding: int | None = None
    confirms: bool | None = None
    note: str = ""
    photo: str = ""  # name of a file
    look: Look = Look.UNKNOWN
    by: str = ""  # who looked

    @property
    def well(self) -> bool:
        """Whether nothing new was seen."""
        return fold(self.sign) == NOTHING_NEW

    @property
    def how(self) -> str:
        """How and by whom in words, as far as it is known: "own look, A. Ember", "telephone, the owner"."""
        how = {Look.OWN: "own look", Look.PASSING: "in passing", Look.UNKNOWN: ""}.get(self.look, self.look.value)
        return ", ".join(part for part in (how, self.by) if part)


@dataclass(frozen=True)
class Painting:
    """A painting, what it is made of, what was done to it, and where it has stood."""

    id: str
    title: str
    maker: str = ""
    made: str = ""
    height_cm: float | None = None
    width_cm: float | None = None
    weight_kg: float | None = None
    support: str = ""
    glazed: bool | None = None
    backed: bool | None = None
    stretcher: str = ""
    frame_depth_mm: float | None = None
    tacking_margins: Margins = Margins.UNKNOWN
    owner: str = field(default="", repr=False)
    care: CareStatus = CareStatus.IN_STORE
    care_until: pd.Timestamp | None = None
    layers: tuple[Layer, ...] = ()
    treatments: tuple[Treatment, ...] = ()
    observations: tuple[Observation, ...] = ()
    stays: tuple[Stay, ...] = ()
    ground: str = ""
    varnish: str = ""
    value_band: str = ""  # a letter or words of the studio's own; a band, never a sum

    @property
    def lined_on(self) -> pd.Timestamp | None:
        """The day of the last lining; its climate history counts as proof from here on."""
        days = [t.on for t in self.treatments if t.kind == Work.LINING]
        days += [layer.applied_on for layer in self.layers if layer.role == Role.FILM and layer.applied_on is not None]
        return max(days, default=None)

    @property
    def lined_year_only(self) -> bool:
        """Whether only the year of the last lining is known."""
        lined = self.lined_on
        sure = [t.on for t in self.treatments if t.kind == Work.LINING and not t.year_only]
        sure += [
            one.applied_on for one in self.layers if one.role == Role.FILM and one.applied_on and not one.year_only
        ]
        return lined is not None and lined not in sure

    def as_treated(self, on: pd.Timestamp) -> Painting:
        """This painting as if every layer that is later than `on` had been put on then.

        For climates that are simulated, forecast or older than the treatment: no hour drops out for its date.
        """
        late = [layer.applied_on is not None and layer.applied_on > on for layer in self.layers]
        moved = (
            replace(layer, applied_on=on) if is_late else layer
            for layer, is_late in zip(self.layers, late, strict=True)
        )
        return replace(self, layers=tuple(moved))
