"""Constant powers: iterated as injected currents, by Newton's method where that is slow, and down to their limit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from scipy.sparse import csc_array, csr_array
from scipy.sparse import hstack as sparse_hstack
from scipy.sparse import vstack as sparse_vstack

from vesselspec.physics.steady.arrays import Bools, Indices, Numbers
from vesselspec.physics.steady.circuit import Collapse
from vesselspec.physics.steady.matrices import Incidence, Lu

TOLERANCE: Final = 1e-9
"""Greatest estimated error of any load's voltage, relative to it, at which the iteration stops."""

_INJECTIONS: Final = 40
_PATIENCE: Final = 8
_SLOW: Final = 0.8  # ratio of two steps above which Newton is quicker
_NEWTONS: Final = 25
_FINEST: Final = 1 / 128  # of the powers, when a collapse is bounded


@dataclass(eq=False)
class Progress:
    """Unknowns of a system under way, with what is known of the iteration for each island."""

    x: Numbers
    iterations: int = 0
    collapses: list[Collapse] = field(default_factory=list)


@dataclass(eq=False)
class Powers:
    """The constant powers of a load set, or those of one island: their currents, and Newton's method for them.

    `power` is 0 where the load is starved, and `y` the admittance that then takes its place, else 0. `unloaded` is the
    voltage without constant powers; `least` the nominal voltage of a starved load, which its changes are measured by,
    else 0. `rows` are the unknowns of the system that `matrix`, `right` and `between` are cut down to, `gap` the known
    part of the voltages.
    """

    loads: Indices
    power: Numbers
    y: Numbers
    unloaded: npt.NDArray[np.float64]
    least: npt.NDArray[np.float64]
    gap: Numbers
    between: Incidence
    matrix: Any
    right: Numbers
    rows: Indices

    def part(self, mine: Bools, rows: Indices) -> Powers:
        """Some of the loads, with the unknowns that they depend on."""
        return Powers(
            loads=self.loads[mine],
            power=self.power[mine],
            y=self.y[mine],
            unloaded=self.unloaded[mine],
            least=self.least[mine],
            gap=self.gap[mine],
            between=self.between.part(rows, mine),
            matrix=csc_array(csr_array(self.matrix)[rows][:, rows]),
            right=self.right[rows],
            rows=rows,
        )

    def voltage(self, x: Numbers) -> Numbers:
        """Voltage across each load in V."""
        return self.between.across(x) + self.gap

    def currents(self, voltage: Numbers) -> Numbers:
        """Current that each draws in A."""
        drawn = np.divide(self.power, voltage, out=np.zeros_like(voltage), where=self.power != 0)
        currents: Numbers = np.conj(drawn) + self.y * voltage
        return currents

    def change(self, before: Numbers, after: Numbers) -> npt.NDArray[np.float64]:
        """Relative change of each load's voltage; that of a starved one counts from its nominal voltage."""
        change: npt.NDArray[np.float64] = np.abs(after - before) / np.maximum(np.abs(after), self.least)
        return np.where(np.isfinite(change), change, np.inf)

    def follow(self, state: Progress) -> None:
        """Solve with Newton's method; where that fails, raise the powers as far as a solution can be followed.

        Leaves the solution in `state`, and in `power` what was served.
        """
        x, full, scale, step = state.x[self.rows], self.power, 0.0, 1.0
        while scale < 1 and step >= _FINEST:
            target = min(1.0, scale + step)
            self.power = full * target
            found = self._newton(x, state)
            if found is None:
                step /= 2
            else:
                x, scale = found, target
        self.power = full * scale
        state.x[self.rows] = x
        if scale < 1:
            ratio = np.full(len(full), np.inf)
            np.divide(np.abs(self.voltage(x)), self.unloaded, out=ratio, where=full != 0)
            # Where nothing at all can be served, all voltages are whole: the greatest power is the one to blame.
            worst = int(np.argmin(ratio) if scale else np.argmax(np.abs(full)))
            state.collapses.append(
                Collapse(int(self.loads[worst]), scale, complex(self.power[worst]), float(ratio[worst]))
            )

    def _newton(self, x: Numbers, state: Progress) -> Numbers | None:
        """Solution near x for the upper voltage, or None."""
        with np.errstate(all="ignore"):
            voltage = self.voltage(x)
            error = self._mismatch(x, voltage)
            for _ in range(_NEWTONS):
                factor = self._jacobian(voltage)
                if factor is None:
                    return None
                state.iterations += 1
                full = self._correction(factor, -error)
                step, size = 1.0, np.linalg.norm(error)
                for _ in range(8):
                    new = x + step * full
                    new_voltage = self.voltage(new)
                    new_error = self._mismatch(new, new_voltage)
                    if np.linalg.norm(new_error) < size:
                        break
                    step /= 2
                change = self.change(voltage, new_voltage)
                if not np.all(np.isfinite(new)):
                    return None
                x, voltage, error = new, new_voltage, new_error
                if step > 0.5 and np.all(change <= TOLERANCE):
                    factor = self._jacobian(voltage)
                    return x if factor is not None and factor.determinant_is_positive() else None
                if step < 1 / 64 and np.all(change > TOLERANCE):
                    return None
        return None

    def _mismatch(self, x: Numbers, voltage: Numbers) -> Numbers:
        mismatch: Numbers = self.matrix @ x + self.between.sums(self.currents(voltage)) - self.right
        return mismatch

    def _jacobian(self, voltage: Numbers) -> Lu | None:
        slope = np.conj(np.divide(self.power, voltage**2, out=np.zeros_like(voltage), where=self.power != 0))
        if not np.all(np.isfinite(slope)):
            return None
        linear = self.matrix + self.between.nodal(self.y)
        try:
            if not np.iscomplexobj(slope):
                return Lu(linear - self.between.nodal(slope), pivoting=True)
            bent = self.between.nodal(slope)
            top = sparse_hstack((linear.real - bent.real, -linear.imag - bent.imag))
            bottom = sparse_hstack((linear.imag - bent.imag, linear.real + bent.real))
            return Lu(sparse_vstack((top, bottom)), pivoting=True)
        except RuntimeError:
            return None

    def _correction(self, factor: Lu, error: Numbers) -> Numbers:
        if not np.iscomplexobj(error):
            return factor.solve(error)
        both = factor.solve(np.concatenate((error.real, error.imag)))
        half = len(error)
        joined: Numbers = both[:half] + 1j * both[half:]
        return joined


def settle(
    powers: Powers,
    island: Indices,
    unknown_island: Indices,
    linear: Callable[[Numbers], Numbers],
    state: Progress,
) -> None:
    """Bring the constant powers to rest, island by island where need be.

    `island` is that of each load, `unknown_island` that of each unknown; `linear` solves for a right side.
    """
    start = state.x
    for number in _inject(powers, island, linear, state):
        rows, mine = np.flatnonzero(unknown_island == number), island == number
        state.x[rows] = start[rows]
        part = powers.part(mine, rows)
        part.follow(state)
        powers.power[mine] = part.power


def _inject(powers: Powers, island: Indices, linear: Callable[[Numbers], Numbers], state: Progress) -> Indices:
    """Iterate on injected currents. Returns the islands that have not come to rest."""
    x, voltage = state.x, powers.voltage(state.x)
    islands = int(island.max()) + 1
    before = np.full(islands, np.inf)
    unsettled = np.unique(island)
    with np.errstate(all="ignore"):
        for count in range(_INJECTIONS):
            x = linear(powers.right - powers.between.sums(powers.currents(voltage)))
            state.iterations += 1
            last, voltage = voltage, powers.voltage(x)
            worst = np.zeros(islands)
            np.maximum.at(worst, island, powers.change(last, voltage))
            ratio = np.where(worst > 0, worst / before, 0.0)
            # The steps form a geometric series; noise at the last digits does not.
            error = np.where(ratio < 1, worst * np.maximum(1.0, ratio / (1 - ratio)), np.inf)
            unsettled = np.flatnonzero((error > TOLERANCE) & (worst > 0.1 * TOLERANCE))
            if not len(unsettled) or (count > _PATIENCE and np.all(ratio[unsettled] > _SLOW)):
                break
            before = worst
    state.x = np.where(np.isfinite(x), x, 0.0)
    return unsettled
