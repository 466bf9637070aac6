"""What an edit of a record did, or would do: terminal text and JSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from vesselspec.record import Place
from vesselspec.report.survey import FORMAT
from vesselspec.report.terminal import Page, one_line


@dataclass(frozen=True)
class EditedFile:
    """A file that an edit writes, with the diff of it."""

    file: str
    is_new: bool
    diff: str


@dataclass(frozen=True)
class Edited:
    """One edit of a record."""

    command: str
    vessel: str
    #: False where nothing was to be written, or only to be shown.
    written: bool
    said: tuple[str, ...]
    files: tuple[EditedFile, ...] = ()
    #: What stays for a person to look at, with its words.
    left: tuple[tuple[Place, str], ...] = ()
    left_title: str = "Left as they are; look whether they still hold:"
    #: What to do next, as lines to type.
    then: tuple[str, ...] = ()


def edited_text(page: Page, edited: Edited) -> str:
    """For a terminal."""
    for sentence in edited.said:
        page.wrapped(sentence)
    if edited.written:
        page.wrapped(f"Written: {', '.join(each.file for each in edited.files)}.")
    if edited.left:
        page.line()
        page.wrapped(edited.left_title)
        for place, text in edited.left:
            page.line(f"  {one_line(str(place))}   {one_line(text)}")
    if edited.then:
        page.line()
        page.line("Next:")
        for line in edited.then:
            page.line(f"  {one_line(line)}")
    return page.text()


def edited_json(edited: Edited) -> dict[str, Any]:
    """For machines: schema/edit.schema.json."""
    return {
        "format": FORMAT,
        "kind": "edit",
        "command": edited.command,
        "vessel": edited.vessel,
        "understood": True,
        "written": edited.written,
        "said": list(edited.said),
        "files": [{"file": each.file, "is_new": each.is_new, "diff": each.diff} for each in edited.files],
        "left": [
            {"place": {"file": place.file, "line": place.line, "column": place.column}, "text": text}
            for place, text in edited.left
        ],
        "then": list(edited.then),
        "problems": [],
    }
