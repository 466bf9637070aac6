"""Merges tried out beside the repository: what git makes of them, and nothing is touched."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path, PurePosixPath

import pytest
from hypothesis import HealthCheck, given, settings

from vesselspec.revisions import Repository, RevisionError, Scratch, scratch

from .helpers import commit_all, fingerprint, git, small_vessel, text, write
from .histories import History, build, histories

LINES = "".join(f"l{n}: {n}\n" for n in range(9))


def merged_by_git(source: Path, clone: Path, ours: str, theirs: str) -> str | None:
    """The tree that `git merge` makes in a clone; None for conflicts."""
    git(clone, "checkout", "-q", "-f", "--detach", ours)
    git(clone, "clean", "-q", "-f", "-d", "-x")
    git(clone, "merge", "-q", "-m", "both", theirs, check=False)
    if git(clone, "ls-files", "--unmerged") or not git(clone, "rev-parse", "HEAD", check=False):
        git(clone, "reset", "-q", "--hard")
        return None
    return text(clone, "rev-parse", "HEAD^{tree}")


def holds(source: Path, clone: Path, pairs: list[tuple[str, str]]) -> None:
    """Each pair merges as git merges it, and the repository stays as it was, times of files included."""
    before = fingerprint(source)
    repository = Repository.open(source, folder=PurePosixPath("boat"))
    with Scratch(repository) as beside:
        home = beside._home
        for one, other in pairs:
            try:
                done = beside.merge(repository.resolve(one), repository.resolve(other))
            except RevisionError as error:
                assert "no common ancestor" in error.reason
                continue
            expected = merged_by_git(source, clone, one, other)
            assert bool(done.conflicts or done.elsewhere) == (expected is None), (one, other)
            assert expected is None or done.tree == expected
    assert not home.exists()
    assert fingerprint(source) == before


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=histories("boat"))
def test_random_histories_merge_as_git_merges_them(tmp_path_factory: pytest.TempPathFactory, data: History) -> None:
    home = tmp_path_factory.mktemp("random")
    source = build(home / "source", data)
    clone = home / "clone"
    git(home, "clone", "-q", "--no-hardlinks", "--no-checkout", str(source), str(clone))
    refs = [text(source, "rev-parse", f"c{n}") for n in range(len(data.steps))]
    holds(source, clone, list(combinations(refs[-4:], 2)))


def two_branches(folder: Path, *options: str) -> Path:
    """Branches `one` and `two` that change different ends of a file; objects lie loose, as after a day's work."""
    small_vessel(folder, *options)
    write(folder, {"boat/long.yaml": LINES})
    commit_all(folder)
    for name, line in (("one", "l0: one\n"), ("two", "l8: two\n")):
        git(folder, "checkout", "-q", "-b", name, "main")
        wanted = LINES.replace(f"{line[:2]}: {line[1]}\n", line)
        write(folder, {"boat/long.yaml": wanted, f"boat/{name}.yaml": "a: 1\n"})
        commit_all(folder, name)
    git(folder, "checkout", "-q", "main")
    return folder


def cloned(source: Path, out: Path) -> Path:
    git(source.parent, "clone", "-q", "--no-hardlinks", str(source), str(out))
    for name in ("one", "two"):
        git(out, "branch", "-q", name, f"origin/{name}", check=False)
    return out


@pytest.mark.parametrize("options", [(), ("--object-format=sha256",)])
def test_both_changes_are_in_what_is_merged(tmp_path: Path, options: tuple[str, ...]) -> None:
    source = two_branches(tmp_path / "r", *options)
    holds(source, cloned(source, tmp_path / "c"), [("one", "two"), ("two", "one"), ("main", "one"), ("one", "one")])
    repository = Repository.open(source)
    with Scratch(repository) as beside:
        done = beside.merge(repository.resolve("one"), repository.resolve("two"))
    assert done.snapshot.files["long.yaml"] == LINES.replace("l0: 0", "l0: one").replace("l8: 8", "l8: two").encode()
    assert {"one.yaml", "two.yaml", "vessel.yaml"} <= set(done.snapshot.files)


def test_conflicts_are_told_by_file_inside_and_outside_the_vessel(tmp_path: Path) -> None:
    source = two_branches(tmp_path / "r")
    for name in ("one", "two"):
        git(source, "checkout", "-q", name)
        write(source, {"boat/dc/panel.yaml": f"a: {name}\n", "readme.txt": f"{name}\n"})
        commit_all(source, name)
    repository = Repository.open(source)
    with Scratch(repository) as beside:
        done = beside.merge(repository.resolve("one"), repository.resolve("two"))
    assert (done.conflicts, done.elsewhere) == (("dc/panel.yaml",), ("readme.txt",))


def test_branches_that_merged_each_other_have_two_bases(tmp_path: Path) -> None:
    source = two_branches(tmp_path / "r")
    for name, other in (("one", "two"), ("two", "one~1")):
        git(source, "checkout", "-q", name)
        git(source, "merge", "-q", "-m", "cross", other if other == "two" else "one^1")
    write(source, {"boat/more.yaml": "m: 1\n"})
    commit_all(source, "more")
    assert len(text(source, "merge-base", "--all", "one", "two").split()) == 2
    holds(source, cloned(source, tmp_path / "c"), [("one", "two"), ("two", "one")])


def test_no_program_that_anybody_named_takes_part_in_a_merge(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source = two_branches(tmp_path / "r")
    attributes = "*.yaml merge=evil filter=evil diff=evil\n"
    for name in ("one", "two", "main"):
        git(source, "checkout", "-q", name)
        write(source, {".gitattributes": attributes, "boat/.gitattributes": attributes})
        commit_all(source, "attributes")
    mark = tmp_path / "ran"
    run = f"sh -c 'touch {mark}; exit 0'"
    settings_of = {
        "merge.evil.driver": run,
        "filter.evil.smudge": run,
        "filter.evil.clean": run,
        "diff.evil.textconv": run,
    }
    (tmp_path / "global").write_text("".join(f'[merge "evil"]\n\tdriver = {run}\n' for _ in range(1)))
    for key, value in settings_of.items():
        git(source, "config", key, value)
    (source / ".git/info/attributes").write_text(attributes)
    monkeypatch.setenv("GIT_CONFIG_GLOBAL", str(tmp_path / "global"))
    monkeypatch.setenv("GIT_CONFIG_COUNT", "1")
    monkeypatch.setenv("GIT_CONFIG_KEY_0", "merge.evil.driver")
    monkeypatch.setenv("GIT_CONFIG_VALUE_0", run)
    monkeypatch.setenv(
        "GIT_CONFIG_PARAMETERS", f"'merge.evil.driver'='{run}'".replace("sh -c '", "").replace("; exit 0'", "")
    )
    repository = Repository.open(source)
    with Scratch(repository) as beside:
        done = beside.merge(repository.resolve("one"), repository.resolve("two"))
    assert not mark.exists()
    assert not done.conflicts  # a driver that is not there is git's own


@pytest.mark.parametrize("rule", ["long.yaml merge=union", "long.yaml -merge", "*.yaml merge=binary"])
def test_what_a_repository_says_of_merging_holds(tmp_path: Path, rule: str) -> None:
    source = two_branches(tmp_path / "r")
    for name in ("one", "two"):
        git(source, "checkout", "-q", name)
        write(source, {"boat/.gitattributes": f"{rule}\n", "boat/long.yaml": LINES + f"{name}: 1\n"})
        commit_all(source, "attributes")
    holds(source, cloned(source, tmp_path / "c"), [("one", "two"), ("two", "one")])


def test_nobodys_settings_change_the_merge(tmp_path: Path) -> None:
    source = two_branches(tmp_path / "r")
    git(source, "checkout", "-q", "two")
    git(source, "mv", "boat/long.yaml", "boat/renamed.yaml")
    commit_all(source, "rename")
    clone = cloned(source, tmp_path / "c")
    for key, value in (("merge.renames", "false"), ("diff.renames", "false"), ("merge.conflictStyle", "diff3")):
        git(source, "config", key, value)
    holds(source, clone, [("one", "two")])


def test_a_git_that_is_too_old_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(scratch, "NEEDED", (99, 0))
    with pytest.raises(RevisionError, match=r"git 99\.0 or newer"), Scratch(Repository.open(small_vessel(tmp_path))):
        pass


def test_a_forged_attributes_path_is_not_laid_out(tmp_path: Path) -> None:
    source = two_branches(tmp_path / "r")
    blob = text(source, "rev-parse", "one:boat/long.yaml")
    inner = git(source, "mktree", feed=f"100644 blob {blob}\t.gitattributes\n".encode()).decode().strip()
    top = git(source, "ls-tree", "one") + f"040000 tree {inner}\t..\n".encode()
    tree = git(source, "mktree", feed=top).decode().strip()
    commit = text(source, "commit-tree", tree, "-p", "main", "-m", "forged")
    git(source, "update-ref", "refs/heads/forged", commit)
    repository = Repository.open(source)
    with Scratch(repository) as beside:
        home = beside._home
        beside.merge(repository.resolve("forged"), repository.resolve("two"))
        assert not (home / ".gitattributes").exists()
        assert sorted(path.name for path in home.iterdir()) == ["git", "work"]


def test_two_histories_without_a_common_commit_are_refused(tmp_path: Path) -> None:
    source = two_branches(tmp_path / "r")
    git(source, "checkout", "-q", "--orphan", "alone")
    commit_all(source, "alone")
    repository = Repository.open(source)
    with Scratch(repository) as beside, pytest.raises(RevisionError, match="no common ancestor"):
        beside.merge(repository.resolve("alone"), repository.resolve("two"))
