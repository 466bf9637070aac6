"""A fault on top of a fault: what one more failure makes of the record as it is, for somebody who touches metal.

Two things must go wrong before a person dies of a touch: a case becomes live, and nothing switches it off. So each
condition is taken with every deficiency that it has now, and one further thing fails: a line touches a case, an outlet
ashore is reversed, a neutral opens, a contact sticks. What is live then, at how many volts, and what ends it?

This module imports NumPy and SciPy; import it where it is needed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from vesselspec.model.devices import Charger, InverterCharger, IsolationTransformer, Receptacles, ShoreInlet
from vesselspec.network.graph import LINES
from vesselspec.network.zones import components
from vesselspec.physics.faults.body import thresholds
from vesselspec.physics.faults.devices import DeviceChecks, EarthFault
from vesselspec.physics.faults.holding import Ended, ended
from vesselspec.physics.faults.shock_circuit import Bench, Solved, exposed, idle_pins
from vesselspec.physics.faults.shock_failures import failures
from vesselspec.physics.faults.shock_outcome import NOTHING, Failure, Outcome, Span, Verdict
from vesselspec.physics.faults.tripping import deadline

#: Current from a supply, as a multiple of the inlet's rating, that counts as a short for the device ashore.
_SHORT = 5.0
_SWELL = 1.1  # share of the normal voltage from which a load counts as overfed


class ShockStudy:
    """One condition with every single further failure."""

    def __init__(self, checks: DeviceChecks) -> None:
        self.checks, self.levels = checks, checks.levels
        self.bench = Bench(checks.levels)
        self.vessel, self.network, self.state = self.bench.vessel, self.bench.network, self.bench.state
        self.metal = exposed(self.bench)
        self.pins = idle_pins(self.bench)
        self.nodes = np.array(sorted(self.metal), np.intp)
        self.limit_v = thresholds().dangerous_v

    def outcomes(self, *, metal_only: bool = False) -> Iterator[Outcome]:
        """What each failure leads to; those that lead to nothing at all are left out.

        `metal_only` leaves out, unsolved, what can make no metal live.
        """
        if not self.bench.feeds:
            return
        yield from self._cases()
        normal = self.bench.solve(NOTHING)
        already = self._others(NOTHING, normal, normal, frozenset())
        if already is not None:
            yield already
        known = frozenset(already.places) if already is not None else frozenset()
        for failure in failures(self.bench, normal, metal_only=metal_only):
            joined = self._joined(failure)
            if joined:
                yield Outcome(
                    failure, self.levels.condition, joined, "cannot judge", (failure.kind, failure.item), why="joined"
                )
                continue
            found = self._others(failure, self.bench.solve(failure), normal, known)
            if found is not None:
                yield found

    # --- a line on a case ------------------------------------------------------------------------------

    def _cases(self) -> Iterator[Outcome]:
        cleared: dict[tuple[str, str], list[EarthFault]] = {}
        for each in self.checks.earth_faults():
            cleared.setdefault((each.place, each.pair[0]), []).append(each)
        for place in self._places():
            case = self.network.index[place, "PE"]
            for pole in LINES:
                line = self.network.index.get((place, pole))
                sources = self.sources_at(line) if line is not None else ()
                if line is not None and sources and place.split("/", 1)[0] not in sources:
                    failure = Failure("case", place.split("/", 1)[0], pole)
                    blank = Outcome(failure, self.levels.condition, sources, "cleared", ("cleared",))
                    yield self._on_case(blank, place, line, case, cleared.get((place, pole), []))

    def _places(self) -> Iterator[str]:
        """Every place where a line can touch a case that somebody can touch."""
        metal = set(self.metal.values())
        for key, load in self.vessel.loads.items():
            if not load.double_insulated:
                yield key
        for key, device in self.vessel.devices.items():
            if isinstance(device, Charger | InverterCharger | IsolationTransformer):
                yield from (f"{key}/{side.name}" for side in device.sides(self.vessel.systems) if side.name != "dc")
        yield from (place for place in self.vessel.sections if place.split("/", 1)[0] in metal)

    def sources_at(self, line: int) -> tuple[str, ...]:
        """The sources that make a terminal live."""
        return tuple(dict.fromkeys(e.source for e in self.state.at(line) if e.pole in LINES))

    def _on_case(self, blank: Outcome, place: str, line: int, case: int, known: list[EarthFault]) -> Outcome:
        pole = self.network.terminals[line].pole
        if self.levels.largest(place, (pole, "PE")) is None:
            return self._unearthed(blank, place, line, case)
        amps, touch, hull = self._short(line, case)
        volts = self.bench.bare.above_earth(line)
        if touch is not None and volts is not None and self._gaps(place, pole):
            touch = touch[0], max(touch[1], volts)
        found = replace(blank, amps=amps, case_v=touch, hull_v=hull)
        if touch is not None and max(touch[1], hull[1] if hull is not None else 0.0) < self.limit_v:
            return replace(found, verdict="below the limit", cause=("below",))
        if not known:
            return self._no_device(found, line)
        worst = min(known, key=lambda each: ("not", "undecided", "certain").index(each.verdict))
        found = replace(found, device=worst.device, why=worst.why, within_s=worst.within_s, missing=worst.missing)
        if worst.verdict == "certain":
            return found
        if worst.verdict == "not":
            return replace(found, verdict="opens late", cause=("late", worst.device))
        about = tuple(f"{item}: {what}" for item, what in worst.missing) or (worst.device, worst.why)
        return replace(found, verdict="cannot judge", cause=("unknown", *about))

    def _no_device(self, found: Outcome, line: int) -> Outcome:
        volts = max((e.volts for e in self.state.at(line)), default=0.0)
        if deadline(volts, 0.0) is None:
            return replace(found, why=f"nothing is laid down for {volts:g} V")
        source = found.sources[0]
        feed = next((feed for feed in self.levels.feeds if feed.source == source and not feed.dc), None)
        if feed is not None and feed.limits_itself:
            place, pole = self.network.terminals[line].place, self.network.terminals[line].pole
            amps = None if self._gaps(place, pole) else found.amps
            return self._from_limited(found, source, ended(self.checks, feed, line, volts, amps))
        why = f"no device on board stands between it and {source}"
        return replace(found, verdict="cannot judge", cause=("unguarded", source), why=why)

    def _from_limited(self, found: Outcome, source: str, end: Ended | None) -> Outcome:
        if end is None:
            return found
        found = replace(found, device=end.device, why=end.why, within_s=end.within_s, missing=end.missing)
        if end.verdict == "certain":
            return found
        if end.verdict == "not":
            return replace(found, verdict="opens late", cause=("late", end.device or source))
        about = tuple(f"{item}: {what}" for item, what in end.missing) or (end.device or source, end.why)
        return replace(found, verdict="cannot judge", cause=("unknown", *about))

    def _unearthed(self, blank: Outcome, place: str, line: int, case: int) -> Outcome:
        """No way back: the case takes the line's voltage, and all metal with it that it is joined to."""
        bare = self.bench.bare
        island = [node for node in self.nodes.tolist() if bare.part[node] == bare.part[case]]
        members = tuple(dict.fromkeys(self.metal[node] for node in island))
        volts = bare.above_earth(line)
        if volts is None:
            return replace(blank, verdict="cannot judge", cause=("floating", *blank.sources), places=members)
        if bare.part[line] == bare.part[case]:
            why = "its earth leads back only by way of another supply's, and what lies between them ashore is not known"
            cause = ("ashore", *blank.sources)
            return replace(blank, verdict="cannot judge", cause=cause, case_v=(0.0, volts), places=members, why=why)
        wet = any(node in self.bench.electrodes for node in island)
        case_v = (0.0 if wet else volts, volts)
        hull = case_v if set(island) & set(self.bench.earth_points) else None
        guards = self._residuals(place, line)
        verdict: Verdict = "stays live" if not guards else "opens when touched"
        device = next((last for chain in self.checks.chains if (last := chain.last.get(line)) is not None), "")
        cause = ("unearthed", *(members if len(members) > 1 else (blank.failure.item,)))
        if volts < self.limit_v:
            verdict, cause = "below the limit", ("below",)
        return replace(
            blank,
            verdict=verdict,
            cause=cause,
            case_v=case_v,
            hull_v=hull,
            places=members,
            residuals=guards,
            device=device,
        )

    def _residuals(self, place: str, line: int) -> tuple[tuple[str, float, float | None], ...]:
        """Residual-current devices before a line, from every source: (place, rated current, delay)."""
        sets = [chain.residual[line] for chain in self.checks.chains if line in chain.residual]
        common = [key for key in sets[0] if all(key in other for other in sets)] if sets else []
        found = [(key, self.checks.residuals[key].residual_a, self.checks.residuals[key].delay_s) for key in common]
        load = self.vessel.loads.get(place)
        if isinstance(load, Receptacles) and load.residual_a is not None:
            found.append((place, load.residual_a, None))
        return tuple(found)

    def _gaps(self, place: str, pole: str) -> bool:
        """Whether a conductor of the loop is not known: taken as no impedance, it hides what the case takes."""
        items = {item for item, _ in self.levels.missing(place, (pole, "PE"))}
        return any(item in self.vessel.cables for item in items)

    def _short(self, line: int, case: int) -> tuple[float | None, Span | None, Span | None]:
        """Current of a bolted short, and the touch voltages while it lasts."""
        found = [(each, each.factored.short(line, case)) for each in (self.bench.bare, self.bench.bare_earthed)]
        nodes = np.array(list(dict.fromkeys((case, *self.bench.earth_points))), np.intp)
        ends = [(solved.metal_v(nodes, one[1]), abs(one[0])) for solved, one in found if one is not None]
        if len(ends) < len(found):
            volts = self.bench.bare.above_earth(line)
            return None, None if volts is None else (0.0, volts), None
        metal = [each for each, _ in ends]
        return ends[0][1], _span(metal, [case]), self._hull(metal)

    def _hull(self, ends: list[dict[int, float]]) -> Span | None:
        return _span(ends, [node for node in self.bench.earth_points if node in self.metal])

    # --- everything else -------------------------------------------------------------------------------

    def _others(self, failure: Failure, solved: Solved, normal: Solved, known: frozenset[str]) -> Outcome | None:
        """What a failure makes live that was not before; None where it does nothing that a person would notice."""
        ends = [self._live(solved)]
        if any(volts >= self.limit_v for volts in ends[0].values()) and self.bench.electrodes:
            ends.append(self._live(self.bench.solve(failure, electrodes=True)))
        most = {node: max(end.get(node, 0.0) for end in ends) for node in ends[0]}
        hot = sorted((node for node, volts in most.items() if volts >= self.limit_v), key=lambda node: -most[node])
        names = {**self.metal, **self.pins}
        places = tuple(p for p in dict.fromkeys(names[node] for node in hot) if p not in known)
        sources = self._sources_of(failure)
        blank = Outcome(failure, self.levels.condition, sources, "nothing live", (failure.kind, failure.item))
        if failure.kind == "neutral":
            blank = replace(blank, feeds=self._swell(solved, normal))
        if failure.kind == "reversed":
            blank = replace(blank, live_off=self._live_off(failure.item))
        if not places:
            return blank if blank.feeds or blank.live_off else None
        span = _span(ends, hot[:1])
        found = replace(blank, verdict="stays live", case_v=span, hull_v=self._hull(ends), places=places)
        if any(node in self.metal for node in hot):
            found = replace(found, culprits=self._joints())
        amps = self._shorted(solved)
        if amps is not None:
            return replace(found, verdict="cannot judge", amps=amps, why="the device ashore is not recorded")
        guards = self._saved_by(failure, frozenset(hot))
        return replace(found, verdict="opens when touched", residuals=guards) if guards else found

    def _saved_by(self, failure: Failure, hot: frozenset[int]) -> tuple[tuple[str, float, float | None], ...]:
        """The residual-current devices that, once open, leave none of the hot metal live.

        One that opens the lines only does not help where the neutral is what is live.
        """
        found = []
        for key, device in self.checks.residuals.items():
            poles = frozenset(n for n, link in enumerate(self.network.links) if link.switch == key)
            if poles and any(self.bench.closed[n] for n in poles):
                after = self._live(self.bench.solve(replace(failure, opens=failure.opens | poles)))
                if all(after.get(node, 0.0) < self.limit_v for node in hot):
                    found.append((key, device.residual_a, device.delay_s))
        return tuple(found)

    def _sources_of(self, failure: Failure) -> tuple[str, ...]:
        """The sources that a failure is about: those at the links that it opens or closes."""
        every = tuple(feed.source for feed in self.bench.feeds)
        if failure.item in every:
            return (failure.item,)
        links = [self.network.links[n] for n in (*failure.opens, *failure.closes)]
        here = {e.source for link in links for n in (link.a, link.b) for e in self.state.at(n)}
        return tuple(source for source in every if source in here) or every

    def _live(self, solved: Solved) -> dict[int, float]:
        """The touch voltage of all metal, and of the pins of idle inlets."""
        nodes = np.array(sorted({**self.metal, **self.pins}), np.intp)
        return solved.metal_v(nodes, solved.volts)

    def _shorted(self, solved: Solved) -> float | None:
        """The current of a supply ashore where it is that of a short: the device ashore has to end it."""
        net, ratings = solved.net, {}
        for feed in self.bench.feeds:
            device = self.vessel.devices[feed.source]
            if isinstance(device, ShoreInlet):
                ratings[feed.star] = device.rating_a or 63.0
        for plus, minus, emf, z in zip(net.plus, net.minus, net.emf, net.source_z, strict=True):
            if z and int(minus) in ratings:
                amps = abs(complex(emf - (solved.volts[plus] - solved.volts[minus])) / complex(z))
                if amps > _SHORT * ratings[int(minus)]:
                    return amps
        return None

    def _swell(self, solved: Solved, normal: Solved) -> Span | None:
        """Voltage across the loads between a line and neutral, at least and at most, where it rises."""
        now, rises = [], False
        for a, b, _ in self.bench.loads:
            volts, was = solved.across(a, b), normal.across(a, b)
            if self.network.terminals[b].pole == "N" and volts is not None and was:
                now.append(volts)
                rises |= volts > _SWELL * was
        return (min(now), max(now)) if rises else None

    def _joints(self) -> tuple[str, ...]:
        """The items on board that join the neutral of a supply ashore with earth."""
        ashore = [feed for feed in self.bench.feeds if feed.star >= 0]
        links = [self.network.links[number] for feed in ashore for number, _ in self.bench.joints(feed)]
        return tuple(dict.fromkeys(link.item for link in links))

    def _live_off(self, source: str) -> tuple[str, ...]:
        """Loads of a supply whose own way opens the line but not the neutral."""
        vessel = self.vessel
        found: dict[str, None] = {}
        for chain in self.checks.chains:
            for terminal, device in chain.last.items() if chain.feed.source == source else ():
                at = self.network.terminals[terminal]
                load = vessel.loads.get(at.place)
                way = vessel.ways.get(device or "")
                if (
                    load is not None
                    and way is not None
                    and (at.place, "N") in self.network.index
                    and "N" not in way[2].poles
                ):
                    found[at.place] = None
        return tuple(found)

    def _joined(self, failure: Failure) -> tuple[str, ...]:
        """Sources that a closed contact joins, line to line, and that were apart."""
        if not failure.closes:
            return ()
        network, links = self.network, self.network.links
        extra = [(links[n].a, links[n].b) for n in failure.closes]
        closed = [(links[n].a, links[n].b) for n in np.flatnonzero(self.bench.closed).tolist()]
        live = [(a, b) for a, b in (*closed, *extra) if network.terminals[a].pole in LINES]
        part = components(len(network.terminals), live)
        at: dict[int, dict[str, None]] = {}
        for feed in self.bench.feeds:
            for terminal, _ in feed.plus:
                at.setdefault(part[terminal], {})[feed.source] = None
        return next((tuple(names) for names in at.values() if len(names) > 1), ())


def _span(ends: list[dict[int, float]], nodes: list[int]) -> Span | None:
    """The least and the most, over both assumptions, of the greatest voltage at some nodes."""
    found = [max(volts) for end in ends if (volts := [end[node] for node in nodes if node in end])]
    return (min(found), max(found)) if found else None
