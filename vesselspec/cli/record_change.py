"""`vesselspec record-change`: the summary of a change as a dated page of the boat's own repository."""

from __future__ import annotations

import datetime
import re
import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vesselspec.cli.common import fail_on_option, on_option, output_option, page, put
from vesselspec.cli.status import status
from vesselspec.revisions import RevisionError
from vesselspec.revisions.errors import shown

if TYPE_CHECKING:
    from vesselspec.cli.change import Change

#: Beside vessel.yaml, a folder for each change. Its listing, by date, is the history of the refit: an index file would
#: conflict whenever two branches each write down a change.
FOLDER = "changes"
#: What hosts show of a folder by themselves.
PAGE = "README.md"
_PICTURES = ("before.svg", "after.svg")
_OFFLINE = "summary.html"
#: Letters of a title that go into the folder's name.
_MOST_LETTERS = 48


@click.command("record-change")
@click.argument("states", nargs=-1, metavar="[BASE [HEAD]] [VESSEL]")
@click.option("--title", metavar="TEXT", help="What was done, in a few words. Default: the newest commit's subject.")
@click.option("--html", "offline", is_flag=True, help="Also write the page as one HTML file, to read without the rest.")
@click.option("--dry-run", is_flag=True, help="Say what would be written, and write nothing.")
@click.option("--direct", is_flag=True, help="Compare BASE itself, not the point where HEAD branched off from it.")
@output_option()
@fail_on_option()
@on_option()
def command(
    states: tuple[str, ...],
    title: str | None,
    offline: bool,
    dry_run: bool,
    direct: bool,
    output: str,
    fail_on: str,
    on: datetime.date,
) -> int:
    """Write down the change from BASE to HEAD for the next technician, in VESSEL (a folder; default: here).

    The page goes into changes/DATE-TITLE/README.md beside vessel.yaml, with its pictures, to be committed with the
    change or after it. Without HEAD, or with HEAD given as `.`, it is the change to the files as they lie on disk;
    without BASE, what is not committed yet. The last word is VESSEL where it is a folder. The date is that of HEAD's
    commit, or of --on. Nothing is ever overwritten: a second page of one day and title gets a number, and one that
    is there already, word for word, is left alone.

    The page is written whatever the rules say of the change; the exit status is that of `review`. A change that
    cannot be understood is not written down.
    """
    from vesselspec.cli.change import read_change
    from vesselspec.cli.review import pages
    from vesselspec.report import review as report
    from vesselspec.rules.book import failed

    base, head, vessel = _meant(states)
    change = read_change("record-change", base, head, vessel, on, direct=direct)
    judged = change.judged
    crashed = any(any(failed(each.survey)) for each in (judged.before, judged.after))
    result = status(
        [f.signal_word for f in judged.counting], fail_on=fail_on, understood=judged.understood, rule_failed=crashed
    )
    if not judged.understood:
        put(report.review_text(page(), judged, full=False))
        return result
    if crashed or not judged.changes:
        why = "A rule failed" if crashed else report.verdict(judged).removesuffix(".")
        put(_told(output, f"{why}; nothing was written.\n", _data(change, "", "", (), written=False), ""))
        return result
    said = _title(change, title)
    made = pages(change, said)
    files = {PAGE: made["summary.md"], **{name: made[name] for name in _PICTURES if name in made}}
    files |= {_OFFLINE: made[_OFFLINE]} if offline else {}
    date = on if change.end is None else change.end.when.date()
    folder, written = _place(change, f"{date}-{_slug(said)}", files, dry_run=dry_run)
    words = "would be written" if dry_run and not written else "written" if written else "there already, word for word"
    listed = "".join(f"  {folder}/{name}\n" for name in files)
    text = f"{report.verdict(judged)}\n{words.capitalize()}:\n{listed}"
    if written:
        text += f"Commit it with the change: git add {folder}\n"
    put(_told(output, text, _data(change, said, folder, tuple(files), written=written), made["summary.md"].decode()))
    return result


def _told(output: str, text: str, data: dict[str, Any], markdown: str) -> str:
    from vesselspec.report import json

    return {"text": text, "json": json.dumps(data), "markdown": markdown}[output]


def _meant(states: tuple[str, ...]) -> tuple[str, str | None, Path]:
    """BASE, HEAD and VESSEL: the last word is VESSEL where all three are given or it is a folder."""
    words = list(states)
    if len(words) > 3:
        raise click.UsageError(f"there are {len(words)} words; BASE, HEAD and VESSEL are three.")
    vessel = Path()
    if len(words) == 3 or (words and Path(words[-1]).is_dir()):
        vessel = Path(words.pop())
    return (words[0] if words else "HEAD"), (words[1] if len(words) > 1 else None), vessel


def _title(change: Change, title: str | None) -> str:
    said = title if title is not None else next((r.subject for r in reversed(change.judged.reasons)), "")
    said = " ".join(said.split())
    if not said:
        raise RevisionError(
            "There is no commit yet that could give the page its title.", "Say what was done with --title."
        )
    return said


def _slug(title: str) -> str:
    """A title as part of a folder's name: letters and figures that every file system and address has."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    words = re.findall(r"[a-z0-9]+", plain)
    short = ""
    for word in words:
        if short and len(short) + 1 + len(word) > _MOST_LETTERS:
            break
        short = f"{short}-{word}" if short else word[:_MOST_LETTERS]
    return short or "change"


def _place(change: Change, name: str, files: dict[str, bytes], *, dry_run: bool) -> tuple[str, bool]:
    """The folder of the page, from the vessel's own, and whether it was written now."""
    from vesselspec.cli.new_folder import same_there, unused, write_new_folder

    top = change.repository.place.work_tree
    if top is None:
        raise RevisionError("A bare repository has no work tree to write the page to.", "Run it in a clone.")
    vessel = top / change.repository.folder
    if not vessel.is_dir() or vessel.resolve() != vessel:
        raise RevisionError(
            f"{shown(str(change.repository.folder))} is no folder of the work tree, or lies behind a symbolic link.",
            "Check out a state that has the vessel, and name its own folder.",
        )
    parent = vessel / FOLDER
    there = same_there(parent, name, PAGE, files[PAGE])
    if there is not None:
        return f"{FOLDER}/{there}", False
    if dry_run:
        return f"{FOLDER}/{unused(parent, name)}", False
    return f"{FOLDER}/{write_new_folder(parent, name, files)}", True


def _data(change: Change, title: str, folder: str, files: tuple[str, ...], *, written: bool) -> dict[str, Any]:
    """What was done, for machines: schema/record-change.schema.json."""
    from vesselspec.report import review as report
    from vesselspec.report.survey import FORMAT
    from vesselspec.rules import by_word

    judged = change.judged
    return {
        "format": FORMAT,
        "kind": "record-change",
        "vessel": report.name_of(judged),
        "base": judged.before.name,
        "head": judged.after.name,
        "title": title,
        "verdict": report.verdict(judged),
        "written": written,
        "folder": folder,
        "files": [f"{folder}/{name}" for name in files],
        "counts": {"new": by_word(judged.counting)},
    }
