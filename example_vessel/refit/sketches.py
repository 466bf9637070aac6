"""Draw the pictures that stand for photographs in the example: sketches of two panels' fronts, from the record.

Nothing in them is of a real boat. Run it with the folder of the record after a panel has changed.
"""

from __future__ import annotations

import sys
from pathlib import Path

from PIL import Image, ImageDraw

from vesselspec.cli.common import read_state
from vesselspec.model.items import Panel, Way

PANELS = ("ac-main", "dc-main")
_WIDE, _ROW, _TOP = 300, 26, 44


def sketch(panel: Panel) -> Image.Image:
    """A panel's front: a column a section, and in it a toggle and a label for each way."""
    rows = max(len(section.ways) for section in panel.sections)
    image = Image.new("1", (_WIDE * len(panel.sections) + 20, _TOP + _ROW * rows + 34), 1)
    draw = ImageDraw.Draw(image)
    draw.rectangle((2, 2, image.width - 3, image.height - 3), outline=0, width=3)
    draw.text((14, 10), f"{panel.name or panel.id}. SKETCH, not to scale.", fill=0)
    for number, section in enumerate(panel.sections):
        x = 14 + number * _WIDE
        draw.text((x, 28), section.name or section.id, fill=0)
        for row, way in enumerate(section.ways):
            _way(draw, x, _TOP + _ROW * row, way)
    draw.text((14, image.height - 22), "Drawn from the record, in place of a photograph.", fill=0)
    return image


def _way(draw: ImageDraw.ImageDraw, x: int, y: int, way: Way) -> None:
    draw.rectangle((x, y, x + 34, y + 18), outline=0)
    if way.device != "blank":
        draw.rectangle((x + 6, y + 4, x + 16, y + 14), fill=0)
    draw.text((x + 42, y + 4), f"{way.id}  {way.label or way.device}", fill=0)


def main(folder: Path) -> None:
    """Write the pictures into the record's `photos`."""
    vessel = read_state(folder, None).record.vessel
    if vessel is None:
        sys.exit("sketches.py: the record cannot be understood")
    for key in PANELS:
        sketch(vessel.panels[key]).save(folder / f"photos/{key}-front.png", optimize=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
