"""Until when the stricter limits after a treatment hold for each layer, and what a layer of unknown material is."""

from __future__ import annotations

import pandas as pd

from envwatch.core.dates import utc
from envwatch.core.painting import Layer, Painting, Role
from envwatch.figures import Figure
from envwatch.figures import lining as fig
from envwatch.figures.canvas import DRY_LINED_RH, OIL_COLD_WATCH_C
from envwatch.figures.materials import Materials, Profile
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


def taken_as(layer: Layer) -> tuple[str, ...]:
    """The materials a layer is judged as: its own, or what may be there where it is not known."""
    return TAKEN_AS.get(layer.role, ()) if layer.material in UNKNOWN else (layer.material,)


def length(painting: Painting, layer: Layer, known: Profile, materials: Materials) -> pd.Timedelta:
    """How long the stricter limits hold for a layer after it was put on.

    Water-borne work under a film or wax dries slowly: its first weeks are longer.
    """
    over = [o for o in painting.layers if o is not layer and o.role in OVERLYING and o.material not in UNKNOWN]
    tight = [o for o in over if o.material in materials and materials[o.material].water_borne == "no"]
    slow = known.water_borne == "yes" and layer.role not in LININGS and tight
    return (float(fig.FRESH_UNDER_FILM_TIMES) if slow else 1.0) * float(known.first_weeks.days) * DAY


def ends(painting: Painting, materials: Materials) -> list[tuple[Layer, Profile, pd.Timestamp]]:
    """Until when the stricter limits hold for each dated layer that holds something, in the order of the layers.

    >>> from envwatch.figures.materials import profiles
    >>> laid = Layer("film", "eva_film", "whole", pd.Timestamp("2026-03-02", tz="UTC"))
    >>> [str(end.date()) for _, _, end in ends(Painting("p", "Moor", layers=(laid,)), profiles())]
    ['2026-03-16']
    """
    found = []
    for layer in painting.layers:
        for kind in taken_as(layer):
            known, born = materials.get(kind), utc(layer.applied_on)
            if known is not None and known.adhesive and born is not None:
                found.append((layer, known, born + length(painting, layer, known, materials)))
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
