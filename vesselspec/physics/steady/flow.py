"""One operating condition, solved: the voltage at every terminal and the current in every core and contact.

AC and DC are two circuits over the same conductors, coupled through converters. The AC circuit comes first: inverters
hold their voltage whatever their battery does, and chargers draw what their charging current asks for. What inverters
then give is drawn from the DC circuit, together with the DC loads.

What is not recorded is taken as what it can be at best and named in `assumptions`, with the side to which the
result errs: a conductor of unknown length or size drops no voltage, a source of unknown impedance is stiff, a load of
unknown power draws nothing.

This module imports NumPy and SciPy through the solver; import it where it is needed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from vesselspec.model.items import Condition
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import Network
from vesselspec.network.state import State
from vesselspec.physics.steady.ac_side import solve_ac
from vesselspec.physics.steady.assembly import Assembly, Assumption, Draft, Trouble
from vesselspec.physics.steady.dc_side import solve_dc
from vesselspec.physics.steady.nodal import Solution

__all__ = ["Assumption", "Flow", "LoadFlow", "SourceFlow", "Trouble", "solve_condition"]


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
    assumptions: tuple[Assumption, ...]
    unfed: tuple[str, ...]
    floating: tuple[str, ...]

    def amps(self, link: int) -> float:
        """The current in a link, in A: the larger of AC and DC, for no conductor is meant to carry both."""
        return max(self.ac_amps.get(link, 0.0), self.dc_amps.get(link, 0.0))


def solve_condition(vessel: Vessel, network: Network, condition: Condition, state: State) -> Flow:
    """Solve one condition. Nothing is raised for a bad network: `troubles` says what is wrong and where."""
    work = Assembly(vessel, network, condition, state)
    ac, ac_solution = solve_ac(work)
    dc, dc_solution = solve_dc(work, ac, ac_solution)
    for item, missing in state.gaps:
        work.assume(item, missing, "open", "what it would feed is not counted")
    loads: list[LoadFlow] = []
    sources: list[SourceFlow] = []
    for draft, solution in ((ac, ac_solution), (dc, dc_solution)):
        _troubles(work, draft, solution)
        for number, (load, poles, nominal) in enumerate(draft.load_of):
            volts = abs(complex(solution.load_voltages[number]))
            amps = abs(complex(solution.load_currents[number]))
            loads.append(LoadFlow(load, poles, volts, nominal, amps))
        for number, (source, pole) in enumerate(draft.source_of):
            element = draft.sources[number]
            current = complex(solution.source_currents[number])
            volts_at = complex(solution.node_voltages[element.plus] - solution.node_voltages[element.minus])
            watts = (volts_at * current.conjugate()).real
            sources.append(SourceFlow(source, pole, math.copysign(abs(current), watts), watts))
    return Flow(
        condition=condition.id,
        ac_amps=_amps(ac, ac_solution),
        dc_amps=_amps(dc, dc_solution),
        ac_volts={n: complex(ac_solution.node_voltages[n]) for n in range(len(network.terminals))},
        dc_volts={n: float(complex(dc_solution.node_voltages[n]).real) for n in range(len(network.terminals))},
        loads=tuple(loads),
        sources=tuple(sources),
        troubles=tuple(work.troubles),
        assumptions=tuple(sorted(work.assumptions)),
        unfed=tuple(work.unfed),
        floating=_floating(network, ac_solution),
    )


def _amps(draft: Draft, solution: Solution) -> dict[int, float]:
    """The current of each link, in A."""
    found: dict[int, float] = {}
    for links, currents in (
        (draft.branch_links, solution.branch_currents),
        (draft.contact_links, solution.contact_currents),
    ):
        for number, link in enumerate(links):
            if link >= 0:
                found[link] = abs(complex(currents[number]))
    return found


def _floating(network: Network, solution: Solution) -> tuple[str, ...]:
    """Terminals of live islands that nothing ties to any earth, each island named by its first terminal."""
    islands = solution.islands
    earths = {number for number, terminal in enumerate(network.terminals) if terminal.pole == "PE"}
    names = []
    for island, reference in enumerate(islands.reference):
        if int(reference) not in earths and not islands.dead[island]:
            first = next((n for n in range(len(network.terminals)) if islands.of_node[n] == island), None)
            if first is not None:
                names.append(network.terminals[first].name)
    return tuple(names)


def _troubles(work: Assembly, draft: Draft, solution: Solution) -> None:
    """Turn what the solver says into words about the boat."""
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
        items = tuple(dict.fromkeys(draft.source_of[number][0] for number in contradiction.sources))
        work.troubles[
            Trouble("contradiction", items, f"{' and '.join(items)} are joined at different voltages: a short circuit")
        ] = None
    for problem in solution.problems:
        work.troubles[Trouble("invalid", (), f"{problem.kind} {problem.index}: {problem.text}")] = None
