"""Which adhesive for where it goes: each candidate in the painting's own build-up, judged by the one path.

There is no score and no order of merit: candidates stand in the order of the materials file, each with what it would
have met. What the painting meets whatever it is lined with stands apart, for no lining changes it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import pandas as pd

from envwatch.archive import Studio
from envwatch.cases import judging
from envwatch.cases.lining.destination import Destination, part
from envwatch.core.errors import BadInput
from envwatch.core.findings import Finding, Hazard, Level, Mechanism, Verdict
from envwatch.core.painting import Layer, Painting, Role, Work
from envwatch.figures.materials import Materials, Profile, profiles

TAKEN_OFF = (Role.FILM, Role.LINING_CANVAS, Role.INTERLEAF)
ASSUMED_CLOTH = "linen"


@dataclass(frozen=True)
class Month:
    """The first weeks of a lining that arrives on a day: the worst that its own layer would have met."""

    arrives: pd.Timestamp
    level: Level
    worst: Finding | None  # None where nothing was found against it


@dataclass(frozen=True, eq=False)
class Candidate:
    """One adhesive, judged.

    Attributes
    ----------
    settled : the whole painting over the whole year, all its layers long since settled.
    first_weeks : the whole painting, lined on the day of arrival, over the adhesive's first weeks.
    own : the lining's own layer over the year, mechanism by mechanism, settled.
    months : its own layer's first weeks, by month of arrival.
    gives_way : the finding that leads for the whole painting, settled; None where nothing was found against it.
    pairs : what its materials are to each other, whatever the climate.
    """

    id: str
    profile: Profile
    settled: Verdict
    first_weeks: Verdict
    first_weeks_end: pd.Timestamp
    own: tuple[Finding, ...]
    months: tuple[Month, ...]
    pairs: tuple[str, ...]

    @property
    def gives_way(self) -> Finding | None:
        found = of_layers(self.settled)
        return max(found, key=_rank, default=None)

    @property
    def own_level(self) -> Level:
        """The worst that its own layer would have met, settled."""
        return max((finding.level for finding in self.own), default=Level.UNKNOWN)


@dataclass(frozen=True, eq=False)
class Comparison:
    """All candidates at one destination; `unlined`: the painting as it would be without any lining."""

    painting_id: str
    title: str
    destination: Destination
    arrives: pd.Timestamp
    made_at: pd.Timestamp
    studio: str
    candidates: tuple[Candidate, ...]
    unlined: Verdict
    notes: tuple[str, ...]
    adoption: str = ""  # what the studio says of envwatch's working limits

    @property
    def unchanged(self) -> tuple[Finding, ...]:
        """What no lining changes: raised without any lining, and under each candidate at no lower level."""
        return tuple(f for f in self.unlined.raised if all(_still(f, c.settled) for c in self.candidates))


def _still(finding: Finding, under: Verdict) -> bool:
    same = [f for f in under.findings if (f.hazard, f.mechanism) == (finding.hazard, finding.mechanism)]
    return any(f.level >= finding.level for f in same)


def of_layers(judged: Verdict) -> tuple[Finding, ...]:
    """What is raised of layers that something holds: the lining hazard's findings."""
    return tuple(finding for finding in judged.raised if finding.hazard == Hazard.LINING)


def _rank(finding: Finding) -> tuple[int, int]:
    """The worse first; of equal ones, what begins first in the year."""
    return int(finding.level), -(finding.since.value if finding.since is not None else 2**62)


def candidates(ids: Sequence[str] = (), materials: Materials | None = None) -> dict[str, Profile]:
    """The adhesives that line, in the order of the materials file (by default the packaged one); or those named.

    Raises
    ------
    BadInput : one that is no adhesive for a lining.
    """
    known = {name: p for name, p in profiles(materials).items() if p.adhesive and Role.FILM in p.roles}
    strange = next((name for name in ids if name not in known), None)
    if strange is not None:
        what = f"no lining adhesive of the materials file. There are {', '.join(known)}"
        raise BadInput(what, field="adhesive", seen=strange)
    return {name: p for name, p in known.items() if not ids or name in ids}


def lined_with(painting: Painting, material: str, on: pd.Timestamp | None) -> Painting:
    """The painting lined with a material on a day (None: long since), in place of the lining it has.

    Its other layers stay; those that are later than the day count as put on then. Without a day all are settled.
    """
    bare = unlined(painting)
    cloth = next((layer.material for layer in painting.layers if layer.role == Role.LINING_CANVAS), "")
    new = (
        Layer(Role.FILM, material, applied_on=on),
        Layer(Role.LINING_CANVAS, cloth or ASSUMED_CLOTH, applied_on=on, assumed=not cloth),
    )
    return _dated(replace(bare, layers=_put_in(bare.layers, new)), on)


def unlined(painting: Painting, settled: bool = False) -> Painting:
    """The painting without film, lining canvas and interleaf; an old lining stays, it is said to be there still."""
    layers = tuple(layer for layer in painting.layers if layer.role not in TAKEN_OFF)
    treatments = tuple(t for t in painting.treatments if t.kind != Work.LINING)
    bare = replace(painting, layers=layers, treatments=treatments)
    return _dated(bare, None) if settled else bare


def _put_in(layers: Sequence[Layer], new: Sequence[Layer]) -> tuple[Layer, ...]:
    """New layers before what stands behind them: stretcher and board."""
    front = [layer for layer in layers if layer.role not in (Role.STRETCHER, Role.BOARD)]
    return (*front, *new, *(layer for layer in layers if layer not in front))


def _dated(painting: Painting, on: pd.Timestamp | None) -> Painting:
    if on is not None:
        return painting.as_treated(on)
    return replace(painting, layers=tuple(replace(layer, applied_on=None) for layer in painting.layers))


def _alone(painting: Painting, materials: Materials) -> Painting:
    """The painting with its lining as the only layer that holds: what the lining itself would have met."""
    kept = (layer for layer in painting.layers if layer.role == Role.FILM or not _holds(layer, materials))
    return replace(painting, layers=tuple(kept))


def _holds(layer: Layer, materials: Materials) -> bool:
    known = materials.get(layer.material)
    return known is None or known.adhesive or known.kind == "unknown"


def compare(
    studio: Studio, painting: Painting, destination: Destination, arrives: pd.Timestamp, now: pd.Timestamp,
    ids: Sequence[str] = (), progress: Callable[[int, int, str], None] | None = None,
) -> Comparison:  # fmt: skip
    """Each candidate for a painting at a destination.

    Parameters
    ----------
    ids : candidates by key; none: all that line, the studio's own included.

    Returns
    -------
    `Comparison`. What the year does not cover is not known under each candidate, never clear.
    """
    materials = studio.materials()
    chosen = candidates(ids, materials)
    judged = []
    for done, (name, profile) in enumerate(chosen.items()):
        if progress:
            progress(done, len(chosen), profile.short)
        judged.append(_candidate(studio, painting, destination, name))
    bare = unlined(painting, settled=True)
    return Comparison(
        painting.id,
        painting.title,
        destination,
        arrives,
        now,
        studio.name,
        tuple(judged),
        judging.judged(studio, bare, destination.exposures, destination.start),
        _notes(painting),
        adoption=studio.adoption,
    )


def _candidate(studio: Studio, painting: Painting, destination: Destination, name: str) -> Candidate:
    start, ways, materials = destination.start, destination.exposures, studio.materials()
    profile = materials[name]
    ends = min(start + pd.Timedelta(days=float(profile.first_weeks.days)), destination.end)
    settled = judging.judged(studio, lined_with(painting, name, None), ways, start)
    fresh = lined_with(painting, name, start)
    first = judging.judged(studio, fresh, [part(way, start, ends) for way in ways], start)
    own = judging.judged(studio, _alone(lined_with(painting, name, None), materials), ways, start)
    pairs = tuple(f.sentence for f in settled.findings if f.hazard == Hazard.LINING and f.mechanism not in MECHANISMS)
    months = tuple(_months(studio, painting, destination, name))
    return Candidate(name, profile, settled, first, ends, _of_film(own), months, pairs)


MECHANISMS = (
    Mechanism.HEAT, Mechanism.HEAT_MONTH, Mechanism.DAMP, Mechanism.DRY, Mechanism.COLD, Mechanism.SWING,
    Mechanism.BUILD_UP,
)  # fmt: skip


def _of_film(judged: Verdict) -> tuple[Finding, ...]:
    order: dict[str, int] = {name: n for n, name in enumerate(MECHANISMS)}
    found = [f for f in judged.findings if f.hazard == Hazard.LINING and f.mechanism in MECHANISMS]
    return tuple(sorted(found, key=lambda f: order[f.mechanism]))


def _months(studio: Studio, painting: Painting, destination: Destination, name: str) -> Iterable[Month]:
    """Arrivals a month apart, so far as the first weeks still lie within the year."""
    materials = studio.materials()
    first_weeks = pd.Timedelta(days=float(materials[name].first_weeks.days))
    for n in range(12):
        start = destination.start + pd.DateOffset(months=n)
        end = min(start + first_weeks, destination.end)
        fresh = _alone(lined_with(painting, name, start), materials)
        ways = [part(way, start, end) for way in destination.exposures]
        found = _of_film(judging.judged(studio, fresh, ways, start))
        found = tuple(f for f in found if f.mechanism != "heat, 30 days")
        worst = max(found, key=_rank, default=None)
        level = Level.UNKNOWN if worst is None else worst.level
        if end < start + first_weeks and level is Level.CLEAR:
            level = Level.UNKNOWN
        yield Month(start, level, worst if worst is not None and level > Level.CLEAR else None)


def by_word(months: Sequence[Month], zone: str) -> Mapping[str, list[str]]:
    """Months of arrival under the word for their level, worst first."""
    words: dict[str, list[str]] = {}
    for month in sorted(months, key=lambda m: (-m.level, m.arrives)):
        words.setdefault(month.level.word, []).append(f"{month.arrives.tz_convert(zone):%b}")
    return words


def _notes(painting: Painting) -> tuple[str, ...]:
    said = ["The year stands alone: what the painting brings with it from before is not counted."]
    if not any(layer.role == Role.LINING_CANVAS for layer in painting.layers):
        said.append("No lining canvas is on record: linen is taken.")
    old = [layer for layer in painting.layers if layer.role == Role.OLD_LINING]
    if old:
        said.append("The old lining is counted as still there; take its layer out of the record if it comes off.")
    impregnated = [layer.material for layer in painting.layers if layer.role == Role.IMPREGNATION]
    if impregnated:
        said.append(f"The impregnation ({', '.join(impregnated)}) stays under each candidate.")
    if not any(layer.role == Role.SIZE for layer in painting.layers):
        said.append("No size is recorded; a glue size would set the damp and the dry limit, and is not counted here.")
    return tuple(said)


__all__ = ["Candidate", "Comparison", "Month", "by_word", "candidates", "compare", "lined_with", "unlined"]
