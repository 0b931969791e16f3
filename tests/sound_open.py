"""What is known not to hold yet, each with the simplest exposure found and the hours without which it fails.

`test_sound` leaves these mechanisms out of the general search and tries the exposure: when it holds, the entry goes.
"""

from tests.exposures import Air, Coat, Spell, Whole

CALM = (Coat("canvas", "linen"),)
OPEN: dict[tuple[str, tuple[str, str]], tuple[str, Whole, tuple[tuple[int, int], ...]]] = {
    ("less", ("condensation", "water on the painting")): (
        "a painting that came cold out of a gap is taken to have had the room's warmth",
        Whole(seed=9022, end_h=3060, rooms=(Air(18, 35, spells=(Spell(110, 10, 30, -11),)),), coats=CALM),
        ((1320, 10), (1340, 4)),
    ),
    ("less", ("fluctuation", "swing in a day or a week")): (
        "what a gap leaves open is looked for in the hours read alone",
        Whole(seed=3732, end_h=4044, rooms=(Air(15, 69, spells=(Spell(36, 135, -15, 45),)),),
              coats=(Coat("old lining", "glue_paste"),)),
        ((1417, 19),),
    ),
    ("less", ("lining", "swing")): (
        "what a gap leaves open of the humidity does not count for how far it may have swung",
        Whole(seed=5983, days=100, end_h=1266, rooms=(Air(11, 34, spells=(Spell(85, 125, -21, 45),)),),
              coats=(Coat("patch", "pvac_disp", 95),)),
        ((2314, 15),),
    ),
    ("less", ("fluctuation", "swing beyond what it has known")): (
        "what a gap leaves open of the level it is held against does not count",
        Whole(seed=5127, end_h=1272, gaps=((148, 472),), coats=CALM, backed=True,
              rooms=(Air(12, 70, season_rh=4, day_rh=10, weather_rh=9, spells=(Spell(193, 250, 7, -31),)),)),
        ((1288, 31),),
    ),
}  # fmt: skip
