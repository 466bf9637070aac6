"""A vessel folder as it lies on disk. No git needed."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Callable, Iterator
from pathlib import Path

from vesselspec.revisions.errors import RevisionError, shown
from vesselspec.revisions.intake import (
    FILE_LIMIT,
    Entry,
    Kind,
    admit,
    belonging,
    files_of,
    hidden,
    oversized,
    refusal,
    sort_out,
)
from vesselspec.revisions.values import MARKER, WORK_TREE, Problem, Snapshot, snapshot_of

# No link is followed even if one is put in place after the listing, and a pipe cannot make us wait.
_OPEN = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


def read_folder(folder: Path) -> Snapshot:
    """Read a vessel folder without asking git."""
    return read_entries(folder, lambda entry: True, "sha1")


def read_entries(folder: Path, wanted: Callable[[Entry], bool], hash_name: str) -> Snapshot:
    """Read the wanted entries of a vessel folder; blob ids are computed with the given hash."""
    if not folder.is_dir():
        raise RevisionError(f"{shown(str(folder))} is not a folder.", f"Name a folder that has a {MARKER}.")
    held = [e for e in belonging(_walk(folder)) if wanted(e)]
    entries, problems = sort_out(held)
    admitted, more = admit({e.path: e.size for e in entries})
    problems += more
    found: dict[str, tuple[str, bytes]] = {}
    for path in admitted:
        content = _read(folder, path)
        if isinstance(content, Problem):
            problems.append(content)
        else:
            found[path] = (blob_id(content, hash_name), content)
    return snapshot_of(WORK_TREE, None, found, problems, files_of(held))


def read_picture(folder: Path, path: str, most: int) -> bytes | None:
    """A file beside the record, at most `most` bytes and one; None where it is none, or where a link is on the way."""
    if hidden(path) or not _decodable(path):
        return None
    at = folder
    for part in path.split("/")[:-1]:
        at /= part
        if at.is_symlink():
            return None
    try:
        with os.fdopen(os.open(folder / path, _OPEN), "rb") as file:
            return file.read(most + 1) if stat.S_ISREG(os.fstat(file.fileno()).st_mode) else None
    except (OSError, ValueError):
        return None


def _decodable(path: str) -> bool:
    return "\0" not in path and not any("\ud800" <= c <= "\udfff" for c in path)


def blob_id(content: bytes, hash_name: str) -> str:
    """The id that git gives to a blob with these bytes."""
    digest = hashlib.new(hash_name, b"blob %d\0" % len(content), usedforsecurity=False)
    digest.update(content)
    return digest.hexdigest()


def _read(folder: Path, path: str) -> bytes | Problem:
    try:
        with os.fdopen(os.open(folder / path, _OPEN), "rb") as file:
            if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                return refusal(Entry(path, Kind.SPECIAL))
            content = file.read(FILE_LIMIT + 1)
    except OSError:
        return refusal(Entry(path, Kind.UNREADABLE))
    return content if len(content) <= FILE_LIMIT else oversized(path)


def _walk(root: Path) -> Iterator[Entry]:
    folders = [(root, "")]
    while folders:
        folder, prefix = folders.pop()
        try:
            with os.scandir(folder) as listing:
                items = list(listing)
        except OSError:
            yield Entry(prefix.rstrip("/") or MARKER, Kind.UNREADABLE)
            continue
        names = {item.name for item in items}
        if prefix and ".git" in names:
            yield Entry(prefix.rstrip("/"), Kind.SUBMODULE)
            continue
        for item in items:
            if item.name.startswith("."):
                continue
            if item.is_dir(follow_symlinks=False):
                folders.append((folder / item.name, f"{prefix}{item.name}/"))
            else:
                yield _entry(item, prefix + item.name)


def _entry(item: os.DirEntry[str], path: str) -> Entry:
    try:
        status = item.stat(follow_symlinks=False)
    except OSError:
        return Entry(path, Kind.UNREADABLE)
    if stat.S_ISLNK(status.st_mode):
        return Entry(path, Kind.LINK)
    if not stat.S_ISREG(status.st_mode):
        return Entry(path, Kind.SPECIAL)
    return Entry(path, Kind.FILE, status.st_size)
