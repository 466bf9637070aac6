"""How two items are joined: by which conductors and in which positions, through earth only, or not at all."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from vesselspec.isolation.energy import HOT
from vesselspec.network.graph import Emission, Network
from vesselspec.network.reach import reach
from vesselspec.network.zones import zones_of
from vesselspec.tracing.chain import Chain, Spread
from vesselspec.tracing.wiring import Wiring

NOT, EARTH, RETURN, CONVERTER, LIVE = "not", "earth", "return", "converter", "live"


@dataclass(frozen=True)
class Tie:
    """One pole of an item joined to one of another. `one_way` where only current from the first to the second can."""

    poles: tuple[str, str]
    chain: Chain
    backwards: bool = False


@dataclass(frozen=True)
class Between:
    """What joins two items."""

    #: Ties that touch no earth or bonding conductor.
    ties: tuple[Tie, ...]
    #: Ties from a terminal that is meant for earth, or by way of earth and bonding.
    through_earth: tuple[Tie, ...]
    #: Converters, in order, by which energy gets from one to the other without a conductor.
    converters: tuple[str, ...]
    complete: bool

    @property
    def verdict(self) -> str:
        """The strongest that can be said: live, converter, return, earth or not."""
        if any(not _is_return(tie) for tie in self.ties):
            return LIVE
        if self.converters:
            return CONVERTER
        return RETURN if self.ties else EARTH if self.through_earth else NOT

    @property
    def shared(self) -> tuple[str, ...]:
        """N or DC-, where both items hang on the same one."""
        return tuple(dict.fromkeys(a for a, b in (tie.poles for tie in self.ties) if a == b and a in ("N", "DC-")))


def _is_return(tie: Tie) -> bool:
    return set(tie.poles) <= {"N", "DC-"}


def between(wiring: Wiring, ones: Iterable[int], others: Iterable[int]) -> Between:
    """Find what joins two sets of terminals, with one shortest way for every two poles."""
    a, b = tuple(ones), tuple(others)
    terminals = wiring.network.terminals
    ties, whole = _ties(wiring.unearthed, a, b)
    known = {tie.poles for tie in ties}
    earthed, complete = _ties(wiring.network, a, b)
    through_earth = tuple(tie for tie in earthed if tie.poles not in known)
    hot = [t for t in a if terminals[t].pole in HOT], [t for t in b if terminals[t].pole in HOT]
    passed = (
        () if any(not _is_return(tie) for tie in ties) else _converters(wiring, *hot) or _converters(wiring, *hot[::-1])
    )
    return Between(ties, through_earth, passed, whole and complete)


def _ties(network: Network, a: tuple[int, ...], b: tuple[int, ...]) -> tuple[tuple[Tie, ...], bool]:
    forward, whole = _one_way(network, a, b)
    back, complete = _one_way(network, b, a)
    found = {tie.poles: tie for tie in forward}
    for tie in back:
        poles = (tie.poles[1], tie.poles[0])
        found.setdefault(poles, Tie(poles, tie.chain, backwards=True))
    return tuple(found.values()), whole and complete


def _one_way(network: Network, starts: tuple[int, ...], goals: tuple[int, ...]) -> tuple[list[Tie], bool]:
    by_pole: dict[str, list[int]] = {}
    for terminal in starts:
        by_pole.setdefault(network.terminals[terminal].pole, []).append(terminal)
    zones = zones_of(network)
    ties: dict[tuple[str, str], Tie] = {}
    complete = True
    for pole, terminals in by_pole.items():
        own = {zones.of[t]: Emission("", "trace", "", t, "", None, 0.0) for t in terminals}
        found = reach(zones, starts=own.values())
        complete = complete and not found.incomplete
        spread = Spread(found, terminals)
        for goal in goals:
            poles = (pole, network.terminals[goal].pole)
            arrivals = found.at(goal)
            if arrivals:
                chain = spread.chain(min(arrivals, key=lambda each: len(each.needs)), goal)
                if poles not in ties or len(chain.hops) < len(ties[poles].chain.hops):
                    ties[poles] = Tie(poles, chain)
    return list(ties.values()), complete


def _converters(wiring: Wiring, starts: Iterable[int], goals: Iterable[int]) -> tuple[str, ...]:
    """The fewest converters by which what is live at `starts` makes `goals` live."""
    network, wanted = wiring.unearthed, set(goals)
    zones = zones_of(network)
    outputs: dict[str, list[int]] = {}
    for emission in network.emissions:
        if emission.pole in HOT and (emission.source, emission.terminal) in wiring.supplies.inputs:
            outputs.setdefault(emission.source, []).append(emission.terminal)
    seen: set[str] = set()
    waiting: list[tuple[tuple[str, ...], tuple[int, ...]]] = [((), tuple(starts))]
    while waiting:
        chain, here = waiting.pop(0)
        found = reach(zones, starts=[Emission("", "trace", "", t, "", None, 0.0) for t in here])
        if chain and any(found.at(goal) for goal in wanted):
            return chain
        for (key, terminal), inputs in wiring.supplies.inputs.items():
            fed = terminal in outputs.get(key, ()) and any(
                found.at(t) for t in inputs if network.terminals[t].pole in HOT
            )
            if fed and key not in seen:
                seen.add(key)
                waiting.append(((*chain, key), tuple(outputs[key])))
    return ()
