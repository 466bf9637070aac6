"""The folder of a book: marked as ours by a small manifest, brought up to date, never cleared of what is foreign."""

from __future__ import annotations

import json
from collections.abc import Collection
from pathlib import Path, PurePosixPath

from vesselspec.cli.common import write_files
from vesselspec.revisions import RevisionError
from vesselspec.revisions.errors import shown

MANIFEST = "handover.json"
_MOST_BYTES = 4_000_000
_REMEDY = "Name another folder with --out, or move aside what is in this one."


def refuse_foreign(out: Path) -> frozenset[str]:
    """The files of the book that is in the folder already; none where there is no book. Refuse what is not ours."""
    if not out.exists() and not out.is_symlink():
        return frozenset()
    if not out.is_dir():
        raise RevisionError(f"{shown(str(out))} is no folder.", _REMEDY)
    manifest = out / MANIFEST
    if not manifest.is_file() or manifest.is_symlink():
        try:
            empty = next(out.iterdir(), None) is None
        except OSError as error:
            raise RevisionError(f"{shown(str(out))} cannot be read: {error.strerror}.", _REMEDY) from error
        if empty:
            return frozenset()
        raise RevisionError(f"{shown(str(out))} holds something that is no hand-over book.", _REMEDY)
    try:
        with manifest.open("rb") as file:
            raw = file.read(_MOST_BYTES + 1)
        read = json.loads(raw) if len(raw) <= _MOST_BYTES else None
    except (OSError, ValueError, RecursionError):
        read = None
    if not isinstance(read, dict) or read.get("kind") != "handover" or not isinstance(read.get("files"), list):
        raise RevisionError(f"{shown(str(manifest))} cannot be read as the manifest of a hand-over book.", _REMEDY)
    return frozenset(each for each in read["files"] if isinstance(each, str) and _inside(each))


def _inside(name: str) -> bool:
    """Whether a name of a manifest, which anybody may have written, is one that a book can have."""
    path = PurePosixPath(name)
    return not path.is_absolute() and len(path.parts) in (1, 2) and ".." not in path.parts and "\\" not in name


def write_book(out: Path, files: dict[str, bytes], earlier: Collection[str]) -> None:
    """Write a book over an earlier one: first its manifest, so that a book cut short is still known as one of ours."""
    for folder in {out / name.rpartition("/")[0] for name in (*files, *earlier) if "/" in name}:
        if folder.is_symlink():
            raise RevisionError(f"{shown(str(folder))} is a symbolic link, which is not followed.", _REMEDY)
    foreign = [name for name in files if name not in earlier and (out / name).exists()]
    if foreign:
        raise RevisionError(f"{shown(str(out / foreign[0]))} is not of the book that is there.", _REMEDY)
    write_files(out, {MANIFEST: _manifest({*files, *earlier})})
    write_files(out, files)
    for name in set(earlier) - set(files):
        gone = out / name
        if gone.is_file() or gone.is_symlink():
            gone.unlink(missing_ok=True)
    write_files(out, {MANIFEST: _manifest(files)})


def _manifest(names: Collection[str]) -> bytes:
    return (json.dumps({"format": 1, "kind": "handover", "files": sorted(names)}, indent=1) + "\n").encode()
