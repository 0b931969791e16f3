"""What is asked beside the positions: the lining of a record that does not say it, and the owner's file afterwards."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from envwatch.cases.hanging.spot import HangingPosition
from envwatch.climate.series import Climate
from envwatch.core.errors import BadInput
from envwatch.core.painting import Layer, Painting, Role
from envwatch.figures.materials import Profile
from envwatch.logs.model import LogFile
from envwatch.logs.quality import marks as quality


def with_adhesive(painting: Painting, adhesive: str | None, known: Mapping[str, Profile]) -> Painting:
    """The painting with a lining of this adhesive, assumed; None: as recorded. BadInput: no adhesive of the file."""
    if adhesive is None:
        return painting
    if adhesive not in known or not known[adhesive].adhesive:
        names = ", ".join(name for name, profile in known.items() if profile.adhesive)
        what = f"not an adhesive of the materials file. There are {names}"
        raise BadInput(what, field="adhesive", seen=adhesive)
    return replace(painting, layers=(*painting.layers, Layer(Role.FILM, adhesive, assumed=True)))


def hung_at(spots: Sequence[HangingPosition], at: str) -> HangingPosition:
    """The position that its first words name; of one position, that one. BadInput: none, or several."""
    found = [spot for spot in spots if spot.name.casefold().startswith(at.casefold())]
    if len(found) == 1:
        return found[0]
    names = ", ".join(spot.name for spot in spots)
    raise BadInput(f"⟦log⟧: say with ⟦at⟧ which position it hangs at: {names}", field="at")


def owners_air(read: LogFile, name: str) -> Climate:
    """The readings of an owner's file as one climate; of several probes the first that reads humidity.

    Raises
    ------
    BadInput : a file without humidity.
    """
    probe = next((probe for probe in read.channels if np.isfinite(probe.rh_percent).any()), None)
    if probe is None:
        raise BadInput("holds no humidity. Ask the owner for a file with temperature and humidity", place=name)
    time, first = np.unique(probe.time, return_index=True)
    temp, rh = probe.temp_c[first], probe.rh_percent[first]
    marks = quality.mark(time, temp, rh) | (probe.bound[first] if len(probe.bound) else np.uint16(0))
    bounded = quality.bounds(marks, temp, rh)
    temp = np.where(marks & quality.BAD_TEMP, np.nan, temp)
    rh = np.where(marks & quality.BAD_RH, np.nan, rh)
    notes = () if len(read.channels) == 1 else (f"{name} has {len(read.channels)} probes; {probe.label} is taken",)
    suspect = (marks & quality.SUSPECT) != 0
    return Climate.of(pd.DatetimeIndex(time.view("M8[us]"), tz="UTC"), temp, rh, suspect=suspect, notes=notes,
                      bounded=bounded)  # fmt: skip
