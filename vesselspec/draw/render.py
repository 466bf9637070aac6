"""Run the layout engine: the source of a drawing in, a picture out."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Final

from vesselspec.draw.markup import SYMBOL_ID
from vesselspec.draw.sheet import FACE
from vesselspec.draw.symbols import SYMBOLS, Symbol
from vesselspec.draw.text import width

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


class LayoutFailed(Exception):  # noqa: N818 - as above
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
    return _with_symbols(_faces(done.stdout)) if format == "svg" else done.stdout


#: A cell that waits for a symbol, as the engine writes it: a frame of no line whose corners say where it is.
_ROOM: Final = re.compile(
    rb'<g id="a_' + SYMBOL_ID.encode() + rb'([a-z_]+)"><a [^>]*>\s*<polygon [^>]*points="([-0-9., ]+)"/>\s*</a>\s*</g>'
)
_BOX: Final = re.compile(rb'width="([0-9.]+)pt" height="([0-9.]+)pt"(\s+)viewBox="0.00 0.00 ([0-9.]+) ([0-9.]+)"')


def _with_symbols(svg: bytes) -> bytes:
    """Draw the symbols where the layout left room for them, and say below what each means."""
    used: dict[str, None] = {}

    def drawn(found: re.Match[bytes]) -> bytes:
        symbol = SYMBOLS.get(found[1].decode().replace("_", "-"))
        corners = [tuple(map(float, corner.split(b","))) for corner in found[2].split()]
        if symbol is None or not corners:
            return b""
        used[symbol.id] = None
        x = (min(corner[0] for corner in corners) + max(corner[0] for corner in corners)) / 2
        y = (min(corner[1] for corner in corners) + max(corner[1] for corner in corners)) / 2
        return _symbol(symbol, x, y)

    made = _ROOM.sub(drawn, svg)
    box = _BOX.search(made)
    if not used or box is None:
        return made
    wide, high = float(box[4]), float(box[5])
    legend, needs = _legend(tuple(used), wide, high)
    size = b'width="%spt" height="%.2fpt"%sviewBox="0.00 0.00 %s %.2f"' % (
        box[1], float(box[2]) * (high + needs) / high, box[3], box[4], high + needs,
    )  # fmt: skip
    return made.replace(box[0], size, 1).replace(b"</svg>", legend + b"</svg>")


def _symbol(symbol: Symbol, x: float, y: float) -> bytes:
    place = f'{_VIEWER_FACES} transform="translate({x:.2f} {y:.2f})" fill="none" stroke="black" stroke-width="1.2"'
    return f'<g class="symbol" {place}>{symbol.strokes}</g>'.encode()


def _legend(ids: tuple[str, ...], wide: float, top: float) -> tuple[bytes, float]:
    """The symbols with their names below the drawing, in as many lines as it is narrow, and how high that is."""
    out, x, y = [], 20.0, top + 14
    for id in ids:
        says = SYMBOLS[id].says
        needs = 28 + width(says, 8.5)
        if x + needs - 12 > wide and x > 20:
            x, y = 20.0, y + 25
        out.append(_symbol(SYMBOLS[id], x, y))
        out.append(f'<text x="{x + 16:.2f}" y="{y + 3:.2f}" {_VIEWER_FACES} font-size="8.5">{says}</text>'.encode())
        x += needs + 8
    return b"".join(out), y - top + 13


def _faces(svg: bytes) -> bytes:
    """Name faces that every viewer has; the engine knows the widths of the first only by its bare name."""
    for written in (f'font-family="{FACE},sans-Serif"', f'font-family="{FACE}"'):
        svg = svg.replace(written.encode(), _VIEWER_FACES.encode())
    return svg
