"""What a column holds, by the words of its header; what is left of the header names the probe."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

from envwatch.logs.text import vocabulary
from envwatch.logs.text.cells import unit_in
from envwatch.logs.text.vocabulary import plain, tokens

# words that say nothing about which probe it is
_FILLER = {
    "air", "relative", "rel", "temperature", "temp", "humidity", "luft", "relativ", "value", "wert", "avg", "mean",
    "mittel",
    "moyenne", "media", "promedio", "gemiddeld", "reading", "de", "of", "the", "l", "la", "del", "dell", "di", "da",
    "do",
    "en", "mittelwert", "average", "measured", "ist", "actual", "current", "lufttemperatur", "lufttemp", "c",
    "f", "k", "rh", "hr", "ur", "rv", "rf", "deg", "degc", "degf", "celsius", "fahrenheit", "percent", "pct", "°",
    "%", "t",
    "h", "relatif", "relativa", "relatieve", "aria", "aire", "ar", "lucht", "degrees", "degree", "r", "u", "o",
    "grad", "grados", "graus", "gradi", "und", "and", "unit", "inst", "平均", "相対", "相对", "空气", "室内",
    "dry", "bulb",
    "m", "s", "oc", "feuchte", "sn", "serial",
}  # fmt: skip
# where there is one probe only, these do not name it
GENERIC = {"room", "indoor", "inside", "internal", "ambient", "sensor", "probe", "channel", "logger", "raum", "innen",
           "intern", "interne", "interna", "interno", "interieur", "ambiente", "ambiant", "ambiante", "kanal", "ch",
           "sonde",
           "sonda", "fuhler", "device", "store", "house", "box", "environment", "environmental", "kamer", "data", "log",
           "main", "built", "zimmer", "ext"}  # fmt: skip
_SERIAL = re.compile(
    r"(?:\b(?-i:[A-Z]{2,6}) )?\bs/?n\s*[:.#]?\s*[\w-]+|\bserial\s*(?:no|number|nr)?\s*[:.#]?\s*[\w-]+", re.IGNORECASE
)
_LABEL = re.compile(r"\blabel\s*:\s*([^,;)\]]+)", re.IGNORECASE)
_CODE = re.compile(r"[b-df-hj-np-tv-xz]{2}[a-z]")  # three letters that begin with two consonants are no word
# "% r.F." is no Fahrenheit, "R.V." no volt
_SHORT_RH = re.compile(r"(?<![a-z])(?:r[. ]{1,2}l?f|rel\.? ?l?f|r\. ?v)(?![a-z])")
_COMPOUND = re.compile(
    r"(.{3,}?)(?:luft)?(?:temperatur(?:en)?|feuchte|feuchtigkeit|temperatuur|vochtigheid)", re.IGNORECASE
)
_UNIT_IN_BRACKETS = re.compile(r"[(\[{][^)\]}]*(?:°|℃|℉|%|º|˚|deg|\bC\b|\bF\b|\bK\b|\boC\b|�)[^)\]}]*[)\]}]")
_IN_UNIT = re.compile(r"\bin (?=°|deg|grad|%|celsius|fahrenheit|kelvin|percent|prozent|o?[CFK]\b)", re.IGNORECASE)


class ColumnRole(NamedTuple):
    """A column's meaning: what, in which unit, which probe; `statistic` of an interval (min, max), if any."""

    kind: str | None
    unit: str | None = None
    label: str = ""
    statistic: str | None = None
    weak: bool = False


def _has(text: str, words_: tuple[str, ...]) -> bool:
    return any(word in text for word in words_)


@lru_cache(maxsize=5000)
def role_of(name: str) -> ColumnRole:
    """The role of one header text.

    >>> role_of("Humidité relative (%)").kind, role_of("Taupunkt [°C]").kind, role_of("Temp Attic (°F)")
    ('rh', 'dew_point_c', ColumnRole(kind='temp', unit='F', label='Attic', statistic=None, weak=False))
    """
    text, parts = plain(name), set(tokens(plain(name)))
    unit = unit_in(name)
    if _SHORT_RH.search(text):
        return ColumnRole("rh", _own_unit("rh", text, unit), label_of(name), _statistic(parts))
    if _means_time(parts, unit):
        return ColumnRole(None, None, label_of(name))
    for kind, fragments, whole in vocabulary.ROLES:
        if _has(text, fragments) or (parts & set(whole) and not (kind == "rh" and _is_hour(parts, unit))):
            return ColumnRole(kind, _own_unit(kind, text, unit), label_of(name), _statistic(parts))
    if unit in ("C", "F", "K") or (parts & set(vocabulary.WEAK_TEMP) and len(text) <= 12 and not _is_time(parts)):
        return ColumnRole("temp", unit, label_of(name), _statistic(parts), True)
    bare = re.sub(r"[(\[].*", "", text).strip()
    if unit == "%" or (parts & set(vocabulary.WEAK_RH) and len(bare) <= 4):
        return ColumnRole("rh", unit, label_of(name), _statistic(parts), True)
    return ColumnRole(None, unit, label_of(name))


def _means_time(parts: set[str], unit: str | None) -> bool:
    return bool(parts & set(vocabulary.TIMELY)) and unit not in ("C", "F", "K")


def _own_unit(kind: str, text: str, unit: str | None) -> str | None:
    if kind == "rh":  # "% r.F." is no Fahrenheit
        return "%" if "%" in text or unit == "%" else "1" if unit == "1" else None
    return None if kind == "temp" and unit in ("%", "1") else unit


def _is_hour(parts: set[str], unit: str | None) -> bool:
    return parts <= {"hr", "time", "hrs"} and "time" in parts and unit != "%"


def _is_time(parts: set[str]) -> bool:
    return bool(parts & set(vocabulary.TIME + vocabulary.DATE))


def _statistic(parts: set[str]) -> str | None:
    for name, some in vocabulary.STATISTICS.items():
        if parts & set(some):
            return name
    return None


def label_of(name: str) -> str:
    """The probe's name inside a header text: what is left without quantity, unit and serial number.

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
    text = re.sub(r"[^\W\d_]+", lambda word: _telling(word[0]), text)
    text = re.sub(r"[\s,;:/()\[\]{}°%|.^'*?_-]{2,}", " ", text)
    return re.sub(r"^[\W_]+|[\W_]+$", "", text)


def _telling(word: str) -> str:
    """What a word says about which probe it is; "Innen" of "Innentemperatur"."""
    compound = _COMPOUND.fullmatch(word)
    word = compound[1] if compound else word
    return "" if _says_nothing(word) else word


def _says_nothing(word: str) -> bool:
    text = plain(word)
    if text in _FILLER or text in ("°c", "°f") or text in {w for some in vocabulary.STATISTICS.values() for w in some}:
        return True
    return any(
        kind in ("temp", "rh", "dew_point_c") and (_has(text, fragments) or text in whole)
        for kind, fragments, whole in vocabulary.ROLES
    )


def generic(label: str) -> bool:
    """Whether a probe's name says nothing where there is one probe only: general words and letter codes.

    >>> generic("Indoor sensor"), generic("QRX"), generic("Attic")
    (True, True, False)
    """
    return all(word in GENERIC or _CODE.fullmatch(word) for word in tokens(plain(label)))


def without_shared_codes(labels: list[str]) -> list[str]:
    """Labels without the letter codes that all of them bear: "QRX" of "1 QRX" and "2 QRX"."""
    shared = set.intersection(*({*tokens(plain(label))} for label in labels)) if labels else set()
    codes = [word for word in shared if _CODE.fullmatch(word)]
    for code in codes:
        labels = [re.sub(rf"(?i)[\W_]*(?<![^\W_]){code}(?![^\W_])[\W_]*", " ", label).strip() for label in labels]
    return labels


@lru_cache(maxsize=5000)
def time_word(name: str) -> str | None:
    """ "stamp", "date", "time", "elapsed", or a part ("year", "hour") that a header text names; else None.

    >>> [time_word(n) for n in ("Date and time (UTC+1)", "Datum", "Uhrzeit", "Jahr", "Temp")]
    ['stamp', 'date', 'time', 'year', None]
    """
    text = plain(name)
    parts = set(tokens(text))
    if elapsed_word(name):
        return "elapsed"
    if _has(text, vocabulary.STAMP) or (parts & set(vocabulary.DATE) and parts & set(vocabulary.TIME)):
        return "stamp"
    if parts & set(vocabulary.TIMELY) and not _means_time(parts, unit_in(name)):
        return None
    short = re.sub(r"[(\[].*", "", text).strip()
    for part, names in vocabulary.PARTS.items():
        if short in names and short not in vocabulary.DATE + vocabulary.TIME and not (short == "min" and "(" in text):
            return part
    if parts & set(vocabulary.DATE) or _has(text, ("日付", "日期", "날짜", "datum")):
        return "date"
    if parts & set(vocabulary.TIME) or _has(text, ("時刻", "时刻", "時間", "时间", "uhrzeit", "zeit")):
        return "time"
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
    return _has(plain(name), vocabulary.ELAPSED)


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
