"""Every revision that touches a vessel folder, with the files as they stood: one walk of git, whatever the length."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from vesselspec.revisions import objects
from vesselspec.revisions.intake import Entry
from vesselspec.revisions.runner import Runner
from vesselspec.revisions.values import Commit

Listing = Mapping[str, Entry]
"""Path relative to the vessel folder → what stands there, as git lists it: drawings and notes too."""


@dataclass(frozen=True)
class Step:
    """A commit after which the vessel folder is not as it was at its first parent."""

    commit: Commit
    parents: tuple[str, ...]
    """For each parent that this clone holds, the nearest step from it on along first parents; the first first."""
    listing: Listing
    begins: bool
    """Whether the clone is shallow and begins here: what was before is elsewhere."""


def steps(git: Runner, head: str, folder: str) -> tuple[Step, ...]:
    """All steps that lead to a commit, newest first, no child after its parent. `folder`: '' for the top.

    A merge is compared with its first parent. One that left the folder as it was there is no step, so that a side
    branch of which it took nothing is not told.
    """
    out = git.run("rev-list", "--date-order", "--parents", "--end-of-options", head).checked()
    parents = {commit: tuple(rest) for commit, *rest in map(str.split, out.decode("ascii").splitlines())}
    touched = dict(_touched(git, parents, folder))
    commits = _commits(git, touched)
    nearest: dict[str, str | None] = {}
    listings: dict[str, Listing] = {}
    found: dict[str, Step] = {}
    for commit in reversed(parents):
        before = nearest[parents[commit][0]] if parents[commit] else None
        if commit not in touched:
            nearest[commit] = before
            continue
        nearest[commit] = commit
        listings[commit] = _changed(listings[before] if before is not None else {}, touched[commit])
        held = dict.fromkeys(near for parent in parents[commit] if (near := nearest[parent]) is not None)
        begins = not parents[commit] and bool(commits[commit].parents)
        found[commit] = Step(commits[commit], tuple(held), listings[commit], begins)
    reached: set[str] = set()
    last = nearest.get(head)
    ahead = [last] if last is not None else []
    while ahead:
        commit = ahead.pop()
        if commit not in reached:
            reached.add(commit)
            ahead += found[commit].parents
    return tuple(found[commit] for commit in parents if commit in reached)


def _changed(before: Listing, changes: list[tuple[str, Entry | None]]) -> Listing:
    after = dict(before)
    for path, entry in changes:
        if entry is None:
            after.pop(path, None)
        else:
            after[path] = entry
    return after


def _touched(
    git: Runner, parents: Mapping[str, tuple[str, ...]], folder: str
) -> Iterator[tuple[str, list[tuple[str, Entry | None]]]]:
    # A commit with one other after it is compared with that one, and one alone with nothing.
    feed = "".join(f"{' '.join((commit, *before[:1]))}\n" for commit, before in parents.items()).encode("ascii")
    asked = (
        "diff-tree",
        "--stdin",
        "--root",
        "-r",
        "-z",
        "--raw",
        "--no-renames",
        "--no-abbrev",
        "--ignore-submodules=none",
    )
    out = git.run(*asked, *(["--", folder] if folder else []), feed=feed).checked()
    yield from objects.raw_changes(out, f"{folder}/".encode("utf-8", "surrogateescape") if folder else b"")


def _commits(git: Runner, ids: Mapping[str, object]) -> dict[str, Commit]:
    feed = "".join(f"{commit}\n" for commit in ids).encode("ascii")
    out = git.run("cat-file", "--batch", feed=feed).checked() if ids else b""
    return {commit: objects.commit(commit, raw) for commit, _, raw in objects.batch(out)}
