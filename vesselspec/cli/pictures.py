"""Pictures as files: always the .dot, and the .svg where a layout engine can be run."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from vesselspec.cli.stderr import tell

if TYPE_CHECKING:
    from vesselspec.changes import Review
    from vesselspec.draw import Sheet
    from vesselspec.report.summary_content import Picture

#: Items that the words instead of a picture name at most.
_MOST_NAMED = 12


def as_files(sheets: Iterable[Sheet]) -> dict[str, bytes]:
    """Return file name → content for sheets. Where no engine can be run, say so once and go on without pictures."""
    from vesselspec.draw.render import LayoutFailed, LayoutMissing, render

    files: dict[str, bytes] = {}
    missing: LayoutMissing | None = None
    for sheet in sheets:
        files[f"{sheet.name}.dot"] = sheet.dot.encode()
        if missing is None:
            try:
                files[f"{sheet.name}.svg"] = render(sheet.dot)
            except LayoutMissing as error:
                missing = error
                tell(f"vesselspec: no pictures: {error.reason}; {error.remedy}")
            except LayoutFailed as error:
                tell(f"vesselspec: no picture {sheet.name}.svg: {error}")
    return files


def neighbourhoods(found: Review) -> dict[str, bytes]:
    """The touched neighbourhood before and after a change."""
    from dataclasses import replace

    from vesselspec.changes import touched
    from vesselspec.draw import neighbourhood

    marks = touched(found)
    sheets = []
    for name, side in (("before", found.before), ("after", found.after)):
        if side.boat is not None and marks:
            vessel, network = side.boat.vessel, side.boat.network
            known = {path for _, path, _ in vessel.items()}
            here = [item for item in marks if item in known]
            sheet = neighbourhood(vessel, network, here, marks=marks, footer=f"{name}: {side.name}")
            sheets.append(replace(sheet, name=name))
    return as_files(sheets)


def pictures_of(found: Review, files: dict[str, bytes]) -> tuple[Picture, ...]:
    """Those neighbourhoods that were really drawn, for a page."""
    from vesselspec.changes import touched
    from vesselspec.report.summary_content import Picture

    marked = touched(found)
    drawn = []
    for name, side in (("before", found.before), ("after", found.after)):
        if side.boat is not None and (svg := files.get(f"{name}.svg")) is not None:
            known = {path for _, path, _ in side.boat.vessel.items()}
            here = [item for item in marked if item in known]
            listed = ", ".join(here[:_MOST_NAMED]) + (
                f" and {len(here) - _MOST_NAMED} more" if here[_MOST_NAMED:] else ""
            )
            alt = f"{name.capitalize()} the change: {listed or 'nothing'} and what they directly connect to"
            drawn.append(Picture(name.capitalize(), alt, f"{name}.svg", svg))
    return tuple(drawn)
