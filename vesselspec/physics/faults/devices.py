"""Every protective device held to the faults of an operating condition: what it must break, how soon, and before whom.

Each check has three answers: certain, not, undecided. Between what is known for sure on either side lies what the
record or the published bounds leave open; only what is certain either way is said as such.

A device has to break what comes *through* it. For a fault close behind it that is what the sources on its other side
give; where the two sides stay connected without it (paralleled ways) the whole fault is taken at most, nothing at
least.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Container, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from vesselspec.model.devices import Breaker, Fuse, ResidualCurrentSwitch
from vesselspec.model.items import Way
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import LINES, CoreRun, Link, Network
from vesselspec.network.state import State
from vesselspec.network.zones import components
from vesselspec.physics.faults.circuit import Feed
from vesselspec.physics.faults.levels import FaultLevels, FaultStudy, Pair
from vesselspec.physics.faults.tripping import (
    Band,
    Deadline,
    Order,
    Verdict,
    Withstand,
    band_of_breaker,
    band_of_fuse,
    deadline,
    in_series,
    order,
    stands,
    withstand,
)
from vesselspec.standards import figure

_LIVE = (*LINES, "DC+")
_TIE = 1e-9


@dataclass(frozen=True)
class Device:
    """A breaker or fuse, in a panel or on its own, with what the record says of it."""

    place: str
    kind: str  # breaker | fuse
    rating_a: float | None
    interrupting_a: float | None
    family: str | None
    curve: str | None

    @cached_property
    def band(self) -> Band:
        """What is published of when it opens."""
        if self.rating_a is None:
            return Band(why_none="its rating is not recorded")
        if self.kind == "fuse":
            return band_of_fuse(self.rating_a, self.family)
        return band_of_breaker(self.rating_a, self.curve)

    def breaks(self, *, dc: bool) -> tuple[float, str, bool] | None:
        """The largest current that it can break in A, the source of that, and whether it is from memory."""
        if self.interrupting_a is not None:
            return self.interrupting_a, "as recorded", False
        name = {
            "class-t": ("class_t_dc", "dc_A") if dc else ("class_t", "ac_A"),
            "class-r": ("", "") if dc else ("class_r_breaking", "ac_A"),
            "plug": ("plug_fuse_breaking", "dc_A" if dc else "ac_A"),
            "blade": ("blade_fuse_breaking", "breaking_capacity_A"),
        }.get(self.family or "", ("", ""))
        if self.kind != "fuse" or not name[0]:
            return None
        rule = figure(name[0])
        return float(rule.data[name[1]]), rule.source, rule.from_memory


@dataclass(frozen=True)
class Residual:
    """A residual-current device: its rated residual current in A and its longest time in s."""

    place: str
    residual_a: float
    delay_s: float | None


def devices_of(vessel: Vessel) -> dict[str, Device]:
    """Every breaker and fuse by its address."""
    found: dict[str, Device] = {}
    for place, (_, _, way) in vessel.ways.items():
        if way.is_protective:
            found[place] = Device(place, way.device, way.rating_a, way.interrupting_a, way.family, way.curve)
    for key, device in vessel.devices.items():
        if isinstance(device, Breaker):
            found[key] = Device(key, "breaker", device.rating_a, device.interrupting_a, None, device.curve)
        elif isinstance(device, Fuse):
            found[key] = Device(key, "fuse", device.rating_a, device.interrupting_a, device.family, None)
    return found


def residuals_of(vessel: Vessel) -> dict[str, Residual]:
    """Every device that opens on leakage to earth, by its address. Those inside receptacles protect what is beyond."""
    every: list[tuple[str, Way | Breaker | ResidualCurrentSwitch]] = [(p, w) for p, (_, _, w) in vessel.ways.items()]
    every += [(k, d) for k, d in vessel.devices.items() if isinstance(d, Breaker | ResidualCurrentSwitch)]
    return {key: Residual(key, each.residual_a, each.delay_s) for key, each in every if each.residual_a}


# --- what stands between a source and a place -----------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Chain:
    """From one source outwards: the last device before each terminal, and before each device the one upstream."""

    feed: Feed
    last: Mapping[int, str | None]
    above: Mapping[str, str | None]
    residual: Mapping[int, tuple[str, ...]]

    def devices(self, nearest: str) -> tuple[str, ...]:
        """A device and all upstream of it, the nearest one first."""
        found = [nearest]
        while (upstream := self.above.get(found[-1])) is not None and upstream not in found:
            found.append(upstream)
        return tuple(found)


def chains_of(levels: FaultLevels, devices: Mapping[str, Device], residuals: Mapping[str, Residual]) -> list[Chain]:
    """The chain of every source that has an impedance, by the way with the fewest steps."""
    network, closed = levels.study.network, levels.closed.tolist()
    return [_chain(network, closed, feed, devices, residuals) for feed in levels.feeds if not feed.limits_itself]


def chain_of(checks: DeviceChecks, feed: Feed) -> Chain:
    """The same for one source, one that limits itself too."""
    levels = checks.levels
    return _chain(levels.study.network, levels.closed.tolist(), feed, checks.devices, checks.residuals)


def _chain(
    network: Network, closed: list[bool], feed: Feed, devices: Mapping[str, Device], residuals: Mapping[str, Residual]
) -> Chain:
    last: dict[int, str | None] = {terminal: None for terminal, _ in feed.plus}
    residual: dict[int, tuple[str, ...]] = dict.fromkeys(last, ())
    above: dict[str, str | None] = {}
    queue = deque(last)
    while queue:
        here = queue.popleft()
        for number in network.at[here]:
            link = network.links[number]
            there = link.other(here)
            if there in last or not closed[number] or network.terminals[there].pole not in _LIVE:
                continue
            if link.one_way and here != link.a:
                continue
            last[there] = last[here]
            residual[there] = residual[here]
            if link.switch is not None and link.switch in devices:
                last[there] = link.switch
                above.setdefault(link.switch, last[here])
            if link.switch is not None and link.switch in residuals:
                residual[there] = (*residual[here], link.switch)
            queue.append(there)
    return Chain(feed, last, above, residual)


class Sides:
    """Which sources stand on each side of every closed device."""

    def __init__(self, levels: FaultLevels, devices: Mapping[str, Device]) -> None:
        network = levels.study.network
        inside = np.flatnonzero(levels.closed & levels.study.live).tolist()
        cut = {number for number in inside if network.links[number].switch in devices}
        ends = [(network.links[n].a, network.links[n].b) for n in inside if n not in cut]
        self.part = components(len(network.terminals), ends)
        self.sources: dict[int, set[str]] = {}
        for feed in levels.feeds:
            for terminal, _ in feed.plus:
                self.sources.setdefault(self.part[terminal], set()).add(feed.source)
        self.joins: dict[int, set[tuple[str, int]]] = {}
        self.links: dict[str, list[Link]] = {}
        for number in cut:
            link = network.links[number]
            a, b = self.part[link.a], self.part[link.b]
            self.links.setdefault(str(link.switch), []).append(link)
            if a != b:
                self.joins.setdefault(a, set()).add((str(link.switch), b))
                self.joins.setdefault(b, set()).add((str(link.switch), a))
        self._prune()

    def _prune(self) -> None:
        """Take away what is fed through one device and feeds nothing back: most of a boat."""
        bare = [part for part, joins in self.joins.items() if len(joins) == 1 and part not in self.sources]
        while bare:
            part = bare.pop()
            if len(self.joins[part]) != 1:
                continue
            device, other = self.joins[part].pop()
            self.joins[other].remove((device, part))
            if len(self.joins[other]) == 1 and other not in self.sources:
                bare.append(other)

    def of(self, link: Link) -> tuple[frozenset[str], frozenset[str]] | None:
        """The sources on the two sides of a device's pole; None where they stay connected without it."""
        device, a, b = str(link.switch), self.part[link.a], self.part[link.b]
        if a == b:
            return None
        if (device, b) not in self.joins.get(a, ()):
            # Pruned: all sources are on one side, it does not matter on which.
            return frozenset(source for each in self.sources.values() for source in each), frozenset()
        one = self._reached(a, device)
        return None if b in one else (self._names(one), self._names(self._reached(b, device)))

    def _names(self, parts: set[int]) -> frozenset[str]:
        return frozenset(source for part in parts for source in self.sources.get(part, ()))

    def _reached(self, start: int, without: str) -> set[int]:
        seen, stack = {start}, [start]
        while stack:
            for device, there in self.joins.get(stack.pop(), ()):
                if device != without and there not in seen:
                    seen.add(there)
                    stack.append(there)
        return seen


# --- checks --------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Through:
    """The largest fault that a device must break: at least and at most, symmetrical, in A, and its asymmetry."""

    device: str
    condition: str
    place: str
    pair: Pair
    low_a: float
    high_a: float
    asymmetry: float


@dataclass(frozen=True)
class EarthFault:
    """A fault to earth at a place, from one source, and whether the device before it opens in time."""

    device: str
    condition: str
    source: str
    place: str
    pair: Pair
    amps: float | None
    deadline: Deadline
    verdict: Verdict
    why: str
    missing: tuple[tuple[str, str], ...]
    #: Where it is certain: the time by which it has opened at the latest, in s.
    within_s: float | None = None


@dataclass(frozen=True)
class Stood:
    """A conductor behind a device, and whether it stands every fault until the device has opened."""

    device: str
    condition: str
    cable: str
    core: str
    least_a: float | None
    most_a: float
    verdict: Verdict
    why: str
    can: Withstand


@dataclass(frozen=True)
class Series:
    """Two devices in series from one source, and whether the nearer one opens first."""

    device: str
    upstream: str
    condition: str
    source: str
    most_a: float
    order: Order


class DeviceChecks:
    """All protective devices in one condition."""

    def __init__(self, levels: FaultLevels, devices: Mapping[str, Device], residuals: Mapping[str, Residual]) -> None:
        self.levels, self.devices, self.residuals = levels, devices, residuals
        self.chains = chains_of(levels, devices, residuals)
        self.sides = Sides(levels, devices)
        self.bands = {place: device.band for place, device in devices.items()}
        self._bands: dict[tuple[Chain, str], Band] = {}

    def band(self, chain: Chain, device: str) -> Band:
        """When a device, or one upstream of it from the same source, opens: any of them ends the fault."""
        key = chain, device
        if key not in self._bands:
            self._bands[key] = in_series({each: self.bands[each] for each in chain.devices(device)})
        return self._bands[key]

    def places(self, device: str) -> tuple[str, ...]:
        """Where the poles of a device are: its way, or its two sides."""
        return (device,) if device in self.levels.study.vessel.ways else (f"{device}/load", f"{device}/line")

    def live(self) -> Iterator[str]:
        """The closed devices that a source feeds."""
        for device, links in self.sides.links.items():
            if any(self.levels.state.at(link.a) for link in links):
                yield device

    def through(self, *, only: Container[str] | None = None) -> Iterator[Through]:
        """For every closed device and pair of poles, the largest fault current through it; `only` leaves out others."""
        for device, links in self.sides.links.items():
            for link in links if only is None or device in only else ():
                sides = self.sides.of(link)
                pole = self.levels.study.network.terminals[link.a].pole
                for place in self.places(device):
                    yield from self._through(device, place, pole, sides)

    def _through(
        self, device: str, place: str, pole: str, sides: tuple[frozenset[str], frozenset[str]] | None
    ) -> Iterator[Through]:
        levels = self.levels
        for back in ("N", "DC-", "PE", *LINES):
            pair = (pole, back)
            whole = levels.largest(place, pair)
            if whole is None:
                continue
            low, high = whole
            if sides is None:
                low = 0.0
            elif sides[0] and sides[1]:
                one, two = (levels.toward(side, place, pair) for side in sides)
                low, high = max(one[0], two[0]), max(one[1], two[1])
            yield Through(device, levels.condition, place, pair, low, high, levels.asymmetry(place, pair))

    def greatest(self, device: str) -> tuple[float, float]:
        """The largest fault at a device over all pairs of its poles, at least and at most, in A."""
        found = [
            whole
            for place in self.places(device)
            for pole in _LIVE
            for back in ("N", "DC-", "PE", *LINES)
            if (whole := self.levels.largest(place, (pole, back))) is not None
        ]
        return max((low for low, _ in found), default=0.0), max((high for _, high in found), default=0.0)

    def earth_faults(self, *, decidable: bool = False) -> Iterator[EarthFault]:
        """Every fault between a line and earth that a device has to switch off, from each source alone.

        `decidable` leaves out those for which nothing was published that could decide: no bound, no residual device.
        """
        network, study = self.levels.study.network, self.levels.study
        for (place, pair), terminal in zip(study.pairs[False].keys, study.pairs[False].a.tolist(), strict=True):
            if pair[1] != "PE":
                continue
            for chain in self.chains:
                device = chain.last.get(terminal)
                if device is None or chain.feed.dc or network.terminals[terminal].loose:
                    continue
                if decidable and not chain.residual.get(terminal) and not self._decides(chain, device):
                    continue
                if self.levels.largest(place, pair) is None:
                    break
                found = self._earth_fault(chain, device, place, pair, terminal)
                if found is not None:
                    yield found

    def _earth_fault(self, chain: Chain, device: str, place: str, pair: Pair, terminal: int) -> EarthFault | None:
        source, rating = chain.feed.source, self.devices[device].rating_a
        volts = max(abs(emf) for _, emf in chain.feed.plus)
        limit = deadline(round(volts, 6), rating if rating is not None else 0.0)
        if limit is None:
            return None
        alone = self.levels.alone(source, place, pair)
        missing = self.levels.missing(place, pair, smallest=True)
        trusted = alone if alone is not None and not chain.feed.supply.missing_smallest else None

        def found(
            verdict: Verdict, why: str, lacks: tuple[tuple[str, str], ...] = (), within_s: float | None = None
        ) -> EarthFault:
            mine = device, self.levels.condition, source, place, pair
            return EarthFault(*mine, trusted, limit, verdict, why, lacks, within_s)

        residuals = [self.residuals[key] for key in chain.residual.get(terminal, ())]
        for each in residuals:
            if each.delay_s is not None and each.delay_s <= limit.seconds and (trusted or 0.0) >= each.residual_a:
                why = f"{each.place} opens on leakage within {each.delay_s:g} s"
                return found("certain", why, within_s=each.delay_s)
        waits = tuple((each.place, "its residual delay") for each in residuals if each.delay_s is None)
        if trusted is None and not missing and not waits:
            missing = ((source, "what it gives into a fault"),)
        band = self.band(chain, device)
        if trusted is not None:
            latest = band.latest(trusted)
            if latest is not None and latest.seconds <= limit.seconds:
                why = f"it opens within {latest.seconds:g} s ({latest.source})"
                return found("certain", why, within_s=latest.seconds)
        held = band.soonest(alone) if alone is not None else None
        if held is not None and held.seconds > limit.seconds and not residuals:
            return found("not", f"it does not open before {held.seconds:g} s ({held.source})")
        if rating is None:
            return found("undecided", self.bands[device].why_none, ((device, "its rating"), *missing))
        if trusted is None:
            return found("undecided", "the smallest fault is not known", (*missing, *waits))
        if not self.bands[device].opens:
            return found("undecided", self.bands[device].why_none, waits or ((device, self._family(device)),))
        return found("undecided", "nothing published says that it opens in time", waits)

    def _decides(self, chain: Chain, device: str) -> bool:
        band = self.band(chain, device)
        return bool(band.holds) or any(not limit.from_memory for limit in band.opens)

    def _family(self, device: str) -> str:
        each = self.devices[device]
        if each.kind == "breaker":
            return "its trip curve"
        return "its fuse family" if each.family is None else "how soon it opens"

    def stood(self, *, only: Container[str] | None = None) -> Iterator[Stood]:
        """Every live conductor behind a device, against the faults that it carries until the device opens.

        `only` leaves out the conductors behind all other devices.
        """
        network = self.levels.study.network
        greatest = {each: self.greatest(each) for each in self.sides.links if only is None or each in only}
        for run in network.cores:
            if run.link < 0 or run.size is None or not self.levels.closed[run.link]:
                continue
            for chain in self.chains:
                device = chain.last.get(network.links[run.link].a)
                if only is not None and device not in only:
                    continue
                if device is not None and device == chain.last.get(network.links[run.link].b):
                    found = self._stood(chain, device, run, *greatest.get(device, (0.0, 0.0)))
                    if found is not None:
                        yield found

    def _stood(self, chain: Chain, device: str, run: CoreRun, sure: float, most: float) -> Stood | None:
        vessel, link = self.levels.study.vessel, self.levels.study.network.links[run.link]
        if run.size is None or not np.isfinite(most) or most <= 0 or len(self._beside(link)) > 1:
            return None
        kind = vessel.cable_type(run.cable)
        insulation = (
            run.cable.insulation_c if run.cable.insulation_c is not None else kind.insulation_c if kind else None
        )
        can = withstand(run.size, insulation)
        if can is None:
            return None
        least = self._least(chain, link)
        verdict, why = stands(self.band(chain, device), can, least, most, sure)
        if not self.band(chain, device).opens and verdict == "undecided":
            why = self.bands[device].why_none or why
        return Stood(device, self.levels.condition, run.cable.id, run.name, least, most, verdict, why, can)

    def _beside(self, link: Link) -> list[int]:
        """The cores between the same two terminals: they share the current, and how is not known."""
        network, ends = self.levels.study.network, {link.a, link.b}
        return [n for n in network.at[link.a] if {network.links[n].a, network.links[n].b} == ends]

    def _least(self, chain: Chain, link: Link) -> float | None:
        """The smallest fault at either end of a conductor from a source alone, if it can be relied on."""
        network = self.levels.study.network
        amps = []
        for terminal in (network.terminals[link.a], network.terminals[link.b]):
            for back in ("N", "DC-", "PE"):
                pair = (terminal.pole, back)
                if self.levels.largest(terminal.place, pair) is not None:
                    amps.append(self.levels.alone(chain.feed.source, terminal.place, pair))
        known = [each for each in amps if each is not None]
        return None if chain.feed.supply.missing_smallest or len(known) < len(amps) or not known else min(known)

    def series(self, *, only: Container[str] | None = None) -> Iterator[Series]:
        """Every device with the next one upstream of it, from each source; `only` leaves out all other pairs."""
        for chain in self.chains:
            for device, upstream in chain.above.items():
                if upstream is None or (only is not None and (device not in only or upstream not in only)):
                    continue
                low, high = self.greatest(device)
                if high <= _TIE:
                    continue
                near, far = self.bands[device], self.bands[upstream]
                at_most = order(near, far, high)
                # What is certain must hold up to the most that it can be, what is not at the least that it is.
                found = at_most if at_most.verdict != "not" else order(near, far, low)
                if found.verdict == "certain" and at_most.verdict == "not":
                    found = Order("undecided", "the largest fault is not known well enough")
                yield Series(device, upstream, self.levels.condition, chain.feed.source, high, found)


def checks_of(
    vessel: Vessel, network: Network, states: Mapping[str, State], study: FaultStudy | None = None
) -> tuple[DeviceChecks, ...]:
    """All protective devices in all conditions; what conditions share is worked out once."""
    study = study or FaultStudy(vessel, network)
    devices, residuals = devices_of(vessel), residuals_of(vessel)
    return tuple(
        DeviceChecks(study.of(condition, states[key]), devices, residuals)
        for key, condition in vessel.conditions.items()
    )
