"""Since when a finding is there: followed back revision by revision by its fingerprint.

The way is linear: a finding may go and come again, so that halving the history could miss a gap. Its last coming
counts. At a merge it is followed into the first parent that has it, in the order of the parents.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from vesselspec.changes.compare import names_of, renamed
from vesselspec.changes.review import known_as
from vesselspec.changes.walk import Walk
from vesselspec.model.vessel import Vessel
from vesselspec.rules import Finding


@dataclass(frozen=True)
class Since:
    """A finding of now, and the revision that brought it."""

    finding: Finding
    #: The revision that has it while none that it follows does.
    brought: str
    #: Revisions before it that cannot be understood: it may have come with one of them.
    perhaps: tuple[str, ...]
    #: Whether nothing is known of what was before: it is as old as the record, or as this shallow clone.
    first: bool


#: The findings of the boat at a revision whose record can be understood.
Surveys = Callable[[str], tuple[Finding, ...]]


def since(walk: Walk, findings: tuple[Finding, ...], surveys: Surveys) -> tuple[Since, ...]:
    """Follow findings of the newest revision back to where each of them came, in the order given."""
    #: Revision → fingerprint there → fingerprints now.
    ahead: defaultdict[str, dict[str, set[str]]] = defaultdict(dict)
    if walk.nodes:
        ahead[walk.nodes[0].id] = {each.fingerprint: {each.fingerprint} for each in findings}
    found: dict[str, tuple[str, tuple[str, ...], bool]] = {}
    for node in walk.nodes:
        followed = ahead.pop(node.id, {})
        after = walk.vessel(node.id) if followed else None
        if after is None:
            continue
        bases = [walk.base(parent) for parent in node.parents]
        for base, _ in bases:
            if base is not None and followed:
                known = _then(walk, base, after, surveys)
                for now in [each for each in followed if each in known]:
                    then = ahead[base].setdefault(known[now], set())
                    then |= followed.pop(now)
        perhaps = tuple(dict.fromkeys(each for _, over in bases for each in over))
        for fingerprints in followed.values():
            first = not any(base for base, _ in bases)
            found |= dict.fromkeys(fingerprints, (node.id, perhaps, first))
    return tuple(Since(each, *found[each.fingerprint]) for each in findings if each.fingerprint in found)


def _then(walk: Walk, base: str, after: Vessel, surveys: Surveys) -> Mapping[str, str]:
    """The fingerprints of an earlier state: as they would be with the names of after it → as they are."""
    before = walk.vessel(base)
    names = names_of(renamed(before, after)) if before is not None else {}
    return {known_as(each, names): each.fingerprint for each in surveys(base)}


@dataclass(frozen=True)
class Judged:
    """What a revision brought and cleared, by fingerprint."""

    new: tuple[Finding, ...]
    cleared: tuple[Finding, ...]
    #: How many more it brought and cleared elsewhere on board.
    elsewhere: int


def judged(
    before: tuple[Finding, ...], after: tuple[Finding, ...], names: Mapping[str, str], only: Callable[[Finding], bool]
) -> Judged:
    """Compare the findings of two states. `names`: earlier id or address → what it is called now."""
    earlier = {known_as(each, names): each for each in before}
    later = {each.fingerprint: each for each in after}
    new = [each for key, each in later.items() if key not in earlier]
    cleared = [each for key, each in earlier.items() if key not in later]
    of = [each for each in (*new, *cleared) if only(each)]
    return Judged(
        tuple(each for each in new if only(each)),
        tuple(each for each in cleared if only(each)),
        len(new) + len(cleared) - len(of),
    )
