"""The logger's own serial number or name, as its file gives it."""

from __future__ import annotations

import re

from envwatch.logs.tables.nameless import is_serial, nameless
from envwatch.logs.text.vocabulary import plain

_SERIAL = re.compile(
    r"(?:serial(?:\s?(?:number|no\.?|nr\.?|#))?|s/n|\bsn\b|seriennummer|serien-?nr\.?|geratenummer|gerate-?nr\.?|"
    r"n(?:umero|°|o|\.)? ?de serie|numero di serie|matricola|serienummer|logger ?(?:id|no\.?|nr\.?|number)|"
    r"device ?(?:id|no\.?)|"
    r"シリアル(?:番号|no\.?)?|製造番号|序列号|设备编号|编号)\s*[\"']?\s*[:=#;,\t|\x1f "
    r"]\s*[\"']?\s*(?P<it>[A-Za-z0-9][\w./-]{1,39})",
    re.IGNORECASE,
)
_NAME = re.compile(
    r"^[\"'#\s]*(?:logger(?: ?name)?|device(?: ?name)?|(?:[^\W\d_]+ )?title|name|station(?: ?name)?|geratename|gerat|"
    r"loggername|datenlogger|messstelle|standort|bezeichnung|appareil|enregistreur|nom|nombre|dispositivo|nome|"
    r"apparaat|naam|"
    r"location|site|sensor(?: ?name)?|description|設備名|機器名|ロガー名|设备名称|名称|仪器名称|"
    r"description)\s*[\"']?\s*"
    r"[:=;,\t|\x1f]\s*[\"']?\s*(?P<it>[^\"';,\t|\x1f]{1,60})",
    re.IGNORECASE,
)
_BARE = re.compile(r"(?P<it>\d+)")
_KEYED = re.compile(r"[^\W\d_][^:\d]*:")  # "Interval: 10 min" stands in any file
_IN_HEADER = re.compile(r"\bs/?n\s*[:.#]\s*(?P<it>[\w-]+)", re.IGNORECASE)


def find(preamble: list[str], names: list[str], serial: str | None = None) -> str | None:
    """A serial number before a name before a title; None where the file gives none, or leaves it empty.

    `serial` is the number that stands bare in the columns' names.

    >>> find(["Seriennummer: 10042", "Messstelle: Depot"], []), find(["Title: North store"], []), find([], ["Temp"])
    ('10042', 'North store', None)
    >>> find(["Messdaten des Geräts"], []), find(["Operator: none"], []), find(["Logger 7"], [])
    (None, None, 'Logger 7')
    >>> find(["Serial no.;", "Device name: not set"], []), find(["Serial no.;N/A", "Location;Attic"], [])
    (None, 'Attic')
    """
    texts = [_unaccented(line) for line in preamble[:200] if len(line) < 500]
    for pattern, fits, some in (
        (_SERIAL, is_serial, texts),
        (_IN_HEADER, is_serial, names[:100]),
        (_BARE, is_serial, [serial or ""]),
        (_NAME, _is_name, texts),
    ):
        for text in some:
            for found in pattern.finditer(text):
                if fits(found["it"]):
                    return "".join(c for c in found["it"].strip() if c.isprintable())
    return title(preamble)


def _unaccented(line: str) -> str:
    accents = str.maketrans("äöüéèêíóáçãõúàìòùñÄÖÜÉ", "aoueeeioacaouaiounAOUE")
    return line.translate(accents)


def title(preamble: list[str]) -> str | None:
    """A single short first line such as "Logger 10042"."""
    filled = [re.sub(r"[;,\t|\x1f\"\s]+$", "", line).strip('"# ') for line in preamble[:3] if line.strip(" ;,\t\x1f")]
    if not filled or re.match(r"(?i)sep=", filled[0]) and len(filled) < 2:
        return None
    first = filled[1] if re.match(r"(?i)sep=", filled[0]) else filled[0]
    plain_ = plain(first)
    if len(first) > 60 or re.search(r"[;,\t|=\x1f]|\d:\d|https?:|export|created|report|version", plain_):
        return None
    signs = sum(c.isalnum() for c in first)
    return first if signs > 1 and not _KEYED.match(plain_) and not nameless(first) else None


def _is_name(text: str) -> bool:
    return bool(text.strip(" .-")) and not nameless(text)
