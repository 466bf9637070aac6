"""What the record does not know about a trace: untraced ends, cores that land on nothing, positions not said."""

from __future__ import annotations

from collections.abc import Iterable

from vesselspec.rules import Boat
from vesselspec.tracing.wiring import Wiring


def unknown_about(boat: Boat, wiring: Wiring, terminals: Iterable[int]) -> tuple[str, ...]:
    """Sentences about whatever is joined to terminals, or lies on the way to or from them, and is not recorded."""
    network = wiring.network
    reach = wiring.unearthed_reach
    zones = {reach.zones.of[t] for t in terminals if network.terminals[t].pole != "PE"}
    places = {network.terminals[t].place for zone in zones for t in reach.zones.members[zone]}
    loose = [t for zone in sorted(zones) for t in reach.zones.members[zone] if network.terminals[t].loose]
    found: dict[str, None] = {}
    ends: dict[tuple[str, str], list[str]] = {}
    for t in loose:
        at = network.terminals[t]
        core, _, end = at.loose.rpartition(" at its ")
        ends.setdefault((at.place, end), []).append(core)
    for (cable, end), cores in ends.items():
        found[f"cable {cable}: {', '.join(cores)} at its {end} is untraced or cut back"] = None
    for each in boat.network.unlanded:
        wrong = boat.vessel.cables[each.cable]
        if {wrong.from_, wrong.to, each.said.rpartition(":")[0]} & places or each.cable in places:
            which = f"core {each.core}" if each.core else f"the {each.end} end"
            found[
                f"cable {each.cable}: {which} is said to land on {each.said}, which is no terminal: {each.reason}"
            ] = None
    if wiring.state is not None:
        for item, missing in wiring.state.gaps:
            found[f"condition {wiring.condition} does not say {missing} of {item}: it is taken as open"] = None
        for item in wiring.state.unsettled:
            found[f"condition {wiring.condition}: {item} does not settle, its output comes back to its own input"] = (
                None
            )
    if any(zone in reach.incomplete for zone in zones):
        found["the search for what can be live was not complete"] = None
    return tuple(found)
