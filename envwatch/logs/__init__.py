"""One logger file of any layout to readings and notes, or one plain question."""

from envwatch.logs.export import to_csv
from envwatch.logs.model import Answers, Channel, Counts, Layout, LogFile
from envwatch.logs.reading import read

__all__ = ["Answers", "Channel", "Counts", "Layout", "LogFile", "read", "to_csv"]
