"""What can go wrong, and what it leads to in one condition: values only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

Verdict = Literal[
    "stays live", "opens late", "opens when touched", "cannot judge", "below the limit", "cleared", "nothing live"
]
#: Gravest first.
VERDICTS: Final[tuple[Verdict, ...]] = (
    "stays live",
    "opens late",
    "opens when touched",
    "cannot judge",
    "below the limit",
    "cleared",
    "nothing live",
)
#: Those after which somebody who touches has nothing to save him in time.
DEADLY: Final = VERDICTS[:3]
Span = tuple[float, float]


@dataclass(frozen=True)
class Failure:
    """One thing gone wrong. `opens` and `closes` are links; `joins` are pairs of terminals that become one."""

    kind: str  # nothing | case | earth | neutral | reversed | transfer | selector | interlock | relay-closed
    item: str
    detail: str = ""
    opens: frozenset[int] = frozenset()
    closes: frozenset[int] = frozenset()
    joins: tuple[tuple[int, int], ...] = ()
    reverses: str = ""
    #: A shore supply whose own neutral is open ahead of the inlet.
    cuts: str = ""


NOTHING = Failure("nothing", "")


@dataclass(frozen=True)
class Outcome:
    """One further failure in one condition.

    `case_v` is the touch voltage at the worst metal part, `hull_v` at the boat's own earth points, each in V from the
    least to the most that the boat's electrode leaves open; None where it cannot be told. `places` are the metal parts
    above the limit, the worst first. `amps` is the current of the fault. `cause` tells outcomes of one cause from
    others: a word, and what it is about. `feeds` are the loads' voltages at least and at most where a neutral is lost;
    `live_off` are loads that stay live inside with their own switch off.
    """

    failure: Failure
    condition: str
    sources: tuple[str, ...]
    verdict: Verdict
    cause: tuple[str, ...]
    case_v: Span | None = None
    hull_v: Span | None = None
    places: tuple[str, ...] = ()
    amps: float | None = None
    within_s: float | None = None
    device: str = ""
    why: str = ""
    missing: tuple[tuple[str, str], ...] = ()
    residuals: tuple[tuple[str, float, float | None], ...] = ()
    feeds: Span | None = None
    live_off: tuple[str, ...] = ()
    #: Present joints of neutral and earth on board that carry the failure to the metal.
    culprits: tuple[str, ...] = ()

    @property
    def deadly(self) -> bool:
        """Whether a case stays live with nothing to clear it in time."""
        return self.verdict in DEADLY


@dataclass(frozen=True)
class Silent:
    """One thing, and the cases whose fault nothing would clear any more without it, in one condition."""

    kind: str  # earth | relay-open | residual
    item: str
    detail: str
    condition: str
    places: tuple[str, ...]
