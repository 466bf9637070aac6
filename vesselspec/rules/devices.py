"""What protective devices are made for: their voltage, their kind of current, and what they stand before."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from vesselspec.model.devices import Alternator, Breaker, Busbar, Fuse, Generator
from vesselspec.model.items import System
from vesselspec.model.vessel import natural
from vesselspec.network.graph import LINES
from vesselspec.network.outward import outward
from vesselspec.physics.loads.demand import rating_of
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import COMMON_PRACTICE, Lacks, Open, Says, Sound, rule
from vesselspec.rules.findings import WARNING
from vesselspec.rules.protection import device_rating
from vesselspec.standards import figure

_LIVE = (*LINES, "DC+")
_NEAR = 1 + 1e-9
#: From here on a DC arc does not go out by itself in a device made for AC: common practice, no source.
_ARC_V = 32.0


@dataclass(frozen=True)
class Fitted:
    """A breaker or fuse, in a panel or on its own, with the system that it is in."""

    place: str
    #: The section that holds it, else itself: where a list of what is missing is kept.
    holder: str
    number: str
    poles: tuple[str, ...]
    system: System
    voltage_v: float | None
    family: str | None
    rated_for: tuple[str, ...]

    @property
    def circuit_v(self) -> float:
        """Nominal voltage of the circuit that it opens."""
        return self.system.volts(self.poles)


def fitted(boat: Boat) -> Iterator[Fitted]:
    """Every breaker and fuse of a known system."""
    vessel = boat.vessel
    for path, (panel, section, way) in vessel.ways.items():
        system = vessel.section_system(panel, section)
        if way.is_protective and system is not None:
            holder = f"{panel.id}/{section.id}"
            yield Fitted(path, holder, way.id, way.poles, system, way.voltage_v, way.family, way.rated_for)
    for key, device in vessel.devices.items():
        system = vessel.systems.get(getattr(device, "system", None) or "")
        if isinstance(device, Breaker | Fuse) and system is not None:
            family = device.family if isinstance(device, Fuse) else None
            poles = device.opened(vessel.systems)
            yield Fitted(key, key, "", poles, system, device.voltage_v, family, device.rated_for)


def _lacking(boat: Boat, found: dict[str, list[Fitted]], what: str) -> Iterator[Lacks]:
    """One line for each panel section or device."""
    for holder, every in found.items():
        numbers = sorted((each.number for each in every), key=natural)  # their order in the file says nothing
        missing = f"the {what} of {'way' if len(numbers) == 1 else 'ways'} {', '.join(numbers)}"
        yield Lacks(
            item=holder,
            at=boat.at(holder),
            missing=missing if numbers[0] else f"its {what}",
            stops=tuple(each.place for each in every),
        )


@rule(
    "device-voltage-too-low",
    WARNING,
    title="A breaker or fuse is rated for less than its circuit's voltage",
    why="It cannot put out the arc when it opens: it burns on inside the device and sets the panel on fire.",
    remedy="Fit a device that is marked for the circuit's voltage.",
    source="33 CFR 183.455(d)",
    needs="voltage ratings of breakers and fuses in circuits above 32 V, or the family of a fuse",
)
def voltage_too_low(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Marked voltage, or the most that a fuse's family is made for, against the nominal voltage of the circuit."""
    blade = figure("blade_fuse_breaking")
    least_v, most_v = (float(volts) for volts in blade.data["rated_V"])
    lacking: dict[str, list[Fitted]] = defaultdict(list)
    for each in fitted(boat):
        volts, marked = each.circuit_v, each.voltage_v
        if marked is not None and marked * _NEAR >= volts:
            yield Sound(each.place)
        elif marked is not None:
            yield Says(
                items=(each.place,),
                at=boat.at(each.place, "voltage_rating"),
                what=f"{boat.vessel.name_of(each.place)} is rated {marked:g} V; its circuit has {volts:g} V",
                measure=volts / max(marked, 1.0),
            )
        elif each.family == "blade" and volts > most_v:
            yield Says(
                items=(each.place,),
                at=boat.at(each.place, "family"),
                what=f"{boat.vessel.name_of(each.place)} is a blade fuse, made for {most_v:g} V at most; its circuit "
                f"has {volts:g} V",
                source=f"33 CFR 183.455(d); {blade.source}",
                measure=volts / most_v,
            )
        elif volts <= least_v:  # nothing is sold for less: common practice, no source
            yield Sound(each.place)
        else:
            lacking[each.holder].append(each)
    yield from _lacking(boat, lacking, "voltage rating")


@rule(
    "device-for-other-current",
    WARNING,
    title="A breaker or fuse is made for the other kind of current",
    why="AC puts its arc out by itself a hundred times a second, DC does not: a device made for AC may never clear a "
    "DC fault, and one made for DC may trip late or not at all on AC.",
    remedy="Fit a device that is marked for the circuit's kind of current at its voltage.",
    source=COMMON_PRACTICE,
    needs="`rated_for` of breakers and fuses; asked for in DC circuits above 32 V only",
)
def other_current(boat: Boat) -> Iterator[Says | Lacks | Sound | Open]:
    """What the device is marked for against the system that it is in."""
    lacking: dict[str, list[Fitted]] = defaultdict(list)
    for each in fitted(boat):
        mine = "dc" if each.system.is_dc else "ac"
        if mine in each.rated_for:
            yield Sound(each.place)
        elif each.rated_for:
            yield Says(
                items=(each.place,),
                at=boat.at(each.place, "rated_for"),
                what=f"{boat.vessel.name_of(each.place)} is marked for {each.rated_for[0].upper()} only and stands in "
                f"{'a DC' if each.system.is_dc else 'an AC'} circuit of {each.circuit_v:g} V",
            )
        elif each.system.is_dc and each.circuit_v > _ARC_V:
            lacking[each.holder].append(each)
        else:
            yield Open(each.place)  # not asked for: at so low a voltage, or on AC, it is seldom what is wrong
    yield from _lacking(boat, lacking, "kind of current (`rated_for`)")


# --- what stands behind them ---------------------------------------------------------------------


@rule(
    "device-above-bar-rating",
    WARNING,
    title="A device is rated above the bar that it feeds",
    why="The bar and its joints can be overloaded for as long as they last: no device opens.",
    remedy="Fit a main of at most the bar's rating in the panel, a smaller device before it, or a larger bar.",
    source=COMMON_PRACTICE,
    needs="ratings of panel sections and busbars, and of the devices that feed them",
)
def above_bar(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """The last device before a section's bars or a busbar; what only charges it is left out."""
    bars = [(path, section.rating_a) for path, (_, section) in boat.vessel.sections.items()]
    bars += [(key, each.rating_a) for key, each in boat.vessel.devices.items() if isinstance(each, Busbar)]
    for place, rating in bars:
        terminals = [n for n in boat.network.places.get(place, ()) if boat.network.terminals[n].pole in _LIVE]
        devices = dict.fromkeys(
            feed.device
            for n in terminals
            for feed in boat.feeds.at(n)
            if feed.device is not None and feed.emission.supply != "charging"
        )
        if not devices:
            continue
        if rating is None:
            yield Lacks(item=place, at=boat.at(place), missing="the rating of its bars")
            continue
        amps = {device: device_rating(boat, device) for device in devices}
        over = [(found, device) for device, found in amps.items() if found is not None and found > rating * _NEAR]
        if over:
            most, device = max(over)
            yield Says(
                items=(device, place),
                at=boat.at(device, "rating"),
                what=f"{boat.vessel.name_of(device)} is rated {most:g} A and is the last device before the bars of "
                f"{boat.vessel.name_of(place)}, which are rated {rating:g} A",
                measure=most / max(rating, 1e-9),
            )
            continue
        unknown = [device for device, found in amps.items() if found is None]
        for device in unknown:
            yield Lacks(item=device, at=boat.at(device), missing="its rating", stops=(place,))
        if not unknown:
            yield Sound(place)


@rule(
    "generator-device-too-large",
    WARNING,
    title="The device of a generator or alternator is too large for it",
    why="Overloaded, the machine burns its windings and its leads while the device stays closed.",
    remedy="Fit a device of at most 120 % of the machine's rated current at its output.",
    source="33 CFR 183.460(b)",
    needs="rated output of generators and alternators, whether an alternator limits itself, ratings of their devices",
)
def generator_device(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """The first devices from the machine against its rated current."""
    limit = figure("cfr33_183_460b_generator")
    share = float(limit.data["max_percent"]) / 100
    for key, machine in boat.vessel.devices.items():
        if not isinstance(machine, Generator | Alternator):
            continue
        if isinstance(machine, Alternator) and machine.self_limiting:
            yield Sound(key)
            continue
        emissions = [e for e in boat.network.emissions if e.source == key and e.pole in _LIVE]
        devices = sorted({device for e in emissions for device in outward(boat.network, e).devices})
        if not devices or (isinstance(machine, Alternator) and len(devices) > 1):
            continue  # none of its own: conductor-unprotected speaks of it
        if isinstance(machine, Alternator) and machine.self_limiting is None:
            yield Lacks(item=key, at=boat.at(key), missing="whether it is self-limiting")
            continue
        lines = sum(e.pole in LINES for e in emissions)
        rated = (
            machine.rating_a
            if isinstance(machine, Alternator)
            else rating_of(machine, boat.vessel.systems.get(machine.system or ""), lines)
        )
        if rated is None:
            yield Lacks(item=key, at=boat.at(key), missing="its rated output")
            continue
        for device in devices:
            amps = device_rating(boat, device)
            if amps is None:
                yield Lacks(item=device, at=boat.at(device), missing="its rating", stops=(key,))
            elif amps > rated * share * _NEAR:
                stricter = figure("cfr46_28_860")
                yield Says(
                    items=(device, key),
                    at=boat.at(device, "rating"),
                    what=f"{boat.vessel.name_of(device)} is rated {amps:g} A; {boat.vessel.name_of(key)} gives "
                    f"{rated:.4g} A, which allows {rated * share:.4g} A",
                    consequences=(
                        f"{stricter.source} allows {stricter.data['generator_max_percent']} % on fishing vessels",
                    ),
                    measure=amps / (rated * share),
                )
            else:
                yield Sound(key)
