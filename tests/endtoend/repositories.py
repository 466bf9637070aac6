"""Repositories for these tests, made by git itself, and the command line called in this very process."""

from __future__ import annotations

import hashlib
import importlib.util
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
HOB, CHARGER, DRYER = "proposal/induction-hob", "proposal/new-charger", "proposal/laundry-dryer"

ENVIRONMENT = {name: value for name, value in os.environ.items() if not name.startswith("GIT_")} | {
    "GIT_CONFIG_GLOBAL": os.devnull,
    "GIT_CONFIG_NOSYSTEM": "1",
    "GIT_AUTHOR_NAME": "Technician",
    "GIT_AUTHOR_EMAIL": "technician@example.invalid",
    "GIT_COMMITTER_NAME": "Technician",
    "GIT_COMMITTER_EMAIL": "technician@example.invalid",
    "GIT_AUTHOR_DATE": "1800000000 +0200",
    "GIT_COMMITTER_DATE": "1800000000 +0200",
    "LC_ALL": "C",
}


def build(out: Path) -> None:
    """Build the example vessel's repository with its own program."""
    path = ROOT / "example_vessel/refit/build.py"
    spec = importlib.util.spec_from_file_location("example_refit_for_review", path)
    assert spec is not None
    assert spec.loader is not None
    module: ModuleType = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # its dataclasses look themselves up there
    spec.loader.exec_module(module)
    module.build(out)


def git(folder: Path, *arguments: str) -> str:
    done = subprocess.run(["git", *arguments], cwd=folder, env=ENVIRONMENT, capture_output=True, check=False)
    assert done.returncode == 0, (arguments, done.stderr)
    return done.stdout.decode().strip()


def clone(source: Path, out: Path, *options: str, branches: bool = True) -> Path:
    """A clone with a local branch for every branch of the source."""
    # Objects of its own: where git finds one that it has, it sets that file's time.
    git(source.parent, "clone", "-q", "--no-hardlinks", *options, str(source), str(out))
    for branch in (HOB, CHARGER, DRYER) if branches else ():
        git(out, "branch", "-q", branch, f"origin/{branch}")
    return out


def commit(folder: Path, files: dict[str, str | None], message: str = "work") -> str:
    """Write files (None: delete), commit all, and return the id."""
    for name, text in files.items():
        path = folder / name
        if text is None:
            path.unlink()
        else:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
    git(folder, "add", "-A")
    git(folder, "commit", "-q", "--allow-empty", "-m", message)
    return git(folder, "rev-parse", "HEAD")


def state_of(*folders: Path) -> dict[str, tuple[str, int, int]]:
    """Content, mode and time of change of all that is below the folders, the index included."""
    found: dict[str, tuple[str, int, int]] = {}
    for top in folders:
        for path in sorted(top.rglob("*")):
            status = path.lstat()
            content = path.read_bytes() if path.is_file() and not path.is_symlink() else b""
            found[str(path)] = (hashlib.sha256(content).hexdigest(), status.st_mode, status.st_mtime_ns)
    return found


def grave(findings: list[dict[str, Any]], *words: str) -> set[tuple[str, str]]:
    """(rule, culprit) of the findings with these signal words."""
    return {(each["rule"], each["items"][0]) for each in findings if each["signal_word"] in words}
