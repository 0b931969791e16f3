"""From a file's bytes to the lines of its tables: a workbook's sheets, a text, or a big text that stays bytes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from envwatch.logs.text import encoding as rawbytes
from envwatch.logs.text import lines

PADDED = "{} NUL bytes at the end of the file were left out."
HEAD_BYTES, QUICK_FROM = 1_000_000, 1_500_000


@dataclass
class TextTable:
    """One table's worth of lines; a spreadsheet's cells are parted by `lines.SHEET`.

    `data` holds a big file's text as UTF-8 instead of lines; `again` gives it once more after it was let go.
    `count` : from which year a workbook's day numbers count, by its own flag. `hidden` : a sheet nobody sees there.
    """

    title: str
    text: list[str]
    ends_clean: bool
    data: bytes | None = None
    again: Callable[[], bytes] = bytes
    count: str | None = None
    hidden: bool = False

    @property
    def rows(self) -> int:
        """Lines that hold anything."""
        return sum(bool(line.strip(lines.SHEET + " ")) for line in self.text)


def of_file(raw: rawbytes.Raw, encoding: str | None) -> tuple[list[TextTable], str, list[str]]:
    """The tables of a file, the encoding it is in, and notes. encoding : the one that was answered."""
    if raw.data.startswith(b"PK"):
        from envwatch.logs.text import workbook

        found, from_1904 = workbook.sheets(raw)
        count = "1904" if from_1904 else "1900"
        return [TextTable(s.title, s.lines, True, count=count, hidden=s.hidden) for s in found], "xlsx", []
    rawbytes.refuse_other_kinds(raw)
    rawbytes.check_lines(raw.name, raw.data)
    data, found, notes = rawbytes.decode(raw, encoding)
    if len(data) > QUICK_FROM:
        data = _regular(data, notes)
        return [TextTable("", [], data.endswith(b"\n"), data)], found, notes
    return [of_text(data, notes)], found, notes


def _regular(data: bytes, notes: list[str]) -> bytes:
    """A big file with LF alone at the ends of lines, no padding at its end and no marks in its middle."""
    if data[-1:] in (b"\x00", b"\x1a"):
        whole, data = data, data.rstrip(b"\x00\x1a")
        notes += [PADDED.format(len(whole) - len(data))] if b"\x00" in whole[len(data) :] else []
    # a return further down makes rows that do not come out one a line, and those are read the general way
    returns = data.count(b"\r") if b"\r" in data[:HEAD_BYTES] else 0
    if returns and returns != data.count(b"\r\n"):
        data = data.replace(b"\r\r\n", b"\n").replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    return data.replace(b"\xef\xbb\xbf", b"") if b"\xef" in data and b"\xef\xbb\xbf" in data else data


def of_text(data: bytes, notes: list[str]) -> TextTable:
    """One table's lines out of its text in UTF-8; what was left out goes into the notes."""
    text = data.decode("utf-8", "replace").replace("\ufeff", "")
    padded = text.rstrip("\x00\x1a")
    if "\x00" in text[len(padded) :]:
        notes.append(PADDED.format(len(text) - len(padded)))
    return TextTable("", unwrapped(lines.close_quotes(lines.split_lines(padded), 60)), padded.endswith(("\n", "\r")))


def unwrapped(found: list[str]) -> list[str]:
    """Lines that are quoted as a whole lose those quotes."""
    some = [line for line in found[:200] if line.strip()]
    whole = [line for line in some if _quoted_whole(line) and any(d in line for d in ",;\t")]
    if len(whole) < 0.8 * len(some) or not whole:
        return found
    return [line[1:-1] if _quoted_whole(line) else line for line in found]


def _quoted_whole(line: str) -> bool:
    return len(line) > 12 and line.startswith('"') and line.endswith('"') and line.count('"') == 2
