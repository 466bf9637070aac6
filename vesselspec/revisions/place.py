"""Where the repository is. Not asked of git, which the variables of a surrounding hook would mislead."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from vesselspec.revisions.errors import RevisionError, shown

_POINTER_LIMIT = 8192
"""Bytes of a '.git' or 'commondir' file: one path."""


@dataclass(frozen=True)
class Place:
    """The folders of a repository; a bare one has no work tree."""

    git_dir: Path
    common_dir: Path
    """Differs from the git folder in a linked work tree, whose objects and branches are elsewhere."""
    work_tree: Path | None


def bare_place(folder: Path) -> Place | None:
    """The bare repository that this very folder is. Not sought upwards: a record could hold a forged one."""
    if folder.name != ".git" and _is_git_dir(folder):
        return Place(folder, folder, None)
    return None


def place_above(folder: Path) -> Place | None:
    """The repository whose work tree holds this folder."""
    for candidate in (folder, *folder.parents):
        pointer = candidate / ".git"
        git_dir = _pointed_to(pointer) if pointer.is_file() else pointer
        if _is_git_dir(git_dir):
            return Place(git_dir, _common_dir(git_dir), candidate)
        if pointer.is_file():
            raise RevisionError(
                f"{shown(str(pointer))} does not lead to a git repository.",
                "If the repository was moved, type: git worktree repair",
            )
    return None


def below_top(folder: Path) -> PurePosixPath:
    """A folder (absolute, links resolved) from the top of its repository; '.' where there is no repository."""
    try:
        place = place_above(folder)
    except RevisionError:
        return PurePosixPath()
    if place is None or place.work_tree is None:
        return PurePosixPath()
    return PurePosixPath(folder.relative_to(place.work_tree).as_posix())


def _is_git_dir(folder: Path) -> bool:
    has_objects = (folder / "objects").is_dir() or (folder / "commondir").is_file()
    return has_objects and ((folder / "HEAD").is_file() or (folder / "HEAD").is_symlink())


def _pointed_to(pointer: Path) -> Path:
    return (pointer.parent / _line(pointer).removeprefix("gitdir:").strip()).resolve()


def _common_dir(git_dir: Path) -> Path:
    pointer = git_dir / "commondir"
    return (git_dir / _line(pointer)).resolve() if pointer.is_file() else git_dir


def _line(file: Path) -> str:
    try:
        with file.open("rb") as stream:
            text = stream.read(_POINTER_LIMIT).decode("utf-8", "surrogateescape")
    except OSError:
        return ""
    return text.replace("\0", "").rstrip("\r\n")
