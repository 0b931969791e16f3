"""The case for a dehumidifier in a room, or against it, beside everything else that could be done about the damp."""

from envwatch.cases.dehumidifier.case import make
from envwatch.cases.dehumidifier.inputs import DryingInputs, Money, Weighed
from envwatch.cases.dehumidifier.machine import (
    Capacity,
    Litres,
    Machine,
    RatingPoint,
    SheetPoint,
    USPints,
    condensing,
    desiccant,
)
from envwatch.cases.dehumidifier.model import DehumidifierCase, Outcome

__all__ = [
    "Capacity",
    "DehumidifierCase",
    "DryingInputs",
    "Litres",
    "Machine",
    "Money",
    "Outcome",
    "RatingPoint",
    "SheetPoint",
    "USPints",
    "Weighed",
    "condensing",
    "desiccant",
    "make",
]
