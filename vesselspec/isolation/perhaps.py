"""What may be live in an enclosure without the record placing it there: ends of cables that nobody has found."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from vesselspec.isolation.energy import Energy
from vesselspec.isolation.hazards import Hazard, is_untraced, named
from vesselspec.isolation.target import Target
from vesselspec.model.items import NO_LABEL, UNTRACED
from vesselspec.rules import Boat


@dataclass(frozen=True)
class LostEnd:
    """A cable of which an end is untraced, none of it recorded here: that end may be in any enclosure on board."""

    cable: str
    #: Where its known ends land; empty where neither is known.
    known: tuple[str, ...]
    #: What is live on it with the points of the sheet open.
    poles: tuple[str, ...]
    sources: tuple[str, ...]
    #: The contact next to each known end through which that comes.
    opens: tuple[str, ...]
    #: What to look for: colours and size of its cores, and its label, as far as they are recorded.
    looks: str


def lost_ends(boat: Boat, target: Target, after: Energy) -> Iterator[LostEnd]:
    """Every cable elsewhere on board with an untraced end, and what is live on it while the place is dead."""
    network = boat.network
    for cable in boat.vessel.cables:
        if cable in target.cables or not is_untraced(boat, cable):
            continue
        links = [network.links[run.link] for run in network.runs.get(cable, ()) if run.link >= 0]
        ends = sorted({t for link in links for t in (link.a, link.b) if not network.terminals[t].loose})
        poles: dict[str, None] = {}
        sources: dict[str, None] = {}
        opens: dict[str, None] = {}
        for end in ends:
            for arrival in after.at(end):
                poles[arrival.emission.pole] = None
                sources[arrival.emission.source] = None
                reach = after.neutral if arrival.emission.pole == "N" else after.reach
                steps = (step.link for step in reach.witness(arrival, end).steps if step.link >= 0)
                passed = [network.links[n].item for n in steps if network.links[n].switch]
                opens |= dict.fromkeys(passed[-1:])
        entry = boat.vessel.cables[cable]
        said = [end for end in (entry.from_, entry.to) if end != UNTRACED]
        known = dict.fromkeys(said or (network.terminals[end].place for end in ends))
        yield LostEnd(cable, tuple(known), tuple(poles), tuple(sources), tuple(opens), _looks(boat, cable))


def _looks(boat: Boat, cable: str) -> str:
    runs, label = boat.network.runs.get(cable, ()), boat.vessel.cables[cable].label
    words = [*dict.fromkeys(run.colour for run in runs if run.colour)]
    words += dict.fromkeys(run.size.text for run in runs if run.size is not None)
    words += [f"label {label}" if label != NO_LABEL else "no label"] if label is not None else []
    return ", ".join(words)


def lost_end_hazards(boat: Boat, ends: Iterable[LostEnd]) -> Iterator[Hazard]:
    """What to do about each, before anything is touched."""
    look = "then look in the enclosure for a conductor that has no entry on this sheet, and take it as live"
    dead: list[str] = []
    for each in ends:
        name = f"{each.cable} ({each.looks})" if each.looks else each.cable
        if not each.poles:
            dead.append(name)
            continue
        says = f"untraced elsewhere on board: {name}. Its lost end may be in here, and is LIVE then"
        opens = f"open {named(map(boat.vessel.name_of, each.opens))} as well and keep it open; " if each.opens else ""
        yield Hazard(says, opens + (look if opens else look.removeprefix("then ")))
    if dead:
        yield Hazard(
            f"untraced elsewhere on board: {named(dead)}. A lost end may be in here; nothing recorded feeds it with "
            "these points open, and what else it is joined to is not known",
            look.removeprefix("then "),
        )
