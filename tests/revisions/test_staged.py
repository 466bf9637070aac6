"""What is staged, held to git itself: the tree that `git write-tree` makes of the same index."""

from __future__ import annotations

from pathlib import Path, PurePosixPath

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from vesselspec.revisions import Repository, RevisionError, staged

from .helpers import commit_all, fingerprint, git, new_repository, small_vessel, text, write

BOAT = PurePosixPath("boat")
#: Names that a file may have and a shell, git's own quoting or a pattern would trip over.
NAMES = st.text(
    st.sampled_from("ab '\"\n\t$`;*?[]\\:!#é\U0001f6a2") | st.characters(codec="utf-8", exclude_characters="/\0"),
    max_size=8,
).map(lambda name: f"x{name}.yaml")


def opened(folder: Path) -> Repository:
    return Repository.open(folder, folder=PurePosixPath())


def as_git_would_commit(folder: Path) -> dict[str, str]:
    """Path → blob of the tree that git makes of the index, in a copy of the repository."""
    tree = text(folder, "write-tree")
    out = git(folder, "ls-tree", "-r", "-z", tree).decode()
    return {line.partition("\t")[2]: line.split()[2] for line in out.split("\0") if line}


def test_the_index_is_neither_head_nor_disk(tmp_path: Path) -> None:
    small_vessel(tmp_path)
    write(tmp_path, {"boat/dc/panel.yaml": "a: staged\n", "boat/new.yaml": "b: 1\n"})
    git(tmp_path, "add", "-A")
    write(tmp_path, {"boat/dc/panel.yaml": "a: disk\n", "boat/loose.yaml": "c: 1\n", "boat/announced.yaml": "d: 1\n"})
    git(tmp_path, "add", "-N", "boat/announced.yaml")
    before = fingerprint(tmp_path)
    found = staged(opened(tmp_path))
    snapshot = found.snapshot(BOAT)
    assert fingerprint(tmp_path) == before
    assert snapshot.files["dc/panel.yaml"] == b"a: staged\n"
    assert set(snapshot.files) == {"dc/panel.yaml", "new.yaml", "vessel.yaml"}
    assert found.vessels() == ((BOAT,), (BOAT,))
    assert [commit.id for commit in found.parents] == [text(tmp_path, "rev-parse", "HEAD")]


@pytest.mark.parametrize("options", [(), ("--object-format=sha256",)])
def test_before_the_first_commit_everything_is_staged(tmp_path: Path, options: tuple[str, ...]) -> None:
    new_repository(tmp_path, *options)
    write(tmp_path, {"vessel.yaml": "name: one\n", "dc.yaml": "a: 1\n"})
    git(tmp_path, "add", "vessel.yaml")
    found = staged(opened(tmp_path))
    assert found.parents == ()
    assert set(found.snapshot(PurePosixPath()).files) == {"vessel.yaml"}
    assert found.vessels() == ((), (PurePosixPath(),))


def test_what_is_taken_away_is_not_there(tmp_path: Path) -> None:
    small_vessel(tmp_path)
    git(tmp_path, "rm", "-rq", "--cached", "boat")
    found = staged(opened(tmp_path))
    assert not found.snapshot(BOAT).has_vessel
    assert found.vessels() == ((BOAT,), ())


def test_a_merge_has_all_its_parents(tmp_path: Path) -> None:
    small_vessel(tmp_path)
    git(tmp_path, "branch", "other", "HEAD~1")
    git(tmp_path, "checkout", "-q", "other")
    write(tmp_path, {"boat/other.yaml": "o: 1\n"})
    theirs = commit_all(tmp_path)
    git(tmp_path, "checkout", "-q", "main")
    git(tmp_path, "merge", "-q", "--no-commit", "other")
    assert [commit.id for commit in staged(opened(tmp_path)).parents] == [text(tmp_path, "rev-parse", "HEAD"), theirs]


def test_a_conflict_is_told(tmp_path: Path) -> None:
    small_vessel(tmp_path)
    git(tmp_path, "checkout", "-q", "-b", "other", "HEAD~1")
    write(tmp_path, {"boat/dc/panel.yaml": "a: 3\n"})
    commit_all(tmp_path)
    git(tmp_path, "merge", "-q", "main", check=False)
    with pytest.raises(RevisionError, match="is in conflict"):
        staged(opened(tmp_path)).snapshot(BOAT)


def test_the_index_of_the_surrounding_commit_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`git commit -a` and `git commit FILE` have one of their own while the hook runs."""
    small_vessel(tmp_path / "own")
    index = tmp_path / "own/.git/next-index-1.lock"
    write(tmp_path / "own", {"boat/dc/panel.yaml": "a: 9\n"})
    git(tmp_path / "own", "add", "-A")
    (tmp_path / "own/.git/index").rename(index)
    git(tmp_path / "own", "reset", "-q")
    assert not staged(opened(tmp_path / "own")).changes
    for named in (str(index), ".git/next-index-1.lock"):
        monkeypatch.setenv("GIT_INDEX_FILE", named)
        assert staged(opened(tmp_path / "own")).snapshot(BOAT).files["dc/panel.yaml"] == b"a: 9\n"
    monkeypatch.setenv("GIT_INDEX_FILE", str(small_vessel(tmp_path / "another") / ".git/index"))
    with pytest.raises(RevisionError, match="outside this repository"):
        staged(opened(tmp_path / "own"))


def test_a_linked_work_tree_has_its_own_index(tmp_path: Path) -> None:
    small_vessel(tmp_path / "main")
    git(tmp_path / "main", "worktree", "add", "-q", "-b", "side", str(tmp_path / "linked"))
    write(tmp_path / "linked", {"boat/dc/panel.yaml": "a: 7\n"})
    git(tmp_path / "linked", "add", "-A")
    assert not staged(opened(tmp_path / "main")).changes
    assert staged(opened(tmp_path / "linked")).snapshot(BOAT).files["dc/panel.yaml"] == b"a: 7\n"


def test_a_bare_repository_has_nothing_staged(tmp_path: Path) -> None:
    git(tmp_path, "clone", "-q", "--bare", str(small_vessel(tmp_path / "own")), str(tmp_path / "bare"))
    with pytest.raises(RevisionError, match="bare repository"):
        staged(opened(tmp_path / "bare"))


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    names=st.sets(NAMES, min_size=1, max_size=4), gone=st.booleans(), folder=st.sampled_from(["boat", "a 'b\"\n$(c)"])
)
@example(names={"x\n::error::y.yaml", "x\t.yaml"}, gone=True, folder="--all")
def test_any_names_are_read_as_git_commits_them(
    tmp_path_factory: pytest.TempPathFactory, names: set[str], gone: bool, folder: str
) -> None:
    top = new_repository(tmp_path_factory.mktemp("names"))
    write(top, {f"{folder}/vessel.yaml": "name: one\n", f"{folder}/old.yaml": "a: 1\n", "readme": "x\n"})
    commit_all(top)
    try:
        write(top, {f"{folder}/{name}": f"n: {number}\n" for number, name in enumerate(sorted(names))})
    except OSError:
        return  # this file system cannot have the name
    if gone:
        (top / folder / "old.yaml").unlink()
    git(top, "add", "-A")
    found = staged(opened(top))
    assert {path: entry.blob for path, entry in found.after.items()} == as_git_would_commit(top)
    assert found.vessels()[1] == (PurePosixPath(folder),)
    assert {f"x{name}"[1:] for name in names} <= set(found.snapshot(PurePosixPath(folder)).files)
