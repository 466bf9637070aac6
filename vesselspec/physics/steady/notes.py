"""What a solution says in words beside its figures: assumptions, troubles, and converters that feed each other."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise


@dataclass(frozen=True, order=True)
class Assumption:
    """Something that is not recorded, what was taken for it, and to which side the result errs."""

    item: str
    missing: str
    taken: str
    errs: str


@dataclass(frozen=True)
class Trouble:
    """A named reason why a condition has no sound solution: the items and the figure."""

    kind: str  # collapse | contradiction | overload | invalid
    items: tuple[str, ...]
    text: str


@dataclass(frozen=True)
class Loop:
    """Converters that feed each other: each item feeds the next, and the last one the first.

    `left_out` are those that were solved as if they were off, so that the rest of the condition has a solution.
    """

    items: tuple[str, ...]
    left_out: tuple[str, ...]

    @property
    def text(self) -> str:
        """The way round, in words."""
        ring = (*self.items, self.items[0])
        return ", ".join(f"{one} feeds {other}" for one, other in pairwise(ring))
