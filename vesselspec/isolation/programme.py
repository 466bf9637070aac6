"""A mixed-integer programme with several demands, one after the other (SciPy, HiGHS)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

#: By variable.
Weights = Mapping[int, float]


@dataclass
class Programme:
    """Variables between bounds, rows that hold them together, and what is to be least."""

    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    whole: list[int] = field(default_factory=list)
    rows: list[Weights] = field(default_factory=list)
    least: list[float] = field(default_factory=list)
    most: list[float] = field(default_factory=list)

    def variable(self, low: float = 0.0, high: float = 1.0, *, whole: bool = False) -> int:
        """A new variable; `whole` where it must be an integer."""
        self.low.append(low)
        self.high.append(high)
        self.whole.append(int(whole))
        return len(self.low) - 1

    def row(self, weights: Weights, least: float = 0.0, most: float = float("inf")) -> None:
        """Keep a weighted sum between two limits."""
        self.rows.append(weights)
        self.least.append(least)
        self.most.append(most)

    def solve(self, demands: Sequence[Weights]) -> Sequence[float] | None:
        """The variables of which the first demand is least, among those the second, and so on.

        Weights of demands are integers, and so is the least of each. None where the rows cannot all hold.
        """
        import numpy as np  # noqa: PLC0415 - slow to import, and only here needed
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415
        from scipy.sparse import csr_matrix  # noqa: PLC0415

        size = len(self.low)
        found: Sequence[float] = ()
        for demand in demands if size else ():
            weights = np.zeros(size)
            for column, value in demand.items():
                weights[column] = value
            entries = [(row, column, value) for row, each in enumerate(self.rows) for column, value in each.items()]
            at_row, at_column, values = zip(*entries, strict=True) if entries else ((), (), ())
            matrix = csr_matrix((values, (at_row, at_column)), shape=(len(self.rows), size))
            result = milp(
                weights,
                integrality=np.array(self.whole),
                bounds=Bounds(np.array(self.low), np.array(self.high)),
                constraints=[LinearConstraint(matrix, np.array(self.least), np.array(self.most))] if entries else [],
                options={"mip_rel_gap": 0},  # the default of 0.01 % would let a worse answer pass for the best
            )
            if not result.success:
                return None
            found = [float(value) for value in result.x]
            self.row(demand, -float("inf"), round(result.fun) + 0.5)
        return found
