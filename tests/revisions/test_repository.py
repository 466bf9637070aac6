"""Kinds of repositories, where the vessel is in them, and that nothing is ever changed."""

from __future__ import annotations

import os
import shlex
from pathlib import Path, PurePosixPath

import pytest

from vesselspec.revisions import WORK_TREE, Repository, RevisionError

from .helpers import commit_all, fingerprint, git, new_repository, small_vessel, text, write

FIRST = {"vessel.yaml": b"name: one\n", "dc/panel.yaml": b"a: 1\n"}
SECOND = FIRST | {"dc/panel.yaml": b"a: 2\n"}


@pytest.mark.parametrize("object_format", ["sha1", "sha256"])
def test_a_vessel_in_a_sub_folder(tmp_path: Path, object_format: str) -> None:
    small_vessel(tmp_path, f"--object-format={object_format}")
    for start in (tmp_path, tmp_path / "boat", tmp_path / "boat/dc", tmp_path / "boat/vessel.yaml"):
        repository = Repository.open(start)
        assert repository.folder == PurePosixPath("boat")
    assert not repository.is_shallow
    assert repository.object_format == object_format
    snapshot = repository.snapshot("HEAD")
    commit = text(tmp_path, "rev-parse", "HEAD")
    assert dict(snapshot.files) == SECOND
    assert snapshot.commit is not None
    assert snapshot.commit.id == commit
    assert snapshot.name == f"HEAD ({commit[:10]})"
    assert repository.snapshot(commit[:12]).name == commit[:10]
    assert repository.work_tree().files == snapshot.files
    assert repository.work_tree().blobs == snapshot.blobs
    assert snapshot.blobs["dc/panel.yaml"] == text(tmp_path, "rev-parse", "HEAD:boat/dc/panel.yaml")
    assert dict(repository.snapshot("HEAD^").files) == FIRST
    assert [c.subject for c in repository.commits(None, "main")] == ["first", "second"]
    assert [c.subject for c in repository.commits("main~1", "main")] == ["second"]
    assert repository.commits("main", "main") == []
    assert repository.merge_base("main", "main~1").subject == "first"
    assert repository.vessels("main") == (PurePosixPath("boat"),)


def test_snapshots_cannot_be_changed(tmp_path: Path) -> None:
    snapshot = Repository.open(small_vessel(tmp_path)).snapshot("main")
    with pytest.raises(TypeError):
        snapshot.files["x.yaml"] = b""  # type: ignore[index]


def test_several_vessels(tmp_path: Path) -> None:
    small_vessel(tmp_path)
    write(tmp_path, {"boat/tender/vessel.yaml": "t\n", "boat/tender/b.yaml": "b\n", "two/vessel.yaml": "2\n"})
    commit_all(tmp_path)
    assert dict(Repository.open(tmp_path / "boat").snapshot("HEAD").files) == SECOND
    assert dict(Repository.open(tmp_path / "boat").work_tree().files) == SECOND
    tender = Repository.open(tmp_path / "boat/tender")
    assert dict(tender.snapshot("HEAD").files) == {"vessel.yaml": b"t\n", "b.yaml": b"b\n"}
    assert [str(folder) for folder in tender.vessels("HEAD")] == ["boat", "boat/tender", "two"]
    with pytest.raises(RevisionError, match=r"several vessels.*'boat', 'two'"):
        Repository.open(tmp_path)


def test_a_revision_without_the_vessel_is_empty(tmp_path: Path) -> None:
    new_repository(tmp_path)
    write(tmp_path, {"boat": "a file of that name\n"})
    commit_all(tmp_path)
    (tmp_path / "boat").unlink()
    write(tmp_path, {"boat/vessel.yaml": "n\n"})
    snapshot = Repository.open(tmp_path / "boat").snapshot("HEAD")
    assert not snapshot.has_vessel
    assert (dict(snapshot.files), snapshot.problems) == ({}, ())


def test_a_vessel_that_only_git_has(tmp_path: Path) -> None:
    small_vessel(tmp_path)
    git(tmp_path, "rm", "-rq", "boat")
    assert Repository.open(tmp_path).folder == PurePosixPath("boat")
    git(tmp_path, "commit", "-qm", "gone")
    assert dict(Repository.open(tmp_path, at="HEAD~1").snapshot("HEAD~1").files) == SECOND
    with pytest.raises(RevisionError, match=r"There is no vessel\.yaml"):
        Repository.open(tmp_path)


def test_bare(tmp_path: Path) -> None:
    small_vessel(tmp_path / "source")
    bare = tmp_path / "bare.git"
    git(tmp_path, "clone", "-q", "--bare", "source", str(bare))
    repository = Repository.open(bare)
    assert repository.folder == PurePosixPath("boat")
    assert dict(repository.snapshot("main").files) == SECOND
    assert [c.subject for c in repository.commits(None, "HEAD")] == ["first", "second"]
    with pytest.raises(RevisionError, match="bare repository"):
        repository.work_tree()
    write(tmp_path / "source", {"two/vessel.yaml": "2\n"})
    commit_all(tmp_path / "source")
    git(bare, "fetch", "-q", str(tmp_path / "source"), "main:more")
    with pytest.raises(RevisionError, match="several vessels at 'more': 'boat', 'two'"):
        Repository.open(bare, at="more")
    two = Repository.open(bare, folder=PurePosixPath("two"), at="more")
    assert dict(two.snapshot("more").files) == {"vessel.yaml": b"2\n"}
    assert dict(two.with_folder(PurePosixPath("boat")).snapshot("more").files) == SECOND
    for outside in ("/etc", "../x", "a/../../b", "a\0b"):
        with pytest.raises(RevisionError, match="not a folder inside"):
            Repository.open(bare, folder=PurePosixPath(outside))


def test_a_vessel_at_the_top_of_a_bare_repository(tmp_path: Path) -> None:
    source = new_repository(tmp_path / "source")
    write(source, {"vessel.yaml": "n\n"})
    commit_all(source, "one")
    commit_all(source, "nothing")
    git(tmp_path, "clone", "-q", "--bare", "source", "bare.git")
    for path in (source, tmp_path / "bare.git", source / ".git"):
        repository = Repository.open(path)
        assert repository.folder == PurePosixPath()
        assert dict(repository.snapshot("HEAD").files) == {"vessel.yaml": b"n\n"}
        assert [c.subject for c in repository.commits(None, "HEAD")] == ["one"]


def test_shallow(tmp_path: Path) -> None:
    source = small_vessel(tmp_path / "source")
    git(source, "branch", "side", "HEAD^")
    write(source, {"boat/new.yaml": "n\n"})
    commit_all(source, "third")
    git(source, "tag", "old", "HEAD~2")
    clone = tmp_path / "clone"
    git(tmp_path, "clone", "-q", "--depth", "1", source.as_uri(), str(clone))
    repository = Repository.open(clone)
    assert repository.is_shallow
    assert repository.snapshot("origin/main").has_vessel
    assert [c.subject for c in repository.commits(None, "HEAD")] == ["third"]
    with pytest.raises(RevisionError) as unknown:
        repository.resolve("old")
    _run_the_line(clone, unknown.value.remedy)
    repository = Repository.open(clone)
    assert not repository.is_shallow
    assert repository.resolve("old").subject == "first"
    assert repository.resolve("origin/side").subject == "first"


def test_shallow_without_a_common_ancestor(tmp_path: Path) -> None:
    source = small_vessel(tmp_path / "source")
    git(source, "checkout", "-q", "-b", "side", "HEAD^")
    write(source, {"boat/side.yaml": "s\n"})
    commit_all(source, "on the side")
    clone = tmp_path / "clone"
    git(tmp_path, "clone", "-q", "--depth", "1", "--no-single-branch", source.as_uri(), str(clone))
    with pytest.raises(RevisionError, match="is not in this shallow clone") as missing:
        Repository.open(clone).merge_base("origin/main", "origin/side")
    assert missing.value.remedy.endswith("Type: git fetch --unshallow")
    _run_the_line(clone, missing.value.remedy)
    assert Repository.open(clone).merge_base("origin/main", "origin/side").subject == "first"


def test_a_partial_clone_is_not_completed_behind_the_back(tmp_path: Path) -> None:
    source = small_vessel(tmp_path / "source")
    git(source, "config", "uploadpack.allowFilter", "true")
    clone = tmp_path / "clone"
    git(tmp_path, "clone", "-q", "--filter=blob:none", source.as_uri(), str(clone))
    git(clone, "config", "protocol.file.allow", "always")  # a repository could allow it to itself
    before = fingerprint(clone)
    repository = Repository.open(clone)
    assert dict(repository.snapshot("HEAD").files) == SECOND
    with pytest.raises(RevisionError, match="does not hold all files") as missing:
        repository.snapshot("HEAD^")
    assert fingerprint(clone) == before
    _run_the_line(clone, missing.value.remedy)
    assert dict(repository.snapshot("HEAD^").files) == FIRST


def _run_the_line(folder: Path, remedy: str) -> None:
    line = shlex.split(remedy.partition("Type: ")[2])
    assert line[0] == "git"
    git(folder, *line[1:])


def test_linked_work_tree_with_detached_head(tmp_path: Path) -> None:
    main = small_vessel(tmp_path / "main")
    linked = tmp_path / "linked"
    git(main, "worktree", "add", "-q", "--detach", str(linked), "HEAD^")
    write(linked, {"boat/new.yaml": "n\n"})
    git(linked, "add", "boat/new.yaml")
    repository = Repository.open(linked / "boat")
    assert dict(repository.snapshot("HEAD").files) == FIRST
    assert dict(repository.snapshot("main").files) == SECOND
    assert dict(repository.work_tree().files) == FIRST | {"new.yaml": b"n\n"}
    git(main, "checkout", "-q", "--detach")
    assert dict(Repository.open(main).snapshot("HEAD").files) == SECOND


def test_work_tree(tmp_path: Path) -> None:
    small_vessel(tmp_path)
    write(tmp_path, {".gitignore": "ignored*\n", "boat/ignored.yaml": "i\n", "boat/ignored/x.yaml": "i\n"})
    write(tmp_path, {"boat/new größe.yaml": "n\n", "boat/.hidden/x.yaml": "h\n", "boat/dc/panel.yaml": "a: 3\n"})
    write(tmp_path, {"boat/ignored but tracked.yaml": "t\n"})
    git(tmp_path, "add", "-f", "boat/ignored but tracked.yaml")
    (tmp_path / "boat/ignored link").symlink_to("/")
    snapshot = Repository.open(tmp_path).work_tree()
    assert (snapshot.name, snapshot.commit, snapshot.problems) == (WORK_TREE, None, ())
    assert dict(snapshot.files) == {
        "vessel.yaml": b"name: one\n",
        "dc/panel.yaml": b"a: 3\n",
        "new größe.yaml": b"n\n",
        "ignored but tracked.yaml": b"t\n",
    }


def test_a_vessel_that_git_ignores_is_still_read(tmp_path: Path) -> None:
    small_vessel(tmp_path)
    write(tmp_path, {".gitignore": "private\n", "private/vessel.yaml": "p\n"})
    assert dict(Repository.open(tmp_path / "private").work_tree().files) == {"vessel.yaml": b"p\n"}


def test_nothing_is_changed(tmp_path: Path) -> None:
    source = small_vessel(tmp_path / "source")
    git(source, "branch", "side", "HEAD^")
    # The same content with another time: any refresh of the index would be written.
    os.utime(source / "boat/vessel.yaml", (1, 1))
    write(source, {"boat/untracked.yaml": "u\n"})
    before = fingerprint(source)
    repository = Repository.open(source)
    repository.snapshot("main")
    repository.work_tree()
    repository.merge_base("main", "side")
    repository.commits(None, "main")
    repository.vessels("main")
    with pytest.raises(RevisionError):
        repository.resolve("nowhere")
    assert fingerprint(source) == before


def test_not_in_a_repository(tmp_path: Path) -> None:
    write(tmp_path, {"vessel.yaml": "n\n"})
    with pytest.raises(RevisionError, match="is not inside a git repository"):
        Repository.open(tmp_path)
    with pytest.raises(RevisionError, match="does not exist"):
        Repository.open(tmp_path / "nowhere")
    with pytest.raises(RevisionError, match="does not exist"):
        Repository.open(tmp_path / "a\0b")
    write(tmp_path, {".git": "gitdir: nowhere\n"})
    with pytest.raises(RevisionError, match="does not lead to a git repository"):
        Repository.open(tmp_path)


def test_a_damaged_repository(tmp_path: Path) -> None:
    small_vessel(tmp_path)
    write(tmp_path, {".git/config": "[core\n"})
    with pytest.raises(RevisionError, match="git could not read the repository"):
        Repository.open(tmp_path)


def test_a_missing_blob(tmp_path: Path) -> None:
    small_vessel(tmp_path)
    blob = text(tmp_path, "rev-parse", "HEAD:boat/vessel.yaml")
    (tmp_path / ".git/objects" / blob[:2] / blob[2:]).unlink()
    with pytest.raises(RevisionError, match="does not hold all files"):
        Repository.open(tmp_path).snapshot("HEAD")
