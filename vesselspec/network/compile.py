"""From a vessel to its network: what is connected inside each kind of device, and where every core lands."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from types import MappingProxyType

from vesselspec.model.devices import (
    Alternator,
    BatteryBank,
    Breaker,
    Charger,
    ChargeSplitter,
    DcConverter,
    Device,
    Fuse,
    GalvanicIsolator,
    Generator,
    Inverter,
    InverterCharger,
    IsolationTransformer,
    Selector,
    ShoreInlet,
    SolarArray,
    SolarController,
    _InLine,
)
from vesselspec.model.items import FREE, UNTRACED, Cable
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import (
    LINES,
    OPEN_END,
    Choice,
    CoreRun,
    Emission,
    Guard,
    Link,
    Network,
    Terminal,
    Unlanded,
)

PASS_THROUGH, INVERTING, OFF = "pass-through", "inverting", "off"
_NO_CASE = (BatteryBank, ChargeSplitter)


def compile_network(vessel: Vessel) -> Network:
    """Compile a vessel. What lands nowhere is in `unlanded`; nothing is guessed for it."""
    return _Builder(vessel).build()


class _Builder:
    def __init__(self, vessel: Vessel) -> None:
        self.vessel = vessel
        self.terminals: list[Terminal] = []
        self.index: dict[tuple[str, str], int] = {}
        self.poles: dict[str, dict[str, int]] = {}  # place → pole → terminal
        self.links: list[Link] = []
        self.emissions: list[Emission] = []
        self.choices: dict[str, Choice] = {}
        self.in_step: dict[str, str] = {}  # synchronised group → its first inverter-charger
        self.cores: list[CoreRun] = []
        self.unlanded: list[Unlanded] = []
        self.transformers: dict[str, tuple[tuple[int, ...], tuple[int, ...]]] = {}
        self.interlocked: dict[str, tuple[Guard, ...]] = {}

    def build(self) -> Network:
        for key, lock in self.vessel.interlocks.items():
            self.choices[key] = Choice(key, "interlock", ("none", *lock.between))
            for member in lock.between:
                guard = (key, frozenset((member,)))
                self.interlocked[member] = (*self.interlocked.get(member, ()), guard)
        for device in (*self.vessel.devices.values(), *self.vessel.loads.values()):
            self._device(device)
        self._panels()
        for device in self.vessel.devices.values():
            if isinstance(device, _InLine) and device.mounted_on is not None:
                self._mount(device, device.mounted_on)
        for cable in self.vessel.cables.values():
            self._cable(cable)
        return Network(
            terminals=tuple(self.terminals),
            links=tuple(self.links),
            emissions=tuple(self.emissions),
            choices=MappingProxyType(self.choices),
            cores=tuple(self.cores),
            unlanded=tuple(self.unlanded),
            index=MappingProxyType(self.index),
            transformers=MappingProxyType(self.transformers),
        )

    # --- pieces ---------------------------------------------------------------------------------

    def _terminal(self, place: str, pole: str, system: str | None, loose: str = "") -> int:
        key = (place, pole + loose)
        if key not in self.index:
            self.index[key] = len(self.terminals)
            if not loose:
                self.poles.setdefault(place, {})[pole] = len(self.terminals)
            self.terminals.append(Terminal(place, pole, system, loose))
        return self.index[key]

    def _joint(self, a: int, b: int, item: str) -> None:
        if a != b:
            self.links.append(Link(a, b, "joint", item))

    def _contact(self, a: int, b: int, item: str, *, protective: bool = False, extra: tuple[Guard, ...] = ()) -> None:
        guards = (*self.interlocked.get(item, ()), *extra)
        self.links.append(Link(a, b, "contact", item, switch=item, guards=guards, protective=protective))

    def _guarded(self, a: int, b: int, item: str, *states: str) -> None:
        guards = ((self.choices[item].id, frozenset(states)),)
        self.links.append(Link(a, b, "contact", item, guards=guards))

    def _volts(self, system: str | None) -> float:
        found = self.vessel.systems.get(system or "")
        return found.voltage.line_v if found is not None else 0.0

    def _emit(self, device: Device, place: str, *, group: str = "", guards: tuple[Guard, ...] = ()) -> None:
        """Put the potentials of every pole of a place on it, earth excepted."""
        supply = device.supply
        if isinstance(device, InverterCharger) and place.endswith("/dc"):
            supply = "charging"
        for number in self.poles.get(place, {}).values():
            terminal = self.terminals[number]
            if terminal.pole != "PE" or supply == "shore":
                self.emissions.append(
                    Emission(
                        device.id,
                        supply,
                        group or device.id,
                        number,
                        terminal.pole,
                        terminal.system,
                        self._volts(terminal.system),
                        guards,
                    )
                )

    # --- devices --------------------------------------------------------------------------------

    def _device(self, device: Device) -> None:
        systems = self.vessel.systems
        places: dict[str, str] = {}
        cases: list[int] = []
        for side in device.sides(systems):
            place = f"{device.id}/{side.name}" if side.name else device.id
            places[side.name] = place
            for pole in side.poles:
                self._terminal(place, pole, side.system)
            if not isinstance(device, _NO_CASE):
                cases.append(self._terminal(place, "PE", side.system))
        if not (isinstance(device, IsolationTransformer) and not device.earth_through):
            for case in cases[1:]:
                self._joint(cases[0], case, device.id)
        match device:
            case ShoreInlet() | BatteryBank() | Alternator() | SolarArray():
                self._emit(device, device.id)
            case Generator():
                self._emit(device, device.id)
                if device.neutral_earth_bond:
                    self._join_poles(device.id, device.id, "N", "PE")
            case Inverter():
                self._emit(device, places["ac"], group=_group(device))
                if device.neutral_earth_bond:
                    self._join_poles(device.id, places["ac"], "N", "PE")
            case InverterCharger():
                self._inverter_charger(device, places)
            case Charger():
                for name in device.outputs:
                    self._emit(device, places[name])
            case DcConverter():
                self._emit(device, places["out"])
                if device.isolated is False:
                    self._pair(places["in"], places["out"], "DC-", device.id)
            case SolarController():
                self._emit(device, places["battery"])
            case IsolationTransformer():
                self._emit(device, places["secondary"])
                if device.neutral_earth_bond:
                    self._join_poles(device.id, places["secondary"], "N", "PE")
                self.transformers[device.id] = (self._lines(places["primary"]), self._lines(places["secondary"]))
            case ChargeSplitter():
                for name in device.outputs:
                    a, b = self.index.get((places["in"], "DC+")), self.index.get((places[name], "DC+"))
                    if a is not None and b is not None:
                        self.links.append(Link(a, b, "joint", device.id, one_way=True))
            case Selector():
                self._selector(device, places)
            case _InLine():
                self._in_line(device, places)
            case GalvanicIsolator():
                pass  # its cases are its two ends: the earth passes through
            case _:
                pass  # a load, busbar or earth point: terminals only

    def _lines(self, place: str) -> tuple[int, ...]:
        return tuple(self.index[place, pole] for pole in LINES if (place, pole) in self.index)

    def _join_poles(self, item: str, place: str, one: str, two: str) -> None:
        if (place, one) in self.index and (place, two) in self.index:
            self._joint(self.index[place, one], self.index[place, two], item)

    def _pair(self, one: str, two: str, pole: str, item: str) -> None:
        if (one, pole) in self.index and (two, pole) in self.index:
            self._joint(self.index[one, pole], self.index[two, pole], item)

    def _inverter_charger(self, device: InverterCharger, places: Mapping[str, str]) -> None:
        inside, outside = places["ac-in"], places["ac-out"]
        leader = self.in_step.setdefault(device.synchronised, device.id) if device.synchronised else device.id
        self.choices[device.id] = Choice(leader, "transfer", (PASS_THROUGH, INVERTING, OFF))
        for pole in self.poles.get(inside, {}):
            if pole == "PE":
                continue
            a, b = self.index[inside, pole], self.index[outside, pole]
            if pole == "N" and device.neutral == "common":
                self._joint(a, b, device.id)
            else:
                self._guarded(a, b, device.id, PASS_THROUGH)
        inverting = ((leader, frozenset((INVERTING,))),)
        self._emit(device, outside, group=_group(device), guards=inverting)
        if device.neutral_earth_relay and (outside, "N") in self.index:
            self._guarded(self.index[outside, "N"], self.index[outside, "PE"], device.id, INVERTING)
        self._emit(device, places["dc"])

    def _selector(self, device: Selector, places: Mapping[str, str]) -> None:
        table = device.table()
        self.choices[device.id] = Choice(device.id, "selector", tuple(table))
        poles = [pole for pole in self.poles[places["out"]] if pole != "PE"]
        switched = device.poles or tuple(poles)
        for name in device.inputs:
            closed = [position for position, inputs in table.items() if name in inputs]
            for pole in poles:
                a, b = self.index[places[name], pole], self.index[places["out"], pole]
                if pole in switched:
                    self._guarded(a, b, device.id, *closed)
                else:
                    self._joint(a, b, device.id)

    def _in_line(self, device: _InLine, places: Mapping[str, str]) -> None:
        opened = device.opened(self.vessel.systems)
        for pole in [pole for pole in self.poles[places["line"]] if pole != "PE"]:
            a, b = self.index[places["line"], pole], self.index[places["load"], pole]
            if pole in opened:
                self._contact(a, b, device.id, protective=isinstance(device, Breaker | Fuse))
            else:
                self._joint(a, b, device.id)

    def _mount(self, device: _InLine, on: str) -> None:
        place, pole = on.rsplit(":", 1)
        found = self._land(place, pole)
        line = self.index.get((f"{device.id}/line", pole))
        if isinstance(found, str):
            self.unlanded.append(Unlanded(device.id, "", "from", on, found))
        elif line is None:
            self.unlanded.append(Unlanded(device.id, "", "from", on, f"{device.id} has no pole {pole}"))
        else:
            self._joint(found, line, device.id)

    # --- panels ---------------------------------------------------------------------------------

    def _panels(self) -> None:
        for panel in self.vessel.panels.values():
            enclosure = self._terminal(panel.id, "PE", panel.system)
            for section in panel.sections:
                place = f"{panel.id}/{section.id}"
                key = section.system or panel.system
                system = self.vessel.systems.get(key or "")
                for pole in (*(system.poles if system is not None else ()), "PE"):
                    self._terminal(place, pole, key)
                self._joint(enclosure, self.index[place, "PE"], panel.id)
                for way in section.ways:
                    at = f"{place}/{way.id}"
                    if way.device == "blank":
                        continue
                    for pole in way.poles:
                        if (place, pole) in self.index:
                            outer = self._terminal(at, pole, key)
                            self._contact(self.index[place, pole], outer, at, protective=way.is_protective)
            for section in panel.sections:
                if section.neutral_bar is not None:
                    self._pair(f"{panel.id}/{section.id}", f"{panel.id}/{section.neutral_bar}", "N", panel.id)

    # --- cables ---------------------------------------------------------------------------------

    def _land(self, place: str, pole: str) -> int | str:
        """Return the terminal at a place for a pole, or why there is none."""
        found = self.index.get((place, pole))
        if found is not None:
            return found
        vessel = self.vessel
        if place in vessel.ways:
            panel, section, way = vessel.ways[place]
            if way.device == "blank":
                return f"way {place} is a blank"
            bar = self.index.get((f"{panel.id}/{section.id}", pole))
            return bar if bar is not None else f"section {panel.id}/{section.id} has no bar {pole}"
        poles = list(self.poles.get(place, ()))
        if place in vessel.panels and vessel.panels[place].sections:
            inside = ", ".join(f"{place}/{section.id}" for section in vessel.panels[place].sections)
            return f"{place} is the whole panel; name a way or a section of it ({inside})"
        if poles:
            return f"{place} has no terminal {pole}; it has {', '.join(poles)}"
        head = place.split("/", 1)[0]
        device = vessel.device(head)
        if device is not None:
            sides = [side.name for side in device.sides(vessel.systems)]
            if "" in sides:
                return f"{head} has no sides; write {head}"
            return f"write one of {', '.join(f'{head}/{side}' for side in sides)}"
        if head in vessel.panels:
            known = [at for at in (*vessel.sections, *vessel.ways) if at.startswith(head + "/")]
            return f"panel {head} has no {place}{_near(place, known)}"
        return f"there is no {head}{_near(head, self._heads())}"

    def _heads(self) -> list[str]:
        return [*self.vessel.devices, *self.vessel.loads, *self.vessel.panels]

    def _cable(self, cable: Cable) -> None:
        for end, place in (("from", cable.from_), ("to", cable.to)):
            if place != UNTRACED and not self._exists(place):
                meant = _nearest(place.split("/", 1)[0], self._heads())
                self.unlanded.append(Unlanded(cable.id, "", end, place, str(self._land(place, "?")), meant=meant))
        kind = self.vessel.cable_type(cable)
        for name, core in self.vessel.cores_of(cable):
            a = self._end(cable, name, "from", core.from_ or core.to)
            b = self._end(cable, name, "to", core.to or core.from_)
            link = -1
            landed = [n for n in (a, b) if n is not None and not self.terminals[n].loose]
            if a is not None and b is not None and landed and a != b:
                link = len(self.links)
                self.links.append(Link(a, b, "core", cable.id, core=name))
            size = core.size or cable.size or (kind.size if kind is not None else None)
            self.cores.append(CoreRun(cable, name, core, link, core.colour or name, size))

    def _exists(self, place: str) -> bool:
        if place in self.vessel.ways:
            return self.vessel.ways[place][2].device != "blank"
        return place in self.poles

    def _end(self, cable: Cable, name: str, end: str, landing: str | None) -> int | None:
        place = cable.from_ if end == "from" else cable.to
        if landing is None or landing in (UNTRACED, FREE) or (place == UNTRACED and ":" not in landing):
            return self._terminal(cable.id, OPEN_END, None, f"{name} at its {end} end")
        at, _, pole = landing.rpartition(":")
        if not at and not self._exists(place):
            return None  # said once for the whole end
        found = self._land(at or place, pole)
        if isinstance(found, str):
            clash = at or place if self._other_kind(at or place, pole) else ""
            self.unlanded.append(Unlanded(cable.id, name, end, landing, found, clash, pole))
            return None
        return found

    def _other_kind(self, place: str, pole: str) -> bool:
        """Whether a live pole is AC and every live terminal of the place DC, or the other way round."""
        if place in self.vessel.ways:
            panel, section, _ = self.vessel.ways[place]
            place = f"{panel.id}/{section.id}"
        there = {known in ("DC+", "DC-") for known in self.poles.get(place, ()) if known != "PE"}
        return pole != "PE" and there == {pole not in ("DC+", "DC-")}


def _group(device: Inverter | InverterCharger) -> str:
    """The group of a device that runs in step with others; no id has a blank in it."""
    return f"in step: {device.synchronised}" if device.synchronised else device.id


def _near(word: str, choices: list[str]) -> str:
    near = _nearest(word, choices)
    return f"; did you mean {near}?" if near else ""


def _nearest(word: str, choices: list[str]) -> str:
    return next(iter(difflib.get_close_matches(word, choices, n=1, cutoff=0.6)), "")
