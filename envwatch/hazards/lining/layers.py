"""The layers that climate can loosen, and which limits hold for each of them hour by hour."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.exposure import Exposure
from envwatch.core.arrays import Array, Mask
from envwatch.core.dates import utc
from envwatch.core.painting import Layer, Margins, Painting, Role
from envwatch.figures import lining as fig
from envwatch.figures.materials import Limits, Materials, Profile, first_weeks, profile
from envwatch.figures.materials.first_weeks import LININGS, OVERLYING, UNKNOWN
from envwatch.hazards.lining.softening import glue_softening_rh

LOCAL_ROLES = (Role.PATCH, Role.TEAR_MEND, Role.INSERT)
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

    @property
    def on_record(self) -> int:
        """How well it is known: 0 assumed, 1 entered, 2 entered with the day it was put on."""
        return 0 if self.assumed else 2 if self.layer.applied_on is not None else 1

    def born_row(self, time: pd.DatetimeIndex) -> int:
        """The first row at which the layer is there."""
        return 0 if self._born_hour is None else int(time.searchsorted(self._born_hour))

    @cached_property
    def _born_hour(self) -> pd.Timestamp | None:
        return None if self.born is None else self.born.floor("h")

    def in_first_weeks(self, time: pd.DatetimeIndex) -> Mask:
        """True in the hours in which stricter limits hold. (n,)"""
        mask = np.zeros(len(time), bool)
        for begin, end in self.fresh:
            mask[time.searchsorted(begin.floor("h")) : time.searchsorted(end)] = True
        return mask

    def fresh_until(self, at: pd.Timestamp) -> pd.Timestamp | None:
        """The end of the stricter limits that hold at a time; None where none do."""
        return max((end for begin, end in self.fresh if begin.floor("h") <= at < end), default=None)

    def looked_at_until(self, at: pd.Timestamp) -> pd.Timestamp | None:
        """The end of the look-out after a move that goes on at a time; None where none does."""
        return max((end for begin, end in self.moved_in if begin.floor("h") <= at < end), default=None)

    @property
    def held_in_wax(self) -> bool:
        """Whether it holds size and canvas in wax: these, not the wax, take up the damp."""
        return self.profile.family == "wax" and self.layer.role in OVERLYING

    def heat(self, name: str, time: pd.DatetimeIndex) -> Steps:
        """Heat limits hour by hour: watch, act, urgent, each (n,), NaN where there is none. [°C]"""
        cooler = float(self.profile.first_weeks.cooler_c) * self.in_first_weeks(time)
        watch, act, urgent = _steps(getattr(self.profile, name), time)
        return watch - cooler, act - cooler, urgent - cooler

    def damp(self, time: pd.DatetimeIndex, day_temp_c: Array) -> Steps:
        """Damp limits hour by hour, the softening line of glue included. Each (n,) [% RH]"""
        watch, act, urgent = _steps(self.profile.damp_percent, time)
        fresh, first = self.in_first_weeks(time), float(self.profile.first_weeks.damp_watch_percent)
        watch = np.where(fresh, np.fmin(watch, first), watch)
        act = np.where(fresh, np.fmin(act, first + fig.FRESH_DAMP_ACT_ABOVE), act)
        if self.profile.water_softening == "gelatine":
            watch = np.fmin(watch, glue_softening_rh(day_temp_c, float(fig.GLUE_LINE_WATCH_K)))
            act = np.fmin(act, glue_softening_rh(day_temp_c))
        return watch, act, urgent

    def dry(self, time: pd.DatetimeIndex) -> Steps:
        """Dry limits, passed from above. Each (n,) [% RH]"""
        watch, act, urgent = _steps(self.profile.dry_percent, time)
        if self.profile.stiff == "yes" and self.layer.role in LOCAL_ROLES:
            watch = np.fmax(watch, float(fig.PRINT_THROUGH_DRY_PERCENT))
        return watch, act, urgent

    def cold(self, time: pd.DatetimeIndex) -> Steps:
        """Cold limits, passed from above. Each (n,) [°C]"""
        return _steps(self.profile.cold_c, time)

    def swing(self, time: pd.DatetimeIndex) -> Steps:
        """Limits of the daily swing. Each (n,) [% RH]"""
        watch, act, urgent = _steps(self.profile.swing_percent, time)
        first = float(self.profile.first_weeks.swing_watch_percent)
        fresh = self.in_first_weeks(time)
        act = np.where(fresh, np.fmin(act, first + fig.FRESH_SWING_ACT_ABOVE), act)
        return np.where(fresh, np.fmin(watch, first), watch), act, urgent

    @property
    def freezes_dry(self) -> bool:
        """Whether deep cold keeps damp from loosening it: glue, paste and starch are glassy then."""
        return self.profile.water_softening in ("gelatine", "starch")


def _steps(limits: Limits, time: pd.DatetimeIndex) -> Steps:
    watch, act, urgent = (
        np.full(len(time), np.nan if step is None else float(step))
        for step in (limits.watch, limits.act, limits.urgent)
    )
    return watch, act, urgent


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
    """The layer as it is; one put on after the whole period as new at its start and, besides, as settled."""
    born = utc(layer.applied_on)
    link = Link(
        layer, known, name_of(layer, known), born, (), False,
        painting.tacking_margins == Margins.TRIMMED and layer.role in LININGS, _tau_h(painting, layer, known),
        _after_moves(known, exposure),
    )  # fmt: skip
    if born is not None and born >= exposure.end:
        fresh = replace(link, born=start, fresh=((start, start + length),), as_treated=True)
        return [fresh, replace(link, born=None, as_treated=True)]
    return [link if born is None else replace(link, fresh=((born, born + length),))]


def _tau_h(painting: Painting, layer: Layer, known: Profile) -> float:
    """Response of the build-up as if this layer were alone in it: no layer takes shelter behind another.

    A film slows what lies under it, but the paint face stays open; and if the slower response counted, putting a
    film on would make a damp or swinging room look better. Backing board and glazing count.
    """
    alone = replace(layer, material=known.id)
    return climate.response_time_h(replace(painting, layers=(alone,)))


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
