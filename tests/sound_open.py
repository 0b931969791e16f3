"""What is known not to hold yet, each with the simplest exposure found and the dice it fails by.

`test_sound` leaves these mechanisms out of the general search and tries the exposure: when it holds, the entry goes.
"""

from tests.exposures import Air, Coat, Spell, Whole

UNREAD = "what was not read is taken as no worse than what was, and called certain"
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
    ("less", ("lining", "heat")): (
        UNREAD,
        Whole(seed=7857, end_h=1572, step_min=180, block_h=3, judged_h=720,
              rooms=(Air(25, 77, spells=(Spell(662, 4, 13, -9),)),), coats=(Coat("consolidant", "animal_glue", 144),)),
        (11, 216, 2),
    ),
    ("less", ("lining", "swing")): (
        UNREAD,
        Whole(seed=7309, end_h=3930, step_min=180, block_h=3, coats=(Coat("size", "animal_glue"),),
              rooms=(Air(21, 77, season_rh=15, day_rh=6, weather_rh=6, spells=(Spell(8, 8, 0, -30),)), Air(12, 57))),
        (11, 173, 2),
    ),
    ("less", ("lining", "cold")): (
        UNREAD,
        Whole(seed=9396, end_h=3306, points=("room", "canvas_back"), temp_u_c=0.2,
              coats=(Coat("film", "pvac_disp", -14),), rooms=(Air(11, 50, season_k=8, day_k=6, weather_k=3),)),
        (1, 308, 1),
    ),
    ("less", ("fluctuation", "cold")): (
        UNREAD,
        Whole(seed=1305, end_h=2052, rooms=(Air(7, 64, season_k=2, weather_k=1.2), Air(21, 69)), coats=CALM),
        (1, 975, 1),
    ),
    ("less", ("lining", "dry")): (
        UNREAD,
        Whole(seed=5237, end_h=1998, coats=(Coat("impregnation", "wax_resin", 9),),
              rooms=(Air(18, 51, season_rh=15, spells=(Spell(55, 860, 21, -24),)),
                     Air(18, 51, weather_k=1.2, weather_rh=3.2, spells=(Spell(109, 109, -14, 9),)))),
        (1, 1254, 1),
    ),
    ("less", ("lining", "damp")): (
        UNREAD,
        Whole(seed=7403, days=97, end_h=5196, points=("room", "canvas_back", "wall_face"), judged_h=2328,
              rooms=(Air(5, 75, weather_k=0.1, weather_rh=0.3, spells=(Spell(1301, 10, -15, 9), Spell(530, 9, -2, 0))),
                     Air(24, 73, weather_k=0.1, weather_rh=0.3,
                         spells=(Spell(1, 1, 25, -26), Spell(13, 223, 0, 18), Spell(2007, 755, 0, -24)))),
              coats=(Coat("tear mend", "mc", 94), Coat("consolidant", "animal_glue"),
                     Coat("varnish", "natural_resin_varnish", -10))),
        (1, 686, 1),
    ),
    ("less", ("fluctuation", "swing beyond what it has known")): (
        UNREAD,
        Whole(seed=5127, end_h=1272, gaps=((148, 472),), coats=CALM, backed=True,
              rooms=(Air(12, 70, season_rh=4, day_rh=10, weather_rh=9, spells=(Spell(193, 250, 7, -31),)),)),
        (1, 1484, 1),
    ),
}  # fmt: skip
