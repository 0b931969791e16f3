"""Where to hang, as text."""

from __future__ import annotations

from collections.abc import Iterator

from envwatch.cases.hanging.judging import GOOD, GOOD_IF, MEASURE, NEVER, FindingRange
from envwatch.cases.hanging.model import TIERS, HangingReport, PositionResult
from envwatch.cases.hanging.verification import HangingCheck
from envwatch.core.findings import Level, Verdict
from envwatch.core.text import date, first_sentence, number
from envwatch.present.terminal.layout import heading, wrap
from envwatch.present.words import measure


def advice(result: HangingReport, width: int = 80) -> str:
    """The answer first, then never here, then the others in order, then what was assumed."""
    return "\n".join(_advice(result, width)) + "\n"


def _advice(result: HangingReport, width: int) -> Iterator[str]:
    yield from wrap(f"Where to hang {result.title} [{result.painting_id}] in {result.house}", width)
    lining = ", ".join(result.linings) or "no lining recorded"
    lined = (
        f", lined on {date(result.lined_on, result.zone, result.lined_year_only)}"
        if result.lined_on is not None
        else ""
    )
    yield from wrap(
        f"{lining}{lined}; hung on {date(result.hang_on, result.zone)}, judged over the year from then on, which is "
        f"told as if it had been read; its first weeks end on {date(result.first_weeks_end, result.zone)}", width,
    )  # fmt: skip
    for note in result.notes:
        yield from ("", *wrap(f"! {note}", width))
    yield ""
    yield from wrap(result.answer, width)
    if result.decides:
        yield from wrap(f"What would decide it. {result.decides}", width)
    titles = {NEVER: "Never here", GOOD: "Good place", GOOD_IF: "Good place if …", MEASURE: "Measure first"}
    for kind in (NEVER, GOOD, GOOD_IF, MEASURE):
        chosen = result.of(kind)
        if chosen:
            yield from heading(f"{titles[kind]}: {len(chosen)}", width)
        for n, spot in enumerate(chosen):
            if n:
                yield ""
            yield from _spot(spot, result.zone, width)


def _spot(spot: PositionResult, zone: str, width: int) -> Iterator[str]:
    yield from wrap(spot.name, width, "- ")
    yield from wrap(spot.why, width, "  ")
    for n, condition in enumerate(spot.conditions):
        yield from wrap(condition, width, f"  {'If you' if n == 0 else 'and':<8} ")
    if spot.kind == NEVER and spot.cures:
        yield from wrap("; ".join(cure.words for cure in spot.cures), width, "  Instead  ")
    if spot.decider is not None and spot.kind != NEVER:
        yield from wrap(f"{spot.decider.ask} {spot.decider.measure}", width, "  Find out ")
    for question in spot.questions:
        yield from wrap(question, width, "  Ask      ")
    if spot.kind != NEVER:
        yield from _counts(spot, width)
        yield from wrap(f"first weeks: {_told(spot.first_weeks)}", width, "  Worst    ")
        yield from wrap(f"settled: {_told(spot.settled)}", width, "           ")
    yield from _behind(spot, width)
    yield from wrap(TIERS[spot.tier], width, "  Known by ")
    if spot.assumed:
        yield from wrap("; ".join(spot.assumed), width, "  Assumed  ")
    for note in spot.notes:
        yield from wrap(note, width, "  Note     ")
    if spot.apart is False:
        yield from wrap("the data do not separate this one from the next", width, "  Note     ")


def _counts(spot: PositionResult, width: int) -> Iterator[str]:
    for n, found in enumerate(i for i in spot.found if i.high >= Level.WATCH):
        yield from wrap(_count(found), width, f"  {'Counts' if n == 0 else '':<8} ")


def _count(found: FindingRange) -> str:
    between = found.high.word if found.low == found.high else f"{found.low.word} to {found.high.word}"
    low, high = found.values
    spread = "" if low == high else f", {number(low)} to {number(high)}"
    return f"{found.worst.hazard}, {found.worst.mechanism}: {between} ({measure(found.worst)}{spread})"


def _told(judged: Verdict) -> str:
    worst = max(judged.raised, key=lambda f: f.level, default=None)
    return f"{worst.level.word}, {first_sentence(worst.sentence)}" if worst else "nothing against it as far as reckoned"


def _behind(spot: PositionResult, width: int) -> Iterator[str]:
    if not spot.faces:
        return
    low, high = spot.faces[0].u_value, spot.faces[-1].u_value
    yield from wrap(f"U {number(low, 2)} to {number(high, 2)} W/(m²K); wall face and back of the canvas, kindest and "
                    "worst case", width, "  Behind   ")  # fmt: skip
    yield f"           {'':<18} {'outdoors':>8} {'wall face':>16} {'canvas back':>16}"
    for cold in spot.colds:
        case = "kindest" if cold.scenario == "mild" else "worst"
        yield (
            f"           {cold.name:<18} {number(cold.out_c):>5} °C {number(cold.wall_c):>6} °C {cold.wall_rh:>4.0f} % "
            f"{number(cold.canvas_c):>6} °C {cold.canvas_rh:>4.0f} %  {case}"
        )
    for face in spot.faces:
        case, where = ("kindest" if face.scenario == "mild" else "worst"), face.point.replace("_", " ")
        yield from wrap(
            f"{where}, {case}: over 75 % for {face.hours_over_75:.0f} h a year, over 80 % for "
            f"{face.hours_over_80:.0f} h, at most {face.longest_over_80_h:.0f} h on end; "
            f"coldest {number(face.lowest_c)} °C", width, "           ",
        )  # fmt: skip


def after(result: HangingCheck, zone: str, width: int = 80) -> str:
    """What the owner's log says, against the advice."""
    return "\n".join(_after(result, zone, width)) + "\n"


def _after(result: HangingCheck, zone: str, width: int) -> Iterator[str]:
    yield from wrap(f"After hanging at {result.name}: {date(result.start, zone)} to {date(result.end, zone)}", width)
    yield from wrap(f"{result.verdict.coverage:.0%} of the time was read. {result.sentence}", width)
    for count in result.counts:
        if count.finding.level >= Level.WATCH or count.word.startswith(("worse", "not known")):
            found = count.finding
            yield from wrap(f"{found.hazard}, {found.mechanism}: {found.level.word}, {count.word}; "
                            f"{first_sentence(count.finding.sentence)}", width, "- ")  # fmt: skip
    for note in result.notes:
        yield from wrap(note, width, "  Note     ")
