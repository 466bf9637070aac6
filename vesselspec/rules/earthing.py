"""Earth conductors: large enough, never interrupted, landed on earth; and whether reversed polarity would show."""

from __future__ import annotations

from collections.abc import Iterator

from vesselspec.model.devices import Selector, ShoreInlet, _InLine
from vesselspec.network.graph import LINES, CoreRun
from vesselspec.network.reach import Arrival
from vesselspec.rules.boat import Boat
from vesselspec.rules.bonds import neutrals
from vesselspec.rules.book import COMMON_PRACTICE, Lacks, Says, Sound, rule
from vesselspec.rules.earth import earth_parts
from vesselspec.rules.findings import CAUTION, WARNING, At
from vesselspec.standards import EarthLimit, earth_by_device, earth_by_line_awg, earth_by_line_mm2, figure
from vesselspec.units import awg_area_mm2

#: Areas are compared with this slack: a size is what is printed on the cable.
_SAME = 0.999


@rule(
    "polarity-indicator-missing",
    CAUTION,
    title="No reverse-polarity indicator on a shore supply",
    why="With line and neutral exchanged ashore, single-pole breakers open the neutral: what they switch off stays "
    "live, and a fault to a case finds no breaker.",
    remedy="Fit a reverse-polarity indicator at the first panel that the shore supply comes to.",
    source="as named in the finding",
    needs="what is fitted to the panels that a shore supply with a neutral comes to",
)
def polarity(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Shore with a neutral, no transformer before it, and ways that open a line alone."""
    north = boat.vessel.about.practice == "north-american"
    for key, device in boat.vessel.devices.items():
        if not isinstance(device, ShoreInlet) or (key, "N") not in boat.network.index:
            continue
        sections = _sections_from(boat, key)
        branches = [way for path in sections for way in boat.vessel.sections[path][1].ways if way.duty == "branch"]
        of_lines = [way for way in branches if set(way.poles) & set(LINES)]
        if all("N" in way.poles for way in of_lines):
            if of_lines:
                yield Sound(key)
            continue
        named = {path.split("/", 1)[0]: None for path in sections}
        fitted = {panel: boat.vessel.panels[panel].fitted for panel in named}
        unknown = [panel for panel, words in fitted.items() if words is None]
        if any("polarity-indicator" in (words or ()) for words in fitted.values()):
            yield Sound(key)
        elif unknown:
            yield Lacks(item=unknown[0], at=At("panels", unknown[0]), missing="what is fitted to it")
        else:
            published = figure("reverse_polarity").source
            first = min(sections, key=lambda path: _steps_to(boat, key, path)).split("/", 1)[0]
            yield Says(
                items=(first, key),
                at=At("panels", first, ("fitted",)),
                what=f"{boat.vessel.name_of(key)} feeds {boat.vessel.name_of(first)} with single-pole breakers, and no "
                "panel that it comes to has a polarity indicator",
                source=published if north else f"common practice; {published} for 120 V systems",
            )


def _arrivals(boat: Boat, inlet: str, section: str) -> list[tuple[Arrival, int]]:
    """The ways by which an inlet's lines come to a section."""
    return [
        (arrival, end)
        for pole in LINES
        if (end := boat.network.index.get((section, pole))) is not None
        for arrival in boat.reach.at(end)
        if arrival.emission.source == inlet and arrival.emission.pole in LINES
    ]


def _sections_from(boat: Boat, inlet: str) -> list[str]:
    return [path for path in boat.vessel.sections if _arrivals(boat, inlet, path)]


def _steps_to(boat: Boat, inlet: str, section: str) -> int:
    return min(len(boat.reach.witness(arrival, end).steps) for arrival, end in _arrivals(boat, inlet, section))


# --- size ----------------------------------------------------------------------------------------


@rule(
    "earth-core-too-small",
    WARNING,
    title="An earth core is too small for the device that protects its circuit",
    why="In a fault to the case it carries all that the device lets through until it opens: it can burn off first, "
    "and the case is live.",
    remedy="Run an earth conductor of the size that the finding names.",
    source="as named in the finding",
    needs="size of earth and line cores, ratings of the devices ahead",
)
def too_small(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """NFPA 70 Table 250.122, and beside it the ABYC rule; in international practice the rule by line size."""
    network = boat.network
    for cable, runs in network.runs.items():
        landed = [run for run in runs if run.link >= 0]
        lines = [run for run in landed if _poles(boat, run) & set(LINES)]
        earths = [run for run in landed if _poles(boat, run) == {"PE"}]
        ahead = _ahead(boat, lines) if lines and earths else {}
        if not ahead:
            continue
        unrated = [item for item, amps in ahead.items() if amps is None]
        if unrated:
            yield Lacks(item=unrated[0], at=boat.at(unrated[0]), missing="its rating")
            continue
        device, amps = max(((item, amps or 0.0) for item, amps in ahead.items()), key=lambda each: each[1])
        line = max((run.size for run in lines if run.size is not None), default=None)
        if line is None or any(run.size is None for run in (*earths, *lines)):
            yield Lacks(item=cable, at=At("cables", cable), missing="its size")
            continue
        earth = min(earths, key=lambda run: run.size.mm2 if run.size else 0.0)
        limits = _limits(boat, line.awg, line.mm2, amps)
        least = [(word, limit) for word, limit in limits if earth.size and earth.size.mm2 < _area(limit) * _SAME]
        if not least or earth.size is None:
            yield Sound(cable)
            continue
        word, limit = least[0]
        size = f"{limit.awg} AWG" if limit.awg else f"{limit.mm2:.3g} mm²"
        yield Says(
            items=(cable, device),
            at=boat.core_at(cable, earth.name),
            what=f"the earth core {earth.name} of cable {cable} is {earth.size.text}; behind "
            f"{boat.vessel.name_of(device)} of {amps:g} A and with lines of {line.text} it must be at least {size}",
            signal_word=word,
            source="; ".join(limit.source for _, limit in least),
            arguments=(earth.name,),
            measure=_area(limit) / earth.size.mm2,
        )


def _limits(boat: Boat, awg: str | None, mm2: float, amps: float) -> list[tuple[str, EarthLimit]]:
    """What the practice asks of the earth, gravest first."""
    if boat.vessel.about.practice != "north-american":
        return [(CAUTION, earth_by_line_mm2(mm2))]
    found = []
    by_device = earth_by_device(amps)
    if by_device is not None and _area(by_device) <= mm2:  # an earth need not be larger than its lines
        found.append((WARNING, by_device))
    by_line = earth_by_line_awg(awg, amps) if awg is not None else None
    return [*found, (CAUTION, by_line)] if by_line is not None else found


def _area(limit: EarthLimit) -> float:
    return awg_area_mm2(limit.awg) if limit.awg else limit.mm2 or 0.0


def _ahead(boat: Boat, lines: list[CoreRun]) -> dict[str, float | None]:
    """What protects the lines of a cable, with its rating in A; before the first device on board, the inlet's."""
    found: dict[str, float | None] = {}
    for run in lines:
        for feed in boat.feeds.at(boat.network.links[run.link].a):
            if feed.device is not None and feed.device in boat.vessel.ways:
                found[feed.device] = boat.vessel.ways[feed.device][2].rating_a
            elif feed.device is not None:
                found[feed.device] = getattr(boat.vessel.devices.get(feed.device), "rating_a", None)
            elif isinstance(inlet := boat.vessel.devices.get(feed.emission.source), ShoreInlet):
                found[inlet.id] = inlet.rating_a
    return found


def _poles(boat: Boat, run: CoreRun) -> set[str]:
    link = boat.network.links[run.link]
    return {boat.network.terminals[end].pole for end in (link.a, link.b)}


# --- interrupted, landed on a neutral ------------------------------------------------------------


@rule(
    "earth-interrupted",
    WARNING,
    title="A switch, breaker or fuse can open the earth",
    why="With it open every case behind it has no earth, and nothing shows it.",
    remedy="Join the earth straight through; no device opens it.",
    source=COMMON_PRACTICE,
    needs="the poles of every switch, selector, breaker and fuse",
    guards_life=True,
)
def interrupted(boat: Boat) -> Iterator[Says | Sound]:
    """PE among the poles that a device opens."""
    for path, (_, _, way) in boat.vessel.ways.items():
        if way.device != "blank" and "PE" in way.poles:
            yield _opens(boat, path)
        elif set(way.poles) & set(LINES):
            yield Sound(path)
    for key, device in boat.vessel.devices.items():
        if isinstance(device, Selector | _InLine):
            if "PE" in device.poles:
                yield _opens(boat, key)
            elif set(device.poles) & set(LINES):
                yield Sound(key)


def _opens(boat: Boat, item: str) -> Says:
    return Says(items=(item,), at=boat.at(item, "poles"), what=f"{boat.vessel.name_of(item)} opens the earth")


@rule(
    "case-on-neutral",
    WARNING,
    title="A core ties the case of a device to the neutral",
    why="With line and neutral exchanged ashore, or the neutral open anywhere, the case stands at mains voltage.",
    remedy="Make every source dead and prove it, and land the earth core on the earth bar.",
    source=COMMON_PRACTICE,
    needs="the earth cores of all devices",
    guards_life=True,
)
def case_on_neutral(boat: Boat) -> Iterator[Says | Sound]:
    """A green core landed on a neutral bar, say."""
    network, part = boat.network, earth_parts(boat)
    for bond in neutrals(boat).bonds:
        if bond.on_case:
            case, neutral = network.terminals[bond.earth].place, network.terminals[bond.neutral]
            head = case.split("/", 1)[0]
            joined = {
                each.place.split("/", 1)[0] for n, each in enumerate(network.terminals) if part[n] == part[bond.earth]
            }
            also = "its other earth makes this a joint of neutral and earth on board as well"
            yield Says(
                items=(bond.item, head),
                at=boat.core_at(bond.item, bond.core),
                what=f"core {bond.core} of cable {bond.item} ties the case of {boat.vessel.name_of(case)} to the "
                f"neutral {neutral.name}",
                consequences=(also,) if joined - {head} else (),
                arguments=(bond.core,),
            )
    tied = {network.terminals[bond.earth].place for bond in neutrals(boat).bonds if bond.on_case}
    for key in (*boat.vessel.loads, *(f"{key}/ac" for key in boat.vessel.devices)):
        earth = network.index.get((key, "PE"))
        if earth is not None and key not in tied and any(network.links[n].kind == "core" for n in network.at[earth]):
            yield Sound(key)
