"""Named targets and types of control for rooms with collections, as data.

None of them is a verdict on a painting; they are what lenders, insurers and institutions write into papers.
"""

from __future__ import annotations

from dataclasses import dataclass

from envwatch.core.quantities import Confidence, Figure

PUBLISHED, FROM_MEMORY, OURS = Confidence.PUBLISHED, Confidence.FROM_MEMORY, Confidence.OUR_JUDGEMENT
NAN = float("nan")
Pair = tuple[float, float]


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


def _target(
    name: str, rh: Pair, temp_c: Pair, change: Pair, source: str, confidence: Confidence, note: str = ""
) -> Target:
    def figure(value: float, unit: str) -> float:
        return Figure(value, unit, source, confidence, name) if value == value else value

    return Target(
        name, figure(rh[0], "% RH"), figure(rh[1], "% RH"), figure(temp_c[0], "°C"), figure(temp_c[1], "°C"),
        figure(change[0], "% RH"), figure(change[1], "K"), source, confidence, note,
    )  # fmt: skip


ANY = (NAN, NAN)
TARGETS = (
    _target("directors' group, hygroscopic objects", (40, 60), (16, 25), (10, NAN), "directors-2014", FROM_MEMORY),
    _target(
        "Australian conservators, interim", (45, 55), (15, 25), (5, 4), "australian-2014", PUBLISHED,
        "seasonal drift within 40 to 60 %",
    ),
    _target(
        "Australian conservators, temperate", (40, 60), (15, 25), ANY, "australian-2018", PUBLISHED, "45 to 55 ± 5 %"
    ),
    _target(
        "Australian conservators, humid tropics", (45, 65), (15, 25), ANY, "australian-2018", PUBLISHED,
        "50 to 60 % with ±5 %",
    ),
    _target(
        "research on allowable ranges", (37, 53), (18.9, 23.3), ANY, "mecklenburg-ranges", PUBLISHED,
        "45 ± 8 % and 70 ± 4 °F",
    ),
    _target("British national directors, 2009", (40, 60), (16, 25), ANY, "uk-directors-2009", FROM_MEMORY),
    _target(
        "British government indemnity", (40, 65), (16, 25), (10, NAN), "uk-indemnity", FROM_MEMORY,
        "verify against the edition in force",
    ),
    _target("archive storage, BS 4971", (35, 60), (13, 23), ANY, "bs-4971", FROM_MEMORY, "yearly mean up to 18 °C"),
    _target(
        "buildings for collections, EN 16893, organic", (30, 60), ANY, ANY, "en-16893", FROM_MEMORY,
        "stable within; history first",
    ),
    _target("the old norm", (45, 55), (18, 22), ANY, "old-norm", PUBLISHED, "50 ± 5 %, 20 ± 2 °C"),
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


def _class(name: str, short: Pair, rh_season: Pair, temp_season_c: Pair, rh: Pair, temp_c: Pair) -> ControlClass:
    """All from memory: neither the handbook nor a table that quotes it was seen."""

    def figures(unit: str, values: tuple[float, ...]) -> tuple[float, ...]:
        return tuple(Figure(x, unit, "ashrae-museums", FROM_MEMORY, f"type {name}") if x == x else x for x in values)

    return ControlClass(
        name,
        *figures("% RH", short[:1]), *figures("K", short[1:]), *figures("% RH", rh_season),
        *figures("K", temp_season_c), *figures("% RH", rh), *figures("°C", temp_c),
    )  # fmt: skip


CONTROL_CLASSES = (  # seasons as (down, up)
    _class("AA", (5, 2), (0, 0), (5, 5), (35, 65), (10, 25)),
    _class("A1", (5, 2), (10, 10), (10, 5), (35, 65), (10, 25)),
    _class("A2", (10, 2), (0, 0), (10, 5), (35, 65), (10, 25)),
    _class("B", (10, 5), (10, 10), (20, 10), (30, 70), (NAN, 30)),
    _class("C", ANY, ANY, ANY, (25, 75), (NAN, 40)),
    _class("D", ANY, ANY, ANY, (NAN, 75), ANY),
)
CONTROL_NEEDS_SHARE = Figure(0.95, "share of hours", "our-judgement", OURS, "the handbook gives no rule for a record")
CONTROL_LONGEST_H = Figure(24, "h", "our-judgement", OURS, "the longest excursion that still passes")
