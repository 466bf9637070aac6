"""Ways gathered to a tree, so that what several of them share is told once."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from vesselspec.network.reach import Needs
from vesselspec.tracing.chain import Hop


@dataclass
class Branch:
    """An item of a tree: the steps that ways take through it, what goes on from it, what ends at it."""

    kind: str = ""
    item: str = ""
    hops: list[Hop] = field(default_factory=list)
    on: dict[tuple[str, str], Branch] = field(default_factory=dict)
    ends: dict[str, list[str]] = field(default_factory=dict)

    @property
    def hop(self) -> Hop:
        """All the ways' steps through the item as one."""
        steps = dict.fromkeys(step for hop in reversed(self.hops) for step in hop.steps)
        last = self.hops[0].steps[-1]  # where the first way leaves the item
        return Hop(self.item, self.kind, (*(step for step in steps if step != last), last))


@dataclass(frozen=True)
class Line:
    """One line of a tree at its depth."""

    depth: int
    text: str


@dataclass(frozen=True)
class Section:
    """A heading with its lines."""

    title: str
    lines: tuple[Line, ...]


def told_needs(needs: Needs) -> str:
    """The positions that a way takes, in words; empty where it takes none."""
    return "; ".join(f"{choice} at {' or '.join(sorted(states))}" for choice, states in needs)


def grow(ways: Iterable[tuple[Iterable[Hop], str, str]]) -> Branch:
    """Merge ways, each as (hops in the order of telling, words for its end, what joins at that end)."""
    root = Branch()
    for hops, end, detail in ways:
        at = root
        for hop in hops:
            at = at.on.setdefault((hop.kind, hop.item), Branch(hop.kind, hop.item))
            at.hops.append(hop)
        told = at.ends.setdefault(end, [])
        if detail and detail not in told:
            told.append(detail)
    return root


def lines(root: Branch, arrow: str, words: Callable[[Hop], str]) -> list[Line]:
    """The tree as lines: it goes in, and counts, only where it divides. No recursion."""
    found: list[Line] = []
    waiting = [(root, 0, "")]
    while waiting:
        branch, depth, number = waiting.pop()
        if branch.item:
            found.append(Line(depth, f"{number}{arrow} {words(branch.hop)}"))
        divides = len(branch.on) + len(branch.ends) > 1
        inner = depth + 1 if (divides or number) and branch.item else depth
        numbers = iter(f"{each}. " if divides else "" for each in range(1, len(branch.on) + len(branch.ends) + 1))
        found += [
            Line(inner, f"{next(numbers)}= {end}: {', '.join(details)}" if details else f"{next(numbers)}= {end}")
            for end, details in branch.ends.items()
        ]
        waiting += reversed([(each, inner, next(numbers)) for each in branch.on.values()])
    return found
