"""Build the demonstration repository of the example vessel: its refit history and the proposals on branches.

The files beside this folder are the newest state of `main`. `history.toml` tells what each visit changed, as
exact replacements of text. They are undone from the newest to the oldest to get the first state, and then
committed forwards, with the dates and roles written there. The same input gives the same commit ids.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import stat
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
#: A file with this name inside `.git` says that this program built the repository and may replace it.
MARKER = "built-by-example-refit"
_FILE_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")

Files = dict[str, str]


class RefitError(Exception):
    """The history does not fit the files, or the place for the repository is taken."""


@dataclass(frozen=True)
class Edit:
    """One change of one file: an exact replacement of text, or (`added`) the whole file."""

    file: str
    before: str = ""
    after: str = ""
    added: bool = False

    def undo(self, files: Files, kept: dict[str, str]) -> None:
        """Take the change back. The text of an added file is kept for the way forward."""
        if self.added:
            if self.file not in files:
                raise RefitError(f"{self.file} was to be added, but is not there")
            kept[self.file] = files.pop(self.file)
        else:
            files[self.file] = _replaced(files, self.file, self.after, self.before)

    def apply(self, files: Files, kept: Mapping[str, str]) -> None:
        """Make the change."""
        if self.added:
            files[self.file] = kept[self.file]
        else:
            files[self.file] = _replaced(files, self.file, self.before, self.after)


@dataclass(frozen=True)
class Everywhere:
    """A text that is replaced in all files. Neither text may stand beside the other, so it can be taken back."""

    before: str
    after: str

    def undo(self, files: Files) -> None:
        """Take the replacement back."""
        _replace_everywhere(files, self.after, self.before)

    def apply(self, files: Files) -> None:
        """Make the replacement."""
        _replace_everywhere(files, self.before, self.after)


@dataclass(frozen=True)
class Step:
    """One visit, and its commit."""

    date: str
    author: str
    subject: str
    body: str
    edits: tuple[Edit, ...]
    everywhere: tuple[Everywhere, ...]

    @property
    def email(self) -> str:
        """An address that leads nowhere, made from the role."""
        return re.sub(r"[^a-z0-9]+", "-", self.author.lower()).strip("-") + "@example.invalid"

    def undo(self, files: Files, kept: dict[str, str]) -> None:
        """Take the whole visit back."""
        for replacement in reversed(self.everywhere):
            replacement.undo(files)
        for edit in reversed(self.edits):
            edit.undo(files, kept)

    def apply(self, files: Files, kept: Mapping[str, str]) -> None:
        """Make the whole visit."""
        for edit in self.edits:
            edit.apply(files, kept)
        for replacement in self.everywhere:
            replacement.apply(files)

    @property
    def message(self) -> str:
        """The commit message."""
        return f"{self.subject}\n\n{self.body.strip()}\n"


@dataclass(frozen=True)
class Branch:
    """A proposal that starts from the newest state of main."""

    name: str
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class History:
    """All visits on main, oldest first, and the branches."""

    steps: tuple[Step, ...]
    branches: tuple[Branch, ...]


@dataclass(frozen=True)
class State:
    """The files at one commit, with the step that led to it."""

    branch: str
    step: Step
    files: Mapping[str, str]


def _replaced(files: Files, name: str, old: str, new: str) -> str:
    text = files.get(name)
    if text is None:
        raise RefitError(f"{name} is to be changed, but is not there")
    if text.count(old) != 1:
        raise RefitError(f"{name}: this text stands there {text.count(old)} times, not once:\n{old}")
    return text.replace(old, new)


def _replace_everywhere(files: Files, old: str, new: str) -> None:
    if not any(old in text for text in files.values()) or any(new in text for text in files.values()):
        raise RefitError(f"this cannot be replaced everywhere and taken back: {old} by {new}")
    for name, text in files.items():
        files[name] = text.replace(old, new)


def read_history(path: Path = HERE / "history.toml") -> History:
    """Read the history file."""
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    steps = _steps(raw["step"])
    branches = tuple(Branch(str(each["name"]), _steps(each["step"])) for each in raw.get("branch", ()))
    for line in (steps, *(steps[-1:] + branch.steps for branch in branches)):
        dates = [datetime.fromisoformat(step.date) for step in line]
        if any(date.tzinfo is None for date in dates) or dates != sorted(dates):
            raise RefitError("dates must have an offset and rise from step to step")
    return History(steps, branches)


def _steps(raw: Sequence[Mapping[str, Any]]) -> tuple[Step, ...]:
    return tuple(
        Step(
            date=str(each["date"]),
            author=str(each["author"]),
            subject=str(each["subject"]),
            body=str(each["body"]),
            edits=tuple(_edit(edit) for edit in each.get("edit", ())),
            everywhere=tuple(Everywhere(**pair) for pair in each.get("everywhere", ())),
        )
        for each in raw
    )


def _edit(raw: Mapping[str, Any]) -> Edit:
    edit = Edit(**raw)
    if not _FILE_NAME.fullmatch(edit.file):
        raise RefitError(f"{edit.file!r} is not the plain name of a file of the record")
    if edit.added == bool(edit.before or edit.after) or (not edit.added and not (edit.before and edit.after)):
        raise RefitError(f"{edit.file}: write either `added`, or both `before` and `after`")
    return edit


def newest_files(folder: Path = HERE.parent) -> Files:
    """Return the committed files of the record: the newest state of main."""
    return {path.name: path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.yaml"))}


def states(history: History, newest: Mapping[str, str]) -> list[State]:
    """Return the files at every commit: main from the first state on, then each branch."""
    files, kept = dict(newest), dict[str, str]()
    for step in reversed(history.steps):
        step.undo(files, kept)
    found = _forwards("main", history.steps, files, kept)
    if found[-1].files != dict(newest):
        raise RefitError("the history does not lead to the files beside it")
    for branch in history.branches:
        found += _forwards(branch.name, branch.steps, dict(newest), {})
    return found


def _forwards(branch: str, steps: Sequence[Step], files: Files, kept: Mapping[str, str]) -> list[State]:
    found = []
    for step in steps:
        step.apply(files, kept)
        found.append(State(branch, step, dict(files)))
    return found


def build(out: Path) -> None:
    """Build the repository at `out`, in the place of one that was built before."""
    every_state = states(read_history(), newest_files())
    _check_place(out)
    out.parent.mkdir(parents=True, exist_ok=True)
    work = Path(tempfile.mkdtemp(prefix=".example-", dir=out.parent))
    try:
        # An empty template: no hooks and no excludes of this machine come along.
        _git(work, "init", "--quiet", "--template=", "--object-format=sha1")
        # Sketches of fronts as they are now; the record has named them from its first day.
        shutil.copytree(HERE.parent / "photos", work / "photos")
        branch = "main"
        for state in every_state:
            if state.branch != branch:
                branch = state.branch
                _git(work, "checkout", "--quiet", "-b", branch, "main")
            _commit(work, state)
        _git(work, "checkout", "--quiet", "main")
        (work / ".git" / MARKER).write_text("Replaced at every build; keep nothing here.\n", encoding="utf-8")
        work.chmod(0o755)
        if out.exists():
            _remove(out)
        work.rename(out)
    except BaseException:
        _remove(work)
        raise


def _check_place(out: Path) -> None:
    if out.is_symlink() or (out.exists() and not (out / ".git" / MARKER).is_file()):
        raise RefitError(f"{out} is there and was not built by this program; it is left alone")


def _remove(folder: Path) -> None:
    """Remove a tree; git writes its objects read-only, which some systems refuse to delete."""
    for path in folder.rglob("*"):
        if not path.is_symlink():
            path.chmod(path.stat().st_mode | stat.S_IWUSR)
    shutil.rmtree(folder)


def _commit(work: Path, state: State) -> None:
    for path in work.iterdir():
        if path.is_file() and path.name not in state.files:
            path.unlink()
    for name, text in state.files.items():
        (work / name).write_bytes(text.encode("utf-8"))
    step = state.step
    _git(work, "add", "--all", "--force")
    _git(work, "commit", "--quiet", "--allow-empty", "--cleanup=verbatim", f"--message={step.message}", step=step)


def _git(work: Path, *arguments: str, step: Step | None = None) -> None:
    """Run git with nothing from the user's or the caller's settings."""
    environment = {key: value for key, value in os.environ.items() if not key.startswith("GIT_")}
    environment |= {"GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_NOSYSTEM": "1", "GIT_TERMINAL_PROMPT": "0"}
    settings = ["init.defaultBranch=main", "core.autocrlf=false", "core.fileMode=false", "commit.gpgSign=false"]
    if step is not None:
        settings += [f"user.name={step.author}", f"user.email={step.email}"]
        environment |= {"GIT_AUTHOR_DATE": step.date, "GIT_COMMITTER_DATE": step.date}
    options = [word for setting in settings for word in ("-c", setting)]
    done = subprocess.run(
        ["git", *options, *arguments], cwd=work, env=environment, capture_output=True, text=True, check=False
    )
    if done.returncode != 0:
        raise RefitError(f"git {arguments[0]} failed: {done.stderr.strip()}")


def main(arguments: Sequence[str] | None = None) -> int:
    """Build the repository from the command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("out", metavar="OUT_DIR", type=Path, help="where the repository goes; replaced if built before")
    out: Path = parser.parse_args(arguments).out
    try:
        build(out)
    except RefitError as error:
        print(f"build.py: {error}", file=sys.stderr)
        return 2
    print(f"built {out}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
