"""Records from strangers, surroundings that mislead, and machines without git."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path, PurePosixPath

import pytest

from vesselspec.revisions import Repository, RevisionError, Snapshot, intake

from .helpers import ENVIRONMENT, commit_all, git, new_repository, small_vessel, text, write


def both(path: Path, ref: str = "HEAD") -> list[Snapshot]:
    repository = Repository.open(path)
    return [repository.snapshot(ref), repository.work_tree()]


def test_links_are_reported_and_not_followed(tmp_path: Path) -> None:
    small_vessel(tmp_path / "r")
    write(tmp_path, {"secret/secret.yaml": "s\n"})
    boat = tmp_path / "r/boat"
    (boat / "file.yaml").symlink_to(tmp_path / "secret/secret.yaml")
    (boat / "inside.yaml").symlink_to("vessel.yaml")
    (boat / "folder").symlink_to(tmp_path / "secret")
    (boat / ".hidden").symlink_to(tmp_path / "secret")
    commit_all(tmp_path / "r")
    for snapshot in both(boat):
        assert [p.path for p in snapshot.problems] == ["file.yaml", "folder", "inside.yaml"]
        assert all("symbolic link" in p.reason for p in snapshot.problems)
        assert list(snapshot.files) == ["dc/panel.yaml", "vessel.yaml"]


def test_a_vessel_folder_behind_a_link(tmp_path: Path) -> None:
    repository = Repository.open(small_vessel(tmp_path / "r"))
    (tmp_path / "r/boat").rename(tmp_path / "elsewhere")
    (tmp_path / "r/boat").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(RevisionError, match="behind a symbolic link"):
        repository.work_tree()


def test_submodules_are_reported(tmp_path: Path) -> None:
    small_vessel(tmp_path / "r")
    new_repository(tmp_path / "r/boat/sub")
    write(tmp_path / "r/boat/sub", {"x.yaml": "x\n"})
    commit_all(tmp_path / "r/boat/sub")
    git(tmp_path / "r", "add", "boat/sub")
    git(tmp_path / "r", "commit", "-qm", "sub")
    for snapshot in both(tmp_path / "r"):
        assert [(p.path, "submodule" in p.reason) for p in snapshot.problems] == [("sub", True)]
        assert "sub/x.yaml" not in snapshot.files


def test_an_untracked_repository_inside_is_reported(tmp_path: Path) -> None:
    small_vessel(tmp_path)
    write(new_repository(tmp_path / "boat/sub"), {"x.yaml": "x\n"})
    assert [p.path for p in Repository.open(tmp_path).work_tree().problems] == ["sub"]


def test_pipes_do_not_block(tmp_path: Path) -> None:
    small_vessel(tmp_path)
    os.mkfifo(tmp_path / "boat/pipe.yaml")
    (tmp_path / "boat/locked.yaml").write_text("x")
    (tmp_path / "boat/locked.yaml").chmod(0)
    snapshot = Repository.open(tmp_path).work_tree()
    assert "pipe.yaml" not in snapshot.files
    if os.getuid():  # the superuser can read it
        assert "locked.yaml" in [p.path for p in snapshot.problems]


def test_limits(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    small_vessel(tmp_path)
    write(tmp_path, {"boat/big.yaml": "#" * (intake.FILE_LIMIT + 1), "boat/exact.yaml": "#" * intake.FILE_LIMIT})
    commit_all(tmp_path)
    for snapshot in both(tmp_path):
        assert [(p.path, "larger than 4 MiB" in p.reason) for p in snapshot.problems] == [("big.yaml", True)]
        assert list(snapshot.files) == ["dc/panel.yaml", "exact.yaml", "vessel.yaml"]
    monkeypatch.setattr(intake, "TOTAL_LIMIT", 12)
    monkeypatch.setattr(intake, "FILE_LIMIT", 11)
    for snapshot in both(tmp_path):
        assert [p.path for p in snapshot.problems] == ["big.yaml", "exact.yaml", "vessel.yaml"]
        assert "together" in snapshot.problems[2].reason
    monkeypatch.setattr(intake, "COUNT_LIMIT", 3)
    for snapshot in both(tmp_path):
        assert "more than 3 files" in next(p.reason for p in snapshot.problems if p.path == "vessel.yaml")


def test_names_that_are_not_unicode(tmp_path: Path) -> None:
    small_vessel(tmp_path)
    try:
        (Path(os.fsdecode(os.fsencode(tmp_path / "boat") + b"/\xff.yaml"))).write_text("x")
    except OSError:
        pytest.skip("this file system knows Unicode names only")
    commit_all(tmp_path)
    for snapshot in both(tmp_path):
        (problem,) = snapshot.problems
        assert problem.path == "\\xff.yaml"
        assert "not valid UTF-8" in problem.reason


def test_sentences_obey_no_terminal_codes(tmp_path: Path) -> None:
    small_vessel(tmp_path)
    (tmp_path / "boat/\x1b[2J\nx.yaml").symlink_to("/")
    commit_all(tmp_path)
    for snapshot in both(tmp_path):
        (problem,) = snapshot.problems
        assert problem.path == "\x1b[2J\nx.yaml"
        assert problem.reason.isprintable()


def test_forged_trees(tmp_path: Path) -> None:
    small_vessel(tmp_path)
    blob = bytes.fromhex(text(tmp_path, "rev-parse", "HEAD:boat/vessel.yaml"))

    def tree(*entries: tuple[bytes, bytes, bytes]) -> bytes:
        raw = b"".join(b"%s %s\0%s" % entry for entry in entries)
        made = git(tmp_path, "hash-object", "-t", "tree", "-w", "--literally", "--stdin", feed=raw)
        return bytes.fromhex(made.decode())

    file = b"100644"
    above = tree((file, b"up.yaml", blob))
    boat = tree(
        (b"40000", b"..", above),
        (file, b"../up.yaml", blob),
        (file, b"/etc.yaml", blob),
        (file, b"a/../../up.yaml", blob),
        (b"40000", b".git", above),
        (file, b"vessel.yaml", blob),
    )
    top = tree((b"40000", b"boat", boat)).hex()
    commit = text(tmp_path, "commit-tree", "-m", "forged", top)
    assert list(Repository.open(tmp_path).snapshot(commit).files) == ["vessel.yaml"]


def test_the_configuration_of_a_repository_runs_nothing(tmp_path: Path) -> None:
    small_vessel(tmp_path / "r")
    repository = tmp_path / "r"
    script, mark = tmp_path / "script", tmp_path / "was-run"
    script.write_text(f"#!/bin/sh\ntouch '{mark}'\n")
    script.chmod(0o755)
    for key in (
        "core.fsmonitor",
        "core.pager",
        "diff.external",
        "core.sshCommand",
        "gpg.program",
        "filter.f.clean",
    ):
        git(repository, "config", key, str(script))
    for key, value in {
        "core.worktree": "/",
        "core.hooksPath": str(tmp_path),
        "log.showSignature": "true",
        "alias.cat-file": f"!{script}",
        "pager.ls-tree": str(script),
        "diff.d.textconv": str(script),
        "core.attributesFile": str(tmp_path / "attributes"),
        "protocol.ext.allow": "always",
        "core.untrackedCache": "true",
    }.items():
        git(tmp_path, "--git-dir", "r/.git", "config", key, value)
    (tmp_path / "attributes").write_text("* filter=f diff=d\n")
    opened = Repository.open(repository)
    for snapshot in (opened.snapshot("HEAD"), opened.work_tree()):
        assert list(snapshot.files) == ["dc/panel.yaml", "vessel.yaml"]
    assert len(opened.commits("HEAD^", "HEAD")) == 1
    assert not mark.exists()


def test_the_variables_of_a_surrounding_hook_do_not_mislead(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    small_vessel(tmp_path / "r")
    other = new_repository(tmp_path / "other")
    write(other, {"boat/vessel.yaml": "other\n", "boat/wrong.yaml": "w\n"})
    commit_all(other)
    git(tmp_path, "clone", "-q", "--bare", "r", "bare.git")
    for name, value in {
        "GIT_DIR": other / ".git",
        "GIT_WORK_TREE": other,
        "GIT_INDEX_FILE": other / ".git/index",
        "GIT_OBJECT_DIRECTORY": other / ".git/objects",
        "GIT_ALTERNATE_OBJECT_DIRECTORIES": other / ".git/objects",
        "GIT_COMMON_DIR": other / ".git",
        "GIT_QUARANTINE_PATH": other / ".git/objects/incoming",
        "GIT_SHALLOW_FILE": other / "boat/vessel.yaml",
        "GIT_PREFIX": "boat/",
        "GIT_NAMESPACE": "other",
        "GIT_GLOB_PATHSPECS": "1",
        "GIT_ICASE_PATHSPECS": "1",
    }.items():
        monkeypatch.setenv(name, str(value))
    for path in (tmp_path / "r/boat", tmp_path / "bare.git"):
        repository = Repository.open(path)
        assert repository.folder == PurePosixPath("boat")
        assert list(repository.snapshot("main").files) == ["dc/panel.yaml", "vessel.yaml"]
        assert len(repository.commits(None, "main")) == 2
    assert list(Repository.open(tmp_path / "r").work_tree().files) == ["dc/panel.yaml", "vessel.yaml"]


SCRIPT = """
import sys
from pathlib import Path
from vesselspec.revisions import Repository, RevisionError
try:
    snapshot = Repository.open(Path(sys.argv[1]), at=sys.argv[2]).snapshot(sys.argv[2])
    print(*snapshot.files)
except RevisionError as error:
    print("REFUSED", error.reason, error.remedy)
"""


def test_a_push_is_judged_before_it_is_accepted(tmp_path: Path) -> None:
    small_vessel(tmp_path / "r")
    new_repository(tmp_path / "bare.git", "--bare")
    hook = tmp_path / "bare.git/hooks/pre-receive"
    write(tmp_path, {"script.py": SCRIPT})
    hook.parent.mkdir(exist_ok=True)
    hook.write_text(
        f"#!/bin/sh\nread old new ref\n'{sys.executable}' '{tmp_path}/script.py' . $new > '{tmp_path}/said' 2>&1\n"
    )
    hook.chmod(0o755)
    git(tmp_path / "r", "push", "-q", str(tmp_path / "bare.git"), "main")
    assert (tmp_path / "said").read_text() == "dc/panel.yaml vessel.yaml\n"


@pytest.mark.parametrize("refresh", ["raise", "quiet"])
def test_no_git_program(tmp_path: Path, refresh: str) -> None:
    small_vessel(tmp_path)
    (tmp_path / "nothing").mkdir()
    environment = ENVIRONMENT | {"PATH": str(tmp_path / "nothing"), "GIT_PYTHON_REFRESH": refresh}
    command = [sys.executable, "-c", SCRIPT, str(tmp_path / "boat"), "HEAD"]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    assert done.stdout.startswith("REFUSED The program git was not found. Install git")
    assert done.stderr == ""


def test_git_that_vanishes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    repository = Repository.open(small_vessel(tmp_path))
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(RevisionError, match="program git was not found"):
        repository.resolve("HEAD")
