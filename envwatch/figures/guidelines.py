"""Named targets and types of control for rooms with collections, as data.

None of them is a verdict on a painting; they are what lenders, insurers and institutions write into papers.
"""

from __future__ import annotations

from dataclasses import dataclass

from envwatch.figures.kinds import Confidence, Figure

PUBLISHED, FROM_MEMORY, OURS = Confidence.PUBLISHED, Confidence.FROM_MEMORY, Confidence.OUR_JUDGEMENT
NAN = float("nan")


@dataclass(frozen=True)
class Target:
    """A band of humidity and temperature, and the largest change in 24 h. NaN: the source sets none."""

    name: str
    rh_low: float
    rh_high: float
    temp_low_c: float
    temp_high_c: float
    change_24h_percent: float  # ± in % RH
    change_24h_k: float  # ± in K
    source: str
    confidence: Confidence
    note: str = ""


TARGETS = (
    Target("directors' group, interim, hygroscopic objects", 40, 60, 16, 25, 10, NAN, "directors-2014", PUBLISHED),
    Target("Australian conservators, interim", 45, 55, 15, 25, 5, 4, "australian-2014", PUBLISHED,
           "seasonal drift within 40 to 60 %"),
    Target("Australian conservators, temperate", 40, 60, 15, 25, NAN, NAN, "australian-2018", PUBLISHED,
           "45 to 55 % with ±5 %"),
    Target("Australian conservators, humid tropics", 45, 65, 15, 25, NAN, NAN, "australian-2018", PUBLISHED,
           "50 to 60 % with ±5 %"),
    Target("national institute, research on allowable ranges", 37, 53, 18.9, 23.3, NAN, NAN, "mecklenburg-ranges",
           PUBLISHED, "45 ± 8 % and 70 ± 4 °F"),
    Target("British national directors, 2009", 40, 60, 16, 25, NAN, NAN, "uk-directors-2009", FROM_MEMORY),
    Target("British government indemnity", 40, 65, 16, 25, 10, NAN, "uk-indemnity", FROM_MEMORY,
           "verify against the edition in force"),
    Target("archive storage, BS 4971", 35, 60, 13, 23, NAN, NAN, "bs-4971", FROM_MEMORY, "yearly mean up to 18 °C"),
    Target("buildings for collections, EN 16893, organic", 30, 60, NAN, NAN, NAN, NAN, "en-16893", FROM_MEMORY,
           "stable within; history first"),
    Target("the old norm", 45, 55, 18, 22, NAN, NAN, "old-norm", PUBLISHED, "50 ± 5 %, 20 ± 2 °C"),
)  # fmt: skip


@dataclass(frozen=True)
class ControlClass:
    """One type of control of the museum handbook. NaN: not asked for.

    `rh_short`, `temp_short_c`: allowance for short-term fluctuation, ±. `*_up`, `*_down`: how far the season
    may leave the yearly mean; 0 means that the short-term fluctuation is taken from the yearly mean itself.
    """

    name: str
    rh_short: float
    temp_short_c: float
    rh_season_down: float
    rh_season_up: float
    temp_season_down_c: float
    temp_season_up_c: float
    rh_low: float
    rh_high: float
    temp_low_c: float
    temp_high_c: float


CONTROL_SOURCE = "ashrae-museums"
CONTROL_CONFIDENCE = FROM_MEMORY  # humidity figures read in a table that quotes it; temperatures, limits from memory
CONTROL_CLASSES = (
    ControlClass("AA", 5, 2, 0, 0, 5, 5, 35, 65, 10, 25),
    ControlClass("A1", 5, 2, 10, 10, 10, 5, 35, 65, 10, 25),
    ControlClass("A2", 10, 2, 0, 0, 10, 5, 35, 65, 10, 25),
    ControlClass("B", 10, 5, 10, 10, 20, 10, 30, 70, NAN, 30),
    ControlClass("C", NAN, NAN, NAN, NAN, NAN, NAN, 25, 75, NAN, 40),
    ControlClass("D", NAN, NAN, NAN, NAN, NAN, NAN, NAN, 75, NAN, NAN),
)
CONTROL_NEEDS_SHARE = Figure(0.95, "share of hours", "our-judgement", OURS, "the handbook gives no rule for a record")
CONTROL_LONGEST_H = Figure(24, "h", "our-judgement", OURS, "the longest excursion that still passes")
