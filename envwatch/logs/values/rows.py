"""Which lines below the header are data rows, and which of those cannot be used and why."""

from __future__ import annotations

import re

import numpy as np
import pyarrow as pa

from envwatch.core.errors import BadInput
from envwatch.figures.logs import CLOCK_LOST_DAYS, FIRST_YEAR, UNREADABLE_ROWS, UNREADABLE_SHARE
from envwatch.logs.model import Counts
from envwatch.logs.tables.body import Body
from envwatch.logs.tables.find import Start
from envwatch.logs.tables.header import speaks
from envwatch.logs.tables.several import SecondTable
from envwatch.logs.text.cells import DAMAGE, GLUED, looks_numeric, number, stampish, tidy
from envwatch.logs.text.roles import role_of
from envwatch.logs.text.stamps import DAY_US, SINCE_US
from envwatch.logs.text.vocabulary import MISSING, plain
from envwatch.logs.times.columns import NONE, Columns, Stamps
from envwatch.logs.times.wall_clock import CLOCKS_BEGIN_UNTIL

EVENTS_KEPT, MOST_LINES = 10_000, 30
LOST_DAY = 5  # rows at one instant, and no other on that day
NO_TIME_OF_DAY = (
    "the rows give a date but no time of day that can be read, and several stand on one day. Export the file again "
    "with date and time."
)
RESET, FUTURE, NO_TIME, BAD_TIME, LONG, GLUE, NUL, CUT = (
    f"clock reset: time before {FIRST_YEAR:.0f}", "time in the future", "no time", "unreadable time", "too many fields",
    "records run together", "damaged: NUL bytes", "cut off at the end of the file",
)  # fmt: skip


_DATED = re.compile(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}")
_NO_WORD = MISSING | {"error", "err", "fehler", "invalid", "erreur", "errore", "fault"}  # where a time should stand


class RowReport:
    """What becomes of each line: a data row or not, and the reason it is set aside, if any."""

    def __init__(self, size: int) -> None:
        self.data = np.ones(size, bool)
        self.reasons = [""]
        self.code = np.zeros(size, np.int16)
        self.events: list[tuple[int, str]] = []
        self.notes: list[str] = []
        self.repeats: list[tuple[int, list[str]]] = []  # headers repeated below lines of their own: first line, texts
        self.remarks: list[tuple[int, str]] = []  # line and text of what is neither a reading nor a header

    def set_aside(self, rows, reason: str) -> None:
        """Set rows aside, unless they already are or are no data rows."""
        if reason not in self.reasons:
            self.reasons.append(reason)
        rows = np.atleast_1d(rows)
        rows = np.flatnonzero(rows) if rows.dtype == bool else rows
        rows = rows[(self.code[rows] == 0) & self.data[rows]]
        self.code[rows] = self.reasons.index(reason)

    def event(self, line: int, text: str) -> None:
        """Keep a remark."""
        if len(self.events) < EVENTS_KEPT:
            self.events.append((int(line), "".join(c if c.isprintable() else " " for c in text).strip()[:300]))

    @property
    def open(self) -> np.ndarray:
        """Rows that may still be used."""
        return np.flatnonzero(self.data & (self.code == 0))

    def counts(self, duplicate: int = 0) -> Counts:
        """All data rows, each once."""
        total = int(self.data.sum())
        many = np.bincount(self.code[self.data & (self.code != 0)], minlength=len(self.reasons)).tolist()
        aside = {reason: n for reason, n in zip(self.reasons[1:], many[1:], strict=True) if n}
        return Counts(total, total - duplicate - sum(aside.values()), duplicate, aside)


def listed(counts: Counts) -> str:
    """Numbers of rows set aside by reason, for a sentence."""
    return ", ".join(f"{n} rows: {reason}" for reason, n in counts.set_aside.items()) or "no data rows"


def cells_of(body: Body, row: int) -> list[str]:
    """The texts of one row."""
    return [tidy(column[row].as_py() or "") for column in body.columns[: max(int(body.n_fields[row]), 1)]]


def judge(body: Body, start: Start, where: Columns, stamps: Stamps, lines_of, name: str, now_us: int) -> RowReport:
    """Sort the lines: readings, remarks, repeated headers, and rows whose time cannot be used.

    Raises
    ------
    BadInput : a second table, or more unreadable times than a few.
    """
    fates = RowReport(len(body.line))
    width = max(start.width, len(start.names))
    unread = np.flatnonzero((stamps.wall == NONE) | (body.n_fields > width))
    headers = {_joined(text) for text in lines_of(start.header)} if len(unread) else set()
    repeats = 0
    for at in range(0, len(unread), 5_000):
        some = unread[at : at + 5_000]
        texts = zip(*(column.take(pa.array(some)).to_pylist() for column in body.columns), strict=True)
        for row, cells in zip(some.tolist(), texts, strict=True):
            repeats += _one(fates, body, row, cells, start, where, stamps, width, headers, name)
        _refuse_many(fates, body, name)
    if repeats:
        fates.notes.append(f"The header is repeated {repeats} times in the middle; those lines were left out.")
    if len(fates.remarks) > UNREADABLE_ROWS:
        line, text = fates.remarks[0]
        fates.notes.append(
            f"{len(fates.remarks):,} lines, the first of them line {line} ({text!r}), hold neither a time nor a "
            "reading and were left out: does the file hold all that the logger recorded?"
        )
    _clock_faults(fates, stamps.wall, now_us, body)
    return fates


def _joined(text: str) -> str:
    return re.sub(r"[^\w°%]+", "", plain(text))


def _one(
    fates: RowReport, body: Body, row: int, raw, start: Start, where: Columns, stamps: Stamps, width, headers, name
) -> int:
    """One line whose time was not read, or that is too long; 1 where it is the header again."""
    cells, line = [tidy(text or "") for text in raw[: max(int(body.n_fields[row]), 1)]], int(body.line[row])
    text, rest = " ".join(c for c in cells if c), [c for i, c in enumerate(cells) if i not in where.at]
    at, joined = [cells[i] if i < len(cells) else "" for i in where.at], _joined(text)
    if not text.strip(" \x1a;,-=_*"):
        fates.data[row] = False
    elif any("\x00" in (c or "") for c in raw):
        fates.set_aside(row, NUL)
    elif stamps.wall[row] != NONE:
        glued = any(number(c, ".")[1] in (GLUED, DAMAGE) for c in rest) or any(map(stampish, cells[width:]))
        if any(cells[width:]):
            fates.set_aside(row, GLUE if glued else LONG)
    elif joined in headers or joined and joined in "".join(headers) and speaks(cells) >= 2:
        fates.data[row] = False
        first = _own_lines(fates, row)
        if first < row:
            texts = [" ".join(c for c in cells_of(body, other) if c) for other in range(first, row)]
            fates.repeats.append((int(body.line[first]), texts))
        return 1
    elif not _holds_data(cells, at, rest):
        fates.data[row] = False
        kinds = {role_of(c).kind for c in cells}
        if kinds & {"temp", "rh"} and speaks(cells) >= 2 and not any(map(looks_numeric, cells)) and start.header:
            raise SecondTable(
                f"{name}, line {line}: a second table with another header begins here: {text[:60]!r}. Split "
                "the file in two.", int(body.line[_own_lines(fates, row)]),
            )  # fmt: skip
        fates.event(line, text)
        fates.remarks.append((line, text[:60]))
    elif not any(at):
        fates.set_aside(row, NO_TIME)
    else:
        glued = any(number(c, ".")[1] == GLUED and not stampish(c) for c in rest)
        fates.set_aside(row, GLUE if glued else BAD_TIME)
    return 0


def _own_lines(fates: RowReport, row: int) -> int:
    """The first of the lines right above a header that are no data rows."""
    first = row
    while first > max(0, row - MOST_LINES) and not fates.data[first - 1]:
        first -= 1
    return first


def _holds_data(cells: list[str], at: list[str], rest: list[str]) -> bool:
    """A row with digits where the time stands, or with no word there but figures elsewhere."""
    first, figures = next((c for c in cells if c), ""), sum(map(looks_numeric, rest))
    if first.startswith(("#", "//")):
        return False
    if any(re.search(r"\d", c) and not re.match(r"[^\W\d_]{3,}", c) for c in at):
        return True
    if any(_DATED.search(c) for c in at):
        return figures >= 2
    if any(c.lower() not in _NO_WORD and re.search(r"[^\W\d_]{2,}", c) for c in at):
        return False
    return figures >= 1 and not (first not in at and re.match(r"[^\W\d_]{2,}", first))


def _refuse_many(fates: RowReport, body: Body, name: str) -> None:
    """Too many unreadable times mean that the layout was not understood, or that the file is broken."""
    for reason in [r for r in (BAD_TIME, GLUE, LONG, NO_TIME) if r in fates.reasons]:
        rows = np.flatnonzero(fates.code == fates.reasons.index(reason))
        if len(rows) > UNREADABLE_ROWS and len(rows) > UNREADABLE_SHARE * fates.data.sum():
            seen = " ".join(cells_of(body, int(rows[0])))[:60]
            raise BadInput(
                f"{name}, line {int(body.line[rows[0]])}: {len(rows)} of {int(fates.data.sum())} rows have a "
                f"fault ({reason}); first: {seen!r}. Export the file again."
            )


def _clock_faults(fates: RowReport, wall: np.ndarray, now_us: int, body: Body) -> None:
    """Stamps of a clock that was reset, or that runs years ahead."""
    early, late = (wall != NONE) & (wall < SINCE_US), wall > now_us + 2 * DAY_US
    if early.any():
        fates.set_aside(early, RESET)
        fates.notes.append(
            f"The logger's clock was reset: {int(early.sum())} rows from line "
            f"{int(body.line[np.flatnonzero(early)[0]])} bear times before {FIRST_YEAR:.0f} and were set aside."
        )
    if late.any():
        fates.set_aside(late, FUTURE)
        fates.notes.append(
            f"{int(late.sum())} rows bear times in the future and were set aside: the logger's clock jumped."
        )
    rows = fates.open
    times = wall if len(rows) == len(wall) else wall[rows]
    lost_us = int(CLOCK_LOST_DAYS) * DAY_US
    jumps = np.flatnonzero(times[1:] - times[:-1] < -lost_us) + 1
    if len(times) and times[0] < CLOCKS_BEGIN_UNTIL < times.max() - lost_us:  # begun at its first day, then set
        jumps = np.append(0, jumps)
    if len(jumps):
        _back_to_a_first_of_january(fates, rows, times, jumps, body)


def _back_to_a_first_of_january(fates: RowReport, rows: np.ndarray, times: np.ndarray, jumps, body: Body) -> None:
    """A clock that lost its battery counts from midnight of some 1 January: years before all that the file holds.

    rows, times : (n,) those that may still be used. jumps : where their time falls by years.
    """
    lost_us = int(CLOCK_LOST_DAYS) * DAY_US
    before = int(times[: jumps[0]].min()) if jumps[0] else int(times.max())
    for begin, end in zip(jumps.tolist(), [*jumps[1:].tolist(), len(times)], strict=True):
        first = int(times[begin])
        forward = np.flatnonzero(times[begin:end] >= (before if begin else first + lost_us))
        end = begin + int(forward[0]) if len(forward) else end
        new_year = np.datetime64(first, "us").astype("datetime64[Y]").astype("datetime64[us]").astype(np.int64)
        if end == begin or first - new_year > DAY_US or times[begin:end].max() > before - lost_us:
            continue
        fates.set_aside(rows[begin:end], RESET)
        fates.notes.append(
            f"The logger's clock was reset: {end - begin} rows from line {int(body.line[rows[begin]])} count from "
            f"{str(np.datetime64(first, 'us'))[:10]}, years before the other rows, and were set aside."
        )


def at_one_instant(fates: RowReport, stamps: Stamps, probe: np.ndarray | None, name: str) -> None:
    """Days of which all readings bear one instant: their times of day are lost.

    probe : (n,) whose each row is, where several share the rows.

    Raises
    ------
    BadInput : most days are so.
    """
    rows = np.flatnonzero(stamps.wall != NONE)
    wall = stamps.wall if len(rows) == len(stamps.wall) else stamps.wall[rows]
    if len(wall) < 3 or not (wall[1:] == wall[:-1]).any():
        return
    instants, which, many = np.unique(wall, return_inverse=True, return_counts=True)
    day = instants // DAY_US
    if probe is not None:
        if len(np.unique(day)) == len(day) and len(wall) > 1.5 * len(set(zip(wall, probe[rows], strict=True))):
            raise BadInput(NO_TIME_OF_DAY, place=name)
        return
    lone = np.append(day[1:] != day[:-1], True) & np.append(True, day[1:] != day[:-1])
    usual = many[~lone].max() if (~lone).any() else 1
    if lone.all() and len(wall) > 1.5 * len(instants) or many[lone & (many > usual)].sum() > len(wall) / 2:
        raise BadInput(NO_TIME_OF_DAY, place=name)
    lost = lone & (many > max(LOST_DAY, 2 * usual))
    if lost.any():
        fates.set_aside(rows[lost[which]], "a whole day at one instant")
