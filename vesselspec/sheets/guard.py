"""Text that a spreadsheet must not take for a formula, and text that it cannot hold.

A cell of CSV has no type: what starts like a formula is one for most programs. An apostrophe before it makes it
text there, and is what they themselves use. Import takes it off again, so that nothing changes on the way.
"""

from __future__ import annotations

import re

#: How a formula starts, in the width of East Asian letters too, after any blanks; a tab or a line break moves cells.
_FORMULA = re.compile("'*(\\s*[=+\\-@\uff1d\uff0b\uff0d\uff20]|[\t\r\n])")
#: What no spreadsheet file can hold: controls that XML forbids, and halves of a surrogate pair.
_NOT_HELD = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
LONGEST_CELL = 32_767
"""Characters of a cell above which spreadsheet programs call a file damaged."""


def held(text: str) -> str:
    """Text as a spreadsheet file can hold it: what it cannot hold becomes a visible escape."""
    safe = _NOT_HELD.sub(lambda found: f"\\u{ord(found.group()):04x}", text)
    return safe if len(safe) <= LONGEST_CELL else safe[: LONGEST_CELL - 1] + "…"


def guarded(text: str) -> str:
    """Text for a cell of CSV, with an apostrophe before what would be taken for a formula."""
    return f"'{text}" if _FORMULA.match(text) else text


def unguarded(text: str) -> str:
    """The text that `guarded` was given."""
    return text[1:] if text.startswith("'") and _FORMULA.match(text[1:]) else text
