"""Everything the rules look at, worked out once and only when asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

from vesselspec.model.devices import EarthPoint, GalvanicIsolator
from vesselspec.model.items import UNTRACED, Cable
from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import compile_network
from vesselspec.network.feeds import Feeds, feeds_of
from vesselspec.network.graph import Network
from vesselspec.network.mismatch import (
    AC_ON_DC,
    DC_ON_AC,
    DC_REVERSED,
    VOLTAGE_MIXED,
    Mismatch,
    mismatches,
    strays,
)
from vesselspec.network.reach import Needs, Reach, Step, Witness, reach
from vesselspec.network.state import State, resolve
from vesselspec.network.zones import zones_of
from vesselspec.physics.loads.demand import Demands, demands_of
from vesselspec.record import Place, Places
from vesselspec.rules.findings import At
from vesselspec.rules.past import Past

if TYPE_CHECKING:
    from vesselspec.physics.faults.devices import DeviceChecks
    from vesselspec.physics.steady.flow import Flow


T = TypeVar("T")


@dataclass(frozen=True)
class Boat:
    """A vessel with its network, potentials, states and demands."""

    vessel: Vessel
    places: Places
    #: Paths of all files in the vessel's folder; None where nobody looked.
    names: frozenset[str] | None = None
    #: What earlier revisions say; None where nobody asked them.
    past: Past | None = None

    @cached_property
    def network(self) -> Network:
        """The compiled network."""
        return compile_network(self.vessel)

    @cached_property
    def reach(self) -> Reach:
        """What can reach what, over all permitted positions."""
        return reach(zones_of(self.network))

    @cached_property
    def mismatches(self) -> tuple[Mismatch, ...]:
        """Where potentials go astray."""
        return mismatches(self.reach, *self._duties)

    @cached_property
    def strays(self) -> Mapping[str, frozenset[str]]:
        """For each kind of mismatch every place that it comes to, first or further on."""
        return strays(self.reach, *self._duties)

    @cached_property
    def meaningless(self) -> frozenset[str]:
        """Places at which AC and DC, two voltages, or positive and negative are joined: a current or voltage worked
        out there says nothing until that is mended, and what joins them is told by itself."""
        kinds = (AC_ON_DC, DC_ON_AC, DC_REVERSED, VOLTAGE_MIXED)
        return frozenset().union(*(self.strays.get(kind, frozenset()) for kind in kinds))

    @property
    def _duties(self) -> tuple[dict[str, float], frozenset[str]]:
        systems = self.vessel.systems
        volts = {key: system.voltage.line_v for key, system in systems.items()}
        return volts, frozenset(key for key, system in systems.items() if system.kind == "ac-single-phase")

    @cached_property
    def poles_at(self) -> Mapping[str, frozenset[str]]:
        """The poles of every place that cores can land on; loose ends of cores left out."""
        terminals = self.network.terminals
        found = {
            place: frozenset(terminals[n].pole for n in numbers if not terminals[n].loose)
            for place, numbers in self.network.places.items()
        }
        return {place: poles for place, poles in found.items() if poles}

    @cached_property
    def unsearched(self) -> frozenset[str]:
        """Places of which the network cannot tell what comes to them: the search was cut short, a core that lands
        there has another end that nobody traced, or a cable comes there of which no core is recorded."""
        network = self.network
        found = {network.terminals[n].place for zone in self.reach.incomplete for n in self.reach.zones.members[zone]}
        for run in network.cores:
            ends = (run.core.from_, run.core.to, run.cable.from_, run.cable.to)
            if run.link >= 0 and UNTRACED in ends:
                link = network.links[run.link]
                found |= {network.terminals[n].place for n in (link.a, link.b) if not network.terminals[n].loose}
        for key in self.coreless:
            cable = self.vessel.cables[key]
            for place in (cable.from_, cable.to):
                found |= {place, place.rpartition("/")[0] if place in self.vessel.ways else place}
        return frozenset(found)

    @cached_property
    def coreless(self) -> tuple[str, ...]:
        """Cables of which no core is recorded, neither by themselves nor by a type: nothing passes them here."""
        return tuple(key for key, cable in self.vessel.cables.items() if not self.vessel.cores_of(cable))

    @cached_property
    def systemless(self) -> Mapping[str, tuple[str, ...]]:
        """What has no system on record, and so no terminal to land on or to be live: item → what is missing."""
        found: dict[str, tuple[str, ...]] = {}
        for key, device in (*self.vessel.devices.items(), *self.vessel.loads.items()):
            if isinstance(device, EarthPoint | GalvanicIsolator) or getattr(device, "poles", ()) == ("PE",):
                continue
            sides = [each for each in device.sides(self.vessel.systems) if each.system is None and not each.poles]
            if sides:
                every = len(sides) == len(device.sides(self.vessel.systems))
                found[key] = ("its system",) if every else tuple(f"the system of its {s.name} side" for s in sides)
        for path, (panel, section) in self.vessel.sections.items():
            if panel.system is None and section.system is None:
                found[path] = ("its system",)
        return found

    @cached_property
    def feeds(self) -> Feeds:
        """What protects every conductor."""
        return feeds_of(self.network)

    @cached_property
    def states(self) -> Mapping[str, State]:
        """Every operating condition, resolved."""
        return {key: resolve(self.vessel, self.network, each) for key, each in self.vessel.conditions.items()}

    @cached_property
    def demands(self) -> Mapping[str, Demands]:
        """The demand on every source in every condition."""
        return {
            key: demands_of(self.vessel, self.network, condition, self.states[key])
            for key, condition in self.vessel.conditions.items()
        }

    @cached_property
    def flows(self) -> Mapping[str, Flow]:
        """Every operating condition, solved: the one thing here that needs the scientific libraries."""
        if not self.vessel.conditions:
            return {}
        from vesselspec.physics.steady.flow import Wires, solve_condition  # noqa: PLC0415 - 250 ms that not every command needs

        wires = Wires(self.network)
        return {
            key: solve_condition(self.vessel, self.network, condition, self.states[key], wires)
            for key, condition in self.vessel.conditions.items()
        }

    @cached_property
    def fault_checks(self) -> tuple[DeviceChecks, ...]:
        """Every protective device held to the faults of every condition."""
        if not self.vessel.conditions:
            return ()
        from vesselspec.physics.faults.devices import checks_of  # noqa: PLC0415 - as for `flows`

        return checks_of(self.vessel, self.network, self.states)

    def place(self, at: At) -> Place:
        """Where in the files something stands."""
        return self.places.of(at.collection, at.path, *at.fields)

    def at(self, item: str, *fields: str | int) -> At:
        """Find the collection that an id or address belongs to."""
        vessel = self.vessel
        head = item.split("/", 1)[0]
        if item in vessel.ways:
            return At("ways", item, fields)
        if item in vessel.sections:
            return At("sections", item, fields)
        for name in ("devices", "loads", "panels", "cables", "interlocks", "conditions", "days", "systems", "spaces"):
            if head in vessel.collection(name):
                return At(name, head, fields)
        return At("", item, fields)

    def core_at(self, cable: str, *cores: str) -> At:
        """Point to a core of a cable where it is written, else to the cable."""
        own = self.vessel.cables[cable].cores
        written = [core for core in cores if own.get(core) is not None]
        return At("cables", cable, ("cores", written[0]) if written else ())

    def told(self, witness: Witness) -> tuple[str, ...]:
        """A witness as lines of words: every terminal, and what lies between it and the next."""
        return self.way_told(witness.start, witness.steps)

    def way_told(self, begin: int, steps: Iterable[Step]) -> tuple[str, ...]:
        """The steps from a terminal as lines of words."""
        network = self.network
        start = network.terminals[begin]
        lines = [f"{start.pole} of {self.vessel.name_of(start.place.split('/', 1)[0])}"]
        for step in steps:
            link = network.links[step.link]
            end = network.terminals[step.end].name
            if step.link < 0:
                lines.append(f"backwards through {end.split('/', 1)[0]} to {end}")
            elif link.kind == "core":
                run = network.core_of[step.link]
                colour = run.colour or run.name
                called = f"core {run.name}" if run.name == colour else f"core {run.name} ({colour})"
                lines.append(f"cable {link.item}, {called}, to {end}")
            elif link.kind == "contact":
                lines.append(f"{self.vessel.name_of(link.item)}, closed, to {end}")
            elif network.terminals[step.start].place != network.terminals[step.end].place:
                lines.append(f"inside {link.item} to {end}")
        return tuple(lines)

    def positions(self, needs: Needs) -> tuple[tuple[str, str], ...]:
        """The positions that a witness takes, in words."""
        together = self.network.together
        return tuple((key, " or ".join(sorted(states))) for choice, states in needs for key in together[choice])

    @cached_property
    def cables_at(self) -> Mapping[str, tuple[str, ...]]:
        """The cables with a core that lands on each place."""
        found: dict[str, dict[str, None]] = {}
        for run in self.network.cores:
            if run.link >= 0:
                link = self.network.links[run.link]
                for number in (link.a, link.b):
                    found.setdefault(self.network.terminals[number].place, {})[run.cable.id] = None
        for cable in self.vessel.cables.values():
            for end in (cable.from_, cable.to):
                found.setdefault(end, {})[cable.id] = None
        return {place: tuple(cables) for place, cables in found.items()}

    def insulation(self, cable: Cable) -> float | None:
        """Temperature rating of a cable's insulation in °C, from it or its type."""
        kind = self.vessel.cable_type(cable)
        return cable.insulation_c if cable.insulation_c is not None else kind.insulation_c if kind else None

    def sheath(self, cable: Cable) -> bool | None:
        """Whether a cable has a sheath, from it or its type."""
        kind = self.vessel.cable_type(cable)
        return cable.sheath if cable.sheath is not None else kind.sheath if kind else None

    def in_engine_space(self, cable: Cable) -> bool | None:
        """Whether a cable passes an engine space; None where its route is not recorded."""
        if cable.id not in self._in_engine_space:
            self._in_engine_space[cable.id] = self._passes_engine_space(cable)
        return self._in_engine_space[cable.id]

    @cached_property
    def _in_engine_space(self) -> dict[str, bool | None]:
        return {}

    def _passes_engine_space(self, cable: Cable) -> bool | None:
        spaces = [self.vessel.spaces.get(key) for key in cable.route]
        ends = [self.vessel.space_of(cable.from_), self.vessel.space_of(cable.to)]
        if any(space is not None and space.engine_space for space in (*spaces, *ends)):
            return True
        return False if cable.route and None not in spaces else None

    def ambient(self, cable: Cable) -> float | None:
        """The highest ambient temperature in °C that is recorded along a cable's way; None where none is."""
        spaces = [self.vessel.spaces.get(key) for key in cable.route]
        ends = [self.vessel.space_of(cable.from_), self.vessel.space_of(cable.to)]
        known = [each.ambient_c for each in (*spaces, *ends) if each is not None and each.ambient_c is not None]
        return max(known, default=None)

    def softens(self, cable: Cable) -> bool:
        """Whether a cable's insulation is known to be rated no hotter than a place on its way."""
        rated, ambient = self.insulation(cable), self.ambient(cable)
        return rated is not None and ambient is not None and rated <= ambient


def kept(boat: Boat, key: str, make: Callable[[Boat], T]) -> T:
    """Work something out once for a boat, as its own properties are."""
    store = boat.__dict__
    if key not in store:
        store[key] = make(boat)
    found: T = store[key]
    return found
