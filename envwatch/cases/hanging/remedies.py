"""What would make a position acceptable: each lever is solved for, by judging again and again, not looked up."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace

from envwatch.cases.hanging.judging import FindingRange, Key, PositionAssessment, judged
from envwatch.cases.hanging.scenario import Scenario
from envwatch.climate.exposure import Position
from envwatch.core.findings import Level
from envwatch.figures import Confidence, Figure
from envwatch.figures import hanging as fig
from envwatch.figures.walls import BACKING_BOARD

ELSEWHERE = ("inner wall", "radiator")  # these amount to another position
KEPT = ("room at most", "room at least", "wall and room", "winter heating")  # a limit of the air, solved for
FIXED = ("position",)  # facts no change at the wall makes good
Change = Callable[[Scenario], Scenario]


@dataclass(frozen=True)
class Cure:
    """One change that brings counts under the level asked for.

    Attributes
    ----------
    kind : "stand-off", "board", "no board", "room at most", "room at least", "radiator", "light", "winter heating",
        "inner wall", "wall and room".
    value, unit : what was solved for; NaN where the change has no number.
    words : an imperative, for the studio; the owner's page has its own by `kind`.
    clears : the counts that it brings under the level; worst_left : the worst level of all counts after it.
    """

    kind: str
    value: float
    unit: str
    words: str
    clears: tuple[Key, ...]
    worst_left: Level

    @property
    def limit(self) -> Figure:
        """The value as a limit: one of envwatch's own, for it was solved for here."""
        known = isinstance(self.value, Figure)
        return self.value if known else Figure(self.value, self.unit, "our-judgement", Confidence.OUR_JUDGEMENT)


@dataclass(frozen=True, eq=False)
class _Problem:
    asked: PositionAssessment
    cases: Mapping[str, Scenario]
    before: Mapping[Key, FindingRange]
    target: Level  # counts must come under it
    southern: bool = False

    @property
    def over(self) -> tuple[Key, ...]:
        return tuple(key for key, i in self.before.items() if i.high >= self.target and key[0] not in FIXED)

    def cleared(self, change: Change, wanted: Collection[Key] = (), least: int = 0) -> tuple[tuple[Key, ...], Level]:
        """The counts a change brings under the target, if it makes no other one worse; and the worst level left.

        Judged at the harsh ways to fill the blanks: what is cured there is cured. Where not all `wanted`, or fewer
        than `least`, come under the target in the first of them, the second is not judged: it could bring none back.
        """
        high: dict[Key, Level] = {}
        gone: tuple[Key, ...] = ()
        for name in ("damp", "dry"):
            for key, found in judged(self.asked, {name: change(self.cases[name])}).items():
                high[key] = max(high.get(key, Level.CLEAR), found.high)
            before = {key: i.high for key, i in self.before.items()}
            worse = any(level >= self.target and level > before.get(key, Level.CLEAR) for key, level in high.items())
            gone = () if worse else tuple(key for key in self.over if high.get(key, Level.CLEAR) < self.target)
            if len(gone) < least or not set(wanted) <= set(gone):
                break
        return gone, max(high.values(), default=Level.UNKNOWN)

    def clears(self, change: Change, wanted: Collection[Key]) -> bool:
        """Whether a change brings all these under the target, and makes no other one worse."""
        return set(wanted) <= set(self.cleared(change, wanted)[0])


def cures(
    asked: PositionAssessment, cases: Mapping[str, Scenario], before: Mapping[Key, FindingRange], target: Level
) -> tuple[Cure, ...]:
    """All levers that clear something, solved; those that clear most come first, then the easier ones."""
    problem = _Problem(asked, cases, before, target)
    if not problem.over:
        return ()
    cold = any(case.wall != "inner" for case in cases.values())
    made: list[Cure | None] = []
    damp = [key for key in problem.over if _damp(key)]
    if damp and cold:
        made += [_standoff(problem), _board(problem), _inner(problem)]
    if damp:
        made += [_room_at_most(problem, damp)]
        if any(case.empty_months or case.heating == "none" for case in cases.values()):
            made += [_winter(problem, damp)]
    dry = [key for key in problem.over if "dry" in key[1]]
    if any(case.plume is not None for case in cases.values()):
        made += [_radiator(problem)]
    if dry and not any(case.plume is not None for case in cases.values()):
        made += [_room_at_least(problem, dry)]
    if any(key[0] == "light" for key in problem.over):
        made += [_light(problem)]
    found = [cure for cure in made if cure is not None]
    if damp and cold and not any(set(damp) <= set(cure.clears) for cure in found if cure.kind != "inner wall"):
        both = _both(problem, damp)
        found += [both] if both else []
    return tuple(sorted(found, key=lambda cure: -len(cure.clears)))


def covers(found: tuple[Cure, ...], before: Mapping[Key, FindingRange], target: Level) -> bool:
    """Whether every count at or over the level is cleared by one of the changes at the position itself."""
    here = {key for cure in found if cure.kind not in ELSEWHERE for key in cure.clears}
    return all(key in here for key, interval in before.items() if interval.high >= target)


def _damp(key: Key) -> bool:
    return key[0] in ("mould", "condensation") or "damp" in key[1]


def _solved(low: int, high: int, works: Callable[[int], bool], smallest: bool) -> int | None:
    """The smallest (or largest) whole number in a range that works; None where the easiest end does not."""
    if not works(high if smallest else low):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        if works(middle) == smallest:
            high = middle
        else:
            low = middle
    if smallest:
        return low if works(low) else high
    return high if works(high) else low


def _cure(problem: _Problem, kind: str, change: Change, value: float, unit: str, words: str) -> Cure | None:
    gone, left = problem.cleared(change)
    return Cure(kind, value, unit, words, gone, left) if gone else None


def _standoff(problem: _Problem) -> Cure | None:
    """The smallest distance from the wall that clears as much as the largest one does."""
    most = int(fig.STANDOFF_MOST_MM)
    now = int(max(case.standoff_mm for case in problem.cases.values()))
    if now >= most:
        return None

    def change(mm: int) -> Change:
        return lambda case: replace(case, standoff_mm=float(max(mm, case.standoff_mm)))

    best = len(problem.cleared(change(most))[0])
    if not best:
        return None
    step = int(fig.STANDOFF_STEP_MM)
    low, high = max(int(fig.STANDOFF_OPEN_MM), now) // step + 1, most // step
    steps = _solved(low, high, lambda n: len(problem.cleared(change(n * step), least=best)[0]) >= best, smallest=True)
    if steps is None:
        return None
    mm = steps * step
    return _cure(
        problem, "stand-off", change(mm), mm, "mm",
        f"hang it {mm} mm off the wall, open at top and bottom",
    )  # fmt: skip


def _board(problem: _Problem) -> Cure | None:
    """A board on the back, or none: whichever it is not now."""
    if any(case.board_m2kw for case in problem.cases.values()):
        return _cure(
            problem, "no board", lambda case: replace(case, board_m2kw=0.0), float("nan"), "",
            "take the backing board off, so that the wall behind is less insulated",
        )  # fmt: skip
    return _cure(
        problem, "board", lambda case: replace(case, board_m2kw=float(BACKING_BOARD)), float("nan"), "",
        "put a sealed backing board that takes up no water on it, keeping the stand-off",
    )  # fmt: skip


def _inner(problem: _Problem) -> Cure | None:
    return _cure(
        problem, "inner wall", lambda case: replace(case, wall="inner", u_value=0.0), float("nan"), "",
        "hang it on an inner wall of the same room",
    )  # fmt: skip


def _room_at_most(problem: _Problem, damp: list[Key]) -> Cure | None:
    """The highest humidity of the room at which the damp counts come under."""

    def change(percent: int) -> Change:
        return lambda case: replace(case, rh_cap=float(percent))

    percent = _solved(int(fig.ROOM_LEAST_RH), 80, lambda rh: problem.clears(change(rh), damp), smallest=False)
    if percent is None:
        return None
    return _cure(
        problem, "room at most", change(percent), percent, "% RH",
        f"keep the room at or under {percent} % RH all year, with a dehumidifier if need be",
    )  # fmt: skip


def _room_at_least(problem: _Problem, dry: list[Key]) -> Cure | None:
    def change(percent: int) -> Change:
        return lambda case: replace(case, rh_floor=float(percent))

    percent = _solved(20, int(fig.ROOM_MOST_RH), lambda rh: problem.clears(change(rh), dry), smallest=True)
    if percent is None:
        return None
    return _cure(
        problem, "room at least", change(percent), percent, "% RH",
        f"keep the room at or over {percent} % RH in the heating season",
    )  # fmt: skip


def _radiator(problem: _Problem) -> Cure | None:
    """The height over the radiator, in decimetres up to 3 m, from which heat and dryness come under; else aside."""

    def change(decimetres: int) -> Change:
        def at(case: Scenario) -> Scenario:
            return case if case.plume is None else replace(case, plume=(case.plume[0], decimetres / 10, case.plume[2]))

        return at

    def off(case: Scenario) -> Scenario:
        return replace(case, plume=None)

    best = problem.cleared(off)[0]
    if not best:
        return None
    high = _solved(3, 30, lambda dm: problem.clears(change(dm), best), smallest=True)
    aside = float(fig.PLUME_ASIDE_M)
    words = f"move it {aside:g} m or more sideways of the radiator"
    if high is not None:
        words += f", or at least {high / 10:g} m above it and with a shelf between"
    return _cure(problem, "radiator", off, aside, "m", words)


def _light(problem: _Problem) -> Cure | None:
    """The share of the light that a blind or curtain may let through."""
    worst = max(case.position.light_lux_h_year for case in problem.cases.values())
    limit = float(fig.DOSE_LOW * (fig.DOSE_ACT_TIMES if problem.target > Level.WATCH else 1))
    share = int(100 * limit / worst * 0.999)

    def change(case: Scenario) -> Scenario:
        dim = share / 100
        return replace(case, position=_dimmed(case.position, dim))

    return _cure(
        problem, "light", change, share, "% of the light",
        f"let no more than {share} % of the light fall on it: blind, curtain, farther from the window",
    )  # fmt: skip


def _dimmed(position: Position, share: float) -> Position:
    return replace(position, light_lux_h_year=position.light_lux_h_year * share)


def _winter(problem: _Problem, damp: list[Key]) -> Cure | None:
    """The lowest temperature to keep while the house stands empty."""

    def change(least: int) -> Change:
        return lambda case: replace(case, least_c=float(least))

    least = _solved(4, 20, lambda t: problem.clears(change(t), damp), smallest=True)
    if least is None:
        return None
    return _cure(
        problem, "winter heating", change(least), least, "°C",
        f"heat the closed house to at least {least} °C, or bring the painting to a lived-in house for these months",
    )  # fmt: skip


def _both(problem: _Problem, damp: list[Key]) -> Cure | None:
    """Stand-off and a drier room together, where neither is enough."""
    open_mm = float(fig.PADS_MM)

    def change(percent: int) -> Change:
        return lambda case: replace(case, standoff_mm=max(open_mm, case.standoff_mm), rh_cap=float(percent))

    percent = _solved(int(fig.ROOM_LEAST_RH), 80, lambda rh: problem.clears(change(rh), damp), smallest=False)
    if percent is None:
        return None
    return _cure(
        problem, "wall and room", change(percent), percent, "% RH",
        f"hang it {open_mm:g} mm off the wall, open at top and bottom, and keep the room at or under {percent} % RH",
    )  # fmt: skip
