"""`vesselspec new`: the first files of a record, from what is known."""

from __future__ import annotations

import os
import shlex
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vesselspec.cli.editing import output_option, tell
from vesselspec.cli.status import SOUND
from vesselspec.cli.writing import dry_run_option, rewrites, write_record
from vesselspec.model.forms import Quantity, matches
from vesselspec.record import Record, read
from vesselspec.record.starting import SYSTEMS, Start, is_dc, start
from vesselspec.revisions import RevisionError, read_folder
from vesselspec.revisions.errors import shown
from vesselspec.revisions.find import has_marker
from vesselspec.revisions.place import place_above
from vesselspec.standards import PRACTICES

if TYPE_CHECKING:
    from vesselspec.rules.unknowns import Unknown

#: Lines of what to find out next; `unknowns` has the whole list.
_FIRST = 8


@click.command("new")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--name", metavar="TEXT", help="The vessel's name.")
@click.option("--practice", type=click.Choice(PRACTICES), help="Which published figures and colours it is judged by.")
@click.option(
    "--system", "systems", multiple=True, type=click.Choice(list(SYSTEMS)), help="A system on board; again for more."
)
@click.option("--shore", "shores", multiple=True, metavar="SYSTEM[:RATING]", help="A shore inlet: 'ac-120:30 A'.")
@click.option(
    "--battery", "batteries", multiple=True, metavar="SYSTEM[:CAPACITY]", help="A battery bank: 'dc-12:400 Ah'."
)
@click.option(
    "--panel", "panels", multiple=True, type=click.Choice(list(SYSTEMS)), help="A panel, by its system; again for more."
)
@dry_run_option()
@output_option()
def command(
    folder: Path,
    name: str | None,
    practice: str | None,
    systems: tuple[str, ...],
    shores: tuple[str, ...],
    batteries: tuple[str, ...],
    panels: tuple[str, ...],
    dry_run: bool,
    output: str,
) -> int:
    """Start the record of a vessel in FOLDER, which is made if it is not there.

    On a terminal it asks for what is not given by options; elsewhere --name and --practice are needed. Only what is
    said is written; the rest stands in the files as comments that show how it is written, and is listed as what to
    find out on board. Nothing that is there is written over, and nothing is committed.
    """
    if name is None or practice is None:
        known = _asked(name, practice, systems, shores, batteries, panels)
    else:
        known = _known(name, practice, systems, shores, batteries, panels)
    files = start(known)
    home = _home(folder, files)
    record = _with_others(home, files)
    changes = rewrites({}, files)
    if not dry_run:
        _write(home, files)
    from vesselspec.report.editing import Edited

    found, counts = _next(record)
    more = f" ({_FIRST} of {len(found)})" if len(found) > _FIRST else ""
    edited = Edited(
        "new",
        known.name,
        written=not dry_run,
        said=(f"The record of {known.name} {'would be' if dry_run else 'is'} started in {folder}: {counts}.",),
        left=tuple((each.place, _told(each)) for each in found[:_FIRST]),
        left_title=f"To find out on board, what matters most first{more}:",
        then=tuple(_steps(folder, home)),
    )
    tell(edited, changes, dry_run=dry_run, output=output)
    return SOUND


# --- what is known ----------------------------------------------------------------------------------


def _known(
    name: str,
    practice: str,
    systems: tuple[str, ...],
    shores: tuple[str, ...],
    batteries: tuple[str, ...],
    panels: tuple[str, ...],
) -> Start:
    """What the options say. Raises UsageError for what cannot be so."""
    if not name.strip() or len(name) > 120 or not name.isprintable():
        raise click.UsageError("--name must be 1 to 120 printable characters.")
    inlets = tuple(_with_size("--shore", each, "current", "30 A") for each in shores)
    banks = tuple(_with_size("--battery", each, "charge", "400 Ah") for each in batteries)
    if wrong := [key for key, _ in inlets if is_dc(key)]:
        raise click.UsageError(f"--shore: {wrong[0]} is a DC system.")
    if wrong := [key for key, _ in banks if not is_dc(key)]:
        raise click.UsageError(f"--battery: {wrong[0]} is an AC system.")
    named = (*systems, *(key for key, _ in (*inlets, *banks)), *panels)
    ordered = tuple(key for key in SYSTEMS if key in named)
    return Start(name.strip(), practice, ordered, inlets, banks, panels)


def _with_size(option: str, said: str, dimension: str, example: str) -> tuple[str, str | None]:
    system, colon, size = said.partition(":")
    if system not in SYSTEMS:
        raise click.UsageError(f"{option}: {shown(system)} is none of {', '.join(SYSTEMS)}.")
    if colon and not matches(Quantity(dimension).schema()["pattern"], size):
        raise click.UsageError(f"{option}: {shown(size)} needs a number and its unit, such as {example}.")
    return system, size or None


def _asked(
    name: str | None,
    practice: str | None,
    systems: tuple[str, ...],
    shores: tuple[str, ...],
    batteries: tuple[str, ...],
    panels: tuple[str, ...],
) -> Start:
    """Ask on a terminal for what the options do not say."""
    if not (sys.stdin is not None and sys.stdin.isatty()):
        raise click.UsageError("Give --name and --practice; on a terminal they are asked for.")
    name = name or _prompt("The vessel's name", lambda said: _known(said, PRACTICES[0], (), (), (), ()).name)
    if practice is None:
        practice = click.prompt("Practice", type=click.Choice(PRACTICES), default=PRACTICES[0], err=True)
    if not systems:
        said = _prompt(f"Systems on board, of {', '.join(SYSTEMS)} (blanks between; none: Enter)", _systems, default="")
        systems = tuple(said.split())
    if not shores:
        shores = _each(systems, "shore inlets", "its rating as marked, such as 30 A", "current", of_dc=False)
    if not batteries:
        batteries = _each(systems, "battery banks", "its capacity, such as 400 Ah", "charge", of_dc=True)
    if not panels and systems:
        choices = click.Choice([*systems, "none"])
        said = click.prompt("A first panel, of which system", type=choices, default="none", err=True)
        panels = (said,) if said != "none" else ()
    return _known(name, practice, systems, shores, batteries, panels)


def _prompt(question: str, check: Callable[[str], object], default: str | None = None) -> str:
    """Ask until the answer can be so."""

    def checked(said: str) -> str:
        check(said)
        return said

    answer: str = click.prompt(question, default=default, value_proc=checked, show_default=False, err=True)
    return answer


def _systems(said: str) -> None:
    for key in said.split():
        if key not in SYSTEMS:
            raise click.UsageError(f"{shown(key)} is none of {', '.join(SYSTEMS)}.")


def _each(systems: tuple[str, ...], what: str, size: str, dimension: str, *, of_dc: bool) -> tuple[str, ...]:
    found: list[str] = []
    for key in systems:
        if is_dc(key) is not of_dc:
            continue

        def check(said: str, key: str = key) -> None:
            if said:
                _with_size(what, f"{key}:{said}", dimension, size.rpartition("such as ")[2])

        many = click.prompt(f"How many {what} on {key}", type=click.IntRange(0, 9), default=0, err=True)
        for number in range(1, many + 1):
            said = _prompt(f"  {number}: {size} (not known: Enter)", check, default="")
            found.append(f"{key}:{said}" if said else key)
    return tuple(found)


# --- where it goes ----------------------------------------------------------------------------------


def _home(folder: Path, files: dict[str, bytes]) -> Path:
    """The folder, links resolved, if it can take the files. Raises RevisionError."""
    try:
        home = folder.resolve()
    except (OSError, RuntimeError, ValueError):
        raise RevisionError(f"{shown(str(folder))} cannot be a folder.", "Name another one.") from None
    if os.path.lexists(home) and not home.is_dir():
        raise RevisionError(f"{shown(str(folder))} is not a folder.", "Name another one.")
    there = [name for name in files if os.path.lexists(home / name)]
    if there:
        raise RevisionError(
            f"{shown(str(folder))} holds {', '.join(there)} already. Nothing was written.",
            "Name an empty folder, or add to the record that is there.",
        )
    for above in home.parents:
        if has_marker(above):
            raise RevisionError(
                f"{shown(str(folder))} lies in the folder of another vessel, {shown(str(above))}. Nothing was written.",
                "Name a folder outside it.",
            )
        if os.path.lexists(above / ".git"):
            break
    return home


def _with_others(home: Path, files: dict[str, bytes]) -> Record:
    """The record as it will be read, with whatever lies in the folder already."""
    others = dict(read_folder(home).files) if home.is_dir() else {}
    record = read({**others, **files})
    if record.vessel is None:
        from vesselspec.report.terminal import one_line

        first = record.problems[0]
        raise RevisionError(
            f"Nothing was written: {one_line(f'{first.place}: {first.found}')}.",
            "Every .yaml file in the folder belongs to the record: name an empty folder.",
        )
    return record


def _write(home: Path, files: dict[str, bytes]) -> None:
    made: list[Path] = []
    try:
        for each in reversed([home, *home.parents]):
            if not each.exists():
                each.mkdir()
                made.append(each)
    except OSError as error:
        raise RevisionError(f"{shown(str(home))} cannot be made: {error.strerror}.", "Name another folder.") from error
    try:
        write_record(home, rewrites({}, files), overwrite_uncommitted=True)
    except RevisionError:
        for each in reversed(made):
            each.rmdir()
        raise


# --- what comes next --------------------------------------------------------------------------------


def _next(record: Record) -> tuple[tuple[Unknown, ...], str]:
    """What to find out first, and what the survey says of the record as it is."""
    from vesselspec.report.terminal import counts_line
    from vesselspec.rules import Boat, survey
    from vesselspec.rules.unknowns import unknowns_of

    if record.vessel is None:  # `_with_others` has seen to it
        return (), ""
    boat = Boat(record.vessel, record.places)
    found = survey(boat)
    return unknowns_of(boat, found), counts_line(found.counts())


def _told(unknown: Unknown) -> str:
    return f"{unknown.item}: {'; '.join(unknown.missing)}"


def _steps(folder: Path, home: Path) -> list[str]:
    where = shlex.quote(str(folder))
    steps = [f"vesselspec unknowns {where}", f"vesselspec survey {where}"]
    try:
        inside = place_above(home) is not None
    except RevisionError:
        inside = True
    add = f"git -C {where} add . && git -C {where} commit -m 'Start the record'"
    return [(add if inside else f"git init {where} && {add}"), *steps]
