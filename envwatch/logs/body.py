"""The rows below the header as columns of text, each with its line number."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from envwatch.logs import lines as text_lines
from envwatch.logs.table import Start


class Body(NamedTuple):
    """All lines from the first reading on, blank and odd ones too.

    columns : text. count : (n,) fields the line had. line : (n,) 1-based.
    """

    columns: list[pa.ChunkedArray]
    count: np.ndarray
    line: np.ndarray


def of_lines(all_lines: list[str], start: Start, name: str) -> Body:
    """The general way: any delimiter, quotes, ragged rows."""
    rows = all_lines[start.first :]
    columns, count = text_lines.columns(rows, start.delimiter, name)
    line = np.arange(start.first + 1, start.first + 1 + len(rows), dtype=np.int32)
    return paired(Body(columns, count, line), start)


def paired(body: Body, start: Start) -> Body:
    """Numbers that an unquoted decimal comma split in two, put together again."""
    if start.paired is None:
        return body
    columns = list(body.columns[: start.paired])
    for at in range(start.paired, start.width - 1, 2):
        whole, part = (body.columns[i].combine_chunks() for i in (at, at + 1))
        joined = pc.binary_join_element_wise(pc.utf8_trim_whitespace(whole), pc.utf8_trim_whitespace(part), ",")
        columns.append(pa.chunked_array([pc.if_else(pc.equal(part, ""), whole, joined)]))
    odd = body.count != start.width
    return Body(columns, np.where(odd & (body.count > 1), 1, body.count), body.line)
