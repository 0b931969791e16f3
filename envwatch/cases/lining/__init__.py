"""Around the lining: which adhesive suits where it goes, may I line today, what is due, may it leave, a loan."""

from envwatch.cases.aftercare import CareStep, due, due_after
from envwatch.cases.lining.adhesives import Comparison, compare
from envwatch.cases.lining.ahead import Forecast
from envwatch.cases.lining.bench import Bench
from envwatch.cases.lining.destination import Destination, of_place, of_year
from envwatch.cases.lining.readiness import Family, Today, may_line
from envwatch.cases.lining.release import Journey, Release, hand_over, may_leave

__all__ = [
    "Bench", "Comparison", "Destination", "Family", "Forecast", "Journey", "Release", "CareStep",
    "Today", "compare", "due", "due_after", "hand_over", "may_leave", "may_line", "of_place", "of_year",
]  # fmt: skip
