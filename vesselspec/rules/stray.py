"""What stays or becomes live where people take it for dead."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass

from vesselspec.model.items import FREE
from vesselspec.network.graph import LINES, Emission, Network
from vesselspec.network.reach import Arrival, Witness
from vesselspec.physics.conductors.ampacity import LOW_VOLTAGE_V
from vesselspec.rules.boat import Boat, kept
from vesselspec.rules.book import COMMON_PRACTICE, Says, Sound, rule
from vesselspec.rules.findings import CAUTION, NOTICE, WARNING, At
from vesselspec.rules.potentials import Joints, joints, without

_LIVE = (*LINES, "DC+")


@dataclass(frozen=True)
class Bypass:
    """A section that a source reaches with all its mains open, and by which item that comes in."""

    section: str
    by: str
    witness: Witness


@rule(
    "panel-live-with-main-open",
    WARNING,
    title="A panel section stays live with its main open",
    why="Whoever opens the main takes the bars and everything behind them for dead, and reaches in.",
    remedy="Find the connection that passes the main by and take it out or move it to the supply side of the main. "
    "Until then mark the panel with every device that must be opened, and prove it dead.",
    source=COMMON_PRACTICE,
    needs="which ways of a section are its mains (`duty: main`)",
    guards_life=True,
)
def live_with_main_open(boat: Boat) -> Iterator[Says | Sound]:
    """Every section with a main, all its mains open and everything else in any permitted position."""
    found: dict[str, list[Bypass]] = {}
    for path, (_, section) in boat.vessel.sections.items():
        mains = frozenset(f"{path}/{way.id}" for way in section.ways if way.duty == "main")
        if not mains:
            continue
        past = past_mains(boat, path, mains)
        if past is None:
            yield Sound(path)
        else:
            found.setdefault(past.by, []).append(past)
    joined = kept(boat, "_joints", joints) if found else {}
    astray = {each.item for each in boat.mismatches}
    for by, every in found.items():
        each = [past for past in every if not _told_elsewhere(boat, past, joined, astray)]
        if not each:
            continue
        first = each[0]
        emission = first.witness.emission
        sections = " and ".join(boat.vessel.name_of(one.section) for one in each)
        yield Says(
            items=(by, *(one.section for one in each)),
            at=boat.at(by),
            what=f"{sections} {'stays' if len(each) == 1 else 'stay'} live from {boat.vessel.name_of(emission.source)} "
            f"with {'its main' if len(each) == 1 else 'their mains'} open, through "
            + (f"cable {by}" if by in boat.vessel.cables else boat.vessel.name_of(by)),
            signal_word=None if emission.volts >= LOW_VOLTAGE_V else CAUTION,
            witness=boat.told(first.witness),
            positions=boat.positions(first.witness.needs),
        )


def past_mains(boat: Boat, path: str, mains: frozenset[str]) -> Bypass | None:
    """How a section's bars are live with its mains open and all else in some permitted position; None if never."""
    network = boat.network
    bars = [n for n in network.places.get(path, ()) if network.terminals[n].pole in _LIVE]
    near = _sources_near(network, bars, mains)
    if not near:
        return None
    # One that only possible positions bring there counts: the search is done again without the mains.
    closed_off = without(network, mains)
    arrived = [(arrival, bar) for bar in bars for arrival in closed_off.at(bar) if arrival.emission.pole in _LIVE]
    if not arrived:
        return None
    witness = closed_off.witness(*min(arrived, key=lambda each: _plainness(each[0])))
    cores = [step for step in witness.steps if step.link >= 0 and network.links[step.link].kind == "core"]
    by = network.links[cores[-1].link].item if cores else witness.emission.source
    return Bypass(path, by, witness)


def _sources_near(network: Network, starts: list[int], mains: frozenset[str]) -> list[Emission]:
    """The sources that a section is joined to in some way that leads past its mains, permitted or not."""
    seen = set(starts)
    queue = deque(starts)
    while queue:
        here = queue.popleft()
        links = [network.links[number] for number in network.at[here]]
        near = [k.other(here) for k in links if k.item not in mains and not (k.one_way and here == k.a)]
        for primary, secondary in network.transformers.values():
            if here in primary:  # fed at its secondary, a transformer makes its primary live
                near += secondary
        new = dict.fromkeys(there for there in near if there not in seen)
        seen.update(new)
        queue.extend(new)
    return [e for e in network.emissions if e.terminal in seen and e.pole in _LIVE]


def _told_elsewhere(boat: Boat, past: Bypass, joined: Joints, astray: set[str]) -> bool:
    """Whether the way leads over a potential astray, or through what joins its source with another."""
    network = boat.network
    steps = past.witness.steps
    on_way = {network.links[step.link].item for step in steps if step.link >= 0}
    on_way |= {network.terminals[step.end].place for step in steps}
    group = past.witness.emission.group
    return not astray.isdisjoint(on_way) or any(
        joint in on_way and any(group in pair for pair, *_ in pairs) for joint, pairs in joined.items()
    )


def _live_at(boat: Boat, terminal: int) -> Arrival | None:
    """The plainest potential that comes to a terminal."""
    found = [arrival for arrival in boat.reach.at(terminal) if arrival.emission.pole in _LIVE]
    return min(found, key=_plainness, default=None)


def _plainness(arrival: Arrival) -> tuple[int, bool]:
    """What needs fewer positions comes first, and a battery before what only charges it."""
    return len(arrival.needs), arrival.emission.supply == "charging"


@rule(
    "spare-way-in-use",
    CAUTION,
    title="A cable lands on a way that is marked as spare",
    why="Whoever closes a spare way makes a cable live that nobody expects, wherever its other end lies.",
    remedy="Find out what it feeds and label the way, or take the cable off and make both ends safe.",
    source=COMMON_PRACTICE,
    needs="which ways are spare",
)
def spare_in_use(boat: Boat) -> Iterator[Says | Sound]:
    """Ways with `spare: true` and a core on the side that they switch."""
    network = boat.network
    for path, (_, _, way) in boat.vessel.ways.items():
        if not way.spare or way.device == "blank":
            continue
        cores = [
            (network.links[number].item, terminal)
            for terminal in network.places.get(path, ())
            for number in network.at[terminal]
            if network.links[number].kind == "core"
        ]
        if not cores:
            yield Sound(path)
            continue
        arrival, terminal = next(((a, t) for _, t in cores if (a := _live_at(boat, t)) is not None), (None, -1))
        witness = boat.reach.witness(arrival, terminal) if arrival is not None else None
        cables = tuple(dict.fromkeys(cable for cable, _ in cores))
        landing = f"cable {cables[0]} lands" if len(cables) == 1 else f"cables {', '.join(cables)} land"
        yield Says(
            items=(path, *cables),
            at=boat.at(path, "spare"),
            what=f"way {boat.vessel.name_of(path)} is marked as spare, and {landing} on it"
            + (f"; it can be live from {boat.vessel.name_of(witness.emission.source)}" if witness else ""),
            signal_word=None if witness else NOTICE,
            witness=boat.told(witness) if witness else (),
            positions=boat.positions(witness.needs) if witness else (),
        )


@rule(
    "free-core-live",
    CAUTION,
    title="A core that is cut back can be live",
    why="Its end touches whatever comes near: metal, another conductor, the hand that pushes it aside.",
    remedy="Disconnect its other end too; until then put an insulating cap on it, and record it as spare afterwards.",
    source=COMMON_PRACTICE,
    needs="which ends of cores are cut back (`free`)",
)
def free_core(boat: Boat) -> Iterator[Says | Sound]:
    """Cores that land at one end and are `free` at the other."""
    network = boat.network
    for key, runs in network.runs.items():
        cut = [run for run in runs if FREE in (run.core.from_, run.core.to)]
        loose = [run for run in cut if run.link >= 0]
        live = [(run, arrival) for run in loose if (arrival := _live_at(boat, network.links[run.link].a)) is not None]
        if live:
            run, arrival = live[0]
            link = network.links[run.link]
            end = next((n for n in (link.a, link.b) if network.terminals[n].loose), link.b)
            witness = boat.reach.witness(arrival, end)
            names = [each.name for each, _ in live]
            yield Says(
                items=(key,),
                at=At("cables", key, ("cores", names[0])) if boat.vessel.cables[key].cores else At("cables", key),
                what=f"{'core' if len(names) == 1 else 'cores'} {', '.join(names)} of cable {key} "
                f"{'is' if len(names) == 1 else 'are'} cut back at one end and can be live from "
                f"{boat.vessel.name_of(witness.emission.source)}",
                witness=boat.told(witness),
                positions=boat.positions(witness.needs),
                arguments=tuple(sorted(names)),
            )
        elif cut:
            yield Sound(key)
