"""The rule book: how a rule is declared, and how all of them are run over a boat."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Iterator
from dataclasses import dataclass

from vesselspec.record import Place
from vesselspec.rules.boat import Boat
from vesselspec.rules.findings import DANGER, WARNING, At, Coverage, Finding, Survey, Unjudged
from vesselspec.standards import abroad

#: Trade knowledge that no published source was found for says so in these words.
COMMON_PRACTICE = "common practice, no source"


@dataclass(frozen=True, kw_only=True)
class Says:
    """A rule's statement, before the rule's own words and the place are added."""

    items: tuple[str, ...]
    at: At
    what: str
    remedy: str | None = None
    source: str | None = None
    signal_word: str | None = None
    witness: tuple[str, ...] = ()
    positions: tuple[tuple[str, str], ...] = ()
    consequences: tuple[str, ...] = ()
    arguments: tuple[str, ...] = ()
    #: Where one cause makes several items wrong: what they are known by together, whichever they are.
    group: tuple[str, ...] = ()
    #: Those of the items that are wrong by themselves; the first one where nothing is said.
    culprits: tuple[str, ...] = ()
    measure: float | None = None


@dataclass(frozen=True, kw_only=True)
class Lacks:
    """A rule's word that it cannot judge an item, and the field that it would need."""

    item: str
    at: At
    missing: str
    #: What it cannot judge for that, where this is not the item itself: the cable behind an unrated device, say.
    stops: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sound:
    """A rule's word that it looked at an item, with all it needed to know, and found nothing amiss."""

    item: str


@dataclass(frozen=True, slots=True)
class Open:
    """A rule's word that it looked at an item and cannot tell, and has no line of its own to say about it.

    The bounds that are published leave it open, or another finding or line names what is missing.
    """

    item: str


Judge = Callable[[Boat], Iterable[Says | Lacks | Sound | Open]]


@dataclass(frozen=True)
class Rule:
    """A rule with the words that every finding of it carries."""

    id: str
    signal_word: str
    title: str
    why: str
    remedy: str
    source: str
    judge: Judge
    #: What the record must hold for it to judge, in words.
    needs: str = ""
    #: Whether it guards life: such a finding cannot be accepted, only mitigated.
    guards_life: bool = False


RULES: dict[str, Rule] = {}


def rule(
    id: str,
    signal_word: str,
    *,
    title: str,
    why: str,
    remedy: str,
    source: str,
    needs: str,
    guards_life: bool | None = None,
) -> Callable[[Judge], Judge]:
    """Enter a function in the rule book. Every rule of DANGER guards life."""
    life = signal_word == DANGER if guards_life is None else guards_life

    def enter(judge: Judge) -> Judge:
        if id in RULES:
            raise ValueError(f"two rules are called {id}")
        RULES[id] = Rule(id, signal_word, title, why, remedy, source, judge, needs, life)
        return judge

    return enter


def survey(boat: Boat, *, only: Container[str] | None = None) -> Survey:
    """Run every rule, or `only` some. One that crashes becomes a finding with its name, and the others go on."""
    findings: dict[Finding, None] = {}
    lacking: dict[Unjudged, None] = {}
    coverage: list[Coverage] = []
    for each in RULES.values() if only is None else [rule for rule in RULES.values() if rule.id in only]:
        sound: set[str] = set()
        failed: set[str] = set()
        touched: set[str] = set()  # what a finding names is not sound, whoever the culprit is
        unknown: set[str] = set()
        try:
            for said in each.judge(boat):
                if isinstance(said, Sound):
                    sound.add(said.item)
                elif isinstance(said, Open):
                    unknown.add(said.item)
                elif isinstance(said, Lacks):
                    place = boat.place(said.at)
                    lacking[Unjudged(place, each.id, said.item, said.missing)] = None
                    unknown.update(said.stops or (said.item,))
                else:
                    findings[_finding(each, said, boat)] = None
                    failed.update(said.culprits or said.items[:1])
                    touched.update(said.items)
        except Exception as error:
            findings[_crashed(each, error)] = None
            sound.clear()  # what it did not get to may be part of the same mistake
        coverage.append(Coverage(each.id, len(sound - touched - unknown), len(failed), len(unknown - touched)))
    return Survey(tuple(sorted(findings, key=lambda f: f.order)), tuple(sorted(lacking)), tuple(coverage))


def _finding(rule: Rule, said: Says, boat: Boat) -> Finding:
    return Finding(
        rule=rule.id,
        signal_word=said.signal_word or rule.signal_word,
        items=said.items,
        place=boat.place(said.at),
        message=said.what,
        why=rule.why,
        remedy=said.remedy or rule.remedy,
        source=abroad(said.source or rule.source, boat.vessel.about.practice),
        witness=said.witness,
        positions=said.positions,
        consequences=said.consequences,
        arguments=said.arguments,
        group=said.group,
        culprits=said.culprits,
        measure=said.measure,
    )


#: The id under which a crashed rule reports itself. It is our bug, not the boat's, and ends in exit status 3.
RULE_FAILED = "rule-failed"


def _crashed(rule: Rule, error: Exception) -> Finding:
    return Finding(
        rule=RULE_FAILED,
        signal_word=WARNING,
        items=(rule.id,),
        place=Place("vessel.yaml"),
        message=f"the rule {rule.id} failed ({type(error).__name__}: {error}); what it guards was not judged",
        why="A rule that did not run has found nothing, which is not the same as nothing being wrong.",
        remedy="Report it with the record, and check by hand what the rule guards.",
        source="this program",
        arguments=(type(error).__name__,),
    )


def failed(result: Survey) -> Iterator[Finding]:
    """The findings that say that a rule crashed."""
    return (finding for finding in result.findings if finding.rule == RULE_FAILED)
