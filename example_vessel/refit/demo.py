"""Run the main job on the example: build its repository, review the dangerous branch, say what was found.

Invented data, for demonstration only.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

BRANCH = "proposal/new-charger"
HERE = Path(__file__).resolve().parent


def main() -> int:
    """Build, review, report. Returns 0 if the dangers were found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path, help="folder for the example's repository; the review goes beside it")
    out: Path = parser.parse_args().out
    pages = out.with_name(out.name + "-review")

    subprocess.run([sys.executable, str(HERE / "build.py"), str(out)], check=True)
    program = str(Path(sys.executable).with_name("vesselspec"))
    done = subprocess.run(
        [program, "review", "main", BRANCH, str(out), "--output", "json", "--out", str(pages)],
        stdout=subprocess.PIPE,
        check=False,
        text=True,
        encoding="utf-8",
    )
    if done.returncode not in (0, 1):
        print(f"the review ended with status {done.returncode}", file=sys.stderr)
        return done.returncode
    tell(json.loads(done.stdout), out, pages)
    return 0 if done.returncode == 1 else 1


def tell(review: dict[str, Any], out: Path, pages: Path) -> None:
    """Say in a few lines what the review found."""
    new = review["findings"]["new"]
    grave = [finding for finding in new if finding["signal_word"] == "DANGER"]
    print(f"\n{review['vessel']}: a hurried proposal, {BRANCH}, against main")
    print(
        f"{len(review['changes'])} changes; new findings: "
        + ", ".join(f"{n} {w}" for w, n in review["counts"]["new"].items())
    )
    for finding in grave:
        place = finding["place"]
        print(f"\n  {finding['signal_word']}  {finding['message']}")
        print(f"          {place['file']}:{place['line']}  {finding['rule']}")
    print(f"\nThe next technician's page:  {pages / 'summary.html'}")
    print(f"Pictures before and after:   {pages / 'before.svg'}, {pages / 'after.svg'}")
    print(f"For machines:                {pages / 'review.json'}")
    print(f"The repository itself:       {out} (branches main, {BRANCH} and two sound ones)")
    print(f"\nRead the whole review:       .venv/bin/vesselspec review main {BRANCH} {out}")
    print("The record may be wrong: prove dead before touching.")


if __name__ == "__main__":
    sys.exit(main())
