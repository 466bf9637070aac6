"""Circuits of the record as questions to the sizing, and what a finding can offer as its remedy."""

from __future__ import annotations

from dataclasses import dataclass

from vesselspec.model.devices import Load
from vesselspec.model.items import Cable, System
from vesselspec.network.graph import LINES
from vesselspec.physics.conductors.drop import feeder_limit
from vesselspec.physics.conductors.protection import device_limit
from vesselspec.physics.conductors.sizing import Circuit, at_least, carries, keeps_to, protected_by
from vesselspec.physics.loads.supply import draws_of
from vesselspec.rules.boat import Boat
from vesselspec.rules.circuits import limits_of, supplies
from vesselspec.rules.findings import At
from vesselspec.rules.protection import device_rating, loaded_conductors
from vesselspec.units import Size, show


@dataclass(frozen=True)
class Known:
    """A figure that the record gives, with the item that gives it and where it stands."""

    name: str
    value: str
    item: str
    at: At


@dataclass(frozen=True)
class Case:
    """An item of the record as a circuit. `missing` is what the record does not say."""

    item: str
    cable: str | None
    load: str | None
    device: str | None
    present: Size | None
    circuit: Circuit
    known: tuple[Known, ...]
    missing: tuple[tuple[str, str], ...]


def case_of(boat: Boat, item: str, practice: str | None = None) -> Case | None:
    """A cable, load or way as a circuit; None where the item is none of them or carries no working current."""
    vessel = boat.vessel
    if item in vessel.loads:
        return _Builder(boat, item, _cable_at(boat, item), item, practice).build()
    if item in vessel.cables:
        return _Builder(boat, item, vessel.cables[item], _load_on(boat, vessel.cables[item]), practice).build()
    if item in vessel.ways:
        cable = _cable_at(boat, item)
        return _Builder(boat, item, cable, None if cable is None else _load_on(boat, cable), practice).build()
    return None


def _cable_at(boat: Boat, place: str) -> Cable | None:
    found = boat.cables_at.get(place, ())
    return next((boat.vessel.cables[key] for key in found if _carries_live(boat, key)), None)


def _carries_live(boat: Boat, cable: str) -> bool:
    return any(_poles(boat, cable))


def _poles(boat: Boat, cable: str) -> tuple[str, ...]:
    """The poles that a cable's cores belong to, earth left out."""
    found: dict[str, None] = {}
    network = boat.network
    for run in network.runs.get(cable, ()):
        if run.link >= 0:
            link = network.links[run.link]
            pole = network.terminals[link.a].pole or network.terminals[link.b].pole
            if pole != "PE":
                found[pole] = None
    return tuple(found)


def _load_on(boat: Boat, cable: Cable) -> str | None:
    return next((end for end in (cable.to, cable.from_) if end in boat.vessel.loads), None)


class _Builder:
    def __init__(self, boat: Boat, item: str, cable: Cable | None, load: str | None, practice: str | None) -> None:
        self.boat, self.item, self.cable = boat, item, cable
        self.load = boat.vessel.loads.get(load or "")
        self.practice = practice or boat.vessel.about.practice
        self.known: list[Known] = []
        self.missing: list[tuple[str, str]] = []

    def know(self, name: str, value: str, item: str, *fields: str) -> None:
        self.known.append(Known(name, value, item, self.boat.at(item, *fields)))

    def lack(self, item: str, what: str) -> None:
        self.missing.append((item, what))

    def build(self) -> Case | None:
        boat, cable, load = self.boat, self.cable, self.load
        system = self._system()
        if system is None:
            return None
        self.know("system", f"{system.id}, {system.voltage.text}", system.id, "voltage")
        between, amps, volts, factor = self._load_side(system) if load is not None else self._feeder_side(system)
        if not between:
            return None
        device = self._device()
        rating = device_rating(boat, device) if device is not None else None
        if device is not None and rating is not None:
            self.know("device rating", show("current", rating), device, "rating")
        elif device is not None:
            self.lack(device, "its rating")
        present = self._size()
        insulation = space = sheath = length = lying = None
        if cable is not None:
            insulation, space = boat.insulation(cable), boat.in_engine_space(cable)
            sheath, length = boat.sheath(cable), cable.length_m
            lying = max(loaded_conductors(boat).get(cable.id, 0), 1)
            self._say_cable(cable, insulation, space, sheath, lying)
        else:
            self.lack(self.item, "a cable")
        limits = (
            limits_of(boat, load, system, self.practice)
            if load is not None
            else tuple(limit for limit in (feeder_limit(self.practice, dc=system.is_dc),) if limit is not None)
        )
        if load is not None and not any(not limit.scope.startswith("branch") for limit in limits):
            self.lack(load.id, "its use, which decides the limit of voltage drop")
        rest, rest_branch = self._rest(load) if load is not None else (0.0, 0.0)
        circuit = Circuit(
            practice=self.practice,
            dc=system.is_dc,
            volts=volts,
            line_v=self._line_v(system),
            between=between,
            amps=amps,
            frequency_hz=system.frequency_hz,
            power_factor=factor,
            length_m=length,
            insulation_c=insulation,
            engine_space=space,
            ambient_c=None if cable is None else boat.ambient(cable),
            loaded=lying,
            sheath=sheath,
            continuous=None if load is None or load.duty is None else load.duty == "continuous",
            motor=load is not None and load.motor,
            limits=limits,
            rest_v=rest,
            rest_branch_v=rest_branch,
            device_a=rating,
            metric=self.practice == "international" if present is None else present.awg is None,
            with_earth=not (load is not None and load.double_insulated),
        )
        return Case(
            self.item,
            None if cable is None else cable.id,
            None if load is None else load.id,
            device,
            present,
            circuit,
            tuple(self.known),
            tuple(dict.fromkeys(self.missing)),
        )

    def _system(self) -> System | None:
        vessel = self.boat.vessel
        if self.load is not None:
            found = vessel.systems.get(self.load.system or "")
            if found is None:
                self.lack(self.load.id, "its system")
            return found
        if self.cable is None:
            return vessel.section_system(*vessel.ways[self.item][:2]) if self.item in vessel.ways else None
        network = self.boat.network
        for run in network.runs.get(self.cable.id, ()):
            if run.link >= 0:
                link = network.links[run.link]
                for number in (link.a, link.b):
                    terminal = network.terminals[number]
                    system = vessel.systems.get(terminal.system or "")
                    if terminal.pole != "PE" and system is not None:
                        return system
        return None

    def _load_side(self, system: System) -> tuple[tuple[str, ...], float | None, float, float]:
        load = self.load
        if load is None:
            return (), None, 0.0, 1.0
        draws = draws_of(load, system)
        if not draws:
            return (), None, 0.0, 1.0
        largest = max(draws, key=lambda draw: draw.amps or 0.0)
        currents: dict[str, float] = {}
        for draw in draws:
            for pole in draw.between:
                currents[pole] = currents.get(pole, 0.0) + (draw.amps or 0.0)
        amps = None if any(draw.amps is None for draw in draws) else max(currents.values())
        field = "current" if load.current_a is not None else "apparent_power" if load.apparent_va else "power"
        if amps is None:
            self.lack(load.id, "its power or current")
        else:
            self.know("load current", show("current", amps), load.id, field)
        if any(draw.unknown == "power_factor" for draw in draws):
            self.lack(load.id, "its power factor: the current is at least this")
        for name, value in (("use", load.use), ("duty", load.duty)):
            if value is not None:
                self.know(name, value, load.id, name)
            elif name == "duty":
                self.lack(load.id, "its duty (continuous or intermittent)")
        return largest.between, amps, largest.volts, largest.power_factor

    def _feeder_side(self, system: System) -> tuple[tuple[str, ...], float | None, float, float]:
        """A cable that feeds more than one load carries the most that any condition sends through it."""
        if self.cable is None:
            return (), None, 0.0, 1.0
        poles = _poles(self.boat, self.cable.id)
        lines = tuple(pole for pole in poles if pole in LINES)
        between: tuple[str, ...] = ("DC+", "DC-") if system.is_dc else lines if len(lines) > 1 else (*lines, "N")
        amps, worst = None, ""
        for condition, flow in self.boat.flows.items():
            for run in self.boat.network.runs.get(self.cable.id, ()):
                if run.link >= 0 and flow.amps(run.link) > (amps or 0.0):
                    amps, worst = flow.amps(run.link), condition
        if amps is None:
            self.lack(self.item, "a load, or a condition that sends a current through it")
        else:
            self.know("current", f"{show('current', amps)} in {worst}", worst)
        return between, amps, system.volts(between), 1.0

    def _line_v(self, system: System) -> float:
        network, cable = self.boat.network, self.cable
        feeds: list[float] = []
        for run in network.runs.get(cable.id, ()) if cable is not None else ():
            if run.link >= 0:
                feeds += [feed.emission.volts for feed in self.boat.feeds.at(network.links[run.link].a)]
        return max(feeds, default=system.voltage.line_v)

    def _device(self) -> str | None:
        network = self.boat.network
        if self.item in self.boat.vessel.ways:
            return self.item
        if self.cable is None:
            return None
        found: dict[str, None] = {}
        for run in network.runs.get(self.cable.id, ()):
            if run.link >= 0:
                for feed in self.boat.feeds.at(network.links[run.link].a):
                    if feed.device is not None:
                        found[feed.device] = None
        rated = [(device_rating(self.boat, key) or 0.0, key) for key in found]
        return max(rated)[1] if rated else None

    def _size(self) -> Size | None:
        if self.cable is None:
            return None
        found = [run.size for run in self.boat.network.runs.get(self.cable.id, ()) if run.link >= 0 and run.size]
        if not found:
            self.lack(self.cable.id, "its size")
            return None
        self.know("present size", min(found).text, self.cable.id, "size")
        return min(found)

    def _say_cable(
        self, cable: Cable, insulation: float | None, space: bool | None, sheath: bool | None, lying: int
    ) -> None:
        if cable.length_m is None:
            self.lack(cable.id, "its length")
        else:
            self.know("length", show("length", cable.length_m), cable.id, "length")
        if insulation is None:
            self.lack(cable.id, "its insulation temperature")
        else:
            self.know("insulation", show("temperature", insulation), cable.id, "insulation")
        if space is None:
            self.lack(cable.id, "its route")
        else:
            self.know("engine space", "yes" if space else "no", cable.id, "route")
        if (ambient := self.boat.ambient(cable)) is not None:
            self.know("hottest place on its way", show("temperature", ambient), cable.id, "route")
        if sheath is not None:
            self.know("sheath", "yes" if sheath else "no", cable.id, "sheath")
        bundle = f"in {cable.bundle}" if cable.bundle else "runs alone"
        self.know("conductors together", f"{lying} ({bundle})", cable.id, "bundle")

    def _rest(self, load: Load) -> tuple[float, float]:
        """What the way drops outside of this cable, from the source and from the last point of distribution."""
        own = self.cable.id if self.cable is not None else ""
        rest = rest_branch = 0.0
        for supply in supplies(self.boat).get(load.id, ()):
            within = [leg for leg in supply.total.legs if leg.cable == own and leg.certain]
            factor = supply.total.draw.power_factor
            volts = sum(leg.formula_v(factor) for leg in within)
            rest = max(rest, supply.total.low_v - volts)
            rest_branch = max(rest_branch, supply.branch.low_v - volts)
        return max(rest, 0.0), max(rest_branch, 0.0)


# --- remedies --------------------------------------------------------------------------------------


def remedy(
    boat: Boat, item: str, *, amps: float | None = None, device_a: float | None = None, drop_v: float | None = None
) -> str:
    """What would do for a cable, load or way, in words that a finding can end on; empty where nothing can be said.

    `amps`: a current that its conductor must carry. `device_a`: a device that must protect it. `drop_v`: volts that
    its own conductors may drop at the load's rated current. "6 AWG would carry it; or a device of at most 30 A".
    """
    case = case_of(boat, item)
    if case is None:
        return ""
    circuit, said = case.circuit, []
    wanted: list[Size | None] = []
    if amps is not None:
        wanted.append(at_least(circuit, amps))
    if device_a is not None:
        wanted.append(protected_by(circuit, device_a))
    if drop_v is not None:
        wanted.append(keeps_to(circuit, drop_v))
    does = "carry it" if amps is not None else "be protected by it" if device_a is not None else "keep to the limit"
    if wanted and None not in wanted:
        size = max(each for each in wanted if each is not None)
        if case.present is None or size > case.present:
            said.append(f"{size.text} would {does}")
    elif wanted:
        said.append(f"no single conductor in the tables would {does}")
    if device_a is not None and case.present is not None:
        found = carries(circuit, case.present)
        if found is not None:
            limit = device_limit(found.low_a, circuit.line_v, circuit.practice).max_rating_a
            if limit < device_a:
                said.append(f"a device of at most {limit:.4g} A")
    return "; or ".join(said)
