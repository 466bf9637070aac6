"""What a careful marine electrician would refuse to sign: rules over a boat, and their findings."""

from vesselspec.rules import (
    bonds,
    carrying,
    conductors,
    confusable,
    devices,
    drop,
    earthing,
    evidence,
    faults,
    fitout,
    galvanic,
    labels,
    landings,
    lasting,
    leakage,
    loads,
    looks,
    photographs,
    placement,
    poles,
    potentials,
    protection,
    references,
    returns,
    stray,
)
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import RULES, Rule, survey
from vesselspec.rules.concessions import concede
from vesselspec.rules.findings import SIGNAL_WORDS, Conceded, Coverage, Finding, Survey, Unjudged, by_word

__all__ = [
    "RULES",
    "SIGNAL_WORDS",
    "SUBJECTS",
    "Boat",
    "Conceded",
    "Coverage",
    "Finding",
    "Rule",
    "Survey",
    "Unjudged",
    "by_word",
    "concede",
    "survey",
]

#: The files of the rule book; importing them enters their rules.
SUBJECTS = (
    references,
    potentials,
    stray,
    looks,
    confusable,
    landings,
    bonds,
    returns,
    earthing,
    galvanic,
    labels,
    conductors,
    protection,
    placement,
    devices,
    poles,
    leakage,
    fitout,
    loads,
    drop,
    carrying,
    faults,
    lasting,
    evidence,
    photographs,
)
