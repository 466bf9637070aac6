"""Words of the record made safe for a drawing, and how wide they will be on it.

Everything that a drawing writes goes through `safe`, so that no word of the record can end a label, start an
element or turn the direction of the text around it.
"""

from __future__ import annotations

import re
import unicodedata
from html import escape
from typing import Final

LONGEST: Final = 60
"""Characters after which a text is cut."""

BREAK: Final = "<br/>"
#: Between words, but not before a unit or a short number; after a hyphen that stands before letters.
_BREAKS: Final = re.compile(r"(?<= )(?!(?:[kmM]?(?:VA|A|V|W|Hz|Ah)|AWG|mm2|\d\d?)\b)|(?<=[a-z]-)(?=[a-z])")
#: Where a text is broken that has none of those.
_WEAK_BREAKS: Final = re.compile(r"(?<=[ /_.-])")
_REPLACEMENT: Final = "\ufffd"
#: Widths of a sans-serif letter in hundredths of the font size; what is not here counts as 56.
_WIDTHS: Final = {
    **dict.fromkeys("ijl'|", 23),
    **dict.fromkeys(" .,:;!/ftI[]\\", 28),
    **dict.fromkeys("()-r", 33),
    **dict.fromkeys("ckvxyzsJ", 50),
    **dict.fromkeys("+=<>", 58),
    **dict.fromkeys("ABEKPSVXY&", 67),
    **dict.fromkeys("CDHNRUw", 72),
    **dict.fromkeys("GOQ", 78),
    **dict.fromkeys("mM%", 89),
    **dict.fromkeys("W@", 100),
}


def clean(text: str, longest: int = LONGEST) -> str:
    """One line of printable characters, cut with … where it is too long.

    Line ends and tabs become spaces; control characters, and those that turn the direction of writing, become
    a mark that can be seen.
    """
    out: list[str] = []
    for char in " ".join(text.split()):
        kind = unicodedata.category(char)
        out.append(_REPLACEMENT if kind in ("Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp") else char)
    line = "".join(out)
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def safe(text: str, longest: int = LONGEST) -> str:
    """A text as it may stand inside an HTML-like label: cut, and with every special character written out."""
    # The layout engine reads \N and the like even in such labels; doubled, the backslash stands for itself.
    return escape(clean(text, longest), quote=True).replace("\\", "&#92;&#92;")


def width(text: str, size: float = 10) -> float:
    """About how wide a line of text will be, in points."""
    total = 0
    for char in text:
        if char.isascii():
            total += _WIDTHS.get(char, 56)
        else:
            total += 100 if unicodedata.east_asian_width(char) in "WF" else 65
    return total * size / 100


def wrap(text: str, points: float, *, lines: int = 2, size: float = 10, longest: int = LONGEST) -> tuple[str, ...]:
    """Break a text into at most so many lines of at most that width: at spaces, and at hyphens within words.

    A number stays with its unit.
    """
    pieces = []
    for piece in _BREAKS.split(clean(text, longest)):
        pieces += [piece] if width(piece.rstrip(), size) <= points else _WEAK_BREAKS.split(piece)
    done = [""]
    for whole in pieces:
        piece = whole
        if done[-1] and width((done[-1] + piece).rstrip(), size) > points:
            done.append("")
        while width(piece.rstrip(), size) > points and len(piece) > 1:  # one word that is too long by itself
            fits = next(n for n in range(len(piece) - 1, 0, -1) if n == 1 or width(piece[:n], size) <= points)
            done[-1] += piece[:fits]
            piece = piece[fits:]
            done.append("")
        done[-1] += piece
    said = [line.rstrip() for line in done if line.strip()]
    if len(said) > lines:
        last = said[lines - 1]
        while last and width(last + "…", size) > points:
            last = last[:-1]
        said = [*said[: lines - 1], last.rstrip() + "…"]
    return tuple(said) or ("",)


def bold(text: str) -> str:
    """A text in heavy letters, as label markup."""
    return f"<b>{safe(text)}</b>"


def name_of(place: str) -> str:
    """A node or port name for a place: what the layout engine could read as syntax is written as its number.

    The result never holds `=`, which sets other names of a drawing apart from places.
    """
    return "".join(
        char if (char.isascii() and char.isalnum()) or char in "./-" else f"_{ord(char):x}" for char in place
    )
