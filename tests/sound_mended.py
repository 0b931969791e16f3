"""What did not hold and was mended: mechanism, the simplest exposure found, and the hours without which it failed."""

from envwatch.climate.exposure import CANVAS_BACK, ROOM, WALL_FACE
from tests.exposures import Air, Coat, Spell, Whole

CALM = (Coat("canvas", "linen"),)
Blocks = tuple[tuple[int, int], ...]  # first hour of the record, how many
MENDED: dict[str, tuple[tuple[str, str], Whole, Blocks]] = {
    "a painting that came cold out of a gap was taken to have had the room's warmth": (
        ("condensation", "water on the painting"),
        Whole(seed=9022, end_h=3060, rooms=(Air(18, 35, spells=(Spell(110, 10, 30, -11),)),), coats=CALM),
        ((1320, 10), (1340, 4)),
    ),
    "what a gap leaves open was looked for in the hours read alone": (
        ("fluctuation", "swing in a day or a week"),
        Whole(seed=3732, end_h=4044, rooms=(Air(15, 69, spells=(Spell(36, 135, -15, 45),)),),
              coats=(Coat("old lining", "glue_paste"),)),
        ((1417, 19),),
    ),
    "what a gap leaves open of the humidity did not count for how far it may have swung": (
        ("lining", "swing"),
        Whole(seed=5983, days=100, end_h=1266, rooms=(Air(11, 34, spells=(Spell(85, 125, -21, 45),)),),
              coats=(Coat("patch", "pvac_disp", 95),)),
        ((2314, 15),),
    ),
    "what a gap leaves open of the level it is held against did not count": (
        ("fluctuation", "swing beyond what it has known"),
        Whole(seed=5127, end_h=1272, gaps=((148, 472),), coats=CALM, backed=True,
              rooms=(Air(12, 70, season_rh=4, day_rh=10, weather_rh=9, spells=(Spell(193, 250, 7, -31),)),)),
        ((1288, 31),),
    ),
    "a gap was taken to be as cold, or as dry, as an hour about it, not as the coldest and the driest of them": (
        ("fluctuation", "cold"),
        Whole(seed=3317, end_h=4836, coats=CALM,
              rooms=(Air(9, 37, season_k=1, season_rh=5, day_k=3, day_rh=7, weather_rh=9),)),
        ((1269, 25),),
    ),
    "the wall behind may stand higher by its sensor than the canvas stands for certain": (
        ("mould", "growth index"),
        Whole(seed=2147, days=243, end_h=4620, judged_h=5832, points=(ROOM, CANVAS_BACK, WALL_FACE), coats=CALM,
              rooms=(Air(13, 68, weather_k=0.1, spells=(Spell(27, 12, 24), Spell(10, 10, 0, 14), Spell(8, 8, 22))),)),
        ((5787, 43),),
    ),
    "hours not read within a damp spell were taken as the week about it, dry hours and all": (
        ("mould", "growth index"),
        Whole(seed=8171, days=85, end_h=1866, gaps=((80, 8),), coats=CALM, mould_ago_days=376,
              rooms=(Air(13, 40, spells=(Spell(80, 50, 0, 60), Spell(60, 6, 0, -60))),)),
        ((1993, 9),),
    ),
    "hours not read that may have gone beyond all it has met stood behind a larger swing that it has met": (
        ("fluctuation", "swing beyond what it has known"),
        Whole(seed=5037, days=491, end_h=4860, rooms=(Air(24, 72, season_rh=6, day_rh=20, weather_rh=7),), coats=CALM),
        ((11774, 9),),
    ),
}  # fmt: skip
