"""Against git itself, over random histories."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from vesselspec.revisions import Repository, RevisionError
from vesselspec.revisions.disk import blob_id

from .helpers import git, text
from .histories import History, build, files_by_git, histories, touching_by_git

MODERATE = settings(
    max_examples=20,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
    database=None,
)

FOLDERS = st.sampled_from(["", "boats/one", "boats/número 1"])
CASES = FOLDERS.flatmap(lambda folder: st.tuples(st.just(folder), histories(folder)))


@contextmanager
def built(folder: str, history: History) -> Iterator[tuple[Path, Repository]]:
    with tempfile.TemporaryDirectory() as scratch:
        path = build(Path(scratch) / "r.git", history)
        yield path, Repository.open(path, folder=PurePosixPath(folder))


@given(CASES)
@MODERATE
def test_snapshots_are_what_git_shows(case: tuple[str, History]) -> None:
    folder, history = case
    with built(folder, history) as (path, repository):
        for position in {0, len(history.steps) // 2, len(history.steps) - 1}:
            snapshot = repository.snapshot(f"c{position}")
            expected = files_by_git(path, f"c{position}", folder)
            assert dict(snapshot.files) == expected
            assert list(snapshot.files) == sorted(expected)
            assert snapshot.problems == ()
            assert snapshot.has_vessel == ("vessel.yaml" in expected)
            for name, blob in snapshot.blobs.items():
                assert blob == blob_id(expected[name], repository.object_format)


@given(CASES)
@MODERATE
def test_commits_are_taken_apart_as_git_does(case: tuple[str, History]) -> None:
    folder, history = case
    with built(folder, history) as (path, repository):
        for position in range(len(history.steps)):
            commit = repository.resolve(f"c{position}")
            shown = git(path, "show", "-s", "--format=%H%x00%cI%x00%an%x00%s%x00%b%x00%P", f"c{position}")
            commit_id, when, author, subject, body, parents = shown.decode().split("\0")
            assert commit.id == commit_id == text(path, "rev-parse", f"c{position}")
            assert commit.when.isoformat() == when.replace("Z", "+00:00")
            assert commit.author == author
            assert commit.subject == subject
            assert [line.rstrip() for line in commit.body.split("\n")] == [
                line.rstrip() for line in body.strip("\n").split("\n")
            ]
            assert commit.parents == tuple(parents.split())


@given(CASES, st.data())
@MODERATE
def test_merge_bases_and_ranges_are_those_of_git(case: tuple[str, History], data: st.DataObject) -> None:
    folder, history = case
    names = st.sampled_from([f"c{position}" for position in range(len(history.steps))])
    with built(folder, history) as (path, repository):
        for _ in range(2):
            base, head = data.draw(names | st.none()), data.draw(names)
            commits = repository.commits(base, head)
            span = [head, *([f"^{base}"] if base else [])]
            assert {c.id for c in commits} == set(text(path, "rev-list", *span, "--", folder or ".").split())
            touching = touching_by_git(path, span, folder)
            assert {c.id for c in commits} <= touching
            if all(len(step.parents) < 2 for step in history.steps):
                assert {c.id for c in commits} == touching
            seen: set[str] = set()
            for commit in commits:
                ancestors = set(text(path, "rev-list", *commit.parents).split()) if commit.parents else set()
                assert ancestors & {c.id for c in commits} <= seen, "a child stands before its ancestor"
                seen.add(commit.id)
            if base is None:
                continue
            expected = git(path, "merge-base", base, head, check=False).decode().strip()
            if expected:
                assert repository.merge_base(base, head).id == expected
            else:
                with pytest.raises(RevisionError, match="no common ancestor"):
                    repository.merge_base(base, head)


@given(histories(""), st.data())
@MODERATE
def test_spellings_mean_what_git_means(history: History, data: st.DataObject) -> None:
    last = len(history.steps) - 1
    with built("", history) as (path, repository):
        git(path, "tag", "-a", "-m", "x", "v1", f"c{last}")
        git(path, "tag", "light", "c0")
        whole = text(path, "rev-parse", f"c{last}")
        suffix = data.draw(st.sampled_from(["", "~1", "^", "^2", "~2^", "^0", "@{0}", "^{commit}", "^{}", "^{tree}"]))
        for stem in ("v1", "light", "refs/heads/c0", "heads/c0", whole, whole[:9], f"v1-0-g{whole[:12]}"):
            ref = stem + suffix
            expected = git(path, "rev-parse", "--verify", "-q", f"{ref}^{{commit}}", check=False).decode().strip()
            if expected:
                assert repository.resolve(ref).id == expected
            else:
                with pytest.raises(RevisionError):
                    repository.resolve(ref)


@given(st.text(max_size=12))
@MODERATE
def test_no_spelling_makes_a_traceback(ref: str) -> None:
    with built("", History([])) as (_, repository):
        try:
            repository.resolve(ref)
        except RevisionError as error:
            assert error.reason.isprintable()
            assert error.remedy.isprintable()
