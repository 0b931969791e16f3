"""Materials that hold badly on each other, or move again with each other, whatever the climate."""

from __future__ import annotations

from collections.abc import Iterator

from envwatch.climate.exposure import ROOM
from envwatch.core.findings import Finding, Hazard, Level, Mechanism
from envwatch.core.painting import Layer, Painting, Role
from envwatch.figures.materials import Materials, Profile
from envwatch.figures.materials.first_weeks import UNKNOWN
from envwatch.hazards.lining.layers import name_of

LAID_ON = (
    Role.FILM, Role.PATCH, Role.TEAR_MEND, Role.INSERT, Role.STRIP_LINING, Role.CONSOLIDANT, Role.IMPREGNATION,
)  # fmt: skip
HEATED_AGAIN = (Role.PATCH, Role.TEAR_MEND, Role.IMPREGNATION, Role.CONSOLIDANT, Role.OLD_LINING)


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
    waxes = [layer for layer, profile in known if profile.family == "wax"]
    for layer, profile in known:
        if not waxes or layer.role not in LAID_ON or all(_older(layer, wax) for wax in waxes):
            continue
        name = name_of(layer, profile)
        if profile.adheres_to_wax == "no":
            yield name, f"The {name} holds badly on traces of wax; make a peel trial."
        elif profile.adheres_to_wax == "test" and profile.water_borne == "yes":
            yield name, f"The {name} is said both to hold on wax and not to; make a peel trial."


def _heat_seal_on_heat_seal(known: list[tuple[Layer, Profile]]) -> Iterator[tuple[str, str]]:
    """Patches and impregnation of the film's own family move again when the film is sealed."""
    films = [(profile.family, layer) for layer, profile in known if layer.role == Role.FILM and _thermoplastic(profile)]
    for layer, profile in known:
        for family, film in films:
            if layer.role in HEATED_AGAIN and family == profile.family and not _older(film, layer):
                name = name_of(layer, profile)
                yield (
                    name,
                    f"The {name} is of the film's own family and moves again when that is heated; note order and heat.",
                )


def _thermoplastic(profile: Profile) -> bool:
    return profile.softening_c is not None and profile.family != "epoxy"


def _older(layer: Layer, other: Layer) -> bool:
    """Known to have been there before the other."""
    return layer.applied_on is not None and other.applied_on is not None and layer.applied_on < other.applied_on
