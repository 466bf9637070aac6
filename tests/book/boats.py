"""Boats for the book: one whose every word would like to be markup, and photographs."""

from __future__ import annotations

import io
import json
from pathlib import Path

from PIL import Image

HOSTILE = "</script><script>document.title='owned'</script><img src=x onerror=alert(1)>\"'{{7*7}}\u202e\x1b[31m"


def hostile(folder: Path) -> Path:
    """Names, notes and labels that are markup; ids that file systems confuse or forbid."""
    said = HOSTILE
    ways = {"1": {"poles": ["L1"], "rating": "20 A", "label": said[:80]}}
    panel = {"system": "ac", "space": "hold", "name": said, "note": said, "sections": {"a": {"ways": ways}}}
    cores = {"black": "L1", "white": "N", "green": "PE"}
    record = {
        "vessel": {
            "record": 1,
            "name": '"} body { display: none } @import url(http://x.example/); \\ </style><b>',
            "practice": "north-american",
            "note": said,
        },
        "spaces": {"hold": {"name": said}},
        "systems": {
            "ac": {"kind": "ac-single-phase", "voltage": "120 V", "name": said},
            "dc": {"kind": "dc", "voltage": "12 V"},
        },
        "devices": {
            "shore": {
                "kind": "shore-inlet",
                "system": "ac",
                "rating": "30 A",
                "name": said,
                "note": said,
                "photos": ["<script>alert(1)<script>.jpg"],
            },
            "bank": {"kind": "battery-bank", "system": "dc", "name": said, "capacity": "100 Ah"},
        },
        "panels": dict.fromkeys(("CON", "con", "Panel.html", "aux", "a" * 64), panel),
        "loads": {"lamp": {"system": "ac", "name": said, "power": "100 W", "space": "hold", "note": said}},
        "cables": {
            "C1": {"from": "shore", "to": "CON/a", "cores": cores, "label": said[:80], "note": said},
            "c1": {"from": "CON/a/1", "to": "lamp", "cores": cores},
        },
        "conditions": {"alongside": {"name": said, "note": said, "running": ["shore"], "demand": {"lamp": 1}}},
        "days": {"day": {"name": said, "parts": [{"condition": "alongside", "time": "24 h"}]}},
        "concessions": {
            "one": {
                "rule": "cable-end-unlabelled",
                "items": ["c1"],
                "reason": said,
                "accepted_by": said[:80],
                "date": "2026-01-01",
                "until": "2027-01-01",
            }
        },
    }
    (folder / "vessel.yaml").write_text(json.dumps(record), encoding="utf-8")
    return folder


def picture(size: tuple[int, int] = (40, 30), kind: str = "JPEG", *, told: bool = False) -> bytes:
    """A photograph; `told`: with place, owner and words in it."""
    image = Image.new("RGB", size, "navy")
    out = io.BytesIO()
    if told:
        exif = Image.Exif()
        exif[0x010E] = "SECRET words"
        exif[0x0112] = 6  # lies on its side
        exif.get_ifd(0x8825)[2] = (54.0, 30.0, 0.0)
        image.save(out, kind, exif=exif, comment=b"SECRET words")
    else:
        image.save(out, kind)
    return out.getvalue()
