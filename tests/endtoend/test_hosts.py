"""Change review on a host: the shell of the workflow under bash, and the hook under the pre-commit framework itself."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest
from ruamel.yaml import YAML

from .conftest import Call
from .repositories import ENVIRONMENT, ROOT, git
from .test_guard import BAD, GOOD, SOUND, boat, stage

STEPS = YAML(typ="safe", pure=True).load(ROOT / ".github/workflows/review.yml")["jobs"]["review"]["steps"]
(STEP,) = (step for step in STEPS if step.get("id") == "review")
HOSTILE = ["$(touch${IFS}x)", "`touch${IFS}x`", "a;touch${IFS}x;", "'\"&&touch${IFS}x", "-x", "%0A%3A%3Aerror", "é"]


@dataclass(frozen=True)
class Ran:
    """What the workflow's step did."""

    status: int
    log: str
    summary: str
    files: frozenset[str]


def ran(work: Path, **event: str) -> Ran:
    """Run the step as the host does, in a folder with `boat` in it; `event` is what its expressions give."""
    values = {
        "github.workspace": str(work),
        "inputs.commit": "0" * 40,
        "inputs.vessel": ".",
        "inputs.fail-on": "WARNING",
    }
    values |= {"github.event.repository.default_branch": "main"}
    values |= {name.replace("__", "."): value for name, value in event.items()}
    programs = work / "programs"
    programs.mkdir(exist_ok=True)
    (programs / "python").unlink(missing_ok=True)
    (programs / "python").write_text(f'#!/bin/sh\nexec "{sys.executable}" "$@"\n', encoding="utf-8")
    (programs / "python").chmod(0o755)
    (work / "vesselspec").unlink(missing_ok=True)
    (work / "vesselspec").symlink_to(ROOT)
    (work / "summary.md").write_text("", encoding="utf-8")
    shutil.rmtree(work / "out", ignore_errors=True)
    environment = {
        name: re.sub(r"\$\{\{ (\S+) \}\}", lambda found: values.get(found[1], ""), text)
        for name, text in STEP["env"].items()
    }
    environment |= {"PATH": f"{programs}:{os.environ['PATH']}", "GITHUB_STEP_SUMMARY": str(work / "summary.md")}
    (work / "step.sh").write_text(STEP["run"], encoding="utf-8")
    done = subprocess.run(
        ["bash", "--noprofile", "--norc", "-eo", "pipefail", "step.sh"],
        cwd=work,
        env=ENVIRONMENT | environment,
        capture_output=True,
        check=False,
    )
    out = work / "out"
    files = frozenset(path.name for path in out.iterdir()) if out.is_dir() else frozenset()
    return Ran(
        done.returncode,
        (done.stdout + done.stderr).decode(),
        (work / "summary.md").read_text(encoding="utf-8"),
        files,
    )


def proposed(work: Path, content: str, branch: str = "proposal") -> str:
    """A boat in work/boat whose HEAD is the merge of a proposal, as a host makes it; return what it is proposed to."""
    top = boat(work / "boat")
    base = git(top, "rev-parse", "HEAD")
    git(top, "update-ref", "refs/remotes/origin/main", base)
    git(top, "checkout", "-q", "-b", "proposed")
    stage(top, "old.yaml", content)
    git(top, "commit", "-q", "-m", "Proposed")
    git(top, "checkout", "-q", "--detach", "main")
    git(top, "merge", "-q", "--no-ff", "-m", "Try it", "proposed")
    git(top, "update-ref", f"refs/heads/{branch}", "proposed")
    return base


PULL = {"github__event_name": "pull_request"}


def test_a_bad_proposal_fails_with_summary_annotations_and_files(tmp_path: Path) -> None:
    base = proposed(tmp_path, BAD)
    done = ran(tmp_path, **PULL, github__event__pull_request__base__sha=base)
    assert done.status == 1
    assert done.log.startswith("::error file=old.yaml,line=6,col=16,title=DANGER line-on-neutral::")
    assert all(line.startswith("::") for line in done.log.splitlines())
    assert "line-on-neutral" in done.summary
    assert {"page.md", "summary.md", "review.sarif", "review.junit.xml", "before.svg", "after.svg"} <= done.files


def test_a_sound_proposal_passes(tmp_path: Path) -> None:
    base = proposed(tmp_path, GOOD)
    done = ran(tmp_path, **PULL, github__event__pull_request__base__sha=base)
    assert (done.status, "[DANGER]" in done.summary) == (0, False)
    assert "::error" not in done.log


@pytest.mark.parametrize("branch", HOSTILE)
def test_a_hostile_name_is_never_run(tmp_path: Path, branch: str) -> None:
    """The default branch is the one name of an event that reaches a command; a folder the one of an input."""
    proposed(tmp_path, BAD)
    git(tmp_path / "boat", "update-ref", f"refs/remotes/origin/{branch}", "main")
    new = {"github__event_name": "push", "github__event__before": "0" * 40}
    done = ran(tmp_path, **new, github__event__repository__default_branch=branch)
    assert (done.status, "line-on-neutral" in done.summary) == (1, True)
    done = ran(tmp_path, **new, inputs__vessel=branch)
    assert done.status == 2
    assert "Not judged" in done.summary
    gone = ran(tmp_path, **PULL, github__event__pull_request__base__sha=f"{branch}x")
    assert (gone.status, "is not known in this repository" in gone.summary) == (2, not branch.startswith("-"))
    for each in (done, gone):
        assert sum(line.lstrip().startswith("::") for line in each.log.splitlines()) == 1
    assert not list(tmp_path.rglob("x"))


def test_pushes_are_held_to_what_was_there(tmp_path: Path) -> None:
    proposed(tmp_path, BAD)
    top = tmp_path / "boat"
    git(top, "tag", "bad")
    stage(top, "more.yaml", GOOD)
    git(top, "commit", "-q", "-m", "A locker")
    push = {"github__event_name": "push"}
    assert ran(tmp_path, **push, github__event__before=git(top, "rev-parse", "bad")).status == 0
    # Rewritten, so that what was there before is not known: then the whole record counts.
    git(top, "update-ref", "refs/remotes/origin/main", "HEAD")
    done = ran(tmp_path, **push, github__event__before="1" * 40)
    assert (done.status, "survey.sarif" in done.files) == (1, True)


@pytest.mark.parametrize(
    "event",
    [{"github__event_name": "pull_request_target"}, {**PULL, "inputs__commit": "main"}, {**PULL, "inputs__commit": ""}],
)
def test_unsafe_calls_are_refused(tmp_path: Path, event: dict[str, str]) -> None:
    base = proposed(tmp_path, GOOD)
    done = ran(tmp_path, github__event__pull_request__base__sha=base, **event)
    assert (done.status, done.log.startswith("::error title=vesselspec::")) == (2, True)
    assert done.files == frozenset()


def test_a_summary_that_is_too_long_is_cut_at_a_line(tmp_path: Path) -> None:
    base = proposed(tmp_path, GOOD)
    spaces = "".join(f"  locker-{number}: {{name: Lockér {'x' * 60}}}\n" for number in range(9000))
    stage(tmp_path / "boat", "many.yaml", f"spaces:\n{spaces}")
    git(tmp_path / "boat", "commit", "-q", "-m", "Lockers")
    done = ran(tmp_path, **PULL, github__event__pull_request__base__sha=base)
    assert done.status == 0
    assert 800_000 < len(done.summary.encode()) < 1024**2
    assert done.summary.endswith("\n\n**Cut here:** the whole page is kept as page.md.\n")
    assert sum(line.startswith("::") for line in done.log.splitlines()) == 10


def test_a_shallow_clone_is_told_what_to_fetch(call: Call, tmp_path: Path) -> None:
    """What a host fetches by default: the last commit alone."""
    top = boat(tmp_path / "boat")
    base = git(top, "rev-parse", "HEAD")
    stage(top, "good.yaml", GOOD)
    git(top, "commit", "-q", "-m", "A locker")
    shallow = tmp_path / "shallow"
    git(tmp_path, "clone", "-q", "--depth=1", f"file://{top}", str(shallow))
    for ref in (base, "HEAD~1", "origin/proposal"):
        done = call("review", ref, "HEAD", shallow)
        assert done.status == 2
        assert "git fetch --unshallow --tags origin" in done.error


@pytest.mark.parametrize("depth", ["1", "9"])
def test_the_steps_for_any_ci_are_as_the_readme_says(tmp_path: Path, depth: str) -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (steps,) = re.findall(r"Any other CI:\n\n```sh\n(.*?)```", text, re.DOTALL)
    top = boat(tmp_path / "boat")
    git(top, "checkout", "-q", "-b", "proposal")
    stage(top, "old.yaml", BAD)
    git(top, "commit", "-q", "-m", "Proposed")
    git(tmp_path, "clone", "-q", f"--depth={depth}", "--branch=proposal", f"file://{top}", "ci")
    with_program(tmp_path / "programs")
    env = ENVIRONMENT | {"PYTHONPATH": str(ROOT), "PATH": f"{tmp_path / 'programs'}:{os.environ['PATH']}"}
    done = subprocess.run(["sh", "-e", "-c", steps], cwd=tmp_path / "ci", env=env, capture_output=True, check=False)
    assert (done.returncode, b"[DANGER] line-on-neutral" in done.stdout) == (1, True), done.stderr
    named = {"summary.md", "review.junit.xml", "review.sarif", "review.annotations.txt"}
    assert named <= {path.name for path in (tmp_path / "ci/review").iterdir()}
    assert all(name in text for name in named)


def with_program(folder: Path) -> None:
    """A folder for the search path in which `vesselspec` is this one."""
    folder.mkdir()
    program = folder / "vesselspec"
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -P -m vesselspec "$@"\n', encoding="utf-8")
    program.chmod(0o755)


def test_the_framework_runs_the_hook(tmp_path: Path) -> None:
    """The framework itself, on the manifest as published; without network the program is the one that is here."""
    hook = tmp_path / "hook"
    hook.mkdir()
    shutil.copyfile(ROOT / ".pre-commit-hooks.yaml", hook / ".pre-commit-hooks.yaml")
    git(hook, "init", "-q")
    git(hook, "add", "-A")
    git(hook, "commit", "-q", "-m", "The manifest")
    with_program(tmp_path / "programs")
    env = ENVIRONMENT | {"PYTHONPATH": str(ROOT), "PRE_COMMIT_HOME": str(tmp_path / "home"), "TMPDIR": str(tmp_path)}
    env["PATH"] = f"{tmp_path / 'programs'}:{os.environ['PATH']}"
    top, revision = boat(tmp_path / "boat"), git(hook, "rev-parse", "HEAD")
    stage(
        top,
        ".pre-commit-config.yaml",
        "default_install_hook_types: [pre-commit, pre-merge-commit]\n"
        f"repos: [{{repo: '{hook}', rev: {revision}, hooks: [{{id: vesselspec, language: system}}]}}]\n",
    )

    def tried(*command: str) -> tuple[int, str]:
        done = subprocess.run(command, cwd=top, env=env, capture_output=True, check=False)
        return done.returncode, (done.stdout + done.stderr).decode()

    assert tried(sys.executable, "-m", "pre_commit", "install")[0] == 0
    assert {"pre-commit", "pre-merge-commit"} <= {path.name for path in (top / ".git/hooks").iterdir()}
    stage(top, "old.yaml", BAD)
    (top / "old.yaml").write_text(GOOD, encoding="utf-8")
    status, said = tried("git", "commit", "-m", "Bad")
    assert (status, "[DANGER] line-on-neutral" in said) == (1, True), said
    git(top, "add", "-A")
    assert tried("git", "commit", "-m", "Sound")[0] == 0
    git(top, "rm", "-q", "old.yaml")
    assert tried("git", "commit", "-m", "A deleted file is a change too")[0] == 0
    assert (top / "vessel.yaml").read_text(encoding="utf-8") == SOUND
