"""Where the vessel is, seen from where the user stands."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from vesselspec.revisions.errors import RevisionError, shown
from vesselspec.revisions.values import MARKER

LEVELS = 2
"""How far below a folder a vessel is looked for: 'vessels/one' is found, a home folder is not searched."""

LISTED = 10
"""Vessels named in an error; more would push the sentence off the screen."""


def find_vessel(path: Path) -> Path:
    """Find the vessel folder: upwards from the path, else the only one within two levels below it."""
    start = existing_folder(path)
    for folder in (start, *start.parents):
        if has_marker(folder):
            return folder
        if os.path.lexists(folder / ".git"):
            break  # what lies above the repository is not meant
    below = _below(start, LEVELS)
    if len(below) == 1:
        return below[0]
    if below:
        names = ", ".join(shown(folder.relative_to(start).as_posix()) for folder in below[:LISTED])
        more = f" and {len(below) - LISTED} more" if len(below) > LISTED else ""
        raise RevisionError(
            f"There are several vessels below {shown(str(start))}: {names}{more}.",
            "Name the folder of one of them.",
        )
    raise RevisionError(
        f"There is no {MARKER} in {shown(str(start))}, above it, or up to {LEVELS} levels below it.",
        f"Name a vessel folder: one that has a {MARKER}.",
    )


def existing_folder(path: Path) -> Path:
    """The folder that is meant by a path, links resolved: the path itself or the folder of the file."""
    try:
        resolved = path.resolve(strict=True)
    except (OSError, ValueError, RuntimeError):
        raise RevisionError(f"{shown(str(path))} does not exist or cannot be read.", "Check the path.") from None
    return resolved if resolved.is_dir() else resolved.parent


def has_marker(folder: Path) -> bool:
    """Whether the folder has the marker file: a regular one, as a link is not followed."""
    try:
        return stat.S_ISREG((folder / MARKER).lstat().st_mode)
    except OSError:
        return False


def _below(folder: Path, levels: int) -> list[Path]:
    try:
        with os.scandir(folder) as listing:
            names = [item.name for item in listing if item.is_dir(follow_symlinks=False)]
    except OSError:
        return []
    found: list[Path] = []
    for name in sorted(names):
        if name.startswith("."):
            continue
        below = folder / name
        if has_marker(below):
            found.append(below)
        elif levels > 1:
            found += _below(below, levels - 1)
    return found
