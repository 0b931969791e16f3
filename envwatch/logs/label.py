"""The logger's own serial number or name, as its file gives it."""

from __future__ import annotations

import re

from envwatch.logs.words import NO_NAME, NO_NAME_UNSPACED, plain, tokens

_SERIAL = re.compile(
    r"(?:serial(?:\s?(?:number|no\.?|nr\.?|#))?|s/n|\bsn\b|seriennummer|serien-?nr\.?|geratenummer|gerate-?nr\.?|"
    r"n(?:umero|°|o|\.)? ?de serie|numero di serie|matricola|serienummer|logger ?(?:id|no\.?|nr\.?|number)|"
    r"device ?(?:id|no\.?)|"
    r"シリアル(?:番号|no\.?)?|製造番号|序列号|设备编号|编号)\s*[\"']?\s*[:=#;,\t|\x1f "
    r"]\s*[\"']?\s*(?P<it>[A-Za-z0-9][\w./-]{1,39})",
    re.IGNORECASE,
)
_NAME = re.compile(
    r"^[\"'#\s]*(?:logger(?: ?name)?|device(?: ?name)?|(?:plot )?title|name|station(?: ?name)?|geratename|gerat|"
    r"loggername|datenlogger|messstelle|standort|bezeichnung|appareil|enregistreur|nom|nombre|dispositivo|nome|"
    r"apparaat|naam|"
    r"location|site|sensor(?: ?name)?|description|設備名|機器名|ロガー名|设备名称|名称|仪器名称|"
    r"description)\s*[\"']?\s*"
    r"[:=;,\t|\x1f]\s*[\"']?\s*(?P<it>[^\"';,\t|\x1f]{1,60})",
    re.IGNORECASE,
)
_BARE = re.compile(r"(?P<it>\d+)")
_IN_HEADER = re.compile(r"\b(?:lgr )?s/?n\s*[:.#]\s*(?P<it>[\w-]+)", re.IGNORECASE)


def find(preamble: list[str], names: list[str], serial: str | None = None) -> str | None:
    """A serial number before a name before a title; None where the file gives none.

    `serial` is the number that stands bare in the columns' names.

    >>> find(["Seriennummer: 10042", "Messstelle: Depot"], []), find(["Title: North store"], []), find([], ["Temp"])
    ('10042', 'North store', None)
    >>> find(["Messdaten des Geräts"], []), find(["Operator: none"], []), find(["Logger 7"], [])
    (None, None, 'Logger 7')
    """
    texts = [_unaccented(line) for line in preamble[:200] if len(line) < 500]
    for pattern, some in ((_SERIAL, texts), (_IN_HEADER, names[:100]), (_BARE, [serial or ""]), (_NAME, texts)):
        for text in some:
            found = pattern.search(text)
            if found and found["it"].strip(" .-"):
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
    return first if first and any(c.isalnum() for c in first) and _names_one(plain_) else None


def _names_one(text: str) -> bool:
    """Whether a line can be one logger's name: "Interval: 10 min" and "Data of the logger" stand in any file."""
    if re.match(r"[^\W\d_][^:\d]*:", text):
        return False
    for word in NO_NAME_UNSPACED:
        text = text.replace(word, " ")
    return any(word not in NO_NAME for word in tokens(text))
