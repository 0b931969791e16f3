"""Around the lining: which adhesive suits where it goes, may I line today, what is due, may it leave, a loan."""

from envwatch.due import Step, due, due_after
from envwatch.lining.ahead import Forecast
from envwatch.lining.bench import Bench
from envwatch.lining.choosing import Comparison, compare
from envwatch.lining.destination import Destination, of_place, of_year
from envwatch.lining.loan import Agreement, LoanReport
from envwatch.lining.release import Journey, Release, hand_over, may_leave
from envwatch.lining.today import Family, Today, may_line

__all__ = [
    "Agreement", "Bench", "Comparison", "Destination", "Family", "Forecast", "Journey", "LoanReport", "Release", "Step",
    "Today", "compare", "due", "due_after", "hand_over", "may_leave", "may_line", "of_place", "of_year",
]  # fmt: skip
