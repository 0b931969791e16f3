"""What is known not to hold yet, each with the simplest exposure found and the dice it fails by.

`test_sound` leaves these mechanisms out of the general search and tries the exposure: when it holds, the entry goes.
"""

from tests.exposures import Air, Coat, Spell, Whole

CALM = (Coat("canvas", "linen"),)
OPEN: dict[tuple[str, tuple[str, str]], tuple[str, Whole, tuple[int, ...]]] = {
    ("less", ("mould", "damp hours")): (
        "the clock of a spell stands still in a gap, and only what was counted is called certain",
        Whole(seed=6244, end_h=4374, rooms=(Air(9, 77),), coats=CALM), (11, 56, 2),
    ),
    ("less", ("condensation", "water on the painting")): (
        "a painting that came cold out of a gap is taken to have had the room's warmth",
        Whole(seed=9022, end_h=3060, rooms=(Air(18, 35, spells=(Spell(110, 10, 30, -11),)),), coats=CALM), (11, 6, 2),
    ),
    ("less", ("lining", "swing")): (
        "what a gap leaves open of the humidity does not count for how far it may have swung",
        Whole(seed=2677, days=80, end_h=4914, coats=(Coat("size", "animal_glue"),),
              rooms=(Air(20, 78, day_rh=6.4, weather_rh=4.0, spells=(Spell(3, 3, 0, 39),)), Air(17, 75))),
        (12, 108, 2),
    ),
    ("less", ("fluctuation", "swing beyond what it has known")): (
        "what a gap leaves open of the level it is held against does not count",
        Whole(seed=5127, end_h=1272, gaps=((148, 472),), coats=CALM, backed=True,
              rooms=(Air(12, 70, season_rh=4, day_rh=10, weather_rh=9, spells=(Spell(193, 250, 7, -31),)),)),
        (1, 1484, 1),
    ),
}  # fmt: skip
