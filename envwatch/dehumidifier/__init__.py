"""The case for a dehumidifier in a room, or against it, beside everything else that could be done about the damp."""

from envwatch.dehumidifier.asked import Asked, Money, Weighed
from envwatch.dehumidifier.case import Case, Outcome, make
from envwatch.dehumidifier.machine import Capacity, Litres, Machine, Point, RatingPoint, USPints, condensing, desiccant

__all__ = [
    "Asked", "Capacity", "Case", "Litres", "Machine", "Money", "Outcome", "Point", "RatingPoint", "USPints", "Weighed",
    "condensing", "desiccant", "make",
]  # fmt: skip
