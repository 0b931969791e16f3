"""Humidity against what this canvas has known: since its lining, about its season, or about the day it was lined."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.drying_back import BACK_A_WEEK, RULE
from envwatch.core.arrays import Array, Mask, Whole
from envwatch.core.findings import Finding, Level, Mechanism, ours
from envwatch.figures import Confidence, Figure
from envwatch.figures import canvas as fig
from envwatch.hazards import grading
from envwatch.hazards.canvas import strain
from envwatch.hazards.canvas.response import CanvasCourse, Usual, season_of
from envwatch.hazards.grading import Lines

DAY = pd.Timedelta(days=1)
LEAST = float(fig.BAND_LEAST)
MECHANISM, LAYER = Mechanism.BEYOND, "canvas and paint"


Ends = tuple[Array, Array, Array, Array]  # lowest and highest level, calmest edges; each (n,)


@dataclass(frozen=True, eq=False)
class KnownRange:
    """What a canvas is held against: a level at each hour, the edges about it, and what it has met before."""

    level: Array  # (n,) NaN where not known
    low: Array  # (n,) offsets of the edges from it, `low` negative
    high: Array
    words: str  # "the season", "the 52.0 % of the day it was lined"
    note: str
    met: tuple[float, float] | None  # lowest and highest of a proven history
    source: str
    confidence: Confidence
    decidable_on: pd.Timestamp | None = None  # from here the full rule can be used
    too_short: bool = False  # so short that nothing may be called clear
    trailing: Mask | None = None  # (n,) true where the level is a trailing mean, to be replaced
    ends: tuple[Ends, ...] = ()  # what gaps leave open of level and edges


def beyond(seen: CanvasCourse) -> Finding:
    """How far the canvas went outside what it has known."""
    known = what_it_knows(seen)
    departure = seen.canvas_percent - known.level
    over = np.maximum(departure - known.high, known.low - departure)  # positive outside the band
    counts = over > 0
    if known.met is not None:  # and new to it
        drier, damper = strain.proof_excess(seen.canvas_percent, *known.met)
        counts &= (drier > 0) | (damper > 0)
    _, row = seen.worst(np.where(counts, over + 1000, over), 1)  # what is new to it goes first
    level = Level.UNKNOWN if row < 0 else grading.grade(over[row] if counts[row] else -1.0, 0.0, float(fig.BEYOND_ACT))
    reason = "Too little was read to say how far the canvas went from what it has known."
    if known.too_short and known.decidable_on is not None:
        reason = (
            "What this canvas has known is not known yet: its history is too short for a seasonal level; "
            f"it can be decided from {seen.date(known.decidable_on)} if readings go on."
        )
    if row < 0 or (level is Level.CLEAR and known.too_short):
        return seen.finish(_not_known(seen, known, reason), np.isfinite(seen.canvas_percent), counts, reason)
    found = _farthest(seen, known, row, level, over)
    advice = {
        "look_for": "New cracks or lifting at corners and edges, cupping, a lining come loose at the edge.",
        "do": f"Look at it in raking light; bring the air back towards {known.level[row]:.0f} % RH, "
        f"{RULE if departure[row] > 0 else BACK_A_WEEK}.",
        "avoid": "No keying out, no quick drying or damping, no cold air on it.",
        "clears": f"A week in which the canvas stays within {found.limit:.0f} % RH of {known.words}.",
    }
    return seen.finish(found, np.isfinite(departure), counts, reason, advice=advice)


def is_drier(seen: CanvasCourse, at: pd.Timestamp) -> bool:
    """Whether the canvas was drier at a time than the level it is held against."""
    row = int(seen.time.searchsorted(at))
    return bool(seen.canvas_percent[row] < what_it_knows(seen).level[row])


def what_it_knows(seen: CanvasCourse) -> KnownRange:
    """The level and the band for this canvas, from its lining on; the history before a lining proves nothing."""
    lined = seen.canvas.lined_on
    if lined is not None and lined < seen.end < lined + DAY * float(fig.FIRST_YEAR_DAYS):
        at_lining = humidity_at(seen, lined)
        about_it = seen.rh_percent[_days_about(seen, lined)]
        unread = seen.canvas.lined_at_percent is None and np.isnan(about_it).any()
        ends = _lined_between(seen, lined) if unread else ()
        if np.isfinite(at_lining):
            level, least = np.where(seen.time >= lined, at_lining, np.nan), np.full(len(seen.time), LEAST)
            entered = seen.canvas.lined_at_percent is not None
            about = "the room's humidity entered with it" if entered else "the mean of the three days about it"
            return KnownRange(
                level, -least, least, f"the {at_lining:.1f} % it was lined at",
                f"first year after the lining on {seen.date(lined)}: ± {LEAST:g} % about {about}",
                None, "our-judgement", Confidence.OUR_JUDGEMENT, ends=ends,
            )  # fmt: skip
        known = _from_history(seen, lined)
        return replace(known, ends=(*known.ends, *ends)) if known.ends else known
    return _from_history(seen, lined)


def humidity_at(seen: CanvasCourse, lined: pd.Timestamp) -> float:
    """What it was lined at: the room's humidity as entered with the lining, else the air of the three days about it.

    Hours of an intended stay (a humidity chamber, a wet treatment) are none of it: those next to it stand in, of two
    weeks either way. NaN with under a day of them read.
    """
    if seen.canvas.lined_at_percent is not None:
        return seen.canvas.lined_at_percent
    air = seen.rh_percent[_days_about(seen, lined)]
    return float(np.nanmean(air)) if np.isfinite(air).sum() >= 24 else float("nan")


def _lined_between(seen: CanvasCourse, lined: pd.Timestamp) -> tuple[Ends, ...]:
    """What gaps leave open of what it was lined at."""
    rows = _days_about(seen, lined)
    about = [climate.worst_in_gaps(seen.rh_percent, sign)[rows] for sign in (-1, 1)]
    if not np.isfinite(about).any():
        return ()
    low, high = (np.where(seen.time >= lined, np.nanmean(end), np.nan) for end in about)
    least = np.full(len(low), LEAST)
    return ((low, high, -least, least),)


def _days_about(seen: CanvasCourse, lined: pd.Timestamp) -> Whole:
    """Rows of the three days about a lining without hours of intended stays, those next to it in their stead."""
    first, middle, last = seen.time.searchsorted([lined - 14 * DAY, lined + DAY / 2, lined + 14 * DAY]).tolist()
    own = first + np.flatnonzero(~seen.drying[first:last])
    at = int(np.searchsorted(own, middle))
    return own[max(at - 36, 0) : at + 36]


def _from_history(seen: CanvasCourse, lined: pd.Timestamp | None) -> KnownRange:
    usable = ~seen.drying
    if lined is not None and lined < seen.end:
        usable = usable & np.asarray(seen.time >= lined)
    humidity = np.where(usable, seen.canvas_percent, np.nan)
    before = np.where(seen.time < seen.start.floor("h"), humidity, np.nan)
    proves = lined is None or lined < seen.end  # a climate from before the lining proves nothing of it
    band, of_trailing = (climate.fluctuation_band(before, c) if proves else None for c in (True, False))
    read = np.flatnonzero(np.isfinite(humidity) & (seen.time < seen.end))
    first = seen.time[read[0]] if len(read) else None
    days = (read[-1] - read[0] + 1) / 24 if len(read) else 0.0
    standard = band is not None and band.standard
    needs = fig.BAND_NEEDS_DAYS if days >= fig.BAND_PROVISIONAL_DAYS else fig.BAND_PROVISIONAL_DAYS
    sure = before[np.isfinite(before) & ~seen.suspect]
    met = (float(sure.min()), float(sure.max())) if standard and len(sure) else None
    level, trailing = seen.season if (usable | seen.drying).all() else season_of(humidity, seen)
    low, high = _edges(trailing, band, of_trailing)
    ends: tuple[Ends, ...] = ()
    if np.isnan(seen.rh_percent).any():
        lowest, highest = (season_of(np.where(usable, end, np.nan), seen)[0] for end in seen.ends)
        ends = ((lowest, highest, *_edges(trailing, band, of_trailing, calm=True)),)
    return KnownRange(
        level, low, high, "its seasonal level",
        _history_note(seen, band, days, lined), met, "en-15757", Confidence.FROM_MEMORY,
        None if standard or first is None else first + DAY * float(needs),
        days < fig.BAND_PROVISIONAL_DAYS, trailing, ends,
    )  # fmt: skip


def _edges(
    trailing: Mask, centred: climate.Band | None, of_trailing: climate.Band | None, calm: bool = False
) -> tuple[Array, Array]:
    """The edges of each hour: those of departures from a trailing mean where its own level is one. (n,), (n,)

    `calm`: as if nothing had departed in the hours not read.
    """
    ends = [
        (band.if_calm if calm else (band.low, band.high)) if band else (-LEAST, LEAST)
        for band in (centred, of_trailing)
    ]
    low, high = (np.where(trailing, ends[1][side], ends[0][side]) for side in (0, 1))
    return low, high


def _history_note(seen: CanvasCourse, band: climate.Band | None, days: float, lined: pd.Timestamp | None) -> str:
    since = "" if lined is None or lined >= seen.end else f" since the lining on {seen.date(lined)}"
    if lined is not None and lined < seen.end < lined + DAY * float(fig.FIRST_YEAR_DAYS):
        since += "; no readings from the day of the lining, so its season is taken instead"
    if band is None:
        return f"{days:.0f} d of readings{since}; edges ± {LEAST:g} % about the 30-day mean"
    kind = "13 months or more" if band.standard else f"{band.days:.0f} d, provisional: the standard asks for 13 months"
    return (
        f"history of {kind}{since}: 7th percentile {band.p7:.1f}, 93rd {band.p93:.1f} % RH, each side widened to "
        f"{LEAST:g} where calmer; coverage {100 * band.coverage:.0f} %"
    )


def _farthest(seen: CanvasCourse, known: KnownRange, row: int, level: Level, over: Array) -> Finding:
    """The hour farthest outside, or nearest to an edge, against the edge of its own side; with what gaps leave open."""
    departure = float(seen.canvas_percent[row] - known.level[row])
    value, side = abs(departure), known.low if departure < 0 else known.high
    edge = Figure(abs(float(side[row])), "% RH", known.source, known.confidence)
    edges, gaps = (float(edge), edge + fig.BEYOND_ACT), seen.gap_u(row)
    u, why, usual, of_level, constants = _held_against(seen, known, row)
    met = () if known.met is None else (("what it has met since", f"{known.met[0]:.1f} to {known.met[1]:.1f} % RH"),)
    working = (
        ("departure", f"{seen.canvas_percent[row]:.1f} - {known.level[row]:.1f} = {departure:+.1f} % RH, "
         f"edges {known.low[row]:+.1f} and {known.high[row]:+.1f}"),
        *seen.day_lines(row),
        ("what it is held against", known.note),
        *of_level,
        *met,
        *grading.what_would_change(value, "% RH", edges),
        *constants,
        ("uncertainty", why + (f"; gaps leave ± {gaps:.1f} % open" if gaps >= 0.05 else "")),
        *seen.strain_at(row, usual),
    )  # fmt: skip
    where = f"{value:.1f} % RH {'drier' if departure < 0 else 'damper'} than {known.words}"
    later = "" if known.decidable_on is None else f"; provisional until {seen.date(known.decidable_on)}"
    sentence = f"The canvas was at most {where}; the edge is {edge:.1f} %{ours(known)}{later}."
    if level >= Level.WATCH:
        new = "" if known.met is None else ", which it has not met since its history began"
        when = seen.moment(seen.time[row])
        sentence = f"On {when} the canvas was {where}{new}; the edge is {edge:.1f} %{ours(known)}{later}."
    elif over[row] > 0:
        sentence = f"The canvas went up to {where}, over the edge of {edge:.1f} %, as the record has it from before."
    found = seen.finding(
        MECHANISM, LAYER, level, sentence, edge, value=value, u=float(np.hypot(u, gaps)), row=row, limits=edges,
        working=working,
    )  # fmt: skip
    # how far over the edge of its own side any hour may have been, told from the edge named here
    counted = value if level >= Level.WATCH else min(value, edge - 0.1)  # what it has met before does not count
    found = seen.left_open(replace(found, value=counted), edge + _over_at_worst(seen, known), edges)
    return replace(found, value=value, decidable_on=known.decidable_on)


def _over_at_worst(seen: CanvasCourse, known: KnownRange) -> Array:
    """How far outside the band the canvas may have been at each hour, by what gaps leave open of it and the band."""
    over = np.full(len(seen.time), np.nan)
    least, most = seen.ends
    met = known.met or (np.inf, -np.inf)
    for lowest, highest, low, high in known.ends or ((known.level, known.level, known.low, known.high),):
        damper = np.where(most > met[1], most - lowest - high, np.nan)
        drier = np.where(least < met[0], low - (least - highest), np.nan)
        over = np.fmax(over, np.fmax(damper, drier))
    return over


def _held_against(seen: CanvasCourse, known: KnownRange, row: int) -> tuple[float, str, Usual, Lines, Lines]:
    """What a row is held against, a season or the day it was lined: the half-width of the difference and why, what its
    strain is reckoned from, and the lines for `why` of the level and of its constants."""
    level, lined, act = float(known.level[row]), seen.canvas.lined_on, ("act so far beyond it", fig.BEYOND_ACT)
    if known.trailing is None and lined is not None:  # the least edge of a season's band, without its band
        about = _days_about(seen, lined)
        temp_c = float(np.nanmean(seen.temp_c[about])) if np.isfinite(seen.temp_c[about]).any() else float("nan")
        usual = Usual(level, "what it was lined at", temp_c, "the three days about it")
        edge = ("edge, the least of a season's band taken for the first year", fig.BAND_LEAST)
        if seen.canvas.lined_at_percent is None:
            at = seen.time[about]
            u, why = seen.difference_u(at[0], at[-1] + DAY / 24, row) if len(at) else (float("nan"), "")
        else:  # an entered figure was read by no logger
            u, why = seen.sensor_at(row, 1, seen.tau_h).rh_u_percent, ""
            why = f"± {u:.1f} % RH: bias and noise of the logger; what the entered figure may be off by is not known"
        return u, why, usual, (), grading.constants(edge, act)
    words = "mean of the 15 days before and after"
    if known.trailing is not None and known.trailing[row]:
        words = (
            "mean of the 30 days before, provisional until 15 more days are read; the edges are those of the record's "
            "departures from such means"
        )
    now = seen.time[row]
    u, why = seen.difference_u(now - 30 * DAY, now, row)
    constants = grading.constants(
        ("least edge", fig.BAND_LEAST), act, ("percentiles", fig.BAND_LOW_PERCENTILE),
        ("and", fig.BAND_HIGH_PERCENTILE),
    )  # fmt: skip
    return u, why, replace(seen.usual(row), percent=level), (("its seasonal level", words),), constants


def _not_known(seen: CanvasCourse, known: KnownRange, reason: str) -> Finding:
    """Nothing judged: no level to hold it against, nothing read, or all of the period intended."""
    edge = Figure(LEAST, "% RH", known.source, known.confidence)
    found = seen.unread(MECHANISM, LAYER, edge, reason)
    return replace(
        found, decidable_on=known.decidable_on, working=(("what it is held against", known.note),),
        do="Keep the logger with it." if found.level is Level.UNKNOWN else "",
    )  # fmt: skip
