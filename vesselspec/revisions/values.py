"""What is read: commits, snapshots of a vessel folder, and the entries that were refused."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime

MARKER = "vessel.yaml"
"""The file that makes a folder a vessel."""

SUFFIX = ".yaml"
"""The end of the name of every file of a record."""

WORK_TREE = "work tree"
"""The name of a snapshot that was read from disk."""

SHORT_ID = 10
"""Digits of an abbreviated commit id: unique in any repository a vessel will have, still short to read."""


@dataclass(frozen=True)
class Commit:
    """One commit, as the commit object itself says, without replacements, grafts or name mapping."""

    id: str
    when: datetime
    """The committer's date, with its own offset from UTC."""
    author: str
    """The author's name, or the address where the name is empty."""
    subject: str
    body: str
    parents: tuple[str, ...]
    """Also those that a shallow clone does not hold."""

    @property
    def short(self) -> str:
        """The abbreviated id."""
        return self.id[:SHORT_ID]


@dataclass(frozen=True)
class Problem:
    """One entry of a vessel folder that was not read. The path may hold any character, the sentences not."""

    path: str
    reason: str
    remedy: str


@dataclass(frozen=True)
class Snapshot:
    """All files of one vessel at one moment, and what was refused."""

    name: str
    commit: Commit | None
    files: Mapping[str, bytes]
    """POSIX path relative to the vessel folder → content, sorted by path."""
    blobs: Mapping[str, str]
    """POSIX path → id of the git blob with exactly these bytes."""
    problems: tuple[Problem, ...]
    names: frozenset[str] = frozenset()
    """POSIX path of every file in the vessel folder, photographs and drawings too, accents composed (NFC)."""

    @property
    def has_vessel(self) -> bool:
        """Whether there was a vessel at all: before its first commit there is none, which is no error."""
        return MARKER in self.files


def snapshot_of(
    name: str,
    commit: Commit | None,
    found: Mapping[str, tuple[str, bytes]],
    problems: Iterable[Problem],
    names: Iterable[str],
) -> Snapshot:
    """Put a snapshot together from path → (blob id, content), and the paths of all files, read or not."""
    ordered = sorted(found.items())
    return Snapshot(
        name,
        commit,
        MappingProxyType({path: content for path, (_, content) in ordered}),
        MappingProxyType({path: blob for path, (blob, _) in ordered}),
        tuple(sorted(problems, key=lambda problem: problem.path)),
        frozenset(composed(path) for path in names),
    )


def composed(path: str) -> str:
    """One spelling for accented letters: some file systems list another one than git does."""
    return path if path.isascii() else unicodedata.normalize("NFC", path)
