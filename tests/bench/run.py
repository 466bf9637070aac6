"""Whole-process times, printed side by side: `make bench`. Medians of several runs; nothing here passes or fails."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from .synthetic import record

ROOT = Path(__file__).parents[2]
RUNS = 7
#: As whoever has installed the program runs it: its files are compiled once, and not at every start.
COMPILED = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}

#: What a survey cannot do without: importing what it uses, and reading the record.
_FLOOR = """
import gc, sys
gc.disable()
from pathlib import Path
import vesselspec.cli.main, vesselspec.cli.survey, vesselspec.rules, vesselspec.report.survey, vesselspec.report.json
import vesselspec.physics.steady.flow, vesselspec.physics.faults.devices
from vesselspec.record import read
from vesselspec.revisions import read_folder
read(read_folder(Path(sys.argv[1])).files)
"""


def median_s(arguments: Sequence[str]) -> float:
    """Median wall time of a whole process, in s, after one run that does not count."""
    times = []
    for _ in range(RUNS + 1):
        start = time.perf_counter()
        subprocess.run(
            [sys.executable, *arguments],
            cwd=ROOT,
            env=COMPILED,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            check=False,
        )
        times.append(time.perf_counter() - start)
    return statistics.median(times[1:])


def row(what: str, seconds: float, note: str = "") -> None:
    """Print one figure."""
    print(f"{what:<58} {seconds * 1000:8.0f} ms   {note}".rstrip())


def main() -> None:
    """Print the figures."""
    example = str(ROOT / "example_vessel")
    row("python, nothing imported", median_s(["-c", "pass"]))
    row("vesselspec --help", median_s(["-m", "vesselspec", "--help"]), "target 150 ms")
    row("vesselspec survey, the example, cold", median_s(["-m", "vesselspec", "survey", example]), "target 700 ms")
    for circuits in (500, 2000, 8000):
        with tempfile.TemporaryDirectory() as folder:
            (Path(folder) / "vessel.yaml").write_bytes(record(circuits))
            floor = median_s(["-c", _FLOOR, folder])
            whole = median_s(["-m", "vesselspec", "survey", folder, "--output", "json"])
        row(f"{circuits} circuits: import and read the record", floor)
        row(f"{circuits} circuits: survey", whole, f"{whole / floor:.2f} times that; target 3")


if __name__ == "__main__":
    main()
