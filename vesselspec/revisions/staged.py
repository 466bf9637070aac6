"""What the next commit would hold: the index, which is neither the last commit nor the files on disk."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path, PurePosixPath

from vesselspec.revisions import objects
from vesselspec.revisions.errors import RevisionError, shown
from vesselspec.revisions.intake import Entry, Kind, vessel_folders
from vesselspec.revisions.place import Place
from vesselspec.revisions.repository import Repository
from vesselspec.revisions.runner import Runner
from vesselspec.revisions.values import SUFFIX, Commit, Snapshot, snapshot_of

#: The name of a snapshot of the index.
STAGED = "staged"
#: What was before the first commit.
NOTHING = snapshot_of("nothing", None, {}, (), ())
_MERGED = re.compile(r"GITHEAD_([0-9a-f]{40,64})")


@dataclass(frozen=True)
class Staged:
    """What is staged in a repository, and the commits that the next commit would follow."""

    repository: Repository
    parents: tuple[Commit, ...]
    """HEAD first; in a merge the others too; none before the first commit."""
    changes: Mapping[str, Entry | None]
    """Path from the top of the repository → what is staged there, if HEAD has it otherwise; None for what is gone."""

    @cached_property
    def before(self) -> Mapping[str, Entry]:
        """What HEAD holds, by path from the top."""
        if not self.parents:
            return {}
        return {entry.path: entry for entry in self.repository.listing(self.parents[0].id, PurePosixPath())}

    @cached_property
    def after(self) -> Mapping[str, Entry]:
        """What the next commit would hold, by path from the top."""
        merged = {**self.before, **self.changes}
        return {path: entry for path, entry in merged.items() if entry is not None}

    def snapshot(self, folder: PurePosixPath) -> Snapshot:
        """The files of a vessel as they are staged."""
        below = "" if folder == PurePosixPath() else f"{folder}/"
        unmerged = [path for path, entry in self.changes.items() if path.startswith(below) and _unmerged(entry)]
        if unmerged:
            raise RevisionError(
                f"{shown(unmerged[0])} is in conflict and not merged yet, so nothing can be judged.",
                "Settle the conflict in the file, and stage it with: git add",
            )
        listed = [
            Entry(path.removeprefix(below), entry.kind, blob=entry.blob)
            for path, entry in self.after.items()
            if path.startswith(below)
        ]
        return self.repository.read(STAGED, None, listed)

    def vessels(self) -> tuple[tuple[PurePosixPath, ...], tuple[PurePosixPath, ...]]:
        """The folders of the vessels at HEAD and of those staged, as far as their records may be changed."""
        paths = [
            path for path, entry in self.changes.items() if _counts(path, entry) or _counts(path, self.before.get(path))
        ]
        above = {"/".join(path.split("/")[:n]) for path in paths for n in range(path.count("/") + 1)}

        def touched(entries: Mapping[str, Entry]) -> tuple[PurePosixPath, ...]:
            return tuple(PurePosixPath(folder) for folder in sorted(vessel_folders(entries.values()) & above))

        return touched(self.before), touched(self.after)


def staged(repository: Repository) -> Staged:
    """Read the index, as the commit would take it. Nothing is written, not even the index.

    Raises RevisionError in a bare repository, or where the caller's environment names an index of elsewhere.
    """
    if repository.place.work_tree is None:
        raise RevisionError(
            "A bare repository has no index: nothing is staged in it.", "Name a revision, such as HEAD."
        )
    git = Runner(repository.place, index=_index(repository.place, repository.place.work_tree))
    parents = () if _unborn(git) else _parents(repository)
    if parents:
        tree = parents[0].id
    else:
        tree = git.run("hash-object", "-t", "tree", "--stdin").checked().decode("ascii").strip()
    asked = ("diff-index", "--cached", "--raw", "-z", "--no-renames", "--no-abbrev", "--no-relative")
    # What is only announced (git add -N) is not committed.
    out = git.run(*asked, "--ignore-submodules=none", "--ita-invisible-in-index", "--end-of-options", tree).checked()
    return Staged(repository, parents, dict(next(objects.raw_changes(out, b""), ("", []))[1]))


def _index(place: Place, top: Path) -> Path | None:
    """The index that a surrounding commit uses: of its own for `git commit -a` and for `git commit FILE`."""
    named = os.environ.get("GIT_INDEX_FILE", "")
    if not named:
        return None
    index = top / named
    if not index.parent.resolve().is_relative_to(place.git_dir.resolve()):
        raise RevisionError(
            f"The variable GIT_INDEX_FILE names an index outside this repository: {shown(named)}.",
            "What is staged is not certain then. Type: unset GIT_INDEX_FILE",
        )
    return index


def _unborn(git: Runner) -> bool:
    """Whether the branch at HEAD has no commit yet; one that leads to a missing commit is no such branch."""
    branch = git.run("symbolic-ref", "--quiet", "HEAD").out.decode("utf-8", "surrogateescape").strip()
    return branch != "" and git.run("show-ref", "--verify", "--quiet", "--", branch).status == 1


def _parents(repository: Repository) -> tuple[Commit, ...]:
    head = repository.resolve("HEAD")
    try:
        others = (repository.place.git_dir / "MERGE_HEAD").read_text("ascii", "replace").split()
    except OSError:
        # `git merge` writes the file only after its hook; it tells its children the names of what it merges.
        others = [found[1] for name in os.environ if (found := _MERGED.fullmatch(name))]
        others = [each for each in others if repository.git.run("cat-file", "-e", f"{each}^{{commit}}").status == 0]
    return (head, *(repository.resolve(each) for each in others))


def _counts(path: str, entry: Entry | None) -> bool:
    """Whether an entry is a file of a record, or something that is refused in it whatever its name."""
    return entry is not None and (path.endswith(SUFFIX) or entry.kind is not Kind.FILE)


def _unmerged(entry: Entry | None) -> bool:
    return entry is not None and entry.kind is Kind.FILE and set(entry.blob) == {"0"}
