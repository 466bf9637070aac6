"""Run the layout engine: the source of a drawing in, a picture out."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from typing import Final

from vesselspec.draw.sheet import FACE

BUNDLED: Final = "graphviz-pure"
SYSTEM: Final = "dot"
TIMEOUT_S: Final = 20.0
FORMATS: Final = ("svg", "png")
_VIEWER_FACES: Final = f'font-family="{FACE},Arial,sans-serif"'


class LayoutMissing(Exception):  # noqa: N818 - it names the state, as the messages do
    """There is no layout engine on this machine."""

    def __init__(self, reason: str, remedy: str) -> None:
        super().__init__(f"{reason}; {remedy}")
        self.reason = reason
        self.remedy = remedy


class LayoutFailed(Exception):  # noqa: N818
    """The layout engine gave no picture."""


def find_engine() -> Path:
    """The layout engine: the one installed with this program, so that pictures are the same everywhere, or `dot`."""
    beside = shutil.which(BUNDLED, path=str(Path(sys.executable).parent))
    found = beside or shutil.which(BUNDLED) or shutil.which(SYSTEM)
    if found is None:
        raise LayoutMissing(
            f"neither {BUNDLED} (beside {Path(sys.executable).name}) nor {SYSTEM} (on the PATH) is installed",
            "type: pip install graphviz-pure",
        )
    return Path(found)


def render(dot: str, format: str = "svg", *, timeout: float = TIMEOUT_S) -> bytes:
    """Lay a drawing out. Returns the picture's bytes; raises LayoutMissing or LayoutFailed."""
    if format not in FORMATS:
        raise ValueError(f"unknown format {format!r}; expected one of {', '.join(FORMATS)}")
    engine = find_engine()
    try:
        done = subprocess.run(
            [str(engine), "-Kdot", f"-T{format}", "-q"],
            input=dot.encode("utf-8"),
            capture_output=True,
            timeout=timeout,
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        raise LayoutFailed(f"{engine.name} had no picture after {timeout:g} s") from error
    except OSError as error:
        raise LayoutFailed(f"{engine.name} could not be started: {error.strerror}") from error
    if done.returncode != 0 or not done.stdout:
        said = done.stderr.decode("utf-8", "replace").strip().splitlines()
        raise LayoutFailed(f"{engine.name} gave no picture: {said[0] if said else f'exit {done.returncode}'}")
    return _faces(done.stdout) if format == "svg" else done.stdout


def _faces(svg: bytes) -> bytes:
    """Name faces that every viewer has; the engine knows the widths of the first only by its bare name."""
    for written in (f'font-family="{FACE},sans-Serif"', f'font-family="{FACE}"'):
        svg = svg.replace(written.encode(), _VIEWER_FACES.encode())
    return svg
