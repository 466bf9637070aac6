"""The rule book counted: by signal word, by subject, and by what stands behind each rule."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from vesselspec.rules.book import COMMON_PRACTICE, Rule
from vesselspec.rules.examples import examples
from vesselspec.rules.findings import SIGNAL_WORDS

#: Subjects in the order in which a book would have them, and the files of the rules on each.
SUBJECTS: Mapping[str, tuple[str, ...]] = {
    "what can become live": ("potentials", "stray", "twice", "inlets"),
    "neutral and earth": ("bonds", "returns", "earthing", "series", "galvanic"),
    "landings, colours and labels": ("landings", "looks", "confusable", "labels"),
    "conductors": ("conductors", "drop", "carrying"),
    "protection": ("protection", "placement", "devices", "poles", "leakage", "faults"),
    "loads and supplies": ("loads", "lasting"),
    "what is fitted": ("fitout",),
    "the record itself": ("references", "evidence", "photographs"),
    "concessions": ("concessions",),
}
_OF = {module: subject for subject, modules in SUBJECTS.items() for module in modules}

PUBLISHED, PRACTICE, OWN = "published", "common practice", "own"
_PUBLISHED = re.compile(r"\b(CFR|IEC|NFPA|ABYC|ISO|UL|IMO|ANSI|SAE)\b")


@dataclass(frozen=True)
class Counts:
    """How many rules there are of each kind."""

    rules: int
    by_word: Mapping[str, int]
    by_subject: Mapping[str, int]
    by_standing: Mapping[str, int]
    guards_life: int


def subject_of(rule: Rule) -> str:
    """What a rule is about, by the file that it stands in."""
    return _OF[rule.judge.__module__.rpartition(".")[2]]


def standing_of(rule: Rule) -> str:
    """Published: a published text or figure decides, alone or beside practice. Own: the record or a rating itself."""
    example = examples().get(rule.id)
    if _PUBLISHED.search(rule.source) or (example is not None and example.figures):
        return PUBLISHED
    return PRACTICE if COMMON_PRACTICE in rule.source else OWN


def count(rules: Iterable[Rule]) -> Counts:
    """Count some rules."""
    every = list(rules)
    words = [each.signal_word for each in every]
    subjects = [subject_of(each) for each in every]
    standings = [standing_of(each) for each in every]
    return Counts(
        len(every),
        {word: words.count(word) for word in SIGNAL_WORDS},
        {subject: subjects.count(subject) for subject in SUBJECTS},
        {standing: standings.count(standing) for standing in (PUBLISHED, PRACTICE, OWN)},
        sum(each.guards_life for each in every),
    )
