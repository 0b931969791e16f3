"""The Monday review: what came in, which paintings need me, what the rooms did, what I do this week.

Everything is read from the archive, every painting goes through `verdict.judge_either`, and what comes out
is plain data for the terminal, the printed sheet and the page. Nothing here prints.
"""

from envwatch.cases.review.making import keep, make
from envwatch.cases.review.model import LoggerLine, PaintingLine, PlaceLine, Review, Revised, Sparkline, TaskLine
from envwatch.cases.review.paintings import painting_line
from envwatch.cases.review.span import clock_notes, default_period
from envwatch.cases.review.tasks import tasks_of, wanted

__all__ = [
    "TaskLine", "LoggerLine", "PaintingLine", "PlaceLine", "Review", "Revised", "Sparkline", "clock_notes",
    "default_period", "keep", "make", "painting_line", "tasks_of", "wanted",
]  # fmt: skip
