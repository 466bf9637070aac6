"""JSON for machines: stable, pure ASCII, one line break at the end."""

from __future__ import annotations

import json
from typing import Any

from vesselspec.report.terminal import CONTROL


def dumps(data: Any) -> str:
    """Return JSON text that is the same for the same data, and that a terminal can show safely."""
    text = json.dumps(data, ensure_ascii=True, indent=2)
    return CONTROL.sub(lambda found: _escaped(found.group()), text) + "\n"


def _escaped(char: str) -> str:
    """A character as JSON writes it in ASCII."""
    return json.dumps(char)[1:-1] if ord(char) > 0x7F else f"\\u{ord(char):04x}"
