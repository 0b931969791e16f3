"""Owners' names and houses taken out of what leaves the studio."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

WITHHELD = re.compile(r"owner \d+, withheld")
SHORTEST = 4  # letters of a surname that is looked for by itself: a shorter one is too often another word
FREE = {
    "title", "maker", "name", "labels", "note", "purpose", "sign", "where", "limits_told", "batch", "basis", "channel",
    "photo", "peel_trial", "removal", "stretcher", "varnish", "ground", "value_band", "made", "support", "layer",
    "form", "carrier", "side", "because", "by",
}  # fmt: skip
IDS = {"id", "painting", "place", "logger"}
Rows = Mapping[str, Sequence[Mapping[str, Any]]]


def redacted(found: Rows) -> dict[str, list[dict[str, Any]]]:
    """Rows by sheet with a number for each owner, wherever the name or the surname stands; houses without a name.

    >>> rows = {"paintings": [{"id": "a", "owner": "A. Petersen", "title": "Moor"}],
    ...         "places": [{"id": "petersen", "kind": "house", "name": "Petersen", "note": "key next door"}],
    ...         "stays": [{"painting": "a", "place": "petersen", "purpose": "Petersen told by letter"}]}
    >>> out = redacted(rows)
    >>> out["paintings"][0]["owner"], out["places"][0]["name"]
    ('owner 1, withheld', 'house 1')
    >>> out["stays"][0]["place"], out["stays"][0]["purpose"]
    ('house-1', 'owner 1, withheld told by letter')
    """
    owners = list(dict.fromkeys(row["owner"] for row in found["paintings"] if row["owner"]))
    stands_in = {owner: f"owner {number}, withheld" for number, owner in enumerate(owners, 1)}
    houses = {row["id"]: f"house-{n}" for n, row in enumerate(_houses(found), 1)}
    named = {row["name"]: houses[row["id"]].replace("-", " ") for row in _houses(found)}
    hide = _hider(stands_in, named)
    in_ids = _hider({owner: f"owner-{number}" for number, owner in enumerate(owners, 1)}, houses)
    told = _Told(hide, in_ids, houses, stands_in)
    return {
        sheet: [{k: told.cell(sheet, k, v) for k, v in _nameless(sheet, row, houses)} for row in rows]
        for sheet, rows in found.items()
    }


def _houses(found: Rows) -> list[Mapping[str, Any]]:
    return [row for row in found["places"] if row["kind"] == "house"]


def _nameless(sheet: str, row: Mapping[str, Any], houses: Mapping[str, str]):
    """The cells of a row; of an owner's house, without its name and the notes on it."""
    if sheet != "places" or row["id"] not in houses:
        return row.items()
    return {**row, "name": houses[row["id"]].replace("-", " "), "note": ""}.items()


@dataclass(frozen=True)
class _Told:
    """How each cell is told outside."""

    hide: Callable[[str], str]
    in_ids: Callable[[str], str]
    houses: Mapping[str, str]
    owners: Mapping[str, str]

    def cell(self, sheet: str, column: str, value: Any) -> Any:
        """The cell without names."""
        if not isinstance(value, str):
            return value
        if column in ("place", "neighbour") or (sheet, column) == ("places", "id"):
            return self.houses.get(value) or self.in_ids(value)
        if column == "owner":
            return self.owners.get(value, value)
        return self.in_ids(value) if column in IDS else self.hide(value) if column in FREE else value


def _hider(owners: Mapping[str, str], houses: Mapping[str, str]) -> Callable[[str], str]:
    """Puts the stand-in where an owner's or a house's whole name stands, or a surname as a word."""
    said = {_folded(id): to for id, to in houses.items() if len(id) >= SHORTEST or " " in id}
    parts = {p: to for owner, to in owners.items() for p in owner.split()[-1].split("-") if _is_name(p, SHORTEST)}
    surnames = {owner.split()[-1]: to for owner, to in owners.items() if _is_name(owner.split()[-1], SHORTEST)}
    for names in (parts, surnames, owners):
        said |= {_folded(name): to for name, to in names.items() if _is_name(name.split()[-1])}
    if not said:
        return lambda text: text
    any_of = "|".join(_as_written(name) for name in sorted(said, key=len, reverse=True))
    pattern = re.compile(rf"(?<![^\W_])(?:{any_of})(?![^\W_])", re.IGNORECASE)
    return lambda text: pattern.sub(
        lambda match: said.get(_folded(match[0]), "name withheld"), unicodedata.normalize("NFC", text)
    )


def _folded(name: str) -> str:
    """A name as it is compared: small letters, ß as ss, letters and their marks as one, one space between words."""
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())


def _as_written(folded: str) -> str:
    """A pattern for all ways of writing a name: ss as ß, any white space between its words."""
    return re.escape(folded).replace("ss", "(?:ss|ß|ẞ)").replace(r"\ ", r"\s+")


def _is_name(word: str, shortest: int = 1) -> bool:
    """Whether a word is a name and not one of the language, as in "the studio"."""
    return len(word) >= shortest and not word[0].islower()


__all__ = ["WITHHELD", "redacted"]
