"""The register's own verbs: import, export, enter, move, treat, observe, hung, calibrate, correct, remove."""

from __future__ import annotations

from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from envwatch.cli.common import StudioOption, now, open_studio
from envwatch.core.dates import clean
from envwatch.core.errors import BadInput, Question
from envwatch.core.painting import NOTHING_NEW
from envwatch.core.text import several

if TYPE_CHECKING:
    from envwatch.archive import Studio

WhichPainting = Annotated[str, typer.Argument(help="Its number, or words of its title.", show_default=False)]
On = Annotated[str | None, typer.Option("--on", help="Day, or day and time: 2026-11-02 or '2026-11-02 10:30'.")]


def import_(
    folder: Annotated[Path, typer.Argument(help="Folder with places.csv, paintings.csv, …", show_default=False)],
    look: Annotated[bool, typer.Option("--look", help="Only say what it would come to; nothing is changed.")] = False,
    studio: StudioOption = Path(),
) -> None:
    """Read the register from CSV files; all that is wrong is told at once, and then nothing is kept."""
    imported = open_studio(studio).import_register(folder, look=look)
    print(", ".join(f"{count} {name}" for name, count in imported.items()))
    for file, columns in imported.left_out.items():
        print(f"{file}: left out, not known to the register: {', '.join(columns)}")
    for (file, column), cells in imported.read_as.items():
        (written, kept), more = cells[0], f", and {len(cells) - 1} more like it" if len(cells) > 1 else ""
        print(f"{file}, {column}: '{written}' was read as {kept}{more}")
    for name, (new, changed) in imported.changes.items() if look else ():
        print(f"{name}: {new} new, {changed} changed, {imported[name] - new - changed} as they are")
    if look:
        print("Looked at only: nothing was changed. The same without --look keeps it.")


def export(
    folder: Annotated[Path, typer.Argument(help="Where to write the CSV files.", show_default=False)],
    private: Annotated[bool, typer.Option("--private", help="With the owners' names.")] = False,
    redact: Annotated[bool, typer.Option("--redact", help="A number for each owner; houses without a name.")] = False,
    studio: StudioOption = Path(),
) -> None:
    """Write the register as CSV files; without the owners unless asked for."""
    if private and redact:
        raise BadInput("--private gives the owners' names and --redact takes them out: give one of the two")
    counts = open_studio(studio).export_register(folder, private=private, redact=redact)
    print(", ".join(f"{count} {name}" for name, count in counts.items()))
    if not private:
        print(_withheld(counts, redact))


def _withheld(counts, redact: bool) -> str:
    """What an export without names left out, and whether it can be read back."""
    column = "the owner column holds numbers" if redact else "the owner column is left out"
    taken = f"names of owners were taken out of {several(counts.cells, 'other cell')}" if counts.cells else ""
    places = f"{several(counts.places, 'place')} without a name" if counts.places else ""
    told = "; ".join(part for part in (column, taken, places) if part)
    back = " Such files are not read back; --private gives all of it." if redact or counts.cells else ""
    return f"Withheld: {told}.{back}"


def move(
    painting: WhichPainting,
    place: Annotated[str, typer.Argument(help="Id of the place.", show_default=False)],
    on: On = None,
    position: Annotated[str, typer.Option(help="rack, inner wall, outer wall, radiator, …")] = "unknown",
    until: Annotated[str | None, typer.Option(help="End of the stay, where it is known.")] = None,
    intended: Annotated[bool, typer.Option("--intended", help="A treatment climate: counted, not raised.")] = False,
    purpose: Annotated[str, typer.Option(help="What for.")] = "",
    instead: Annotated[str, typer.Option(help="Id of the place where it never was: that stay is taken back.")] = "",
    studio: StudioOption = Path(),
) -> None:
    """A painting moves to a place."""
    house = open_studio(studio)
    found = house.find_painting(painting)
    stay = house.move(
        found.id, place, on or _today(house),
        position=position, until=until, intended=intended, purpose=purpose, instead=instead,
    )  # fmt: skip
    places, zone = house.places(), house.zone
    print(f"{found.title}: in {places[stay.place_id].name} from {stay.start.tz_convert(zone).date()}")
    ended = next((one for one in found.stays if one.end is None and one.start < stay.start), None)
    if ended is not None and not instead:
        told = f"Until then in {places[ended.place_id].name}, from {ended.start.tz_convert(zone).date()}."
        print(f"{told} Was it never there: the same again with --instead {ended.place_id}")


def _fields(words: list[str] | None, told: str) -> dict[str, str]:
    """name=value words as a dict."""
    for word in words or ():
        if "=" not in word:
            raise BadInput(f"{told}: {word!r} is not name=value; write it as batch=2026/114")
    return {name.strip(): value for name, _, value in (word.partition("=") for word in words or ())}


def enter(
    noun: Annotated[str, typer.Argument(help="painting, place, logger or layer.", show_default=False)],
    fields: Annotated[list[str], typer.Argument(help="name=value, the columns of its CSV file.", show_default=False)],
    studio: StudioOption = Path(),
) -> None:
    """Enter a painting, a place, a logger or a layer: envwatch enter painting id=26-15 title="Still life"."""
    cells = _fields(fields, f"enter {noun}")
    is_new = open_studio(studio).enter(noun, cells)
    name = cells.get("title") or cells.get("name") or cells.get("role") or ""
    id = cells.get("id") or cells.get("painting", "")
    print(f"{noun} {id}{': ' + name if name else ''}, {'entered' if is_new else 'changed'}")


def treat(
    painting: WhichPainting,
    kind: Annotated[str, typer.Argument(help="lining, consolidation, patch, tear mend, …", show_default=False)],
    fields: Annotated[
        list[str] | None,
        typer.Argument(help='The trade\'s fields as name=value: batch=…, hold_min=10, temps_interface_c="65;66".'),
    ] = None,
    on: On = None,
    material: Annotated[str, typer.Option(help="Key of the material, such as eva_film; or unknown.")] = "",
    note: Annotated[str, typer.Option(help="What has no field of its own.")] = "",
    layer: Annotated[bool, typer.Option(help="Put the layer it leaves behind into the stack.")] = True,
    studio: StudioOption = Path(),
) -> None:
    """Record a treatment, and the layer that it leaves behind."""
    from envwatch.archive import role_of
    from envwatch.archive.climates import work_air

    house = open_studio(studio)
    found = house.find_painting(painting)
    role = role_of(kind)
    if role and layer and not material:
        raise Question(
            f"a {kind} leaves a layer behind ({role}): of what material? It sets the limits.",
            "material",
            tuple(key for key, profile in house.materials().items() if role in profile.roles),
        )
    day = on or _today(house)
    trade, air = work_air.added(house, found, day, _fields(fields, kind))
    done = house.treat(found.id, kind, day, material=material, note=note, adds_layer=layer, **trade)
    print(f"{found.title}: {kind} recorded")
    if air:
        print(air)
    after = house.paintings()[found.id].layers
    for one in after:
        if one not in found.layers:
            print(f"Put into its stack: {one.role}, {one.material.replace('_', ' ')}, {one.area}")
    old = [one for one in found.layers if one.role == role == "film"]
    if old and layer:
        print("An older film still stands in the stack and is judged too; if it was taken off, import layers.csv")
    if done.inspection_days:
        print(f"Looks due on day {', '.join(map(str, done.inspection_days))}")


def observe(
    painting: WhichPainting,
    sign: Annotated[str, typer.Argument(help="What was seen; with --look left out: nothing new.")] = "",
    where: Annotated[str, typer.Option(help="Where on the painting.")] = "",
    finding: Annotated[int | None, typer.Option(help="Number of the finding it speaks to.")] = None,
    confirms: Annotated[bool | None, typer.Option("--confirms/--denies", help="Does it bear the finding out?")] = None,
    look: Annotated[str, typer.Option(help="own (raking light, front and back), passing, photo or telephone.")] = "",
    by: Annotated[str, typer.Option(help="Who looked.")] = "",
    photo: Annotated[str, typer.Option(help="Name of the photograph's file.")] = "",
    note: Annotated[str, typer.Option(help="More, in your words.")] = "",
    on: On = None,
    studio: StudioOption = Path(),
) -> None:
    """Record a look: a sign seen on a painting, or nothing new; it may confirm or deny a finding."""
    house = open_studio(studio)
    found = house.find_painting(painting)
    if not (sign or look):
        raise BadInput("observe: say what was seen, or how it was looked at (--look own) where nothing new was")
    here = now().tz_convert(house.zone)
    day = on or (here if look else str(here.date()))  # what went before on the day had happened when it was looked at
    sign = sign or NOTHING_NEW
    if confirms is not None and finding is None:
        raise BadInput("--confirms and --denies need --finding, the number that the review prints")
    seen = house.observe(found.id, day, sign, where=where, finding=finding, confirms=confirms, note=note, photo=photo,
                         look=look, by=by)  # fmt: skip
    how = f" ({seen.how})" if seen.how else ""
    print(f"{found.title}: {sign}{how}, recorded")


def calibrate(
    logger: Annotated[str, typer.Argument(help="Id of the logger.", show_default=False)],
    on: On = None,
    salt: Annotated[
        list[str] | None,
        typer.Option(help='A salt, its temperature and what was read: "sodium chloride; 20.1; 76.4". Twice for two.'),
    ] = None,
    rh: Annotated[list[str] | None, typer.Option(help='True and read, % RH: "75.5; 76.4". Twice for two.')] = None,
    temp: Annotated[str | None, typer.Option(help='True and read, °C: "20.0; 20.3".')] = None,
    rh_accuracy: Annotated[float | None, typer.Option(help="± % RH after the check.")] = None,
    temp_accuracy: Annotated[float | None, typer.Option(help="± °C after the check.")] = None,
    due: Annotated[str | None, typer.Option(help="Day of the next check.")] = None,
    channel: Annotated[str, typer.Option(help="Which probe of the file.")] = "",
    basis: Annotated[str, typer.Option(help="Against what: salts, a certificate and its number.")] = "",
    note: Annotated[str, typer.Option(help="More, in your words.")] = "",
    studio: StudioOption = Path(),
) -> None:
    """Record a check of a logger; it corrects readings from that day on, and raw ones stay."""
    house = open_studio(studio)
    points = (*(_pair(text, "--rh") for text in rh or ()), *map(_over_salt, salt or ()))
    day = on or _today(house)
    if not (points or temp or rh_accuracy is not None or temp_accuracy is not None):
        raise BadInput("calibrate: nothing was measured; give --salt, --rh, --temp, or an accuracy after the check")
    house.calibrate(
        logger, day, rh_points=points, temp_point=_pair(temp, "--temp") if temp else None, channel=channel, due=due,
        rh_accuracy_percent=rh_accuracy, temp_accuracy_c=temp_accuracy, basis=basis or ("salts" if salt else ""),
        note=note,
    )  # fmt: skip
    told = "; ".join(f"true {true:.1f}, read {read:.1f} % RH" for true, read in points)
    print(f"{logger}: check of {clean(day)} recorded{': ' + told if told else ''}. Raw readings stay as they are")


def standin(
    place: Annotated[str, typer.Argument(help="Id of the place whose logger is dead.", show_default=False)],
    neighbour: Annotated[str, typer.Argument(help="Id of the place that stands in for it.", show_default=False)],
    temp: Annotated[float, typer.Option(help="By how much it may be off, ± °C.", show_default=False)],
    rh: Annotated[float, typer.Option(help="By how much it may be off, ± % RH.", show_default=False)],
    on: On = None,
    until: Annotated[str | None, typer.Option(help="Last day; by default until further notice.")] = None,
    note: Annotated[str, typer.Option(help="Why you vouch for it.")] = "",
    studio: StudioOption = Path(),
) -> None:
    """Let a neighbour's air stand in while a place's own logger reads nothing."""
    house = open_studio(studio)
    day = on or _today(house)
    house.stand_in(place, neighbour, day, temp_u_c=temp, rh_u_percent=rh, until=until, note=note)
    print(f"{place}: {neighbour} stands in from {clean(day)} where it reads nothing, ± {temp:g} °C, ± {rh:g} % RH")


def _figures(text: str, option: str, count: int) -> list[float]:
    try:
        figures = [float(part) for part in text.split(";")]
    except ValueError:
        figures = []
    if len(figures) != count or not all(map(isfinite, figures)):
        raise BadInput(f"{option} {text!r}: expected {count} numbers with ; between, such as 75.5; 76.4")
    return figures


def _pair(text: str, option: str) -> tuple[float, float]:
    true, read = _figures(text, option, 2)
    return true, read


def _over_salt(text: str) -> tuple[float, float]:
    """What was true over a salt at its temperature, and what was read."""
    from envwatch.logs.quality.calibration import salt_rh

    salt, _, rest = text.partition(";")
    temp_c, read = _figures(rest, f"--salt {salt}", 2)
    true = float(salt_rh(salt.strip().casefold(), temp_c))
    if true != true:
        raise BadInput(f"--salt {salt}: no fixed point is published for it at {temp_c:g} °C; check at 10 to 30 °C")
    return true, read


def hung(
    logger: Annotated[str, typer.Argument(help="Id of the logger.", show_default=False)],
    place: Annotated[str, typer.Argument(help="Id of the place.", show_default=False)],
    on: On = None,
    position: Annotated[str, typer.Option(help="Position in the place.")] = "unknown",
    channel: Annotated[str, typer.Option(help="Which probe of the file.")] = "",
    studio: StudioOption = Path(),
) -> None:
    """Say where a logger, or one of its probes, hangs."""
    house = open_studio(studio)
    day = on or _today(house)
    house.set_hanging(logger, place, day, position=position, channel=channel)
    print(f"{logger}: in {place} from {clean(day)}")


WhichNoun = Annotated[str, typer.Argument(help="treatment, stay, observation, hanging or calibration.")]
WhichRow = Annotated[str, typer.Argument(help="A painting or logger, for a list; NAME:2 for its second.")]
Because = Annotated[str, typer.Option(help="Why: it is kept with the old value.")]
By = Annotated[str, typer.Option(help="Who says so.")]


def correct(
    noun: WhichNoun, id: WhichRow,
    fields: Annotated[list[str] | None, typer.Argument(help="name=value, the columns of its CSV file.")] = None,
    because: Because = "", by: By = "", studio: StudioOption = Path(),
) -> None:  # fmt: skip
    """Correct what was entered: envwatch correct treatment sluice:1 on=2026-09-14 --because "month mistyped"."""
    from envwatch.archive.register import correct as record

    house = open_studio(studio)
    if not fields:
        return _listed(house, noun, id)
    lines = record.correct(
        house, noun, id, _fields(fields, f"correct {noun}"), because=because, by=by, on=_today(house)
    )
    print(f"{noun} {id}: corrected, {lines[0]}", *lines[1:], sep="\n  ")


def remove(noun: WhichNoun, id: WhichRow, because: Because = "", by: By = "", studio: StudioOption = Path()) -> None:
    """Take out what was entered twice or never was: envwatch remove treatment sluice:2 --because "entered twice"."""
    from envwatch.archive.register import correct as record

    house = open_studio(studio)
    if not because and ":" not in id and noun != "treatment":
        return _listed(house, noun, id)
    was, *followed = record.remove(house, noun, id, because=because, by=by, on=_today(house))
    print(f"{noun} {id}: removed, {was}", *followed, sep="\n  ")


def _listed(house: Studio, noun: str, owner: str) -> None:
    """What can be corrected, each under the name that a correction takes."""
    from envwatch.archive.register import correct as record

    for entry in record.entries(house, noun, owner):
        print(entry.name + ": " + ", ".join(f"{name}={value}" for name, value in entry.cells().items()))


def _today(house: Studio) -> str:
    return str(now().tz_convert(house.zone).date())


def add_commands(app: typer.Typer) -> None:
    """Hang the commands on the app."""
    app.command("import")(import_)
    for command in (export, enter, move, treat, observe, hung, calibrate, standin, correct, remove):
        app.command()(command)
