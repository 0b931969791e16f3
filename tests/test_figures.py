"""Each figure says where it is from and how far to trust it; no source stands in the list for nothing."""

import importlib
import pkgutil
import re
from collections.abc import Iterable, Mapping
from pathlib import Path

import envwatch.figures
from envwatch.core.quantities import Seen, Source
from envwatch.figures import SOURCES, Confidence, Figure, canvas, mould
from envwatch.figures.materials import profiles
from envwatch.figures.materials.profile import Words


def figures_in(value) -> Iterable[Figure]:
    """All figures in a value, however nested."""
    if isinstance(value, Figure | Words):
        yield value
    elif isinstance(value, Mapping):
        for item in value.values():
            yield from figures_in(item)
    elif isinstance(value, list | tuple | set | frozenset):
        for item in value:
            yield from figures_in(item)
    elif hasattr(value, "__dataclass_fields__") and not isinstance(value, type):
        for name in value.__dataclass_fields__:
            yield from figures_in(getattr(value, name))


def all_figures() -> list[tuple[str, Figure]]:
    found = []
    for module in pkgutil.iter_modules(envwatch.figures.__path__):
        content = vars(importlib.import_module(f"envwatch.figures.{module.name}"))
        for name, value in content.items():
            if not name.startswith("__"):
                found += [(f"{module.name}.{name}", figure) for figure in figures_in(value)]
    return found


def all_told() -> list[tuple[str, Figure | Words]]:
    """Figures of the package and values of the materials, by name."""
    return all_figures() + [(f"materials.{key}", value) for key, p in profiles().items() for value in figures_in(p)]


def test_every_figure_names_a_source_in_the_bibliography():
    missing = {name: figure.source for name, figure in all_figures() if figure.source not in SOURCES}
    assert not missing


def test_every_figure_has_a_unit_and_a_confidence():
    faulty = [n for n, f in all_figures() if not f.unit or not isinstance(f.confidence, Confidence)]
    assert not faulty


def test_what_has_no_source_is_never_called_published():
    unsourced = {"our-judgement", "common-practice"}
    faulty = [n for n, f in all_figures() if f.source in unsourced and f.confidence is Confidence.PUBLISHED]
    assert not faulty


def test_every_source_in_the_bibliography_is_used():
    package = Path(envwatch.__file__).parent
    texts = [path.read_text(encoding="utf-8") for path in package.rglob("*.py") if path.name != "sources.py"]
    texts += [path.read_text(encoding="utf-8") for path in package.rglob("*.toml") if "sample_logs" not in path.parts]
    unused = [key for key in SOURCES if not any(re.search(rf"(?<![\w-]){key}(?![\w-])", text) for text in texts)]
    assert not unused


def test_a_source_is_a_publication_and_no_library_that_computes_it():
    libraries = "psychrolib|pvlib|coolprop|scipy|numpy|pandas|plotly|astral"
    named = {key for key, reference in SOURCES.items() if re.search(libraries, reference, re.IGNORECASE)}
    assert not named and "Psychrometrics" in SOURCES["ashrae-fundamentals-2017"]


PLACES = "pages? tables? figures? clause sections? chapters? equations? abstract part appendix annex article summary"
PLACE = re.compile(rf"\b({'|'.join(PLACES.split())}|introduction|conclusions|constants|\d+-\d+)\b", re.IGNORECASE)


def test_nothing_is_called_published_of_which_nothing_was_seen():
    told = [(n, f) for n, f in all_told() if f.confidence is Confidence.PUBLISHED]
    assert len(told) > 150
    assert not [n for n, f in told if not isinstance(SOURCES[f.source], Source)]
    assert not [(n, f.source) for n, f in told if SOURCES[f.source].seen is Seen.NOTHING]


def test_what_is_published_says_where():
    """A page, table, clause, chapter or section; an abstract counts as one. With the figure, or with its source."""
    told = [(n, f) for n, f in all_told() if f.confidence is Confidence.PUBLISHED]
    assert not [(n, f.source) for n, f in told if not PLACE.search(f"{f.note} {SOURCES[f.source]}")]


def test_a_rule_withdrawn_by_its_standard_is_marked():
    """The 30-day mean under 80 % of ASHRAE Standard 160-2009: abstract of ASTM STP 1599 (2017), 20160106."""
    gone = {key for key, source in SOURCES.items() if isinstance(source, Source) and source.withdrawn}
    assert gone == {"ashrae-160-2009", "old-norm"}
    held = [(n, f) for n, f in all_told() if f.source in gone]
    assert len(held) >= 8 and not [n for n, f in held if not re.search("withdrawn|former|old norm", f.note)]
    assert "2016" in SOURCES["ashrae-160-2009"] and "Withdrawn" in SOURCES["ashrae-160-2009"]
    assert "withdrawn" in mould.MONTH_MEAN_RH.note


def test_publications_named_in_a_note_are_in_the_bibliography():
    """By key, or as author and year, unless the note says who cites them."""
    keys = re.compile(r"\b[a-z]+(?:-[a-z]+)*-(?:19|20)\d\d\b")
    named = re.compile(r"\b([A-Z][a-zéńö]+)(?: (?:and|&) [A-Z]\w+| et al\.)? (?:19|20)\d\d\b")
    notes = {f.note for _, f in all_told()}
    assert not [key for note in notes for key in keys.findall(note) if key not in SOURCES]
    authors = [(who, note) for note in notes for who in named.findall(note) if not re.search("cited|citing", note)]
    known = " ".join(SOURCES.values())
    assert not [(who, note) for who, note in authors if who not in known and who != "Canvas"]


def test_each_chapter_stands_in_its_own_book():
    """Pages as seen: 464 opens a part of Painted Wood; 528 and 542 are of the volume on panel paintings."""
    assert "Painted Wood" in SOURCES["mecklenburg-1998"] and "464-483" in SOURCES["mecklenburg-1998"]
    of_panels = "richard-mecklenburg-tumosa-1998"
    assert "Panel Paintings" in SOURCES[of_panels] and "464" not in SOURCES[of_panels]
    strains = [*canvas.YIELD_STRAIN.values(), canvas.FAILURE_STRAIN]
    assert {f.source for f in strains} == {of_panels} and all("page 528" in f.note for f in strains)


def test_a_glass_transition_of_alkyd_is_not_given_as_one_of_oil():
    """Richard, Mecklenburg & Tumosa 1998, page 542: alkyd about -5 °C; oil paint is said to embrittle colder."""
    limit = canvas.OIL_COLD_URGENT_C
    assert limit.confidence is Confidence.OUR_JUDGEMENT and "alkyd" in limit.note and "oil paint colder" in limit.note
