"""Materials as data: what each adhesive, consolidant, support and paint can stand, and how we know.

One packaged file holds every limit; a studio's own `materials.toml` adds materials or overrules single values,
each with its reason, and the profile then says so in `overruled`.
"""

from envwatch.figures.materials.load import digest, load, profile, profiles, refuse_unknown
from envwatch.figures.materials.profile import (
    FirstWeeks,
    Limits,
    Materials,
    Profile,
    Words,
    Working,
    comfort,
    first_weeks_ends,
    first_weeks_length,
    taken_as,
)

__all__ = [
    "FirstWeeks", "Limits", "Materials", "Profile", "Words", "Working", "comfort", "digest", "first_weeks_ends",
    "first_weeks_length", "load", "profile", "profiles", "refuse_unknown", "taken_as",
]  # fmt: skip
