"""`survey --commits` over a long history, for each revision, beside plain `git cat-file --batch` of the same objects.

`python -m tests.bench.history [COMMITS [CIRCUITS]]`; 500 commits of 20 circuits where nothing is said. Wall time, and
the processor's time, which other work on the machine disturbs less. Nothing here passes or fails.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from vesselspec.record import Memory, read
from vesselspec.revisions import Repository, Snapshot, Step

from .run import ROOT
from .synthetic import record

_ALONE = {
    **{name: value for name, value in os.environ.items() if not name.startswith("GIT_")},
    "GIT_CONFIG_GLOBAL": os.devnull,
    "GIT_CONFIG_NOSYSTEM": "1",
}


def _git(folder: Path, *arguments: str, feed: bytes = b"") -> bytes:
    return subprocess.run(
        ["git", *arguments], cwd=folder, env=_ALONE, input=feed, capture_output=True, check=True
    ).stdout


def build(folder: Path, commits: int, circuits: int) -> None:
    """A repository in which every commit changes the length of one cable."""
    _git(folder, "init", "-q", "-b", "main")
    _git(folder, "fast-import", "--quiet", feed=b"".join(_stream(commits, circuits)))
    _git(folder, "checkout", "-q", "main")
    _git(folder, "repack", "-adq")


def _stream(commits: int, circuits: int) -> Iterator[bytes]:
    content = record(circuits)
    lengths = [found.span(1) for found in re.finditer(rb'length"?: "?(\d+(?:\.\d+)?) m', content)]
    for number in range(commits):
        if number:
            start, end = lengths[number % len(lengths)]
            said = f"{number % 9 + 1}".ljust(end - start, "0").encode()[: end - start]
            content = content[:start] + said + content[end:]
        message = f"Visit {number}".encode()
        yield b"commit refs/heads/main\ncommitter x <x> %d +0000\n" % (1_700_000_000 + number * 86400)
        yield b"data %d\n%s\nM 644 inline vessel.yaml\ndata %d\n%s\n" % (len(message), message, len(content), content)


def _objects(folder: Path) -> bytes:
    """Every object that a survey of the history reads: the commits, their trees, the files."""
    listed = _git(folder, "rev-list", "--objects", "--no-object-names", "main")
    return listed + b"".join(line.split()[0] + b"^{tree}\n" for line in _git(folder, "rev-list", "main").splitlines())


@contextmanager
def _timed(what: str, commits: int) -> Iterator[None]:
    wall, busy = time.perf_counter(), _busy()
    yield
    wall, busy = time.perf_counter() - wall, _busy() - busy
    each = f"{wall / commits * 1000:8.2f} ms wall, {busy / commits * 1000:8.2f} ms busy for each revision"
    print(f"{what:<42} {wall:8.2f} s   {each}", flush=True)


def _busy() -> float:
    """The processor's time of this process and of those that it has waited for, in s."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


def main() -> None:
    """Print the figures."""
    commits, circuits = (int(each) for each in (*sys.argv[1:], *("500", "20")[len(sys.argv) - 1 :]))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        build(folder, commits, circuits)
        asked = _objects(folder)
        with _timed("git cat-file --batch of the same objects", commits):
            size = len(_git(folder, "cat-file", "--batch", feed=asked))
        print(f"{commits} commits, {circuits} circuits, {size / 1e6:.1f} MB of objects")
        with _timed("read from git, not parsed", commits):
            repository = Repository.open(folder)
            steps = repository.steps("main")
            for snapshot in _snapshots(repository, steps):
                assert snapshot.has_vessel
        with _timed("read as records", commits):
            repository, memory = Repository.open(folder), Memory()
            for snapshot in _snapshots(repository, repository.steps("main")):
                assert read(snapshot.files, memory).vessel is not None
        span = f"main~{commits - 1}..main"
        survey = [sys.executable, "-m", "vesselspec", "survey", str(folder), "--commits", span, "--output", "json"]
        with _timed("survey --commits, whole process", commits):
            done = subprocess.run(survey, cwd=ROOT, stdout=subprocess.DEVNULL, check=False)
        assert done.returncode in (0, 1)


def _snapshots(repository: Repository, steps: tuple[Step, ...]) -> Iterator[Snapshot]:
    done = 0
    while done < len(steps):
        several = repository.fetch(steps[done:])
        yield from map(repository.at_step, steps[done : done + several])
        done += several


if __name__ == "__main__":
    main()
