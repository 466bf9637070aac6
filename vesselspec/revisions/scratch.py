"""Merges tried out beside the repository, which is only ever read.

Git can merge without a work tree, but it writes what it makes. So the objects that a merge needs are copied into a
repository of our own in a temporary folder. Borrowing them instead would not do: where git makes an object that the
lender has already, it sets the time of the lender's file. The repository of our own has no settings and none of the
user's, so that no program can take part in a merge.
"""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from types import TracebackType

from vesselspec.revisions.blobs import Blobs
from vesselspec.revisions.errors import RevisionError
from vesselspec.revisions.place import Place
from vesselspec.revisions.repository import Repository
from vesselspec.revisions.runner import Runner
from vesselspec.revisions.values import SUFFIX, Commit, Snapshot

#: The first git that merges without a work tree.
NEEDED = (2, 38)
#: Bytes that are copied for merging at most: what both sides changed, unpacked. Ours.
_MOST_BYTES = 1024**3
#: As git does by default, whatever anybody has set.
_SETTINGS = ("merge.renames=true", "merge.directoryRenames=conflict", "merge.renameLimit=7000", "diff.renames=true")
_ATTRIBUTES = ".gitattributes"
_SUBMODULE = b"160000"


@dataclass(frozen=True)
class Merged:
    """What git would make of two commits."""

    tree: str
    #: The vessel's files in it. Where there are conflicts, files have marks in them and are no record.
    snapshot: Snapshot
    #: Files with conflicts: those of the vessel, relative to its folder, and those elsewhere in the repository.
    conflicts: tuple[str, ...]
    elsewhere: tuple[str, ...]


@dataclass
class Scratch:
    """Tries merges in a temporary folder, which is gone at the end: `with Scratch(repository) as scratch`."""

    repository: Repository
    _home: Path = field(init=False)
    _own: Repository = field(init=False)
    _copied: set[str] = field(default_factory=set)
    _listed: dict[str, _Listing] = field(default_factory=dict)

    def __enter__(self) -> Scratch:
        import tempfile  # noqa: PLC0415  # only a merge needs it

        _check_version(self.repository.git)
        self._home = Path(tempfile.mkdtemp(prefix="vesselspec-"))
        git_dir, work = self._home / "git", self._home / "work"
        for folder in (git_dir / "objects" / "pack", git_dir / "refs", work):
            folder.mkdir(parents=True)
        (git_dir / "HEAD").write_text("ref: refs/heads/none\n", encoding="ascii")
        sha256 = self.repository.object_format == "sha256"
        version = "1\n[extensions]\n\tobjectformat = sha256" if sha256 else "0"
        (git_dir / "config").write_text(f"[core]\n\trepositoryformatversion = {version}\n", encoding="ascii")
        shallow = self.repository.place.common_dir / "shallow"
        if shallow.is_file():
            shutil.copyfile(shallow, git_dir / "shallow")
        place = Place(git_dir, git_dir, work)
        git = Blobs(Runner(place, alone=True))
        self._own = Repository(place, self.repository.folder, False, self.repository.object_format, git)
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        shutil.rmtree(self._home, ignore_errors=True)

    def merge(self, ours: Commit, theirs: Commit) -> Merged:
        """Merge `theirs` into `ours` as `git merge` does without any settings."""
        bases = self.repository.merge_bases(ours, theirs)
        if len(bases) == 1:
            # One base is all that counts of the history: three commits that stand for it, and no photograph copied.
            self._copy(self._needed(bases[0], ours.id, theirs.id))
            base = self._stand_in(bases[0])
            one, other = self._stand_in(ours.id, base), self._stand_in(theirs.id, base)
        else:
            self._copy_whole(ours.id, theirs.id)
            one, other = ours.id, theirs.id
        self._lay_attributes(ours.id)
        settings = [word for each in _SETTINGS for word in ("-c", each)]
        command = ("merge-tree", "--write-tree", "-z", "--name-only", "--no-messages", "--end-of-options")
        answer = self._own.git.run(*settings, *command, one, other)
        if answer.status not in (0, 1) or not answer.out:
            raise RevisionError(f"git could not merge: {answer.said()}.", "Check the repository with: git fsck")
        tree, *paths = (each.decode("utf-8", "surrogateescape") for each in answer.out.split(b"\0") if each)
        folder = self.repository.folder
        inside = [path for path in paths if PurePosixPath(path).is_relative_to(folder)]
        return Merged(
            tree,
            self._own.snapshot_of_tree(tree, f"{ours.short} merged with {theirs.short}"),
            tuple(sorted(PurePosixPath(path).relative_to(folder).as_posix() for path in inside)),
            tuple(sorted(set(paths) - set(inside))),
        )

    def _listing(self, commit: str) -> _Listing:
        if commit not in self._listed:
            git = self.repository.git
            out = git.run("ls-tree", "-r", "-t", "-z", "--full-tree", "--end-of-options", commit).checked()
            top = git.run("cat-file", "--batch-check", feed=f"{commit}^{{tree}}\n".encode()).checked()
            entries: dict[bytes, tuple[bytes, str]] = {}
            for line in out.split(b"\0"):
                head, tab, path = line.partition(b"\t")
                if tab:
                    mode, _, blob = head.split(b" ")
                    entries[path] = (mode, blob.decode("ascii"))
            self._listed[commit] = _Listing(top.split(b" ")[0].decode("ascii"), entries)
        return self._listed[commit]

    def _needed(self, *commits: str) -> set[str]:
        """All trees, every blob that is not the same everywhere, and every file of the record."""
        listings = [self._listing(commit) for commit in commits]
        needed = {each.top for each in listings}
        below = "" if self.repository.folder == PurePosixPath() else f"{self.repository.folder}/"
        start, end = below.encode("utf-8", "surrogateescape"), SUFFIX.encode()
        for listing in listings:
            for path, entry in listing.entries.items():
                mode, blob = entry
                if mode == _SUBMODULE:
                    continue
                same = all(other.entries.get(path) == entry for other in listings)
                if not same or mode == b"040000" or (path.startswith(start) and path.endswith(end)):
                    needed.add(blob)
        return needed

    def _copy(self, ids: set[str]) -> None:
        if wanted := ids - self._copied:
            self._take("".join(f"{each}\n" for each in sorted(wanted)).encode("ascii"))
            self._copied |= wanted

    def _copy_whole(self, *commits: str) -> None:
        """Everything that leads to the commits: where branches have merged each other, git needs it."""
        feed = "".join(f"{each}\n" for each in commits).encode("ascii")
        listed = self.repository.git.run("rev-list", "--objects", "--no-object-names", "--stdin", feed=feed)
        self._take(listed.checked())

    def _take(self, ids: bytes) -> None:
        git = self.repository.git
        sizes = git.run("cat-file", "--batch-check=%(objectsize)", feed=ids).checked().split()
        if sum(int(size) for size in sizes if size.isdigit()) > _MOST_BYTES:
            raise RevisionError(
                f"More than {_MOST_BYTES // 1024**2} MiB changed between the two: it was not merged.",
                "Merge it with git in a clone, and survey the result there.",
            )
        packed = git.run("pack-objects", "--stdout", "-q", "--window=0", feed=ids).checked()
        self._own.git.run("index-pack", "--stdin", feed=packed).checked()

    def _stand_in(self, commit: str, *parents: str) -> str:
        lines = [f"tree {self._listing(commit).top}", *(f"parent {each}" for each in parents)]
        lines += [f"{role} x <x> 0 +0000" for role in ("author", "committer")]
        feed = "\n".join([*lines, "", f"{commit}\n"]).encode("ascii")
        made = self._own.git.run("hash-object", "-t", "commit", "-w", "--stdin", feed=feed)
        return made.checked().decode("ascii").strip()

    def _lay_attributes(self, commit: str) -> None:
        """Lay out what the work tree would say of how files are merged: `merge=union`, say. It can run nothing here."""
        work, folder = self._home / "work", self.repository.folder
        shutil.rmtree(work)
        work.mkdir()
        wanted: dict[str, str] = {}
        for raw, (mode, blob) in self._listing(commit).entries.items():
            path = raw.decode("utf-8", "surrogateescape")
            parts = PurePosixPath(path)
            near = folder.is_relative_to(parts.parent) or parts.parent.is_relative_to(folder)
            odd = any(part.lower() in ("", ".", "..", ".git") for part in path.split("/"))
            if parts.name == _ATTRIBUTES and mode.startswith(b"100") and near and not odd:
                wanted[path] = blob
        for path, content in self.repository.contents(wanted).items():
            target = work / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)


@dataclass(frozen=True)
class _Listing:
    """A commit's own tree, and path → (mode, id) of all that is in it."""

    top: str
    entries: dict[bytes, tuple[bytes, str]]


def _check_version(git: Runner) -> None:
    said = git.run("version").checked().decode("utf-8", "replace")
    found = re.search(r"(\d+)\.(\d+)", said)
    if found is None or (int(found[1]), int(found[2])) < NEEDED:
        have = found[0] if found else "of unknown version"
        raise RevisionError(
            f"Trying a merge without touching anything needs git {NEEDED[0]}.{NEEDED[1]} or newer; this one is {have}.",
            "Install a newer git, or merge in a clone and survey the result there.",
        )
