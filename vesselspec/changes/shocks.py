"""Where, after a change, one further failure is enough to leave a case live, and was not before."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from vesselspec.changes.compare import called
from vesselspec.model.devices import EarthPoint
from vesselspec.network.graph import LINES
from vesselspec.rules import Boat

if TYPE_CHECKING:
    from vesselspec.physics.faults.shock_entries import Entry

_AC = (*LINES, "N", "PE")


def shock_effects(before: Boat, after: Boat, changed: frozenset[str], names: Mapping[str, str]) -> tuple[Entry, ...]:
    """The entries that are new; nothing is solved where the change touches neither AC nor earth."""
    if not changed & (_of_ac(before) | _of_ac(after)):
        return ()
    now = _counting(after)
    known = {tuple(called(word, names) for word in entry.key) for entry in _counting(before)} if now else set()
    return tuple(entry for entry in now if entry.key not in known)


def _counting(boat: Boat) -> tuple[Entry, ...]:
    from vesselspec.physics.faults.shock import ShockStudy  # noqa: PLC0415 - NumPy, for changes of AC only
    from vesselspec.physics.faults.shock_entries import entries  # noqa: PLC0415 - as above

    found = entries(outcome for checks in boat.fault_checks for outcome in ShockStudy(checks).outcomes(metal_only=True))
    return tuple(entry for entry in found if entry.counts)


def _of_ac(boat: Boat) -> frozenset[str]:
    """What AC or the earth runs through, and what says where contacts stand."""
    vessel, network = boat.vessel, boat.network
    found = {*vessel.conditions, *vessel.interlocks, *vessel.systems, *vessel.cable_types}
    found |= {key for key, device in vessel.devices.items() if isinstance(device, EarthPoint)}
    for terminal in network.terminals:
        if terminal.pole in (*LINES, "N"):
            parts = terminal.place.split("/")
            found |= {"/".join(parts[:depth]) for depth in range(1, len(parts) + 1)}
    for run in network.cores:
        if run.link < 0 or any(network.terminals[n].pole in _AC for n in _ends(boat, run.link)):
            found.add(run.cable.id)
    return frozenset(found)


def _ends(boat: Boat, link: int) -> tuple[int, int]:
    return boat.network.links[link].a, boat.network.links[link].b
