"""Labels: what belongs on cable ends, ways, panels and devices, so that the next person can predict what is there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from vesselspec.draw.supply import is_source
from vesselspec.draw.words import called
from vesselspec.model.devices import Generator, ShoreInlet
from vesselspec.model.items import NO_LABEL, UNTRACED, Cable, Panel, System, Way
from vesselspec.model.vessel import Vessel, natural
from vesselspec.network.graph import LINES, Network
from vesselspec.report.terminal import one_line
from vesselspec.units import show

PANEL, WAY, CABLE, SOURCE, DEVICE = KINDS = ("panel", "way", "cable", "source", "device")
#: Said on a label where the record does not know the other end.
NOT_TRACED: Final = "OTHER END NOT TRACED: treat as live"
#: Said on a label whose cable the record lands on AC and on DC.
BOTH_KINDS: Final = "AC AND DC IN THE RECORD: do not energise"


@dataclass(frozen=True)
class Label:
    """One label. `at` is where it belongs; `lines` go from what matters most to what matters least."""

    kind: str
    item: str
    end: str  # from | to of a cable, else empty
    at: str
    title: str
    lines: tuple[str, ...]
    code: str = ""  # what the label's code says; empty for none

    @property
    def name(self) -> str:
        """What the label is on: "C104, to end"."""
        return f"{self.item}, {self.end} end" if self.end else self.item


def labels_of(vessel: Vessel, network: Network, codes: Mapping[str, str]) -> tuple[Label, ...]:
    """Every label that the boat should wear, in the order of a walk: space by space, place by place.

    `codes` gives for each panel what its code says; a panel that it lacks gets none.
    """
    made = [
        *_panels(vessel, codes),
        *_ways(vessel, network),
        *_cables(vessel, network),
        *_devices(vessel),
    ]
    return tuple(sorted(made, key=lambda label: _walk(vessel, label)))


def _walk(vessel: Vessel, label: Label) -> tuple[object, ...]:
    space = vessel.space_of(label.at) if label.at != UNTRACED else None
    return (
        label.at == UNTRACED,
        natural(space.id) if space is not None else natural("~"),
        natural(label.at.split("/", 1)[0]),
        KINDS.index(label.kind) if label.kind != CABLE else 1,
        natural(label.at),
        natural(label.item),
        label.end,
    )


# --- what each says -----------------------------------------------------------------------------


def _panels(vessel: Vessel, codes: Mapping[str, str]) -> Iterator[Label]:
    for key, panel in vessel.panels.items():
        lines = []
        mains = _mains(panel)
        if len(mains) > 1:
            lines.append(f"{len(mains)} SUPPLIES, each with its main: {', '.join(mains)}")
        lines += [] if panel.name is None else [key]
        systems = dict.fromkeys(
            system_words(system)
            for section in panel.sections
            if (system := vessel.section_system(panel, section)) is not None
        )
        lines += [" and ".join(systems)] if systems else []
        yield Label(PANEL, key, "", key, panel.name or key, tuple(lines), codes.get(key, ""))


def _mains(panel: Panel) -> list[str]:
    return [
        f"{section.id}/{way.id}"
        for section in panel.sections
        for way in section.ways
        if way.duty == "main" and way.device != "blank" and not way.spare
    ]


def _ways(vessel: Vessel, network: Network) -> Iterator[Label]:
    fed = _fed(network)
    for path, (_panel, section, way) in vessel.ways.items():
        if way.device == "blank":
            continue
        said = _said(way)
        far = [_called(vessel, place) for place in fed.get(path, ())]
        title = said or ("Spare" if way.spare else ", ".join(far) or "Not traced")
        lines = [f"way {way.id}, {_device(way)}"]
        if said and far and far != [said]:
            lines.append(", ".join(far))
        lines.append(f"section {section.id}")
        yield Label(WAY, path, "", path, title, tuple(lines))


def _said(way: Way) -> str | None:
    return way.label if way.label not in (None, NO_LABEL) else way.name


def _called(vessel: Vessel, place: str) -> str:
    """The name of a place, or its address: never a remark that it has none."""
    if place in vessel.ways:
        return _said(vessel.ways[place][2]) or place
    return called(vessel, place)


def _device(way: Way) -> str:
    rating = show("current", way.rating_a) if way.rating_a is not None else "rating not recorded"
    return " ".join((*way.poles, rating))


def _fed(network: Network) -> dict[str, list[str]]:
    """For each place the other ends of the cables that land on it, in the order of the cables."""
    found: dict[str, list[str]] = {}
    for runs in network.runs.values():
        cable = runs[0].cable
        for here, there in ((cable.from_, cable.to), (cable.to, cable.from_)):
            if there != UNTRACED and there not in (ends := found.setdefault(here, [])):
                ends.append(there)
    return found


def _cables(vessel: Vessel, network: Network) -> Iterator[Label]:
    for key, cable in vessel.cables.items():
        kinds = _systems(vessel, network, cable)
        what = " / ".join(dict.fromkeys(system_words(*kind) for kind in kinds)) or _earth(network, cable)
        both = len({system.is_dc for system, _ in kinds}) > 1
        size = cable.size or ((kind := vessel.cable_type(cable)) and kind.size)
        details = tuple(part for part in (what, size.text if size else "") if part)
        for end, here, there in (("from", cable.from_, cable.to), ("to", cable.to, cable.from_)):
            lines = [BOTH_KINDS] if both else []
            lines += [", ".join(details)] if details else []
            lines.append(NOT_TRACED if there == UNTRACED else f"other end: {vessel.name_of(there)}")
            lines.append("this end: not traced" if here == UNTRACED else f"this end: {vessel.name_of(here)}")
            yield Label(CABLE, key, end, here, key, tuple(lines))


def _systems(vessel: Vessel, network: Network, cable: Cable) -> list[tuple[System, frozenset[str]]]:
    """The systems of the terminals on which the cable's cores land, earth aside, and the poles there."""
    found: dict[str, set[str]] = {}
    for run in network.runs.get(cable.id, ()):
        if run.link < 0:
            continue
        link = network.links[run.link]
        for terminal in (network.terminals[link.a], network.terminals[link.b]):
            system = terminal.system or ""
            if system in vessel.systems and terminal.pole != "PE" and not terminal.loose:
                found.setdefault(system, set()).add(terminal.pole)
    return [(vessel.systems[key], frozenset(poles)) for key, poles in found.items()]


def _earth(network: Network, cable: Cable) -> str:
    """The word for a cable that joins nothing but earths."""
    links = [network.links[run.link] for run in network.runs.get(cable.id, ()) if run.link >= 0]
    poles = {network.terminals[number].pole for link in links for number in (link.a, link.b)}
    return "EARTH" if poles == {"PE"} else ""


def _devices(vessel: Vessel) -> Iterator[Label]:
    for key, device in vessel.devices.items():
        named = [side.system or "" for side in device.sides(vessel.systems)]
        systems = [vessel.systems[system] for system in named if system in vessel.systems]
        lines = [] if device.name is None else [key]
        lines += [" / ".join(words)] if (words := dict.fromkeys(system_words(system) for system in systems)) else []
        source = is_source(device)
        if isinstance(device, ShoreInlet):
            lines.append("Before work: unplug the cord at both ends and stow it in sight")
        elif isinstance(device, Generator):
            lines.append("Before work: stop it, inhibit every automatic start, open its start battery")
        yield Label(SOURCE if source else DEVICE, key, "", key, device.name or key, tuple(lines))


def system_words(system: System, poles: frozenset[str] = frozenset()) -> str:
    """A system as a label names it, "AC 120/240 V 60 Hz"; with poles, the voltage between those alone."""
    if system.is_dc:
        return f"DC {system.voltage.text}"
    lines = poles & frozenset(LINES)
    whole = not lines or (len(lines) > 1 and "N" in poles)
    volts = system.voltage.text if whole else show("voltage", system.volts(tuple(sorted(poles))))
    hertz = f" {show('frequency', system.frequency_hz)}" if system.frequency_hz is not None else ""
    return f"AC {volts}{hertz}"


# --- which of them ------------------------------------------------------------------------------


def chosen(labels: tuple[Label, ...], kinds: tuple[str, ...], items: tuple[str, ...]) -> tuple[Label, ...]:
    """The labels of these kinds (none: all), on these items or at these places (none: everywhere)."""

    def wanted(label: Label) -> bool:
        places = (label.item, label.at)
        return not items or any(place == item or place.startswith(f"{item}/") for place in places for item in items)

    return tuple(label for label in labels if (not kinds or label.kind in kinds) and wanted(label))


def changed(now: tuple[Label, ...], then: tuple[Label, ...]) -> tuple[Label, ...]:
    """The labels that say something else than they said, or that nothing wore; a code alone renews none."""
    worn = {(label.kind, label.name): (label.title, label.lines) for label in then}
    return tuple(label for label in now if worn.get((label.kind, label.name)) != (label.title, label.lines))


def plain(label: Label) -> tuple[str, ...]:
    """The label's lines as they are printed: nothing in them turns or hides another."""
    return (one_line(label.title), *(one_line(line) for line in label.lines))
