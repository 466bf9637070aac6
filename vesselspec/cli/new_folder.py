"""A folder that is written as a whole or not at all, and never over anything."""

from __future__ import annotations

import errno
import os
import shutil
import stat
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path

from vesselspec.revisions import RevisionError
from vesselspec.revisions.errors import shown

#: Folders of one name that are numbered at most.
_MOST = 99
_FILE_LIMIT = 16 * 1024 * 1024


def write_new_folder(parent: Path, name: str, files: Mapping[str, bytes]) -> str:
    """Write files into a new folder below `parent`, which is made if need be; return its name, numbered if need be.

    Everything is written into a hidden folder first, which then takes the place of an empty one that only we can
    have made: no reader sees half of it, nothing is overwritten, no symbolic link followed.
    """
    _real(parent)
    temporary: Path | None = None
    try:
        parent.mkdir(exist_ok=True)
        _real(parent)
        temporary = Path(tempfile.mkdtemp(dir=parent, prefix=".vesselspec-"))
        for file, content in files.items():
            with (temporary / file).open("xb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            (temporary / file).chmod(0o644)
        temporary.chmod(0o755)
        for each in _names(name):
            if _moved(temporary, parent / each):
                return each
    except OSError as error:
        raise RevisionError(
            f"{shown(str(error.filename or parent))} cannot be written: {error.strerror}. Nothing was written.",
            "See to that, and run it again.",
        ) from error
    finally:
        if temporary is not None:
            shutil.rmtree(temporary, ignore_errors=True)
    raise _full(parent, name)


def unused(parent: Path, name: str) -> str:
    """The name that a new folder would get."""
    _real(parent)
    for each in _names(name):
        if not os.path.lexists(parent / each):
            return each
    raise _full(parent, name)


def same_there(parent: Path, name: str, file: str, content: bytes) -> str | None:
    """A folder of that name, numbered or not, in which a file has that very content."""
    _real(parent)
    for each in _names(name):
        path = parent / each / file
        try:
            if not stat.S_ISDIR((parent / each).lstat().st_mode) or not stat.S_ISREG(path.lstat().st_mode):
                continue
            with path.open("rb") as stream:
                if stream.read(_FILE_LIMIT) == content:
                    return each
        except FileNotFoundError:
            if not os.path.lexists(parent / each):
                return None
        except OSError:
            continue
    return None


def _names(name: str) -> Iterator[str]:
    yield name
    for number in range(2, _MOST + 1):
        yield f"{name}-{number}"


def _real(folder: Path) -> None:
    """Refuse what is there and is no folder: a link could lead out of the repository."""
    try:
        mode = folder.lstat().st_mode
    except FileNotFoundError:
        return
    except OSError as error:
        raise RevisionError(f"{shown(str(folder))} cannot be read: {error.strerror}.", "See to that.") from error
    if not stat.S_ISDIR(mode):
        raise RevisionError(
            f"{shown(str(folder))} is a symbolic link or no folder; nothing was written.", "Put a folder in its place."
        )


def _moved(ready: Path, target: Path) -> bool:
    """Put a folder in a place that is free; False where it is not."""
    try:
        target.mkdir()
    except FileExistsError:
        return False
    try:
        if os.name == "nt":  # which moves a folder over none, not even an empty one
            target.rmdir()
        ready.rename(target)
    except OSError as error:
        if error.errno in (errno.ENOTEMPTY, errno.EEXIST):
            return False  # somebody was quicker, and put something into it
        target.rmdir()
        raise
    return True


def _full(parent: Path, name: str) -> RevisionError:
    return RevisionError(
        f"There are {_MOST} of {shown(name)} in {shown(str(parent))} already; nothing was written.",
        "Say with --title what is different about this one.",
    )
