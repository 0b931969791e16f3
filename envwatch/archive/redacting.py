"""Owners' names and houses taken out of what leaves the studio."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

WITHHELD = re.compile(r"owner \d+, withheld")
SHORTEST = 4  # letters of a surname that is looked for by itself: a shorter one is too often another word
Rows = Mapping[str, Sequence[Mapping[str, Any]]]


def redacted(found: Rows) -> dict[str, list[dict[str, Any]]]:
    """Rows by sheet with a number for each owner, wherever the name or the surname stands; houses without a name.

    >>> rows = {"paintings": [{"id": "a", "owner": "A. Petersen", "title": "Moor"}],
    ...         "places": [{"id": "h", "kind": "house", "name": "Petersen", "note": "key next door"}],
    ...         "treatments": [{"id": "t", "note": "Petersen told by letter"}]}
    >>> out = redacted(rows)
    >>> out["paintings"][0]["owner"], out["places"][0]["name"], out["treatments"][0]["note"]
    ('owner 1, withheld', 'house 1', 'owner 1, withheld told by letter')
    """
    owners = list(dict.fromkeys(row["owner"] for row in found["paintings"] if row["owner"]))
    hide = _hider({owner: f"owner {number}, withheld" for number, owner in enumerate(owners, 1)})
    houses = [row["id"] for row in found["places"] if row["kind"] == "house"]
    out = {
        name: [{k: hide(v) if isinstance(v, str) and k != "id" else v for k, v in row.items()} for row in rows]
        for name, rows in found.items()
    }
    for row in out["places"]:
        if row["id"] in houses:
            row |= {"name": f"house {houses.index(row['id']) + 1}", "note": ""}
    return out


def _hider(names: Mapping[str, str]) -> Callable[[str], str]:
    """Puts each owner's stand-in where the whole name stands, or the surname as a word."""
    said = {owner.casefold(): stand_in for owner, stand_in in names.items()}
    for owner, stand_in in names.items():
        surname = owner.split()[-1]
        if len(surname) >= SHORTEST:
            said.setdefault(surname.casefold(), stand_in)
    longest_first = sorted(said, key=len, reverse=True)
    any_of = "|".join(map(re.escape, longest_first))
    pattern = re.compile(rf"(?<!\w)(?:{any_of})(?!\w)", re.IGNORECASE)
    return (lambda text: pattern.sub(lambda match: said[match[0].casefold()], text)) if said else (lambda text: text)


__all__ = ["WITHHELD", "redacted"]
