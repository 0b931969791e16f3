"""What a file that waits in the tray leaves open: paintings in whose air it may have been read are not called clear."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import pandas as pd

from envwatch.archive import Studio
from envwatch.archive.climates.deployments import FOREVER, hung_in
from envwatch.archive.climates.place import turns
from envwatch.archive.intake.preview import WaitingFor, waiting
from envwatch.climate.exposure import Exposure, Stint
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism, Verdict
from envwatch.core.painting import Stay
from envwatch.core.place import Placement
from envwatch.figures.review import LATE_REACH_DAYS

DAY, REACH = pd.Timedelta(days=1), pd.Timedelta(days=float(LATE_REACH_DAYS))
NOT_OF_AIR = {Hazard.LIGHT, Hazard.POSITION, Mechanism.COMPATIBILITY, Mechanism.BUILD_UP}


def held_open(studio: Studio, judged: Verdict, exposures: Sequence[Exposure]) -> Verdict:
    """The verdict with nothing of its air called clear while a file waits that may hold that air."""
    said = file_waits(studio, stints_of(exposures), judged.start, judged.end)
    if not said:
        return judged
    return replace(judged, findings=tuple(_open(finding, said) for finding in judged.findings))


def stints_of(exposures: Sequence[Exposure]) -> list[Stint]:
    """Where a painting stood, by each of its exposures."""
    return [stint for exposure in exposures for stint in exposure.stints]


def file_waits(studio: Studio, stood: Iterable[Stint | Stay], start: pd.Timestamp, end: pd.Timestamp) -> str:
    """Which files wait that may hold the air of [start, end), or of what it is judged by; empty where none does."""
    files = {one.number: one for stint in stood for one in _files(studio, stint, start - REACH, end)}
    told = " and ".join(f"{one.name} (no. {number})" for number, one in sorted(files.items()))
    return (
        f"a file waits in the tray that may hold this air: {told}. Answer its question: envwatch tray" if told else ""
    )


def _open(finding: Finding, said: str) -> Finding:
    if finding.level is not Level.CLEAR or {finding.hazard, finding.mechanism} & NOT_OF_AIR:
        return finding
    return replace(finding, level=Level.UNKNOWN, sentence=said, certainty=Certainty.CANNOT_TELL)


def _files(studio: Studio, stint: Stint | Stay, since: pd.Timestamp, until: pd.Timestamp) -> Iterator[WaitingFor]:
    """Files that may be of a logger that read there, or in a room that stood in for it, while it did so."""
    if not (waits := waiting(studio)) or not stint.place_id:
        return
    rooms: list[tuple[str, Placement | None, pd.Timestamp, pd.Timestamp | None]]
    rooms = [(stint.place_id, stint.position, stint.start, stint.end)]
    rooms += [(one.neighbour, None, max(one.start, stint.start), min(one.end or FOREVER, stint.end or FOREVER))
              for one in studio.register().stand_ins.get(stint.place_id, ())]  # fmt: skip
    for place_id, position, start, end in rooms:
        start, end = max(start, since), min(end or FOREVER, until)
        for a, b, here in turns(hung_in(studio, place_id), position, start, end) if start < end else ():
            for id in dict.fromkeys(hung.logger.id for hung in here):
                yield from (one for one in waits.get(id, ()) if _touches(studio, id, one, a, b))


def _touches(studio: Studio, id: str, one: WaitingFor, start: pd.Timestamp, end: pd.Timestamp) -> bool:
    """Whether a file's readings fall into a span; of one without dates: whether the logger is not read to its end."""
    if one.spans:
        return any(first < end and last >= start for first, last in one.spans)
    parts = studio.state().parts.get(id, ())
    return max((part.last_us for part in parts), default=0) < (end - DAY).value // 1000
