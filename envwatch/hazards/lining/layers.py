"""The layers that climate can loosen, which limits hold for each hour by hour, and which pairs hold badly at all.

Below them, as functions of arrays, what softens a layer: water in glue, time at temperature, hours damp.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.exposure import ROOM, Exposure
from envwatch.core.arrays import Array, ArrayLike, Whole
from envwatch.core.dates import utc
from envwatch.core.findings import Finding, Hazard, Level, Mechanism
from envwatch.core.painting import Layer, Margins, Painting, Role
from envwatch.figures import lining as fig
from envwatch.figures.canvas import GAS_CONSTANT
from envwatch.figures.coverage import SPELL_BRIDGES_H
from envwatch.figures.materials import Limits, Materials, Profile, first_weeks_length, profile, taken_as
from envwatch.figures.materials.profile import LININGS, UNKNOWN

LOCAL_ROLES = (Role.PATCH, Role.TEAR_MEND, Role.INSERT)
LAID_ON = (
    Role.FILM, Role.PATCH, Role.TEAR_MEND, Role.INSERT, Role.STRIP_LINING, Role.CONSOLIDANT, Role.IMPREGNATION,
)  # fmt: skip
HEATED_AGAIN = (Role.PATCH, Role.TEAR_MEND, Role.IMPREGNATION, Role.CONSOLIDANT, Role.OLD_LINING)
DAY = pd.Timedelta(days=1)

Steps = tuple[Array, Array, Array]
Spans = tuple[tuple[pd.Timestamp, pd.Timestamp], ...]


@dataclass(frozen=True)
class BondedLayer:
    """One layer with limits, as it is judged.

    Attributes
    ----------
    born : when it was put on; None where it has always been there. It raises nothing from before.
    fresh : spans in which the stricter limits of the first weeks hold.
    moved_in : spans after a move in which it is looked at for what a move brings out; no limit is tighter in them.
    as_treated : judged as if put on at the start of the period, because it is later than all of it.
    trimmed : a lining that holds the picture without its tacking margins: heat is one level worse.
    assumed : it is not known to be there, or not what it is.
    freezes_dry : deep cold keeps damp from loosening it: glue, paste and starch are glassy then.
    """

    layer: Layer
    profile: Profile = field(hash=False)  # too large for it
    name: str
    born: pd.Timestamp | None
    fresh: Spans
    as_treated: bool
    trimmed: bool
    tau_h: float
    moved_in: Spans
    assumed: bool
    freezes_dry: bool

    def limits(
        self, mechanism: Mechanism, of: Limits, time: pd.DatetimeIndex, day_temp_c: Array | None = None
    ) -> Steps:
        """Limits hour by hour, first weeks and the softening line of glue counted in: watch, act, urgent, each (n,).

        of : those of the materials file. day_temp_c : (n,) the day's mean, for damp. NaN where there is none.
        """
        watch, act, urgent = (
            np.full(len(time), np.nan if step is None else float(step)) for step in (of.watch, of.act, of.urgent)
        )
        weeks = self.profile.first_weeks
        stricter = {
            Mechanism.DAMP: (float(weeks.damp_watch_percent), fig.FRESH_DAMP_ACT_ABOVE),
            Mechanism.SWING: (float(weeks.swing_watch_percent), fig.FRESH_SWING_ACT_ABOVE),
        }
        for begin, end in self.fresh:
            fresh = slice(time.searchsorted(begin.floor("h")), time.searchsorted(end))
            if mechanism is Mechanism.HEAT:
                for limit in (watch, act, urgent):
                    limit[fresh] -= float(weeks.cooler_c)
            if mechanism in stricter:
                first, act_above = stricter[mechanism]
                watch[fresh] = np.fmin(watch[fresh], first)
                act[fresh] = np.fmin(act[fresh], first + act_above)
        if day_temp_c is not None and self.profile.water_softening == "gelatine":
            watch = np.fmin(watch, glue_softening_rh(day_temp_c, float(fig.GLUE_LINE_WATCH_K)))
            act = np.fmin(act, glue_softening_rh(day_temp_c))
        if mechanism is Mechanism.DRY and self.profile.stiff == "yes" and self.layer.role in LOCAL_ROLES:
            watch = np.fmax(watch, float(fig.PRINT_THROUGH_DRY_PERCENT))
        return watch, act, urgent


def span_end(spans: Spans, at: pd.Timestamp) -> pd.Timestamp | None:
    """The end of the spans that hold at a time; None where none does."""
    return max((end for begin, end in spans if begin.floor("h") <= at < end), default=None)


def links(painting: Painting, exposure: Exposure, start: pd.Timestamp, materials: Materials) -> list[BondedLayer]:
    """The layers with limits. BadInput: a material that the materials file does not hold.

    One put on after the whole period is judged as new at its start and, besides, as settled. Each responds as if alone
    in the build-up, but for backing board and glazing: no layer takes shelter behind another. A film slows what lies
    under it, but the paint face stays open; and if the slower response counted, putting a film on would make a damp or
    swinging room look better.
    """
    found = []
    moves = [new.start for old, new in pairwise(exposure.stints) if old.place_id != new.place_id]
    for layer in painting.layers:
        born, trimmed = utc(layer.applied_on), painting.tacking_margins == Margins.TRIMMED and layer.role in LININGS
        for known in (profile(kind, materials) for kind in taken_as(layer)):
            if not known.adhesive:
                continue
            length, days = first_weeks_length(painting, layer, known, materials), known.first_weeks.after_move_days
            link = BondedLayer(
                layer, known, name_of(layer, known), born, () if born is None else ((born, born + length),), False,
                trimmed, climate.response_time_h(replace(painting, layers=(replace(layer, material=known.id),))),
                () if days is None else tuple((moved, moved + float(days) * DAY) for moved in moves),
                layer.assumed or layer.material in UNKNOWN, known.water_softening in ("gelatine", "starch"),
            )  # fmt: skip
            if born is not None and born >= exposure.end:
                found.append(replace(link, born=start, fresh=((start, start + length),), as_treated=True))
                link = replace(link, born=None, fresh=(), as_treated=True)
            found.append(link)
    return found


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
    """One finding that names the layers that hold badly together, or none.

    What is laid on wax and holds badly there, or is water-borne and in dispute; patches and impregnation of a film's
    own family, which its sealing moves again. Always clear: it asks for a test or a note, not for a climate.
    """
    known = [(layer, materials[layer.material]) for layer in painting.layers if layer.material in materials]
    known = [(layer, profile) for layer, profile in known if profile.adhesive and layer.material not in UNKNOWN]
    waxes = [layer for layer, its in known if its.family == "wax"]
    films = [(its.family, layer) for layer, its in known if layer.role == Role.FILM and its.softening_c is not None]
    pairs = set()
    for layer, its in known:
        name = name_of(layer, its)
        if layer.role in LAID_ON and not all(_older(layer, wax) for wax in waxes):
            if its.adheres_to_wax == "no":
                pairs.add((name, f"The {name} holds badly on traces of wax; make a peel trial."))
            elif its.adheres_to_wax == "test" and its.water_borne == "yes":
                pairs.add((name, f"The {name} is said both to hold on wax and not to; make a peel trial."))
        for family, film in films if layer.role in HEATED_AGAIN and its.family != "epoxy" else ():
            if family == its.family and not _older(film, layer):
                again = "is of the film's own family and moves again when that is heated; note order and heat."
                pairs.add((name, f"The {name} {again}"))
    if not pairs:
        return []
    names, sentences = (dict.fromkeys(words) for words in zip(*sorted(pairs), strict=True))
    sentence = f"Compatibility, whatever the climate: {' '.join(sentences)}"
    return [Finding(Hazard.LINING, Mechanism.COMPATIBILITY, "; ".join(names), ROOM, Level.CLEAR, sentence)]


def _older(layer: Layer, other: Layer) -> bool:
    """Known to have been there before the other."""
    return layer.applied_on is not None and other.applied_on is not None and layer.applied_on < other.applied_on


# ------------------------------------------------------------------- what softens: water in glue, time at temperature

_KELVIN = 273.15
_NODES: Array = np.array((0.0, *fig.SORPTION_AT_PERCENT))  # dry glue holds no water: the table is begun at (0, 0)
_G25: Array = np.array((0.0, *fig.SORBED_AT_25_C))
_G40: Array = np.array((0.0, *fig.SORBED_AT_40_C))


def _sorbed_at_nodes(temp_c: Array) -> Array:
    """Water in gelatine at each humidity of the table. (…,) -> (…, nodes) [g / 100 g dry]"""
    share = np.clip((temp_c - 25) / (40 - 25), 0, 1)[..., None]
    return _G25 + share * (_G40 - _G25)


def glue_water(rh_percent: ArrayLike, temp_c: ArrayLike = 25.0) -> Array:
    """Water that gelatine takes up, linear in the table; outside 25 to 40 °C, and over 90 % RH, held at its edge.

    [% RH], [°C] -> [g / 100 g dry]; NaN for NaN. Source: Heritage Science 1:14 (2013), table 1.

    >>> float(glue_water(70, 25)), float(glue_water(80, 40))
    (21.6, 25.35)
    """
    rh, temp = np.broadcast_arrays(np.asarray(rh_percent, np.float64), np.asarray(temp_c, np.float64))
    grams = _sorbed_at_nodes(temp)
    at = np.clip(np.searchsorted(_NODES, np.nan_to_num(rh), side="right") - 1, 0, len(_NODES) - 2)
    low = np.take_along_axis(grams, at[..., None], -1)[..., 0]
    high = np.take_along_axis(grams, at[..., None] + 1, -1)[..., 0]
    share: Array = np.clip((rh - _NODES[at]) / (_NODES[at + 1] - _NODES[at]), 0, 1)
    return low + share * (high - low)


# puts softening through the one published point: so much water, 100 g dry, mobile at so many °C
GORDON_TAYLOR_K = (100 * (fig.DRY_GELATINE_SOFTENS_C - fig.GLUE_MOBILE_AT_C)) / (
    fig.GLUE_MOBILE_AT_G * (fig.GLUE_MOBILE_AT_C - fig.WATER_SOFTENS_C)
)


def glue_tg(rh_percent: ArrayLike, temp_c: ArrayLike = 25.0) -> Array:
    """Temperature at which glue in equilibrium with this air softens (Gordon-Taylor). Indicative.

    Parameters
    ----------
    rh_percent, temp_c : array-like, broadcast together; the temperature sets how much water is taken up.

    Returns
    -------
    Broadcast shape, NaN for NaN. [°C]

    Source: Gordon-Taylor through one published point (Pinhas et al. 1996); water from `glue_water`.

    >>> glue_tg([40, 60, 80]).round(1).tolist()
    [73.8, 50.2, 19.4]
    """
    grams = glue_water(rh_percent, temp_c)
    w2 = grams / (100 + grams)
    dry, water = fig.DRY_GELATINE_SOFTENS_C + _KELVIN, fig.WATER_SOFTENS_C + _KELVIN
    return ((1 - w2) * dry + GORDON_TAYLOR_K * w2 * water) / ((1 - w2) + GORDON_TAYLOR_K * w2) - _KELVIN


def glue_softening_rh(temp_c: ArrayLike, before_k: float = 0.0) -> Array:
    """Humidity at which glue softens at this temperature, or is so many kelvin before it.

    Parameters
    ----------
    temp_c : array-like. [°C]
    before_k : distance kept from softening. [K]

    Returns
    -------
    Same shape, at most 90 where the table ends. NaN for NaN. [% RH]

    Source: `glue_tg`, solved for the humidity.

    >>> glue_softening_rh([20, 30, 40]).round(1).tolist(), glue_softening_rh(20, 10).round(1).item()
    ([79.6, 74.8, 71.6], 73.8)
    """
    temp = np.asarray(temp_c, np.float64)
    dry, water = fig.DRY_GELATINE_SOFTENS_C + _KELVIN, fig.WATER_SOFTENS_C + _KELVIN
    soft = np.minimum(temp + before_k + _KELVIN, dry)
    w2 = (dry - soft) / ((dry - soft) + GORDON_TAYLOR_K * (soft - water))  # Gordon-Taylor, solved for the water
    wanted = 100 * w2 / (1 - w2)
    grams = _sorbed_at_nodes(temp)
    at: Whole = np.clip((grams <= wanted[..., None]).sum(-1) - 1, 0, len(_NODES) - 2)
    low = np.take_along_axis(grams, at[..., None], -1)[..., 0]
    high = np.take_along_axis(grams, at[..., None] + 1, -1)[..., 0]
    share: Array = np.clip((wanted - low) / (high - low), 0, 1)
    return _NODES[at] + share * (_NODES[at + 1] - _NODES[at])


def equivalent_hours(temp_c: ArrayLike, hours: ArrayLike, ea_kj: float) -> Array:
    """Hours at 20 °C in which as much creep would happen, by Arrhenius. For ranking rooms and days only.

    Parameters
    ----------
    temp_c : (..., n) temperature, time on the last axis, NaN where nothing was read: that adds nothing. [°C]
    hours : scalar or broadcast to the temperature, the time each stands for. [h]
    ea_kj : activation energy; none is published for a lining, so show a band. [kJ/mol]

    Returns
    -------
    (...) hours at 20 °C. [h]

    Source: Arrhenius; the energies are our judgement, see `figures.lining`.

    >>> round(float(equivalent_hours([30.0], 1, 100)), 2)
    3.87
    """
    temp = np.asarray(temp_c, np.float64)
    at_20 = 1 / (fig.CREEP_REFERENCE_C + _KELVIN)
    factor = np.exp(1000 * ea_kj / GAS_CONSTANT * (at_20 - 1 / (temp + _KELVIN)))
    total: Array = np.nansum(factor * np.asarray(hours, np.float64), axis=-1)
    return total


@dataclass(frozen=True)
class Dwell:
    """Time at or over a humidity limit."""

    hours: float
    longest_h: float  # longest spell by the rule of `climate.hours`; breaks are not counted
    excess: float  # how far over, times how long. [% RH h]


def damp_dwell(rh_percent: ArrayLike, limit_percent: float, bridge_h: float = SPELL_BRIDGES_H) -> Dwell:
    """Hours damp: hourly lagged humidity at or over a limit.

    Parameters
    ----------
    rh_percent : (n,) hourly, NaN where nothing was read: that counts for nothing and breaks a spell as a dry hour does.
    limit_percent : the limit. [% RH]

    >>> damp_dwell([60, 72, 74, 60], 70)
    Dwell(hours=2.0, longest_h=2.0, excess=6.0)
    """
    rh = np.asarray(rh_percent, np.float64)
    damp = rh >= limit_percent
    longest = climate.hours_in_spell(damp, bridge_h).max(initial=0)
    return Dwell(float(damp.sum()), float(longest), float((rh[damp] - limit_percent).sum()))
