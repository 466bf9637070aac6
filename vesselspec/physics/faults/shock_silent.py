"""What hangs on one thing whose loss nobody would notice: an earth core, a neutral-earth relay, a leakage trip.

Nothing is live when it goes, everything works on, and the next short between a line and a case is not cleared. An
earth core of one case alone is not listed: that every case hangs on its own is how boats are wired.
"""

from __future__ import annotations

from collections.abc import Iterator

from vesselspec.model.devices import InverterCharger, ShoreInlet
from vesselspec.network.compile import INVERTING
from vesselspec.physics.faults.circuit import Feed
from vesselspec.physics.faults.shock import ShockStudy
from vesselspec.physics.faults.shock_outcome import Silent

_Edges = dict[int, list[tuple[int, int]]]


def silent(study: ShockStudy) -> Iterator[Silent]:
    """Every thing on which more than one case hangs, and residual-current devices on which any does."""
    network, bench = study.network, study.bench
    edges: _Edges = {}
    for number, link in enumerate(network.links):
        ends = {network.terminals[n].pole for n in (link.a, link.b)}
        if bench.closed[number] and link.a != link.b and ends <= {"PE", "DC-"}:
            edges.setdefault(link.a, []).append((number, link.b))
            edges.setdefault(link.b, []).append((number, link.a))
    lost: dict[tuple[str, str, str], dict[str, None]] = {}
    for feed in bench.feeds:
        cases = _cases(study, feed.source)
        roots = _roots(study, feed)
        whole = _reached(edges, roots, -1)
        cases = {case: place for case, place in cases.items() if case in whole}
        for number, run in network.core_of.items():
            link = network.links[number]
            if bench.closed[number] and link.a in whole and _inner(edges, roots, link.a, link.b):
                without = _reached(edges, roots, number)
                gone = [place for case, place in cases.items() if case not in without]
                if len(gone) > 1:
                    lost.setdefault(("earth", run.cable.id, run.name), {}).update(dict.fromkeys(gone))
        device = study.vessel.devices[feed.source]
        relay = isinstance(device, InverterCharger) and device.neutral_earth_relay
        inverts = study.state.positions.get(feed.source) == INVERTING
        if relay and inverts and cases and not _bonds(study, feed, relay=False):
            lost.setdefault(("relay-open", feed.source, ""), {}).update(dict.fromkeys(cases.values()))
    for each in study.checks.earth_faults():
        for key in study.checks.residuals:
            if each.verdict == "certain" and each.why.startswith(f"{key} opens on leakage"):
                band = study.checks.bands[each.device].latest(each.amps) if each.amps is not None else None
                if (band is None or band.seconds > each.deadline.seconds) and each.place in study.vessel.loads:
                    lost.setdefault(("residual", key, ""), {})[each.place] = None
    for (kind, item, detail), places in lost.items():
        yield Silent(kind, item, detail, study.levels.condition, tuple(places))


def _cases(study: ShockStudy, source: str) -> dict[int, str]:
    """The cases of loads that a source feeds."""
    found = {}
    for number, place in study.metal.items():
        if place in study.vessel.loads:
            mine = [study.network.index.get((place, pole)) for pole in ("L1", "L2", "L3")]
            if any(source in study.sources_at(line) for line in mine if line is not None):
                found[number] = place
    return found


def _roots(study: ShockStudy, feed: Feed) -> list[int]:
    """Where the earth comes back to a source."""
    if isinstance(study.vessel.devices[feed.source], ShoreInlet):
        pin = study.network.index.get((feed.source, "PE"))
        return [pin] if pin is not None else []
    return _bonds(study, feed, relay=True)


def _bonds(study: ShockStudy, feed: Feed, *, relay: bool) -> list[int]:
    """The earth terminals that are joined with the neutral of a source; `relay=False` leaves out its own relay."""
    links = study.network.links
    joints = [(n, earth) for n, earth in study.bench.joints(feed) if relay or links[n].item != feed.source]
    return [earth for _, earth in joints]


def _inner(edges: _Edges, roots: list[int], a: int, b: int) -> bool:
    """Whether an edge has something beyond both of its ends, or its source."""
    return all(len(edges.get(end, ())) > 1 or end in roots for end in (a, b))


def _reached(edges: _Edges, roots: list[int], without: int) -> set[int]:
    seen, stack = set(roots), list(roots)
    while stack:
        for number, there in edges.get(stack.pop(), ()):
            if number != without and there not in seen:
                seen.add(there)
                stack.append(there)
    return seen
