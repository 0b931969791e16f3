"""The air in which an adhesive may be worked and dried, for one quantity: yes, with care, no.

The ranges are in the materials file. "Yes" ends where the same adhesive would be watched in its first weeks, whatever
its range says; where the range names no "no", the limits to act in its first weeks are one. A reading within the
logger's error of an edge is at most "with care".
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from envwatch.cases.lining.checks import NO, NOT_KNOWN, WITH_CARE, YES, Check
from envwatch.core.text import number
from envwatch.figures import Figure
from envwatch.figures.coverage import WINDOW_NEEDS
from envwatch.figures.lining import FRESH_DAMP_ACT_ABOVE
from envwatch.figures.materials import Profile

CELSIUS, PERCENT = "°C", "% RH"
DAY_H, MONTH_D = 24, 30
TINY = 1e-9  # what adding and taking away leaves over


@dataclass(frozen=True)
class Edge:
    """One edge of a range. `counts`: the value itself lies beyond it; `why`: what happens there."""

    value: float
    why: str
    basis: str
    counts: bool = False

    def passed(self, value: float, sign: int) -> bool:
        """Whether a value lies beyond it; `sign` 1: above, -1: below."""
        over = sign * (value - self.value)
        return over > -TINY if self.counts else over > TINY


@dataclass(frozen=True)
class WorkingRange:
    """Yes from low to high; no under and over; with care between them. None: no such edge."""

    unit: str
    yes_low: Edge | None
    yes_high: Edge | None
    no_under: Edge | None
    no_over: Edge | None

    @property
    def words(self) -> str:
        """The range of "yes" in words."""
        low, high = self.yes_low, self.yes_high
        told = [f"{'over ' if low.counts else 'from '}{_plain(low.value)}"] if low else []
        told += [f"{'to under ' if high.counts else 'to '}{_plain(high.value)}"] if high else []
        basis = ", ".join(dict.fromkeys(edge.basis for edge in (low, high) if edge))
        return f"yes is {' '.join(told)} {self.unit} ({basis})"


def _plain(value: float) -> str:
    return f"{value:g}".replace("-", "−")


def temperature(p: Profile, film_forming_c: float | None = None) -> WorkingRange | None:
    """Temperature of the room. `film_forming_c`: of a dispersion's label; None: not known. [°C]"""
    w, first = p.working, p.first_weeks
    if w is None:
        return None
    cooler = float(first.cooler_c)
    watched = [p.heat_day_c, *([p.heat_month_c] if first.days >= MONTH_D else [])]
    # no month of an adhesive's own air is formed in first weeks that are shorter
    heat = [_first_weeks(float(limits.watch) - cooler, limits.watch) for limits in watched]
    low = [_edge(w.yes_low_c), _first_weeks(float(p.cold_c.watch), p.cold_c.watch)]
    under = _edge(w.no_under_c)
    if film_forming_c is not None and w.film_forming_margin_c is not None:
        under = _label(film_forming_c, w.film_forming_margin_c)
        low.append(under)
    return WorkingRange(
        CELSIUS, _stricter(low, -1), _stricter([_edge(w.yes_high_c), *heat], 1),
        under or _acts(p.cold_c.act, 0.0), _edge(w.no_over_c) or _acts(p.heat_day_c.act, -cooler),
    )  # fmt: skip


def humidity(p: Profile) -> WorkingRange | None:
    """Humidity of the room. [% RH]"""
    w = p.working
    if w is None:
        return None
    dry, damp = _watched_humidity(p)
    return WorkingRange(
        PERCENT, _stricter([_edge(w.yes_low_percent), dry], -1), _stricter([_edge(w.yes_high_percent), damp], 1),
        _edge(w.no_under_percent) or _acts(p.dry_percent.act, 0.0), _edge(w.no_over_percent) or _acts_damp(p),
    )  # fmt: skip


def canvas(p: Profile) -> WorkingRange | None:
    """The canvas's own humidity: what the limits of the first weeks are about. [% RH]"""
    w = p.working
    if w is None:
        return None
    dry, damp = _watched_humidity(p)
    under, over = _edge(w.canvas_no_under_percent), _edge(w.canvas_no_over_percent)
    return WorkingRange(
        PERCENT, _stricter([under, dry], -1), _stricter([over, damp], 1),
        under or _acts(p.dry_percent.act, 0.0), over or _acts_damp(p),
    )  # fmt: skip


def _watched_humidity(p: Profile) -> tuple[Edge, Edge]:
    damp = min(p.first_weeks.damp_watch_percent, p.damp_percent.watch)
    return _first_weeks(float(p.dry_percent.watch), p.dry_percent.watch), _first_weeks(float(damp), damp)


def _edge(figure: Figure | None) -> Edge | None:
    return None if figure is None else Edge(float(figure), figure.note, figure.confidence.value)


def _label(film_forming_c: float, margin: Figure) -> Edge:
    why = (
        f"it forms no film: its label's film-forming temperature is {_plain(film_forming_c)} °C, and {margin:g} K more"
    )
    return Edge(film_forming_c + float(margin), why, margin.confidence.value)


def _first_weeks(value: float, limit: Figure) -> Edge:
    return Edge(value, "its first weeks are watched there", limit.confidence.value, counts=True)


def _acts(limit: Figure | None, shift: float) -> Edge | None:
    """The limit to act in the first weeks, as a "no" where the range has none."""
    if limit is None:
        return None
    return Edge(float(limit) + shift, "there its first weeks ask to act", limit.confidence.value, counts=True)


def _acts_damp(p: Profile) -> Edge | None:
    fresh = p.first_weeks.damp_watch_percent + FRESH_DAMP_ACT_ABOVE
    act = p.damp_percent.act
    return _acts(act, 0.0 if act is None else min(fresh - float(act), 0.0))


def _stricter(edges: list[Edge | None], sign: int) -> Edge | None:
    held = [edge for edge in edges if edge is not None]
    return min(held, key=lambda edge: (sign * edge.value, not edge.counts), default=None)


# ------------------------------------------------------------------------------------------------------- a last day


@dataclass(frozen=True, eq=False)
class LastDay:
    """The last 24 hours of one quantity. `hours`: (24,) NaN where not read; `plus_minus`: of one reading.

    `doubted`: some of the readings bear a mark.
    """

    hours: np.ndarray
    plus_minus: float
    doubted: bool = False

    @property
    def unread(self) -> int:
        """Hours that were not read."""
        return DAY_H - int(np.isfinite(self.hours).sum())

    @property
    def known(self) -> bool:
        """Whether enough of it was read to speak of a mean."""
        return len(self.hours) == DAY_H and self.unread <= (1 - WINDOW_NEEDS) * DAY_H

    @property
    def mean(self) -> float:
        """Mean of the hours read; NaN where none was."""
        return float(np.nanmean(self.hours)) if np.isfinite(self.hours).any() else float("nan")


def judged(what: str, band: WorkingRange | None, day: LastDay, watched: str) -> Check:
    """A last day against a range.

    Parameters
    ----------
    band : None: no range is known, and nothing is judged.
    watched : what to look for where the range does not say what happens on that side.

    Returns
    -------
    No where the mean or the latest hour lies beyond a "no"; yes where every hour lies in the range with the logger's
    error to spare, all were read and none bears a mark; else with care. Under 75 % of the hours read: not known.
    """
    if band is None:
        return Check(what, NOT_KNOWN, "The materials file has no working range for it; a studio may add its own.")
    if not day.known:
        return Check(what, NOT_KNOWN, f"{day.unread} of its last {DAY_H} hours were not read. Read the logger out, or "
                     "hang one there for a day.")  # fmt: skip
    read = day.hours[np.isfinite(day.hours)]
    low, high = float(read.min()), float(read.max())
    told = (
        f"{number(day.mean)} ± {number(day.plus_minus)} {band.unit} over its last {DAY_H} h "
        f"({number(low)} to {number(high)})"
    )
    word, why = _word(band, day, low, high, float(read[-1]), watched)
    return Check(what, word, f"{told}; {why}.", day.mean, low, high, day.plus_minus, band.unit)


def _word(band: WorkingRange, day: LastDay, low: float, high: float, latest: float, watched: str) -> tuple[str, str]:
    beyond = [told for value in (day.mean, latest) for told in beyond_no(band, value, value)]
    if beyond:
        return NO, f"no {beyond[0]}; {band.words}"
    open_ = list(_not_yes(band, day, low, high, watched))
    if not open_:
        return YES, band.words
    return WITH_CARE, f"{band.words}; {'; '.join(dict.fromkeys(open_))}"


def beyond_no(band: WorkingRange, low: float | None, high: float | None) -> Iterator[str]:
    """Which "no" the lowest and the highest of some values pass, in words; None: that one is not known."""
    for edge, value, side, sign in ((band.no_under, low, "under", -1), (band.no_over, high, "over", 1)):
        if edge is not None and value is not None and edge.passed(value, sign):
            side = {"under": "at or under", "over": "from"}[side] if edge.counts else side
            yield f"{side} {_plain(edge.value)} {band.unit}: {edge.why or 'outside its range'} ({edge.basis})"


def beyond_yes(band: WorkingRange, low: float | None, high: float | None, watched: str) -> Iterator[str]:
    """On which side the lowest and the highest leave the range of "yes", and what to watch for there."""
    for edge, no, value, side, sign in (
        (band.yes_low, band.no_under, low, "lower", -1), (band.yes_high, band.no_over, high, "higher", 1),
    ):  # fmt: skip
        if edge is not None and value is not None and edge.passed(value, sign):
            why = edge.why if edge.counts or no is None else no.why
            look = f"; look for {watched}" if edge.counts or no is None or no.counts else ""
            yield f"watch that it goes no {side}{f': {why}' if why else ''}{look}"


def _not_yes(band: WorkingRange, day: LastDay, low: float, high: float, watched: str) -> Iterator[str]:
    outside = list(beyond_yes(band, low, high, watched))
    yield from outside
    if not outside:
        for told in beyond_yes(band, low - day.plus_minus, high + day.plus_minus, watched):
            yield f"within the logger's error of an edge: {told}"
    if day.unread:
        yield f"{day.unread} of its last {DAY_H} hours were not read"
    if day.doubted:
        yield "some readings bear a mark"


__all__ = ["WorkingRange", "Edge", "LastDay", "beyond_no", "beyond_yes", "canvas", "humidity", "judged", "temperature"]
