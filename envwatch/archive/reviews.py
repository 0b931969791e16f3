"""Kept reviews with the limits then in force, the numbers of findings, tasks, and printed sheets.

A finding keeps its number for good; a task bears the number of its finding. These are changes of the register
alone and need no lock of the folder: an add may be running.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from sqlalchemy import Connection, insert, or_, select, update

from envwatch.archive.store import writing
from envwatch.archive.store.files import label, safe_name, write_whole
from envwatch.archive.store.originals import unjson
from envwatch.archive.store.records import first, found, put, put_if_new
from envwatch.archive.store.tables import FINDINGS, LIMITS, REVIEWS, TASKS
from envwatch.core.errors import BadInput, NotThere, StudioError
from envwatch.core.findings import Finding, Level

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder


@dataclass(frozen=True)
class Task:
    """Something to do about a finding, under the finding's number. `state`: "open", "put off" or "closed"."""

    number: int
    painting_id: str
    what: str
    due: pd.Timestamp | None
    raised_on: pd.Timestamp
    state: str
    note: str = ""  # the word it was closed with, or why it was put off
    closed_on: pd.Timestamp | None = None
    put_off_until: pd.Timestamp | None = None


# --------------------------------------------------------------------------------------------------- numbers


AT_ONCE = 1000  # keys in one question: databases limit how many they take


def number_findings(studio: StudioFolder, findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings with their numbers: all that ask for something, and what once did.

    The same number for the same `Finding.key` for good; what asks for nothing and never did gets none, nor does
    anything in a folder that cannot be written to.
    """
    findings = tuple(findings)
    keys = [json.dumps(finding.key, ensure_ascii=False) for finding in findings]
    with studio.reading() as connection:
        numbers = _numbers(connection, keys)
    new = [
        key for key, finding in zip(keys, findings, strict=True) if key not in numbers and finding.level >= Level.WATCH
    ]
    if new:
        numbers |= _give(studio, list(dict.fromkeys(new)))
    return tuple(replace(finding, number=numbers.get(key)) for key, finding in zip(keys, findings, strict=True))


def _numbers(connection: Connection, keys: Sequence[str]) -> dict[str, int]:
    query, found = select(FINDINGS.c.key, FINDINGS.c.number), {}
    for at in range(0, len(keys), AT_ONCE):
        rows = connection.execute(query.where(FINDINGS.c.key.in_(keys[at : at + AT_ONCE])))
        found |= {row.key: row.number for row in rows}
    return found


def _give(studio: StudioFolder, keys: list[str]) -> dict[str, int]:
    """New numbers. Where the folder cannot be written to, a review is still shown, without them."""
    stamp = _text(pd.Timestamp.now(tz="UTC"))
    try:
        with studio.saving() as connection:
            known = _numbers(connection, keys)  # another may have given one since; a number is not spent twice
            values = [{"key": key, "first_at": stamp} for key in keys if key not in known]
            if values:
                connection.execute(insert(FINDINGS), values)
            return _numbers(connection, keys)
    except StudioError:
        return {}


def _no_such(number: int) -> NotThere:
    return NotThere(f"no finding has the number {number}; the numbers stand in the review")


def painting_of_finding(studio: StudioFolder, number: int) -> str:
    """Which painting a numbered finding is of. NotThere: no such number."""
    with studio.reading() as connection:
        row = connection.execute(select(FINDINGS.c.key).where(FINDINGS.c.number == number)).first()
    if row is None:
        raise _no_such(number)
    return json.loads(row.key)[0]


def finding(studio: StudioFolder, number: int) -> dict[str, Any]:
    """What the last kept review said of a finding, with the review's period. NotThere: no such number."""
    query = select(FINDINGS, REVIEWS.c.period_start, REVIEWS.c.period_end, REVIEWS.c.made_at, REVIEWS.c.limits)
    with studio.reading() as connection:
        row = connection.execute(query.outerjoin(REVIEWS).where(FINDINGS.c.number == number)).mappings().first()
    if row is None:
        raise _no_such(number)
    if row["review"] is None:
        raise NotThere(f"finding {number} was in no review that was kept; keep the review, or name its week")
    key = json.loads(row["key"])
    return {
        **dict(zip(("painting_id", "hazard", "mechanism", "layer", "point"), key, strict=True)),
        **unjson(row["record"]), "number": number, "review": row["review"], "first_at": _time(row["first_at"]),
        "made_at": _time(row["made_at"]), "period_start": _time(row["period_start"]),
        "period_end": _time(row["period_end"]),
    }  # fmt: skip


def last_records(studio: StudioFolder, numbers: Sequence[int]) -> dict[int, dict[str, Any]]:
    """What was last kept of findings, by number; without those that no kept review held."""
    query, found = select(FINDINGS.c.number, FINDINGS.c.record).where(FINDINGS.c.review.is_not(None)), {}
    with studio.reading() as connection:
        for at in range(0, len(numbers), AT_ONCE):
            rows = connection.execute(query.where(FINDINGS.c.number.in_(list(numbers[at : at + AT_ONCE]))))
            found |= {row.number: unjson(row.record) for row in rows}
    return found


# --------------------------------------------------------------------------------------------------- reviews


def keep_review(
    studio: StudioFolder, period_start: pd.Timestamp, period_end: pd.Timestamp, record: Mapping[str, Any],
    limits: Mapping[str, Any], made_at: pd.Timestamp | None = None,
) -> int:  # fmt: skip
    """Keep a review with the limits in force; returns its number. `record["findings"]` go by their numbers.

    So do findings of earlier reviews judged again (`record["judged_again"]`), where no later review tells of them.
    """
    in_force = _json(limits)
    key = hashlib.sha256(in_force.encode()).hexdigest()
    made_at = pd.Timestamp.now(tz="UTC") if made_at is None else made_at
    with studio.saving() as connection:
        put_if_new(connection, LIMITS, [{"id": key, "record": in_force}])
        number = put(
            connection, REVIEWS, made_at=_text(made_at), period_start=_text(period_start),
            period_end=_text(period_end), record=_json(record), limits=key,
        )  # fmt: skip
        for review, said in _by_review(record, number):
            told = {"record": _json({"label": record.get("label", ""), **said}), "review": review}
            newest = or_(FINDINGS.c.review.is_(None), FINDINGS.c.review <= review)
            connection.execute(update(FINDINGS).where(FINDINGS.c.number == said["number"], newest).values(**told))
    return number


def _by_review(record: Mapping[str, Any], number: int) -> list[tuple[int, Mapping[str, Any]]]:
    """Numbered findings of a record, with the number of the review that they are of."""
    found = [(number, said) for said in record.get("findings", ())]
    for earlier, paintings in record.get("judged_again", {}).items():
        found += [(int(earlier), said) for one in paintings.values() for said in one.get("findings", ())]
    return [(review, said) for review, said in found if said.get("number") is not None]


def reviews(studio: StudioFolder) -> list[dict[str, Any]]:
    """All kept reviews, in the order they were made."""
    query = select(REVIEWS, LIMITS.c.record.label("in_force")).outerjoin(LIMITS).order_by(REVIEWS.c.id)
    with studio.reading() as connection:
        return [_review(row) for row in found(connection, query)]


def _review(row: Mapping[str, Any]) -> dict[str, Any]:
    record = unjson(row["record"])
    return {
        "number": row["id"], "label": record.get("label", ""), "made_at": _time(row["made_at"]),
        "period_start": _time(row["period_start"]), "period_end": _time(row["period_end"]), "record": record,
        "limits": _limits(row["in_force"] or ""),
    }  # fmt: skip


@lru_cache(maxsize=64)
def _limits(text: str) -> dict[str, Any]:
    """Limits in force, which many reviews share; nobody changes them."""
    return unjson(text)


def previous_review(studio: StudioFolder, before: pd.Timestamp) -> dict[str, Any] | None:
    """The kept review of the latest period that begins before a moment; of several of it, the last made."""
    earlier = [review for review in reviews(studio) if review["period_start"] < before]
    return max(earlier, key=lambda review: (review["period_end"], review["number"]), default=None)


def last_review(studio: StudioFolder) -> dict[str, Any] | None:
    """The review kept last."""
    kept = reviews(studio)
    return kept[-1] if kept else None


# --------------------------------------------------------------------------------------------------- tasks


def tasks(studio: StudioFolder, open_only: bool = True) -> tuple[Task, ...]:
    """Tasks in the order they were raised; those put off count as open."""
    query = select(TASKS).order_by(TASKS.c.id)
    if open_only:
        query = query.where(TASKS.c.closed_on == "")
    with studio.reading() as connection:
        return tuple(_task(row) for row in found(connection, query))


def _task(row: Mapping[str, Any]) -> Task:
    until, closed = _time(row["put_off_until"]), _time(row["closed_on"])
    state = "closed" if closed is not None else "put off" if until is not None else "open"
    note = row["word"] if closed is not None else row["put_off_reason"]
    raised_on, due = pd.Timestamp(row["raised_on"]), _time(row["due"])
    return Task(row["number"], row["painting"], row["what"], due, raised_on, state, note, closed, until)


def raise_task(
    studio: StudioFolder, number: int, painting_id: str, what: str, due: pd.Timestamp | None = None,
    raised_on: pd.Timestamp | None = None,
) -> Task:  # fmt: skip
    """Raise a task for a finding, unless one is open already, which then stays as it is."""
    raised_on = pd.Timestamp.now(tz="UTC") if raised_on is None else raised_on
    with studio.saving() as connection:
        task = _open_task(connection, number)
        if task is None:
            put(connection, TASKS, number=number, painting=painting_id, what=what, due=_text(due),
                raised_on=_text(raised_on))  # fmt: skip
        return _task(_open_task(connection, number) or {})


def _open_task(connection: Connection, number: int) -> Mapping[str, Any] | None:
    query = select(TASKS).where(TASKS.c.number == number, TASKS.c.closed_on == "").order_by(TASKS.c.id.desc())
    return first(connection, query)


def close_task(studio: StudioFolder, number: int, word: str, on: pd.Timestamp | None = None) -> Task:
    """Close a task with a word on what was done. BadInput: no word. NotThere: none is open under this number."""
    if not word.strip():
        raise BadInput(f"task {number}: say in a word or two what was done")
    on = pd.Timestamp.now(tz="UTC") if on is None else on
    return _change_task(studio, number, closed_on=_text(on), word=word)


def put_off(studio: StudioFolder, number: int, reason: str, until: pd.Timestamp) -> Task:
    """Put a task, or a finding that has none yet, off. It comes back then, or when the finding grows worse.

    BadInput: no reason. NotThere: no such task or finding.
    """
    if not reason.strip():
        raise BadInput(f"task {number}: say why it can wait")
    with studio.reading() as connection:
        row = connection.execute(select(FINDINGS).where(FINDINGS.c.number == number)).mappings().first()
        known = _open_task(connection, number) is not None
    said = unjson(row["record"]) if row else {}
    if row and not known:
        raise_task(studio, number, json.loads(row["key"])[0], said.get("do") or said.get("sentence", ""))
    return _change_task(
        studio, number, put_off_until=_text(until), put_off_reason=reason, put_off_level=said.get("level")
    )


def _change_task(studio: StudioFolder, number: int, **values: Any) -> Task:
    with studio.saving() as connection:
        held = _open_task(connection, number)
        if held is None:
            raise NotThere(f"no open task has the number {number}; the numbers stand in the review")
        connection.execute(update(TASKS).where(TASKS.c.id == held["id"]).values(**values))
        return _task({**held, **values})


def put_off_reason(studio: StudioFolder, finding: Finding, moment: pd.Timestamp) -> str:
    """Until when and why a finding was put off; empty if it was not, if that is over, or if it grew worse since."""
    if finding.number is None:
        return ""
    with studio.reading() as connection:
        row = _open_task(connection, finding.number)
    until = _time(row["put_off_until"]) if row else None
    if row is None or until is None or moment >= until:
        return ""
    if row["put_off_level"] is not None and finding.level > row["put_off_level"]:
        return ""
    local = until.tz_convert(studio.zone)
    return f"until {local.day} {local:%b %Y}: {row['put_off_reason']}"


# --------------------------------------------------------------------------------------------------- sheets


def keep_sheet(studio: StudioFolder, name: str, content: bytes) -> Path:
    """Keep a printed sheet. The same name with other content gets a number, so that no print is lost.

    Of a folder that may only be read it goes into the current folder, or into the system's for what is not kept.
    """
    stem, dot, ending = label(name).replace("?", "-").rpartition(".")
    stem, ending = (safe_name(stem), dot + safe_name(ending)) if dot else (safe_name(ending), "")
    folder = _elsewhere() if studio.home.only_read else studio.folder / "sheets"
    for number in range(1, 10**6):
        path = folder / f"{stem}{f'-{number}' if number > 1 else ''}{ending}"
        if not path.exists():
            with writing.beside(studio.folder) as named:
                write_whole(path, content, named=named)
            return path
        if path.read_bytes() == content:
            return path
    raise StudioError(f"{folder}: too many sheets named {name}")


def _elsewhere() -> Path:
    return Path.cwd() if os.access(Path.cwd(), os.W_OK) else Path(tempfile.gettempdir())


def sheets(studio: StudioFolder) -> list[tuple[str, pd.Timestamp]]:
    """The printed sheets that are kept, by name, with when they were written. [UTC]"""
    found = sorted((studio.folder / "sheets").glob("*.pdf"))
    return [(path.name, pd.Timestamp(path.stat().st_mtime, unit="s", tz="UTC")) for path in found]


# --------------------------------------------------------------------------------------------------- as text


def _text(moment: pd.Timestamp | None) -> str:
    return "" if moment is None else moment.tz_convert("UTC").isoformat()


def _time(text: str | None) -> pd.Timestamp | None:
    return pd.Timestamp(text) if text else None


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True, default=_plain)


def _plain(value: object) -> object:
    if isinstance(value, np.generic):
        return value.item()
    return value.isoformat() if isinstance(value, pd.Timestamp) else str(value)
