"""The single things that can go wrong in a condition, and how each changes the circuit. One exists for each part.

Only what can do something by itself is here, and the short between a line and a case is laid on afterwards. A lost
earth core through which nothing flows changes no voltage: `shock_silent` has those.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from vesselspec.model.devices import InverterCharger, Selector, ShoreInlet
from vesselspec.network.compile import INVERTING, PASS_THROUGH
from vesselspec.network.graph import LINES
from vesselspec.physics.faults.circuit import Feed
from vesselspec.physics.faults.shock_circuit import Bench, Solved
from vesselspec.physics.faults.shock_outcome import Failure

_FLOWS_A = 1e-3  # less in an earth core is rounding


def failures(bench: Bench, normal: Solved, *, metal_only: bool = False) -> Iterator[Failure]:
    """Every single failure that changes a voltage by itself; `normal` is the condition with its loads.

    `metal_only` leaves out lost neutrals and reversed outlets where no second joint with earth carries them to metal.
    """
    yield from _earths(bench, normal)
    carried = not metal_only or any(_second_joint(bench, feed) for feed in bench.feeds)
    if carried:
        yield from _neutrals(bench)
    for feed in bench.feeds if carried else ():
        if isinstance(bench.vessel.devices[feed.source], ShoreInlet) and (feed.source, "N") in bench.network.index:
            yield Failure("reversed", feed.source, reverses=feed.source)
    yield from _contacts(bench)


def _second_joint(bench: Bench, feed: Feed) -> bool:
    """Whether neutral and earth of a source are joined anywhere but at the source."""
    here = bench.network.terminals[feed.plus[0][0]].place
    return any(bench.network.terminals[earth].place != here for _, earth in bench.joints(feed)) or (
        feed.star >= 0 and bool(bench.joints(feed))
    )


def _earths(bench: Bench, normal: Solved) -> Iterator[Failure]:
    """Earth cores that carry a current as it is: what else opens changes nothing."""
    network, wiring = bench.network, bench.study.wiring
    for number, run in network.core_of.items():
        link = network.links[number]
        if not bench.closed[number] or {network.terminals[n].pole for n in (link.a, link.b)} != {"PE"}:
            continue
        z = complex(wiring.cold[number])
        if np.isnan(z) or abs(complex(normal.volts[link.a] - normal.volts[link.b]) / z) > _FLOWS_A:
            yield Failure("earth", run.cable.id, run.name, opens=frozenset((number,)))


def _neutrals(bench: Bench) -> Iterator[Failure]:
    """The neutral of every supply, and of every cable that feeds more than one load."""
    network, loads = bench.network, bench.vessel.loads
    for feed in bench.feeds:
        place = network.terminals[feed.plus[0][0]].place
        pole = network.index.get((place, "N"))
        if pole is not None and feed.star >= 0 and pole in feed.minus:
            yield Failure("neutral", feed.source, "ashore", cuts=feed.source)
    for number, run in network.core_of.items():
        link = network.links[number]
        ends = [network.terminals[n] for n in (link.a, link.b)]
        heads = [end.place.split("/", 1)[0] for end in ends]
        ways = any(end.place in bench.vessel.ways for end in ends) or any(head in loads for head in heads)
        if bench.closed[number] and all(end.pole == "N" for end in ends) and not ways and bench.state.at(link.a):
            yield Failure("neutral", run.cable.id, run.name, opens=frozenset((number,)))


def _contacts(bench: Bench) -> Iterator[Failure]:
    """Contacts that stick: transfer relays, neutral-earth relays, selectors, mechanical interlocks."""
    network, state = bench.network, bench.state
    guarded: dict[str, list[tuple[int, frozenset[str]]]] = {}
    for number, link in enumerate(network.links):
        for choice, states in link.guards:
            if not bench.closed[number] and any(network.terminals[n].pole in (*LINES, "N") for n in (link.a, link.b)):
                own = network.choices[choice].kind == "transfer"  # of units in step each has a relay of its own
                guarded.setdefault(link.item if own else choice, []).append((number, states))
    for key, links in guarded.items():
        position, device = state.positions.get(key), bench.vessel.devices.get(key)
        if isinstance(device, InverterCharger):
            if position == INVERTING:
                stuck = frozenset(n for n, states in links if PASS_THROUGH in states)
                yield Failure("transfer", key, closes=stuck)
            elif position == PASS_THROUGH and (relay := frozenset(n for n, s in links if INVERTING in s)):
                yield Failure("relay-closed", key, closes=relay)
        elif isinstance(device, Selector):
            for name in device.inputs:
                place = f"{key}/{name}"
                mine = frozenset(n for n, _ in links if network.terminals[network.links[n].a].place == place)
                if mine:
                    yield Failure("selector", key, name, closes=mine)
        elif key in bench.vessel.interlocks:
            for member in bench.vessel.interlocks[key].between:
                mine = frozenset(n for n, _ in links if network.links[n].switch == member)
                if mine and position in bench.vessel.interlocks[key].between:
                    yield Failure("interlock", key, member, closes=mine)
