"""Where in a house a painting may hang: the positions judged, put in order, and answered in plain words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.archive import Studio
from envwatch.archive.climates.exposure import record_begin
from envwatch.cases.hanging import behind_picture, judging
from envwatch.cases.hanging.judging import GOOD, GOOD_IF, MEASURE, NEVER, FindingRange, PositionAssessment
from envwatch.cases.hanging.microclimate import Logs, RoomLog, coming_year, replayed
from envwatch.cases.hanging.model import TIERS, HangingReport, PositionResult
from envwatch.cases.hanging.questions import sun_told, unanswered, unknowns
from envwatch.cases.hanging.ranking import answer, chosen, decides, in_order
from envwatch.cases.hanging.remedies import Cure, covers, cures
from envwatch.cases.hanging.scenario import design_outdoors
from envwatch.cases.hanging.spot import HangingPosition, House
from envwatch.climate.series import Climate
from envwatch.core.errors import NotThere
from envwatch.core.findings import Hazard, Level
from envwatch.core.painting import Layer, Painting, Role
from envwatch.core.period import midnight
from envwatch.core.text import number
from envwatch.figures.coverage import CLEAR_NEEDS
from envwatch.figures.materials import Materials, comfort

LINING = (Role.FILM, Role.OLD_LINING, Role.IMPREGNATION, Role.STRIP_LINING)
BY_HAND = ("stand-off", "board", "no board", "light")  # done once, when it is hung


def advise(
    studio: Studio, painting: Painting, spots: Sequence[HangingPosition], now: pd.Timestamp,
    hang_on: pd.Timestamp | None = None,
    progress: Callable[[int, int, str], None] | None = None,
) -> HangingReport:  # fmt: skip
    """Judge all positions for a painting as treated at the day of hanging, over the year from that day.

    Parameters
    ----------
    hang_on : UTC; by default the day that the file says, else `now`.

    Raises
    ------
    NotThere : a place, or a logger in it, that the register or the archive does not hold.
    """
    hang = _hang_on(studio, spots, now, hang_on)
    hung, notes = as_hung(painting, hang)
    history = history_of(studio, painting, hang)
    judged = []
    for done, spot in enumerate(spots):
        if progress:
            progress(done, len(spots), spot.name)
        judged.append(_judged(asked_of(studio, hung, spot, hang, history)))
    materials = studio.materials()
    ends, keep = judging.first_weeks_end(hung, hang, materials), comfort(hung, materials)
    ranked = in_order(judged)
    home = spots[0].house
    return HangingReport(
        painting.id, painting.title, painting.height_cm, painting.width_cm, painting.weight_kg, hung.lined_on,
        hung.lined_year_only, _linings(hung, materials), home.name, hang, _zone(studio, spots[0]), now,
        studio.name, ends, ranked, answer(ranked), decides(ranked), (*notes, *_unsafe_notes(painting, hang)), *keep,
        adoption=studio.adoption,
    )  # fmt: skip


def _hang_on(
    studio: Studio, spots: Sequence[HangingPosition], now: pd.Timestamp, asked: pd.Timestamp | None
) -> pd.Timestamp:
    said = spots[0].house.hang_on
    if asked is not None:
        return asked.floor("h")
    if said is not None:
        return midnight(said, studio.zone).floor("h")
    return now.floor("h")


def _zone(studio: Studio, spot: HangingPosition) -> str:
    place = studio.places().get(spot.house.place_id)
    return place.zone if place else studio.zone


def as_hung(painting: Painting, hang: pd.Timestamp) -> tuple[Painting, tuple[str, ...]]:
    """The painting as treated by the day of hanging; without any record of a lining, with an unknown one."""
    treated = painting.as_treated(hang)
    if any(layer.role in LINING for layer in painting.layers):
        return treated, ()
    unknown = Layer(Role.FILM, "unknown", assumed=True, note="no lining is recorded")
    note = (
        "No lining is recorded for this painting: it is judged as lined with glue paste and with wax-resin, and the "
        "worse counts. Enter its layers, or say with ⟦adhesive⟧ what holds it."
    )
    return replace(treated, layers=(*treated.layers, unknown)), (note,)


def _unsafe_notes(painting: Painting, hang: pd.Timestamp) -> list[str]:
    late = [layer for layer in painting.layers if layer.applied_on is not None and layer.applied_on > hang]
    return [f"{len(late)} layers are dated after the day of hanging and count as put on that day."] if late else []


def _linings(painting: Painting, materials: Materials) -> tuple[str, ...]:
    found = []
    for layer in painting.layers:
        if layer.role in LINING:
            known = materials.get(layer.material)
            found.append(known.short if known else "unknown adhesive")
    return tuple(dict.fromkeys(found))


def history_of(studio: Studio, painting: Painting, hang: pd.Timestamp) -> Climate | None:
    """The painting's own air up to the day of hanging, by the hour; None where nothing was read."""
    if not painting.stays:
        return None
    start = record_begin(studio, painting, hang)
    if start >= hang:
        return None
    read = studio.exposures(painting, start, hang)[-1].room
    hours = climate.hourly(read)
    known = np.isfinite(hours.temp_c) | np.isfinite(hours.rh_percent)
    if not known.any():
        return None
    return Climate.of(hours.time[known], hours.temp_c[known], hours.rh_percent[known], start=start, end=hang,
                      hours=np.ones(int(known.sum())), sensor=read.sensor)  # fmt: skip


# ------------------------------------------------------------------------------------------------- one position


def asked_of(
    studio: Studio, painting: Painting, spot: HangingPosition, hang: pd.Timestamp, history
) -> PositionAssessment:
    """What is known of one position: its logger's years and the air outdoors, set on the coming year."""
    time = coming_year(hang)
    places, house = studio.places(), spot.house
    if house.place_id and house.place_id not in places:
        raise NotThere(f"place {house.place_id!r}: not in the register. There are {', '.join(places)}")
    notes: list[str] = []
    outside = _outdoors(studio, house, time, notes)
    read = _room_log(studio, spot, time, notes)
    zone = places[house.place_id].zone if house.place_id else studio.zone
    outside_c, outside_rh = outside or (None, None)
    logs = Logs(time, zone, outside_c, outside_rh, history)
    if read is not None and read.coverage < CLEAR_NEEDS:
        spot = replace(spot, reckons=True)
        notes.append(_uncovered(read, time, spot))
    place = (house.place_id, places[house.place_id].name if house.place_id else house.name)
    spot = _with_painting(spot, painting, notes)
    return PositionAssessment(
        painting, replace(spot, notes=(*spot.notes, *notes)), logs, read, place, studio.materials()
    )


def _uncovered(read: RoomLog, time: pd.DatetimeIndex, spot: HangingPosition) -> str:
    winter = read.winter_coverage(time, (spot.house.latitude or 0) < 0)
    lacks = "does not cover a winter" if winter < CLEAR_NEEDS else "does not cover a year"
    return (
        f"the log {lacks}: it stands for {read.coverage:.0%} of the coming year and {winter:.0%} of its winter; the "
        "rest is reckoned from the description"
    )


def _outdoors(studio: Studio, house: House, time: pd.DatetimeIndex, notes: list[str]):
    place_id = house.outdoors_id
    if not place_id:
        cold, warm, spell = design_outdoors(house)
        notes.append(
            "outdoors: no logger is named, so a design climate stands for it: coldest month "
            f"{number(cold, 0)} °C, warmest {number(warm, 0)} °C, a cold spell of {number(spell, 0)} °C"
        )
        return None
    if place_id not in studio.places():
        raise NotThere(f"outdoors = {place_id!r}: not in the register. There are {', '.join(studio.places())}")
    temp, rh = replayed(studio.climate(place_id, time[0] - pd.Timedelta(days=1096), time[0]), time)
    share = float(np.isfinite(temp).mean())
    if not share:
        raise NotThere(f"outdoors = {place_id!r}: nothing was read there. Leave it out to use a design climate")
    tail = "" if share > 0.99 else f"; the other {1 - share:.0%} is a design climate"
    notes.append(f"outdoors: the logger of {studio.places()[place_id].name}, {share:.0%} of the year{tail}")
    return temp, rh


def _room_log(studio: Studio, spot: HangingPosition, time: pd.DatetimeIndex, notes: list[str]) -> RoomLog | None:
    if not spot.log:
        return None
    position = None if spot.log == "room" else spot.log
    read = studio.climate(spot.house.place_id, time[0] - pd.Timedelta(days=1096), time[0], position)
    if not np.isfinite(read.rh_percent).any():
        raise NotThere(
            f"log = {spot.log!r}: nothing was read there. Leave log out to have it reckoned", place=spot.name
        )
    notes += [note for note in read.notes if "calibr" not in note]
    temp, rh = replayed(read, time)
    return RoomLog(temp, rh, read.sensor)


def _with_painting(spot: HangingPosition, painting: Painting, notes: list[str]) -> HangingPosition:
    """Board, glass and depth from the painting's record where the file does not say; what is taken is said."""
    board, glazed = spot.board, spot.glazed
    if board is None:
        board = "hardboard" if painting.backed else "none"
        if painting.backed is None:
            notes.append("backing board: not said, taken as none")
    if glazed is None:
        glazed = bool(painting.glazed)
    if spot.outer and spot.standoff_mm is None:
        notes.append("distance from the wall: not said, taken as hung flat on it")
    told = sun_told(spot)
    return replace(spot, board=board, glazed=glazed, notes=(*spot.notes, *((told,) if told else ())))


def _judged(asked: PositionAssessment) -> PositionResult:
    cases = judging.scenarios(asked)
    found = judging.judged(asked, cases)
    high, low = judging.highest(found), judging.lowest(found)
    target = Level.ACT if high >= Level.ACT else Level.WATCH
    never = judging.surely_never(found) and any(i.worst.hazard == Hazard.POSITION for i in judging.surely_never(found))
    solved = () if never or high < Level.WATCH else cures(asked, cases, found, target)
    tier = tier_of(asked)
    kind = classify(found, solved, tier)
    decider = None if kind == NEVER else judging.decider(asked)
    if kind == NEVER and not covers(solved, found, Level.ACT):  # what would not make it acceptable is not advised
        solved = tuple(cure for cure in solved if cure.kind in ("inner wall", "radiator"))
    ordered = tuple(sorted(found.values(), key=lambda i: (-i.high, -i.nearness)))
    worst_case = cases[ordered[0].under[0]] if ordered and ordered[0].under else cases["damp"]
    ends = judging.first_weeks_end(asked.painting, asked.hang_on, asked.materials)
    first = asked.span(worst_case, asked.hang_on, ends)
    settled = asked.span(worst_case, ends, asked.logs.time[-1] + pd.Timedelta(hours=1))
    shown = {name: cases[name] for name in ("mild", "damp")}
    return PositionResult(
        asked.spot.name, asked.spot, kind, _why(kind, found, ordered, solved, decider, tier),
        _conditions(kind, ordered, solved, tier), ordered, low, high, first, settled, solved,
        decider[0] if decider else None, unanswered(asked.spot),
        tuple(dict.fromkeys(unknown.told for unknown in unknowns(asked.spot))), tier, asked.spot.notes,
        behind_picture.years(asked, shown), behind_picture.cold_moments(asked, shown), case=worst_case,
    )  # fmt: skip


def tier_of(asked: PositionAssessment) -> int:
    """How well a position is known, 1 (a logger there for a year) to 5 (blanks)."""
    spot, read = asked.spot, asked.read
    if read is not None:
        year = read.coverage >= CLEAR_NEEDS
        winter = read.winter_coverage(asked.logs.time, asked.southern) >= CLEAR_NEEDS
        if spot.log_here and year:
            return 1
        if winter and not (spot.outer and spot.reading is None):
            return 2
        return 3
    if spot.reading is not None or spot.lux is not None or spot.fire_reading_c is not None:
        return 3
    return 5 if unanswered(spot) else 4


def classify(found: dict, solved: tuple[Cure, ...], tier: int) -> str:
    """The class by the worst count. Unknown is not safe; what a hand can change at the wall does not need measuring."""
    sure = {key: i for key, i in found.items() if i.low >= Level.ACT}
    by_hand = tuple(cure for cure in solved if cure.kind in BY_HAND)
    urgent = {key: i for key, i in sure.items() if i.low is Level.URGENT}
    # facts of the position are urgent and nothing clears them
    if not covers(by_hand, urgent, Level.URGENT) or not covers(solved, sure, Level.ACT):
        return NEVER
    open_ = {key: i for key, i in found.items() if i.high >= Level.ACT and i.low < Level.ACT}
    if open_ and not covers(by_hand, open_, Level.ACT):
        return MEASURE
    if any(i.high is Level.UNKNOWN and i.worst.decidable_on is None for i in found.values()):
        return MEASURE
    high = judging.highest(found)
    return GOOD if high is Level.CLEAR and tier <= 2 else GOOD_IF


def _why(kind: str, found: dict, ordered: tuple[FindingRange, ...], solved, decider, tier: int) -> str:
    sure = [i for i in ordered if i.low >= Level.ACT]
    if kind == NEVER:
        told = next((i for i in sure if i.worst.hazard == Hazard.POSITION), sure[0])
        return told.worst.sentence
    if kind == MEASURE:
        open_ = next((i for i in ordered if i.high >= Level.ACT), ordered[0])
        if open_.worst.hazard == Hazard.POSITION:
            return f"Not known yet. {open_.worst.sentence}" if open_.high >= Level.ACT else open_.worst.sentence
        return f"It may be, or not: {open_.worst.sentence}"
    if not ordered or ordered[0].high <= Level.UNKNOWN:
        return f"Nothing against it over the coming year; known by: {TIERS[tier]}."
    return ordered[0].worst.sentence


def _conditions(kind: str, ordered: tuple[FindingRange, ...], solved: tuple[Cure, ...], tier: int) -> tuple[str, ...]:
    if kind not in (GOOD_IF, MEASURE):
        return ()
    said = [cure.words for cure in chosen(solved)]
    cleared = {key for cure in chosen(solved) for key in cure.clears}
    watched = [i for i in ordered if i.high is Level.WATCH and (i.worst.hazard, i.worst.mechanism) not in cleared]
    if watched:
        said.append(f"look at it, front and back, when it comes near a limit: {_seasons(watched)}")
    if tier >= 3 and kind == GOOD_IF:
        said.append("let a logger hang there over the first winter, for nothing was read there for a year")
    return tuple(said)


def _seasons(watched: Sequence[FindingRange]) -> str:
    """What comes near its limit, and in which month, in words."""
    said = {}
    for interval in watched:
        at = interval.worst.worst_at
        said[interval.worst.mechanism] = f" ({at:%B})" if at is not None else ""
    return ", ".join(f"{mechanism}{month}" for mechanism, month in said.items())


# ------------------------------------------------------------------------------------------------------- in order
