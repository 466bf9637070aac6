"""Every conductor and the device that protects it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from vesselspec.model.devices import (
    Alternator,
    Breaker,
    Fuse,
    Switch,
    _InLine,
)
from vesselspec.network.feeds import Feed
from vesselspec.network.graph import LINES, CoreRun
from vesselspec.network.mismatch import AC_ON_DC, DC_ON_AC
from vesselspec.network.outward import between
from vesselspec.network.zones import components
from vesselspec.physics.conductors.ampacity import Ampacity, ampacity
from vesselspec.physics.conductors.protection import DeviceLimit, device_limit
from vesselspec.rules.boat import Boat, kept
from vesselspec.rules.book import Lacks, Open, Says, Sound, rule
from vesselspec.rules.findings import NOTICE, WARNING, At
from vesselspec.rules.parallel import Parallel, limit_together, parallel_to, paralleling
from vesselspec.standards import cited

_LIVE = (*LINES, "DC+")
_WORKING = frozenset((*_LIVE, "N", "DC-"))


@dataclass(frozen=True)
class Guarded:
    """A live core with what feeds it and what it may carry."""

    run: CoreRun
    volts: float
    feeds: tuple[Feed, ...]
    cranking: bool


def guarded_cores(boat: Boat) -> tuple[Guarded, ...]:
    """Every core that a live potential can reach, in order of cables."""
    return kept(boat, "_guarded_cores", lambda each: tuple(_guarded_cores(each)))


def _guarded_cores(boat: Boat) -> Iterator[Guarded]:
    network, segments = boat.network, boat.feeds
    cranking = main_feeds(boat)
    for run in network.cores:
        if run.link < 0:
            continue
        link = network.links[run.link]
        ends = [network.terminals[n] for n in (link.a, link.b) if not network.terminals[n].loose]
        if not any(terminal.pole in _LIVE for terminal in ends):
            continue
        feeds = segments.at(link.a)
        if feeds:
            yield Guarded(run, max(feed.emission.volts for feed in feeds), feeds, run.link in cranking)


def main_feeds(boat: Boat) -> set[int]:
    """The links of the main feeds of engine-cranking motors, from a battery or alternator or the last fuse on.

    A combining relay that works by itself joins banks and is no such feed.
    """
    network, devices = boat.network, boat.vessel.devices
    motors = {
        network.index[key, "DC+"]
        for key, load in boat.vessel.loads.items()
        if load.use == "engine-cranking" and (key, "DC+") in network.index
    }
    plus = {n for n, terminal in enumerate(network.terminals) if terminal.pole == "DC+"}
    by_itself = {
        key for key, device in devices.items() if isinstance(device, Switch) and device.operation == "automatic"
    }
    links = {n for n, k in enumerate(network.links) if k.a in plus and k.b in plus and not k.one_way}
    fused = {n for n in links if network.links[n].protective}
    links -= fused | {n for n in links if network.links[n].item in by_itself}
    part = components(len(network.terminals), ((network.links[n].a, network.links[n].b) for n in links))
    cranked = {part[motor] for motor in motors}
    supplies = {
        e.terminal
        for e in network.emissions
        if e.pole == "DC+" and (e.supply == "battery" or isinstance(devices.get(e.source), Alternator))
    }
    fed = {part[supply] for supply in supplies}
    fuses = {t for n in fused for t in (network.links[n].a, network.links[n].b) if part[t] not in fed}
    own = {n for n in links if part[network.links[n].a] in cranked}
    return between(network, own, motors | supplies | fuses)


def loaded_conductors(boat: Boat) -> dict[str, int]:
    """How many current-carrying conductors lie together with those of each cable.

    Every landed core that is not earth counts, the neutral of a multi-wire cable too: the safe side.
    """
    return kept(boat, "_loaded_conductors", _loaded_conductors)


def _loaded_conductors(boat: Boat) -> dict[str, int]:
    own: dict[str, int] = {}
    for name, runs in boat.network.runs.items():
        count = 0
        for run in runs:
            if run.link >= 0:
                link = boat.network.links[run.link]
                count += any(boat.network.terminals[n].pole in _WORKING for n in (link.a, link.b))
        own[name] = count
    bundled: dict[str, int] = defaultdict(int)
    for key, cable in boat.vessel.cables.items():
        if cable.bundle is not None:
            bundled[cable.bundle] += own.get(key, 0)
    return {
        key: bundled[cable.bundle] if cable.bundle is not None else own.get(key, 0)
        for key, cable in boat.vessel.cables.items()
    }


def core_ampacity(boat: Boat, run: CoreRun, volts: float, together: int) -> Ampacity | None:
    """What a core may carry, or None where its size is not recorded or not in the tables."""
    if run.size is None:
        return None
    return ampacity(
        size=run.size,
        insulation_c=boat.insulation(run.cable),
        in_engine_space=boat.in_engine_space(run.cable),
        loaded_conductors=max(together, 1),
        voltage_v=volts,
        practice=boat.vessel.about.practice,
        ambient_c=boat.ambient(run.cable),
    )


def device_rating(boat: Boat, place: str) -> float | None:
    """Rated current of an overcurrent device in A, in a panel or on its own."""
    if place in boat.vessel.ways:
        return boat.vessel.ways[place][2].rating_a
    device = boat.vessel.devices.get(place)
    return device.rating_a if isinstance(device, Breaker | Fuse) else None


@dataclass(frozen=True)
class Protection:
    """One core against one device that limits its current."""

    cable: str
    core: str
    device: str
    rating_a: float | None
    carries: Ampacity | None
    least: DeviceLimit | None
    most: DeviceLimit | None

    @property
    def verdict(self) -> bool | None:
        """True: protected whatever the unknowns are; False: not protected whatever they are; None: cannot tell."""
        if self.rating_a is None or self.least is None or self.most is None:
            return None
        if self.rating_a <= self.least.max_rating_a * (1 + 1e-9):
            return True
        return False if self.rating_a > self.most.max_rating_a * (1 + 1e-9) else None


def protections(boat: Boat) -> tuple[Protection, ...]:
    """Every live core against every device that limits it; cranking conductors are exempt."""
    return kept(boat, "_protections", lambda each: tuple(_protections(each)))


def protections_of(boat: Boat, device: str) -> list[Protection]:
    """The same for one device."""
    return kept(boat, "_protections_by_device", _by_device).get(device, [])


def _by_device(boat: Boat) -> dict[str, list[Protection]]:
    found: dict[str, list[Protection]] = defaultdict(list)
    for each in protections(boat):
        found[each.device].append(each)
    return dict(found)


def _protections(boat: Boat) -> Iterator[Protection]:
    together = loaded_conductors(boat)
    practice = boat.vessel.about.practice
    for each in guarded_cores(boat):
        if each.cranking:
            continue
        cable = each.run.cable.id
        carries = core_ampacity(boat, each.run, each.volts, together[cable])
        least = most = None
        if carries is not None:
            least = device_limit(carries.low_a, each.volts, practice)
            most = device_limit(carries.high_a, each.volts, practice)
        for device in dict.fromkeys(feed.device for feed in each.feeds if feed.device is not None):
            rating = device_rating(boat, device)
            yield Protection(cable, each.run.name, device, rating, carries, least, most)


@rule(
    "device-above-ampacity",
    WARNING,
    title="A device is rated above what protects its conductor",
    why="The conductor can overheat and start a fire before the device opens.",
    remedy="Fit a smaller device, or run a larger conductor.",
    source="33 CFR 183.455(c) with 33 CFR 183.425 Table 5",
    needs="the rating of every device; size, insulation, route and bundle of every cable",
)
def device_above_ampacity(boat: Boat) -> Iterator[Says | Lacks | Sound | Open]:
    """Rating of the device against the ampacity of the smallest core behind it."""
    told: dict[tuple[str, str], list[Protection]] = defaultdict(list)
    judged: set[tuple[str, tuple[str, ...]]] = set()
    for each in protections(boat):
        told[each.cable, each.device].append(each)
    astray = {found.item for found in boat.mismatches if found.kind in (AC_ON_DC, DC_ON_AC)}
    for (cable, device), group in told.items():
        if boat.softens(boat.vessel.cables[cable]):
            yield Open(cable)  # it carries nothing: told once, of its insulation
            continue
        yield Sound(cable)  # unless another device, or another core of it, says otherwise
        bad = [p for p in group if p.verdict is False]
        if bad and (cable in astray or _past_a_bare_source(boat, cable, device)):
            yield Open(cable)  # told by itself: mended, this device no longer feeds it, or feeds it through its own
            continue
        if bad:
            worst = min(bad, key=lambda p: p.most.max_rating_a if p.most is not None else 0.0)
            run = next(run for run in boat.network.runs[cable] if run.name == worst.core)
            beside = parallel_to(boat, run)
            if beside is None or beside.why_not:
                yield _too_large(boat, cable, device, worst, beside)
            elif (device, beside.cables) not in judged:
                judged.add((device, beside.cables))
                yield from _in_parallel(boat, worst, beside, run)
            continue
        for each in group:
            if each.verdict is None:
                yield from _missing(boat, each)
                break


def _past_a_bare_source(boat: Boat, cable: str, device: str) -> bool:
    """Whether what a device lets through comes to a cable only past a source that no device stands before: the one
    that is missing there will limit that too."""
    from vesselspec.rules.placement import bare_to  # noqa: PLC0415 - it builds on this file

    network = boat.network
    sources = kept(boat, "_bare_to", bare_to).get(cable, set())
    seen = {e.terminal for e in network.emissions if e.source in sources and e.pole in _LIVE}
    if not seen:
        return False
    links = (network.links[run.link] for run in network.runs[cable] if run.link >= 0)
    queue = [t for link in links for t in (link.a, link.b) if network.terminals[t].pole in _LIVE and t not in seen]
    seen.update(queue)
    while queue:
        here = queue.pop()
        for link in (network.links[number] for number in network.at[here]):
            there = link.other(here)
            if link.protective and link.item == device:
                return False
            if not link.protective and network.terminals[there].pole in _LIVE and there not in seen:
                seen.add(there)
                queue.append(there)
    return True


def _too_large(boat: Boat, cable: str, device: str, worst: Protection, beside: Parallel | None) -> Says:
    carries, limit = worst.carries, worst.most
    if carries is None or limit is None:  # a verdict of False has both
        raise ValueError(f"{cable}: judged without an ampacity")
    size = next(run.size for run in boat.network.runs[cable] if run.name == worst.core)
    memory = carries.from_memory or limit.from_memory
    from vesselspec.rules.sizing import remedy  # noqa: PLC0415 - it builds on this file

    offered = remedy(boat, cable, device_a=worst.rating_a)
    return Says(
        items=(device, cable),
        at=boat.at(device, "rating"),
        what=f"{boat.vessel.name_of(device)} is rated {worst.rating_a:g} A; the {size.text if size else '?'} conductor "
        f"of cable {cable} carries {'at most ' if carries.unknown else ''}{carries.high_a:.4g} A "
        f"and allows a device of at most {limit.max_rating_a:.4g} A",
        remedy=offered or f"Fit a device of at most {limit.max_rating_a:.4g} A, or run a larger conductor.",
        source=f"{cited(limit.source, limit.from_memory)}; {cited(carries.source, carries.from_memory)}",
        signal_word=NOTICE if memory else None,
        measure=None if worst.rating_a is None else worst.rating_a / max(limit.max_rating_a, 1e-9),
        consequences=(*carries.derivation, *limit.derivation, *_judged_alone(cable, beside)),
    )


def _judged_alone(cable: str, beside: Parallel | None) -> Iterator[str]:
    if beside is not None:
        others = ", ".join(each for each in beside.cables if each != cable) or "another core of it"
        yield f"judged alone, though {others} runs beside it between the same two terminals: {beside.why_not}"


def _in_parallel(boat: Boat, worst: Protection, beside: Parallel, run: CoreRun) -> Iterator[Says | Lacks]:
    """Conductors that count as one: too small together is a finding as ever; together enough, alone not, a notice."""
    carries, rating, many = worst.carries, worst.rating_a, len(beside.runs)
    if carries is None or rating is None or run.size is None:  # a verdict of False has all of them
        raise ValueError(f"{worst.cable}: judged without an ampacity")
    volts = next(each.volts for each in guarded_cores(boat) if each.run.link == run.link)
    least, most = (limit_together(boat, amps, many, volts) for amps in (carries.low_a, carries.high_a))
    named = f"{boat.vessel.name_of(worst.device)} is rated {rating:g} A; the {many} conductors of {run.size.text} of "
    named += f"{'cables' if beside.cables[1:] else 'cable'} {', '.join(beside.cables)} in parallel "
    figures = f"{many} × {carries.high_a:.4g} A"
    enough = rating <= most.max_rating_a * (1 + 1e-9)
    memory = carries.from_memory or enough
    yield Says(
        items=(worst.device, *beside.cables),
        at=boat.at(worst.device, "rating"),
        what=named
        + (
            f"carry {figures} only as long as all of them do: with one of them open the rest is not protected"
            if enough
            else f"carry {'at most ' if carries.unknown else ''}{figures} and allow a device of at most "
            f"{most.max_rating_a:.4g} A"
        ),
        remedy="Check the joints at both ends of each of them, or fit a device before each."
        if enough
        else f"Fit a device of at most {most.max_rating_a:.4g} A, or run larger conductors.",
        source=f"{paralleling(boat)}; {carries.source}" if enough else f"{most.source}; {carries.source}",
        signal_word=NOTICE if memory else None,
        measure=rating / max(most.max_rating_a, 1e-9),
        consequences=(*carries.derivation, f"{figures} in parallel, as long as they are alike: {paralleling(boat)}"),
    )
    if enough and rating > least.max_rating_a * (1 + 1e-9):
        yield from _missing(boat, worst)


#: What an ampacity names as unknown, in words.
UNKNOWN = {"insulation": "its insulation temperature", "space": "its route", "bundle": "what it is bundled with"}


def _missing(boat: Boat, each: Protection) -> Iterator[Lacks]:
    cable = boat.vessel.cables[each.cable]
    at = At("cables", each.cable)
    run = next(run for run in boat.network.runs[each.cable] if run.name == each.core)
    if each.rating_a is None:
        yield Lacks(item=each.device, at=boat.at(each.device), missing="its rating", stops=(each.cable,))
    if run.size is None:
        yield Lacks(item=each.cable, at=at, missing="its size")
    elif each.carries is None:
        yield Lacks(item=each.cable, at=at, missing=f"an ampacity for {run.size.text} in the tables")
    else:
        for name in each.carries.unknown:
            yield Lacks(item=cable.id, at=at, missing=UNKNOWN.get(name, name))


@rule(
    "neutral-fused-alone",
    WARNING,
    title="A device can open the neutral and leave the line closed",
    why="With the neutral open and the line closed everything looks dead and is live.",
    remedy="Open line and neutral together, or the line alone.",
    source="46 CFR 111.05-37(a)",
    needs="the poles that every way, breaker, fuse and switch opens",
)
def neutral_alone(boat: Boat) -> Iterator[Says | Sound]:
    """A way or device whose poles are N or DC- without the line."""
    opened = [
        (path, f"way {boat.vessel.name_of(path)}", way.poles, way.is_protective)
        for path, (_, _, way) in boat.vessel.ways.items()
    ]
    opened += [
        (key, boat.vessel.name_of(key), device.poles, isinstance(device, Breaker | Fuse))
        for key, device in boat.vessel.devices.items()
        if isinstance(device, _InLine)
    ]
    for place, name, poles, trips in opened:
        yield Sound(place)
        if ("N" in poles and not set(poles) & set(LINES)) or (trips and poles == ("DC-",)):
            yield Says(
                items=(place,),
                at=boat.at(place, "poles"),
                what=f"{name} opens {', '.join(poles)} without its line",
            )
