"""Repositories for the tests, made by git itself and independent of the settings of whoever runs them."""

from __future__ import annotations

import hashlib
import os
import subprocess
from pathlib import Path

ENVIRONMENT = {name: value for name, value in os.environ.items() if not name.startswith("GIT_")} | {
    "GIT_CONFIG_GLOBAL": os.devnull,
    "GIT_CONFIG_NOSYSTEM": "1",
    "GIT_AUTHOR_NAME": "A. Fitter",
    "GIT_AUTHOR_EMAIL": "fitter@yard.example",
    "GIT_COMMITTER_NAME": "A. Fitter",
    "GIT_COMMITTER_EMAIL": "fitter@yard.example",
    "GIT_AUTHOR_DATE": "1700000000 +0200",
    "GIT_COMMITTER_DATE": "1700000000 +0200",
    "LC_ALL": "C",
}


def git(folder: Path, *arguments: str, feed: bytes = b"", check: bool = True) -> bytes:
    done = subprocess.run(
        ["git", *arguments], cwd=folder, env=ENVIRONMENT, input=feed, capture_output=True, check=False
    )
    assert done.returncode == 0 or not check, (arguments, done.stderr)
    return done.stdout


def text(folder: Path, *arguments: str) -> str:
    return git(folder, *arguments).decode().strip()


def new_repository(folder: Path, *options: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    git(folder, "init", "-q", "-b", "main", *options)
    return folder


def write(folder: Path, files: dict[str, str]) -> None:
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content.encode())


def commit_all(folder: Path, message: str = "work") -> str:
    git(folder, "add", "-A")
    git(folder, "commit", "-q", "--allow-empty", "-m", message)
    return text(folder, "rev-parse", "HEAD")


def small_vessel(folder: Path, *options: str) -> Path:
    """A repository with a vessel in 'boat' and two commits."""
    new_repository(folder, *options)
    write(folder, {"boat/vessel.yaml": "name: one\n", "boat/dc/panel.yaml": "a: 1\n", "readme.txt": "x\n"})
    commit_all(folder, "first")
    write(folder, {"boat/dc/panel.yaml": "a: 2\n"})
    commit_all(folder, "second")
    return folder


def fingerprint(*folders: Path) -> dict[str, tuple[str, int, int]]:
    """Content, mode and time of change of all that is below the folders."""
    found: dict[str, tuple[str, int, int]] = {}
    for top in folders:
        for path in sorted(top.rglob("*")):
            status = path.lstat()
            content = path.read_bytes() if path.is_file() and not path.is_symlink() else b""
            found[str(path)] = (hashlib.sha256(content).hexdigest(), status.st_mode, status.st_mtime_ns)
    return found
