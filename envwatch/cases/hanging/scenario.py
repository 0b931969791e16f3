"""A position with every blank filled one way: the plain numbers that heat, damp and light are reckoned from."""

from __future__ import annotations

from dataclasses import dataclass

from envwatch.cases.hanging.questions import MILD, USUAL, WORST, Pick, sun_is_possible, unknowns
from envwatch.cases.hanging.spot import HangingPosition, House
from envwatch.climate.exposure import Position
from envwatch.core.place import Fact
from envwatch.figures import hanging as fig
from envwatch.figures.walls import BACKING_BOARD
from envwatch.physics.light import daylight_dose_lux_h
from envwatch.physics.wall_u import corner_u


@dataclass(frozen=True)
class Scenario:
    """One way a position may be. Two cases that are equal are the same climate.

    Attributes
    ----------
    wall : "inner" (no gradient), "outer", "unheated"; u_value of the bare wall there. [W/(m²K)]
    standoff_mm, depth_mm : picture's back to wall; canvas to the picture's back. [mm]
    plume : (W/m, height over it [m], factor) of a radiator below, or None. lamp_k : warming by a lamp, evenings. [K]
    evening_c : what was read at the picture through an evening of fire, or None. [°C]
    excess_g : moisture of the room over outdoors in the cold; EXCESS_COLD. [g/m³]
    rh_cap, rh_floor, least_c : what a change would hold the room to, or None. [% RH], [°C]
    """

    wall: str
    u_value: float
    standoff_mm: float
    depth_mm: float
    board_m2kw: float
    glazed: bool
    plume: tuple[float, float, float] | None
    lamp_k: float
    evening_c: float | None
    excess_g: float
    heating: str
    warm_c: float
    cool_c: float
    empty_months: tuple[int, ...]
    coldest_c: float
    warmest_c: float
    spell_c: float
    position: Position
    rh_cap: float | None = None
    rh_floor: float | None = None
    least_c: float | None = None


# how the blanks are filled: all mild; all usual; all worst for damp and cold; all worst for heat and dryness.
# What warms a place dries it too, so that no one filling is the worst for everything.
SCENARIOS = ("mild", "usual", "damp", "dry")
WARMS = {"radiator", "radiator_above_m", "radiator_w_per_m", "plume", "lamp"}
DAMPENS = {"excess_g", "u_value", "corner", "wall", "heating", "empty_months"}


def pick_for(scenario: str, learned: str = "") -> Pick:
    """Which value each unknown takes in a scenario; `learned`: that one is known to be mild."""

    def pick(name: str) -> int:
        if name == "excess_g" and (scenario == "mild" or name == learned):
            return USUAL  # the mildest house is not the driest one
        if scenario == "mild" or name == learned:
            return MILD
        if scenario == "usual":
            return USUAL
        return MILD if name in (WARMS if scenario == "damp" else DAMPENS) else WORST

    return pick


def case_of(spot: HangingPosition, pick: Pick) -> Scenario:
    """The position with its blanks filled as `pick` says."""
    open_ = {unknown.field: unknown.values for unknown in unknowns(spot)}

    def value(name: str, known):
        return open_[name][pick(name)] if name in open_ else known

    house = spot.house
    fire = value("fire", "none" if spot.fire is None else spot.fire)
    wall = _wall(value("wall", spot.wall), fire)
    heating = value("heating", house.heating or "day only")
    warm, cool = (float(t) for t in fig.HEATING[heating])
    coldest, warmest, spell = design_outdoors(house)
    return Scenario(
        wall, _u(spot, wall, value), float(spot.standoff_mm or 0), _depth(spot), _board(spot), bool(spot.glazed),
        _plume(spot, value), _lamp_k(value("lamp", spot.lamp or "none"), spot), spot.fire_reading_c,
        value("excess_g", 0.0),
        heating, warm if house.warm_c is None else house.warm_c, cool if house.cool_c is None else house.cool_c,
        tuple(value("empty_months", house.empty_months or ())),
        coldest, warmest, spell,
        _position(spot, value, fire, _plume(spot, value)),
    )  # fmt: skip


def design_outdoors(house: House) -> tuple[float, float, float]:
    """Coldest month, warmest month and cold spell outdoors, as told; a spell that is not, as far under its month. [°C]

    >>> design_outdoors(House()), design_outdoors(House(coldest_month_c=11.0))
    ((0.0, 18.0, -8.0), (11.0, 18.0, 3.0))
    """
    coldest, warmest, spell = (float(t) for t in fig.DESIGN_OUT_C)
    month = coldest if house.coldest_month_c is None else house.coldest_month_c
    return (
        month,
        warmest if house.warmest_month_c is None else house.warmest_month_c,
        month + spell - coldest if house.cold_spell_c is None else house.cold_spell_c,
    )


def _wall(kind: str | None, fire: str) -> str:
    """A disused flue is as cold as an outer wall; a used one is warm."""
    if kind == "chimney":
        return "outer" if fire == "disused" else "inner"
    return "inner" if kind == "party" else str(kind)


def _u(spot: HangingPosition, wall: str, value) -> float:
    if wall == "inner":
        return 0.0
    u = float(value("u_value", 0.0) or fig.WALLS["solid brick"][2])
    return corner_u(u) if value("corner", bool(spot.corner)) else u


def _depth(spot: HangingPosition) -> float:
    return float(fig.STRETCHER_DEPTH_MM if spot.depth_mm is None else spot.depth_mm)


def _board(spot: HangingPosition) -> float:
    return {"foam": float(fig.FOAM_BOARD), "hardboard": float(BACKING_BOARD)}.get(str(spot.board), 0.0)


def _plume(spot: HangingPosition, value) -> tuple[float, float, float] | None:
    below = value("radiator", bool(spot.radiator)) and (spot.radiator_aside_m or 0) < fig.PLUME_ASIDE_M
    if not below or spot.log_here:
        return None
    above = value("radiator_above_m", spot.radiator_above_m)
    return float(value("radiator_w_per_m", spot.radiator_w_per_m)), float(above), float(value("plume", 1.0))


def _lamp_k(lamp: str, spot: HangingPosition) -> float:
    from envwatch.physics.heat import lamp_rise_k

    return 0.0 if lamp == "none" else float(lamp_rise_k(_lamp_lux(spot), lamp))


def _lamp_lux(spot: HangingPosition) -> float:
    return float(fig.LUX_OILS) if spot.lamp_lux is None else spot.lamp_lux


def _position(spot: HangingPosition, value, fire: str, plume: tuple[float, float, float] | None) -> Position:
    hot = spot.fire_reading_c is not None  # it was measured through an evening: judged by that, not by rule
    sun = value("sun", spot.sun if spot.sun is not None else bool(sun_is_possible(spot)))
    use = value("use", spot.use)
    facts = (
        (Fact.SUN, sun), (Fact.FIRE, fire == "in use" and not hot),
        (Fact.FLUE, fire == "flue" and not hot), (Fact.RADIATOR, _close(plume)),
        (Fact.DRAUGHT, value("vent", spot.vent)),
        (Fact.COOKING, use == "kitchen"), (Fact.BATHING, use == "bathroom"),
        (Fact.DAMP_WALL, value("damp", spot.damp)), (Fact.FRESH_PLASTER, value("fresh_plaster", spot.fresh_plaster)),
        (Fact.FIXING, spot.fixing is False),
    )  # fmt: skip
    times = float(fig.METER_SPREAD if spot.lux is not None else fig.DOSE_SPREAD)
    basis = "from a light meter" if spot.lux is not None else "guessed from the window's place, by no meter"
    return Position(_dose(spot, value), times, facts, basis)


def _close(plume: tuple[float, float, float] | None) -> bool:
    """A hot radiator so near below that no reckoning is asked."""
    return plume is not None and plume[0] > fig.PLUME_LOW_Q and plume[1] < fig.PLUME_NEVER_M


def _dose(spot: HangingPosition, value) -> float:
    if spot.lux is not None and spot.lux_hours is not None:
        return value("dose_times", 1.0) * spot.lux * spot.lux_hours * float(fig.YEAR_D)
    lamp = value("lamp", spot.lamp or "none")
    evening = 0.0 if lamp == "none" else _lamp_lux(spot) * _lamp_hours(spot) * float(fig.YEAR_D)
    window = value("window", spot.window)
    if window == "no window":
        return evening
    day = daylight_dose_lux_h(
        window, value("window_faces", spot.window_faces), spot.curtain or "none", spot.house.latitude or 50.0
    )
    return evening + value("dose_times", 1.0) * day


def _lamp_hours(spot: HangingPosition) -> float:
    return 6.0 if spot.lamp_hours is None else spot.lamp_hours
