"""The git program, asked so that it only ever reads, and only this repository."""

from __future__ import annotations

import os
import subprocess
from dataclasses import dataclass
from pathlib import Path

from vesselspec.revisions.errors import RevisionError, shown
from vesselspec.revisions.place import Place

_SETTINGS = (
    # A repository may come from strangers, and its configuration can name programs to run.
    "core.fsmonitor=false",
    "core.hooksPath=/dev/null",
    "protocol.allow=never",
)
_ALONE = {
    "GIT_CONFIG_NOSYSTEM": "1",
    "GIT_CONFIG_SYSTEM": "/dev/null",
    "GIT_CONFIG_GLOBAL": "/dev/null",
    "GIT_CONFIG_PARAMETERS": "",
    "GIT_CONFIG_COUNT": "0",
    "GIT_ATTR_NOSYSTEM": "1",
}


@dataclass(frozen=True)
class Answer:
    """What git said."""

    status: int
    out: bytes
    error: str

    def checked(self) -> bytes:
        """The output, or a RevisionError if git failed."""
        if self.status != 0:
            raise RevisionError(f"git could not read the repository: {self.said()}.", "Check it with: git fsck")
        return self.out

    def said(self) -> str:
        """The last line of the complaint, safe for a terminal."""
        lines = self.error.strip().splitlines() or ["no reason was given"]
        return shown(lines[-1].removeprefix("fatal: ").removeprefix("error: "))


@dataclass(frozen=True)
class Runner:
    """Runs one git command at a time in one repository."""

    place: Place
    #: Without the settings of machine, user and caller: they can name programs that take part in a merge.
    alone: bool = False
    #: The index to read where it is not the repository's own: during a commit git may have another one.
    index: Path | None = None

    def run(self, *arguments: str, feed: bytes = b"") -> Answer:
        """Run a plumbing command with the given standard input, which is handed over at once."""
        try:
            from git.cmd import Git  # noqa: PLC0415  # 60 ms, and not needed to read a folder
            from git.exc import GitCommandNotFound  # noqa: PLC0415
        except ImportError as error:
            raise _no_git(missing_library=isinstance(error, ModuleNotFoundError)) from None
        # Always a work tree, so that neither a variable nor core.worktree of the repository can set another.
        top = self.place.work_tree or self.place.git_dir
        command = [Git.GIT_PYTHON_GIT_EXECUTABLE or "git", "--no-pager", "--literal-pathspecs"]
        command += [f"--git-dir={self.place.git_dir}", f"--work-tree={top}"]
        for setting in _SETTINGS:
            command += ["-c", setting]
        try:
            process = Git(str(top)).execute(
                [*command, *arguments],
                istream=subprocess.PIPE,
                as_process=True,
                env=_environment(self.place, self.index) | (_ALONE if self.alone else {}),
                shell=False,
            )
        except GitCommandNotFound:
            raise _no_git(missing_library=False) from None
        except (OSError, ValueError) as error:
            raise RevisionError(f"git could not be started: {shown(str(error))}.", "Check the path.") from None
        out, complaint = process.communicate(feed)
        return Answer(process.returncode, out, complaint.decode("utf-8", "replace"))


def _no_git(*, missing_library: bool) -> RevisionError:
    if missing_library:
        return RevisionError("The Python library GitPython is not installed.", "Type: pip install GitPython")
    return RevisionError(
        "The program git was not found.", "Install git, and check that it is on the search path (PATH)."
    )


def _environment(place: Place, index: Path | None) -> dict[str, str]:
    """Override what a surrounding hook or shell may have set; the runner cannot unset a variable."""
    common_dir = place.common_dir
    objects = common_dir / "objects"
    quarantine = os.environ.get("GIT_QUARANTINE_PATH", "")
    # While a push is judged, its objects lie in quarantine; they are read if they are of this repository.
    ours = quarantine and Path(quarantine).resolve().is_relative_to(objects.resolve())
    return {
        "GIT_COMMON_DIR": str(common_dir),
        "GIT_INDEX_FILE": str(index or place.git_dir / "index"),
        "GIT_OBJECT_DIRECTORY": str(objects),
        "GIT_ALTERNATE_OBJECT_DIRECTORIES": str(Path(quarantine).resolve()) if ours else "",
        "GIT_SHALLOW_FILE": str(common_dir / "shallow"),
        # An id means its own content and its own parents.
        "GIT_NO_REPLACE_OBJECTS": "1",
        "GIT_GRAFT_FILE": "/dev/null",
        # No network, no question, no write. An empty list of protocols beats what a repository allows itself.
        "GIT_ALLOW_PROTOCOL": "",
        "GIT_NO_LAZY_FETCH": "1",
        "GIT_TERMINAL_PROMPT": "0",
        "GIT_OPTIONAL_LOCKS": "0",
        "GIT_PAGER": "cat",
        # Literal path specifications tolerate none of these.
        "GIT_GLOB_PATHSPECS": "0",
        "GIT_NOGLOB_PATHSPECS": "0",
        "GIT_ICASE_PATHSPECS": "0",
        "LANGUAGE": "C",
        "LC_ALL": "C",
    }
