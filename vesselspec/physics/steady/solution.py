"""What solving a circuit gives: every voltage and current, the islands, and what was wrong."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from vesselspec.physics.steady.arrays import Bools, Indices, Phasors, sealed
from vesselspec.physics.steady.circuit import Circuit, Collapse, Contradiction, Problem

Status = Literal["solved", "collapsed", "contradiction", "undetermined", "dead", "invalid"]


@dataclass(frozen=True, eq=False)
class Islands:
    """The connected parts of a circuit. `of_node` gives the island of each node; the rest has one entry an island.

    `reference` is the node that its voltages are measured against; `dead` says that it has no source, so that all
    its voltages are 0; `floating` that it has one, but no tie to the circuit's first reference. Loads connect too:
    what hangs on a live line by a load alone is as live as the line.
    """

    of_node: Indices
    reference: Indices
    dead: Bools
    floating: Bools


@dataclass(frozen=True, eq=False)
class Solution:
    """Result of a steady state; all phasors in V, A and VA, in the order of the circuit's elements.

    `status`, the gravest that holds of any island:
    invalid: `problems` names elements that cannot be computed with; there are no figures.
    contradiction: `contradictions` names ideal sources that fight each other; figures of those islands are NaN.
    undetermined: the matrix is singular (a resonance without loss, say); figures of live islands are NaN, or not to be
    trusted where it is so nearly.
    collapsed: `collapses` names loads that cannot be served; figures there are those at the collapse's scale.
    dead: no island has a source; all figures are 0.
    solved: all is well.

    Load currents count from `a` to `b`, branch and contact currents too, source currents as delivered.
    `as_impedance` names the constant powers and currents that were taken as the impedance that draws them at their
    nominal voltage, for as they are they have no stable state: loads that alone tie two parts of the network
    together (a lost neutral, an open return), and constant powers which less than a quarter of their nominal
    voltage reaches. `residual_a` is the greatest sum of the currents at any node. `iterations` counts solutions of
    the linear system.
    """

    status: Status
    node_voltages: Phasors
    branch_currents: Phasors
    contact_currents: Phasors
    source_currents: Phasors
    load_voltages: Phasors
    load_currents: Phasors
    load_powers: Phasors
    islands: Islands
    residual_a: float
    iterations: int
    as_impedance: tuple[int, ...] = ()
    problems: tuple[Problem, ...] = ()
    contradictions: tuple[Contradiction, ...] = ()
    collapses: tuple[Collapse, ...] = ()


def unsolvable(circuit: Circuit, loads: int, problems: tuple[Problem, ...]) -> Solution:
    """The result for a circuit with elements that cannot be computed with: no figures."""

    def nothing(count: int) -> Phasors:
        return sealed(np.full(count, np.nan, np.complex128))

    nodes = max(circuit.nodes, 0)
    none = np.zeros(0, np.intp)
    return Solution(
        status="invalid",
        node_voltages=nothing(nodes),
        branch_currents=nothing(len(circuit.branches)),
        contact_currents=nothing(len(circuit.contacts)),
        source_currents=nothing(len(circuit.sources)),
        load_voltages=nothing(loads),
        load_currents=nothing(loads),
        load_powers=nothing(loads),
        islands=Islands(np.full(nodes, -1, np.intp), none, none.astype(np.bool_), none.astype(np.bool_)),
        residual_a=float("nan"),
        iterations=0,
        problems=problems,
    )
