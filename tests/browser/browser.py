"""Debian's Chromium, driven over its own protocol, and axe-core in it.

`npm ci` in this folder installs both (exact versions in package-lock.json); `.ci/run` does that. No browser is fetched.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent
CHROMIUM, NODE = shutil.which("chromium"), shutil.which("node")


def require() -> None:
    """Skip the test where there is no browser to look with; fail in CI, where there must be."""
    if CHROMIUM is None or NODE is None or not (HERE / "node_modules/puppeteer-core").exists():
        if os.environ.get("CI"):
            pytest.fail("chromium, node or tests/browser/node_modules is missing, and CI must look at the pages")
        pytest.skip("no browser to look with: install chromium and node, then npm ci in tests/browser")


def visit(profile: Path, visits: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Open pages one after the other; see drive.mjs for what can be asked of a visit."""
    asked = {"browser": CHROMIUM, "profile": str(profile), "visits": visits}
    done = subprocess.run(
        [NODE or "node", str(HERE / "drive.mjs")],
        input=json.dumps(asked),
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    found: list[dict[str, Any]] = json.loads(done.stdout)
    return found
