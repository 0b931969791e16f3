"""What is kept on disk: original files, readings, the register; and a painting's exposure assembled from them."""

from envwatch.archive.climates.trace import Provenance
from envwatch.archive.intake.anew import RereadReport
from envwatch.archive.intake.outcomes import AddReport, FileOutcome, PartReport, TrayItem, UndoReport
from envwatch.archive.intake.status import LoggerSeen
from envwatch.archive.intake.summary import Arrivals
from envwatch.archive.reviews import Task
from envwatch.archive.studio import Studio
from envwatch.archive.upkeep.backup import BackupReport
from envwatch.archive.upkeep.bundle import OriginalFile, as_csv
from envwatch.archive.upkeep.check import CheckReport
from envwatch.core.painting import role_of

__all__ = [
    "AddReport",
    "Arrivals",
    "BackupReport",
    "CheckReport",
    "FileOutcome",
    "LoggerSeen",
    "OriginalFile",
    "PartReport",
    "RereadReport",
    "Studio",
    "Task",
    "Provenance",
    "TrayItem",
    "UndoReport",
    "as_csv",
    "role_of",
]
