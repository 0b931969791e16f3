"""The studio's sheet on where to hang: every figure behind the owner's page, with its limit, source and trust."""

from __future__ import annotations

from envwatch.cases.hanging.model import TIERS, HangingReport, PositionResult
from envwatch.cases.hanging.remedies import KEPT, Cure
from envwatch.core.findings import Level
from envwatch.figures import SOURCES
from envwatch.physics.wall_u import section as wall_section
from envwatch.present.paper import page as paper_page
from envwatch.present.paper.drawings import section
from envwatch.present.paper.wording import TRUST, date, measure, number, ours

WIDTHS = {"air film of the room": 2.0, "painting": 0.6, "gap": 2.0, "cavity": 2.0, "board": 0.6, "wall": 6.0,
          "glass and air behind it": 1.2}  # fmt: skip

LAYOUT = paper_page.layout("hanging")


def page(advice: HangingReport, paper: str = "a4") -> bytes:
    """The studio's sheet as a PDF. Raises BadInput for another paper."""
    return paper_page.printed(content(advice), LAYOUT, paper, advice.made_at)


def content(advice: HangingReport) -> dict:
    """All that stands on the sheet."""
    zone = advice.zone
    lined = f", lined on {date(advice.lined_on, zone, advice.lined_year_only)}" if advice.lined_on is not None else ""
    keys = sorted({i.worst.source for spot in advice.positions for i in spot.found if i.high >= Level.WATCH})
    return {
        "title": f"Where to hang {advice.title}",
        "about": f"{advice.painting_id}, {', '.join(advice.linings) or 'no lining recorded'}{lined}; in "
                 f"{advice.house}, hung on {date(advice.hang_on, zone)}, judged over the year from then on, "
                 f"which is told as if it had been read; first weeks until {date(advice.first_weeks_end, zone)}.",
        "answer": advice.answer, "decides": advice.decides, "notes": list(advice.notes),
        "spots": [_spot(spot) for spot in advice.positions],
        "sources": [f"{key}: {SOURCES[key]}" for key in keys],
        "trust": f"How far a limit can be trusted: {'; '.join(TRUST.values())}.",
        "adoption": advice.adoption,
        "foot": f"{advice.studio}, where to hang {advice.painting_id}. An assessment from a description and readings, "
                "not a warranty.",
    }  # fmt: skip


def _spot(spot: PositionResult) -> dict:
    raised = [i for i in spot.found if i.high >= Level.UNKNOWN]
    return {
        "name": spot.name, "kind": spot.kind, "why": spot.why, "conditions": list(spot.conditions),
        "cures": [_cure(cure) for cure in spot.cures],
        "find_out": f"{spot.decider.ask} {spot.decider.measure}" if spot.decider else "",
        "first": _worst(spot.first_weeks), "settled": _worst(spot.settled),
        "counts": [[f"{i.worst.hazard}, {i.worst.mechanism}", _between(i), measure(i.worst), i.worst.source]
                   for i in raised],
        "colds": [[f"{c.name}, {_case(c.scenario)}", number(c.u_value, 2), number(c.out_c),
                   f"{number(c.room_c)} °C {number(c.room_rh, 0)} %", number(c.wall_c), number(c.wall_rh, 0),
                   number(c.canvas_c), number(c.canvas_rh, 0)] for c in spot.colds],
        "years": [f"{f.point.replace('_', ' ')}, {_case(f.scenario)}: over 75 % for {f.hours_over_75:.0f} h a year, "
                  f"over 80 % for {f.hours_over_80:.0f} h, at most {f.longest_over_80_h:.0f} h on end; coldest "
                  f"{number(f.lowest_c)} °C." for f in spot.faces],
        "svg": _section(spot), "section_note": _section_note(spot), "tier": TIERS[spot.tier],
        "assumed": "; ".join(spot.assumed), "notes": list(spot.notes),
    }  # fmt: skip


def _cure(cure: Cure) -> str:
    whose = ours(cure.limit) if cure.kind in KEPT else ""
    return f"{cure.words}{whose} (clears {', '.join(' '.join(key) for key in cure.clears)})"


def _case(scenario: str) -> str:
    return "kindest" if scenario == "mild" else "worst"


def _between(found) -> str:
    return found.high.word if found.low == found.high else f"{found.low.word} to {found.high.word}"


def _worst(judged) -> str:
    worst = max(judged.raised, key=lambda f: f.level, default=None)
    return f"{worst.level.word}: {worst.sentence}" if worst else "nothing against it as far as reckoned"


def _layers(spot: PositionResult):
    """The still section at the worst case's coldest month, closed layers."""
    cold = next((c for c in spot.colds if c.scenario != "mild"), None)
    if cold is None or spot.case is None:
        return None
    case = spot.case
    backed = case.board_m2kw > 0
    gap = max(case.standoff_mm + (0 if backed else case.depth_mm), 1)
    return cold, wall_section(cold.room_c, cold.out_c, cold.u_value, gap, backed=backed,
                              board_m2kw=case.board_m2kw, glazed=case.glazed)  # fmt: skip


def _section(spot: PositionResult) -> str:
    found = _layers(spot)
    if found is None:
        return ""
    cold, (_, layers) = found
    outwards = list(reversed(layers))
    temps = [layer.outer_c for layer in outwards] + [cold.room_c]
    return section(temps, [layer.name for layer in outwards], cold.out_c, [WIDTHS[layer.name] for layer in outwards])


def _section_note(spot: PositionResult) -> str:
    found = _layers(spot)
    if found is None:
        return ""
    cold, (flow, layers) = found
    told = "; ".join(f"{layer.name} {layer.resistance_m2kw:.3f}" for layer in reversed(layers))
    return (
        f"From outdoors (left) to the room, closed layers, {cold.name}: {flow:.1f} W/m² flow through. Resistances in "
        f"m²K/W: {told}. How to read it: the line is the temperature; where it falls steeply, that layer insulates."
    )
