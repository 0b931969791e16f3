"""What must hold of every verdict, whatever the record: the table of mechanisms, and the properties as functions.

A property takes a `Whole` and dice of its own, and gives the ways in which it fails. Findings are matched by hazard and
mechanism: `judge` gives one of each, of the worst layer at the worst point, and another layer may be the worst in
harsher air, so a level that falls is one of the mechanism. Drawn paintings of few layers and exposures of one point
keep a layer or a point from hiding behind another.

- harsher: harsher air never has a milder level (`RULES` says which air is harsher for which mechanism).
- less: with readings taken away a level is as high or higher, or not known, or cannot be told.
- longer: a longer spell never has a milder level.
- same: the same air read at another step, or told at another time, has the same levels.
- archive: the same air in other files, added in any order, has the same verdicts as judged directly.

Tolerances, fixed beforehand. Another step: none (values to 1e-6). Another time by whole hours: none. By minutes: hourly
means mix two neighbouring hours, so a level lies between those of the air eroded and dilated by an hour; for swings,
between those of swings 15 % narrower and wider (the least lag is 1 h and air holds for 2 h or more: half an hour off, a
lagged step of 2 h comes to 0.748 instead of 0.865, 14 % less).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import pandas as pd

from envwatch import climate, verdict
from envwatch.climate.exposure import ROOM, Exposure
from envwatch.climate.series import Climate
from envwatch.core.findings import Certainty, Finding, Level
from envwatch.core.painting import Painting
from tests.exposures import HOUR, STEPS_MIN, Air, Numbers, Spell, Whole
from tests.sound_mended import Blocks

Key = tuple[str, str]
UP, DOWN, EITHER, NO_PART = 1, -1, 0, None


@dataclass(frozen=True)
class Rule:
    """Which air is harsher for one mechanism.

    Attributes
    ----------
    temp, rh : `UP` or `DOWN` is harsher; `EITHER` where neither is in general; `NO_PART` where it plays no part.
    swing : harsher are wider swings about the mean.
    single : rests on a single reading, and of one that was not read nothing is left.
    exempt : why a property does not hold of it, by its name.
    """

    temp: int | None = NO_PART
    rh: int | None = NO_PART
    swing: bool = False
    single: bool = False
    exempt: tuple[tuple[str, str], ...] = ()

    def harsher(self, temp: int, rh: int) -> bool:
        """Whether air moved that way in temperature and humidity (`UP`, `DOWN`, 0 not moved) is harsher for it."""
        moved = [(mine, way) for mine, way in ((self.temp, temp), (self.rh, rh)) if way and mine is not NO_PART]
        return bool(moved) and not self.swing and all(mine == way for mine, way in moved)


MONTH = "a calendar month ends at another hour of the record"
DECIDES = "says only from when on a rule can be decided"
RULES: dict[Key, Rule] = {
    ("lining", "heat"): Rule(temp=UP),
    # hotter: glue softens at less humidity; the cap in deep cold is lifted
    ("lining", "damp"): Rule(temp=UP, rh=UP),
    ("lining", "dry"): Rule(rh=DOWN),
    ("lining", "cold"): Rule(temp=DOWN),
    ("lining", "swing"): Rule(swing=True),
    # hotter: more hours over 5 °C, in which alone the clock runs
    ("mould", "damp hours"): Rule(temp=UP, rh=UP),
    # warmer air grows faster, but frost halts the decline
    ("mould", "growth index"): Rule(temp=EITHER, rh=UP),
    # the rule holds between 5 and 40 °C, and the month's mean vapour at its mean temperature is no monotone figure
    ("mould", "30-day mean"): Rule(temp=EITHER, rh=UP, exempt=(("same", MONTH),)),
    ("fluctuation", "swing in a day or a week"): Rule(swing=True),
    ("fluctuation", "swing beyond what it has known"): Rule(swing=True),
    ("fluctuation", "dry air"): Rule(rh=DOWN),
    ("fluctuation", "damp air"): Rule(rh=UP),
    # drier: the limits rise where the air is dry too
    ("fluctuation", "cold"): Rule(temp=DOWN, rh=DOWN),
    # the painting lags behind the air: what is harsher in temperature depends on what came before
    ("condensation", "water on the painting"): Rule(temp=EITHER, rh=UP, single=True),
    ("condensation", "water on the wall behind"): Rule(temp=EITHER, rh=UP, single=True),
    ("condensation", "bloom on fresh varnish"): Rule(rh=UP),
}
NO_AIR = {  # findings in which the air has no part, or that only say that nothing could be judged
    ("lining", "heat, 30 days"), ("lining", "build-up"), ("lining", "materials"), ("lining", "pairs"),
    ("fluctuation", "swing, dry, damp and cold"),
}  # fmt: skip


@dataclass(frozen=True)
class Fault:
    """A property that fails of one mechanism."""

    key: Key
    before: str
    after: str

    def __str__(self) -> str:
        return f"{': '.join(self.key)}\n      {self.before}\n      {self.after}"


# ------------------------------------------------------------------------------------------------- judging


Found = dict[Key, Finding]


def found(exposure: Exposure, painting: Painting | None, start: pd.Timestamp) -> Found:
    """Findings by hazard and mechanism; the worst where there are several."""
    out: Found = {}
    for finding in verdict.judge(exposure, painting, start).findings:
        key = finding.hazard, finding.mechanism
        if key not in out or finding.level > out[key].level:
            out[key] = finding
    return out


@lru_cache(maxsize=4)
def judged(whole: Whole) -> Found:
    """What is found as the record is."""
    return found(whole.exposure(), whole.painting, whole.start())


def told(finding: Finding | None) -> str:
    """A finding in a line."""
    if finding is None:
        return "no finding"
    return (
        f"{finding.level.word}, {finding.certainty.value}: {finding.value:.6g} {finding.unit} "
        f"(limit {finding.limit:.6g}), {finding.layer}, {finding.point}: {finding.sentence[:110]}"
    )


def milder(before: Found, after: Found, keys: Callable[[Rule], bool]) -> Iterator[Fault]:
    """Mechanisms that `keys` takes whose level is lower after than before."""
    for key, rule in RULES.items():
        if keys(rule) and key in before and key in after and after[key].level < before[key].level:
            yield Fault(key, told(before[key]), told(after[key]))


def changed(exposure: Exposure, change: Callable[[Climate], tuple[np.ndarray, np.ndarray]]) -> Exposure:
    """The same exposure with other air at each point: `change` gives temperature and humidity."""
    return replace(exposure, points={name: _changed(there, *change(there)) for name, there in exposure.points.items()})


def _changed(there: Climate, temp_c: np.ndarray, rh_percent: np.ndarray) -> Climate:
    made = Climate.of(
        there.time, temp_c, np.clip(rh_percent, 0, 100), start=there.start, end=there.end, hours=there.hours,
        suspect=there.suspect, sensor=there.sensor, notes=there.notes,
    )  # fmt: skip
    return replace(made, reckoned_u_k=there.reckoned_u_k)


# ------------------------------------------------------------------------------------------------- harsher

WAYS = {
    "damper and hotter": (UP, UP), "drier and colder": (DOWN, DOWN), "damper": (0, UP), "wider": (0, 0),
    "hotter and drier": (UP, DOWN), "damper and colder": (DOWN, UP),
}  # fmt: skip


def harsher(whole: Whole, dice: Numbers, way: str = "") -> list[Fault]:
    """Air moved one way, throughout or in a stretch; or its swings widened about the mean."""
    way = way or dice.pick(tuple(WAYS))
    temp, rh = WAYS[way]
    if way == "wider":
        return _wider(whole, 1 + dice.whole(1, 60) / 100)
    by = dice.pick((dice.whole(1, 400), dice.whole(1, 20), dice.whole(1, 100))) / 10
    last = dice.pick((0, 0, dice.whole(0, 240)))
    hours = dice.pick((10**6, dice.whole(1, 30), dice.whole(24, 400)))

    def move(there: Climate) -> tuple[np.ndarray, np.ndarray]:
        ago = np.asarray((whole.end - there.time) / HOUR)
        inside = by * ((ago > last) & (ago <= last + hours))
        return there.temp_c + temp * inside, there.rh_percent + rh * inside

    after = found(changed(whole.exposure(), move), whole.painting, whole.start())
    return list(milder(judged(whole), after, lambda rule: rule.harsher(temp, rh)))


def _wider(whole: Whole, times: float) -> list[Fault]:
    exposure = whole.exposure()
    for there in exposure.points.values():
        if len(there.time):
            middle = there.rh_percent.mean()
            least, most = (middle + times * (edge(there.rh_percent) - middle) for edge in (np.min, np.max))
            if least < 0 or most > 100:
                return []  # humidity has no room for it

    def widen(there: Climate) -> tuple[np.ndarray, np.ndarray]:
        middle = there.rh_percent.mean() if len(there.time) else 0.0
        return there.temp_c, middle + times * (there.rh_percent - middle)

    after = found(changed(exposure, widen), whole.painting, whole.start())
    return list(milder(judged(whole), after, lambda rule: rule.swing))


# ------------------------------------------------------------------------------------------------- longer


def longer(whole: Whole, dice: Numbers) -> list[Fault]:
    """A spell that began earlier or went on for longer, up to the end of the record."""
    rooms = [room for room, its in enumerate(whole.rooms) if its.spells]
    if not rooms:
        return []
    room = dice.pick(rooms)
    its = whole.rooms[room]
    at = dice.whole(0, len(its.spells) - 1)
    spell, more = its.spells[at], dice.pick((dice.whole(1, 24), dice.whole(24, 300), dice.whole(1, 1500)))
    if dice.pick((True, False, False)):  # brought to where it is judged
        spell = replace(spell, ago_h=dice.whole(1, 150), hours=dice.whole(1, 60))
        whole = with_spells(whole, room, (*its.spells[:at], spell, *its.spells[at + 1 :]))
    grown = replace(spell, ago_h=spell.ago_h + more, hours=spell.hours + more)
    if dice.pick((True, False)):
        grown = replace(spell, hours=min(spell.hours + more, max(spell.ago_h, spell.hours)))
    temp, rh = (int(np.sign(value)) for value in (spell.temp_k, spell.rh_percent))
    if temp:  # a warmer room is drier, not damper, at a face that is cooler by so many degrees
        whole = replace(whole, points=(ROOM,))
    after = judged(with_spells(whole, room, (*its.spells[:at], grown, *its.spells[at + 1 :])))
    return list(milder(judged(whole), after, lambda rule: rule.harsher(temp, rh)))


def with_spells(whole: Whole, room: int, spells: tuple[Spell, ...]) -> Whole:
    """The same with other spells in one room."""
    rooms: list[Air] = list(whole.rooms)
    rooms[room] = replace(rooms[room], spells=spells)
    return replace(whole, rooms=tuple(rooms))


# ------------------------------------------------------------------------------------------------- less

WEEK_H = 168


def less(whole: Whole, dice: Numbers) -> list[Fault]:
    """Readings taken away: single hours at random, a block, a day of the place."""
    hours = whole.days * 24
    gone = np.zeros(hours, bool)  # by hour of the record
    how = dice.pick(("single hours", "spell", "day", "block", "worst", "spell"))
    if how == "single hours":
        share = dice.pick((0.005, 0.02, 0.08, 0.2))
        gone = np.random.default_rng(dice.whole(0, 9999)).random(hours) < share
    elif how == "worst" and _worst_rows(whole):
        at, length = dice.pick(_worst_rows(whole)), dice.pick((dice.whole(1, 6), dice.whole(2, 40)))
        gone[max(at - dice.whole(0, length), 0) : at + length // 2 + 1] = True
    elif how == "spell" and _long_spells(whole):  # in its middle, longer than a spell is held to go on
        spell = dice.pick(_long_spells(whole))
        length = min(dice.pick((dice.whole(25, 72), dice.whole(7, 30), dice.whole(25, 50))), spell.hours - 2)
        first = hours - spell.ago_h + dice.whole(1, spell.hours - length - 1)
        gone[max(first, 0) : max(first + length, 0)] = True
    elif how != "day":
        length = dice.pick((dice.whole(1, 8), dice.whole(6, 30), dice.whole(24, 72)))
        ago = _in_a_spell(whole, dice, length)
        gone[max(hours - ago, 0) : max(hours - ago, 0) + length] = True
    else:
        ago = 24 * dice.whole(1, 9)
        gone[hours - ago : hours - ago + 24] = True
    return less_by(whole, gone)


def less_by(whole: Whole, gone: np.ndarray) -> list[Fault]:
    """The readings of some hours of the record taken away."""
    after, gone = found_without(whole, gone)
    return list(milder_and_certain(judged(whole), after, gone_hours(whole, gone)))


def found_without(whole: Whole, gone: np.ndarray) -> tuple[Found, np.ndarray]:
    """What is found without some hours, and those in fact taken away: whole readings, none worse than all about it."""
    exposure = whole.exposure()
    each = max(whole.step_min // 60, 1)  # hours that a reading stands for: they go together
    gone = np.repeat(gone.reshape(-1, each).any(axis=1), each)
    gone = np.repeat(gone_and_matched(exposure, gone).reshape(-1, each).all(axis=1), each)
    return found(without(exposure, gone), whole.painting, whole.start()), gone


def _worst_rows(whole: Whole) -> list[int]:
    """Hours of the record that are the worst of a finding that is raised."""
    raised = [finding.worst_at for finding in judged(whole).values() if finding.level >= Level.WATCH]
    rows = [int((at - whole.begin) // HOUR) for at in raised if at is not None]
    return sorted({row for row in rows if 0 <= row < whole.days * 24})


def _long_spells(whole: Whole) -> list[Spell]:
    return [spell for its in whole.rooms for spell in its.spells if spell.hours > 30]


def _in_a_spell(whole: Whole, dice: Numbers, length: int) -> int:
    """How many hours before the end a block begins: in the middle of a spell, or anywhere in the last weeks."""
    spells = [spell for its in whole.rooms for spell in its.spells if spell.hours > length + 2]
    if not spells or dice.pick((False, False, True)):
        return length + dice.whole(0, 400)
    spell = dice.pick(spells)
    return spell.ago_h - dice.whole(1, spell.hours - length - 1)


def gone_and_matched(exposure: Exposure, gone: np.ndarray) -> np.ndarray:
    """The hours taken away without those worse than all that remains within a week of them.

    Of what was worst and is gone no rule can know. So the hottest, coldest, dampest and driest hour of each fortnight
    stays, whatever is taken away. Reason for a week: air in a gap is no worse than it ever was in the weeks about it;
    a year about it would let a winter's gap have been a summer's day.
    """
    hours = climate.hourly(exposure.room)
    gone = gone[: len(hours.time)].copy()
    for values in (hours.temp_c, hours.rh_percent):
        for sign in (1, -1):
            known = np.where(gone, np.nan, sign * values)
            before, after = (climate.running_extremes(row, WEEK_H)[1] for row in (known, known[::-1]))
            most = np.fmax(before, after[::-1])
            gone &= ~(sign * values > np.nan_to_num(most, nan=-np.inf))
    return gone


def without(exposure: Exposure, gone: np.ndarray) -> Exposure:
    """An exposure without the readings of some of its hours, as if they had never been."""

    def left(there: Climate) -> Climate:
        at = np.asarray((there.time - there.start.floor("h")) // HOUR)
        keep = ~gone[np.minimum(at, len(gone) - 1)]
        made = Climate.of(
            there.time[keep], there.temp_c[keep], there.rh_percent[keep], start=there.start, end=there.end,
            hours=there.hours[keep], suspect=there.suspect[keep], sensor=there.sensor, notes=there.notes,
        )  # fmt: skip
        return replace(made, reckoned_u_k=there.reckoned_u_k)

    return replace(exposure, points={name: left(there) for name, there in exposure.points.items()})


def gone_hours(whole: Whole, gone: np.ndarray) -> set[pd.Timestamp]:
    """The hours taken away."""
    return set((whole.begin + np.flatnonzero(gone) * HOUR).tolist())


def milder_and_certain(before: Found, after: Found, gone: set[pd.Timestamp]) -> Iterator[Fault]:
    """Mechanisms that are milder than before, known, and certain; but those of a single reading that has gone."""
    open_hazards = {key[0] for key, finding in after.items() if finding.level is Level.UNKNOWN}
    for key in RULES.keys() & before.keys():
        was, now = before[key], after.get(key)
        if RULES[key].single and was.worst_at is not None and was.worst_at.floor("h") in gone:
            continue
        if now is None:
            if key[0] not in open_hazards:
                yield Fault(key, told(was), told(now))
        elif now.level < was.level and now.level is not Level.UNKNOWN and now.certainty is Certainty.CERTAIN:
            yield Fault(key, told(was), told(now))


def steady(whole: Whole) -> Whole:
    """Steady air with an ordinary logger's noise, read whole: the good case."""
    its = whole.rooms[0]
    calm = Air(its.temp_c, its.rh_percent, weather_k=0.05, weather_rh=0.1)
    return replace(whole, rooms=(calm,), moves=(), gaps=(), missing=0.0)


def stays_certain(whole: Whole, dice: Numbers) -> tuple[int, int]:
    """Of the certain findings of steady air: how many there are, and how many stay so, at their level, without 2 %."""
    calm = steady(whole)
    gone = np.random.default_rng(dice.whole(0, 9999)).random(calm.days * 24) < 0.02
    before, after = judged(calm), found(without(calm.exposure(), gone), calm.painting, calm.start())
    sure = [key for key in before if key in RULES and before[key].certainty is Certainty.CERTAIN]
    kept = [
        key for key in sure
        if key in after and after[key].certainty is Certainty.CERTAIN and after[key].level is before[key].level
    ]  # fmt: skip
    return len(sure), len(kept)


# ------------------------------------------------------------------------------------------------- same


def same(whole: Whole, dice: Numbers) -> list[Fault]:
    """The same air at another step; or everything told some hours, or some minutes, later."""
    how = dice.pick(("step", "hours", "minutes"))
    if how == "step":
        return same_at_another_step(whole, dice)
    minutes = 60 * dice.whole(1, 1000) if how == "hours" else dice.whole(1, 59)
    if how == "minutes":  # an hour that a move, an intended stay, a gap or a new layer cuts is of the one or the other
        coats = (
            replace(coat, ago_days=None) if 0 <= (coat.ago_days or -1) <= whole.days else coat for coat in whole.coats
        )
        whole = replace(whole, moves=(), gaps=(), missing=0.0, coats=tuple(coats))
    after = found(*shifted(whole, minutes))
    exempt = {key for key, rule in RULES.items() if "same" in dict(rule.exempt)}
    if how == "hours":
        return list(differs(judged(whole), after, exempt))
    exact = {key for key in RULES if key[1].startswith("water")}
    return [*differs(judged(whole), after, RULES.keys() - exact), *_between(whole, after, exempt | exact)]


def same_at_another_step(whole: Whole, dice: Numbers) -> list[Fault]:
    """Read every 5 to 120 minutes where the air holds for two hours; every hour or three where it holds for three."""
    step, weekly = dice.pick(STEPS_MIN if whole.block_h == 2 else (60, 180)), dice.pick((False, True))
    start, painting = whole.start(weekly), whole.painting
    before = found(whole.exposure(weekly), painting, start) if weekly else judged(whole)
    return list(differs(before, found(whole.exposure(weekly, step), painting, start), set()))


def differs(before: Found, after: Found, exempt: set[Key]) -> Iterator[Fault]:
    """Mechanisms whose level, certainty or value is another."""
    for key in (RULES.keys() & (before.keys() | after.keys())) - exempt:
        was, now = before.get(key), after.get(key)
        if was is None or now is None or not _alike(was, now):
            yield Fault(key, told(was), told(now))


def _alike(was: Finding, now: Finding) -> bool:
    apart = abs(was.value - now.value) <= 1e-6 or (np.isnan(was.value) and np.isnan(now.value))
    return bool(apart) and (was.level, was.certainty) == (now.level, now.certainty)


def shifted(whole: Whole, minutes: int) -> tuple[Exposure, Painting, pd.Timestamp]:
    """Everything the same, told some minutes later: readings, stays, layers, looks and the period."""
    by = pd.Timedelta(minutes=minutes)
    exposure, painting = whole.exposure(), whole.painting
    points = {name: replace(there, time=there.time + by, start=there.start + by, end=there.end + by)
              for name, there in exposure.points.items()}  # fmt: skip
    stints = tuple(replace(stint, start=stint.start + by, end=stint.end + by) for stint in exposure.stints)
    layers = tuple(
        layer if layer.applied_on is None else replace(layer, applied_on=layer.applied_on + by)
        for layer in painting.layers
    )
    seen = tuple(replace(look, on=look.on + by) for look in painting.observations)
    exposure = replace(exposure, points=points, stints=stints, start=exposure.start + by, end=exposure.end + by)
    return exposure, replace(painting, layers=layers, observations=seen), whole.start() + by


def _between(whole: Whole, after: Found, exempt: set[Key]) -> Iterator[Fault]:
    """Levels of the air told some minutes later that do not lie between those of air milder and harsher by an hour."""
    moved = [key for key in after if key in judged(whole) and _seen(after[key]) != _seen(judged(whole)[key])]
    if not set(moved) & RULES.keys() - exempt:
        return  # the level of the air itself lies between those of milder and harsher air
    exposure, painting, start = whole.exposure(), whole.painting, whole.start()

    def at(make: Callable[[Climate], tuple[np.ndarray, np.ndarray]]) -> list[Found]:
        # an hour that the begin of the period cuts is judged whole
        return [found(changed(exposure, make), painting, start + by * HOUR) for by in (-1, 0, 1)]

    low, high = at(lambda t: _hour_about(t, 0)), at(lambda t: _hour_about(t, 1))
    narrow, wide = at(lambda t: _about_its_mean(t, False)), at(lambda t: _about_its_mean(t, True))
    for key in (RULES.keys() & set(moved)) - exempt:
        rule = RULES[key]
        if EITHER in (rule.temp, rule.rh) and not (exposure.room.temp_c > 2).all():
            continue  # what warmth does turns about at freezing
        ends = [*narrow, *wide] if rule.swing else [*low, *high]
        levels = [_seen(each[key]) for each in ends if key in each]
        if levels and not min(levels) <= _seen(after[key]) <= max(levels):
            yield Fault(key, f"{min(levels).word} to {max(levels).word}", told(after[key]))


def _seen(finding: Finding) -> Level:
    """The level; clear and not known are one, for how much of a period was read turns within an hour too."""
    return max(finding.level, Level.UNKNOWN)


def _hour_about(there: Climate, end: int) -> tuple[np.ndarray, np.ndarray]:
    """Lowest (0) or highest (1) of the readings within an hour of each."""
    out = []
    reach = max(int(round(1 / there.hours.min())), 1) if len(there.time) else 1
    for values in (there.temp_c, there.rh_percent):
        before, after = (climate.running_extremes(row, reach + 1)[end] for row in (values, values[::-1]))
        out.append((np.fmax if end else np.fmin)(before, after[::-1]))
    return out[0], out[1]


def _about_its_mean(there: Climate, wide: bool) -> tuple[np.ndarray, np.ndarray]:
    """Of the humidities within an hour of each the one nearest to the record's mean, or the farthest from it."""
    middle = there.rh_percent.mean() if len(there.time) else 0.0
    low, high = (_hour_about(there, end)[1] for end in (0, 1))
    far = np.where(middle - low > high - middle, low, high)
    return there.temp_c, far if wide else np.clip(middle, low, high)


def without_blocks(whole: Whole, blocks: Blocks) -> tuple[Found, Found]:
    """What is found of an exposure with and without blocks of hours."""
    return judged(whole), found_without(whole, _hours_of(whole, blocks))[0]


def _hours_of(whole: Whole, blocks: Blocks) -> np.ndarray:
    gone = np.zeros(whole.days * 24, bool)
    for first, count in blocks:
        gone[first : first + count] = True
    return gone


PROPERTIES: dict[str, Callable[[Whole, Numbers], list[Fault]]] = {
    "harsher": harsher, "less": less, "longer": longer, "same": same,
}  # fmt: skip
