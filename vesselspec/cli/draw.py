"""`vesselspec draw`: diagrams of the sources and of every panel."""

from __future__ import annotations

import difflib
from pathlib import Path

import click

from vesselspec.cli.common import at_option, put, read_state, vessel_argument, write_files
from vesselspec.cli.problems import not_understood
from vesselspec.cli.status import SOUND
from vesselspec.revisions import RevisionError


@click.command("draw")
@vessel_argument()
@at_option()
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(path_type=Path),
    default=Path("drawings"),
    show_default=True,
    help="Folder for the .dot and .svg files.",
)
@click.option("--panel", "panels", metavar="ID", multiple=True, help="Only this panel; may be given several times.")
def command(vessel: Path, at: str | None, out: Path, panels: tuple[str, ...]) -> int:
    """Draw VESSEL (a folder; default: here): an overview from the sources to the panels, and each panel on its own.

    Of each panel there are sheets that list its ways, and schematics: every core from its bar through the device to
    what is at its far end. Each fits A4. What leads off a sheet names the sheet where it goes on. The .dot files are
    the same for the same record, byte for byte.
    """
    from vesselspec.cli.pictures import as_files
    from vesselspec.draw import overview_sheets, panel_schematics, panel_sheets
    from vesselspec.network.compile import compile_network

    state = read_state(vessel, at)
    found = state.record.vessel
    if found is None:
        return not_understood(state.name, state.record)
    for panel in panels:
        if panel not in found.panels:
            near = difflib.get_close_matches(panel, found.panels, n=1)
            hint = f"Did you mean {near[0]}?" if near else "Panels: " + ", ".join(found.panels)
            raise RevisionError(f"There is no panel {panel}.", hint)
    network = compile_network(found)
    footer = state.name
    sheets = [] if panels else list(overview_sheets(found, network, footer=footer))
    for panel in panels or found.panels:
        sheets += panel_sheets(found, network, panel, footer=footer)
    files = as_files(sheets)
    for panel in panels or found.panels:
        files |= {
            f"{each.name}.svg": each.svg.encode() for each in panel_schematics(found, network, panel, footer=footer)
        }
    write_files(out, files)
    put("".join(f"{out / name}\n" for name in sorted(files)))
    return SOUND
