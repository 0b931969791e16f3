"""The materials file: what it holds, what it refuses, and a studio's own on top.

Checks against publications name them; the limits themselves are our judgement and have nothing outside to be checked
against. Facts of the trade without a source are marked "common practice" in the file.
"""

import ast
from pathlib import Path

import pytest
from test_figures import figures_in

from envwatch.core.errors import BadInput
from envwatch.figures import SOURCES, Confidence, Figure, materials
from envwatch.figures.materials import Words, load, profiles

ADHESIVES = {
    "eva_film", "eva_soln", "eva_film_wax", "wax_resin", "glue_paste", "starch", "animal_glue", "fish_glue", "acr_disp",
    "acr_solv", "pvac_disp", "polyamide", "epoxy", "mc",
}  # fmt: skip
OTHERS = {
    "linen", "cotton", "polyester_cloth", "oil_paint", "tempera_paint", "acrylic_paint", "glue_ground", "oil_ground",
    "softwood", "natural_resin_varnish", "synthetic_varnish", "japanese_paper", "unknown",
}  # fmt: skip


def words_in(profile):
    first = profile.first_weeks
    held = [getattr(profile, name) for name in profile.__dataclass_fields__] + [w for _, w in profile.signs]
    return [w for w in held + ([first.watched] if first else []) if isinstance(w, Words)]


def studio(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "materials.toml"
    path.write_text(text, encoding="utf-8")
    return path


def refused(tmp_path: Path, text: str) -> str:
    with pytest.raises(BadInput) as error:
        load(studio(tmp_path, text))
    message = str(error.value)
    assert "\n" not in message and message.startswith("materials.toml")
    return message


def test_the_file_holds_these_materials_and_no_more():
    assert set(profiles()) == ADHESIVES | OTHERS
    assert {name for name, p in profiles().items() if p.adhesive} == ADHESIVES


@pytest.mark.parametrize("name", sorted(ADHESIVES | OTHERS))
def test_every_value_has_unit_source_and_confidence(name):
    values = [*figures_in(profiles()[name]), *words_in(profiles()[name])]
    assert len(values) >= (30 if name in ADHESIVES else 2)
    for value in values:
        assert value.unit and value.source in SOURCES and isinstance(value.confidence, Confidence)
        unsourced = value.source in ("our-judgement", "common-practice", "from-memory", "studio")
        assert not (value.confidence is Confidence.PUBLISHED and unsourced)


@pytest.mark.parametrize("name", sorted(OTHERS))
def test_supports_and_paints_have_no_invented_limits(name):
    known = profiles()[name]
    assert known.heat_hour_c is known.damp_percent is known.softening_c is None
    assert known.label and known.mould_class


@pytest.mark.parametrize(
    ("name", "softening", "activation"),
    [
        # 45 °C: Young & Ackroyd, NG Technical Bulletin 22 (2001); 65 °C: Conserving Canvas (2023), chapters 4 to 47
        ("eva_film", 45, 65),
        ("wax_resin", 40, None),  # ceiling: Conserving Canvas, chapter 37
        ("acr_solv", 33, None),  # glass transition of one type: Conserving Canvas, chapter 28
    ],
)
def test_published_onset_of_softening(name, softening, activation):
    onset = profiles()[name].softening_c
    assert onset == softening and onset.confidence is Confidence.PUBLISHED
    if activation:
        assert profiles()[name].activation_low_c == activation


def test_heat_limits_keep_the_distances_they_are_built_on():
    """Our judgement: urgent at the onset, act 5 °C and watch 10 °C below, for films whose onset is known."""
    for name in ("eva_film", "eva_soln", "wax_resin", "acr_disp"):
        known = profiles()[name]
        hour = known.heat_hour_c
        assert (hour.urgent, hour.act, hour.watch) == tuple(known.softening_c - k for k in (0, 5, 10))


def test_common_practice_without_a_source_is_marked_so():
    paste = profiles()["glue_paste"]
    assert paste.strength.confidence is Confidence.COMMON_PRACTICE  # drying of paste: no source
    assert all(words.confidence is Confidence.COMMON_PRACTICE for _, words in paste.signs)


def test_a_studio_without_a_file_of_its_own_has_the_packaged_profiles(tmp_path):
    assert load(tmp_path / "materials.toml") is load()


def test_an_overruled_value_carries_its_reason_and_says_what_it_was(tmp_path):
    table = load(
        studio(tmp_path, "[eva_film.heat_hour_c]\nact = { value = 38, reason = 'our strips crept at 39 °C' }\n")
    )
    act = table["eva_film"].heat_hour_c.act
    assert act == 38 and act.source == "studio" and act.note == "our strips crept at 39 °C"
    assert act.confidence is Confidence.OUR_JUDGEMENT and act.unit == "°C"
    assert table["eva_film"].overruled == ("heat hour, act 40 → 38 °C: our strips crept at 39 °C",)
    assert load()["eva_film"].heat_hour_c.act == 40 and load()["eva_film"].overruled == ()


def test_a_studios_value_that_does_not_fit_the_others_is_refused_with_what_to_do(tmp_path):
    said = refused(tmp_path, "[eva_film.damp_percent]\nwatch = { value = 60, reason = 'lifted' }\n")
    assert "first_weeks.damp_watch_percent is milder" in said and "must fit together" in said


def test_words_and_first_weeks_can_be_overruled_too(tmp_path):
    text = "[glue_paste]\nmould_class = {value='sensitive', reason='alum in the paste'}\n"
    text += "[glue_paste.first_weeks]\ndays = {value=90, reason='damp workshop'}\n"
    paste = load(studio(tmp_path, text))["glue_paste"]
    assert paste.mould_class == "sensitive" and paste.first_weeks.days == 90 and len(paste.overruled) == 2


def test_a_material_of_the_studios_own_is_added_with_its_reason(tmp_path):
    packaged = (Path(materials.__file__).parent / "profiles.toml").read_text(encoding="utf-8")
    begin = packaged.index("[mc]\n")
    own = packaged[begin : packaged.index("\n# Supports", begin)].replace("[mc", "[own_gel")
    added = load(studio(tmp_path, own.replace("[own_gel]\n", "[own_gel]\nreason = 'used since 2020'\n")))
    assert added["own_gel"].overruled == ("added by the studio: used since 2020",)
    assert "reason" in refused(tmp_path, own)


def test_profiles_that_are_given_go_before_the_packaged_ones_and_change_none_of_them(tmp_path):
    own = load(studio(tmp_path, "[mc]\nsoftening_c = { value = 60, reason = 'test' }\n"))
    assert materials.profile("mc", own).softening_c == 60
    assert materials.profile("mc").softening_c is None


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[eva_film]\nsoftening_c = { value = 70, reason = 'x' }",
         "softening_c is above activation_low_c (70 over 65 °C)"),
        ("[eva_film.heat_hour_c]\nwatch = { value = 41, reason = 'x' }",
         "heat_hour_c.act must be above heat_hour_c.watch"),
        ("[eva_film.heat_day_c]\nwatch = { value = 35.5, reason = 'x' }\nact = { value = 37, reason = 'x' }",
         "24 hours above that of an hour"),
        ("[mc.dry_percent]\nwatch = { value = 66, reason = 'x' }", "dry_percent.watch is not below damp_percent.watch"),
        ("[mc.dry_percent]\nact = { value = 33, reason = 'x' }", "dry_percent.act must be below dry_percent.watch"),
        ("[mc.first_weeks]\ndamp_watch_percent = { value = 75, reason = 'x' }", "milder than damp_percent.watch"),
        ("[mc.first_weeks]\ndays = { value = -1, reason = 'x' }", "first_weeks.days is below zero"),
        ("[mc.damp_percent]\nurgent = { value = 101, reason = 'x' }", "not between 0 and 100"),
        ("[mc.cold_c]\nwatch = { value = 40, reason = 'x' }", "cold_c.watch is not below heat_month_c.watch"),
        ("[mc.damp_percent]\nwatch = { value = 68 }", "needs a reason"),
        ("[mc.damp_percent]\nwatch = 68", "needs a reason"),
        ("[mc.damp_percent]\nwatch = { value = 'high', reason = 'x' }", "expected a number"),
        ("[mc.damp_percent]\nwatch = { value = nan, reason = 'x' }", "expected a number"),
        ("[mc.damp_percent]\nwatch = { value = true, reason = 'x' }", "expected a number"),
        ("[mc.damp_percent]\nwatch = { value = 68, unit = 'fraction', reason = 'x' }", "expected ‘% RH’"),
        ("[mc.damp_percent]\nwatch = { value = 68, confidence = 'sure', reason = 'x' }", "expected one of published"),
        ("[mc.damp_percent]\nwatch = { value = 68, source = 'a book', reason = 'x' }", "not in the bibliography"),
        ("[mc.damp_percent]\nhigh = { value = 68, reason = 'x' }", "known are watch, act, urgent"),
        ("[mc]\nmould_class = { value = 'fine', reason = 'x' }", "expected very sensitive or sensitive"),
        ("[mc]\ncolour = { value = 'white', reason = 'x' }", "cannot be overruled"),
        ("[mc]\nfamily = 'glue'", "cannot be overruled"),
        ("[linen.damp_percent]\nwatch = { value = 68, reason = 'x' }", "has no values here"),
        ("[own]\nreason = 'x'\nlabel = 'own'", "short is missing"),
        ("loose = 1", "stands outside a material"),
        ("[mc", "not a readable TOML file"),
    ],
)  # fmt: skip
def test_an_impossible_file_is_refused_in_one_plain_line(tmp_path, text, says):
    assert says in refused(tmp_path, text)


OWN_PAINT = (
    "[own]\nreason='x'\nlabel='own'\nshort='own'\nfamily='{family}'\nkind='paint'\nform='film'\nroles=['paint']\n{rest}"
)
MOULD = "mould_class = {{ value='sensitive', unit='class'{more} }}\ninsect_food = {{ value='no', unit='yes/no' }}\n"


def test_a_new_material_needs_a_known_family_and_units(tmp_path):
    good = OWN_PAINT.format(family="paint", rest=MOULD.format(more=""))
    assert load(studio(tmp_path, good))["own"].mould_class.source == "studio"
    assert "unknown family ‘plastic’" in refused(tmp_path, good.replace("family='paint'", "family='plastic'"))
    assert "unit is missing" in refused(tmp_path, good.replace(", unit='class'", ""))
    assert "an adhesive" not in good and "is missing" in refused(
        tmp_path, good.replace("kind='paint'", "kind='adhesive'")
    )


@pytest.mark.parametrize("lacking", ["unit", "source", "confidence", "value"])
def test_the_packaged_file_may_lack_nothing(lacking):
    from envwatch.figures.materials.load import _value

    entry = {"value": 1, "unit": "°C", "source": "our-judgement", "confidence": "our judgement"}
    assert isinstance(_value("here", "softening_c", entry, "°C", own=False), Figure)
    del entry[lacking]
    with pytest.raises(BadInput, match=f"{lacking} is missing"):
        _value("here", "softening_c", entry, "°C", own=False)


def test_an_unknown_material_is_named_with_those_there_are():
    with pytest.raises(BadInput, match="unknown material ‘wallpaper’; known are acr_disp"):
        materials.profile("wallpaper")


def test_a_file_that_is_not_utf8_is_refused(tmp_path):
    path = tmp_path / "materials.toml"
    path.write_bytes("[mc]\nsoftening_c = { value = 60, reason = 'zu heiß' }".encode("latin-1"))
    with pytest.raises(BadInput, match="not UTF-8"):
        load(path)


def test_profiles_survive_copying_and_pickling():
    import pickle

    again = pickle.loads(pickle.dumps(profiles()["eva_film"]))
    assert again.softening_c.source == "young-ackroyd-2001" and again.activation_high_c.note == "chapter 19"


GIVEN = {"verdict.dampness": 5, "verdict.judge": 4, "verdict.judge_either": 4, "aftercare.due": 4, "due": 4,
         "aftercare.due_after": 4, "due_after": 4, "after_move": 2, "candidates": 2}  # fmt: skip


def test_whoever_judges_for_a_studio_gives_the_studios_own_materials():
    """By default the packaged ones count, for scripts; no command and no page may leave it at that."""
    root = Path(__file__).parent.parent
    left_out = []
    for path in [*(root / "envwatch").rglob("*.py"), *(root / "dashboards").rglob("*.py")]:
        for call in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(call, ast.Call) or ast.unparse(call.func) not in GIVEN:
                continue
            bare_room = len(call.args) > 1 and ast.unparse(call.args[1]) == "None"  # which is of no material
            named = any(word.arg == "materials" for word in call.keywords)
            if not (len(call.args) >= GIVEN[ast.unparse(call.func)] or named or bare_room):
                left_out.append(f"{path.relative_to(root)}: {ast.unparse(call)}")
    assert not left_out
