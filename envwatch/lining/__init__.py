"""Around the lining: which adhesive suits where it goes, may I line today, what is due, may it leave, a loan."""

from envwatch.lining.choosing import Comparison, compare
from envwatch.lining.destination import Destination, of_place, of_spot
from envwatch.lining.due import Step, due, due_after
from envwatch.lining.today import Forecast, Today, may_line

__all__ = [
    "Comparison", "Destination", "Forecast", "Step", "Today", "compare", "due", "due_after", "may_line", "of_place",
    "of_spot",
]  # fmt: skip
