"""Commands for the week: review, painting, why, done, putoff, cause."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from envwatch.cli.common import JsonOption, PaperOption, StudioOption, now, open_studio, progress, show, width
from envwatch.core.errors import BadInput, StudioError


def _period(studio, moment, week, first, last, since_last, today):
    """The period asked for; None for the default. At most one way of asking."""
    from envwatch.archive import reviews
    from envwatch.core import period

    if sum((week is not None, first is not None or last is not None, since_last, today)) > 1:
        raise BadInput("give one of --week, --from with --to, --since-last, --today")
    if week:
        return period.iso_week(week, studio.zone)
    if first or last:
        if not (first and last):
            raise BadInput("--from and --to go together, such as --from 2026-10-01 --to 2026-10-14")
        return period.from_to(first, last, studio.zone)
    if today:
        return period.today(moment, studio.zone)
    if since_last:
        before = reviews.last_review(studio)
        if before is None:
            raise BadInput("--since-last: no review has been kept yet. Make one with envwatch review")
        return period.since(before["period_end"], moment, studio.zone)
    return None


def review(
    week: Annotated[str | None, typer.Option(help="An ISO week, such as 2026-W44.")] = None,
    first: Annotated[str | None, typer.Option("--from", help="First day, such as 2026-10-01; with --to.")] = None,
    last: Annotated[str | None, typer.Option("--to", help="Last day, included.")] = None,
    since_last: Annotated[bool, typer.Option("--since-last", help="From the end of the last review to now.")] = False,
    today: Annotated[bool, typer.Option("--today", help="Today so far.")] = False,
    as_of: Annotated[str | None, typer.Option("--as-of", help="Review as if on this day: 2026-11-02.")] = None,
    paper: PaperOption = "a4",
    full: Annotated[bool, typer.Option("--full", help="All of it: each finding, room, logger, file and task.")] = False,
    keep: Annotated[bool, typer.Option(help="Keep the review, its tasks and its sheet.")] = True,
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:
    """The Monday review: what came in, which paintings need me and why, what the rooms did, what to do."""
    house = open_studio(studio)
    moment = clock(as_of, house.zone)
    span = _period(house, moment, week, first, last, since_last, today)
    run_review(house, moment, span, paper, keep and not today, json, full)


def clock(as_of: str | None, zone: str):
    """Now; or noon of the day asked for, in the studio's zone."""
    from envwatch.core import period

    if as_of is None:
        return now()
    noon = period.given(as_of, "as_of").replace(hour=12)
    return noon.tz_localize(zone).tz_convert("UTC")


def run_review(house, moment, span, paper: str, keep: bool, as_json: bool, full: bool = False) -> None:
    """Make, keep, print and put on paper one review; printed on one screen, or the whole of it."""
    from envwatch.archive.reviews import keep_sheet
    from envwatch.cases import review as reviews
    from envwatch.present import terminal

    with progress("judging") as report:
        result = reviews.make(house, moment, span, report)
    sheet, lost = None, None
    if keep and not house.home.only_read:
        result = reviews.keep(house, result)
    if keep:
        from envwatch.present import paper as sheets

        name = f"{result.period.label.replace(' ', '-').replace(',', '')}-{paper}.pdf"
        try:
            sheet = keep_sheet(house, name, sheets.weekly(result, paper))
        except StudioError as error:
            if result.number is None:
                raise
            lost = error
    printed = terminal.review if full else terminal.brief
    show(result, as_json, lambda: printed(result, width()), house.names)
    if sheet is not None and not as_json:
        print(f"\nPrinted sheet: {sheet}")
    if keep and result.number is None:
        print(f"{house.folder} may only be read: this review is not kept, and raised no task", file=sys.stderr)
    if lost is not None:
        raise StudioError(f"{lost.statement} The review itself is kept, as number {result.number}.") from lost


def painting(
    words: Annotated[list[str], typer.Argument(help="Words of its title, its owner, or its number.")],
    value: Annotated[bool, typer.Option("--value", help="Its value, and nothing else.")] = False,
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:
    """One painting: where it is, how it is, what was said and done."""
    from envwatch.cases.painting import record
    from envwatch.present import terminal

    house = open_studio(studio)
    if value:
        one = house.find_painting(" ".join(words))
        band = {"id": one.id, "value_band": one.value_band}
        show(band, json, lambda: f"{one.title} [{one.id}]: {one.value_band or 'no value is entered'}\n", house.names)
        return
    result = record.of(house, " ".join(words), now())
    show(result, json, lambda: terminal.dossier(result, width()), house.names)


def why(
    number: Annotated[int, typer.Argument(help="The finding's number, as the review prints it.")],
    week: Annotated[str | None, typer.Option(help="An ISO week; else that of the last review it is kept in.")] = None,
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:
    """The whole chain behind one finding: readings, file and line, the working, the limit, the source."""
    from envwatch.cases.painting.why import chain
    from envwatch.present import terminal

    house = open_studio(studio)
    result = chain(house, number, now(), week)
    show(result, json, lambda: terminal.chain(result, width()), house.names)


def done(
    number: Annotated[int, typer.Argument(help="Number of the task.")],
    word: Annotated[list[str], typer.Argument(help="What was done, in a word or two.")],
    studio: StudioOption = Path(),
) -> None:
    """Close a task with a word on what was done."""
    from envwatch.archive import reviews

    reviews.close_task(open_studio(studio), number, " ".join(word))
    print(f"Task {number} closed: {' '.join(word)}")


def cause(
    number: Annotated[int, typer.Argument(help="Number of any finding of the event.")],
    words: Annotated[list[str], typer.Argument(help="What it came by: pipe over the rack.")],
    by: Annotated[str, typer.Option(help="Who says so.")] = "",
    studio: StudioOption = Path(),
) -> None:
    """Name once what an event of a room came by. It closes no look and no task."""
    from envwatch.cases.review import causes

    house = open_studio(studio)
    event = causes.kept_event(house, number)
    causes.name(house, event, " ".join(words), now(), by)
    print(f"{event.sentence}\nCause named: {' '.join(words)}. It closes no look and no task.")


def putoff(
    number: Annotated[int, typer.Argument(help="Number of the task.")],
    until: Annotated[str, typer.Option(help="Until which day, such as 2026-11-30.")],
    reason: Annotated[str, typer.Option(help="Why.")],
    studio: StudioOption = Path(),
) -> None:
    """Put a task off, with a reason and an end date. It comes back then, or as soon as it grows worse."""
    from envwatch.archive import reviews
    from envwatch.core import period

    house = open_studio(studio)
    day = period.begin(until, "until", house.zone)
    assert day is not None
    if day <= now():
        raise BadInput(f"--until {until}: give a day after today")
    reviews.put_off(house, number, reason, day)
    print(f"Task {number} put off until {until}: {reason}")


def add_commands(app: typer.Typer) -> None:
    """Hang the commands on the app."""
    for command in (review, painting, why, done, putoff, cause):
        app.command()(command)
