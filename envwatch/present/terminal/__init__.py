"""Results -> plain text for a terminal of a given width. No arithmetic beyond formatting.

Levels are told by word first and by shape second; there is no colour to miss.
"""

from envwatch.present.terminal.brief import brief
from envwatch.present.terminal.files import (
    added,
    backed_up,
    chain,
    checked,
    dossier,
    marked,
    parted,
    read,
    reread,
    tray,
    undone,
)
from envwatch.present.terminal.week import review

__all__ = [
    "added",
    "backed_up",
    "brief",
    "chain",
    "checked",
    "dossier",
    "marked",
    "parted",
    "read",
    "reread",
    "review",
    "tray",
    "undone",
]
