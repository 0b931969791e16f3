"""The limits in force, all of them, by a name of their own: kept with each review, so that they can be compared later.

Kept whole and not as they were applied: which step of a limit a finding names depends on the finding.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from importlib import import_module

from envwatch.cases.review.hit_rate import HazardRecord
from envwatch.figures import Figure
from envwatch.figures.materials import Profile

JUDGED_BY = ("canvas", "condensation", "coverage", "guidelines", "lining", "mould", "response", "walls")
Limit = dict[str, float | str]


def in_force(materials: Mapping[str, Profile], used: Iterable[str]) -> dict[str, Limit]:
    """Figures of the hazards, and all values of the materials named, with unit, source and confidence.

    >>> from envwatch.figures.materials import profiles
    >>> in_force(profiles(), ["eva_film"])["heat-seal film: heat hour, act"]["limit"]
    40.0
    """
    named = dict(_figures())
    for key in sorted(set(used) & set(materials)):
        named |= dict(_of_profile(materials[key]))
    return {name: _told(figure) for name, figure in named.items()}


def _told(figure: Figure) -> Limit:
    return {"limit": float(figure), "unit": figure.unit, "source": figure.source, "confidence": figure.confidence.value}


def _figures() -> Iterator[tuple[str, Figure]]:
    for subject in JUDGED_BY:
        for name, value in vars(import_module(f"envwatch.figures.{subject}")).items():
            if isinstance(value, Figure):
                yield f"{subject}: {name.lower().replace('_', ' ')}", value


def _of_profile(profile: Profile) -> Iterator[tuple[str, Figure]]:
    for field in fields(profile):
        value = getattr(profile, field.name)
        words = field.name.rpartition("_")[0].replace("_", " ") or field.name
        if isinstance(value, Figure):
            yield f"{profile.short}: {words}", value
        elif is_dataclass(value):
            for step in fields(value):
                if isinstance(getattr(value, step.name), Figure):
                    yield f"{profile.short}: {words}, {step.name.replace('_', ' ')}", getattr(value, step.name)


def with_looks(
    limits: Mapping[str, Limit], looked: Iterable[HazardRecord], materials: Mapping[str, Profile]
) -> dict[str, Limit]:
    """Each limit of a material with the findings held against it that were `confirmed` and `denied`, where one was.

    A limit is known again by its material, mechanism, figure and unit. Those by which all paintings are judged are not:
    their figures are worked on before a finding is held against them.
    """
    told = dict(limits)
    for one in looked:
        short = materials[one.material].short if one.material in materials else None
        for name, held in limits.items():
            whose, _, step = name.partition(": ")
            of_it = step.removeprefix("first, ").startswith(f"{one.mechanism}".partition(",")[0] or " ")
            if whose == short and of_it and (held["limit"], held["unit"]) == (one.limit, one.unit):
                told[name] = {**told[name], "confirmed": one.confirmed, "denied": one.denied}
    return told


def of_materials(name: str, shorts: Iterable[str]) -> bool:
    """Whether a name is that of a material's limit, of one of those named."""
    return name.partition(":")[0] in set(shorts)


def of_hazards(name: str) -> bool:
    """Whether a name is that of a figure by which all paintings are judged."""
    return name.partition(":")[0] in JUDGED_BY
