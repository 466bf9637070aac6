"""Pictures as files: always the .dot, and the .svg where a layout engine can be run."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from vesselspec.changes import Review
    from vesselspec.draw import Sheet


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
                click.echo(f"vesselspec: no pictures: {error.reason}; {error.remedy}", err=True)
            except LayoutFailed as error:
                click.echo(f"vesselspec: no picture {sheet.name}.svg: {error}", err=True)
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
