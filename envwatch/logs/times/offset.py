"""On which clock a file's times stand: an offset in the rows, the header or the preamble, else the zone told."""

from __future__ import annotations

import re
from zoneinfo import ZoneInfo

import numpy as np

from envwatch.core.errors import Question
from envwatch.logs.model import Answers
from envwatch.logs.text.stamps import DAY_US, parse_offset
from envwatch.logs.text.vocabulary import ZONE_ABBREVIATIONS, plain
from envwatch.logs.times import clock
from envwatch.logs.times.clock import MINUTE_US, UtcOffset, offset_text, zone_of
from envwatch.logs.times.columns import NONE

_SIGNED = re.compile(r"(?<![A-Za-z])(?:UTC|GMT)\s*(?P<off>[+\-−]\s?\d{1,2}(?::?\d{2})?)(?!\d)", re.IGNORECASE)
_NAMED_OFFSET = re.compile(
    r"(?:time ?zone|zeitzone|fuseau horaire|huso horario|zona horaria|fuso orario|fuso horario|tijdzone|"
    r"タイムゾーン|时区|時区|"
    r"utc[ _-]?offset|gmt[ _-]?offset)\W{1,6}(?P<off>[+\-−]\d{1,2}(?::?\d{2})?)(?!\d)", re.IGNORECASE,
)  # fmt: skip
_BARE = re.compile(r"(?<![A-Za-z/])(?:UTC|GMT|Zulu)(?![A-Za-z]|\s*[+\-−]\s?\d)", re.IGNORECASE)
_IANA = re.compile(
    r"\b(?:Africa|America|Antarctica|Asia|Atlantic|Australia|Europe|Indian|Pacific|Etc)/[A-Za-z_+\-0-9/]+"
)
_BRACKETED = re.compile(r"[(\[,]\s*([A-Za-z]{3,4})\s*[)\]]?\s*$")


SUMMER_FLAG = re.compile(
    r"\b(?:is)?_?dst\b|summer ?time|daylight|sommerzeit|heure d'?ete|hora de verano|horario de verao|ora legale|"
    r"zomertijd|^[sw] ?/ ?[ws]$|夏時間|夏令时"
)
_SUMMER = {"1", "true", "yes", "y", "ja", "j", "oui", "si", "sim", "s", "summer", "sommer", "dst", "*", "x",
           "sommerzeit"}  # fmt: skip
_WINTER = {"", "0", "false", "no", "n", "nein", "non", "nao", "nee", "w", "winter", "std", "st", "normal",
           "winterzeit"}  # fmt: skip


def stated(
    time_names: list[str], names: list[str], preamble: list[str], told: int | ZoneInfo | None = None, name: str = ""
) -> tuple[int | ZoneInfo, str] | None:
    """An offset or zone that the file states, and where; of several the one that was told; None where there is none.

    Raises
    ------
    Question : it states several, and none of them was told.
    """
    for texts, where in (
        (time_names, "the time's header"),
        (names, "the header"),
        (preamble, "the lines above the table"),
    ):
        found = {offset: text for text in texts for offset in _in(text, where)}
        if len(found) == 1 or told in found:
            return told if told in found else next(iter(found)), where
        if len(found) > 1 and where != "the header":
            raise Question(
                f"the file states several offsets from UTC ({', '.join(map(_show, found))}) in {where}.", "zone",
                tuple(_show(o) for o in found), place=name,
            )  # fmt: skip
    return None


def _show(basis: int | ZoneInfo) -> str:
    return basis.key if isinstance(basis, ZoneInfo) else offset_text(basis)


def _in(text: str, where: str) -> list[int | ZoneInfo]:
    named = _IANA.search(text)
    if named:
        try:
            return [zone_of(named[0])]
        except Exception:
            return []
    signed = list(_SIGNED.finditer(text)) or list(_NAMED_OFFSET.finditer(text))
    if signed:
        offsets = (parse_offset(found["off"].replace(" ", "")) for found in signed)
        return [offset for offset in offsets if offset is not None]
    has_stamp = re.search(r"\d{1,2}:\d{2}|\d{4}-\d\d", text)
    if _BARE.search(text) and not (where.startswith("the lines") and has_stamp):
        return [0]
    bracketed = _BRACKETED.search(text) if where == "the time's header" else None
    if bracketed and bracketed[1].lower() in ZONE_ABBREVIATIONS:
        return [ZONE_ABBREVIATIONS[bracketed[1].lower()]]
    return []


def find(stamps, time_names, names, preamble, answers: Answers, zone_default: str | None, name: str) -> UtcOffset:
    """The clock of a file, with a note on every assumption.

    Raises
    ------
    Question : nothing states an offset and no zone was told.
    """
    told = zone_of(answers.zone) if answers.zone else None
    good = stamps.wall != NONE
    if stamps.utc:
        return UtcOffset("fixed", 0, None, "UTC, counted since 1970", _differs(0, told, stamps.wall[good]))
    none = not stamps.offset_min.strides[0] and not np.isfinite(stamps.offset_min[:1]).any()
    if not none and good.any() and np.isfinite(stamps.offset_min[good]).any():
        return _rows(stamps, good, told)
    found = stated(time_names, names, preamble, told, name)
    if found and isinstance(found[0], int):
        offset, where = found[0], found[1]
        said = f"offset {offset_text(offset)} in {where}"
        line = f"Times carry the offset {offset_text(offset)}, stated in {where}."
        return UtcOffset("fixed", offset, None, said, (line, *_differs(offset, told, stamps.wall[good])))
    if found and isinstance(found[0], ZoneInfo):
        zone = found[0]
        notes = [f"The file states the zone {zone.key} in {found[1]}; it was used."]
        if answers.zone and answers.zone != zone.key:
            notes.append(f"The zone told, {answers.zone}, differs from it and was not used.")
        return UtcOffset("zone", None, zone, f"zone {zone.key} in the file", tuple(notes))
    notes = []
    named = _IANA.search(stamps.zone or "")
    if named:
        zone = zone_of(named[0])
        if isinstance(zone, ZoneInfo):
            return UtcOffset(
                "zone", None, zone, f"zone {zone.key} in the rows", (f"The rows name the zone {zone.key}.",)
            )
    if stamps.zone:
        notes.append(f"The rows carry {stamps.zone!r}, which names no single offset; it was not used.")
    if told is None and zone_default:
        told = zone_of(zone_default)
        notes.append(f"The file states no offset from UTC; the studio's zone, {zone_default}, was assumed.")
    if told is None:
        raise Question(
            "the file states no offset from UTC, so the zone of the logger's clock is needed.", "zone", place=name
        )
    return _told(told, stamps.summer, tuple(notes), name)


def _told(told: ZoneInfo | int, summer: np.ndarray | None, notes: tuple[str, ...], name: str) -> UtcOffset:
    """The zone told; where rows are flagged as of summer time, the flag says which of its two offsets each has."""
    if isinstance(told, int) and summer is not None and summer.any():
        raise Question(
            f"rows are flagged as of summer time, so their clock did not keep one offset ({offset_text(told)}): the "
            "name of its zone is needed, such as Europe/Berlin.", "zone", place=name,
        )  # fmt: skip
    if isinstance(told, int):
        return UtcOffset("fixed", told, None, f"offset {offset_text(told)} as told", notes)
    if summer is None or not summer.any():  # a flag that is never set may be of a clock that knows none
        return UtcOffset("zone", None, told, f"zone {told.key}", notes)
    note = f"A column flags summer time; each row was read with the offset of {told.key} that its flag says."
    return UtcOffset("rows", None, told, f"zone {told.key}, summer time as flagged", (*notes, note))


def summer_flag(cell: str) -> bool | None:
    """Whether a cell flags summer time; None where it says neither.

    >>> [summer_flag(c) for c in ("1", "Winter", "maybe")]
    [True, False, None]
    """
    text = plain(cell)
    return True if text in _SUMMER else False if text in _WINTER else None


def flagged(stamps, basis: UtcOffset):
    """The stamps with the offset of each row, where a flag of summer time chooses among those of a zone."""
    if stamps.summer is None or basis.zone is None or basis.kind != "rows":
        return stamps
    good = stamps.wall != NONE
    year = 366 * DAY_US
    wall = stamps.wall[good]
    table = clock.changes(basis.zone, int(wall.min()) - year, int(wall.max()) + year)
    offsets = [c.before for c in table] + [c.after for c in table] or [clock._offset_us(basis.zone, int(wall.min()))]
    per_row = np.where(stamps.summer, max(offsets), min(offsets)) / MINUTE_US
    return stamps._replace(offset_min=per_row)


def at_start(basis: UtcOffset, wall: np.ndarray) -> UtcOffset:
    """Times counted from a start know no change of the clocks: the offset of the start holds throughout."""
    good = wall[wall != NONE]
    if basis.kind != "zone" or basis.zone is None or not len(good):
        return basis
    first = np.array([good.min()])
    offset = int(clock._base_offset(basis.zone, first, clock.table_for(basis.zone, first))[0]) // MINUTE_US
    said = f"offset {offset_text(offset)} of {basis.zone.key} at the start of the record"
    return UtcOffset("fixed", offset, None, said, basis.notes)


def _rows(stamps, good, told) -> UtcOffset:
    offsets = np.unique(stamps.offset_min[good & np.isfinite(stamps.offset_min)])
    shown = " and ".join(offset_text(int(o)) for o in offsets[:3])
    notes = list(_differs(int(offsets[0]), told, stamps.wall[good])) if len(offsets) == 1 else []
    if len(offsets) > 1 and isinstance(told, int):
        notes.append(f"The rows carry the offsets {shown}; they were used, not {offset_text(told)}.")
    elif len(offsets) > 1 and told is not None:
        wall, own = stamps.wall[good], stamps.offset_min[good]
        civil = civil_offsets(told, wall - (np.nan_to_num(own) * MINUTE_US).astype(np.int64))
        if (np.isfinite(own) & (own != civil)).any():
            notes.append(f"The rows carry the offsets {shown}; they differ from {told.key}, and the file's were used.")
    return UtcOffset("rows", None, None, f"offset {shown} in the rows", tuple(notes))


def civil_offsets(zone: ZoneInfo, utc: np.ndarray) -> np.ndarray:
    """A named zone's offset at each UTC time. (n,) µs -> (n,) minutes"""
    table = clock.changes(zone, int(utc.min()) - DAY_US, int(utc.max()) + DAY_US)
    first = table[0].before if table else clock._offset_us(zone, int(utc.min()))
    offsets = np.array([first] + [c.after for c in table], np.int64)
    return offsets[np.searchsorted(np.array([c.at for c in table], np.int64), utc, side="right")] // MINUTE_US


def _differs(offset: int, told: ZoneInfo | int | None, wall: np.ndarray) -> tuple[str, ...]:
    """A note where the zone told would have read other instants than the file's own offset."""
    if told is None or not len(wall):
        return ()
    if isinstance(told, int):
        return (
            ()
            if told == offset
            else (f"The file's offset {offset_text(offset)} was used, not {offset_text(told)} as told.",)
        )
    civil = civil_offsets(told, wall - offset * MINUTE_US)
    if (civil == offset).all():
        return ()
    others = " and ".join(offset_text(int(o)) for o in np.unique(civil))
    return (f"The file's offset {offset_text(offset)} was used; {told.key} has {others} over this record.",)


def settle(basis: UtcOffset, wall: np.ndarray, cadence_us: int, name: str) -> tuple[UtcOffset, list[str]]:
    """For a named zone: whether the logger's clock changed with it, by the steps across the changes.

    wall : (n,) of the longest series, rising in file order.

    Raises
    ------
    Question : the clock did not change, and whether it kept summer or winter time is open.
    """
    zone = basis.zone
    if zone is None or len(wall) < 3:
        return basis, []
    found = clock.evidence(zone, wall, cadence_us)
    if found.civil or not found.fixed:
        notes = [] if found.civil or not found.seen else [
            f"The clocks in {zone.key} change within the record, but a gap or an unsteady cadence hides "
            "whether the logger's "
            "clock changed with them; it was assumed to."]  # fmt: skip
        return basis, notes
    table = clock.table_for(zone, wall)
    standard = min(min(c.before, c.after) for c in table) // MINUTE_US
    launch = int(clock._base_offset(zone, wall[:1], clock.table_for(zone, wall[:1]))[0]) // MINUTE_US
    if launch != standard:
        raise Question(
            f"the record runs on unbroken where the clocks in {zone.key} change, so the logger's clock "
            "did not change; "
            f"whether it kept {offset_text(launch)} (as at its start) or {offset_text(standard)} (winter time) "
            "is open.",
            "zone", (offset_text(launch), offset_text(standard)), place=name)  # fmt: skip
    note = (f"The record runs on unbroken where the clocks in {zone.key} change: the logger's clock did not "
            "change, and "
            f"all times were read at {offset_text(standard)}.")  # fmt: skip
    return UtcOffset(
        "fixed", standard, None, f"fixed offset {offset_text(standard)} within {zone.key}, by the unbroken cadence"
    ), [note]


def zone_column(text: str) -> int | None:
    """Minutes east of UTC out of one cell of a zone column."""
    return parse_offset(plain(text).upper())
