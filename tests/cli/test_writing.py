"""Writing a record: all files or none, over nothing but what was read, and never over what git does not hold yet."""

from __future__ import annotations

import errno
import os
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from vesselspec.cli import writing
from vesselspec.cli.writing import Rewrite, diff, rewrites, uncommitted, write_record
from vesselspec.revisions import RevisionError

OLD = {"vessel.yaml": b"vessel: 1\n", "panels/ac.yaml": b"panels: 1\r\n"}
CHANGES = (
    Rewrite("cables/new.yaml", None, b"cables: {}\n"),
    Rewrite("panels/ac.yaml", b"panels: 1\r\n", b"panels: 2\r\n"),
    Rewrite("vessel.yaml", b"vessel: 1\n", b"vessel: 2\n"),
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, content in OLD.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(content)
    return tmp_path


def held(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and ".git" not in path.parts
    }


def git(folder: Path, *arguments: str) -> None:
    names = ["-c", "user.name=a", "-c", "user.email=a@b", "-c", "commit.gpgsign=false", "-c", "core.autocrlf=false"]
    subprocess.run(["git", *names, *arguments], cwd=folder, check=True, capture_output=True)


def test_all_are_written_and_permissions_stay(folder: Path) -> None:
    (folder / "vessel.yaml").chmod(0o640)
    write_record(folder, CHANGES, overwrite_uncommitted=False)
    assert held(folder) == {each.file: each.new for each in CHANGES}
    assert (folder / "vessel.yaml").stat().st_mode & 0o777 == 0o640
    assert (folder / "cables/new.yaml").stat().st_mode & 0o777 == 0o644


@pytest.mark.parametrize("fails", range(3))
@pytest.mark.parametrize("how", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_a_failure_half_way_undoes_what_was_done(
    folder: Path, monkeypatch: pytest.MonkeyPatch, fails: int, how: BaseException
) -> None:
    moved: list[str] = []
    move = writing._move

    def failing(folder: Path, change: Rewrite, new: Path) -> None:
        if len(moved) == fails:
            raise how
        move(folder, change, new)
        moved.append(change.file)

    monkeypatch.setattr(writing, "_move", failing)
    with pytest.raises((RevisionError, KeyboardInterrupt)):
        write_record(folder, CHANGES, overwrite_uncommitted=False)
    assert held(folder) == OLD
    assert not (folder / "cables").exists()
    assert len(moved) == fails


@pytest.mark.parametrize("number", [errno.EPERM, errno.EOPNOTSUPP])
def test_a_file_system_without_hard_links(folder: Path, monkeypatch: pytest.MonkeyPatch, number: int) -> None:
    def refused(*_: object) -> None:
        raise OSError(number, "no links here")

    monkeypatch.setattr(os, "link", refused)
    write_record(folder, CHANGES, overwrite_uncommitted=False)
    assert held(folder) == {each.file: each.new for each in CHANGES}


def _link(folder: Path) -> None:
    (folder / "vessel.yaml").rename(folder / "elsewhere")
    (folder / "vessel.yaml").symlink_to(folder / "elsewhere")


def _link_of_folder(folder: Path) -> None:
    (folder / "other").mkdir()
    (folder / "cables").symlink_to(folder / "other")


@pytest.mark.parametrize(
    ("arrange", "said"),
    [
        (lambda folder: (folder / "vessel.yaml").write_bytes(b"mine\n"), "changed by somebody else"),
        (_link, "symbolic link"),
        (_link_of_folder, "symbolic link"),
        (lambda folder: (folder / "cables").write_bytes(b""), "cannot be written"),
        (lambda folder: [(folder / "cables").mkdir(), (folder / "cables/new.yaml").write_bytes(b"x")], "there already"),
        (lambda folder: (folder / "vessel.yaml").unlink(), "cannot be written"),
    ],
)
def test_what_is_in_the_way_stays(folder: Path, arrange: Callable[[Path], object], said: str) -> None:
    arrange(folder)
    before = held(folder)
    with pytest.raises(RevisionError) as refused:
        write_record(folder, CHANGES, overwrite_uncommitted=False)
    assert said in refused.value.reason
    assert "Every file was left as it is." in refused.value.reason
    assert held(folder) == before


@pytest.mark.parametrize("file", ["../out.yaml", "a/../../out.yaml", "/tmp/out.yaml", "./a/x.yaml"])
def test_no_path_leads_out_of_the_folder(folder: Path, file: str) -> None:
    with pytest.raises(RevisionError):
        write_record(folder, [Rewrite(file, None, b"x")], overwrite_uncommitted=True)
    assert held(folder) == OLD


def test_what_git_does_not_hold_is_not_written_over(folder: Path) -> None:
    git(folder, "init", "-q")
    assert uncommitted(folder, OLD) == tuple(OLD)  # no commit at all
    git(folder, "add", "vessel.yaml")
    git(folder, "commit", "-qm", "one")
    assert uncommitted(folder, OLD) == ("panels/ac.yaml",)
    git(folder, "add", "-A")
    git(folder, "commit", "-qm", "two")
    assert uncommitted(folder, OLD) == ()
    (folder / "panels/ac.yaml").write_bytes(b"panels: 1\n")
    assert uncommitted(folder, {"panels/ac.yaml": b"panels: 1\n"}) == ()  # git may have changed the line endings
    (folder / "panels/ac.yaml").write_bytes(b"panels: 1\r\n")
    (folder / "vessel.yaml").write_bytes(b"vessel: 1 # mine\n")
    changes = (*CHANGES[:2], Rewrite("vessel.yaml", b"vessel: 1 # mine\n", b"vessel: 2\n"))
    before = held(folder)
    with pytest.raises(RevisionError) as refused:
        write_record(folder, changes, overwrite_uncommitted=False)
    assert refused.value.reason == "'vessel.yaml': changed since the last commit. Nothing was written."
    assert "--overwrite-uncommitted" in refused.value.remedy
    assert held(folder) == before
    write_record(folder, changes, overwrite_uncommitted=True)
    assert held(folder)["vessel.yaml"] == b"vessel: 2\n"


@pytest.mark.parametrize("answer", [True, False])
def test_on_a_terminal_it_asks(folder: Path, monkeypatch: pytest.MonkeyPatch, answer: bool) -> None:
    git(folder, "init", "-q")
    monkeypatch.setattr(writing, "_agreed", lambda files: answer)
    if answer:
        write_record(folder, CHANGES, overwrite_uncommitted=False)
    else:
        with pytest.raises(RevisionError):
            write_record(folder, CHANGES, overwrite_uncommitted=False)
    assert (held(folder) == OLD) is not answer


def test_the_diff_can_be_applied(folder: Path) -> None:
    new = {
        "vessel.yaml": b"vessel: 2\n# \xc3\xa9",
        "panels/ac.yaml": b"\xef\xbb\xbfpanels: 2\r\n",
        "more.yaml": b"# only\n",
    }
    changes = rewrites(OLD, {**OLD, **new})
    patch = diff(changes).encode()
    subprocess.run(["git", "apply", "--whitespace=nowarn", "-"], cwd=folder, input=patch, check=True)
    assert held(folder)["vessel.yaml"] == new["vessel.yaml"]
    assert held(folder)["more.yaml"] == new["more.yaml"]
    assert rewrites(OLD, OLD) == ()


def test_the_diff_holds_nothing_that_a_terminal_obeys() -> None:
    said = diff([Rewrite("x.yaml", None, "note: \x1b[2J\u202e\n".encode())])
    assert not {char for char in said if not char.isprintable() and char != "\n"}
