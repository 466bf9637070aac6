"""The two currents of the earth: a fault's, which must get back to its source, and a load's, which must not use it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from vesselspec.model.devices import (
    Charger,
    EarthPoint,
    Generator,
    Inverter,
    InverterCharger,
    IsolationTransformer,
    Load,
    ShoreInlet,
)
from vesselspec.network.graph import LINES, Link
from vesselspec.network.zones import components
from vesselspec.rules.boat import Boat
from vesselspec.rules.bonds import neutrals
from vesselspec.rules.book import COMMON_PRACTICE, Lacks, Says, Sound, rule
from vesselspec.rules.earth import earth_parts
from vesselspec.rules.findings import CAUTION, WARNING, At
from vesselspec.standards import figure

_METAL = ("steel", "aluminium")


# --- back to the source --------------------------------------------------------------------------


@rule(
    "earth-leads-nowhere",
    WARNING,
    title="The earth of a case does not lead back to the source that feeds it",
    why="When insulation fails, the case stays live until somebody touches it: the fault current has no way back, and "
    "no breaker opens.",
    remedy="Join the earths: of the panel or device with the earth bar, and of every source with the same bar.",
    source="46 CFR 183.372 (enclosures and frames grounded)",
    needs="earth cores of sources, panels and AC devices; whether an enclosure is of metal",
    guards_life=True,
)
def leads_nowhere(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """AC cases whose earth is landed, and metal AC enclosures, on no common earth with a source of theirs."""
    part = earth_parts(boat)
    loose = {part[end]: item for end, item in _untraced(boat)}
    found: dict[str, _Cut] = {}
    for item, earth, lines in cases(boat):
        sources = sources_at(boat, lines)
        cut = {key: end for key, end in sources.items() if part[end] != part[earth] and key != item}
        if not cut:
            if sources:
                yield Sound(item)
            continue
        for key, end in cut.items():
            untraced = loose.get(part[earth]) or loose.get(part[end])
            if untraced:
                yield Lacks(item=untraced, at=At("cables", untraced), missing="where its untraced cores land")
                continue
            alone = not any(boat.network.links[n].kind == "core" for n in _earths_at(boat, end))
            if alone and isinstance(boat.vessel.devices[key], Inverter | InverterCharger):
                continue  # told as a device without an earth
            group = key if alone else f"part {part[earth]}"
            found.setdefault(group, _Cut(key if alone else "")).add(item, key)
    for cut_off in found.values():
        yield cut_off.told(boat)


@dataclass
class _Cut:
    """Cases that share one missing way back; `source` where it is the source that has no earth."""

    source: str
    cases: dict[str, None] = field(default_factory=dict)
    sources: dict[str, None] = field(default_factory=dict)

    def add(self, case: str, source: str) -> None:
        self.cases[case] = self.sources[source] = None

    def told(self, boat: Boat) -> Says:
        """One finding: at the source, else at a panel, else at the first device."""
        panels = [case for case in self.cases if case in boat.vessel.panels]
        first = self.source or (panels or list(self.cases))[0]
        names = [boat.vessel.name_of(case) for case in self.cases if case != first]
        named = ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")
        sources = ", ".join(boat.vessel.name_of(source) for source in self.sources)
        what = (
            f"no earth conductor comes from {boat.vessel.name_of(first)}, which feeds {named}"
            if self.source
            else f"the earth of {boat.vessel.name_of(first)} does not lead back to {sources}, which can feed it"
        )
        return Says(
            items=tuple(dict.fromkeys((first, *self.cases, *self.sources))),
            at=boat.at(first),
            what=what,
            consequences=(f"nor does that of {named}",) if names and not self.source else (),
        )


def cases(boat: Boat) -> Iterator[tuple[str, int, list[int]]]:
    """Each case that an earth is landed on, and each metal enclosure: its earth terminal and its lines."""
    index = boat.network.index
    for key, panel in boat.vessel.panels.items():
        sections = [f"{key}/{section.id}" for section in panel.sections]
        lines = [index[path, pole] for path in sections for pole in LINES if (path, pole) in index]
        if panel.metal and lines:
            yield key, index[key, "PE"], lines
    for key, device in (*boat.vessel.devices.items(), *boat.vessel.loads.items()):
        place = {Load: key, Charger: f"{key}/ac", InverterCharger: f"{key}/ac-in"}
        at = next((where for kind, where in place.items() if isinstance(device, kind)), "")
        earth = index.get((at, "PE"))
        if earth is None or (isinstance(device, Load) and device.double_insulated):
            continue
        if any(boat.network.links[number].kind == "core" for number in _earths_at(boat, earth)):
            yield key, earth, [index[at, pole] for pole in LINES if (at, pole) in index]


def _earths_at(boat: Boat, earth: int) -> list[int]:
    """The links from an earth terminal to other earth terminals."""
    links, terminals = boat.network.links, boat.network.terminals
    return [number for number in boat.network.at[earth] if terminals[links[number].other(earth)].pole == "PE"]


def sources_at(boat: Boat, lines: list[int]) -> dict[str, int]:
    """The AC sources that can feed these lines, each with its earth terminal."""
    found: dict[str, int] = {}
    for line in lines:
        for arrival in boat.reach.at(line):
            key = arrival.emission.source
            if arrival.emission.pole in LINES and key not in found:
                device = boat.vessel.devices[key]
                place = {
                    ShoreInlet: key,
                    Generator: key,
                    Inverter: f"{key}/ac",
                    InverterCharger: f"{key}/ac-out",
                    IsolationTransformer: f"{key}/secondary",
                }.get(type(device), "")
                earth = boat.network.index.get((place, "PE"))
                if earth is not None:
                    found[key] = earth
    return found


def _untraced(boat: Boat) -> Iterator[tuple[int, str]]:
    """Earth terminals with a core whose other end nobody traced, and its cable."""
    terminals = boat.network.terminals
    for run in boat.network.cores:
        if run.link >= 0 and "untraced" in (run.core.from_, run.core.to):
            link = boat.network.links[run.link]
            yield from ((end, run.cable.id) for end in (link.a, link.b) if terminals[end].pole == "PE")


# --- working current -----------------------------------------------------------------------------


@rule(
    "earth-carries-current",
    WARNING,
    title="A load's current returns through the earth or the hull",
    why="The return current warms earth and bonding conductors and corrodes metal under water; of an AC load it makes "
    "cases live as soon as a joint fails.",
    remedy="Give the load a return conductor of its own, to the neutral or negative of the panel that feeds it.",
    source="46 CFR 120.370 and 183.370 (hull not to carry current)",
    needs="returns of all loads, core by core; the duty of every earth point",
)
def carries_current(boat: Boat) -> Iterator[Says | Sound]:
    """Loads whose neutral or negative gets back to a source through earth only. Engines and cranking are exempt."""
    network = boat.network
    on_case = {bond.item for bond in neutrals(boat).bonds if bond.on_case}
    told: set[str] = set()
    for pole in ("N", "DC-"):
        sources = [each.terminal for each in network.emissions if each.pole == pole]
        own, by_block, anyhow = _joined(boat, pole)
        direct, engine, through = ({part[end] for end in sources} for part in (own, by_block, anyhow))
        for key, load in boat.vessel.loads.items():
            end = network.index.get((key, pole))
            if end is None or load.use == "engine-cranking" or not _landed(boat, end):
                continue
            if own[end] in direct or (pole == "DC-" and by_block[end] in engine):
                yield Sound(key)
            elif anyhow[end] in through:
                link = _leaves(boat, own, own[end])
                if link is not None and link.item not in told | on_case:
                    told.add(link.item)
                    yield _returns(boat, key, link)


def _landed(boat: Boat, end: int) -> bool:
    return any(boat.network.links[number].kind == "core" for number in boat.network.at[end])


def _joined(boat: Boat, pole: str) -> tuple[tuple[int, ...], tuple[int, ...], tuple[int, ...]]:
    """What conductors of a return pole join: alone, with engine blocks between them, and with any earth."""
    terminals = boat.network.terminals
    returns = [terminal.pole == pole for terminal in terminals]
    blocks = [
        isinstance(device := boat.vessel.devices.get(terminal.place), EarthPoint) and device.duty == "engine-block"
        for terminal in terminals
    ]
    found = []
    for also in ([False] * len(terminals), blocks, [terminal.pole == "PE" for terminal in terminals]):
        meant = [one or two for one, two in zip(returns, also, strict=True)]
        pairs = ((link.a, link.b) for link in boat.network.links if meant[link.a] and meant[link.b])
        found.append(components(len(terminals), pairs))
    return found[0], found[1], found[2]


def _leaves(boat: Boat, part: tuple[int, ...], own: int) -> Link | None:
    """The link by which a part of the returns passes into earth: a core before anything else."""
    terminals = boat.network.terminals
    out = [
        link
        for link in boat.network.links
        if {part[link.a], part[link.b]} & {own} and "PE" in (terminals[link.a].pole, terminals[link.b].pole)
    ]
    return min(out, key=lambda link: link.kind != "core", default=None)


def _returns(boat: Boat, load: str, link: Link) -> Says:
    terminals = boat.network.terminals
    ends = sorted((link.a, link.b), key=lambda end: terminals[end].pole == "PE")
    start, earth = (terminals[end] for end in ends)
    device = boat.vessel.devices.get(earth.place)
    hull = isinstance(device, EarthPoint) and device.duty in ("hull", "ground-plate")
    in_hull = hull or boat.vessel.about.hull in _METAL
    by = f"core {link.core} of cable {link.item}" if link.core else boat.vessel.name_of(link.item)
    return Says(
        items=(link.item, load),
        at=boat.core_at(link.item, link.core) if link.core else boat.at(link.item),
        what=f"{by} takes the return current of {boat.vessel.name_of(load)} from {start.name} "
        f"to the earth {earth.name}",
        signal_word=WARNING if in_hull or start.pole == "N" else CAUTION,
        source=figure("cfr46_120_370").source if in_hull else COMMON_PRACTICE,
        arguments=(link.core,) if link.core else (),
    )
