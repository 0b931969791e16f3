"""What a file that waits in the tray leaves open: paintings in whose air it may have been read are not called clear."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import pandas as pd

from envwatch.archive import Studio
from envwatch.archive.climates.deployments import hung_in
from envwatch.archive.climates.place import speaking
from envwatch.archive.intake.preview import WaitingFor, waiting
from envwatch.climate.exposure import Exposure, Stint
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism, Verdict
from envwatch.figures.review import LATE_REACH_DAYS

DAY, REACH = pd.Timedelta(days=1), pd.Timedelta(days=float(LATE_REACH_DAYS))
NOT_OF_AIR = {Hazard.LIGHT, Hazard.POSITION, Mechanism.COMPATIBILITY, Mechanism.BUILD_UP}


def held_open(studio: Studio, judged: Verdict, exposures: Sequence[Exposure]) -> Verdict:
    """The verdict with nothing of its air called clear while a file waits that may hold that air."""
    said = file_waits(studio, exposures, judged.start, judged.end)
    if not said:
        return judged
    return replace(judged, findings=tuple(_open(finding, said) for finding in judged.findings))


def file_waits(studio: Studio, exposures: Sequence[Exposure], start: pd.Timestamp, end: pd.Timestamp) -> str:
    """Which files wait that may hold the air of [start, end), or of what it is judged by; empty where none does."""
    files = {one.number: one for exposure in exposures for one in _files(studio, exposure.stints, start - REACH, end)}
    told = " and ".join(f"{one.name} (no. {number})" for number, one in sorted(files.items()))
    return (
        f"a file waits in the tray that may hold this air: {told}. Answer its question: envwatch tray" if told else ""
    )


def _open(finding: Finding, said: str) -> Finding:
    if finding.level is not Level.CLEAR or {finding.hazard, finding.mechanism} & NOT_OF_AIR:
        return finding
    return replace(finding, level=Level.UNKNOWN, sentence=said, certainty=Certainty.CANNOT_TELL)


def _files(studio: Studio, stints: Sequence[Stint], since: pd.Timestamp, until: pd.Timestamp) -> Iterator[WaitingFor]:
    """Files that may be of a logger by which a stint is read in a span."""
    waits = waiting(studio)
    for stint in stints if waits else ():
        start, end = max(stint.start, since), min(stint.end, until)
        here = speaking(hung_in(studio, stint.place_id), stint.position, start, end) if start < end else ()
        for id in dict.fromkeys(hung.logger.id for hung in here):
            yield from (one for one in waits.get(id, ()) if _touches(studio, id, one, start, end))


def _touches(studio: Studio, id: str, one: WaitingFor, start: pd.Timestamp, end: pd.Timestamp) -> bool:
    """Whether a file's readings fall into a span; of one without dates: whether the logger is not read to its end."""
    if one.spans:
        return any(first < end and last >= start for first, last in one.spans)
    parts = studio.state().parts.get(id, ())
    return max((part.last_us for part in parts), default=0) < (end - DAY).value // 1000
