"""Which entries of a folder belong to its vessel, which are refused, and how much is read at most."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum

from vesselspec.revisions.errors import shown
from vesselspec.revisions.values import MARKER, SUFFIX, Problem

MIB = 1024 * 1024

FILE_LIMIT = 4 * MIB
"""Bytes of one file. A record of 2,000 branch circuits is 1.5 MiB; beyond this it is no record."""

TOTAL_LIMIT = 64 * MIB
"""Bytes of all files. A record can come from strangers: it must fit into memory several times."""

COUNT_LIMIT = 4000
"""Files. One file per device of the largest vessel stays below; more is a mistake or an attack."""


class Kind(Enum):
    """What an entry of a folder is."""

    FILE = "file"
    LINK = "link"
    SUBMODULE = "submodule"
    SPECIAL = "special"
    UNREADABLE = "unreadable"


@dataclass(frozen=True)
class Entry:
    """One entry of a vessel folder or of the tree of a commit; the path is POSIX and relative to it."""

    path: str
    kind: Kind
    size: int = 0
    blob: str = ""


def hidden(path: str) -> bool:
    """Whether a part of the path begins with a dot. Covers '..' and empty parts of a forged tree too."""
    return any(not part or part.startswith(".") for part in path.split("/"))


def vessel_folders(entries: Iterable[Entry]) -> set[str]:
    """Every folder that has the marker file; '' is the folder that was listed."""
    return {
        e.path.rpartition("/")[0]
        for e in entries
        if e.kind is Kind.FILE and e.path.rpartition("/")[2] == MARKER and not hidden(e.path)
    }


def belonging(entries: Iterable[Entry]) -> list[Entry]:
    """Keep what is neither hidden nor part of another vessel further down."""
    kept = [e for e in entries if not hidden(e.path)]
    others = vessel_folders(kept) - {""}
    return [e for e in kept if not others.intersection(_folders_above(e.path))] if others else kept


def files_of(entries: Iterable[Entry]) -> list[str]:
    """The paths of all regular files, read or not."""
    return [e.path for e in entries if e.kind is Kind.FILE]


def _folders_above(path: str) -> list[str]:
    parts = path.split("/")
    return ["/".join(parts[:n]) for n in range(1, len(parts))]


def sort_out(entries: Iterable[Entry]) -> tuple[list[Entry], list[Problem]]:
    """Separate the files of a record, sorted by path, from the entries that are refused."""
    files: list[Entry] = []
    problems: list[Problem] = []
    for entry in sorted(entries, key=lambda e: e.path):
        if entry.kind in _REFUSED:
            problems.append(refusal(entry))
        elif not entry.path.endswith(SUFFIX):
            continue  # drawings, photographs and notes may lie beside the record
        elif not _decodable(entry.path):
            problems.append(_undecodable(entry.path))
        elif entry.kind is not Kind.FILE:
            problems.append(refusal(entry))
        elif len(files) == COUNT_LIMIT:
            reason = f"The vessel has more than {COUNT_LIMIT:,} files: {shown(entry.path)} and all after it"
            problems.append(Problem(entry.path, f"{reason} were not read.", "Put more entries into each file."))
            break
        else:
            files.append(entry)
    return files, problems


_REFUSED = {Kind.LINK, Kind.SUBMODULE, Kind.UNREADABLE}
"""Refused whatever their name: a folder of records could be behind it."""


def refusal(entry: Entry) -> Problem:
    """Say why an entry is not read."""
    path = shown(entry.path)
    if entry.kind is Kind.LINK:
        reason, remedy = (
            f"{path} is a symbolic link and is not followed.",
            "Put the file itself in its place.",
        )
    elif entry.kind is Kind.SUBMODULE:
        reason = f"{path} is a submodule or another repository and is not read."
        remedy = "Put the files themselves into the vessel folder, or move it out."
    elif entry.kind is Kind.SPECIAL:
        reason, remedy = f"{path} is not a regular file.", "Remove it, or put a regular file in its place."
    else:
        reason, remedy = f"{path} cannot be read.", "Check its permissions."
    return Problem(printable_path(entry.path), reason, remedy)


def admit(sizes: Mapping[str, int]) -> tuple[list[str], list[Problem]]:
    """From path → size, choose what is read within the limits, and say what is not."""
    admitted: list[str] = []
    problems: list[Problem] = []
    total = 0
    for path, size in sorted(sizes.items()):
        if size > FILE_LIMIT:
            problems.append(oversized(path))
            continue
        total += size
        if total > TOTAL_LIMIT:
            reason = f"The files exceed {TOTAL_LIMIT // MIB} MiB together: {shown(path)} and all after it"
            problems.append(Problem(path, f"{reason} were not read.", "Move what is no record out of the folder."))
            break
        admitted.append(path)
    return admitted, problems


def oversized(path: str) -> Problem:
    """Say that one file is too large."""
    reason = f"{shown(path)} is larger than {FILE_LIMIT // MIB} MiB and was not read."
    return Problem(path, reason, "Split it into several files.")


def printable_path(path: str) -> str:
    """The path itself where it is Unicode, else with the stray bytes escaped."""
    return path.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")


def _decodable(path: str) -> bool:
    return not any("\ud800" <= c <= "\udfff" for c in path)


def _undecodable(path: str) -> Problem:
    path = printable_path(path)
    reason = f"The name {shown(path)} is not valid UTF-8, so the file was not read."
    return Problem(path, reason, "Rename the file.")
