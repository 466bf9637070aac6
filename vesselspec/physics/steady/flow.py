"""One operating condition, solved: the voltage at every terminal and the current in every core and contact.

AC and DC are two circuits over the same conductors, coupled through converters. The AC circuit comes first: inverters
hold their voltage whatever their battery does, and chargers draw what they would give at nominal voltage. What
inverters then give is drawn from the DC circuit, together with the DC loads; what chargers really give there is drawn
from AC in the next round, until neither changes. Converters that feed each other are named and taken apart first.

What is not recorded is taken as what it can be at best and named in `assumptions`, with the side to which the
result errs: a conductor of unknown length or size drops no voltage, a source of unknown impedance is stiff, a load of
unknown power draws nothing.

This module imports NumPy and SciPy through the solver; import it where it is needed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from vesselspec.model.devices import Inverter, InverterCharger
from vesselspec.model.items import Condition
from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import INVERTING
from vesselspec.network.graph import Network
from vesselspec.network.state import State
from vesselspec.physics.steady.ac_side import AcSide
from vesselspec.physics.steady.assembly import ROUNDS, Assembly, Draft, Wires, unchanged
from vesselspec.physics.steady.dc_side import DcSide
from vesselspec.physics.steady.limited import Settled
from vesselspec.physics.steady.notes import Assumption, Loop, Trouble
from vesselspec.physics.steady.solution import Solution

__all__ = ["Assumption", "Flow", "LoadFlow", "Loop", "SourceFlow", "Trouble", "Wires", "solve_condition"]


@dataclass(frozen=True)
class LoadFlow:
    """A part of a load: its poles, the voltage across it in V, its nominal voltage, and its current in A."""

    load: str
    poles: tuple[str, str]
    volts: float
    nominal_v: float
    amps: float


@dataclass(frozen=True)
class SourceFlow:
    """What one pole of a source gives, in A; negative where it takes (a battery being charged)."""

    source: str
    pole: str
    amps: float
    watts: float


@dataclass(frozen=True)
class Flow:
    """A condition, solved. Voltages and currents by terminal and link, AC and DC apart, as magnitudes."""

    condition: str
    ac_amps: Mapping[int, float]
    dc_amps: Mapping[int, float]
    ac_volts: Mapping[int, complex]
    dc_volts: Mapping[int, float]
    loads: tuple[LoadFlow, ...]
    sources: tuple[SourceFlow, ...]
    troubles: tuple[Trouble, ...]
    loops: tuple[Loop, ...]
    assumptions: tuple[Assumption, ...]
    unfed: tuple[str, ...]
    floating: tuple[str, ...]

    def amps(self, link: int) -> float:
        """The current in a link, in A: the larger of AC and DC, for no conductor is meant to carry both."""
        return max(self.ac_amps.get(link, 0.0), self.dc_amps.get(link, 0.0))


def solve_condition(
    vessel: Vessel, network: Network, condition: Condition, state: State, wires: Wires | None = None
) -> Flow:
    """Solve one condition; `wires` is what conditions of one network share.

    Nothing is raised for a bad network: `troubles` says what is wrong and where.
    """
    work = Assembly(vessel, network, condition, state, wires)
    ac = AcSide(work)
    dc = DcSide(work, ac.chargers)
    _couple(work, ac, dc)
    for item, missing in state.gaps:
        work.assume(item, missing, "open", "what it would feed is not counted")
    for trouble in (*ac.over.values(), *dc.troubles()):
        work.troubles[trouble] = None
    loads: list[LoadFlow] = []
    sources: list[SourceFlow] = []
    for draft, found in ((ac.draft, ac.found), (dc.draft, dc.solved)):
        _troubles(work, draft, found)
        loads += _loads(work, draft, found.solution)
        sources += _sources(draft, found)
    return Flow(
        condition=condition.id,
        ac_amps=_amps(ac.draft, ac.found),
        dc_amps=_amps(dc.draft, dc.solved),
        ac_volts=dict(enumerate(ac.found.solution.node_voltages[: len(network.terminals)].tolist())),
        dc_volts=dict(enumerate(dc.solved.solution.node_voltages.real[: len(network.terminals)].tolist())),
        loads=tuple(loads),
        sources=tuple(sources),
        troubles=tuple(work.troubles),
        loops=work.loops,
        assumptions=tuple(sorted(work.assumptions)),
        unfed=tuple(work.unfed),
        floating=_floating(network, ac.found.solution),
    )


def _couple(work: Assembly, ac: AcSide, dc: DcSide) -> None:
    """Solve AC and DC in turn until what chargers and inverters hand from one to the other has settled."""
    drawn: dict[str, float] = {}
    before: tuple[dict[str, float], dict[str, float]] | None = None
    for _ in range(ROUNDS):
        wanted = {key: watts for key in ac.chargers if (watts := dc.drawn_w(key)) is not None}
        if before is not None and unchanged(wanted, drawn):
            return
        drawn = wanted
        ac.solve(wanted)
        now = _between(work, ac)
        if before is None or not (unchanged(now[0], before[0]) and unchanged(now[1], before[1])):
            dc.solve(*now)
            before = now


def _between(work: Assembly, ac: AcSide) -> tuple[dict[str, float], dict[str, float]]:
    """What each inverter that inverts gives, and what AC leaves each inverter-charger for charging, in W."""
    inverters: dict[str, float] = {}
    room: dict[str, float] = {}
    for key, device in work.vessel.devices.items():
        if not isinstance(device, Inverter | InverterCharger) or key in work.left_out:
            continue
        inverting = isinstance(device, Inverter) or work.state.positions.get(key) == INVERTING
        supports = any(item.split(":")[0] == key for item in ac.support)
        if key in work.running and (inverting or supports):
            inverters[key] = ac.inverter_w(key)
        if isinstance(device, InverterCharger) and key in ac.chargers:
            left = ac.room_w(device)
            if left is not None:
                room[key] = left
    return inverters, room


def _loads(work: Assembly, draft: Draft, solution: Solution) -> Iterator[LoadFlow]:
    each_v, each_a = np.abs(solution.load_voltages).tolist(), np.abs(solution.load_currents).tolist()
    for (load, poles, nominal), volts, amps in zip(
        draft.load_of, each_v, each_a, strict=False
    ):  # elements of limited sources follow
        if amps > 0 or load in work.vessel.loads:  # a charger that gives nothing is told in `assumptions`
            yield LoadFlow(load, poles, volts, nominal, amps)


def _sources(draft: Draft, found: Settled) -> Iterator[SourceFlow]:
    nodes = found.solution.node_voltages
    for number, (source, pole) in enumerate(draft.source_of):
        element = draft.sources[number]
        current = complex(found.solution.source_currents[number])
        watts = (complex(nodes[element.plus] - nodes[element.minus]) * current.conjugate()).real
        yield SourceFlow(source, pole, math.copysign(abs(current), watts), watts)
    for number, (source, pole) in enumerate(draft.limited_of):
        if number not in draft.diodes:
            amps = found.amps[number]
            yield SourceFlow(source, pole, amps, found.volts(draft.limited[number]) * amps)


def _amps(draft: Draft, found: Settled) -> dict[int, float]:
    """The current of each link, in A."""
    amps = {link: abs(found.amps[number]) for number, link in draft.diodes.items() if found.amps}
    for links, currents in (
        (draft.branch_links, found.solution.branch_currents),
        (draft.contact_links, found.solution.contact_currents),
    ):
        amps.update(zip(links, np.abs(currents).tolist(), strict=False))
    amps.pop(-1, None)  # what stands for no link
    return amps


def _floating(network: Network, solution: Solution) -> tuple[str, ...]:
    """Terminals of live islands that nothing ties to any earth, each island named by its first terminal."""
    islands, terminals = solution.islands, network.terminals
    names = []
    for island, reference in enumerate(islands.reference):
        if islands.dead[island] or (reference < len(terminals) and terminals[int(reference)].pole == "PE"):
            continue
        mine = np.flatnonzero(islands.of_node[: len(terminals)] == island)
        if len(mine):
            names.append(terminals[int(mine[0])].name)
    return tuple(names)


def _troubles(work: Assembly, draft: Draft, found: Settled) -> None:
    """Turn what the solver says into words about the boat."""
    solution = found.solution
    held = [
        of[0] or work.network.links[draft.diodes[number]].item
        for number, of in enumerate(draft.limited_of)
        if found.modes and found.modes[number] == "hold"
    ]
    named = [*(source for source, _ in draft.source_of), *held]
    for collapse in solution.collapses:
        load = draft.load_of[collapse.load][0]
        work.troubles[
            Trouble(
                "collapse",
                (load,),
                f"the wiring cannot deliver what the loads ask for: at {collapse.scale * 100:.0f} % of it the voltage "
                f"at {load} has fallen to {collapse.voltage_ratio * 100:.0f} % and there is no solution beyond",
            )
        ] = None
    for contradiction in solution.contradictions:
        items = tuple(dict.fromkeys(named[number] for number in contradiction.sources))
        work.troubles[
            Trouble("contradiction", items, f"{' and '.join(items)} are joined at different voltages: a short circuit")
        ] = None
    for problem in solution.problems:
        work.troubles[Trouble("invalid", (), f"{problem.kind} {problem.index}: {problem.text}")] = None
    if not found.settled:
        items = tuple(dict.fromkeys(source for source, _ in draft.limited_of if source))
        words = "which of these gives current did not settle"
        work.troubles[Trouble("invalid", items, f"{words}: {', '.join(items)}")] = None
