"""What a panel's drawing says, line by line, before it is drawn."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from vesselspec.draw.ends import End, Wire, head_of, section_of, wires
from vesselspec.draw.supply import LIVE, gives, takes
from vesselspec.draw.words import POLES, called, inside
from vesselspec.model.items import UNTRACED, Cable, Panel, Section, Way
from vesselspec.model.vessel import Vessel, natural
from vesselspec.network.graph import Network


@dataclass(frozen=True)
class Odd:
    """A core, or a whole cable, that lands where nobody would look for it."""

    words: str
    #: The way or section of this panel at which it lands, or empty.
    at: str = ""


@dataclass(frozen=True)
class Run:
    """One cable at a way, at a section's bars or at the enclosure."""

    cable: Cable
    cores: tuple[Wire, ...]
    #: The place at the far end; empty where it is not known.
    far: str
    #: What is there: load | device | panel | same | unknown.
    kind: str
    feeds: bool
    #: Whether this is the from end of the cable.
    at_from: bool
    odd: tuple[Odd, ...] = ()
    #: The place on this panel where the cable is written in full, if not here.
    written_at: str = ""

    @property
    def live(self) -> bool:
        """Whether it carries a line or a positive."""
        return any(end.pole in LIVE for wire in self.cores for end in wire.ends)

    @property
    def dc(self) -> bool:
        """Whether what it carries is DC."""
        return any(end.pole == "DC+" for wire in self.cores for end in wire.ends)


@dataclass(frozen=True)
class Line:
    """One way with its cables; or with `way` None one cable at the bars of a section or at the enclosure."""

    place: str
    way: Way | None
    runs: tuple[Run, ...] = ()


@dataclass(frozen=True)
class Part:
    """A section with its lines, the bars first; or with `section` None the enclosure."""

    place: str
    section: Section | None
    bars: tuple[str, ...]
    lines: tuple[Line, ...]


def parts_of(vessel: Vessel, network: Network, panel: Panel) -> tuple[Part, ...]:
    """Every section of a panel, then the enclosure, with the cables at each way and bar."""
    cores = wires(vessel, network)
    at = _cables_at(vessel, panel, cores)
    owner: dict[str, str] = {}

    def runs(place: str) -> tuple[Run, ...]:
        return tuple(_run(vessel, cable, place, cores.get(cable.id, ()), owner) for cable in at.get(place, ()))

    def bare(place: str) -> tuple[Line, ...]:
        return tuple(Line(place, None, (run,)) for run in runs(place))

    parts = []
    for section in panel.sections:
        place = f"{panel.id}/{section.id}"
        bars = tuple(pole for pole in POLES if (place, pole) in network.index)
        ways = [Line(f"{place}/{way.id}", way, runs(f"{place}/{way.id}")) for way in section.ways]
        parts.append(Part(place, section, bars, (*bare(place), *ways)))
    if panel.id in at:
        parts.append(Part(panel.id, None, ("PE",), bare(panel.id)))
    return tuple(parts)


def _cables_at(vessel: Vessel, panel: Panel, cores: Mapping[str, tuple[Wire, ...]]) -> dict[str, tuple[Cable, ...]]:
    """The cables of a panel by the place that they are recorded at, or else where one of their cores lands."""
    found: dict[str, dict[str, Cable]] = {}
    for cable in sorted(vessel.cables.values(), key=lambda cable: natural(cable.id)):
        places = [end for end in (cable.from_, cable.to) if head_of(end) == panel.id]
        if not places:
            landed = {end.place for wire in cores.get(cable.id, ()) for end in wire.ends}
            places = sorted(place for place in landed if head_of(place) == panel.id)[:1]
        for place in dict.fromkeys(places):
            known = place if place in vessel.ways or place in vessel.sections else panel.id
            found.setdefault(known, {})[cable.id] = cable
    return {place: tuple(cables.values()) for place, cables in found.items()}


def _run(vessel: Vessel, cable: Cable, here: str, cores: tuple[Wire, ...], owner: dict[str, str]) -> Run:
    panel = head_of(here)
    at_from = cable.from_ == here or (cable.to != here and head_of(cable.from_) == panel)
    at_to = cable.to == here or head_of(cable.to) == panel
    far = cable.to if at_from or not at_to else cable.from_
    first = owner.setdefault(cable.id, here)
    into = far in vessel.ways and here in vessel.sections and not at_from
    kind = _kind(vessel, here, far)
    odd = _odd(vessel, here, far, cores, at_from=at_from)
    if kind == "same" and far != here:
        odd = (Odd(f"{cable.id} goes to {inside(vessel, far)} of this panel", far), *odd)
    return Run(
        cable,
        cores,
        "" if far == UNTRACED else far,
        kind,
        gives(vessel, far) or takes(vessel, here) or into,
        at_from,
        odd if first == here else (),
        first if first != here else "",
    )


def _kind(vessel: Vessel, here: str, far: str) -> str:
    head = head_of(far)
    if head == head_of(here):
        return "same"
    if head in vessel.loads:
        return "load"
    if head in vessel.devices:
        return "device"
    return "panel" if head in vessel.panels else "unknown"


def _odd(vessel: Vessel, here: str, far: str, cores: tuple[Wire, ...], *, at_from: bool) -> tuple[Odd, ...]:
    """The cores that do not land on their own device or their section's own bars, pole to pole."""
    found: dict[Odd, None] = {}
    for wire in cores:
        close, other = wire.ends if at_from else wire.ends[::-1]
        what = f"{wire.colour} core of {wire.run.cable.id}"
        for end, said in ((close, here), (other, far)):
            if said in vessel.ways and end.place == section_of(vessel, said) and end.pole in LIVE:
                words = (
                    f"{what} is on bar {end.pole} of {inside(vessel, end.place)}, not behind way {said.split('/')[-1]}"
                )
                found[Odd(words, _bar(vessel, end, here))] = None
        if close.place and not _belongs(vessel, close.place, here):
            found[Odd(f"{what} lands on {_where(vessel, close, here)}", _bar(vessel, close, here))] = None
        if other.place and far != UNTRACED and not _belongs(vessel, other.place, far):
            words = f"{what} has its far end on {_where(vessel, other, here)}, not at {far}"
            found[Odd(words, _bar(vessel, other, here))] = None
        if close.place and other.place and close.pole != other.pole:
            found[Odd(f"{what} is on {close.pole} here and on {other.pole} at {other.place}")] = None
        if not close.place and close.words != other.words:
            found[Odd(f"{what}: {close.words} at this end")] = None
        if not other.place and far != UNTRACED and close.words != other.words:
            found[Odd(f"{what}: {other.words} at the far end")] = None
    return tuple(found)


def _belongs(vessel: Vessel, place: str, end: str) -> bool:
    """Whether a core that lands there is where its cable's end says."""
    return place in (end, section_of(vessel, end)) or (place == head_of(end) and end not in vessel.ways)


def _bar(vessel: Vessel, end: End, here: str) -> str:
    return end.place if end.place in vessel.sections and head_of(end.place) == head_of(here) else ""


def _where(vessel: Vessel, end: End, here: str) -> str:
    pole = f"bar {end.pole}" if end.place in vessel.sections else end.pole
    if head_of(end.place) == head_of(here):
        return f"{pole} of {inside(vessel, end.place)}"
    name = called(vessel, end.place)
    return f"{pole} of {end.place}" + (f" ({name})" if name != end.place else "")
