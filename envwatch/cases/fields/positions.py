"""What file and page say of a house and of a position in it, in the order in which a refusal lists what is known."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import Any

from envwatch.cases.fields import DAY, LENGTH, MONTHS, NUMBER, PLACE, TEMP, TEXT, YES_NO, Input, same
from envwatch.core.place import POSITIONS
from envwatch.figures import hanging as fig
from envwatch.physics.light import COMPASS


def _plain(name: str, words: str, hint: str = "", kind: str = TEXT, **rest: Any) -> Input:
    return Input(name, "", words, hint, kind, **rest)


def _one_of(name: str, words: str, of: Iterable[str]) -> Input:
    return _plain(name, words, choices=same(of))


def _within(
    low: float, high: float, name: str, words: str, hint: str = "", kind: str = NUMBER, unit: str = ""
) -> Input:
    return _plain(name, words, hint, kind, limits=(low, high), unit=unit)


_yes_no, _temp = partial(_plain, kind=YES_NO, choices=same(("yes", "no"))), partial(_within, kind=TEMP)
_mm, _m = (partial(_within, kind=LENGTH, unit=unit) for unit in ("mm", "m"))
USES = ("living", "bedroom", "office", "hall", "stairs", "kitchen", "bathroom", "attic", "cellar", "other")
HOUSE = {one.name: one for one in (
    _plain("house", "the house's name", "for the page; no address"),
    _plain("place", "its place in the register, for its loggers", kind=PLACE),
    _plain("outdoors", "the logger outdoors near it", kind=PLACE),
    _within(-66, 66, "latitude", "latitude", "54.3"), _within(-180, 180, "longitude", "longitude", "9.6"),
    _one_of("heating", "heating", fig.HEATING), _temp(0, 30, "warm_c", "warm by day, °C"),
    _temp(0, 30, "cool_c", "cool by night, °C"), _plain("empty_months", "empty in the months", "1, 2, or none", MONTHS),
    _one_of("moisture", "moisture habits", ("dry", "ordinary", "humidified")),
    _temp(-40, 30, "coldest_month_c", "coldest month outdoors, °C", "where no logger reads outdoors"),
    _temp(-5, 40, "warmest_month_c", "warmest month outdoors, °C"),
    _temp(-50, 30, "cold_spell_c", "a cold spell there, °C"), Input("hang_on", kind=DAY),
)}  # fmt: skip
POSITION = {one.name: one for one in (
    _plain("name", "which place is it?", "over the sideboard"), _plain("room", "the room's name", "living room"),
    _one_of("use", "room", USES), _one_of("wall", "wall", ("inner", "outer", "party", "unheated", "chimney")),
    _one_of("construction", "the outer wall is built of", fig.WALLS),
    _yes_no("wall_lined", "insulated on the inside?"), _yes_no("corner", "within half a metre of an outer corner?"),
    _yes_no("damp", "stains, salts, mould, smell"), _yes_no("fresh_plaster", "fresh plaster or paint"),
    _yes_no("radiator", "radiator"), _within(20, 3000, "radiator_w_per_m", "the radiator's output, W per metre"),
    _one_of("fire", "fireplace or flue", ("none", "in use", "disused", "flue")),
    _temp(5, 120, "fire_reading_c", "highest at the picture through an evening of fire, °C"),
    _yes_no("vent", "vent or fan heater"), _yes_no("sun", "direct sun"),
    _one_of("window", "the window is", ("no window", *fig.WINDOW_SHARE)),
    _one_of("window_faces", "it faces", COMPASS), _one_of("curtain", "curtain by day", fig.CURTAIN_PASSES),
    _within(0, 100_000, "lux", "light meter by day, lux", "with the hours"),
    _within(0, 24, "lux_hours", "for how many hours a day"),
    _one_of("lamp", "a lamp on it", ("none", "led", "halogen")), _within(0, 20_000, "lamp_lux", "the lamp gives, lux"),
    _within(0, 24, "lamp_hours", "for how many hours a day"),
    _one_of("board", "backing board", ("none", "hardboard", "foam")), _yes_no("glazed", "glazed?"),
    _yes_no("fixing", "does the wall take two fixings of its weight?"),
    _one_of("log", "a logger of this house hangs", ("room", *POSITIONS)),
    _yes_no("log_here", "and it hangs at this very position"),
    _temp(-20, 40, "wall_c", "bare wall on a cold morning, °C", "the three together, read before sunrise"),
    _temp(0, 35, "wall_room_c", "the room then, °C"), _temp(-40, 30, "wall_out_c", "outdoors, the last day's mean, °C"),
)}  # fmt: skip
LENGTHS = {one.name: one for one in (  # of a position too; limits in metres
    _mm(0, 0.3, "standoff", "it stands off the wall by", "25 mm"), _mm(0, 0.3, "depth", "the frame's depth", "45 mm"),
    _mm(0.05, 1.4, "thickness", "how thick", "36 cm"),
    _m(0, 4, "radiator_above", "its foot above the radiator's top", "60 cm"),
    _m(0, 20, "radiator_aside", "sideways from the radiator", "1.5 m"),
    _m(0, 20, "window_depth", "from the window's wall", "2.5 m"),
    _m(-20, 20, "window_aside", "sideways from the window's middle", "1 m"),
    _m(0.3, 6, "window_head", "its head above the picture's middle", "0.8 m"),
    _m(0, 4, "window_sill", "its sill above the floor", "0.9 m"),
    _m(0.2, 10, "window_width", "the window's width", "1.2 m"),
)}  # fmt: skip
