"""Findings are data: equal by content, identified by what they are about, rendered elsewhere."""

from __future__ import annotations

import datetime
import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from vesselspec.record import Place
from vesselspec.standards import signals

DANGER, WARNING, CAUTION, NOTICE = SIGNAL_WORDS = signals.SIGNAL_WORDS

#: A finding whose measure grows by more than this share is worse, not the same. Ours: less is rounding.
WORSE = 0.001


@dataclass(frozen=True)
class At:
    """What a finding points to: an entry, and a field inside it."""

    collection: str
    path: str
    fields: tuple[str | int, ...] = ()


@dataclass(frozen=True)
class Conceded:
    """What the record's concession says of a finding, where it holds."""

    concession: str
    #: Accepted: it does not count. Otherwise it guards life and is only mitigated: it counts all the same.
    accepted: bool
    by: str
    date: datetime.date
    until: datetime.date
    reason: str
    #: What keeps it from doing harm, in words; and whether the record shows that it does (None: it cannot).
    mitigation: str = ""
    verified: bool | None = None


def fingerprint_of(rule: str, items: tuple[str, ...], arguments: tuple[str, ...]) -> str:
    """Identity of a finding: from rule, items and arguments; never from lines or wording."""
    identity = json.dumps([rule, sorted(items), list(arguments)], ensure_ascii=False)
    return hashlib.sha256(identity.encode()).hexdigest()[:16]


@dataclass(frozen=True)
class Finding:
    """One rule's statement about one place."""

    rule: str
    signal_word: str
    #: Ids and addresses that it is about, the culprit first.
    items: tuple[str, ...]
    place: Place
    message: str
    why: str
    remedy: str
    source: str
    #: How it comes about, item by item, and the positions that make it real.
    witness: tuple[str, ...] = ()
    positions: tuple[tuple[str, str], ...] = ()
    consequences: tuple[str, ...] = ()
    #: What tells it apart from another finding of the same rule on the same items.
    arguments: tuple[str, ...] = ()
    #: What several items that one cause makes wrong are known by together: items may come and go, the finding stays.
    group: tuple[str, ...] = ()
    #: Those of the items that are wrong by themselves; the first one where nothing is said.
    culprits: tuple[str, ...] = ()
    #: How far the limit is passed, as a ratio (1.2: by a fifth), or how many are wrong; raised, it is worse.
    measure: float | None = None
    #: The concession that covers it, if one holds.
    conceded: Conceded | None = None

    @cached_property
    def fingerprint(self) -> str:
        """Identity of the finding; where its items have a group, that of the group, whichever they are."""
        return fingerprint_of(self.rule, self.group or self.items, self.arguments)

    @property
    def accepted(self) -> bool:
        """Whether a concession accepts it, so that it does not count."""
        return self.conceded is not None and self.conceded.accepted

    @property
    def order(self) -> tuple[int, Place, str, tuple[str, ...], tuple[str, ...]]:
        """Gravest first, then by place."""
        return SIGNAL_WORDS.index(self.signal_word), self.place, self.rule, self.items, self.arguments


@dataclass(frozen=True, order=True)
class Unjudged:
    """Something that a rule could not judge, and what is missing for it."""

    place: Place
    rule: str
    item: str
    missing: str  # the field that is not recorded, in words

    @property
    def message(self) -> str:
        """One sentence for a reader."""
        return f"cannot judge {self.rule} for {self.item}: {self.missing} is not recorded"


@dataclass(frozen=True)
class Coverage:
    """How many items a rule looked at: silence is never taken for soundness."""

    rule: str
    sound: int
    failed: int
    unknown: int  # items that it could not judge

    @property
    def judged(self) -> int:
        """Items of which it can tell, one way or the other."""
        return self.sound + self.failed

    @property
    def nothing(self) -> bool:
        """Whether the boat has nothing that it is about: it says nothing, and that is not a verdict."""
        return not self.judged and not self.unknown


@dataclass(frozen=True)
class Survey:
    """What all rules say of one revision."""

    findings: tuple[Finding, ...]
    cannot_judge: tuple[Unjudged, ...]
    #: One for each rule, in the order of the rule book.
    coverage: tuple[Coverage, ...] = ()
    #: The day on which concessions were judged; None where the record has none.
    on: datetime.date | None = None

    @property
    def counting(self) -> tuple[Finding, ...]:
        """The findings that no concession accepts."""
        return tuple(f for f in self.findings if not f.accepted)

    @property
    def accepted(self) -> tuple[Finding, ...]:
        """The findings that a concession accepts."""
        return tuple(f for f in self.findings if f.accepted)

    def counts(self) -> dict[str, int]:
        """Findings that count, by signal word, gravest first."""
        return by_word(self.counting)


def by_word(findings: Iterable[Finding]) -> dict[str, int]:
    """How many findings there are of each signal word, gravest first."""
    words = [finding.signal_word for finding in findings]
    return {word: words.count(word) for word in SIGNAL_WORDS}
