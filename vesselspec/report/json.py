"""JSON for machines: sorted nowhere, stable everywhere, one line break at the end."""

from __future__ import annotations

import json
from typing import Any


def dumps(data: Any) -> str:
    """Return JSON text that is the same for the same data."""
    return json.dumps(data, ensure_ascii=False, indent=2) + "\n"
