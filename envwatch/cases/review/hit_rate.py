"""How often findings were borne out when somebody looked: counted from the observations, hazard by hazard."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from envwatch.archive import Studio, reviews
from envwatch.core.errors import NotThere
from envwatch.core.painting import Painting
from envwatch.figures.coverage import RATE_NEEDS


@dataclass(frozen=True)
class HazardRecord:
    """What looking showed of one hazard's findings. A finding looked at twice counts by its last word."""

    hazard: str
    confirmed: int
    denied: int

    @property
    def looked(self) -> int:
        """Findings that were borne out or denied."""
        return self.confirmed + self.denied

    @property
    def rate(self) -> float:
        """Share borne out; NaN where nobody looked."""
        return self.confirmed / self.looked if self.looked else float("nan")

    @property
    def rate_range(self) -> tuple[float, float]:
        """Where the true share may lie, 95 % (Wilson score interval). NaN where nobody looked."""
        if not self.looked:
            return float("nan"), float("nan")
        n, p, z = self.looked, self.rate, 1.96
        middle, spread = p + z**2 / (2 * n), z * np.sqrt(p * (1 - p) / n + z**2 / (4 * n**2))
        low, high = ((middle + side * spread) / (1 + z**2 / n) for side in (-1, 1))
        return max(float(low), 0.0), min(float(high), 1.0)

    @property
    def sentence(self) -> str:
        """In words: "mould: 3 of 4 findings that were looked at were borne out (30 to 95 % likely)"."""
        if not self.looked:
            return f"{self.hazard}: no finding has been looked at and noted yet"
        said = (
            f"{self.hazard}: {self.confirmed} of {self.looked} findings looked at were borne out, {self.denied} denied"
        )
        if self.looked < RATE_NEEDS:
            return f"{said}; too few for a rate"
        low, high = self.rate_range
        return f"{said}; the true share lies between {low:.0%} and {high:.0%} (95 %)"


def hazard_record(paintings: Iterable[Painting], hazard_of: Mapping[int, str]) -> tuple[HazardRecord, ...]:
    """Confirmed and denied findings by hazard, from the paintings' observations.

    Parameters
    ----------
    paintings : with their observations; one that names a finding and says whether it confirms it is counted.
    hazard_of : hazard by number of finding. An observation about a number that is not in it is left out.

    Returns
    -------
    One record for each hazard that occurs in `hazard_of`, by name; with zeros where nobody looked.

    >>> from envwatch.records import Observation
    >>> import pandas as pd
    >>> seen = Observation(pd.Timestamp("2026-11-02", tz="UTC"), "grey fur", finding=4, confirms=True)
    >>> hazard_record([Painting("a", "A", observations=(seen,))], {4: "mould"})
    (HazardRecord(hazard='mould', confirmed=1, denied=0),)
    """
    seen = sorted((o for painting in paintings for o in painting.observations), key=lambda o: o.on)
    last = {o.finding: o.confirms for o in seen if o.finding in hazard_of and o.confirms is not None}
    counts = Counter((hazard_of[number], confirms) for number, confirms in last.items() if number is not None)
    return tuple(
        HazardRecord(hazard, counts[hazard, True], counts[hazard, False]) for hazard in sorted(set(hazard_of.values()))
    )


def of(studio: Studio) -> tuple[HazardRecord, ...]:
    """The record of a studio's hazards, from its register."""
    paintings = studio.paintings().values()
    numbers = {o.finding for painting in paintings for o in painting.observations if o.finding is not None}
    return hazard_record(paintings, {number: hazard for number in numbers if (hazard := _hazard(studio, number))})


def _hazard(studio: Studio, number: int) -> str:
    try:
        return str(reviews.finding(studio, number)["hazard"])
    except NotThere:
        return ""
