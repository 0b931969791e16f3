"""The layers that climate can loosen, which limits hold for each hour by hour, and which pairs hold badly at all."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.exposure import ROOM, Exposure
from envwatch.core.arrays import Array
from envwatch.core.dates import utc
from envwatch.core.findings import Finding, Hazard, Level, Mechanism
from envwatch.core.painting import Layer, Margins, Painting, Role
from envwatch.figures import lining as fig
from envwatch.figures.materials import Limits, Materials, Profile, first_weeks, profile
from envwatch.figures.materials.first_weeks import LININGS, UNKNOWN
from envwatch.hazards.lining.softening import glue_softening_rh

LOCAL_ROLES = (Role.PATCH, Role.TEAR_MEND, Role.INSERT)
LAID_ON = (
    Role.FILM, Role.PATCH, Role.TEAR_MEND, Role.INSERT, Role.STRIP_LINING, Role.CONSOLIDANT, Role.IMPREGNATION,
)  # fmt: skip
HEATED_AGAIN = (Role.PATCH, Role.TEAR_MEND, Role.IMPREGNATION, Role.CONSOLIDANT, Role.OLD_LINING)
DAY = pd.Timedelta(days=1)

Steps = tuple[Array, Array, Array]


@dataclass(frozen=True)
class Link:
    """One layer with limits, as it is judged.

    Attributes
    ----------
    born : when it was put on; None where it has always been there. It raises nothing from before.
    fresh : spans in which the stricter limits of the first weeks hold.
    moved_in : spans after a move in which it is looked at for what a move brings out; no limit is tighter in them.
    as_treated : judged as if put on at the start of the period, because it is later than all of it.
    trimmed : a lining that holds the picture without its tacking margins: heat is one level worse.
    """

    layer: Layer
    profile: Profile
    name: str
    born: pd.Timestamp | None
    fresh: tuple[tuple[pd.Timestamp, pd.Timestamp], ...]
    as_treated: bool
    trimmed: bool
    tau_h: float
    moved_in: tuple[tuple[pd.Timestamp, pd.Timestamp], ...] = ()

    def __hash__(self) -> int:
        return hash(
            (self.layer, self.name, self.born, self.fresh, self.tau_h, self.moved_in)
        )  # a profile is too large for it

    @property
    def assumed(self) -> bool:
        """Whether it is not known to be there, or not what it is."""
        return self.layer.assumed or self.layer.material in ("", "unknown")

    def born_row(self, time: pd.DatetimeIndex) -> int:
        """The first row at which the layer is there."""
        return 0 if self.born is None else int(time.searchsorted(self.born.floor("h")))

    def limits(
        self, mechanism: Mechanism, of: Limits, time: pd.DatetimeIndex, day_temp_c: Array | None = None
    ) -> Steps:
        """Limits hour by hour, first weeks and the softening line of glue counted in: watch, act, urgent, each (n,).

        of : those of the materials file. day_temp_c : (n,) the day's mean, for damp. NaN where there is none.
        """
        watch, act, urgent = (
            np.full(len(time), np.nan if step is None else float(step)) for step in (of.watch, of.act, of.urgent)
        )
        fresh, weeks = np.zeros(len(time), bool), self.profile.first_weeks
        for begin, end in self.fresh:
            fresh[time.searchsorted(begin.floor("h")) : time.searchsorted(end)] = True
        if mechanism is Mechanism.HEAT:
            cooler = float(weeks.cooler_c) * fresh
            return watch - cooler, act - cooler, urgent - cooler
        stricter = {
            Mechanism.DAMP: (float(weeks.damp_watch_percent), fig.FRESH_DAMP_ACT_ABOVE),
            Mechanism.SWING: (float(weeks.swing_watch_percent), fig.FRESH_SWING_ACT_ABOVE),
        }
        if mechanism in stricter:
            first, act_above = stricter[mechanism]
            watch = np.where(fresh, np.fmin(watch, first), watch)
            act = np.where(fresh, np.fmin(act, first + act_above), act)
        if day_temp_c is not None and self.profile.water_softening == "gelatine":
            watch = np.fmin(watch, glue_softening_rh(day_temp_c, float(fig.GLUE_LINE_WATCH_K)))
            act = np.fmin(act, glue_softening_rh(day_temp_c))
        if mechanism is Mechanism.DRY and self.profile.stiff == "yes" and self.layer.role in LOCAL_ROLES:
            watch = np.fmax(watch, float(fig.PRINT_THROUGH_DRY_PERCENT))
        return watch, act, urgent

    @property
    def freezes_dry(self) -> bool:
        """Whether deep cold keeps damp from loosening it: glue, paste and starch are glassy then."""
        return self.profile.water_softening in ("gelatine", "starch")


def span_end(spans: tuple[tuple[pd.Timestamp, pd.Timestamp], ...], at: pd.Timestamp) -> pd.Timestamp | None:
    """The end of the spans that hold at a time; None where none does."""
    return max((end for begin, end in spans if begin.floor("h") <= at < end), default=None)


def links(painting: Painting, exposure: Exposure, start: pd.Timestamp, materials: Materials) -> list[Link]:
    """The layers with limits. BadInput: a material that the materials file does not hold."""
    found = []
    for layer in painting.layers:
        for known in (profile(kind, materials) for kind in first_weeks.taken_as(layer)):
            if known.adhesive:
                length = first_weeks.length(painting, layer, known, materials)
                found += _judged_as(painting, layer, known, length, exposure, start)
    return found


def _judged_as(
    painting: Painting, layer: Layer, known: Profile, length: pd.Timedelta, exposure: Exposure, start: pd.Timestamp
) -> list[Link]:
    """The layer as it is; one put on after the whole period as new at its start and, besides, as settled.

    It responds as if it were alone in the build-up, but for backing board and glazing: no layer takes shelter behind
    another. A film slows what lies under it, but the paint face stays open; and if the slower response counted, putting
    a film on would make a damp or swinging room look better.
    """
    born, alone = utc(layer.applied_on), replace(painting, layers=(replace(layer, material=known.id),))
    link = Link(
        layer, known, name_of(layer, known), born, (), False,
        painting.tacking_margins == Margins.TRIMMED and layer.role in LININGS, climate.response_time_h(alone),
        _after_moves(known, exposure),
    )  # fmt: skip
    if born is not None and born >= exposure.end:
        fresh = replace(link, born=start, fresh=((start, start + length),), as_treated=True)
        return [fresh, replace(link, born=None, as_treated=True)]
    return [link if born is None else replace(link, fresh=((born, born + length),))]


def _after_moves(known: Profile, exposure: Exposure) -> tuple[tuple[pd.Timestamp, pd.Timestamp], ...]:
    """Spans after each move in which what a move disturbs is looked for."""
    days = known.first_weeks.after_move_days
    if days is None:
        return ()
    return tuple(
        (after.start, after.start + float(days) * DAY)
        for before, after in zip(exposure.stints, exposure.stints[1:], strict=False)
        if before.place_id != after.place_id
    )


def name_of(layer: Layer, known: Profile) -> str:
    """The layer in words: "lining film (heat-seal film)", "size (animal glue)".

    >>> name_of(Layer(Role.FILM, "unknown"), profile("wax_resin"))
    'lining adhesive (unknown, taken as wax-resin)'
    """
    role: str = layer.role
    if role == Role.FILM:
        role = "lining film" if known.form == "film" and layer.material not in UNKNOWN else "lining adhesive"
    if layer.material in UNKNOWN:
        return f"{role} (unknown, taken as {known.short})"
    return f"{role} ({known.short}{', assumed' if layer.assumed else ''})"


def notice(painting: Painting, materials: Materials) -> list[Finding]:
    """One finding that names all such pairs, or none. Always clear: it asks for a test or a note, not for a climate."""
    known = [(layer, materials[layer.material]) for layer in painting.layers if layer.material in materials]
    known = [(layer, profile) for layer, profile in known if profile.adhesive and layer.material not in UNKNOWN]
    said = sorted({*_on_wax(known), *_heat_seal_on_heat_seal(known)})
    if not said:
        return []
    return [
        Finding(
            Hazard.LINING,
            Mechanism.COMPATIBILITY,
            "; ".join(dict.fromkeys(name for name, _ in said)),
            ROOM,
            Level.CLEAR,
            f"Compatibility, whatever the climate: {' '.join(dict.fromkeys(sentence for _, sentence in said))}",
        )  # fmt: skip
    ]


def _on_wax(known: list[tuple[Layer, Profile]]) -> Iterator[tuple[str, str]]:
    """What is laid on wax and holds badly there, or is water-borne and in dispute."""
    waxes = [layer for layer, its in known if its.family == "wax"]
    for layer, its in known:
        if not waxes or layer.role not in LAID_ON or all(_older(layer, wax) for wax in waxes):
            continue
        name = name_of(layer, its)
        if its.adheres_to_wax == "no":
            yield name, f"The {name} holds badly on traces of wax; make a peel trial."
        elif its.adheres_to_wax == "test" and its.water_borne == "yes":
            yield name, f"The {name} is said both to hold on wax and not to; make a peel trial."


def _heat_seal_on_heat_seal(known: list[tuple[Layer, Profile]]) -> Iterator[tuple[str, str]]:
    """Patches and impregnation of the film's own family move again when the film is sealed."""
    films = [
        (its.family, layer) for layer, its in known
        if layer.role == Role.FILM and its.softening_c is not None and its.family != "epoxy"
    ]  # fmt: skip
    for layer, its in known:
        for family, film in films:
            if layer.role in HEATED_AGAIN and family == its.family and not _older(film, layer):
                name = name_of(layer, its)
                yield (
                    name,
                    f"The {name} is of the film's own family and moves again when that is heated; note order and heat.",
                )


def _older(layer: Layer, other: Layer) -> bool:
    """Known to have been there before the other."""
    return layer.applied_on is not None and other.applied_on is not None and layer.applied_on < other.applied_on
