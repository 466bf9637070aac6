"""`vesselspec derive`: how a printed number came about."""

from __future__ import annotations

import difflib
from pathlib import Path

import click

from vesselspec.cli.common import at_option, output_option, page, put, read_state
from vesselspec.cli.problems import not_understood
from vesselspec.cli.status import SOUND
from vesselspec.revisions import RevisionError
from vesselspec.revisions.errors import shown


@click.command("derive")
@click.argument("item")
@click.argument("quantity", required=False)
@click.argument("vessel", type=click.Path(path_type=Path), default=Path())
@click.option("--condition", metavar="NAME", help="Only in this operating condition.")
@at_option()
@output_option()
def command(item: str, quantity: str | None, vessel: Path, condition: str | None, at: str | None, output: str) -> int:
    """Print how QUANTITY of ITEM came about: inputs with their places in the record, formula, sources, result.

    ITEM is a cable, device, load, section or way, by id or address. Without QUANTITY, or with QUANTITY given as `-`,
    list what can be derived for ITEM.
    """
    from vesselspec.report import derivation as report
    from vesselspec.report import expansion, json
    from vesselspec.rules import Boat

    known = report.quantities()
    wanted = None if quantity in (None, "-") else quantity
    if wanted is not None and wanted not in known:
        near = difflib.get_close_matches(wanted, known, n=1, cutoff=0.5)
        raise RevisionError(
            f"There is no quantity {shown(wanted)}.",
            f"Did you mean {near[0]}?" if near else f"There are: {', '.join(known)}.",
        )
    state = read_state(vessel, at)
    if state.record.vessel is None:
        return not_understood(state.name, state.record, output)
    boat = Boat(state.record.vessel, state.record.places)
    items = expansion.known(boat)
    if item not in items:
        near = difflib.get_close_matches(item, items, n=3, cutoff=0.5)
        raise RevisionError(
            f"There is no {shown(item)} in the record.",
            f"Did you mean {', '.join(near)}?" if near else "Check the id.",
        )
    if condition is not None and condition not in boat.vessel.conditions:
        raise RevisionError(
            f"There is no operating condition {shown(condition)} in the record.",
            f"There are: {', '.join(boat.vessel.conditions) or 'none'}.",
        )
    if wanted is None:
        can = report.derivable(boat, item)
        forms = {
            "text": lambda: report.derivable_text(page(), item, can),
            "markdown": lambda: report.derivable_markdown(item, can),
            "json": lambda: json.dumps(report.derivable_json(item, can)),
        }
    else:
        found = list(known[wanted].derive(boat, item, condition))
        if not found:
            can = report.derivable(boat, item)
            raise RevisionError(
                f"{shown(item)} has no {wanted}" + (f" in {condition}." if condition else "."),
                f"It has: {', '.join(each.id for each in can) or 'nothing that can be derived'}.",
            )
        forms = {
            "text": lambda: report.derivation_text(page(), found),
            "markdown": lambda: report.derivation_markdown(item, found),
            "json": lambda: json.dumps(report.derivation_json(item, found)),
        }
    put(forms[output]())
    return SOUND
