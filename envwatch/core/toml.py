"""TOML as a person wrote it; one that is nested without end is refused like any other that cannot be read."""

from __future__ import annotations

import tomllib
from typing import Any


def loads(text: str) -> dict[str, Any]:
    """The tables of a text. tomllib.TOMLDecodeError, which is a ValueError: it is not TOML, or nested too deeply.

    >>> loads("a = " + 9999 * "[" + 9999 * "]")
    Traceback (most recent call last):
    tomllib.TOMLDecodeError: brackets nested too deeply
    """
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise tomllib.TOMLDecodeError("brackets nested too deeply") from None
