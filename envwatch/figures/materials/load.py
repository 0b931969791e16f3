"""Reading the materials file, and a studio's own on top; an impossible profile is refused in one plain line."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterable
from dataclasses import MISSING, fields, replace
from difflib import get_close_matches
from functools import cache
from importlib import resources
from pathlib import Path
from types import MappingProxyType
from typing import Any

from envwatch.core import toml
from envwatch.core.errors import BadInput
from envwatch.core.quantities import STUDIO
from envwatch.figures import SOURCES, Confidence, Figure
from envwatch.figures.materials import checks
from envwatch.figures.materials.profile import FirstWeeks, Limits, Materials, Profile, Words, Working

PACKAGED = "profiles.toml"


def load(extra: Path | None = None) -> Materials:
    """The packaged profiles, with a studio's own file on top.

    Parameters
    ----------
    extra : a TOML file that adds materials or overrules single values; one that is not there adds nothing.
        An overruled value needs `value` and `reason`; a new material needs a `reason` and what the packaged
        ones have. Unit, source and confidence may be left out: unit as before, source the studio, our judgement.

    Raises
    ------
    BadInput : what cannot be read or cannot be, with file, material and entry, in one line.

    >>> float(load()["eva_film"].softening_c), load()["eva_film"].softening_c.confidence.value
    (45.0, 'published')
    """
    if extra is None or not extra.exists():
        return _packaged()
    table = dict(_packaged())
    for name, raw in _tables(extra.name, _read_file(extra)).items():
        known = table.get(name)
        table[name] = _added(extra.name, name, raw) if known is None else _overruled(extra.name, known, raw)
    return MappingProxyType(table)


def profiles(own: Materials | None = None) -> Materials:
    """The profiles given; the packaged ones where none are."""
    return _packaged() if own is None else own


def profile(name: str, own: Materials | None = None) -> Profile:
    """One profile of those given, or of the packaged ones.

    Raises
    ------
    BadInput : no such material; it names those there are.
    """
    known = profiles(own)
    if name not in known:
        raise BadInput(f"unknown material ‘{name}’; known are {', '.join(sorted(known))}")
    return known[name]


def digest(known: Materials) -> str:
    """One key for all profiles, their words and sources included."""
    return "".join(one.digest for one in known.values())


def refuse_unknown(used: Iterable[tuple[str, str]], known: Materials) -> None:
    """Refuse the first material that the profiles do not hold; "unknown" is one of them, empty is none.

    Parameters
    ----------
    used : where a material is named, in words, and its key.

    Raises
    ------
    BadInput : where, the key, and the nearest known ones.
    """
    for where, key in used:
        if key and key not in known:
            raise BadInput(f"{unlike(key, known)}", place=where)


def unlike(key: str, known: Iterable[str]) -> str:
    """That no such material is known, and what may have been meant.

    >>> unlike("eva_flim", ["eva_film", "linen"])
    "material 'eva_flim' is not in the materials file; did you mean 'eva_film'?"
    """
    near = get_close_matches(key, known, 1)
    hint = f"did you mean {near[0]!r}?" if near else f"use unknown, or one of: {', '.join(sorted(known))}"
    return f"material {key!r} is not in the materials file; {hint}"


@cache
def _packaged() -> Materials:
    text = resources.files("envwatch.figures.materials").joinpath(PACKAGED).read_text(encoding="utf-8")
    tables = _tables(PACKAGED, toml.loads(text))
    return MappingProxyType({name: _built(PACKAGED, name, raw, own=False) for name, raw in tables.items()})


def _read_file(path: Path) -> dict[str, Any]:
    try:
        return toml.loads(path.read_text(encoding="utf-8-sig"))
    except tomllib.TOMLDecodeError as error:
        raise BadInput(f"not a readable TOML file: {error}", place=path.name) from None
    except UnicodeDecodeError:
        raise BadInput("not UTF-8 text; save it as UTF-8", place=path.name) from None
    except OSError as error:
        raise BadInput(f"cannot be opened ({error.strerror or error})", place=path.name) from None


def _tables(file: str, raw: dict[str, Any]) -> dict[str, dict[str, Any]]:
    for name, table in raw.items():
        if not isinstance(table, dict):
            raise BadInput(f"‘{name}’ stands outside a material; put it under a heading such as [eva_film]", place=file)
    return raw


def _added(file: str, name: str, raw: dict[str, Any]) -> Profile:
    reason = str(raw.get("reason", "")).strip()
    if not reason:
        raise BadInput(f'{file}, {name}: a new material needs a reason = "…" (or is the name of a known one misspelt?)')
    built = _built(file, name, {key: value for key, value in raw.items() if key != "reason"}, own=True)
    return replace(built, overruled=(f"added by the studio: {reason}",))


def _overruled(file: str, known: Profile, raw: dict[str, Any]) -> Profile:
    """A known profile with single values of the studio's own."""
    said: list[str] = []
    for name, entry in raw.items():
        where = f"{file}, {known.id}: {name}"
        if name in checks.GROUPS:
            known = replace(known, **{name: _group_over(where, name, getattr(known, name), entry, said)})
        elif name in checks.NUMBERS or name in checks.WORDS:
            value: Any = _own_value(where, name, entry, {**checks.NUMBERS, **checks.WORDS}[name])
            said.append(_changed(name, getattr(known, name), value))
            known = replace(known, **{name: value})
        else:
            raise BadInput(f"{where} cannot be overruled; values that can are {_values_known()}")
    return _possible(file, replace(known, overruled=(*known.overruled, *said)))


def _group_over(where: str, name: str, held: Any, entry: Any, said: list[str]) -> Any:
    if held is None or not isinstance(entry, dict):
        raise BadInput(f'{where} has no values here; write {name}.watch = {{ value = …, reason = "…" }}')
    signs = dict(held) if isinstance(held, tuple) else None
    for step, given in entry.items():
        unit = checks.GROUPS[name].get(step)
        if unit is None:
            raise BadInput(f"{where}.{step} is not known; known are {', '.join(checks.GROUPS[name])}")
        value = _own_value(f"{where}.{step}", step, given, unit)
        before = signs.get(step) if signs is not None else getattr(held, step, None)
        said.append(_changed(f"{name}.{step}", before, value))
        if signs is None:
            held = replace(held, **{step: value})
        else:
            signs[step] = value
    return held if signs is None else tuple(signs.items())


def _own_value(where: str, name: str, entry: Any, unit: str) -> Figure | Words:
    if not isinstance(entry, dict) or not str(entry.get("reason", "")).strip():
        raise BadInput('an overruled value needs a reason; write { value = …, reason = "…" }', place=where)
    given = {"unit": unit, **{key: value for key, value in entry.items() if key != "reason"}}
    return _value(where, name, {"note": entry["reason"], **given}, unit, own=True)


def _changed(name: str, before: Figure | Words | None, value: Figure | Words) -> str:
    def show(v: Figure | Words | None) -> str:
        return "none" if v is None else f"{v:g}" if isinstance(v, float) else f"‘{v}’"

    unit = f" {value.unit}" if isinstance(value, Figure) else ""
    return f"{_in_words(name)} {show(before)} → {show(value)}{unit}: {value.note}"


def _in_words(name: str) -> str:
    """An entry's name without its unit, for people: "heat_hour_c.act" is "heat hour, act"."""
    parts = (re.sub(r"_(c|percent|h|n_per_m)$", "", part).replace("_", " ") for part in name.split("."))
    return ", ".join(parts)


def _values_known() -> str:
    return ", ".join((*checks.NUMBERS, *checks.WORDS, *checks.GROUPS))


def _built(file: str, name: str, raw: dict[str, Any], own: bool) -> Profile:
    """A profile from one whole table of a file."""
    parts: dict[str, Any] = {"id": name}
    for key, entry in raw.items():
        where = f"{file}, {name}: {key}"
        if key in checks.DESCRIPTIONS:
            parts[key] = tuple(entry) if key == "roles" else str(entry)
        elif key in checks.GROUPS:
            parts[key] = _group(where, key, entry, own)
        elif key in checks.NUMBERS or key in checks.WORDS:
            parts[key] = _value(where, key, entry, {**checks.NUMBERS, **checks.WORDS}[key], own)
        else:
            raise BadInput(f"{where} is not known; known are {', '.join(checks.DESCRIPTIONS)}, {_values_known()}")
    needed = checks.NEEDED_OF_ALL + (checks.NEEDED_OF_ADHESIVES if parts.get("kind") == "adhesive" else ())
    for key in needed:
        if key not in parts:
            raise BadInput(f"{file}, {name}: {key} is missing")
    return _possible(file, Profile(**parts))


def _possible(file: str, built: Profile) -> Profile:
    fault = checks.impossible(built)
    if fault:
        mixed = "; what is overruled and what is not must fit together" if built.overruled else ""
        raise BadInput(f"{file}, {built.id}: {fault}{mixed}")
    return built


def _group(where: str, name: str, entry: Any, own: bool) -> Any:
    if not isinstance(entry, dict):
        raise BadInput(f"{where} is a single value; it needs its own heading with {', '.join(checks.GROUPS[name])}")
    values: dict[str, Any] = {}
    for step, given in entry.items():
        if step not in checks.GROUPS[name]:
            raise BadInput(f"{where}.{step} is not known; known are {', '.join(checks.GROUPS[name])}")
        values[step] = _value(f"{where}.{step}", step, given, checks.GROUPS[name][step], own)
    if name == "signs":
        return tuple(values.items())
    kind: type = {"first_weeks": FirstWeeks, "working": Working}.get(name, Limits)
    try:
        return kind(**values)
    except TypeError:
        lacking = [f.name for f in fields(kind) if f.default is MISSING and f.name not in values]
        raise BadInput(f"{where}.{lacking[0]} is missing") from None


def _value(where: str, name: str, entry: Any, unit: str, own: bool) -> Figure | Words:
    """One value with its provenance, checked."""
    if not isinstance(entry, dict):
        raise BadInput("write { value = …, unit = …, source = …, confidence = … }, not a bare value", place=where)
    if own:
        entry = {"source": STUDIO, "confidence": Confidence.OUR_JUDGEMENT.value, **entry}
    for key in ("value", "unit", "source", "confidence"):
        if key not in entry:
            raise BadInput(f"{key} is missing", place=where)
    extra = set(entry) - {"value", "unit", "source", "confidence", "note"}
    if extra:
        raise BadInput(
            f"‘{sorted(extra)[0]}’ is not known; known are value, unit, source, confidence, note", place=where
        )
    if entry["unit"] != unit:
        raise BadInput(f"unit reads ‘{entry['unit']}’, expected ‘{unit}’", place=where)
    if entry["source"] not in SOURCES:
        raise BadInput(
            f"source ‘{entry['source']}’ is not in the bibliography; leave it out and put it into note", place=where
        )
    try:
        confidence = Confidence(entry["confidence"])
    except ValueError:
        known = ", ".join(c.value for c in Confidence)
        raise BadInput(f"confidence reads ‘{entry['confidence']}’, expected one of {known}", place=where) from None
    kind = Words if unit in checks.WORDS.values() else Figure
    return kind(
        _checked(where, name, entry["value"], kind), unit, entry["source"], confidence, str(entry.get("note", ""))
    )


def _checked(where: str, name: str, value: Any, kind: type) -> Any:
    if kind is Words:
        choices = checks.CHOICES.get(name)
        if not isinstance(value, str) or (choices and value not in choices):
            raise BadInput(
                f"{where} reads ‘{value}’, expected {' or '.join(choices) if choices else 'words in quotes'}"
            )
        return value
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise BadInput(f"{where} reads ‘{value}’, expected a number")
    return float(value)
