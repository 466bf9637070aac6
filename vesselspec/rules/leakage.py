"""Protection against current that leaks to earth: at the shore inlet, and at receptacles in wet places."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from vesselspec.model.devices import Breaker, Receptacles, ResidualCurrentSwitch, ShoreInlet
from vesselspec.network.graph import LINES, Emission, Link
from vesselspec.network.outward import Outward, Stretch, outward
from vesselspec.physics.conductors.ampacity import LOW_VOLTAGE_V
from vesselspec.rules.boat import Boat, kept
from vesselspec.rules.book import COMMON_PRACTICE, Lacks, Says, Sound, rule
from vesselspec.rules.findings import CAUTION, WARNING
from vesselspec.rules.poles import users
from vesselspec.standards import figure

_NEAR = 1 + 1e-9
_MISSING = "whether it opens on leakage to earth (`residual_current`, 0 mA if not)"


def _residuals(boat: Boat) -> dict[str, tuple[float | None, float | None]]:
    """Every device that could open on leakage: its rated residual current in A (0: it does not) and its delay in s."""
    found: dict[str, tuple[float | None, float | None]] = {}
    for path, (_, _, way) in boat.vessel.ways.items():
        if way.device in ("breaker", "residual-current-switch"):
            found[path] = way.residual_a, way.delay_s
    for key, device in boat.vessel.devices.items():
        if isinstance(device, Breaker | ResidualCurrentSwitch):
            found[key] = device.residual_a, device.delay_s
    return found


def _past(boat: Boat, emission: Emission, covers: Collection[str]) -> Outward:
    """What a source feeds without passing one of those devices."""

    def stops(link: Link) -> bool:
        return link.item in covers

    return outward(boat.network, emission, stops=stops)


@rule(
    "shore-without-leakage-protection",
    CAUTION,
    title="Nothing behind a shore inlet opens on leakage to earth",
    why="A fault on board then drives current through the water around the hull, where a swimmer drowns by it; no "
    "breaker notices so small a current.",
    remedy="Fit a main that opens at 30 mA of leakage within 100 ms beside the inlet. Older boats were not asked for "
    "one; they need it as much.",
    source="ABYC E-11.11.1 (2012 edition, quoted publicly)",
    needs="residual current and delay of the mains behind every shore inlet",
    guards_life=True,
)
def shore_leakage(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Every way from the inlet to something that uses power must pass such a device."""
    asked = figure("elci")
    most_a, most_s = float(asked.data["trip_mA_max"]) / 1000, float(asked.data["trip_ms_max"]) / 1000
    every = _residuals(boat)
    covers = {
        key
        for key, (amps, delay) in every.items()
        if amps and amps <= most_a * _NEAR and (delay is None or delay <= most_s * _NEAR)
    }
    for key, inlet in boat.vessel.devices.items():
        emission = next((e for e in boat.network.emissions if e.source == key and e.pole in LINES), None)
        if not isinstance(inlet, ShoreInlet) or emission is None or emission.volts < LOW_VOLTAGE_V:
            continue
        open_ = _past(boat, emission, covers)
        if _uncovered(boat, open_):
            first = sorted(outward(boat.network, emission).devices)
            unknown = [device for device in first if device in every and every[device][0] is None]
            if unknown:
                yield Lacks(item=unknown[0], at=boat.at(unknown[0]), missing=_MISSING, stops=(key,))
                continue
            name = boat.vessel.name_of(key)
            slow = [device for device in first if every.get(device, (0.0, None))[0]]
            yield Says(
                items=(key, *first),
                at=boat.at(slow[0]) if slow else boat.at(key),
                what=f"{name} has no protection against leakage"
                if not slow
                else f"{boat.vessel.name_of(slow[0])} behind {name} opens at {_told(*every[slow[0]])}; at most "
                f"{most_a * 1000:g} mA within {most_s * 1000:g} ms is asked for",
            )
            continue
        first = sorted(device for device in open_.devices if every[device][1] is None)
        for device in first:
            yield Lacks(item=device, at=boat.at(device), missing="its residual delay", stops=(key,))
        unmeasured = dict.fromkeys(cable for each in _to_users(boat, open_) for cable in each.unmeasured)
        for cable in unmeasured:
            yield Lacks(item=cable, at=boat.at(cable), missing="its length", stops=(key,))
        if not first and not unmeasured:
            yield Sound(key)


def _told(amps: float | None, delay: float | None) -> str:
    return f"{(amps or 0) * 1000:g} mA" + (f" within {delay * 1000:g} ms" if delay is not None else "")


def _uncovered(boat: Boat, open_: Outward) -> bool:
    """Whether power is used before any such device; a transformer near the inlet is not counted."""
    used = users(boat, open_.terminals)
    if any(not place.endswith("/primary") for place in used):
        return True
    near = float(figure("shore_inlet_distance").data["max_ft"]) * 0.3048
    return any(each.metres > near for each in _to_users(boat, open_))


def _to_users(boat: Boat, open_: Outward) -> list[Stretch]:
    """The cores that end at something that uses power."""
    links = boat.network.links
    ends = {n for place in users(boat, open_.terminals) for n in boat.network.places[place]}
    return [each for each in open_.stretches if ends & {links[each.link].a, links[each.link].b}]


@rule(
    "wet-receptacles-without-leakage-protection",
    WARNING,
    title="Receptacles in a wet place have no protection against leakage",
    why="A damaged tool or cord in wet hands kills at a current that no ordinary breaker notices.",
    remedy="Fit receptacles, or a breaker for their circuit, that open on leakage.",
    source="ABYC E-11 receptacle rule (quoted publicly)",
    needs="whether receptacles are in a wet place; residual current of the receptacles or of the devices before them",
    guards_life=True,
)
def wet_receptacles(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """The receptacles' own device, or one on every way to them."""
    asked = figure("gfci_places")
    abroad = boat.vessel.about.practice == "international"
    fine_a = float(asked.data["trip_mA"]) / 1000
    coarse_a = float(figure("elci").data["trip_mA_max"]) / 1000
    enough_a = coarse_a if abroad else fine_a
    for key, load in boat.vessel.loads.items():
        system = boat.vessel.systems.get(load.system or "")
        if not isinstance(load, Receptacles) or system is None or system.voltage.line_v < LOW_VOLTAGE_V:
            continue
        space = boat.vessel.space_of(key)
        wet = load.wet or (space.wet if space is not None and load.wet is None else load.wet)
        own = load.residual_a
        if wet is False or (own and own <= enough_a * _NEAR):
            yield Sound(key)
        elif wet is None:
            yield Lacks(item=key, at=boat.at(key), missing="whether it is in a wet place")
        elif not _live_past(boat, key, enough_a):
            yield Sound(key)
        elif (own and own <= coarse_a * _NEAR) or not _live_past(boat, key, coarse_a):
            yield Says(
                items=(key,),
                at=boat.at(key),
                what=f"the leakage protection of {boat.vessel.name_of(key)}, in a wet place, opens above "
                f"{enough_a * 1000:g} mA only",
                signal_word=CAUTION,
            )
        elif own is None:
            yield Lacks(item=key, at=boat.at(key), missing="its rated residual current (0 mA if none is built in)")
        else:
            unknown = _unknown_before(boat, key)
            if unknown is not None:
                yield Lacks(item=unknown, at=boat.at(unknown), missing=_MISSING, stops=(key,))
                continue
            yield Says(
                items=(key,),
                at=boat.at(key),
                what=f"{boat.vessel.name_of(key)} in a wet place has no protection against leakage, and nothing before "
                "it has",
                signal_word=CAUTION if abroad else None,
                source=COMMON_PRACTICE if abroad else None,
            )


def _live_past(boat: Boat, load: str, most_a: float) -> bool:
    """Whether some source reaches a load's lines without passing a device that opens at so little leakage."""
    found = kept(boat, f"_live_past_{most_a:g}", lambda boat: _all_past(boat, most_a))
    return any((load, pole) in boat.network.index and boat.network.index[load, pole] in found for pole in LINES)


def _all_past(boat: Boat, most_a: float) -> frozenset[int]:
    covers = {key for key, (amps, _) in _residuals(boat).items() if amps and amps <= most_a * _NEAR}
    lines = [e for e in boat.network.emissions if e.pole in LINES]
    return frozenset(terminal for emission in lines for terminal in _past(boat, emission, covers).terminals)


def _unknown_before(boat: Boat, load: str) -> str | None:
    """The last device before a load of which nobody recorded whether it opens on leakage."""
    every = _residuals(boat)
    for pole in LINES:
        terminal = boat.network.index.get((load, pole))
        for feed in boat.feeds.at(terminal) if terminal is not None else ():
            if feed.device in every and every[feed.device][0] is None:
                return feed.device
    return None
