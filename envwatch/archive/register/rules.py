"""What must hold between the rows of the register, whoever wrote them: a CSV file, a command, a page.

Rows are `sheets.CsvRow`s: dates as written, and the place to name in the line that refuses them. A rule yields each row
that breaks it, as the error that says so.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from difflib import get_close_matches

from envwatch.archive.register.sheets import CsvRow
from envwatch.core.dates import instant, is_bare, is_year
from envwatch.core.errors import BadInput
from envwatch.core.painting import role_of
from envwatch.figures.materials.load import unlike
from envwatch.figures.quality import TEMP_OFFSET_LARGEST
from envwatch.logs.quality import calibration

FOREVER = "9999-12-31"
PUT_ON_LATER = (
    "consolidant", "insert", "tear mend", "patch", "old lining", "impregnation", "film", "interleaf", "lining canvas",
    "strip-lining",
)  # fmt: skip


def fault(row: CsvRow, message: str, field: str = "") -> BadInput:
    """What is wrong with a row: where, what was seen, what to do; `field`: the column at fault."""
    return BadInput(message, field=field, place=row.where)


def unique(rows: Iterable[CsvRow], name: str = "id") -> Iterator[BadInput]:
    """No id stands twice in one file."""
    seen: dict[object, CsvRow] = {}
    for row in rows:
        if row[name] in seen:
            yield fault(row, f"{name} {row[name]!r} is already in {seen[row[name]].where}; give it another", name)
        seen.setdefault(row[name], row)


def known(rows: Iterable[CsvRow], name: str, noun: str, ids: set[str]) -> Iterator[BadInput]:
    """What a row names is in the register."""
    for row in rows:
        if row[name] not in ids:
            near = get_close_matches(str(row[name]), ids, 1)
            hint = f"did you mean {near[0]!r}?" if near else f"add the {noun} first"
            yield fault(row, f"no {noun} {row[name]!r}; {hint}", name)


def labels_are_apart(rows: Iterable[CsvRow]) -> Iterator[BadInput]:
    """A serial number or name belongs to one logger."""
    owner: dict[str, CsvRow] = {}
    for row in rows:
        for label in str(row.values.get("labels") or "").split(";"):
            key = label.strip().casefold()
            other = owner.setdefault(key, row) if key else row
            if other["id"] != row["id"]:
                yield fault(
                    row,
                    f"the label {label!r} is already that of logger {other['id']!r}; a file would fit both",
                    "labels",
                )


def in_order(rows: Iterable[CsvRow], start: str = "from", end: str = "to") -> Iterator[BadInput]:
    """Nothing ends before it begins."""
    for row in rows:
        if row[end] and _edge(row[end], True) < _edge(row[start], False):
            yield fault(row, f"ends on {row[end]}, before it begins on {row[start]}", end)


def _edge(text: str, late: bool) -> str:
    """A date as a sortable minute; a bare one as early or as late as its day allows."""
    if is_year(text):
        text = f"{text}-{'12-31' if late else '01-01'}"
    return (text if not is_bare(text) else f"{text} {'24:00' if late else '00:00'}").ljust(19, ":")


def stays_follow(rows: Iterable[CsvRow], zone_of: dict[str, str], noun: str, key: Sequence[str]) -> Iterator[BadInput]:
    """A painting (or a logger's probe) is at one place at a time; a bare date may belong to two."""
    groups = defaultdict(list)
    for row in rows:
        if row["place"] in zone_of:
            groups[tuple(row[name] for name in key)].append(row)
    for group in groups.values():
        group.sort(key=lambda row: (instant(row["from"], zone_of[row["place"]]), _end(row, zone_of)))
        for before, after in zip(group, group[1:], strict=False):
            yield from _follow(before, after, zone_of, f"{noun} {after[key[0]]!r}")


def _end(row: CsvRow, zone_of: dict[str, str]):
    return instant(row["to"] or FOREVER, zone_of[row["place"]])


def _follow(before: CsvRow, after: CsvRow, zone_of: dict[str, str], noun: str) -> Iterator[BadInput]:
    where = f"{before['place']!r} ({before.where})" if before.where else repr(before["place"])
    if not before["to"]:
        stays = f"{noun} is in {after['place']!r} from {after['from']}"
        yield fault(after, f"{stays}, but never left {where}; give that an end", "from")
        return
    if before["to"][:10] == after["from"][:10] and (is_bare(before["to"]) or is_bare(after["from"])):
        return
    if _end(before, zone_of) > instant(after["from"], zone_of[after["place"]]):
        yield fault(
            after, f"{noun} is in {after['place']!r} from {after['from']}, but in {where} until {before['to']}", "from"
        )


def stand_in_is_another(rows: Iterable[CsvRow]) -> Iterator[BadInput]:
    """A place does not stand in for itself."""
    for row in rows:
        if row["neighbour"] == row["place"]:
            yield fault(row, f"{row['place']!r} cannot stand in for itself; name a neighbour", "neighbour")


def layers_are_ordered(rows: Iterable[CsvRow]) -> Iterator[BadInput]:
    """Each layer has its own place in the stack."""
    seen: dict[tuple, CsvRow] = {}
    for row in rows:
        other = seen.setdefault((row["painting"], row["order"]), row)
        if other is not row:
            yield fault(row, f"painting {row['painting']!r} has order {row['order']} already in {other.where}", "order")


def linings_are_ordered(rows: Iterable[CsvRow]) -> Iterator[BadInput]:
    """Two linings on one day need an order, for the last one is the one that holds."""
    days = defaultdict(list)
    for row in rows:
        if role_of(row["kind"]) == "film":
            days[row["painting"], row["on"][:10]].append(row)
    for (painting, day), linings in days.items():
        hours = [row["on"] for row in linings]
        if len(linings) > 1 and (any(map(is_bare, hours)) or len(set(hours)) < len(hours)):
            first = linings[0].where or "kept already"
            told = f"a second lining of {painting!r} on {day} (the first: {first})"
            hour = f"give each its hour, such as {day} 10:00, so that it is known which holds"
            yield fault(linings[1], f"{told}; {hour}", "on")


def treated_after_made(
    rows: Iterable[CsvRow], made: dict[str, str], on: str = "on", what: str = "a treatment on"
) -> Iterator[BadInput]:
    """No treatment before a painting is known to exist. A date such as `about 1890` is not known."""
    for row in rows:
        year = re.fullmatch(r"(\d{4})(-\d{2})?(-\d{2})?", made.get(row["painting"], "").strip())
        if year and row[on] and row[on][: len(year[0])] < year[0][: len(row[on])]:
            yield fault(row, f"{what} {row[on]}, but the painting was made in {year[0]}; one of the two is wrong", on)


def layers_after_made(rows: Iterable[CsvRow], made: dict[str, str]) -> Iterator[BadInput]:
    """What a treatment put on is no older than the painting. Its canvas, ground, paint and stretcher may be."""
    for row in rows:
        if row["role"] in PUT_ON_LATER:
            yield from treated_after_made([row], made, "applied_on", f"the {row['role']} put on")


def families_known(rows: Iterable[CsvRow], family_of: Mapping[str, str]) -> Iterator[BadInput]:
    """A family that is given is one of the materials file's, and that of the material where one is named."""
    known = set(family_of.values()) | {"unknown"}
    for row in rows:
        family, own = row["family"], family_of.get(row["material"], "unknown")
        if family and family not in known:
            near = get_close_matches(family, known, 1)
            hint = f"did you mean {near[0]!r}?" if near else f"use one of: {', '.join(sorted(known))}"
            yield fault(row, f"family {family!r} is not known; {hint}", "family")
        if family and "unknown" not in (own, family) and family != own:
            other = f"material {row['material']!r} is of the family {own!r}"
            yield fault(row, f"family {family!r}, but {other}; correct one", "family")


def checks_correct(rows: Iterable[CsvRow]) -> Iterator[BadInput]:
    """A logger's check has what was true beside what was read, and asks for no correction beyond reason."""
    for row in rows:
        pairs = (("rh_true_low", "rh_read_low"), ("rh_true_high", "rh_read_high"), ("temp_true_c", "temp_read_c"))
        halves = [pair for pair in pairs if (row[pair[0]] is None) != (row[pair[1]] is None)]
        for true, read in halves:
            missing, there = (read, true) if row[read] is None else (true, read)
            yield fault(row, f"{there} stands there without {missing}; give both", missing)
        if halves:
            continue
        points = [(row[f"rh_true_{end}"], row[f"rh_read_{end}"]) for end in ("low", "high")]
        try:
            if None not in points[1]:
                calibration.correction(points[0], points[1])
            elif None not in points[0]:
                calibration.one_point([50.0], points[0])
        except (BadInput, TypeError) as error:
            yield fault(row, str(error) if isinstance(error, BadInput) else "give the lower point too")
            continue
        offset = 0.0 if row["temp_true_c"] is None else row["temp_true_c"] - row["temp_read_c"]
        if abs(offset) > TEMP_OFFSET_LARGEST:
            told = f"correction of {offset:+.1f} °C, expected at most {TEMP_OFFSET_LARGEST:g}"
            yield fault(row, f"{told}. Repeat the check; if it comes out the same, replace the sensor")


def materials_known(rows: Iterable[CsvRow], keys: set[str]) -> Iterator[BadInput]:
    """A material is a key of the materials file, or unknown."""
    for row in rows:
        material = row["material"]
        if material and material != "unknown" and material not in keys:
            yield fault(row, unlike(material, keys), "material")
