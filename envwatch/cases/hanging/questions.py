"""What is asked of a position: the six questions that decide most first, the others only where they could matter.

What is not answered takes a mild, a usual and a worst plausible value; the worst counts, and is marked as assumed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from envwatch.cases.hanging.spot import HangingPosition
from envwatch.figures import hanging as fig
from envwatch.physics.light import COMPASS, Glazing, sun_on_picture
from envwatch.physics.wall_u import u_band, u_from_reading

MILD, USUAL, WORST = 0, 1, 2


@dataclass(frozen=True)
class MissingFact:
    """Something not said of a position, with its plausible values, what to ask, and how to find out.

    Attributes
    ----------
    values : (mild, usual, worst plausible).
    told : the worst one in words, as it is marked where it was assumed.
    """

    field: str
    values: tuple
    ask: str
    measure: str
    told: str
    of_six: bool = False


# the six, in the order in which they decide
SIX = (
    ("sun", "Does the sun ever fall there, in any month, if only for minutes?"),
    ("heat", "What is warm below, beside or behind it: a radiator, a fireplace or stove, a flue, a vent?"),
    ("use", "What is the room used for?"),
    ("wall", "Is it an inner wall, an outer wall, or one to an unheated stair, hall or garage?"),
    ("damp", "Are there stains, salts, mould or a smell on this wall, or fresh plaster or paint?"),
    ("heating", "How is the house heated in winter, and in which months does nobody live there?"),
)
OF_SIX = {  # the inputs of each
    "sun": ("sun",), "heat": ("radiator", "fire", "vent"), "use": ("use",), "wall": ("wall",),
    "damp": ("damp", "fresh_plaster"), "heating": ("heating", "empty_months"),
}  # fmt: skip
LOOK = "go and look, and ask who lives there"


def unanswered(spot: HangingPosition) -> tuple[str, ...]:
    """Which of the six questions are still open, in order.

    >>> unanswered(HangingPosition("over the sofa", wall="inner", use="living"))[0]
    'Does the sun ever fall there, in any month, if only for minutes?'
    """
    open_ = {unknown.field for unknown in unknowns(spot) if unknown.of_six}
    return tuple(question for name, question in SIX if open_ & set(OF_SIX[name]))


def unknowns(spot: HangingPosition) -> tuple[MissingFact, ...]:
    """All that is not said and could matter, the six first. In mild, usual, worst order of their values."""
    return tuple(unknown for make in (_of_six, _of_wall, _of_heat, _of_light, _of_house) for unknown in make(spot))


def _of_six(spot: HangingPosition) -> list[MissingFact]:
    house, six = spot.house, []

    def ask(name: str, values: tuple, question: str, told: str, measure: str = LOOK) -> None:
        if getattr(spot if hasattr(spot, name) else house, name) is None:
            six.append(MissingFact(name, values, question, measure, told, of_six=True))

    if spot.sun is None and sun_is_possible(spot) is not False:
        six.append(MissingFact(
            "sun", (False, True, True), SIX[0][1],
            "look on a clear day in December or January and in June, at nine, noon and three, or ask who lives there",
            "the sun falls there", of_six=True,
        ))  # fmt: skip
    if not spot.log_here:
        ask("radiator", (False, False, True), "Is there a radiator or heating pipe below it?", "a radiator below it")
    if spot.fire_reading_c is None:
        ask("fire", ("none", "none", "in use"), "Is there a fireplace, stove or flue below, beside or behind it?",
            "a fireplace in use below it", "fix a strip that keeps its highest reading, or a logger, at the picture's "
            "middle through one whole evening of fire")  # fmt: skip
    ask("vent", (False, False, True), "Does a vent, fan or air conditioner blow there?", "a vent that blows on it")
    ask("use", ("living", "living", "kitchen"), SIX[2][1], "a room that is cooked in")
    ask("wall", ("inner", "outer", "outer"), SIX[3][1], "an outer wall")
    ask("damp", (False, False, True), "Are there stains, salts, mould or a smell on this wall?", "a damp wall")
    ask("fresh_plaster", (False, False, True), "Was anything plastered or painted there within a year?",
        "fresh plaster")  # fmt: skip
    if not spot.log or spot.reckons:
        ask("heating", ("continuous", "day only", "weekend"), SIX[5][1], "heated at weekends alone",
            "hang a logger in the room over a cold month")  # fmt: skip
        ask("empty_months", ((), (), (12, 1, 2)), "In which months does nobody live there?", "empty in winter")
    return six


def sun_is_possible(spot: HangingPosition) -> bool | None:
    """Whether the sun can reach it through its window, by geometry; None where that is not described enough."""
    house = spot.house
    if spot.window == "no window":
        return False
    if None in (spot.window_faces, spot.window_depth_m, house.latitude):
        return None
    return _sun(spot).falls


def _sun(spot: HangingPosition):
    given = {name: getattr(spot, f"window_{name}") for name in ("aside_m", "head_m", "sill_m", "width_m")}
    window = Glazing(
        COMPASS[str(spot.window_faces)], depth_m=float(spot.window_depth_m or 0),
        **{name: value for name, value in given.items() if value is not None},
    )  # fmt: skip
    return sun_on_picture(window, float(spot.house.latitude or 0), float(spot.house.longitude or 0))


def sun_told(spot: HangingPosition) -> str:
    """What the geometry of the window says of the sun, in words; "" where it is not described."""
    possible = sun_is_possible(spot)
    if possible is None or spot.window == "no window":
        return ""
    if not possible:
        return "by the window's place and the sun's course no direct sun can reach it"
    found = _sun(spot)
    return (
        f"by the window's place the sun can reach it for up to {found.hours:.0f} h a year, in months "
        f"{', '.join(str(month) for month in found.months)}, were nothing in its way"
    )


def _of_wall(spot: HangingPosition) -> list[MissingFact]:
    if not spot.outer:
        return []
    found = [MissingFact(
        "u_value", wall_band(spot), "What is the wall built of, how thick, and when?",
        "read the bare wall's surface on a cold morning before sunrise, room and outdoors at least 10 °C apart, with "
        "the temperature of the room and the mean outdoors of the last day", "the wall as cold as any of its kind",
    )]  # fmt: skip
    if spot.corner is None:
        found.append(MissingFact(
            "corner", (False, False, True), "Is it within half a metre of an outer corner, or low on the wall?", LOOK,
            "an outer corner",
        ))  # fmt: skip
    return found


def wall_band(spot: HangingPosition) -> tuple[float, float, float]:
    """The U-values to run, mild to worst: from a reading of the wall, else by what it is built of, else any."""
    if spot.reading is not None:
        return u_from_reading(*spot.reading)
    if spot.wall == "unheated":
        return u_band("unheated behind")
    if spot.construction is None:
        brick = u_band("solid brick", lined=bool(spot.wall_lined))
        return float(fig.WALLS["built since 2003"][1]), brick[1], brick[2]
    return u_band(spot.construction, spot.thickness_mm, lined=bool(spot.wall_lined))


def _of_heat(spot: HangingPosition) -> list[MissingFact]:
    if spot.radiator is False or spot.log_here or (spot.radiator_aside_m or 0) >= fig.PLUME_ASIDE_M:
        return []
    found = [MissingFact(
        "plume", (1 - float(fig.PLUME_SPREAD), 1.0, 1 + float(fig.PLUME_SPREAD)), "How warm is the air there?",
        "hang a logger there for a week of heating", "a plume half as warm again as reckoned",
    )]  # fmt: skip
    if spot.radiator_above_m is None:
        found.append(MissingFact("radiator_above_m", (2.0, 1.0, 0.5), "How far above the radiator's top?", LOOK,
                             "half a metre above the radiator"))  # fmt: skip
    if spot.radiator_w_per_m is None:
        found.append(MissingFact("radiator_w_per_m", (float(fig.PLUME_LOW_Q), float(fig.PLUME_Q), float(fig.PLUME_Q)),
                             "Is the heating a hot or a low-temperature one?", LOOK, "a hot radiator"))  # fmt: skip
    return found


def _of_light(spot: HangingPosition) -> list[MissingFact]:
    times = float(fig.METER_SPREAD if spot.lux is not None else fig.DOSE_SPREAD)
    meter = "measure with a light meter at the picture's middle, at noon on a bright and on a dull day"
    found = [
        MissingFact("dose_times", (1 / times, 1.0, times), "How light is it there?", meter, "more light than guessed")
    ]
    if spot.lux is not None:
        return found
    if spot.window is None:
        found.append(MissingFact("window", ("deep in the room", "side wall", "opposite a large window"),
                             "Where is the window, and how far?", meter, "opposite a large window"))  # fmt: skip
    if spot.window_faces is None and spot.window != "no window":
        found.append(MissingFact("window_faces", ("N", "E", "S"), "Which way does the window face?", LOOK,
                             "a window to the south"))  # fmt: skip
    if spot.lamp is None:
        found.append(MissingFact("lamp", ("none", "none", "halogen"), "Is there a lamp on it?", LOOK, "a halogen lamp"))
    return found


def _of_house(spot: HangingPosition) -> list[MissingFact]:
    if spot.log and not spot.reckons:
        return []
    dry, mean, damp = (float(excess) for excess in fig.EXCESS_COLD)
    wet = float(fig.EXCESS_HUMIDIFIED)
    bands = {"dry": (dry, dry, mean), "ordinary": (dry, mean, damp), "humidified": (mean, damp, wet)}
    return [MissingFact(
        "excess_g", bands.get(str(spot.house.moisture), (dry, mean, wet)),
        "Is there a humidifier, laundry drying indoors, many plants?", "hang a logger in the room over a cold month",
        "as much moisture in the room as in the dampest house in ten",
    )]  # fmt: skip


Pick = Callable[[str], int]
