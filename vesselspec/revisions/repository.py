"""The repository that holds a vessel's record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from vesselspec.revisions import objects
from vesselspec.revisions.blobs import Blobs
from vesselspec.revisions.disk import read_entries
from vesselspec.revisions.errors import RevisionError, shown
from vesselspec.revisions.find import LISTED, existing_folder, find_vessel
from vesselspec.revisions.history import Step, steps
from vesselspec.revisions.intake import (
    FILE_LIMIT,
    TOTAL_LIMIT,
    Entry,
    Kind,
    admit,
    belonging,
    files_of,
    sort_out,
    vessel_folders,
)
from vesselspec.revisions.place import Place, bare_place, place_above
from vesselspec.revisions.runner import Runner
from vesselspec.revisions.unknown import ambiguous, check_spelling, no_common_ancestor, unknown
from vesselspec.revisions.values import MARKER, SUFFIX, Commit, Snapshot, composed, snapshot_of

_TYPED_ID = 7
"""Digits from which a revision that begins the id is taken for the id itself and not shown twice."""


@dataclass(frozen=True)
class Repository:
    """One vessel folder in one git repository. Nothing here writes to either."""

    place: Place
    folder: PurePosixPath
    """The vessel folder relative to the top of the repository; '.' if it is the top itself."""
    is_shallow: bool
    object_format: str
    """The hash of the ids: 'sha1' or 'sha256'."""
    _blobs: Blobs = field(repr=False, compare=False)

    @staticmethod
    def open(path: Path, *, folder: PurePosixPath | None = None, at: str = "HEAD") -> Repository:
        """Find the repository and the vessel from a path.

        The vessel is found on disk. In a bare repository, or where the work tree lacks it, it is the only
        folder with a marker file at the revision `at`. `folder` (relative to the top) settles it.
        """
        start = existing_folder(path)
        place = bare_place(start)
        vessel: Path | None = None
        problem: RevisionError | None = None
        if place is None and folder is None:
            try:
                vessel = find_vessel(start)
            except RevisionError as error:
                problem = error
        place = place or place_above(vessel or start)
        if place is None:
            raise RevisionError(
                f"{shown(str(vessel or start))} is not inside a git repository.",
                "Name a folder inside one, or put the record under git: git init && git add . && git commit",
            )
        repository = _inspected(place, _relative(folder or PurePosixPath()))
        if folder is not None:
            return repository
        if vessel is not None and place.work_tree is not None:
            return repository.with_folder(PurePosixPath(vessel.relative_to(place.work_tree).as_posix()))
        below = start.relative_to(place.work_tree or start)
        return repository.with_folder(repository._only_vessel(at, PurePosixPath(below.as_posix()), problem))

    def with_folder(self, folder: PurePosixPath) -> Repository:
        """The same repository with another vessel folder."""
        return Repository(self.place, _relative(folder), self.is_shallow, self.object_format, self._blobs)

    def resolve(self, ref: str) -> Commit:
        """The commit that a revision names: whatever git understands as one, peeled to a commit."""
        check_spelling(ref)
        # Over standard input no spelling can pass for an option. The check above keeps it to one line.
        answer = self.git.run("cat-file", "--batch", feed=f"{ref}^{{commit}}\n".encode("utf-8", "replace"))
        found = next(objects.batch(answer.out), None) if answer.out else None
        if found is not None and found[1] == "commit":
            return objects.commit(found[0], found[2])
        if "is ambiguous" in answer.error:
            raise ambiguous(ref)
        raise unknown(self.git, ref, is_shallow=self.is_shallow)

    def snapshot(self, ref: str) -> Snapshot:
        """The vessel's files at a revision; none if the vessel was not there."""
        commit = self.resolve(ref)
        return self.read(_name(ref, commit), commit, self.listing(commit.id, self.folder))

    def steps(self, head: str) -> tuple[Step, ...]:
        """The commits that lead to head and change the vessel folder, newest first, with its files at each."""
        return steps(self.git, self.resolve(head).id, "" if self.folder == PurePosixPath() else str(self.folder))

    def at_step(self, step: Step) -> Snapshot:
        """The vessel's files at a step; quick where `fetch` was called for it."""
        return self.read(step.commit.short, step.commit, step.listing.values())

    def fetch(self, of: Iterable[Step]) -> int:
        """Read what some steps hold in one go, so that `at_step` need not ask git; return how many it was done for.

        It stops where more could not be kept, so ask again for the rest later.
        """
        wanted: set[str] = set()
        steps_done = 0
        listed = [(step, {e.blob for e in step.listing.values() if e.path.endswith(SUFFIX)}) for step in of]
        blobs = set().union(*(each for _, each in listed)) if listed else set()
        sizes = self._blobs.sizes({blob for blob in blobs if blob})
        total = 0
        for _, each in listed:
            more = {blob for blob in each - wanted if sizes.get(blob, FILE_LIMIT) < FILE_LIMIT}
            total += sum(sizes[blob] for blob in more)
            if total > TOTAL_LIMIT // 2 and steps_done:
                break
            wanted |= more
            steps_done += 1
        self._blobs.contents(wanted)
        return steps_done

    def held(self, blob: str) -> bytes | None:
        """The content of a file that `fetch` has read, if it is still kept."""
        return self._blobs.held(blob)

    def ancestors(self, ref: str) -> frozenset[str]:
        """The ids of a commit and of all that lead to it."""
        out = self.git.run("rev-list", "--end-of-options", self.resolve(ref).id).checked()
        return frozenset(out.decode("ascii").split())

    def read(self, name: str, commit: Commit | None, listed: Iterable[Entry]) -> Snapshot:
        """The snapshot that a listing of the vessel folder makes."""
        held = belonging(listed)
        entries, problems = sort_out(held)
        blobs = {entry.path: entry.blob for entry in entries}
        sizes = self._blobs.sizes(set(blobs.values()))
        admitted, more = admit({path: sizes[blob] for path, blob in blobs.items()})
        contents = self._blobs.contents({blobs[path] for path in admitted})
        found = {path: (blobs[path], contents[blobs[path]]) for path in admitted}
        return snapshot_of(name, commit, found, problems + more, files_of(held))

    def snapshot_of_tree(self, tree: str, name: str) -> Snapshot:
        """The vessel's files in a whole tree, given by its id, that no commit holds."""
        return self.read(name, None, self.listing(tree, self.folder))

    def work_tree(self) -> Snapshot:
        """The vessel's files as they are on disk, tracked or not, without those that git ignores."""
        top = self.place.work_tree
        if top is None:
            raise RevisionError("A bare repository has no work tree.", "Name a revision to read, such as HEAD.")
        folder = top / self.folder
        if folder.resolve() != folder:
            raise RevisionError(
                f"{shown(str(self.folder))} lies behind a symbolic link, which is not followed.",
                "Put the folder itself in its place.",
            )
        seen = self._seen_by_git()

        def wanted(entry: Entry) -> bool:
            return not seen or entry.kind is Kind.UNREADABLE or composed(entry.path) in seen

        return read_entries(folder, wanted, self.object_format)

    def pictures(self, ref: str, paths: Iterable[str], most: int) -> dict[str, bytes]:
        """Files beside the record at a revision, by path; what is none, or is larger than `most` bytes, is left out."""
        wanted = set(paths)
        listed = self.listing(self.resolve(ref).id, self.folder) if wanted else []
        blobs = {e.path: e.blob for e in belonging(listed) if e.kind is Kind.FILE and e.path in wanted}
        sizes = self._blobs.sizes(set(blobs.values()))
        # One at a time: a hundred photographs need not be in memory at once.
        small = {path: blob for path, blob in blobs.items() if sizes[blob] <= most}
        return {path: self._blobs.contents({blob})[blob] for path, blob in small.items()}

    def merge_base(self, a: str, b: str) -> Commit:
        """The best common ancestor of two revisions."""
        one, other = self.resolve(a), self.resolve(b)
        answer = self.git.run("merge-base", "--end-of-options", one.id, other.id)
        if answer.status == 1:
            raise no_common_ancestor(a, b, is_shallow=self.is_shallow)
        return self.resolve(answer.checked().decode("ascii").split()[0])

    def commits(self, base: str | None, head: str) -> list[Commit]:
        """The commits that lead from base (or the very beginning) to head and touch the vessel folder.

        Oldest first, no child before its parent. They explain the state at head: a merge counts if it
        differs from all its parents in the range, a side branch whose changes a merge left out does not.
        A shallow clone begins with its oldest commit.
        """
        wanted = [self.resolve(head).id] + ([f"^{self.resolve(base).id}"] if base is not None else [])
        order = ("rev-list", "--date-order", "--reverse", "--end-of-options")
        ids = self.git.run(*order, *wanted, "--", str(self.folder)).checked()
        out = self.git.run("cat-file", "--batch", feed=ids).checked() if ids else b""
        return [objects.commit(commit_id, raw) for commit_id, _, raw in objects.batch(out)]

    def vessels(self, ref: str) -> tuple[PurePosixPath, ...]:
        """The folders of all vessels in the repository at a revision."""
        folders = vessel_folders(self.listing(self.resolve(ref).id, PurePosixPath()))
        return tuple(PurePosixPath(folder) for folder in sorted(folders))

    def merge_bases(self, one: Commit, other: Commit) -> tuple[str, ...]:
        """The ids of all best common ancestors; several where branches have merged each other."""
        answer = self.git.run("merge-base", "--all", "--end-of-options", one.id, other.id)
        if answer.status == 1:
            raise no_common_ancestor(one.short, other.short, is_shallow=self.is_shallow)
        return tuple(answer.checked().decode("ascii").split())

    def between(self, base: str, head: str) -> list[Commit]:
        """Every commit of a range, whether it touches the vessel or not. Oldest first, no child before its parent."""
        wanted = (self.resolve(head).id, f"^{self.resolve(base).id}")
        ids = self.git.run("rev-list", "--date-order", "--reverse", "--end-of-options", *wanted, "--").checked()
        out = self.git.run("cat-file", "--batch", feed=ids).checked() if ids else b""
        return [objects.commit(commit_id, raw) for commit_id, _, raw in objects.batch(out)]

    def folder_trees(self, commits: Iterable[str]) -> dict[str, str]:
        """Commit id → id of the vessel folder's tree; nothing for a commit without the folder.

        Commits with the same one have the same record, which need not be read twice.
        """
        ids = list(commits)
        inside = "^{tree}" if self.folder == PurePosixPath() else f":{self.folder}"
        if not inside.isprintable():
            return {each: each for each in ids}
        feed = "".join(f"{each}{inside}\n" for each in ids).encode("utf-8", "surrogateescape")
        lines = self.git.run("cat-file", "--batch-check", feed=feed).out.splitlines()
        found = zip(ids, (line.split(b" ") for line in lines), strict=True)
        # What is missing is told with its name, which may hold any word.
        trees = ((each, line) for each, line in found if len(line) == 3 and line[1] == b"tree" and line[2].isdigit())
        return {each: line[0].decode("ascii") for each, line in trees}

    def contents(self, blobs: Mapping[str, str]) -> dict[str, bytes]:
        """Path → content of blobs given by path, without those that are larger than any file of a record."""
        sizes = self._blobs.sizes(set(blobs.values()))
        small = {path: blob for path, blob in blobs.items() if sizes[blob] <= FILE_LIMIT}
        found = self._blobs.contents(set(small.values()))
        return {path: found[blob] for path, blob in small.items()}

    @property
    def git(self) -> Runner:
        """What asks git in this repository."""
        return self._blobs.git

    def listing(self, commit_id: str, folder: PurePosixPath) -> list[Entry]:
        """What a commit or whole tree, given by its id, holds in a folder; paths relative to it."""
        top = folder == PurePosixPath()
        where = [] if top else ["--", str(folder)]
        out = self.git.run("ls-tree", "-r", "-z", "--full-tree", "--end-of-options", commit_id, *where).checked()
        return list(objects.tree(out, b"" if top else f"{folder}/".encode("utf-8", "surrogateescape")))

    def _seen_by_git(self) -> set[str]:
        """The paths in the vessel folder that git tracks or would; none if the vessel itself is ignored."""
        listing = ("ls-files", "-z", "--cached", "--others", "--exclude-standard", "--end-of-options", "--")
        out = self.git.run(*listing, str(self.folder)).checked().decode("utf-8", "surrogateescape")
        prefix = "" if self.folder == PurePosixPath() else f"{self.folder}/"
        seen = {composed(path.removeprefix(prefix).rstrip("/")) for path in out.split("\0") if path}
        return seen if MARKER in seen else set()

    def _only_vessel(self, at: str, below: PurePosixPath, problem: RevisionError | None) -> PurePosixPath:
        try:
            folders = self.vessels(at)
        except RevisionError as error:
            raise problem or error from None
        found = [folder for folder in folders if folder.is_relative_to(below)]
        if len(found) == 1:
            return found[0]
        if problem is not None:
            raise problem
        if not found:
            raise RevisionError(f"There is no {MARKER} at {shown(at)}.", "Name a revision that has a vessel.")
        names = ", ".join(shown(str(folder)) for folder in found[:LISTED])
        raise RevisionError(f"There are several vessels at {shown(at)}: {names}.", "Name the folder of one of them.")


def _inspected(place: Place, folder: PurePosixPath) -> Repository:
    git = Runner(place)
    answer = git.run("rev-parse", "--is-shallow-repository", "--show-object-format")
    words = answer.checked().decode("ascii", "replace").split()
    return Repository(place, folder, words[0] == "true", words[1], Blobs(git))


def _name(ref: str, commit: Commit) -> str:
    is_id = len(ref) >= _TYPED_ID and commit.id.startswith(ref.lower())
    return commit.short if is_id else f"{ref} ({commit.short})"


def _relative(folder: PurePosixPath) -> PurePosixPath:
    if folder.is_absolute() or ".." in folder.parts or "\0" in str(folder):
        raise RevisionError(
            f"{shown(str(folder))} is not a folder inside the repository.",
            "Name it relative to the top of the repository.",
        )
    return folder
