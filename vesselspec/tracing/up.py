"""Up: every potential that can come to an item, with one shortest way from each source."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import partial

from vesselspec.isolation.energy import HOT
from vesselspec.network.graph import Emission
from vesselspec.network.reach import Arrival, Reach, Witness
from vesselspec.tracing.chain import Chain, chain_of
from vesselspec.tracing.wiring import Wiring

#: What feeds a converter's output: (converter, terminal of that output).
Output = tuple[str, int]
_Wanted = Callable[[Emission], bool]


@dataclass(frozen=True)
class Feed:
    """A potential at a terminal: where it comes from, and a shortest way by which it does."""

    emission: Emission
    terminal: int
    chain: Chain
    witness: Witness

    @property
    def output(self) -> Output:
        """The source with the terminal on which it puts the potential."""
        return self.emission.source, self.emission.terminal


@dataclass(frozen=True)
class Up:
    """Every potential that can come to an item."""

    #: Lines and positives, by whatever conductor; one for each source, its pole, and the pole at the item.
    hot: tuple[Feed, ...]
    #: Neutrals and negatives that come without earth.
    back: tuple[Feed, ...]
    #: (source, pole) of neutrals and negatives that only earth and bonding join to the item.
    through_earth: tuple[tuple[str, str], ...]
    #: What feeds each converter that is a source here or of another one here; empty where the record knows no way.
    fed_by: Mapping[Output, tuple[Feed, ...]]
    complete: bool


def up_from(wiring: Wiring, terminals: Iterable[int]) -> Up:
    """Trace terminals to every source that can reach them, and the converters among those to their own."""
    named = [t for t in terminals if not wiring.network.terminals[t].loose]
    poles = wiring.network.terminals
    hot = _feeds(wiring.reach, named, lambda e: e.pole in HOT)
    live = [t for t in named if poles[t].pole != "PE"]
    back = _feeds(wiring.unearthed_reach, live, lambda e: e.pole not in (*HOT, "PE"))
    apart = {(feed.emission.source, feed.emission.pole) for feed in back}
    joined = {
        (a.emission.source, a.emission.pole): None
        for t in live
        for a in wiring.reach.at(t)
        if a.emission.pole not in (*HOT, "PE")
    }
    incomplete = wiring.reach.incomplete | wiring.unearthed_reach.incomplete
    return Up(
        hot,
        back,
        tuple(each for each in joined if each not in apart),
        _fed_by(wiring, hot),
        not incomplete,
    )


def _feeds(reach: Reach, terminals: Iterable[int], wanted: _Wanted) -> tuple[Feed, ...]:
    """One feed for each (source terminal, pole at the item): of several the one that takes the fewest positions.

    Where the source itself is in what is asked for, its own terminal is the one.
    """
    best: dict[tuple[str, int, str], tuple[tuple[int, bool], int, Arrival]] = {}
    for terminal in terminals:
        pole = reach.network.terminals[terminal].pole
        for arrival in reach.at(terminal):
            if wanted(arrival.emission):
                key = (arrival.emission.source, arrival.emission.terminal, pole)
                rank = (len(arrival.needs), terminal != arrival.emission.terminal)
                if key not in best or rank < best[key][0]:
                    best[key] = (rank, terminal, arrival)
    return tuple(_feed(reach, terminal, arrival) for _, terminal, arrival in best.values())


def _feed(reach: Reach, terminal: int, arrival: Arrival) -> Feed:
    witness = reach.witness(arrival, terminal)
    chain = chain_of(reach.network, witness.start, terminal, witness.steps, witness.needs)
    return Feed(arrival.emission, terminal, chain, witness)


def _feeds_another(own: str, emission: Emission) -> bool:
    return emission.pole in HOT and emission.source != own


def _fed_by(wiring: Wiring, hot: Iterable[Feed]) -> dict[Output, tuple[Feed, ...]]:
    found: dict[Output, tuple[Feed, ...]] = {}
    waiting = [feed.output for feed in hot]
    while waiting:
        output = waiting.pop(0)
        inputs = wiring.supplies.inputs.get(output)
        if output in found or inputs is None:
            continue
        found[output] = _feeds(wiring.reach, inputs, partial(_feeds_another, output[0]))
        waiting += [feed.output for feed in found[output]]
    return found
