"""How much of its drying an adhesive has had, in the air that it really had."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from envwatch import air, climate
from envwatch.cases.aftercare import begins
from envwatch.climate.exposure import Exposure
from envwatch.core.painting import Treatment
from envwatch.figures import around_lining as fig
from envwatch.figures.materials import Profile

SETS_ON_COOLING = ("film", "powder", "melt")


def drying_share(temp_c, rh_percent, profile: Profile) -> np.ndarray:
    """Hours of drying that an hour in this air is worth, 0 to 1; 1 at 20 °C and 50 % RH and in better air.

    Water leaves in proportion to the deficit of vapour pressure (Dalton's law of evaporation); solvent and cure go
    twice as fast for each 10 K (from memory); what sets on cooling needs hours alone. That better air is not credited,
    because water must first come through the layers, is our judgement.

    Parameters
    ----------
    temp_c, rh_percent : (n,) hourly, NaN where not read. [°C], [% RH]

    Returns
    -------
    (n,) NaN where what it rests on was not read.

    >>> from envwatch.figures.materials import profile
    >>> drying_share([20.0, 20.0], [50.0, 75.0], profile("animal_glue")).tolist()
    [1.0, 0.5]
    >>> float(drying_share([10.0], [50.0], profile("epoxy"))[0])
    0.5
    """
    temp, rh = np.asarray(temp_c, float), np.asarray(rh_percent, float)
    if profile.water_borne == "yes":
        told = air.saturation_pressure(float(fig.DRIES_AT_C)) * (100 - float(fig.DRIES_AT_PERCENT))
        share = air.saturation_pressure(temp) * (100 - rh) / told
    elif profile.form in SETS_ON_COOLING:
        share = np.ones(temp.shape)
    else:
        share = 2.0 ** ((temp - float(fig.DRIES_AT_C)) / float(fig.DOUBLES_WITH_K))
    return np.clip(share, 0.0, 1.0)


@dataclass(frozen=True)
class DryingState:
    """The drying of one treatment. All hours are told for 20 °C and 50 % RH, but `elapsed_h` and `unread_h`."""

    treatment: Treatment
    name: str
    wanted_h: float  # until settled
    handled_h: float  # until it may be handled
    had_h: float
    elapsed_h: float
    unread_h: float  # nothing was read then, and nothing is credited
    share_now: float  # what an hour is worth in the air of the last day; NaN where not read
    basis: str

    @property
    def handled(self) -> bool:
        """Whether it may be handled: its weights may come off."""
        return self.had_h >= self.handled_h

    @property
    def left_h(self) -> float:
        """Hours still owed until it is settled, at 20 °C and 50 % RH."""
        return max(self.wanted_h - self.had_h, 0.0)

    @property
    def wait_h(self) -> float:
        """Hours to wait if the air stays as in the last day; NaN where that was not read, infinite in wet air."""
        if self.left_h == 0:
            return 0.0
        return float("inf") if self.share_now == 0 else self.left_h / self.share_now


def owed(
    treatment: Treatment, profile: Profile, exposure: Exposure, now: pd.Timestamp, zone: str
) -> DryingState | None:
    """What a treatment had of its drying until now; None where the materials file says no hours for it.

    Parameters
    ----------
    exposure : air of the painting that reaches from the treatment to now.

    Returns
    -------
    `DryingState`. The treatment's own drying hours, where recorded, go before those of the materials file.
    """
    wanted, handled, basis = _wanted(treatment, profile)
    if wanted is None:
        return None
    begin = begins(treatment, zone)
    hours = climate.hourly(exposure.room.between(min(begin, now), now))
    share = drying_share(hours.temp_c, hours.rh_percent, profile)
    read = np.isfinite(share)
    last = share[-24:][read[-24:]]
    return DryingState(
        treatment, profile.short, wanted, handled, float(share[read].sum()),
        max((now - begin).total_seconds() / 3600, 0.0), float((~read).sum()),
        float(last.mean()) if len(last) else float("nan"), basis,
    )  # fmt: skip


def _wanted(treatment: Treatment, profile: Profile) -> tuple[float | None, float, str]:
    if treatment.drying_h is not None:
        return float(treatment.drying_h), float(treatment.drying_h), "the treatment's own record"
    held = profile.settled_h
    if held is None:
        return None, 0.0, ""
    handled = float(held if profile.handling_h is None else profile.handling_h)
    return float(held), handled, f"{held.confidence.value}: {held.note}" if held.note else held.confidence.value
