"""Time and size of whole hand-over books: the example vessel's, and that of a vessel of 2,000 circuits.

Run it by `make bench`. Nothing is asserted: times depend on the machine.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

from tests.bench.synthetic import record
from vesselspec.cli.main import run

ROOT = Path(__file__).parents[2]
CIRCUITS = 2000


def main() -> None:
    """Write both books, and print what they took."""
    with tempfile.TemporaryDirectory() as folder:
        boat = Path(folder) / "boat"
        boat.mkdir()
        (boat / "vessel.yaml").write_bytes(record(CIRCUITS))
        for name, vessel in (("example vessel", ROOT / "example_vessel"), (f"{CIRCUITS:,} circuits", boat)):
            out = Path(folder) / name.replace(" ", "-")
            begin, used = time.perf_counter(), time.process_time()
            if run(["handover", str(vessel), "--out", str(out)]) != 0:
                raise SystemExit(1)
            took, used = time.perf_counter() - begin, time.process_time() - used
            print(f"hand-over book, {name:16} {took:6.1f} s, {used:6.1f} s of one processor")


if __name__ == "__main__":
    main()
