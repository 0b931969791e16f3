"""Dates and times in the lines above a table, and what they say they are."""

from __future__ import annotations

import re
from typing import NamedTuple

import numpy as np

from envwatch.core.errors import BadInput, Question
from envwatch.figures.logs import FIRST_YEAR
from envwatch.logs.text.lines import SHEET
from envwatch.logs.text.stamps import DAY_US, SINCE_US, DateText, TimeText, date_and_time, date_at_start, time_of_day
from envwatch.logs.text.vocabulary import BEGIN, NOT_BEGIN, plain, tokens
from envwatch.logs.times import day_order

MOST_LINES, LONGEST = 200, 300
_UNTIL = re.compile(r"[\s,;:]*(?:-|–|—|\.\.+|to|bis|au|al|a|até|t/m|tot|～|〜|至|到|→)[\s,;:]*")
_TIME_AT = re.compile(r"^[\s,;:|T@_-]*(?:at |um |a las |alle |a |om |às |à )?\s*(?=\d|[^\W\d_]{1,3}\.?\s?\d)")


class Written(NamedTuple):
    """A date, a time of day or both, as one line above the table gives it.

    begin : it is said to be the start. other : it is said to be an end, an export, a calibration, a version.
    """

    date: DateText | None
    time: TimeText | None
    begin: bool
    other: bool
    text: str


class Begin(NamedTuple):
    """Where a record begins. day_us : midnight of that day; clock_us : time of day, None where none is known. [µs]"""

    day_us: int
    clock_us: int | None
    offset_min: int | None
    sure: bool  # told, or said to be the start
    said: str


def told(text: str) -> tuple[DateText, TimeText | None]:
    """An answer such as "2026-03-01 10:00", or the date alone.

    Raises
    ------
    BadInput : no such date.
    """
    found = date_at_start(text.strip())
    rest = found[1].strip(" T") if found else ""
    time = time_of_day(rest) if rest else None
    if not found or found[0].order != "ymd" or found[0].a < 1000 or (rest and time is None):
        shown = "".join(c for c in text if c.isprintable())[:40]
        raise BadInput(
            f'⟦start⟧ {shown!r} is no date and time. Write it as in: ⟦start⟧ "2026-03-01 10:00"', field="start"
        )
    days, valid = day_order.days_of(*(np.array([n]) for n in found[0][:3]))
    if not valid[0] or days[0] * DAY_US < SINCE_US:
        raise BadInput(f"⟦start⟧ {text.strip()[:40]!r} is no real date since {int(FIRST_YEAR)}.", field="start")
    return found[0], time


def written(lines: list[str]) -> list[Written]:
    """All dates and times of day in some lines."""
    found: list[Written] = []
    before = ""
    for line in lines[:MOST_LINES]:
        text = re.sub(r"[\t|\x1f\"]+", " ", line.replace(SHEET, " ")).strip(" #*;,")
        if text and len(text) <= LONGEST:
            here = _in(text, before)
            found += here
            before = "" if here else text
    return found


def _in(text: str, above: str) -> list[Written]:
    found: list[Written] = []
    at = label_from = 0
    while at < len(text):
        if (at and (text[at - 1].isalnum() or text[at - 1] in ".-/:")) or not text[at].isalnum():
            at += 1
            continue
        date = date_at_start(text[at:])
        if date is None:
            at += 1
            continue
        end = len(text) - len(date[1])
        label = text[label_from:at].strip() or above
        time, used = _time_at(date[1])
        until = bool(found) and bool(_UNTIL.fullmatch(text[label_from:at]))
        if until:
            found[-1] = found[-1]._replace(begin=not found[-1].other)
        other = until or _words(label, NOT_BEGIN)
        found.append(Written(date[0], time, not other and _words(label, BEGIN), other, text[at : end + used].strip()))
        at = label_from = end + used
    if not found and (stamp := date_and_time(text.partition(":")[2].strip())):  # "Fri Mar 12 12:12:24 CET 2021"
        begin = text.partition(":")[0]
        other = _words(begin, NOT_BEGIN)
        found.append(Written(*stamp, not other and _words(begin, BEGIN), other, text.partition(":")[2].strip()))
    if not found:
        clock = re.search(r"(?<![\d:.])\d{1,2}:\d{2}(?::\d{2})?(?:\s?[apAP]\.?[mM]\.?)?(?![\d:])", text)
        if clock and _words(text[: clock.start()], BEGIN) and time_of_day(clock[0]):
            found.append(Written(None, time_of_day(clock[0]), True, False, clock[0]))
    return found


def _time_at(rest: str) -> tuple[TimeText | None, int]:
    """The time of day behind a date, and how many letters it took."""
    lead = _TIME_AT.match(rest)
    begin = lead.end() if lead else 0
    ends = [m.end() for m in re.finditer(r"\S+", rest[begin:])][:4] if lead else []
    for end in ends[::-1]:
        time = time_of_day(rest[begin : begin + end].strip(" ;,)"))
        if time is not None:
            return time, begin + end
    return None, 0


def _words(label: str, some: tuple[str, ...]) -> bool:
    text, parts = plain(label), set(tokens(plain(label)))
    return any(word in parts if word.isascii() and len(word) <= 4 else word in text for word in some)


def begin(lines: list[str], answer: str | None, order: str | None, now_us: int, name: str) -> Begin | None:
    """The date, and perhaps the time, at which a record without dates begins; None where nothing gives it.

    Raises
    ------
    Question : several dates, or one that may be read in two orders.
    """
    if answer:
        date, time = told(answer)
        return Begin(_day(date, "ymd", now_us, name), *_clock(time), True, answer.strip())
    found = written(lines)
    starts = [w for w in found if w.begin]
    some = [w for w in starts if w.date] or [w for w in found if w.date and not w.other]
    if not some:
        return None
    days = {_day(w.date, order, now_us, name, [o.date for o in found if o.date]) for w in some if w.date}
    timed = [w for w in some if w.time] or [w for w in starts if w.date is None]
    clocks = {w.time.us for w in timed if w.time}
    if len(days) > 1 or len(clocks) > 1:
        seen = ", ".join(dict.fromkeys(repr(w.text[:30]) for w in some))
        raise Question(f"the rows bear no date, and the lines above them give several ({seen}).", "start", place=name)
    time = timed[0].time if timed else None
    return Begin(days.pop(), *_clock(time), some[0].begin, " ".join(w.text for w in dict.fromkeys([some[0], *timed])))


def _clock(time: TimeText | None) -> tuple[int | None, int | None]:
    return (None, None) if time is None else (time.us, time.offset_min)


def _day(date: DateText, order: str | None, now_us: int, name: str, beside: list[DateText] | None = None) -> int:
    """Midnight of a date; its order of day and month by what is possible, also for the dates beside it."""
    alike = [d for d in beside or [] if d.order == date.order and d.style == date.style]
    fits: dict[str, int] = {}
    latest = (now_us + DAY_US) // DAY_US
    for some in ([date, *alike], [date]):
        for one in day_order.orders(list(some)) if not fits else ():
            if one.valid.all() and (one.days >= SINCE_US // DAY_US).all() and (one.days <= latest).all():
                fits[one.name] = int(one.days[0])
    if order in fits:
        return fits[order] * DAY_US
    if len(set(fits.values())) == 1:
        return next(iter(fits.values())) * DAY_US
    shown = f"{date.a:02d} {date.b:02d} {date.c:02d}" if date.style.count("?") else f"{date.a}-{date.b}-{date.c}"
    if not fits:
        raise Question(f"the date above the rows ({shown}) is no possible date of a reading.", "start", place=name)
    raise Question(
        f"the rows bear no date, and the one above them ({shown}) can be read "
        f"{' or '.join(day_order.WORDS[o] for o in fits)}.", "dates", tuple(fits), place=name)  # fmt: skip
