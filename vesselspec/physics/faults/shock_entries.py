"""Outcomes gathered so that one cause is one entry, the worst first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from vesselspec.physics.faults.shock_outcome import DEADLY, VERDICTS, Outcome, Verdict


@dataclass(frozen=True)
class Entry:
    """All outcomes of one cause. `worst` is the one with the greatest touch voltage."""

    verdict: Verdict
    cause: tuple[str, ...]
    worst: Outcome
    outcomes: tuple[Outcome, ...]

    @property
    def conditions(self) -> tuple[str, ...]:
        """The conditions in which it is so."""
        return tuple(dict.fromkeys(each.condition for each in self.outcomes))

    @property
    def sources(self) -> tuple[str, ...]:
        """The supplies from which it is so."""
        return tuple(dict.fromkeys(source for each in self.outcomes for source in each.sources))

    @property
    def failing(self) -> tuple[str, ...]:
        """What fails."""
        return tuple(dict.fromkeys(each.failure.item for each in self.outcomes))

    @property
    def places(self) -> tuple[str, ...]:
        """The metal parts that are live then; in a short to a case, at least that case."""
        named = (place for each in self.outcomes for place in (each.places or (each.failure.item,)))
        return tuple(dict.fromkeys(named)) if self.verdict != "nothing live" else ()

    @property
    def deficient(self) -> bool:
        """Whether a deficiency that is there now takes part: metal that has an earth to hold it down is live.

        A contact that sticks, and thereby feeds the bare pins of an inlet, needs none.
        """
        return any(":" not in place for place in self.places)

    @property
    def key(self) -> tuple[str, ...]:
        """What the same entry has in another state of the record."""
        return self.cause

    @property
    def counts(self) -> bool:
        """Whether a present deficiency and one further failure leave a case live, with nothing to clear it in time."""
        return self.verdict in DEADLY and self.deficient


def entries(outcomes: Iterable[Outcome]) -> tuple[Entry, ...]:
    """Gather outcomes by verdict and cause."""
    found: dict[tuple[str, ...], list[Outcome]] = {}
    for each in outcomes:
        found.setdefault(("deadly" if each.deadly else each.verdict, *_cause(each)), []).append(each)
    gathered = []
    for group in found.values():
        verdict = min((each.verdict for each in group), key=VERDICTS.index)
        worst = max((each for each in group if each.verdict == verdict), key=_volts)
        gathered.append(Entry(verdict, _cause(worst), worst, tuple(group)))
    return tuple(sorted(gathered, key=_rank))


def _rank(entry: Entry) -> tuple[bool, int, float, tuple[str, ...]]:
    return not entry.counts, VERDICTS.index(entry.verdict), -round(_volts(entry.worst), 6), entry.cause


def _cause(outcome: Outcome) -> tuple[str, ...]:
    """A neutral whose loss makes no metal live is one matter, whichever core of it opens."""
    if outcome.verdict == "nothing live" and outcome.failure.kind == "neutral":
        return ("neutral",)
    if outcome.verdict == "cannot judge":
        return outcome.cause[:2]  # what is missing furthest up: its other gaps come after it
    return outcome.cause


def _volts(outcome: Outcome) -> float:
    if outcome.verdict == "nothing live" and outcome.feeds is not None:
        return outcome.feeds[1]
    return outcome.case_v[1] if outcome.case_v is not None else -1.0
