"""From a path to text: what may be opened, how big it may be, and how its bytes are to be read."""

from __future__ import annotations

import codecs
import hashlib
import re
import stat
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from envwatch.core.errors import BadInput, Question
from envwatch.figures.logs import MAX_FILE_BYTES, MAX_LINE_BYTES
from envwatch.logs.text.words import HEADERS, plain

KINDS = (
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet (.xls)", "Open it and save it as CSV (UTF-8) or .xlsx."),
    (b"%PDF", "a PDF", "Export the readings from the logger's program as CSV."),
    (b"\x1f\x8b", "a gzip archive", "Unpack it first."),
    (b"7z\xbc\xaf", "a 7z archive", "Unpack it first."),
    (b"Rar!", "a RAR archive", "Unpack it first."),
    (b"\x89PNG", "a picture", "Export the readings as CSV."),
    (b"\xff\xd8\xff", "a picture", "Export the readings as CSV."),
    (b"GIF8", "a picture", "Export the readings as CSV."),
    (b"SQLite format 3", "a database", "Export the readings as CSV."),
    (b"PAR1", "a Parquet file", "Export the readings as CSV."),
    (b"\x7fELF", "a program", "Choose the logger's CSV export."),
    (b"{\\rtf", "a word-processor document", "Save it as plain text."),
)
# in the order of preference where nothing else tells them apart
ONE_BYTE = ("cp1252", "cp932", "gb18030", "euc_jp", "big5", "cp949", "mac_roman", "cp850", "cp1250", "cp1254", "cp1251",
            "cp1253", "cp1255", "cp1256", "cp874", "koi8_r", "cp866")  # fmt: skip
CJK = {"cp932", "gb18030", "euc_jp", "big5", "cp949"}
# whose words show that an encoding of another script, or with letters of its own, is the right one
TONGUES: dict[str, tuple[str, ...]] = {
    "cp932": ("ja",), "euc_jp": ("ja",), "gb18030": ("zh",), "big5": ("zh",), "cp949": ("ko",), "cp1254": ("tr",),
    "cp1251": ("ru, bg", "uk"), "koi8_r": ("ru, bg", "uk"), "cp866": ("ru, bg", "uk"), "cp1253": ("el",),
    "cp1255": ("he",), "cp1256": ("ar",), "cp874": ("th",),
}  # fmt: skip
SCRIPTS = TONGUES.keys() - CJK - {"cp1254"}


SHEET = "\x1f"  # between the cells of a spreadsheet row, where a line of text has its delimiter
BIG_BYTES = 1 << 24  # below this a thread is not worth its start
Hashing = Callable[[bytes], Callable[[], str]]  # from a file's bytes to what gives their SHA-256 when it is asked


class Raw(NamedTuple):
    """A file's bytes, with what identifies them."""

    name: str
    data: bytes
    sha256: Callable[[], str]  # a big file is hashed beside the reading


def shown(name: str) -> str:
    """A name safe to print: control and direction marks off, and not endless."""
    name = "".join(c if c.isprintable() else "?" for c in str(name))
    return name if len(name) <= 80 else name[:77] + "..."


def load(path, hashing: Hashing | None = None) -> Raw:
    """The bytes of a regular file. hashing : in place of the ordinary one, to see the bytes as they are read.

    Raises
    ------
    BadInput : not a regular file, unreadable, too big, empty, or changed while it was read.
    """
    try:
        path = Path(path)
        name = shown(path.name or str(path))
        before = path.stat()
        if not stat.S_ISREG(before.st_mode):
            raise BadInput("this is not a file but a folder or a device. Name the logger's file itself.", place=name)
        if before.st_size > MAX_FILE_BYTES:
            raise BadInput(f"{before.st_size / 1e9:.1f} GB is more than is read at once. Split the export.", place=name)
        data = path.read_bytes()
        after = path.stat()
    except (OSError, ValueError) as problem:
        why = getattr(problem, "strerror", None) or str(problem)
        raise BadInput(
            f"cannot be opened ({shown(why)}). Check the name and close it elsewhere.", place=shown(str(path))
        ) from None
    if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns) or len(data) != after.st_size:
        raise _still_written(name)
    void = b"\x00 \t\r\n\xef\xbb\xbf\xff\xfe"
    if not data[:4096].strip(void) and not data.strip(void):
        raise BadInput("the file is empty. Export it again from the logger.", place=name)
    return Raw(name, data, (hashing or hashed)(data))


def load_again(path, first: Callable[[], str]) -> Raw:
    """The same bytes once more. first : gives the SHA-256 they had.

    Raises
    ------
    BadInput : as for `load`; or they are others by now.
    """
    raw = load(path)
    if raw.sha256() != first():
        raise _still_written(raw.name)
    return raw


def _still_written(name: str) -> BadInput:
    return BadInput("the file is still being written. Wait until the download has ended and try again.", place=name)


def hashed(data: bytes) -> Callable[[], str]:
    """What gives the SHA-256 of these bytes; of many it is worked out in a thread of its own."""
    if len(data) < BIG_BYTES:
        digest = hashlib.sha256(data).hexdigest()
        return lambda: digest
    pool = ThreadPoolExecutor(1)
    running = pool.submit(lambda: hashlib.sha256(data).hexdigest())
    pool.shutdown(wait=False)
    return running.result


def refuse_other_kinds(raw: Raw) -> None:
    """One plain line for what is plainly no table of readings."""
    for mark, what, advice in KINDS:
        if raw.data.startswith(mark):
            raise BadInput(f"this is {what}, not a table of readings. {advice}", place=raw.name)
    head = raw.data[:2000].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if re.match(rb"<(!doctype|html|head|body|\?xml|svg|script|!--)", head) or b"<html" in head:
        raise BadInput(
            "this is a web page or XML, not a table of readings. Download the logger's CSV export itself.",
            place=raw.name,
        )
    if head[:1] in (b"{", b"[") and re.match(rb"[\[{]\s*[\"\[{\]}]", head):
        raise BadInput("this is JSON, not a table of readings. Export it as CSV.", place=raw.name)


def check_lines(raw_name: str, data: bytes) -> None:
    """Refuse a line without end before any library sees it."""
    start = 0
    limit = int(MAX_LINE_BYTES)
    while len(data) - start > limit:
        end = max(data.rfind(b"\n", start, start + limit), data.rfind(b"\r", start, start + limit))
        if end < start:
            raise BadInput(
                f"a line of over {limit // 1000} kB was found. A logger file has short lines; export it again.",
                place=raw_name,
            )
        start = end + 1


def decode(raw: Raw, told: str | None) -> tuple[bytes, str, list[str]]:
    """The file as UTF-8 without a mark, the name of the encoding it was in, and notes.

    Raises
    ------
    BadInput : binary, or not in the encoding that was told.
    """
    data = raw.data
    if told:
        return _as_told(raw, told), told, [f"The encoding was told: {told}."]
    for mark, name in (
        (codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF32_LE, "utf-32"), (codecs.BOM_UTF32_BE, "utf-32"),
        (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"),
    ):  # fmt: skip
        if data.startswith(mark) and name == "utf-8-sig":
            data = data[3:]
        elif data.startswith(mark):
            return _wide(raw, name), name, []
    if b"\0" in data[:4000] and (guess := _utf16_without_mark(data)):
        return _wide(raw, guess), guess, [f"The file has no encoding mark; its zero bytes show {guess}."]
    _refuse_binary(raw.name, data)
    if data.isascii():
        return data, "ascii", []
    return (data, "utf-8", []) if _is_utf8(data) else _one_byte(raw.name, data)


def _is_utf8(data: bytes) -> bool:
    """By a library's check of a text of these bytes, several times as quick as decoding them."""
    import pyarrow as pa

    ends = pa.array([0, len(data)], pa.int64()).buffers()[1]
    try:
        pa.LargeStringArray.from_buffers(1, ends, pa.py_buffer(data)).validate(full=True)
    except pa.ArrowInvalid:
        return False
    return True


def _as_told(raw: Raw, told: str) -> bytes:
    try:
        text = raw.data.decode(told)
        if not isinstance(text, str):
            raise LookupError
        return text.lstrip("\ufeff").encode("utf-8", "replace")
    except (LookupError, TypeError, AttributeError):
        raise BadInput(
            f"no encoding is called {shown(told)}. Use utf-8, utf-16, cp1252 or the like.", place=raw.name
        ) from None
    except (UnicodeError, ValueError):
        raise BadInput(
            f"the bytes are not {shown(told)}. Leave the encoding out, or tell another.", place=raw.name
        ) from None


def _wide(raw: Raw, name: str) -> bytes:
    text = raw.data.decode(name, "replace").lstrip("\ufeff")
    if text.count("\ufffd") > 4 + len(text) // 1000:
        raise BadInput(f"the bytes are neither text nor {name}. Export the file again as CSV.", place=raw.name)
    data = text.encode("utf-8", "replace")
    _refuse_binary(raw.name, data)
    return data


def _utf16_without_mark(data: bytes) -> str | None:
    """UTF-16 betrays itself: nearly every second byte is zero."""
    head = data[:4000]
    if len(head) < 16:
        return None
    even, odd = head[0::2].count(0) / len(head[0::2]), head[1::2].count(0) / len(head[1::2])
    if odd > 0.7 and even < 0.05:
        return "utf-16-le"
    return "utf-16-be" if even > 0.7 and odd < 0.05 else None


_CONTROL = bytes(set(range(32)) - {0, 9, 10, 13, 11, 12, 26, 27, 28, 29, 30, 31})


def _refuse_binary(name: str, data: bytes) -> None:
    head = data[:100_000]
    odd = len(head) - len(head.translate(None, _CONTROL))
    if odd > len(head) * 0.01 or head.count(0) > len(head) * 0.9:
        raise BadInput("this is binary, not text. Export the readings from the logger's program as CSV.", place=name)


def _one_byte(name: str, data: bytes) -> tuple[bytes, str, list[str]]:
    """Old encodings, told apart by degree signs, header words and the months' names they give."""
    odd_lines = _odd_lines(data)
    sample = b"\n".join(odd_lines[:200])
    scores = {}
    for codec in ONE_BYTE:
        try:
            scores[codec] = _score(sample.decode(codec), codec)
        except UnicodeDecodeError:
            continue
    if not scores:
        scores["cp1252"] = 0
    best = max(scores, key=lambda codec: (scores[codec], -ONE_BYTE.index(codec)))
    if scores[best] < 0 and len(odd_lines) > 5:
        raise Question("the bytes are in no encoding that gives readable words.", "encoding", place=name)
    text = _line_by_line(data, best) if any(map(_is_utf8, odd_lines)) else data.decode(best, "replace")
    sure = sum(score == scores[best] for score in scores.values()) == 1
    note = f"The file is not UTF-8; it was read as {best}" + ("." if sure else ", which its words do not prove.")
    return text.encode("utf-8"), best, [note]


def _odd_lines(data: bytes) -> list[bytes]:
    """The distinct lines that are not plain ASCII, as far as a few thousand places show them."""
    found: dict[bytes, None] = {}
    end = -1
    for place, match in enumerate(re.finditer(rb"[\x80-\xff]+", data)):
        if match.start() < end:
            continue
        begin = (
            max(data.rfind(b"\n", 0, match.start()), data.rfind(b"\r", max(0, match.start() - 2000), match.start())) + 1
        )
        ends = [e for e in (data.find(b"\n", begin), data.find(b"\r", begin, begin + 2000)) if e >= 0]
        end = min(ends, default=len(data))
        found[data[begin:end][:2000]] = None
        if place > 20_000 or len(found) > 2_000:
            break
    return list(found)


def _line_by_line(data: bytes, codec: str) -> str:
    """Two downloads in one file may be in two encodings: a line that is UTF-8 stays UTF-8."""
    if codec in CJK:
        return data.decode(codec, "replace")
    parts = re.split(rb"(\r\n|\n|\r)", data)
    return "".join(_utf8_or(part, codec) for part in parts)


def _utf8_or(part: bytes, codec: str) -> str:
    try:
        return part.decode("utf-8")
    except UnicodeDecodeError:
        return part.decode(codec, "replace")


_MIXED = re.compile("[a-z](?![ªº²³µ])[^\\W\\d_a-z]|(?![ªº²³µ])[^\\W\\d_a-z][a-z]", re.IGNORECASE)  # in one word
_ACCENTED = re.compile(
    r"température|humidité|fühler|größe|gerät|märz|février|août|décembre|rosée|numéro|humedad|año|día|rocío|posição|"
    r"pressão|umidità|unità|batería|número|série|données|début|mínim|máxim|relativité|pièce|dépôt|käytt|"
    r"[a-z](?:ä|ö|ü|ß|é|è|à|ç|ñ|ó|í|á|ú|ã|õ|ô|ê|â|ò|ù|ì)|(?:ä|ö|ü|é|è|à|ç|á|ú|ô|ê|â)(?=[a-z])",
    re.IGNORECASE,
)
_CJK_DATE = re.compile("\\d[年月日時时分秒](?=[\\d\\s,;]|$)", re.MULTILINE)
_GLUED = re.compile("[a-z]{2}[\u3400-\u9fff\uac00-\ud7a3]|[\u3400-\u9fff\uac00-\ud7a3][a-z]{2}")
_FOREIGN_RUN = re.compile("(?![ªº²³µ])[^\\W\\d_a-zA-Z]{2,}")  # no word of a Western language has so many in a row


def _score(text: str, codec: str) -> float:
    text = "\n".join(dict.fromkeys(re.sub(r"\d+", "0", text).split("\n")))
    lower = text.lower()
    degrees = len(re.findall(r"[°º]\s?[cfk]\b|℃|℉", lower))
    bare = plain(text)
    known = sum(bare.count(word) for word in _words(codec))
    kana = len(re.findall("[\u3040-\u30ff]{2,}", text))
    accents = len(_ACCENTED.findall(text)) if codec not in CJK else 0
    odd = len(re.findall(r"[\x80-\x9f\ufffd\u2500-\u259f\ue000-\uf8ff\uff61-\uff9f]|[¤¦¨¬¯¸×÷†‡‰‹›ˆ˜∂∆∑∏√∞≈≠]", text))
    if codec in CJK:
        glued = len(_GLUED.findall(text))  # one sign within a word of small Latin letters
        return 3 * degrees + 2 * known + kana + 2 * len(_CJK_DATE.findall(text)) - odd - 2 * glued
    if codec in SCRIPTS:
        return 3 * degrees + 2 * known - odd - 2 * len(_MIXED.findall(text))
    return (
        3 * degrees
        + 2 * known
        + 0.5 * accents
        - odd
        - 2 * sum(len(run) > 1 + (codec == "cp1250") for run in _FOREIGN_RUN.findall(text))
    )


@lru_cache(maxsize=32)
def _words(codec: str) -> tuple[str, ...]:
    """Header words in Latin letters, where the marks on their letters are decoded right, and those of the languages
    that are written in an encoding."""
    by = {tongue: {word.strip("*").replace("_", " ") for row in rows.values() for word in row.split()}
          for tongue, rows in HEADERS.items()}  # fmt: skip
    latin = {word for some in by.values() for word in some if word.isascii() and len(word) > 4}
    own = {word for tongue in TONGUES.get(codec, ()) for word in by[tongue] if len(word) > (codec not in CJK)}
    return (*latin, *(word for word in own if not word.isascii()))
