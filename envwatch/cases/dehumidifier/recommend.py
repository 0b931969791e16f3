"""The recommendation in one sentence, what it will not fix, and what to measure first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from envwatch.cases.dehumidifier.alternatives import (
    AIRED,
    ENCLOSED,
    HEATED,
    MACHINE,
    MOVED,
    NOTHING,
    TIGHTER,
    TIGHTER_MACHINE,
)
from envwatch.cases.dehumidifier.model import Recommendation
from envwatch.climate.outdoors import BOUNDS
from envwatch.core.findings import Level, ours
from envwatch.core.text import several
from envwatch.figures import dehumidifier as fig

if TYPE_CHECKING:
    from envwatch.cases.dehumidifier.inputs import DryingInputs
    from envwatch.cases.dehumidifier.model import Outcome
    from envwatch.cases.dehumidifier.sizing import Load

# what asks least of a house comes first
ORDER = (MOVED, TIGHTER, AIRED, MACHINE, TIGHTER_MACHINE, ENCLOSED, HEATED)
DAMP = f"{fig.DAMP_LINE:g} %{ours(fig.DAMP_LINE)}"


def enough(outcome: Outcome) -> bool:
    """Dry enough in nine plausible rooms of ten."""
    return outcome.damp_h[2] <= fig.ENOUGH_LEFT_H


def on_paper(outcome: Outcome) -> bool:
    """Dry enough in the middle room, but not in one plausible room in ten."""
    return outcome.damp_h[1] <= fig.ENOUGH_LEFT_H < outcome.damp_h[2]


def harms(outcome: Outcome) -> bool:
    """Whether it brings a flag that asks for action: too dry, too warm."""
    return any(change.after >= Level.ACT for change in outcome.new)


def advise(outcomes: Sequence[Outcome], water: Load, paintings: int, place: str, asked: DryingInputs) -> Recommendation:
    """The recommendation over all alternatives, doing nothing first among them."""
    nothing = outcomes[0]
    open_ = (_will_not_fix(nothing), _measure_first(asked))
    if enough(nothing):
        return Recommendation("not needed", nothing.name, _not_needed(nothing, place), *open_)
    ranked = sorted((o for o in outcomes if o.kind in ORDER and not harms(o)), key=_rank)
    best = next((o for o in ranked if enough(o)), None)
    if best is not None:
        kind = "machine" if best.kind in (MACHINE, TIGHTER_MACHINE) else "no machine"
        tried = () if _bounds_only(asked) else outcomes  # without outdoors nothing is known of what comes in
        said = _does(best, nothing, paintings, place, tried)
        if _bounds_only(asked):
            said = f"On bounds only, for want of any record of the air outdoors: {said}"
        return Recommendation(kind, best.name, said, *open_)
    paper = next((o for o in ranked if on_paper(o)), None)
    if paper is not None:
        return Recommendation("on paper", paper.name, _on_paper(paper, nothing, paintings, place), *open_)
    return Recommendation("not helped", nothing.name, _not_helped(outcomes, water, place), *open_)


def _bounds_only(asked: DryingInputs) -> bool:
    return asked.outdoors is not None and asked.outdoors.kind == BOUNDS


def _rank(outcome: Outcome) -> tuple:
    return ORDER.index(outcome.kind), outcome.kwh[1], outcome.name


def _who(paintings: int, place: str) -> str:
    if not paintings:
        return f"{place} (no painting stands there now)"
    return f"The {several(paintings, 'painting')} in {place}"


def _hours(three) -> str:
    return f"{three[0]:,.0f} to {three[2]:,.0f} h"


def _not_needed(nothing: Outcome, place: str) -> str:
    return (
        f"No machine is needed in {place}: in nine plausible rooms of ten no more than {nothing.damp_h[2]:,.0f} h over "
        f"{DAMP} in the span."
    )


def _before(nothing: Outcome, paintings: int, place: str) -> str:
    return f"{_who(paintings, place)} spent about {nothing.damp_h[1]:,.0f} h above {DAMP}"


def _does(best: Outcome, nothing: Outcome, paintings: int, place: str, outcomes: Sequence[Outcome]) -> str:
    left = max(10, -(-int(best.damp_h[2]) // 10) * 10)
    before = _before(nothing, paintings, place)
    if best.kind == MOVED:
        where = best.name.removeprefix("the paintings moved to: ")
        brings = ", ".join(dict.fromkeys(change.mechanism for change in best.new))
        watch = f", and watch there for what it brings: {brings}" if brings else ""
        return (
            f"{before}; in {where}, by its own log, it would have been {best.damp_h[1]:,.0f} h: move them before "
            f"anything is bought{watch}."
        )
    name = f"a {best.name}" if best.kind == MACHINE else best.name
    cost = f", for about {best.kwh[1]:,.0f} kWh ({best.kwh[0]:,.0f} to {best.kwh[2]:,.0f})" if best.kwh[1] > 0 else ""
    said = f"{before}; {name} would have left under {left} h in nine plausible rooms of ten{cost}"
    return said + _tightening(best, outcomes) + "."


def _tightening(best: Outcome, outcomes: Sequence[Outcome]) -> str:
    """Whether keeping the door closed first would spare current, where it was tried with the same kind of help."""
    tight = next((o for o in outcomes if o.kind == TIGHTER_MACHINE), None)
    if best.kind != MACHINE or tight is None or best.kwh[1] <= 0 or not enough(tight):
        return ""
    share = tight.kwh[1] / best.kwh[1]
    if share > 0.9:
        return ""
    return f", and keeping doors closed and gaps sealed first brings that to about {share:.0%}"


def _on_paper(paper: Outcome, nothing: Outcome, paintings: int, place: str) -> str:
    return (
        f"{_before(nothing, paintings, place)}; {paper.name} is enough on paper ({paper.damp_h[1]:,.0f} h left) but "
        f"fails in one plausible room in ten ({paper.damp_h[2]:,.0f} h): measure first what is named below."
    )


def _not_helped(outcomes: Sequence[Outcome], water: Load, place: str) -> str:
    tried = [o for o in outcomes if o.kind == MACHINE]
    best = min(outcomes[1:], key=lambda o: o.damp_h[2])
    reasons = []
    if water.colder_than_weak > 0.5 and any("condensing" in o.name for o in tried):
        reasons.append(f"it is cold ({water.temp_c:.0f} °C on damp days), where condensing machines do little")
    if water.from_the_room > 0.5:
        reasons.append(
            f"{water.from_the_room:.0%} of the water comes from the room itself (floor, walls, wet work): stop it first"
        )
    harm = [o.name for o in outcomes[1:] if harms(o) and enough(o)]
    if harm:
        reasons.append(f"what dries it enough brings other harm ({harm[0]})")
    why = "; ".join(reasons) or "the load is more than the machines tried can carry"
    return (
        f"None of what was tried makes {place} dry enough: {why}. The least damp hours are left by: {best.name} "
        f"({_hours(best.damp_h)})."
    )


def _will_not_fix(nothing: Outcome) -> tuple[str, ...]:
    out = ["rising damp, leaks and floods", "cold walls: what hangs on them stays damper than the room"]
    if nothing.dry_h[1] > fig.ENOUGH_LEFT_H:
        out.append(
            f"winter dryness: {nothing.dry_h[1]:,.0f} h under {fig.DRY_LINE:g} %{ours(fig.DRY_LINE)} stay, or grow"
        )
    return tuple(out)


def _measure_first(asked: DryingInputs) -> tuple[str, ...]:
    out = []
    if not asked.weighed and asked.air_change_h is None:
        out.append(
            "borrow a machine for a week and weigh each day's water: that fixes the air change, the largest unknown"
        )
    out.append("hang both loggers side by side for a day: 3 % between them is as much as a leaking window")
    if asked.surface_below_k is None:
        out.append("the coldest wall, by a thermometer laid on it in cold weather")
    return tuple(out)


__all__ = ["NOTHING", "Recommendation", "advise", "enough", "harms", "on_paper"]
