"""One cause is one finding: ways of one section that are weak alike are told together, and a review sees one more."""

from __future__ import annotations

import datetime

import pytest

from vesselspec.changes import Review, Side, review, side
from vesselspec.record import read
from vesselspec.rules import Boat, Finding, survey
from vesselspec.rules.adopting import concessions_for
from vesselspec.rules.concessions import concede

DAY = datetime.date(2026, 3, 14)
CURVED = "rating: 16 A, curve: C, interrupting: 6 kA"


def record(ways: dict[str, str], *, practice: str = "international", shore: str = "1 kA", **cable: str) -> bytes:
    """A panel of 230 V behind a 32 A main with a kettle on each way; `cable` gives each way's size and length."""
    size, length = cable.get("size", "2.5 mm2"), cable.get("length", "10 m")
    main = cable.get("main", "rating: 32 A, curve: C, interrupting: 20 kA")
    lines = [
        f"vessel: {{record: 1, name: Example, practice: {practice}}}",
        "spaces: {room: {}}",
        "systems: {ac: {kind: ac-single-phase, voltage: 230 V, frequency: 50 Hz}}",
        "devices:",
        f"  shore: {{kind: shore-inlet, space: room, system: ac, supply_fault_current: {shore},"
        " cord: {size: 25 mm2, length: 3 m}}",
        "panels: {panel: {space: room, system: ac, sections: {main: {ways: {",
        f'  "0": {{poles: [L1], duty: main, {main}}},',
        *(f'  "{way}": {{poles: [L1], {words}}},' for way, words in ways.items()),
        "}}}}}",
        "loads:",
        *(f"  kettle-{way}: {{space: room, system: ac, current: 1 A}}" for way in ways),
        "cable_types: {three: {insulation: 70 degC, sheath: true, cores: {brown: L1, blue: N, green-yellow: PE}}}",
        "cables:",
        "  S: {type: three, from: shore, to: panel/main/0, size: 6 mm2, length: 2 m, route: [room]}",
        *(
            f"  K{way}: {{type: three, from: panel/main/{way}, to: kettle-{way}, size: {size}, length: {length},"
            " route: [room]}"
            for way in ways
        ),
        "conditions: {alongside: {running: [shore]}}",
    ]
    return "\n".join(lines).encode()


def of(rule: str, text: bytes) -> list[Finding]:
    found = read({"vessel.yaml": text})
    assert found.vessel is not None, [str(problem) for problem in found.problems]
    return [f for f in survey(Boat(found.vessel, found.places)).findings if f.rule == rule]


def reviewed(before: bytes, after: bytes) -> Review:
    def read_side(name: str, text: bytes) -> Side:
        return side(name, read({"vessel.yaml": text}), DAY)

    return review(read_side("before", before), read_side("after", after))


WEAK = "rating: 16 A, curve: C, interrupting: 3 kA"
#: Rule → words of a weak way, and what else makes it weak.
CASES: dict[str, tuple[str, dict[str, str]]] = {
    "interrupting-rating-below-fault": (WEAK, {"shore": "6 kA", "size": "16 mm2"}),
    "device-opens-too-late": (CURVED, {"size": "1.5 mm2", "length": "300 m"}),
    "conductor-not-thermally-protected": (
        "rating: 125 A, curve: D, interrupting: 20 kA",
        {"shore": "5 kA", "length": "8 m", "main": "rating: 160 A, curve: D, interrupting: 20 kA"},
    ),
    "no-selectivity": (
        "rating: 32 A, curve: D, interrupting: 20 kA",
        {"size": "6 mm2", "main": "rating: 10 A, curve: C, interrupting: 20 kA"},
    ),
}


@pytest.mark.parametrize("rule", CASES)
def test_forty_weak_ways_are_one_finding(rule: str) -> None:
    words, more = CASES[rule]
    (found,) = of(rule, record({str(way): words for way in range(1, 41)}, **more))
    assert sum(item.startswith("panel/main/") for item in found.items) >= 40
    assert "2, 3, 4" in found.message.replace("K", "")
    (alone,) = of(rule, record({"1": words}, **more))
    assert found.message.startswith(alone.message)
    assert "likewise" not in alone.message
    assert found.items[0] == alone.items[0]
    assert found.fingerprint == alone.fingerprint, "ways come and go; the cause stays"


@pytest.mark.parametrize("rule", CASES)
def test_one_more_weak_way_is_new_in_a_review_and_one_less_is_not_cleared(rule: str) -> None:
    words, more = CASES[rule]
    two = record({"1": words, "2": words}, **more)
    three = record({"1": words, "2": words, "3": words}, **more)

    def told(findings: tuple[Finding, ...]) -> list[str]:
        return [finding.rule for finding in findings if finding.rule == rule]

    grown, shrunk, same = reviewed(two, three), reviewed(three, two), reviewed(two, two)
    assert (told(grown.new), told(grown.cleared), told(grown.inherited)) == ([rule], [], [])
    assert (told(shrunk.new), told(shrunk.cleared), told(shrunk.inherited)) == ([], [], [rule])
    assert (told(same.new), told(same.cleared), told(same.inherited)) == ([], [], [rule])


def test_ways_of_another_rating_are_a_finding_of_their_own() -> None:
    weak = {"1": WEAK, "2": WEAK, "3": "rating: 16 A, curve: C, interrupting: 2 kA"}
    found = of("interrupting-rating-below-fault", record(weak, shore="6 kA", size="16 mm2"))
    assert sorted(finding.items for finding in found) == [("panel/main/1", "panel/main/2"), ("panel/main/3",)]


def _wired(cores: str, demand: str = "kettle-1: 1") -> bytes:
    """A kettle whose cable wears these colours, and a condition in which this is in demand."""
    text = record({"1": CURVED, "2": CURVED}).decode()
    text = text.replace("K1: {type: three,", f"K1: {{cores: {{{cores}}}, type: three,")
    text = text.replace(
        "kettle-1: {space: room, system: ac, current: 1 A}", "kettle-1: {space: room, system: ac, current: 30 A}"
    )
    text = text.replace("kind: shore-inlet,", "kind: shore-inlet, rating: 16 A,")
    return text.replace("running: [shore]}", f"running: [shore], demand: {{{demand}}}}}").encode()


@pytest.mark.parametrize(
    ("rule", "less", "more"),
    [
        (
            "core-colour-contradicts",
            _wired("white: L1, brown: spare"),
            _wired("white: L1, red: N, brown: spare, blue: spare"),
        ),
        (
            "source-overloaded",
            _wired(""),
            _wired("", "kettle-1: 1}}, away: {running: [shore], demand: {kettle-1: 1, kettle-2: 1"),
        ),
    ],
)
def test_one_more_core_or_condition_is_new_and_one_less_is_no_new_finding(rule: str, less: bytes, more: bytes) -> None:
    (one,), (two,) = of(rule, less), of(rule, more)
    assert one.fingerprint == two.fingerprint
    assert (two.measure or 0) > (one.measure or 0)
    assert [f.rule for f in reviewed(less, more).new if f.rule == rule] == [rule]
    assert [f.rule for f in reviewed(more, less).inherited if f.rule == rule] == [rule]
    assert not [f for f in reviewed(more, less).new if f.rule == rule]


def test_a_renamed_way_is_no_new_item_of_its_group() -> None:
    two = record({"1": f"{WEAK}, label: One", "2": f"{WEAK}, label: Two"}, shore="6 kA", size="16 mm2")
    found = reviewed(
        two, two.replace(b'"2": {', b'"9": {formerly: ["2"], ').replace(b"panel/main/2,", b"panel/main/9,")
    )
    assert found.names["panel/main/2"] == "panel/main/9"
    assert not [f for f in (*found.new, *found.cleared) if f.rule == "interrupting-rating-below-fault"]


def _conceded(text: bytes, **words: str) -> list[Finding]:
    """The findings of a record with one concession in it, as they stand on the day."""
    said = ", ".join(f"{name}: {word}" for name, word in words.items())
    more = (
        f"\nconcessions: {{old: {{rule: interrupting-rating-below-fault, {said}, reason: To be refitted in spring.,"
        " accepted_by: owner, date: 2026-01-01, until: 2026-12-31}}"
    )
    found = read({"vessel.yaml": text + more.encode()})
    assert found.vessel is not None, [str(problem) for problem in found.problems]
    boat = Boat(found.vessel, found.places)
    return list(concede(boat, survey(boat), DAY).findings)


@pytest.mark.parametrize(
    ("ways", "accepted"), [(("1",), True), (("1", "2"), True), (("1", "2", "3"), False), (("1", "3"), False)]
)
def test_a_concession_for_two_ways_accepts_no_third(ways: tuple[str, ...], accepted: bool) -> None:
    text = record(dict.fromkeys(ways, WEAK), shore="6 kA", size="16 mm2")
    found = _conceded(text, items="[panel/main/1, panel/main/2]")
    (weak,) = (f for f in found if f.rule == "interrupting-rating-below-fault")
    assert weak.accepted == accepted
    grown = [f.rule for f in found if f.rule == "concession-grown"]
    assert bool(grown) != accepted


def test_what_adopt_writes_for_a_group_accepts_it_and_no_more() -> None:
    weak = dict.fromkeys(("1", "2", "3"), WEAK)
    (finding,) = of("interrupting-rating-below-fault", record(weak, shore="6 kA", size="16 mm2"))
    until = DAY.replace(year=2027)
    (written,) = concessions_for((finding,), (), on=DAY, until=until, by="owner", reason="Old.").values()
    assert written["items"] == ["panel/main/1", "panel/main/2", "panel/main/3"]
