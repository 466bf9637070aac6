"""What is live in each operating condition, by the record: for the tables, the diagrams and the switch between them."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from vesselspec.model.items import UNTRACED
from vesselspec.network.graph import LINES
from vesselspec.network.state import OPEN
from vesselspec.rules import Boat

#: Poles at which somebody gets hurt. Neutrals and negatives are left out: they are no sign of what is switched on.
HOT = frozenset((*LINES, "DC+"))


@dataclass(frozen=True)
class Live:
    """One condition: the ids and addresses that a running source makes live, and those that stand open."""

    condition: str
    name: str
    live: frozenset[str]
    open: frozenset[str]
    #: Where a cable lands whose other end nobody traced, and that cable: it may be live from there.
    untraced: frozenset[str]
    #: Positions that the condition does not give, so that more may be live; in words.
    gaps: str


def live_of(boat: Boat) -> tuple[Live, ...]:
    """Every condition of the record."""
    network, found = boat.network, []
    untraced = boat.unsearched | {
        key
        for key, cable in boat.vessel.cables.items()
        if UNTRACED in (cable.from_, cable.to)
        or any(UNTRACED in (core.from_, core.to) for _, core in boat.vessel.cores_of(cable))
    }
    for key, condition in boat.vessel.conditions.items():
        state = boat.states[key]
        hot = {at for at, emissions in state.live.items() if any(each.pole in HOT for each in emissions)}
        live: set[str] = set()
        for number, terminal in enumerate(network.terminals):
            if state.component[number] in hot and not terminal.loose:
                live |= {terminal.place, terminal.place.split("/", 1)[0]}
        for run in network.cores:
            if run.link >= 0:
                link = network.links[run.link]
                if state.component[link.a] in hot or state.component[link.b] in hot:
                    live.add(run.cable.id)
        opened = frozenset(place for place, position in condition.positions if position == OPEN)
        gaps = "; ".join(f"{item}: {missing} is not recorded" for item, missing in state.gaps)
        found.append(Live(key, condition.name or key, frozenset(live), opened, untraced, gaps))
    return tuple(found)


def in_words(lives: Sequence[Live], item: str, said: str = "LIVE in") -> str:
    """In which conditions an item is live, by their numbers, for readers without the switch.

    `said`: what stands before the numbers; a column that is called so needs no more than "in".
    """
    if not lives:
        return "no operating condition recorded"
    hot = [str(number) for number, each in enumerate(lives, start=1) if item in each.live]
    if len(hot) == len(lives):
        return f"{said} all"
    words = [f"{said} {', '.join(hot)}"] if hot else []
    open_ends = [str(number) for number, each in enumerate(lives, start=1) if item not in each.live and each.gaps]
    if item in lives[0].untraced:
        words.append("else NOT KNOWN: untraced" if hot else "NOT KNOWN: untraced")
    elif open_ends:
        words.append(f"NOT KNOWN in {', '.join(open_ends)}")
    return "; ".join(words) or "not live in any"


def table_of(lives: Sequence[Live], items: Collection[str]) -> dict[str, Any]:
    """The same of some items as plain data, for the page's script: condition → what is live, what stands open."""
    wanted = frozenset(items)
    return {
        each.condition: {
            "name": each.name,
            "live": sorted(each.live & wanted),
            "open": sorted(each.open & wanted),
            "untraced": sorted(each.untraced & wanted),
            "gaps": each.gaps,
        }
        for each in lives
    }
