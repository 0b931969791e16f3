"""How to hang it: two fixings, what each must bear, pads, and how many people."""

from __future__ import annotations

from dataclasses import dataclass

from envwatch.figures import hanging as fig


@dataclass(frozen=True)
class Fixing:
    """How a painting is hung. `each_kg`: what each of two fixings must be rated for; None where no weight is known."""

    weight_kg: float | None
    each_kg: float | None
    people: int
    installer: bool
    pads_mm: int


def fixing(weight_kg: float | None, width_cm: float | None, height_cm: float | None, pads_mm: float = 0.0) -> Fixing:
    """Two wall fixings, each rated for the whole weight four times over; pads as solved for, else the usual.

    A weight that is not known is taken as one that wants two people.

    >>> fixing(12, 70, 55).each_kg, fixing(12, 70, 55).people, fixing(None, 70, 55).people
    (48.0, 1, 2)
    """
    long_side = max(width_cm or 0, height_cm or 0)
    heavy = weight_kg is None or weight_kg > fig.TWO_PEOPLE_KG or long_side > 100
    return Fixing(
        weight_kg, None if weight_kg is None else float(fig.FIXING_TIMES) * weight_kg, 2 if heavy else 1,
        weight_kg is not None and weight_kg > fig.INSTALLER_KG, int(pads_mm or fig.PADS_MM),
    )  # fmt: skip
