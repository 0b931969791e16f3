"""How often findings were borne out when somebody looked: counted from the observations, by hazard and by limit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple, TypeVar

import numpy as np

from envwatch.archive import Studio, reviews
from envwatch.core.errors import NotThere
from envwatch.core.findings import Finding
from envwatch.core.painting import Painting
from envwatch.figures.coverage import RATE_NEEDS

Key = TypeVar("Key")


@dataclass(frozen=True)
class HazardRecord:
    """What looking showed of the findings of one hazard, or of one limit of it where `limit` is given.

    A finding looked at twice counts by its last word.
    """

    hazard: str
    confirmed: int
    denied: int
    mechanism: str = ""
    limit: float | None = None
    unit: str = ""  # of the limit
    material: str = ""  # key of the materials file, where a profile sets the limit

    @property
    def of(self) -> str:
        """What it is the record of: "mould", "lining, heat, limit 45 °C (eva film)"."""
        if self.limit is None:
            return self.hazard
        material = f" ({self.material.replace('_', ' ')})" if self.material else ""
        return f"{self.hazard}, {self.mechanism}, limit {round(self.limit, 2):g} {self.unit}".rstrip() + material

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
            return f"{self.of}: no finding has been looked at and noted yet"
        said = f"{self.of}: {self.confirmed} of {self.looked} findings looked at were borne out, {self.denied} denied"
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
    >>> hazard_record([Painting("a", "A", observations=(seen,))], {4: "mould"})[0].sentence
    'mould: 1 of 1 findings looked at were borne out, 0 denied; too few for a rate'
    """
    counts = _counts(paintings, hazard_of)
    return tuple(
        HazardRecord(hazard, counts[hazard, True], counts[hazard, False]) for hazard in sorted(set(hazard_of.values()))
    )


class LimitRecord(NamedTuple):
    """One limit that findings are held against; see `HazardRecord`."""

    hazard: str
    mechanism: str
    limit: float
    unit: str = ""
    material: str = ""


def limit_record(paintings: Iterable[Painting], limit_of: Mapping[int, LimitRecord]) -> tuple[HazardRecord, ...]:
    """As `hazard_record`, limit by limit; a finding counts for the limit that `limit_of` names by its number."""
    counts = _counts(paintings, limit_of)
    return tuple(
        HazardRecord(one.hazard, counts[one, True], counts[one, False], *one[1:])
        for one in sorted(set(limit_of.values()))
    )


def _counts(paintings: Iterable[Painting], key_of: Mapping[int, Key]) -> Counter[tuple[Key, bool]]:
    """How many findings of each key were borne out, and how many denied, by the last word on each."""
    seen = sorted((o for painting in paintings for o in painting.observations), key=lambda o: o.on)
    last = {o.finding: o.confirms for o in seen if o.finding in key_of and o.confirms is not None}
    return Counter((key_of[number], confirms) for number, confirms in last.items() if number is not None)


def of(studio: Studio) -> tuple[HazardRecord, ...]:
    """The record of a studio's hazards, from its register."""
    told = _told(studio)
    return hazard_record(studio.paintings().values(), {number: str(said["hazard"]) for number, said in told.items()})


def by_limit(studio: Studio) -> tuple[HazardRecord, ...]:
    """The record of each limit about which somebody looked, from the register.

    The limit is the one against which the last kept review held the finding. Reviews kept before the material was kept
    with it give none; a finding without a single limit is left out.
    """
    limit_of = {
        number: LimitRecord(str(said["hazard"]), str(said["mechanism"]), float(limit), str(said.get("unit") or ""),
                      str(said.get("material") or ""))
        for number, said in _told(studio).items() if (limit := said.get("limit")) is not None and limit == limit
    }  # fmt: skip
    return tuple(one for one in limit_record(studio.paintings().values(), limit_of) if one.looked)


def beside(records: Iterable[HazardRecord], finding: Finding) -> HazardRecord | None:
    """What looking showed of the very limit that a finding is held against, of those of `by_limit`; None: nothing yet.

    A record without a material, from an older review, counts too.
    """
    held = (finding.hazard, finding.mechanism, finding.unit)
    same = [
        one for one in records
        if (one.hazard, one.mechanism, one.unit) == held and one.limit == finding.limit
        and one.material in ("", finding.material)
    ]  # fmt: skip
    if not same:
        return None
    looks = (sum(one.confirmed for one in same), sum(one.denied for one in same))
    return HazardRecord(finding.hazard, *looks, finding.mechanism, finding.limit, finding.unit, finding.material)


def _told(studio: Studio) -> dict[int, dict[str, Any]]:
    """What the last kept review said of each finding that an observation names; without those of no kept review."""
    paintings = studio.paintings().values()
    numbers = {o.finding for painting in paintings for o in painting.observations if o.finding is not None}
    return {number: said for number in sorted(numbers) if (said := _kept(studio, number))}


def _kept(studio: Studio, number: int) -> dict[str, Any]:
    try:
        return reviews.finding(studio, number)
    except NotThere:
        return {}
