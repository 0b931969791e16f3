"""Stamps of one fixed shape, millions of them, taken apart by their digits without looking at each text."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

MOST_DIGITS = 8
ZERO = ord("0")


def split(
    column: pa.ChunkedArray, cut: int, example: str
) -> tuple[list[str], np.ndarray, list[str], np.ndarray] | None:
    """Distinct dates and times of stamps that all look like the example, and per row which.

    Parameters
    ----------
    column : (n,) ASCII texts of one length. cut : where date and time part.

    Returns
    -------
    Dates, (n,) which; times, (n,) which. None where any stamp has something else at a digit's or a mark's
    place, or where a half has more than eight digits.
    """
    if not example.isascii():
        return None
    halves = []
    for lo, hi in ((0, cut), (cut + 1, len(example))):
        places = [i for i in range(lo, hi) if example[i].isdigit()]
        if not 0 < len(places) <= MOST_DIGITS:
            return None
        halves.append((places, lo, hi))
    marks = [i for i in range(len(example)) if not example[i].isdigit()]
    codes: list[list[np.ndarray]] = [[], []]
    for chunk in column.chunks:
        letters = _matrix(chunk, len(example))
        if letters is None or any((letters[:, i] != ord(example[i])).any() for i in marks):
            return None
        for half, (places, _, _) in enumerate(halves):
            code = _code(letters, places)
            if code is None:
                return None
            codes[half].append(code)
    out: list = []
    for (places, lo, hi), parts in zip(halves, codes, strict=True):
        distinct, index = _distinct(np.concatenate(parts), 10 ** len(places))
        out += [[_text(value, example, places, lo, hi) for value in distinct.tolist()], index]
    return tuple(out)  # type: ignore[return-value]


def _matrix(chunk: pa.Array, width: int) -> np.ndarray | None:
    """The letters of a chunk as (n, width) bytes, without a copy."""
    if chunk.null_count or chunk.type != pa.string():
        return None
    offsets = np.frombuffer(chunk.buffers()[1], np.int32)[chunk.offset : chunk.offset + len(chunk) + 1]
    data = np.frombuffer(chunk.buffers()[2], np.uint8)[offsets[0] : offsets[-1]]
    return data.reshape(len(chunk), width) if len(data) == len(chunk) * width else None


def _code(letters: np.ndarray, places: list[int]) -> np.ndarray | None:
    code = np.zeros(len(letters), np.int32)
    for place in places:
        digit = letters[:, place] - np.uint8(ZERO)
        if (digit > 9).any():
            return None
        code *= 10
        code += digit
    return code


def _distinct(code: np.ndarray, size: int) -> tuple[np.ndarray, np.ndarray]:
    """Distinct codes in rising order, and per row which: by runs, by a table, or by sorting."""
    changes = code[1:] != code[:-1]
    if np.count_nonzero(changes) < len(code) // 20:
        starts = np.concatenate([[0], np.flatnonzero(changes) + 1])
        distinct, of_run = np.unique(code[starts], return_inverse=True)
        return distinct, np.repeat(of_run.astype(np.int32), np.diff(starts, append=len(code)))
    if size > 1_000_000:
        distinct, index = np.unique(code, return_inverse=True)
        return distinct, index.astype(np.int32)
    seen = np.zeros(size, bool)
    seen[code] = True
    distinct = np.flatnonzero(seen)
    place = np.zeros(size, np.int32)
    place[distinct] = np.arange(len(distinct), dtype=np.int32)
    return distinct, place[code]


def _text(value: int, example: str, places: list[int], lo: int, hi: int) -> str:
    letters = list(example[lo:hi])
    for place, figure in zip(places, str(value).zfill(len(places)), strict=True):
        letters[place - lo] = figure
    return "".join(letters)
