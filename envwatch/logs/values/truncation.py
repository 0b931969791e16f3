"""The last row of a file that ends without a line end: whole, or cut in the middle of a number or a time."""

from __future__ import annotations

import re

import numpy as np

from envwatch.logs.tables.body import Body
from envwatch.logs.text.cells import OK, looks_numeric, number, tidy
from envwatch.logs.values.rows import BAD_TIME, CUT, NO_TIME, RowReport, cells_of

ROWS_BEFORE, LEAST_ROWS, SELDOM = 400, 3, 0.02  # rows compared; fewest that tell anything; share that is an exception
SHRUNK, FAR = 3, 3  # a number that lost a digit is this much smaller; a jump is this many of the largest steps
Evidence = str | None
MAYBE = "maybe"


def judge(fates: RowReport, body: Body, values: list[int], times: tuple[int, ...], same) -> None:
    """Set the last row aside where it was cut, or say that it may be.

    Parameters
    ----------
    values, times : the columns that hold readings and the time.
    same : columns that name the quantity or the probe of a row; a row is compared with its like alone.
    """
    last = len(body.line) - 1
    if last < LEAST_ROWS or not fates.data[last]:
        return
    if fates.code[last]:
        if fates.reasons[fates.code[last]] in (BAD_TIME, NO_TIME):
            fates.code[last] = 0
            fates.set_aside(last, CUT)
            fates.notes.append(f"The file breaks off in line {int(body.line[last])}; that row was set aside.")
        return
    cells, fields = cells_of(body, last), int(body.n_fields[last])
    tail = next((i for i in range(len(cells) - 1, -1, -1) if cells[i]), 0)
    short = fields < np.median(body.n_fields[-50:])
    closed = tail < fields - 1  # a delimiter stands behind it
    found = None if closed else _compared(body, tail, last, same, tail in times)
    where = f"line {int(body.line[last])} ({' '.join(c for c in cells if c)[-40:]!r})"
    if tail > max((*values, *times), default=0):
        if short or found not in (None, MAYBE):
            fates.notes.append(f"The file breaks off in {where}, after that row's readings, which were read.")
    elif short or found not in (None, MAYBE):
        fates.set_aside(last, CUT)
        why = "fewer fields than the other rows" if short else found
        fates.notes.append(f"The file breaks off in {where}: {why}. That row was set aside.")
    elif found == MAYBE:
        fates.notes.append(
            f"The file has no line end after {where}, whose last number is shorter than most; it was read as it stands."
        )


def _compared(body: Body, at: int, last: int, same, is_time: bool) -> Evidence:
    begin = max(0, last - ROWS_BEFORE)
    texts = [tidy(text or "") for text in body.columns[at].slice(begin).to_pylist()]
    keys = list(zip(*(body.columns[i].slice(begin).to_pylist() for i in same), strict=True)) or [()] * len(texts)
    before = [text for text, key in zip(texts[:-1], keys[:-1], strict=True) if key == keys[-1] and text]
    here = texts[-1]
    if not is_time:
        before = [text for text in before if looks_numeric(text)]
    if len(before) < LEAST_ROWS or not here or not (is_time or looks_numeric(here)):
        return None
    return _cut_time(here, before) if is_time else _cut_number(here, before)


def _cut_time(here: str, before: list[str]) -> Evidence:
    """Shorter than all others of one length, or ending in one figure where all others end in two."""
    shapes = {re.sub(r"\d+", "0", text) for text in before}
    shape = re.sub(r"\d+", "0", here)
    one_length = len({len(text) for text in before}) == 1 and len(here) < len(before[0])
    figures = all(re.search(r"\d\d$", text) for text in before) and not re.search(r"\d\d$", here)
    begun = shape not in shapes and any(s.startswith(shape) for s in shapes)
    return "its time is shorter than all others" if one_length or figures or begun else None


def _cut_number(here: str, before: list[str]) -> Evidence:
    mark = "," if sum("," in text for text in before) > sum("." in text for text in before) else "."
    if here[-1].isdigit() and not any(text[-1].isdigit() for text in before):
        return "its last number has lost what stands behind the figures of all others"
    if here[-1] in ".," and sum(text[-1] in ".," for text in before) < SELDOM * len(before):
        return "its last number ends in a decimal mark"
    places = np.array([_places(text) for text in before])
    as_few = float((places <= _places(here)).mean())
    if as_few < SELDOM:
        return "its last number has fewer decimal places than the others"
    shrunk = _shrunk(here, before, mark) if _places(here) == 0 else None
    return shrunk or (MAYBE if as_few < 0.5 else None)


def _shrunk(here: str, before: list[str], mark: str) -> Evidence:
    """A fall that a lost figure explains, "5" behind 51, 50 and 49; not 9 behind 12, 11 and 10."""
    read = (number(text, mark) for text in (here, *before))
    value, *usual = (value if code == OK else np.nan for value, code, _ in read)
    usual = np.array(usual)[np.isfinite(usual)]
    if not np.isfinite(value) or len(usual) < LEAST_ROWS or abs(value) * SHRUNK >= abs(usual[-1]):
        return None
    jump, step = abs(value - usual[-1]), max(float(np.abs(np.diff(usual)).max(initial=0)), 1.0)
    if jump <= FAR * step:
        return None
    figures = [len(re.sub(r"\D.*", "", text.lstrip("+-"))) for text in (*before, here)]
    if min(figures[:-1]) > figures[-1]:
        return "its last number has fewer figures than all others and falls far from them"
    spans = [(abs(value) * 10**k, (abs(value) + 1) * 10**k) for k in (1, 2, 3)]
    nearest = min(max(low - abs(usual[-1]), abs(usual[-1]) - high, 0.0) for low, high in spans)
    return "its last number falls far from the others, as if it had lost a figure" if 4 * nearest <= jump else None


def _places(cell: str) -> int:
    found = re.search(r"[.,](\d*)", cell)
    return len(found[1]) if found else 0
