"""Sources that give current one way only, up to a current and up to a voltage; a diode is the simplest of them.

A charger is such a source: below its set voltage it gives its current limit, at its set voltage what is asked for, and
above it nothing. In which of the three states each of them is, is found by trying: solve, take the one that breaks the
law of its state most, put it into the state that this points to, and solve again. What lies between the sources takes
power, so the states settle; whether they did is told.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from vesselspec.physics.steady.circuit import Circuit, Load, Source
from vesselspec.physics.steady.nodal import Factor, Solution

Mode = Literal["limit", "hold", "off"]

_AMPS: Final = 1e-6  # and that share of the limit: what a current may break a law by
_VOLTS: Final = 1e-9  # share of the set voltage


@dataclass(frozen=True, slots=True)
class Limited:
    """A source from `minus` to `plus`: at most `amps`, at most `volts` (inf for no limit), never backwards.

    `first` is the state to try first. One without a limit of current cannot start there.
    """

    plus: int
    minus: int
    volts: float
    amps: float
    nominal: float
    first: Mode = "limit"


def diode(a: int, b: int, nominal: float) -> Limited:
    """An ideal diode that conducts from a to b."""
    return Limited(plus=b, minus=a, volts=0.0, amps=math.inf, nominal=nominal, first="hold")


@dataclass(frozen=True, eq=False)
class Settled:
    """A solution with what each limited source gives, in A. Further loads and sources follow the circuit's own."""

    solution: Solution
    amps: tuple[float, ...]
    modes: tuple[Mode, ...]
    settled: bool

    def volts(self, each: Limited) -> float:
        """Voltage from minus to plus."""
        nodes = self.solution.node_voltages
        return float((nodes[each.plus] - nodes[each.minus]).real)


class LimitedCircuit:
    """A DC circuit with limited sources, made ready to be solved with many load sets and limits."""

    def __init__(self, circuit: Circuit, limited: Sequence[Limited]) -> None:
        self.circuit, self.limited = circuit, tuple(limited)
        self.modes: list[Mode] = [each.first for each in self.limited]
        self._factors: dict[tuple[bool, ...], Factor] = {}

    def solve(self, loads: Sequence[Load] | None = None, amps: Sequence[float] | None = None) -> Settled:
        """Solve with these loads and limits of current, or the circuit's own; starts from the states found last."""
        drawn = self.circuit.loads if loads is None else tuple(loads)
        most = [each.amps for each in self.limited] if amps is None else list(amps)
        seen: set[tuple[Mode, ...]] = set()
        for _ in range(6 * len(self.limited) + 6):
            found = self._with_modes(drawn, most)
            broken = [state for number in range(len(self.limited)) if (state := self._broken(found, number, most))]
            if not broken:
                return found
            again = tuple(self.modes) in seen
            seen.add(tuple(self.modes))
            # Once in a circle, in order of number: no circle then lasts.
            _, number, mode = broken[0] if again else max(broken, key=lambda each: each[0])
            self.modes[number] = mode
        return replace(found, settled=False)

    def _with_modes(self, loads: Sequence[Load], most: Sequence[float]) -> Settled:
        modes = tuple(self.modes)
        key = tuple(mode == "hold" for mode in modes)
        holding = [each for each, mode in zip(self.limited, modes, strict=True) if mode == "hold"]
        if key not in self._factors:
            held = (Source(each.plus, each.minus, each.volts) for each in holding)
            self._factors[key] = Factor(replace(self.circuit, sources=(*self.circuit.sources, *held)))
        given = tuple(
            Load(each.plus, each.minus, each.nominal, current=-most[number] if modes[number] == "limit" else 0.0)
            for number, each in enumerate(self.limited)
        )
        solution = self._factors[key].solve((*loads, *given))
        amps, at = [], len(self.circuit.sources)
        for number, mode in enumerate(modes):
            if mode == "hold":
                amps.append(float(solution.source_currents[at].real))
                at += 1
            else:
                amps.append(-float(solution.load_currents[len(loads) + number].real))
        return Settled(solution, tuple(amps), modes, True)

    def _broken(self, found: Settled, number: int, most: Sequence[float]) -> tuple[float, int, Mode] | None:
        """How far a source breaks the law of its state, and the state that it belongs in then."""
        each, mode = self.limited[number], found.modes[number]
        if mode == "hold":
            amps, slack = found.amps[number], _AMPS * max(1.0, min(most[number], 1e6))
            if amps < -slack:
                return -amps, number, "off"
            if amps > most[number] + slack:
                return amps - most[number], number, "limit"
            return None
        over = found.volts(each) - each.volts
        slack = _VOLTS * max(1.0, abs(each.nominal))
        if mode == "limit" and over > slack:
            return over, number, "hold"
        if mode == "off" and over < -slack:
            return -over, number, "hold"
        return None
