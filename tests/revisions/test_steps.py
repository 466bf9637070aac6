"""The steps of a history against git itself, commit by commit."""

from __future__ import annotations

import dataclasses
from pathlib import Path, PurePosixPath

from hypothesis import given, settings

from vesselspec.revisions import Repository

from .helpers import commit_all, git, new_repository, small_vessel, text, write
from .histories import History, files_by_git
from .test_histories import CASES, MODERATE, built

FEW = settings(MODERATE, max_examples=10)


def steps_by_git(path: Path, head: str, folder: str) -> dict[str, list[str]]:
    """Commit → the steps that it follows, by the definition: one diff with the first parent for each commit."""
    parents = {commit: rest for commit, *rest in map(str.split, text(path, "rev-list", "--parents", head).splitlines())}
    empty = text(path, "hash-object", "-w", "-t", "tree", "--stdin")

    def touched(commit: str) -> bool:
        before = parents[commit][0] if parents[commit] else empty
        return bool(git(path, "diff-tree", "-r", before, commit, "--", folder or "."))

    def nearest(commit: str | None) -> str | None:
        while commit is not None and not touched(commit):
            commit = parents[commit][0] if parents[commit] else None
        return commit

    found: dict[str, list[str]] = {}
    ahead = [nearest(text(path, "rev-parse", head))]
    while ahead:
        commit = ahead.pop()
        if commit is not None and commit not in found:
            near = [nearest(parent) for parent in parents[commit]]
            found[commit] = list(dict.fromkeys(each for each in near if each is not None))
            ahead += near
    return found


@given(CASES)
@FEW
def test_steps_are_what_git_says_commit_by_commit(case: tuple[str, History]) -> None:
    folder, history = case
    with built(folder, history) as (path, repository):
        head = f"c{len(history.steps) - 1}"
        steps = repository.steps(head)
        assert {step.commit.id: list(step.parents) for step in steps} == steps_by_git(path, head, folder)
        order = [step.commit.id for step in steps]
        assert all(order.index(step.commit.id) < order.index(parent) for step in steps for parent in step.parents)
        assert repository.fetch(steps) == len(steps)
        for step in steps:
            assert dict(repository.at_step(step).files) == files_by_git(path, step.commit.id, folder)
            assert repository.at_step(step) == dataclasses.replace(
                repository.snapshot(step.commit.id), name=step.commit.short
            )
        assert repository.ancestors(head) == set(text(path, "rev-list", head).split())


def test_a_shallow_clone_says_where_it_begins(tmp_path: Path) -> None:
    source = small_vessel(tmp_path / "source")
    git(tmp_path, "clone", "-q", "--depth", "1", source.as_uri(), "clone")
    (step,) = Repository.open(tmp_path / "clone/boat").steps("HEAD")
    assert step.begins
    assert step.parents == ()
    assert set(step.listing) == {"vessel.yaml", "dc/panel.yaml"}
    assert not any(step.begins for step in Repository.open(source / "boat").steps("HEAD"))


def test_what_is_too_large_is_not_fetched_and_stays_a_problem(tmp_path: Path) -> None:
    folder = new_repository(tmp_path / "r")
    write(folder, {"vessel.yaml": "a: 1\n", "big.yaml": "#" * (4 * 1024 * 1024 + 1)})
    commit_all(folder)
    repository = Repository.open(folder, folder=PurePosixPath())
    (step,) = repository.steps("HEAD")
    repository.fetch([step])
    assert repository.held(step.listing["vessel.yaml"].blob) == b"a: 1\n"
    assert repository.held(step.listing["big.yaml"].blob) is None
    assert [problem.path for problem in repository.at_step(step).problems] == ["big.yaml"]
