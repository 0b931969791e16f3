"""What is kept on disk: original files, readings, the register; and a painting's exposure assembled from them."""

from envwatch.archive.backing import BackupReport
from envwatch.archive.bundling import OriginalFile, as_csv
from envwatch.archive.checking import CheckReport
from envwatch.archive.layering import role_of
from envwatch.archive.outcomes import AddReport, FileOutcome, TrayItem, UndoReport
from envwatch.archive.reviews import Task
from envwatch.archive.seen import LoggerSeen
from envwatch.archive.studio import Studio
from envwatch.archive.telling import Arrivals
from envwatch.archive.tracing import Trace

__all__ = [
    "AddReport",
    "Arrivals",
    "BackupReport",
    "CheckReport",
    "FileOutcome",
    "LoggerSeen",
    "OriginalFile",
    "Studio",
    "Task",
    "Trace",
    "TrayItem",
    "UndoReport",
    "as_csv",
    "role_of",
]
