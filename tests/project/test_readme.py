"""The README: its pictures are what the demo makes, and every command in it runs as it says."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from vesselspec.cli.main import run

ROOT = Path(__file__).parents[2]
DRAWINGS = ROOT / "example_vessel/drawings"
README = (ROOT / "README.md").read_text(encoding="utf-8")
#: Lines of the README's shell blocks that speak of the demo's boat; what follows `#` is for people.
LINES = [
    line.partition("  #")[0].strip()
    for block in re.findall(r"```sh\n(.*?)```", README, re.DOTALL)
    for line in block.splitlines()
    if line.startswith("vesselspec ") and "build/demo" in line
]
#: What a command ends on, where that is not 0: findings are what it is shown for.
ENDS_ON_FINDINGS = (
    "review main proposal/new-charger",
    "--merged-with",
    "--between",
    "survey build/demo",
    "adopt build/demo",
    "isolate dc-engine-room",
    "shock lazarette-heater",
    "--commits",
)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The repository that `make demo` makes, in a folder of its own."""
    made = tmp_path_factory.mktemp("readme") / "build/demo"
    program = str(ROOT / "example_vessel/refit/demo.py")
    subprocess.run([sys.executable, program, str(made)], check=True, stdout=subprocess.DEVNULL)
    return made


def test_the_pictures_are_what_the_demo_makes(demo: Path, tmp_path: Path) -> None:
    """Refresh them with `make picture`."""
    assert (demo.parent / "demo-review/after.svg").read_bytes() == (DRAWINGS / "after.svg").read_bytes()
    at = ["--at", "proposal/new-charger", "--panel", "ac-auxiliary", "--out", str(tmp_path)]
    assert run(["draw", str(demo), *at]) == 0
    drawn = tmp_path / "schematic-ac-auxiliary-auxiliary-2.svg"
    assert drawn.read_bytes() == (DRAWINGS / "panel.svg").read_bytes()


def test_there_are_commands_for_every_reader() -> None:
    assert len(LINES) > 25


@pytest.mark.parametrize("line", LINES)
def test_a_command_of_the_readme_runs(
    line: str, demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "build").mkdir()
    shutil.copytree(demo, tmp_path / "build/demo", symlinks=True)
    monkeypatch.chdir(tmp_path)
    status = run(shlex.split(line)[1:])
    said = capsys.readouterr()
    expected = 1 if any(part in line for part in ENDS_ON_FINDINGS) else 0
    assert status == expected, said.err
    assert (said.out + said.err).strip()
