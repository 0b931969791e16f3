"""The case for a dehumidifier in a room, or against it, beside everything else that could be done about the damp."""

from envwatch.cases.dehumidifier.case import make
from envwatch.cases.dehumidifier.inputs import Asked, Money, Weighed
from envwatch.cases.dehumidifier.machine import (
    Capacity,
    Litres,
    Machine,
    Point,
    RatingPoint,
    USPints,
    condensing,
    desiccant,
)
from envwatch.cases.dehumidifier.model import Case, Outcome

__all__ = [
    "Asked", "Capacity", "Case", "Litres", "Machine", "Money", "Outcome", "Point", "RatingPoint", "USPints", "Weighed",
    "condensing", "desiccant", "make",
]  # fmt: skip
