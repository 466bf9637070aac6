"""`vesselspec expand`: print what the short form of an item stands for."""

from __future__ import annotations

import difflib
from pathlib import Path

import click

from vesselspec.cli.common import at_option, page, put, read_state, vessel_argument
from vesselspec.cli.problems import not_understood
from vesselspec.cli.status import SOUND
from vesselspec.revisions import RevisionError


@click.command("expand")
@click.argument("item")
@vessel_argument()
@at_option()
@click.option("--output", type=click.Choice(["text", "json"]), default="text", show_default=True, help="Form.")
def command(item: str, vessel: Path, at: str | None, output: str) -> int:
    """Print ITEM core by core and terminal by terminal, with everything filled in that its short form leaves out.

    ITEM is a cable, device, load, panel, section or way, by id or address.
    """
    from vesselspec.report import expansion, json
    from vesselspec.rules import Boat

    state = read_state(vessel, at)
    if state.record.vessel is None:
        return not_understood(state.name, state.record, output)
    boat = Boat(state.record.vessel, state.record.places)
    found = expansion.expand(boat, item)
    if found is None:
        near = difflib.get_close_matches(item, expansion.known(boat), n=3, cutoff=0.5)
        raise RevisionError(
            f"There is no {item} in the record.", f"Did you mean {', '.join(near)}?" if near else "Check the id."
        )
    put(json.dumps(expansion.expansion_json(found)) if output == "json" else expansion.expansion_text(page(), found))
    return SOUND
