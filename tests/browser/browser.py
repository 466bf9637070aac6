"""Debian's Chromium: alone for one look at a page, or driven over its own protocol with axe-core in it.

`npm ci` in this folder installs what drives it (exact versions in package-lock.json); `.ci/run` does that. No browser
is fetched.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from pathlib import Path
from typing import Any, NoReturn

import pytest

HERE = Path(__file__).parent
CHROMIUM, NODE = shutil.which("chromium"), shutil.which("node")
_FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def _missing(what: str) -> NoReturn:
    """Skip the test; fail it in CI, where nothing may be missing."""
    if os.environ.get("CI"):
        pytest.fail(f"{what} is missing, and CI must look at the pages")
    pytest.skip(f"{what} is missing: install chromium and node, then npm ci in tests/browser")


def chromium() -> str:
    """The browser's program; without one the test is skipped."""
    return CHROMIUM if CHROMIUM is not None else _missing("chromium")


def require() -> None:
    """Skip the test where there is no browser that can be driven."""
    chromium()
    if NODE is None or not (HERE / "node_modules/puppeteer-core").exists():
        _missing("node or tests/browser/node_modules")


def look(folder: Path, *asked: str, seconds: float = 90) -> subprocess.CompletedProcess[str]:
    """Run the browser once without a window, such as for `--dump-dom` and a page; its profile goes into `folder`."""
    arguments = [chromium(), *_FLAGS, f"--user-data-dir={folder / 'profile'}", *asked]
    return subprocess.run(arguments, capture_output=True, text=True, check=True, timeout=seconds)


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
