"""How the values of a column behave: which two columns are most likely the air's temperature and humidity.

The figures here are our judgement: a room is about 19 °C and 50 % RH, more or less; its air moves and is steady from
reading to reading; a constant, a counter, a node's number and a battery's volts are not.
"""

from __future__ import annotations

import re
from itertools import product
from typing import NamedTuple

import numpy as np

from envwatch import air
from envwatch.core.errors import Question
from envwatch.figures import logs as f
from envwatch.logs.tables.shapes import Column
from envwatch.logs.text.cells import SENTINELS, celsius, numbers, tidy
from envwatch.logs.text.words import pattern, plain

ROWS, FEW_ROWS, SHOWN, CHOICES = 3000, 48, 3, 4
SELDOM = 1.5  # two humidities without any temperature
LONG_ROWS = 150  # so many and more, and a humidity shows its air: up to two and a half times the margin
LAGS, WIDER = (1, 4, 12), float(np.log(18 / 7))  # rows; of the spreads of humidity and temperature
LOOKED_AT, FOLLOWING_LOOKED_AT = 60, 10_000  # columns of a quantity; columns held against a pair, all pairs together


def values(column, unit: str | None = None) -> np.ndarray:
    """The first readings of a column, NaN where there is none; fractions in percent, °F and K in °C. (n,)"""
    some = column.slice(0, ROWS)
    mark = "," if any("," in (cell or "") for cell in some.slice(0, 200).to_pylist()) else "."
    found = numbers(some, mark)
    got = np.where(np.isin(found.values, SENTINELS), np.nan, found.values)
    if unit in ("%", "1") and np.isfinite(got).any() and np.nanmax(got) <= f.FRACTION_MOST:
        return got * 100
    return celsius(got, found.unit if found.unit in ("F", "K") else unit or "C")


def middle(got: np.ndarray) -> float:
    """The median of what is there; 0 where nothing is."""
    got = got[np.isfinite(got)]
    return float(np.median(got)) if len(got) else 0.0


def dew_home(dew: Column, probes, columns) -> tuple[int | None, float]:
    """The probe from which a dew point follows, and by how much it differs there; None, where it follows from none."""
    apart = []
    for p in probes:
        t = values(columns[p.temp.at], p.temp.role.unit)
        warm = middle(values(columns[p.temp.at])) > f.ROOM_WARMEST_C
        if p.temp.role.unit is None and f.ROOM_WARMEST_C < middle(t) < 120:  # as the reader will take it
            t = celsius(t, "F")
        d = values(columns[dew.at], dew.role.unit or p.temp.role.unit or ("F" if warm else "C"))
        apart.append(np.nan if p.rh is None else dew_point_apart(t, values(columns[p.rh.at], "%"), d))
    if not np.isfinite(apart).any():
        return 0, np.nan
    best = int(np.nanargmin(apart))
    return (best if apart[best] <= f.DEW_POINT_WRONG_C else None), apart[best]


def without_dew_point(dew: Column, apart: float, probes, columns, sure: bool, name: str) -> list[str]:
    """The note that a dew point was left out, where it stands still or the columns were answered.

    Raises
    ------
    Question : it contradicts temperature and humidity.
    """
    said = f"{dew.called} differs by {apart:.1f} K from the dew point of temperature and humidity"
    if sure or not lively(values(columns[dew.at])):
        return [f"{said} and was left out."]
    answer = ",".join(f"{c.at + 1}" for p in probes for c in (p.temp, p.rh) if c)
    rows = "; ".join(shown(c, columns) for p in probes[:3] for c in (p.temp, p.rh, dew) if c)
    raise Question(
        f"{said}: a column, or its unit, is not what its header says. First rows: {rows}. Which columns are the "
        "air's, temperature first?", "columns", (answer,), place=name)  # fmt: skip


def lively(got: np.ndarray) -> bool:
    """Whether a column moves as readings do: not constant, no counter, no few levels."""
    return _stillness(got[np.isfinite(got)]) < 1


def whole_and_few(got: np.ndarray) -> bool:
    """Whether a column holds a few whole numbers, as a node's or a zone's."""
    got = got[np.isfinite(got)]
    return len(got) > 2 and bool((got == np.round(got)).all()) and len(np.unique(got)) <= 3


def _stillness(got: np.ndarray) -> float:
    """What speaks against a reading of the air in how a column moves, the more the longer it is; 0: nothing does."""
    size = len(got)
    if size < 3:
        return 0.0
    steps = np.diff(got)
    if not steps.any():
        return min(8.0, 1 + size / 12)
    if size > 6 and np.ptp(steps) < 1e-6:
        return 8.0
    one_way = min(8.0, size / 8) * bool((steps >= 0).all() or (steps <= 0).all())
    few = min(4.0, size / 12) * (len(np.unique(got)) < 4) + min(3.0, size / 24) * (np.ptp(got) < 0.3)
    return float(one_way + few + 4 * (size >= 24 and _steadiness(got) < 0.2))


def _steadiness(got: np.ndarray) -> float:
    """Correlation of each reading with the next."""
    a, b = got[:-1] - got.mean(), got[1:] - got.mean()
    scale = float(np.sqrt((a * a).sum() * (b * b).sum()))
    return float((a * b).sum()) / scale if scale else 0.0


def _fit(got: np.ndarray, usual: float, spread: float, least: float, most: float) -> float:
    """How well a column fits a quantity: the logarithm of a likelihood, by its middle and its movement."""
    got = got[np.isfinite(got)]
    if not len(got):
        return -np.inf
    low, centre, high = np.percentile(got, [1, 50, 99])
    if low < least or high > most:
        return -np.inf
    return -0.5 * ((centre - usual) / spread) ** 2 - _stillness(got)


def as_temperature(got: np.ndarray) -> float:
    """How well a column fits a room's temperature. (n,) [°C] -> log likelihood"""
    return _fit(got, 18, 7, -40, 50) - 3 * (middle(got) > 32)


def as_humidity(got: np.ndarray) -> float:
    """How well a column fits a room's humidity. (n,) [% RH] -> log likelihood"""
    return _fit(got, 50, 18, 1, 105) - 3 * (middle(got) < 15)


def dew_point_apart(temp_c: np.ndarray, rh_percent: np.ndarray, dew_c: np.ndarray) -> float:
    """By how much a given dew point differs from that of temperature and humidity; NaN where none can be compared."""
    size = min(map(len, (temp_c, rh_percent, dew_c)))
    temp_c, rh_percent, dew_c = temp_c[:size], rh_percent[:size], dew_c[:size]
    rows = np.isfinite(temp_c) & (rh_percent > 5) & (rh_percent <= 105) & (dew_c > 0) & (np.abs(temp_c) < 90)
    if rows.sum() < 3:
        return np.nan
    own = air.dew_point(temp_c[rows], np.minimum(rh_percent[rows], 100))
    return float(np.nanmedian(np.abs(own - dew_c[rows])))


class Pair(NamedTuple):
    """A temperature and a humidity, how likely both are what they are taken for, and whether a third follows.

    one_air : what of the weight is for moving together. alike : how likely both are temperatures, or both humidities.
    """

    temp: Column
    rh: Column
    weight: float
    proved: bool = False
    one_air: float = 0.0
    alike: float = -np.inf

    @property
    def answer(self) -> str:
        """Its columns, as a person counts them."""
        return f"{self.temp.at + 1},{self.rh.at + 1}"


def pairs(temps: list[Column], hums: list[Column], columns) -> list[Pair]:
    """Every temperature with every humidity, the likeliest first; without those that cannot be.

    Of more than `LOOKED_AT` columns the likeliest alone; what follows from two is looked for so often at most as said.
    """
    read = {c.at: values(columns[c.at], "%" if c.role.unit == "%" else c.role.unit) for c in (*temps, *hums)}
    t_fit, h_fit = ({c.at: fit(read[c.at]) for c in some} for some, fit in
                    ((temps, as_temperature), (hums, as_humidity)))  # fmt: skip
    both = product(_likely(temps, t_fit), _likely(hums, h_fit))
    found = [Pair(t, h, t_fit[t.at] + h_fit[h.at] + _together(t.at, h.at, read)) for t, h in both if t.at != h.at]
    found.sort(key=lambda p: -p.weight)
    first = FOLLOWING_LOOKED_AT // max(1, len(read))
    moving = {at: got for at, got in read.items() if lively(got)}  # what stands still follows from nothing
    for i, p in enumerate(found[:first]):
        some = (read[p.temp.at], read[p.rh.at])
        third = p.temp.at in moving and any(
            _follows(*some, got) for at, got in moving.items() if at not in (p.temp.at, p.rh.at)
        )
        one_air = _of_one_air(*some)
        # or are both of one quantity, of two rooms? A humidity's spread is wider, and each of its values less likely
        alike = max(t_fit[p.temp.at] + as_temperature(some[1]) + WIDER,
                    h_fit[p.rh.at] + as_humidity(some[0]) - WIDER - SELDOM)  # fmt: skip
        found[i] = Pair(p.temp, p.rh, p.weight + 12 * third + one_air, third, one_air, alike)
    return sorted(found, key=lambda p: -p.weight)


def _of_one_air(temp_c: np.ndarray, rh_percent: np.ndarray) -> float:
    """Whether vapour changes less than temperature alone would make it: humidity falls where its own air warms.

    A log likelihood, 0 to 4, from drawn rooms: a third less in half of them, never less where the rooms are two.
    """
    rows = np.isfinite(temp_c) & np.isfinite(rh_percent)
    if rows.sum() < FEW_ROWS:
        return 0.0
    warm = np.log(air.saturation_pressure(temp_c[rows]))
    vapour = warm + np.log(np.clip(rh_percent[rows], 1, None))
    spread = [[float(np.std(got[lag:] - got[:-lag])) for got in (vapour, warm)] for lag in LAGS]
    share = min((own / alone for own, alone in spread if alone), default=1.0)
    return float(np.clip(8 * (0.9 - share), 0, 4))


def _likely(some: list[Column], fit: dict[int, float]) -> list[Column]:
    """Columns that can be what they are weighed as; of many the likeliest, as they stand."""
    can = [c for c in some if np.isfinite(fit[c.at])]
    best = {c.at for c in sorted(can, key=lambda c: -fit[c.at])[:LOOKED_AT]}
    return [c for c in can if c.at in best]


def _together(t: int, h: int, read: dict[int, np.ndarray]) -> float:
    """Temperature stands before humidity, and beside it."""
    dew = air.dew_point(middle(read[t]), np.clip(middle(read[h]), 1, 100))
    return 2.0 * (t < h) + 0.7 * (abs(t - h) == 1) - 6 * bool(dew > 28)


def _follows(temp_c: np.ndarray, rh_percent: np.ndarray, other: np.ndarray) -> bool:
    """Whether a column is the dew point or the absolute humidity of two others."""
    if dew_point_apart(temp_c, rh_percent, other) <= f.DEW_POINT_AGREES_C:
        return True
    grams = air.absolute_humidity(temp_c, np.clip(rh_percent, 0, 100))
    rows = np.isfinite(grams) & (other > 0)
    return bool(rows.sum() > 2 and np.median(np.abs(grams[rows] / other[rows] - 1)) < 0.02)


def likeliest(temps: list[Column], hums: list[Column], columns, name: str) -> tuple[Pair | None, str]:
    """The one pair that the values leave, and a note of it; None where none behaves like air.

    Raises
    ------
    Question : another pair is nearly as likely, a column that no header names moves unlike air and nothing follows
        from the pair, or a header says something that is not known.
    """
    found = pairs(temps, hums, columns)
    if not found or found[0].weight < f.COLUMNS_WORST:
        return None, ""
    best = found[0]
    few = max(1.0, FEW_ROWS / max(1, len(columns[best.temp.at])))  # few rows prove little
    # moving with the temperature tells which column is its humidity, not that a further one is none; nor which is
    # which, where a dew point follows either way
    own = {best.temp.at, best.rh.at}
    apart = [not p.proved and {p.temp.at, p.rh.at} == own for p in found]
    lead = [best.weight - p.weight - (0 if sole else max(best.one_air - p.one_air, 0))
            for p, sole in zip(found, apart, strict=True)]  # fmt: skip
    near = [p for p, ahead in zip(found, lead, strict=True) if ahead < few * f.COLUMNS_MARGIN]
    near = _side_by_side(found) or near
    silent = [c for c in (best.temp, best.rh) if c.role.kind is None]
    still = not best.proved and not all(lively(values(columns[c.at])) for c in silent)  # the likeliest of no air
    long = float(np.clip(len(columns[best.temp.at]) / LONG_ROWS, 1, 2.5))
    alike = len(silent) > 1 and best.alike > best.weight - long * f.COLUMNS_MARGIN
    more = [_moving(some, own.role.unit, columns) > 1 for own, some in ((best.temp, temps), (best.rh, hums))]
    several = (
        not best.temp.name and more[0] and (more[1] or not best.proved)
    )  # one may be another's dew point by chance
    if still or alike or several or len(near) > 1 or any(_telling(c.name) for c in silent):
        raise asked(found if several else near, columns, name)
    note = (f"{best.temp.called} was taken for temperature and {best.rh.called} for relative humidity, by how their "
            "values behave; no header says so.")  # fmt: skip
    return best, note[0].upper() + note[1:]


def _moving(some: list[Column], unit: str | None, columns) -> int:
    """How many columns bear a unit and move as readings do; none where there is no unit."""
    return sum(c.role.unit == unit and lively(values(columns[c.at], unit)) for c in some) if unit else 0


def _side_by_side(found: list[Pair]) -> list[Pair]:
    """Pairs of several probes: each humidity right behind its temperature; none where there is one such pair only."""
    kept: list[Pair] = []
    for p in sorted(found, key=lambda p: p.temp.at):
        if p.rh.at == p.temp.at + 1 and p.weight > f.COLUMNS_WORST and (not kept or kept[-1].rh.at < p.temp.at):
            kept.append(p)
    return kept if len(kept) > 1 else []


def _telling(name: str) -> bool:
    """Whether a header says something, if nothing that is known."""
    said = pattern("probe", "quantity", "value", "number", "filler", "generic").sub(" ", plain(name))
    return re.search(r"[^\W\d_]{4,}|[^\W\d_a-z]{2,}", said) is not None


def asked(some: list[Pair], columns, name: str, why: str = "no header settles it", more: tuple[str, ...] = ()):
    """The question which columns are the air's, with their first rows."""
    some = _uncrossed(some)[:CHOICES]
    apart = _side_by_side(some)
    both = [",".join(p.answer for p in apart)] if apart else []
    rows = "; ".join(f"{p.answer} = {shown(p.temp, columns)} and {shown(p.rh, columns)}" for p in some)
    return Question(f"{why}. Which columns look like the room's air, temperature first? {rows}.", "columns",
                    (*(p.answer for p in some), *both, *more), place=name)  # fmt: skip


def _uncrossed(some: list[Pair]) -> list[Pair]:
    """Without pairs that only exchange the partners of likelier ones."""
    kept: list[Pair] = []
    for p in some:
        if not ({p.temp.at} <= {k.temp.at for k in kept} and {p.rh.at} <= {k.rh.at for k in kept}):
            kept.append(p)
    return kept


def shown(column: Column, columns) -> str:
    """A column's name or place, and its first readings."""
    cells = [tidy(cell or "") for cell in columns[column.at].slice(0, 50).to_pylist()]
    return f"{column.called} ({' '.join([cell[:12] for cell in cells if cell][:SHOWN])} …)"
