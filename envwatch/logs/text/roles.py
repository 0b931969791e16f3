"""What a column holds, by the words of its header; what is left of the header names the probe."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

from envwatch.logs.text import vocabulary
from envwatch.logs.text.cells import TENTHS, unit_in
from envwatch.logs.text.vocabulary import plain, tokens
from envwatch.logs.text.words import pattern, whole

# words that say nothing about which probe it is; and those that do not name it where it is the only one
_FILLER = frozenset((*whole("filler"), "°c", "°f"))
GENERIC = frozenset(whole("generic"))
_SERIAL = re.compile(
    r"(?:\b(?-i:[A-Z]{2,6}) )?\bs/?n\s*[:.#]?\s*[\w-]+|\bserial\s*(?:no|number|nr)?\s*[:.#]?\s*[\w-]+", re.IGNORECASE
)
_LABEL = re.compile(r"\blabel\s*:\s*([^,;)\]]+)", re.IGNORECASE)
CODE = re.compile(r"[b-df-hj-np-tv-xz]{2}[a-z]")  # three letters that begin with two consonants are no word
# "% r.F." is no Fahrenheit, "R.V." no volt
_RH_SIGN = re.compile(
    r"%[ .]?(?:rh|r\.? ?f|hr|ur|rv|rel)(?![a-z])|"
    r"(?<![a-z])(?:r\.h\.|h\.r\.|u\.r\.|r[. ]{1,2}l?f|rel\.? ?l?f|r\. ?v)(?![a-z])"
)
_MINUTES = re.compile(r"\d[\W_]*min")
_COMPOUND = re.compile(
    r"(.{3,}?)(?:luft)?(?:temperat|feucht|fukt|fugt|lampotil|vochtig|homersek|paratart|kosteu).*", re.IGNORECASE
)
_UNIT_IN_BRACKETS = re.compile(r"[(\[{][^)\]}]*(?:°|℃|℉|%|º|˚|deg|\bC\b|\bF\b|\bK\b|\boC\b|�)[^)\]}]*[)\]}]")
_IN_UNIT = re.compile(r"\bin (?=°|deg|grad|%|celsius|fahrenheit|kelvin|percent|prozent|o?[CFK]\b)", re.IGNORECASE)


TOLD = ("temp", "rh", "dew_point_c", *vocabulary.STATISTICS)
_JOINED = re.compile("|".join(re.escape(word) for kind in (*TOLD, "filler") for word in whole(kind)
                              if ord(word[0]) >= 0x590))  # fmt: skip


class ColumnRole(NamedTuple):
    """A column's meaning: what, in which unit, which probe; `statistic` of an interval (min, max), if any.

    tenths : its unit is said to be a tenth of a degree or percent.
    """

    kind: str | None
    unit: str | None = None
    label: str = ""
    statistic: str | None = None
    weak: bool = False
    tenths: bool = False


@lru_cache(maxsize=5000)
def role_of(name: str) -> ColumnRole:
    """The role of one header text: by its unit and whole words.

    >>> role_of("Humidité relative (%)").kind, role_of("Taupunkt [°C]").kind, role_of("Temp Attic (°F)")
    ('rh', 'dew_point_c', ColumnRole(kind='temp', unit='F', label='Attic', statistic=None, weak=False, tenths=False))
    >>> [role_of(n).kind for n in ("Lichtsaal °C", "Licht", "Battery Street % RH", "Battery", "RH sensor battery")]
    ['temp', 'lux', 'rh', 'battery', 'battery']
    """
    text, parts, unit = plain(name), set(tokens(plain(name))), unit_in(name)
    label = label_of(name)
    if parts & set(vocabulary.TIMELY) and unit not in ("C", "F", "K"):
        return ColumnRole(None, None, label)
    kind, spanless = _kind(text, parts, unit), _MINUTES.sub("", text)
    statistic = next((word for word in vocabulary.STATISTICS if pattern(word).search(spanless)), None)
    if kind:
        foreign = kind == "rh" and unit not in ("%", "1") or kind == "temp" and unit in ("%", "1")  # "% r.F.": no °F
        return ColumnRole(kind, None if foreign else unit, label, statistic, False, TENTHS.search(text) is not None)
    letters = [word for word in tokens(text) if word.isalpha()]
    short = "t" in letters or len(letters) == 1 and parts & set(vocabulary.WEAK_TEMP)
    if unit in ("C", "F", "K") or (short and len(text) <= 12 and not pattern("time", "date").search(text)):
        return ColumnRole("temp", unit, label, statistic, True, TENTHS.search(text) is not None)
    bare = re.sub(r"[(\[].*", "", text).strip()
    if unit == "%" or (parts & set(vocabulary.WEAK_RH) and len(bare) <= 4):
        return ColumnRole("rh", unit, label, statistic, True, TENTHS.search(text) is not None)
    return ColumnRole(None, unit, label)


def _kind(text: str, parts: set[str], unit: str | None) -> str | None:
    """The quantity that words name, of those that can have this unit."""
    sign, degrees = _RH_SIGN.search(text) is not None, unit in ("C", "F", "K")
    ends: dict[str, int] = {}
    for kind in vocabulary.QUANTITIES:
        warm = kind in ("temp", "setpoint") or kind.endswith("_c")
        can = kind in ("rh", "setpoint") if sign else warm if degrees else unit != "%" or not kind.endswith("_c")
        found = list(pattern(kind).finditer(text)) if can else []
        if found:
            ends[kind] = found[-1].end()
    if {"time"} <= parts <= {"hr", "time", "hrs"} and unit != "%":
        ends.pop("rh", None)  # "time, hr"
    calculated = [kind for kind in vocabulary.CALCULATED if kind in ends]
    air = "rh" if sign else max((k for k in vocabulary.AIR if k in ends), key=lambda k: ends[k], default=None)
    device = next((kind for kind in vocabulary.DEVICE if kind in ends), None)
    if calculated or not (air and device):
        return next(iter(calculated), air or device)
    last = device in ("battery", "signal") and ends[device] > ends.get(air, 0) and not sign and unit is None
    behind = text[ends[device] :]  # "humidity sensor battery"; "RH [Battery]" is a room
    return device if last and not re.search(r"[^\W\d_]{2,}|[\])}]", behind) or unit == "%" and air == "temp" else air


def label_of(name: str, told: tuple[str, ...] = TOLD) -> str:
    """The probe's name inside a header text: what is left without quantity, unit and serial number.

    told : the kinds of words that say what is measured.

    >>> label_of("RH [%] (PROBE S/N 10042; label: North)"), label_of("T2 [°C]"), label_of("Relative Humidity")
    ('North', '2', '')
    >>> label_of("HB S/N 70 °C"), label_of("TURRET S/N 70 °C"), label_of("Attic S/N 70 °C")  # two to six capitals
    ('', '', 'Attic')
    """
    given = _LABEL.search(name)
    if given:
        return given[1].strip()
    text = _SERIAL.sub(" ", _UNIT_IN_BRACKETS.sub(" ", name))
    text = _IN_UNIT.sub(" ", re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text))
    text = re.sub(r"[^\W\d_]+", lambda word: _telling(word[0], told), _JOINED.sub(" ", text))
    text = re.sub(r"[\s,;:/()\[\]{}°%|.^'*?_-]{2,}", " ", text)
    return re.sub(r"^[\W_]+|[\W_]+$", "", text)


def own_words(name: str) -> str:
    """A header's text without its units and what says that it is a temperature or humidity, to be compared.

    >>> own_words("Battery Lane °C") == own_words("Battery Lane [% RH]") == "battery lane"
    True
    """
    return " ".join(tokens(plain(label_of(name, vocabulary.AIR))))


def _telling(word: str, told: tuple[str, ...]) -> str:
    """What a word says about which probe it is; "Innen" of "Innentemperatur"."""
    compound = _COMPOUND.fullmatch(word)
    word = compound[1] if compound else word
    text = plain(word)
    return "" if text in _FILLER or told and pattern(*told).search(text) else word


def generic(label: str) -> bool:
    """Whether a probe's name says nothing where there is one probe only: general words and letter codes.

    >>> generic("Indoor sensor"), generic("QRX"), generic("Attic")
    (True, True, False)
    """
    return all(word in GENERIC or CODE.fullmatch(word) for word in tokens(plain(label)))


@lru_cache(maxsize=5000)
def time_word(name: str) -> str | None:
    """ "stamp", "date", "time", "elapsed", or a part ("year", "hour") that a header text names; else None.

    >>> [time_word(n) for n in ("Date and time (UTC+1)", "Datum", "Uhrzeit", "Jahr", "Temp")]
    ['stamp', 'date', 'time', 'year', None]
    """
    text = plain(name)
    if elapsed_word(name):
        return "elapsed"
    dated, timed = (pattern(kind).search(text) for kind in ("date", "time"))
    if pattern("stamp").search(text) or (dated and timed and dated[0] != timed[0]):
        return "stamp"
    parts = set(tokens(text))
    if parts & set(vocabulary.TIMELY) and unit_in(name) in ("C", "F", "K"):
        return None
    short = re.sub(r"[(\[].*", "", text).strip()
    for part, names in vocabulary.PARTS.items():
        if short in names and short not in vocabulary.DATE + vocabulary.TIME and not (short == "min" and "(" in text):
            return part
    if dated or timed:
        return "date" if dated else "time"
    for part, names in vocabulary.PARTS.items():
        if short in names:
            return part
    return None


@lru_cache(maxsize=5000)
def elapsed_word(name: str) -> bool:
    """Whether a header text names the time since the start of a record.

    >>> elapsed_word("Temps écoulé (h)"), elapsed_word("Time")
    (True, False)
    """
    return any(word in plain(name) for word in vocabulary.ELAPSED)


@lru_cache(maxsize=5000)
def part_word(name: str) -> str | None:
    """The part of a date or time a header text names; "time" for hours and minutes in one column."""
    short = re.sub(r"[(\[].*", "", plain(name)).strip(" :.")
    for part, names in vocabulary.PARTS.items():
        if short in names:
            return part
    return "time" if short in vocabulary.TIME or short in ("hhmm", "hourminute") else None


@lru_cache(maxsize=5000)
def named(name: str, some: tuple[str, ...]) -> bool:
    """Whether a header text is, or ends with, one of some words."""
    text = plain(name).strip(" :.#") or plain(name)
    if text in some or text.replace(" ", "_") in some:
        return True
    found = tokens(text)
    return any(word in found for word in some) or any(not w.isascii() and w in text for w in some)
