"""What each core is meant to carry, and the colour it wears: what the rules on looks and labels share."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from vesselspec.network.graph import LINES, CoreRun
from vesselspec.rules.boat import Boat, kept

AC_LINES = ("ac-line-1", "ac-line-2", "ac-line-3")
#: Functions that carry current, by kind of system.
AC = (*AC_LINES, "ac-neutral")
DC = ("dc-positive", "dc-negative")
#: Each function in words, and by the pole that it belongs to.
WORDS = {
    "ac-line-1": "AC line",
    "ac-line-2": "AC line 2",
    "ac-line-3": "AC line 3",
    "ac-neutral": "AC neutral",
    "protective": "protective earth",
    "bonding": "bonding",
    "dc-positive": "DC positive",
    "dc-negative": "DC negative",
}
_FUNCTIONS = dict(zip((*LINES, "N", "DC+", "DC-"), (*AC, *DC), strict=True))


@dataclass(frozen=True, slots=True)
class Worn:
    """A landed core with its function, empty where its ends disagree or nobody knows, and its plain colour."""

    run: CoreRun
    function: str
    colour: str | None


def worn(boat: Boat) -> Mapping[str, tuple[Worn, ...]]:
    """The landed cores of each cable."""
    return kept(boat, "_worn", _worn)


def _worn(boat: Boat) -> dict[str, tuple[Worn, ...]]:
    from vesselspec.standards import normalise_colour  # noqa: PLC0415 - reads a data file

    found: dict[str, tuple[Worn, ...]] = {}
    for cable, runs in boat.network.runs.items():
        found[cable] = tuple(
            Worn(run, carries(boat, run.link), normalise_colour(run.colour) if run.colour else None)
            for run in runs
            if run.link >= 0
        )
    return found


def kinds(boat: Boat, cable: str) -> set[str]:
    """The kinds of current, `ac` and `dc`, that the cores of a cable carry."""
    functions = {each.function for each in worn(boat).get(cable, ())}
    return {kind for kind, of in (("ac", AC), ("dc", DC)) if functions & set(of)}


def carries(boat: Boat, number: int) -> str:
    """The function of a core: what both its ends are meant for, empty where they disagree or nobody knows."""
    link = boat.network.links[number]
    one, two = boat.network.terminals[link.a], boat.network.terminals[link.b]
    poles = [t.pole for t in (one, two) if not t.loose]
    if len(set(poles)) != 1:
        # The one joint of AC earth and DC negative is a bonding conductor; any other disagreement is told elsewhere.
        return "bonding" if set(poles) == {"PE", "DC-"} else ""
    if poles[0] == "PE":
        systems = [boat.vessel.systems.get(t.system or "") for t in (one, two)]
        ac = any(system is not None and not system.is_dc for system in systems)
        return "protective" if ac else "bonding"
    return _FUNCTIONS[poles[0]]


@dataclass(frozen=True, slots=True)
class Landed:
    """A core at one of its ends inside an enclosure."""

    core: Worn
    end: str  # from | to

    @property
    def cable(self) -> str:
        """The cable that it belongs to."""
        return self.core.run.cable.id

    @property
    def label(self) -> str | None:
        """What is written on the cable there."""
        return self.core.run.cable.label_at(self.end)


def enclosures(boat: Boat) -> Mapping[str, list[Landed]]:
    """The landings in each panel, and in each device with AC and DC sides."""
    return kept(boat, "_enclosures", _find_enclosures)


def _find_enclosures(boat: Boat) -> dict[str, list[Landed]]:
    vessel, network = boat.vessel, boat.network
    both = set(vessel.panels)
    for key, device in vessel.devices.items():
        systems = [vessel.systems.get(side.system or "") for side in device.sides(vessel.systems)]
        if {system.is_dc for system in systems if system is not None} == {False, True}:
            both.add(key)
    found: dict[str, list[Landed]] = defaultdict(list)
    for cores in worn(boat).values():
        for each in cores:
            link = network.links[each.run.link]
            for end, number in (("from", link.a), ("to", link.b)):
                head = network.terminals[number].place.split("/", 1)[0]
                if head in both and not network.terminals[number].loose:
                    found[head].append(Landed(each, end))
    return {head: found[head] for head in sorted(found)}


def cables_named(keys: Iterable[str]) -> str:
    """`cable X1`, or `cables X1, X2`; of a long list the first four."""
    listed = list(keys)
    shown = ", ".join(listed[:4]) + (f" and {len(listed) - 4} more" if len(listed) > 4 else "")
    return f"cable {shown}" if len(listed) == 1 else f"cables {shown}"
