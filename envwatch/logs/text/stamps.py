"""Texts of dates and times, taken apart without deciding the order of day and month.

Only distinct texts are looked at, so that a plain pattern match is fast enough for millions of rows.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from envwatch.figures.logs import FIRST_YEAR
from envwatch.logs.text.vocabulary import AM, MONTHS, PM, ZONE_ABBREVIATIONS, plain

DAY_US = 86_400_000_000
SINCE_US = int(np.datetime64(f"{int(FIRST_YEAR)}-01-01", "us").astype(np.int64))  # no reading is older


class DateText(NamedTuple):
    """The three numbers of a date as written; `order` where the text itself settles it."""

    a: int
    b: int
    c: int
    order: str  # "ymd", "dmy" (month by name), "yd" (day of the year), "any3" (all short), "any2" (year last)
    style: str  # for showing: "dd.mm.yyyy" with the letters left open


class TimeText(NamedTuple):
    """Time of day in microseconds (24:00 allowed), and an offset from UTC in minutes where one was written."""

    us: int
    offset_min: int | None
    zone: str | None = None


_NAME = r"(?P<name>[^\W\d_]{3,11})\.?"
_CENTURY = r"(?P<a>(?:19|20)\d\d)"
_THEN = r"(?=$|[T :_-]|\d\d$|\d{4}$|\d{6}$|\d{6}[.,])"  # behind eight figures: nothing, a mark, or hh, hhmm, hhmmss
_DATES = tuple(
    (order, re.compile(pattern))
    for order, pattern in (
        ("ymd", r"(?P<a>\d{4})\s?(?P<s>[-/._])\s?(?P<b>\d{1,2})\s?(?P=s)\s?(?P<c>\d{1,2})(?!\d)\.?"),
        ("ymd", r"(?P<a>\d{4}|\d{2})\s?[年년]\s?(?P<b>\d{1,2})\s?[月월]\s?(?P<c>\d{1,2})\s?[日일]?"),
        ("any2", r"(?P<a>\d{1,2})\s?(?P<s>[-/._])\s?(?P<b>\d{1,2})\s?(?P=s)\s?(?P<c>\d{4})(?!\d)\.?"),
        ("any3", r"(?P<a>\d{1,2})\s?(?P<s>[-/._])\s?(?P<b>\d{1,2})\s?(?P=s)\s?'?(?P<c>\d{2})(?!\d)\.?"),
        ("dmy", r"(?P<a>\d{1,2})(?:st|nd|rd|th|er)?[-/._ ]{0,2}(?:de )?" + _NAME
         + r"[-/._, ]{0,2}(?:del? )?(?P<c>\d{4}|\d{2})(?!\d)"),
        ("mdy", _NAME + r"[-/._ ]{1,2}(?P<b>\d{1,2})(?:st|nd|rd|th)?[-/,. ]{1,2}(?P<c>\d{4})(?!\d)"),
        ("yname", r"(?P<a>\d{4})[-/._ ]{1,2}" + _NAME + r"[-/._ ]{1,2}(?P<c>\d{1,2})(?!\d)"),
        ("ymd", _CENTURY + r"(?P<b>0[1-9]|1[0-2])(?P<c>0[1-9]|[12]\d|3[01])" + _THEN),
        ("any2", r"(?P<a>[0-3]\d)(?P<b>[0-3]\d)(?P<c>(?:19|20)\d\d)" + _THEN),
        ("yd", _CENTURY + r"(?P<s>[-/:. ]?)(?P<c>[0-3]\d\d)(?=$|[T :_/]|(?<=\d{7})(?:\d{4}|\d{6})$)"),
        ("any3", r"(?P<a>\d\d)(?P<b>[0-3]\d)(?P<c>\d\d)(?=\d{6}$|[T _-]\s?\d{4}(?:\d\d)?$)"),
        ("ymd", r"(?P<a>\d{4}) (?P<b>\d{1,2}) (?P<c>\d{1,2})(?!\d)"),
    )
)  # fmt: skip
_WEEKDAY = re.compile(
    r"^[(\[]?[^\W\d_]{2,10}\.?[)\]]?,?\s+(?=\d|[^\W\d_]{3,9}\.?\s\d)|"
    r"\s?[(（\[][月火水木金土日一二三四五六][)）\]]|星期.|周[一二三四五六日]"
)
_BEFORE_TIME = re.compile(r"(?<=\d)\.?,?\s+[(\[]?(?P<word>[^\W\d_]{2,10})\.?[)\]]?,?\s+(?=\d{1,2}[:.hH]?\d\d)")
_HALF = (
    r"(?P<half{0}>[ap]\.?\s?m\b\.?|(?<=\d)[ap]\b|"
    r"上午|下午|午前|午後|오전|오후|vorm\.|nachm\.|vormittags|nachmittags|凌晨|早上|晚上|π\.?μ\.?|μ\.?μ\.?)"
)
_OFFSET = (
    r"\s?[(\[]?(?P<off>Z\b|(?P<signed>(?:UTC|GMT)?\s?[+-]\d{1,2}(?::?\d{2})?(?::00)?)|UTC|GMT|[A-Z]{3,4})?[)\]]?"
    r"(?(signed)(?:\s[A-Z]{3,4}|\s?[(\[][^()\[\]\d]{2,60}[)\]])?|(?:\s?[(\[](?P<zone>[A-Z]\w+/[\w/+-]+)[)\]])?)"
)
_TIME = re.compile(
    r"(?:" + _HALF.format(1) + r"\s?)?(?P<h>\d{1,2})\s?"
    r"(?:(?::|\.|[hH時时시]|\s?Uhr\s?)\s?(?P<m>\d{1,2})(?:\s?(?::|\.|'|(?:m|min)(?![^\W\d_])|[分분])\s?"
    r"(?:(?P<s>\d{1,2})(?:[.,:](?P<f>\d{1,9}))?\s?(?:s(?![^\W\d_])|\"|[秒초])?)?)?|[hH時时시]|\s?Uhr|(?=\s?[ap]\.?m)|(?=\s?(?:Z|UTC|GMT)$))"
    r"(?:\s?Uhr|h)?\s?(?:" + _HALF.format(2) + r")?" + _OFFSET + r"$",
    re.IGNORECASE,
)
_COMPACT = re.compile(r"(?P<h>\d{2})(?P<m>\d{2})(?P<s>\d{2})?(?:[.,](?P<f>\d{1,9}))?" + _OFFSET + r"$")
_DASHED = re.compile(r"[_T]\s?(\d{2})[-_.](\d{2})(?:[-_.](\d{2}))?$")  # as in the names of files
_JOIN = re.compile(r"^\s*(?:[T,;|_@:]|-|at |um |a las |alle |om |às |à |kl\. ?)?\s*", re.IGNORECASE)
_YEAR_LAST = re.compile(
    r"(?:[^\W\d_]{3}\s+)?(?P<name>[^\W\d_]{3,9})\s+(?P<day>\d{1,2})\s+(?P<time>\d\d:\d\d(?::\d\d)?)\s+(?:(?P<zone>[A-Z]{3,4})\s+)?(?P<year>\d{4})$"
)


_TIME_FIRST = re.compile(
    r"(\d{1,2}:\d{2}(?::\d{2})?(?:\s?[ap]\.?m\.?)?|\d{4}Z?(?:\s?(?:UTC|GMT))?)(?:,?\s+)(.+)$", re.IGNORECASE
)
_HOUR_ALONE = re.compile(r"[0-2]\d")  # behind a date

# "mar." is Tuesday in French where a whole date follows, else it is March
_AFTER_WEEKDAY = re.compile(r"\S+\s+\d{1,2}(?:\.?\s?[^\W\d_]|[-/.]\d{1,2}[-/.]\d)")


@lru_cache(maxsize=50_000)
def tidy(text: str) -> str:
    """One kind of blank, minus and digit; quotes and the ="..." that keeps a spreadsheet from meddling off.

    >>> tidy('="21.5"'), tidy("\u00a0−３,5 ")
    ('21.5', '-3,5')
    """
    text = text.strip()
    text = text[2:].rstrip('"') if text.startswith('="') else text
    text = text.strip("\"'`").strip("\x00 \t\r\n\u00a0\u202f\ufeff")
    if text.isascii():
        return text
    import unicodedata

    for sign, as_ in (("−", "-"), ("–", "-"), ("—", "-"), ("\ufeff", ""), ("\u200e", "")):
        text = text.replace(sign, as_)
    return re.sub(r"\s+", " ", unicodedata.normalize("NFKC", text)).strip()


def _month(name: str) -> int | None:
    return MONTHS.get(plain(name).rstrip("."))


def date_at_start(text: str) -> tuple[DateText, str] | None:
    """A date at the start of a text, and what follows it; None where there is none."""
    for order, pattern in _DATES:
        found = pattern.match(text)
        if not found:
            continue
        got = found.groupdict()
        month = _month(got["name"]) if got.get("name") else None
        if "name" in got and month is None:
            continue
        rest = text[found.end() :]
        if order == "dmy":
            return DateText(int(got["a"]), month or 0, int(got["c"]), "dmy", "day month-name year"), rest
        if order == "mdy":
            return DateText(int(got["b"]), month or 0, int(got["c"]), "dmy", "month-name day year"), rest
        if order == "yname":
            return DateText(int(got["a"]), month or 0, int(got["c"]), "ymd", "year month-name day"), rest
        if order == "yd":
            if not 1 <= int(got["c"]) <= 366:
                continue
            return DateText(int(got["a"]), 1, int(got["c"]), "yd", "year and day of the year"), rest
        year = "yyyy" if order == "ymd" and len(got["a"]) == 4 or order == "any2" else "yy"
        mark = got.get("s") or ""
        style = mark.join((year, "mm", "dd") if order == "ymd" else ("?", "?", year))
        return DateText(int(got["a"]), int(got["b"]), int(got["c"]), order, style), rest
    return None


def parse_offset(text: str) -> int | None:
    """Minutes east of UTC out of "Z", "+01:00", "GMT-7", "CEST"; None where it names no single offset.

    >>> parse_offset("GMT-07:00"), parse_offset("Z"), parse_offset("CST")
    (-420, 0, None)
    """
    text = text.strip().replace("−", "-")
    if text.upper() == "Z":
        return 0
    found = re.fullmatch(r"(?:UTC|GMT)?\s?([+-])(\d{1,2}):?(\d{2})?(?::00)?", text, re.IGNORECASE)
    if found:
        minutes = int(found[2]) * 60 + int(found[3] or 0)
        return (-minutes if found[1] == "-" else minutes) if minutes <= 15 * 60 else None
    return ZONE_ABBREVIATIONS.get(text.lower())


def _hour(h: int, half: str) -> int | None:
    """The hour of 24 that an hour with AM or PM is."""
    half = re.sub(r"\s", "", half.lower())
    afternoon = half in PM or half.startswith("p")
    if not (afternoon or half in AM or half.startswith("a")) or h > 23:
        return None
    if h > 12:  # some exports print 24-hour times with a needless PM
        return h if afternoon else None
    return h % 12 + (12 if afternoon else 0)


@lru_cache(maxsize=100_000)
def time_of_day(text: str) -> TimeText | None:
    """A time of day, with or without AM/PM, fractions and an offset; None where the text is no time.

    >>> time_of_day("1:05:09 PM").us // 1_000_000, time_of_day("24:00").us == DAY_US, time_of_day("21.5")
    (47109, True, None)
    """
    text = tidy(text)
    found = _TIME.match(text) or _COMPACT.match(text)
    if not found or len(text) > 72:
        return None
    got = found.groupdict()
    if got["m"] is not None and len(got["m"]) == 1 and got["s"] is None:
        return None  # "21.5" is a reading
    half = got.get("half1") or got.get("half2")
    hour = _hour(int(got["h"]), half) if half else int(got["h"])
    minute, second = int(got["m"] or 0), int(got["s"] or 0)
    if hour is None or hour > 24 or minute > 59 or second > 60 or (hour == 24 and minute + second):
        return None
    offset = parse_offset(got["off"]) if got["off"] else None
    if got["off"] and offset is None and not got["off"].isalpha():
        return None
    fraction = int((got["f"] or "0")[:6].ljust(6, "0"))
    zone = got["zone"] or (got["off"] if got["off"] and offset is None else None)
    return TimeText(((hour * 60 + minute) * 60 + second) * 1_000_000 + fraction, offset, zone)


@lru_cache(maxsize=100_000)
def date_only(text: str) -> DateText | None:
    """A date and nothing else; None where the text is none.

    >>> date_only("5. März 2024").b, date_only("03/04/24").order, date_only("19.5")
    (3, 'any3', None)
    """
    found = date_at_start(_without_weekday(text))
    return found[0] if found and not found[1].strip(" .,日") else None


def _without_weekday(text: str) -> str:
    text = tidy(text)
    head = _WEEKDAY.match(text)
    if head and _month(head[0].strip(" .,")) is not None and not _AFTER_WEEKDAY.match(text):
        return text
    text = _WEEKDAY.sub("", text, count=1).strip()
    inner = _BEFORE_TIME.search(text)
    if inner is None or not _names_a_day(inner["word"]):
        return text
    return f"{text[: inner.start()]} {text[inner.end() :]}"


def _names_a_day(word: str) -> bool:
    """A word between a date and its time that is no month, no half of the day, no zone and no "at"."""
    text = word.lower()
    known = _month(text) or text in AM or text in PM or text in ZONE_ABBREVIATIONS or _JOIN.fullmatch(f" {text} ")
    return not known and re.fullmatch(_HALF.format(""), text) is None


def split_at(text: str) -> int | None:
    """Where the date ends and the time begins in a raw stamp "date time"; None where there is no such place."""
    for cut in [found.start() for found in re.finditer(r"[T ]", text)][::-1]:
        if date_only(text[:cut]) and time_of_day(text[cut + 1 :]):
            return cut
    return None


@lru_cache(maxsize=100_000)
def date_and_time(text: str) -> tuple[DateText, TimeText] | None:
    """A full stamp; None where the text is none.

    >>> date_and_time("2024-03-01T10:00:00.5+01:00")[1].offset_min
    60
    >>> date_and_time("21.5") is None and date_and_time("2024-03-01") is None
    True
    """
    if not 8 <= len(text) <= 96:
        return None
    text = _without_weekday(text)
    found = date_at_start(text)
    if found:
        if found[0].order == "any3" and re.match(r"[+-]\d", found[1]):
            return None  # "21.53.00-05:00" is a time with its offset
        dashed = _DASHED.match(found[1])
        rest = ":".join(g for g in dashed.groups() if g) if dashed else _JOIN.sub("", found[1], count=1)
        rest = f"{rest}:00" if _HOUR_ALONE.fullmatch(rest) and "-" not in found[1] else rest
        time = time_of_day(rest) if rest else None
        return (found[0], time) if time else None
    unix = _YEAR_LAST.match(text)
    if unix:
        return date_and_time(f"{unix['day']} {unix['name']} {unix['year']} {unix['time']} {unix['zone'] or ''}".strip())
    head = _TIME_FIRST.match(text)
    if head:
        date, time = date_only(head[2]), time_of_day(head[1])
        return (date, time) if date and time else None
    return None
