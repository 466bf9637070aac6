"""How the commands that edit a record write its files: asked where needed, all or none, never half of one."""

from __future__ import annotations

import contextlib
import difflib
import errno
import os
import sys
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import click

from vesselspec.cli.common import Decorator
from vesselspec.record.yaml import BOM
from vesselspec.revisions import RevisionError
from vesselspec.revisions.errors import shown

#: What a file system without hard links says, such as that of a memory stick.
_NO_LINKS = (errno.EPERM, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK)


@dataclass(frozen=True)
class Rewrite:
    """A file of a record and what it is to hold: its path in the vessel's folder, with / between folders."""

    file: str
    #: The content that was read; None where there is no such file.
    old: bytes | None
    new: bytes


def rewrites(old: Mapping[str, bytes], new: Mapping[str, bytes]) -> tuple[Rewrite, ...]:
    """What has to be written to get from one state of the files to another; no file is ever deleted."""
    return tuple(Rewrite(file, old.get(file), new[file]) for file in sorted(new) if old.get(file) != new[file])


def dry_run_option() -> Decorator:
    """Look first."""
    return click.option("--dry-run", is_flag=True, help="Print what would be written as a diff, and write nothing.")


def overwrite_option() -> Decorator:
    """What an edit may write over."""
    return click.option(
        "--overwrite-uncommitted",
        is_flag=True,
        help="Write over files with changes that git does not hold yet. Default: ask on a terminal, else refuse.",
    )


def diff(changes: Iterable[Rewrite]) -> str:
    """The changes as a diff that can be applied; characters that a terminal obeys become escapes."""
    from vesselspec.report.terminal import one_line

    out: list[str] = []
    for each in changes:
        before, after = (_lines(content or b"") for content in (each.old, each.new))
        name = "/dev/null" if each.old is None else f"a/{each.file}"
        for line in difflib.unified_diff(before, after, name, f"b/{each.file}"):
            said = line.removesuffix("\n")
            crlf = said.endswith("\r")
            told = "\t".join(map(one_line, said.removesuffix("\r").split("\t")))
            out.append(told + ("\r\n" if crlf else "\n"))
            if not line.endswith("\n"):
                out.append("\\ No newline at end of file\n")
    return "".join(out)


def _lines(content: bytes) -> list[str]:
    lines = content.decode("utf-8", "replace").split("\n")
    return [*(line + "\n" for line in lines[:-1]), *filter(None, lines[-1:])]


def uncommitted(folder: Path, files: Mapping[str, bytes]) -> tuple[str, ...]:
    """Of some files of a vessel's folder those whose content git does not hold at HEAD.

    None where the folder is in no repository: there nothing is kept anyway. Line endings do not count, for git may
    change them on the way.
    """
    from vesselspec.revisions import Repository
    from vesselspec.revisions.place import place_above

    try:
        if place_above(folder) is None:
            return ()
        held: Mapping[str, bytes] = Repository.open(folder, at="HEAD").snapshot("HEAD").files
    except RevisionError:  # no commit yet
        held = {}
    return tuple(file for file, content in files.items() if file not in held or _plain(held[file]) != _plain(content))


def _plain(content: bytes) -> bytes:
    return content.removeprefix(BOM).replace(b"\r\n", b"\n")


def write_record(folder: Path, changes: Sequence[Rewrite], *, overwrite_uncommitted: bool) -> None:
    """Write the changes into a vessel's folder, all or none, over nothing but the contents that were read.

    Every file is written beside its place and moved there only when all are written, so that no reader sees half of
    one and a disk that is full loses nothing; if a move fails, those before it are undone. Symbolic links are refused,
    permissions stay. Raises RevisionError where something is in the way, or where git does not hold yet what would be
    written over and nobody agrees.
    """
    over = {each.file: each.old for each in changes if each.old is not None}
    loose = () if overwrite_uncommitted else uncommitted(folder, over)
    if loose and not _agreed(loose):
        raise RevisionError(
            f"{', '.join(map(shown, loose))}: changed since the last commit. Nothing was written.",
            "Commit first, or say --overwrite-uncommitted.",
        )
    with contextlib.ExitStack() as stack:
        try:
            ready = [(each, *stack.enter_context(_prepared(folder, each))) for each in changes]
            for each, _, _ in ready:
                _check(folder, each)
        except OSError as error:
            raise _failed(folder, changes, error) from error
        done: list[tuple[Rewrite, Path | None]] = []
        try:
            for each, new, old in ready:
                _move(folder, each, new)
                done.append((each, old))
        except BaseException as error:
            for each, old in reversed(done):
                _undo(folder, each, old)
            if isinstance(error, OSError):
                raise _failed(folder, changes, error) from error
            raise


def _agreed(files: Sequence[str]) -> bool:
    """Ask whoever sits at the terminal; nobody there means no."""
    if not (sys.stdin is not None and sys.stdin.isatty() and sys.stderr.isatty()):
        return False
    said = ", ".join(map(shown, files))
    return click.confirm(f"{said}: changed since the last commit. Write over that?", default=False, err=True)


@contextlib.contextmanager
def _prepared(folder: Path, change: Rewrite) -> Iterator[tuple[Path, Path | None]]:
    """The new content beside its place, and the old one too, so that undoing needs no room."""
    parent = _parent(folder, change.file)
    mode = (folder / change.file).lstat().st_mode & 0o777 if change.old is not None else 0o644
    made: list[Path] = []
    try:
        for content in (change.new, *(() if change.old is None else (change.old,))):
            handle, name = tempfile.mkstemp(dir=parent, prefix=".vesselspec-")
            made.append(Path(name))
            with os.fdopen(handle, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            made[-1].chmod(mode)
        yield made[0], made[1] if len(made) > 1 else None
    finally:
        for path in made:
            path.unlink(missing_ok=True)
        _drop_empty(folder, parent)


def _parent(folder: Path, file: str) -> Path:
    """The folder of a file, made if it is not there. No part of the way may be a link, or lead out of the folder."""
    here = folder
    for part in file.split("/")[:-1]:
        here /= part
        if part in ("", ".", "..") or here.is_symlink():
            raise NotADirectoryError(errno.ENOTDIR, "it lies behind a symbolic link", str(here))
        here.mkdir(exist_ok=True)
    return here


def _drop_empty(folder: Path, parent: Path) -> None:
    """Remove folders that were made for a file that did not come about."""
    while parent != folder:
        try:
            parent.rmdir()
        except OSError:
            return
        parent = parent.parent


def _check(folder: Path, change: Rewrite) -> None:
    target = folder / change.file
    if change.old is None:
        if os.path.lexists(target):
            raise FileExistsError(errno.EEXIST, "something is there already", str(target))
    elif target.is_symlink():
        raise FileExistsError(errno.EEXIST, "it is a symbolic link", str(target))
    elif target.read_bytes() != change.old:
        raise FileExistsError(errno.EEXIST, "it was changed by somebody else", str(target))


def _move(folder: Path, change: Rewrite, new: Path) -> None:
    _check(folder, change)
    if change.old is None:
        try:
            os.link(new, folder / change.file)  # fails where anything has appeared there, a link to nowhere too
            return
        except OSError as error:
            if error.errno not in _NO_LINKS:
                raise
    new.replace(folder / change.file)


def _undo(folder: Path, change: Rewrite, old: Path | None) -> None:
    target = folder / change.file
    with contextlib.suppress(OSError):
        if old is None:
            target.unlink()
        else:
            old.replace(target)


def _failed(folder: Path, changes: Sequence[Rewrite], error: OSError) -> RevisionError:
    where = shown(str(error.filename or folder))
    stays = "It was left as it is." if len(changes) == 1 else "Every file was left as it is."
    return RevisionError(f"{where} cannot be written: {error.strerror}. {stays}", "See to that, and run it again.")
