"""Each figure says where it is from and how far to trust it; no source stands in the list for nothing."""

import importlib
import pkgutil
import re
from collections.abc import Iterable, Mapping
from pathlib import Path

import envwatch.figures
from envwatch.figures import SOURCES, Confidence, Figure


def figures_in(value) -> Iterable[Figure]:
    """All figures in a value, however nested."""
    if isinstance(value, Figure):
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
    unused = [key for key in SOURCES if not any(f'"{key}"' in text for text in texts)]
    assert not unused


def test_a_source_is_a_publication_and_no_library_that_computes_it():
    libraries = "psychrolib|pvlib|coolprop|scipy|numpy|pandas|plotly|astral"
    named = {key for key, reference in SOURCES.items() if re.search(libraries, reference, re.IGNORECASE)}
    assert not named and "Psychrometrics" in SOURCES["ashrae-fundamentals-2017"]
