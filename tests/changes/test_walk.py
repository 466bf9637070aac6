"""Walks over invented histories: against brute force, and the odd cases one by one."""

from __future__ import annotations

import datetime
import json
from collections.abc import Callable, Mapping
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.changes.logbook import Unverified, Visit, unverified
from vesselspec.changes.scope import Key, Near, about, belonging, entries_near, find_entry
from vesselspec.changes.since import Since, since
from vesselspec.changes.walk import Node, Walk
from vesselspec.record import Record, read
from vesselspec.rules import Boat, Finding, survey

from .boats import TWO_SOURCES, Raw, edited, vessel

Files = Mapping[str, bytes]
#: The files, alone or with the states that they follow.
State = Files | tuple[Files, tuple[int, ...]]
BROKEN = b"cables: {C1: {from: nowhere}}\n"


def split(raw: Raw, main: tuple[str, ...] = ("vessel",)) -> Files:
    """A boat in several files, one a collection; those named in `main` in one file."""
    parts = {name: {name: content} for name, content in raw.items() if name not in main}
    files = {f"{name}.yaml": json.dumps(content).encode() for name, content in parts.items()}
    return files | {"vessel.yaml": json.dumps({name: raw[name] for name in main}).encode()}


def walk_of(*states: State, careful: bool = False) -> Walk:
    """A walk over states, oldest first, each after the one before it or after those named. `careful`: skips nothing."""
    nodes: list[Node] = []
    files: dict[str, Files] = {}
    contents: dict[str, bytes] = {}
    for number, state in enumerate(states):
        here, parents = state if isinstance(state, tuple) else (state, (number - 1,) if number else ())
        files[str(number)] = here
        names = {path: str(hash(content)) for path, content in here.items()}
        contents |= {names[path]: content for path, content in here.items()}
        nodes.insert(0, Node(str(number), tuple(map(str, parents)), names))

    def record(revision: str) -> Record:
        return read(files[revision])

    def says(blob: str, near: Near) -> Mapping[Key, object] | None:
        return None if careful else entries_near(contents[blob], near)

    return Walk(nodes, record, says)


def told(visits: tuple[Visit, ...]) -> list[tuple[str, list[str]]]:
    return [(visit.id, [change.what for change in visit.done.changes]) for visit in visits]


def key(name: str, raw: Raw = TWO_SOURCES) -> frozenset[Key]:
    found = find_entry(vessel(raw), name)
    assert found is not None
    return frozenset({found})


def changed(*changes: Callable[[Raw], object], raw: Raw = TWO_SOURCES) -> list[Raw]:
    """The boat, and what it becomes change by change."""
    states = [raw]
    for change in changes:
        states.append(edited(states[-1], change))
    return states


def length(cable: str, metres: int) -> Callable[[Raw], object]:
    return lambda raw: raw["cables"][cable].update(length=f"{metres} m")


def rename(was: str, now: str) -> Callable[[Raw], object]:
    def change(raw: Raw) -> None:
        raw["cables"][now] = {**raw["cables"].pop(was), "formerly": [was]}

    return change


def test_a_cable_is_followed_through_its_names_and_files() -> None:
    states = changed(length("C1", 4), rename("C1", "C9"), length("C2", 7), length("C9", 5))
    files = [split(states[0]), split(states[1], ("vessel", "cables")), *map(split, states[2:])]
    visits = walk_of(*files).visits(key("C9", states[-1]))
    assert told(visits) == [
        ("4", ["cable C9 (to Cabin heater): length 5 m instead of 4 m"]),
        ("2", ["cable C9 (to Cabin heater): formerly C1"]),
        ("1", ["cable C1 (to Cabin heater): length 4 m instead of 3 m"]),
        ("0", ["cable C1 (to Cabin heater) added, 14 AWG, from main/a/1 (Heater) to heater (Cabin heater)"]),
    ]


def test_an_id_that_was_another_things_leads_no_further() -> None:
    states = changed(
        length("C1", 4),
        rename("C1", "C9"),
        lambda raw: raw["cables"].update(C1={**raw["cables"]["C2"], "length": "1 m", "label": "new"}),
    )
    visits = walk_of(*map(split, states)).visits(key("C1", states[-1]))
    assert [visit.id for visit in visits] == ["3"]


def test_to_a_place_belongs_what_lands_in_it_at_the_time() -> None:
    states = changed(
        lambda raw: raw["cables"]["C1"].update({"from": "main/b/2"}),
        length("C1", 9),
        lambda raw: raw["loads"]["heater"].update(power="900 W"),
        lambda raw: raw["cables"]["C1"].update({"from": "main/a/1"}),
        lambda raw: raw["loads"]["heater"].update(power="800 W"),
    )
    walk = walk_of(*map(split, states))
    assert [visit.id for visit in walk.visits(key("main/a"))] == ["5", "4", "1", "0"]
    assert [visit.id for visit in walk.visits(key("main/b"))] == ["4", "3", "2", "1", "0"]
    assert [visit.id for visit in walk.visits(key("heater"))] == ["5", "4", "3", "2", "1", "0"]


def test_what_cannot_be_understood_is_told_in_its_place_and_skipped() -> None:
    states = changed(length("C1", 4), length("C1", 5), length("C2", 6))
    files = [*map(split, states)]
    broken = {**files[1], "cables.yaml": BROKEN}
    visits = walk_of(files[0], broken, files[2], files[3]).visits(key("C1"))
    assert [(visit.id, bool(visit.problems), visit.over) for visit in visits] == [
        ("2", False, ("1",)),
        ("1", True, ()),
        ("0", False, ()),
    ]
    assert told(visits)[0][1] == ["cable C1 (to Cabin heater): length 5 m instead of 3 m"]


def test_a_change_behind_another_mistake_is_told_when_it_is_mended() -> None:
    """The cable changes while another file is broken; the mending touches only that other file."""
    states = changed(length("C1", 4))
    before, after = map(split, states)
    broken = {**after, "loads.yaml": b"loads: {fridge: 3}\n"}
    visits = walk_of(before, broken, after, {**after, "note.yaml": b"# nothing\n"}).visits(key("C1"))
    assert [(visit.id, visit.over) for visit in visits] == [("2", ("1",)), ("1", ()), ("0", ())]
    assert told(visits)[0][1] == ["cable C1 (to Cabin heater): length 4 m instead of 3 m"]


def test_a_merge_tells_only_what_no_side_did() -> None:
    base, side = changed(length("C1", 4)), changed(length("C2", 5))
    both = edited(base[1], length("C2", 5))
    own = edited(both, lambda raw: raw["loads"]["pump"].update(power="60 W"))
    files: list[State] = [split(base[0]), (split(base[1]), (0,)), (split(side[1]), (0,)), (split(own), (1, 2))]
    visits = walk_of(*files).visits(None)
    assert told(visits) == [
        ("3", ["load pump: power 60 W instead of 120 W"]),
        ("2", ["cable C2 (to fridge): length 5 m instead of 3 m"]),
        ("1", ["cable C1 (to Cabin heater): length 4 m instead of 3 m"]),
        ("0", [change.what for change in visits[-1].done.changes]),
    ]
    assert visits[0].done.brought == 1
    assert [visit.id for visit in walk_of(*files).visits(key("C2"))] == ["3", "2", "0"]


def test_what_is_gone_is_followed_by_the_id_it_had() -> None:
    states = changed(length("C1", 4), lambda raw: raw["cables"].pop("C1"))
    visits = walk_of(*map(split, states)).visits(frozenset({("cables", "C1")}))
    assert [visit.id for visit in visits] == ["2", "1", "0"]
    states = changed(rename("C1", "C9"), lambda raw: raw["cables"].pop("C9"))
    visits = walk_of(*map(split, states)).visits(frozenset({("cables", "C1")}))
    assert [visit.id for visit in visits] == ["1", "0"]


EDITS = st.lists(
    st.one_of(
        st.builds(length, st.sampled_from(["C1", "C2", "D1", "F1"]), st.integers(1, 4)),
        st.sampled_from(["main/a/1", "main/b/1", "main/a/2"]).map(
            lambda way: lambda raw: raw["cables"]["C1"].update({"from": way})
        ),
        st.integers(1, 3).map(lambda n: lambda raw: raw["loads"]["heater"].update(power=f"{n}00 W")),
        st.integers(1, 3).map(lambda n: lambda raw: raw["panels"]["main"].update(note=f"Note {n}.")),
        st.integers(1, 3).map(lambda n: lambda raw: raw["vessel"].update(note=f"Note {n}.")),
        st.just("broken"),
        st.just("moved"),
    ),
    max_size=8,
)


@given(EDITS, st.sampled_from(["C1", "main", "main/a", "main/a/1", "heater", "shore-1", "quiet"]))
@settings(max_examples=25, deadline=None, database=None)
def test_leaving_revisions_unread_changes_nothing(edits: list[Any], name: str) -> None:
    """Against the same walk that reads every revision, and against every pair of states compared whole."""
    raw, files, together = TWO_SOURCES, [split(TWO_SOURCES)], False
    for edit in edits:
        together ^= edit == "moved"
        raw = raw if isinstance(edit, str) else edited(raw, edit)
        state = split(raw, ("vessel", "cables", "loads") if together else ("vessel",))
        files.append({**state, "more.yaml": BROKEN} if edit == "broken" else state)
    files.append(split(raw))
    quick, careful = walk_of(*files).visits(key(name)), walk_of(*files, careful=True).visits(key(name))
    assert [visit for visit in quick if not visit.problems] == [visit for visit in careful if not visit.problems]
    expected: list[str] = []
    last: Any = None
    for number, content in enumerate(files):
        record = read(content)
        if record.vessel is not None:
            keys = belonging(record.vessel, key(name))
            said = {(c, path): item for c, path, item in record.vessel.items() if (c, path) in keys}
            if said != last:
                expected.insert(0, str(number))
            last = said
    # Who moves out is told where it left: by what belonged to it then, or does now.
    assert [visit.id for visit in quick if not visit.problems] == expected


def findings(walk: Walk) -> Callable[[str], tuple[Finding, ...]]:
    def judged(revision: str) -> tuple[Finding, ...]:
        record = walk.read(revision)
        return survey(Boat(record.vessel, record.places)).findings if record.vessel is not None else ()

    return judged


def since_of(walk: Walk, rule: str, culprit: str) -> Since:
    now = findings(walk)(walk.nodes[0].id)
    (found,) = (each for each in since(walk, now, findings(walk)) if each.finding.rule == rule)
    assert found.finding.items[0] == culprit
    return found


def test_a_finding_on_a_system_or_space_is_found_by_the_entry() -> None:
    """Rules name with their collection what has no id of its own: `systems/dc`."""
    assert about(["systems/dc"], frozenset({("systems", "dc")}))
    assert about(["C1", "spaces/galley"], frozenset({("spaces", "galley")}))
    assert about(["panel/a/1:L1"], frozenset({("sections", "panel/a")}))
    assert not about(["systems/dc"], frozenset({("spaces", "dc")}))
    assert not about(["systems/dc-24"], frozenset({("systems", "dc")}))
    # What a revision changed is named by its path alone, whatever it is.
    assert about(["C1"], frozenset({("", "C1")}))


def rating(amps: int) -> Callable[[Raw], object]:
    return lambda raw: raw["panels"]["main"]["sections"]["a"]["ways"]["1"].update(rating=f"{amps} A")


def test_a_finding_that_came_went_and_came_again_is_as_old_as_its_last_coming() -> None:
    states = changed(rating(60), rating(15), length("C2", 4), rating(60), rename("C1", "C9"), length("C2", 5))
    walk = walk_of(*map(split, states))
    new = {each.rule for each in findings(walk)("1")} - {each.rule for each in findings(walk)("0")}
    for rule in new:
        assert since_of(walk, rule, next(f for f in findings(walk)("6") if f.rule == rule).items[0]).brought == "4"
    assert new
    for found in since(walk, findings(walk)("6"), findings(walk)):
        if found.finding.rule not in new:
            assert found.first == (found.brought == "0")


def test_a_finding_may_have_come_with_what_cannot_be_understood() -> None:
    states = changed(rating(60))
    before, after = map(split, states)
    walk = walk_of(before, {**after, "more.yaml": BROKEN}, after)
    new = [f for f in findings(walk)("2") if f.fingerprint not in {g.fingerprint for g in findings(walk)("0")}]
    assert new
    assert {(found.brought, found.perhaps) for found in since(walk, tuple(new), findings(walk))} == {("2", ("1",))}


def test_at_a_merge_a_finding_is_followed_to_the_side_that_brought_it() -> None:
    base, bad = changed(rating(60))
    files: list[State] = [split(base), (split(edited(base, length("C2", 4))), (0,)), (split(bad), (0,))]
    files.append((split(edited(bad, length("C2", 4))), (1, 2)))
    walk = walk_of(*files)
    new = [f for f in findings(walk)("3") if f.fingerprint not in {g.fingerprint for g in findings(walk)("0")}]
    assert new
    assert {found.brought for found in since(walk, tuple(new), findings(walk))} == {"2"}


# --- changes that nobody has looked at ----------------------------------------------------------

DAYS = {str(number): datetime.date(2026, 1, 10 + number) for number in range(10)}


def seen(cable: str, day: int, how: str = "traced") -> Callable[[Raw], object]:
    evidence = {"how": how, "by": "technician", "when": f"2026-01-{day:02d}"}
    return lambda raw: raw["cables"][cable].update(evidence=evidence)


def both(*changes: Callable[[Raw], object]) -> Callable[[Raw], object]:
    return lambda raw: [change(raw) for change in changes]


def unseen(*changes: Callable[[Raw], object]) -> list[tuple[str, str, str]]:
    states = changed(*changes)
    visits = walk_of(*map(split, states)).visits(None)
    found: tuple[Unverified, ...] = unverified(vessel(states[-1]), visits, DAYS)
    return [(each.id, each.changed, each.why) for each in found]


def test_a_change_after_the_evidence_is_unverified_until_somebody_has_looked() -> None:
    assert unseen() == []  # how a record begins is no change
    assert unseen(seen("C1", 11), length("C1", 4)) == [("C1", "2", "older")]
    assert unseen(seen("C1", 11), length("C1", 4), seen("C1", 13)) == []
    assert unseen(seen("C1", 11), rename("C1", "C9"), length("C9", 4), length("C9", 5)) == [("C9", "4", "older")]
    assert unseen(length("C1", 4), rename("C1", "C9"), seen("C9", 13)) == []


def test_evidence_given_with_the_change_or_of_its_day_counts() -> None:
    assert unseen(both(length("C1", 4), seen("C1", 2))) == []
    assert unseen(seen("C1", 12), length("C1", 4)) == []


def test_paper_verifies_nothing() -> None:
    assert unseen(both(length("C1", 4), seen("C1", 11, "documented"))) == [("C1", "1", "on-paper")]
    assert unseen(length("C1", 4), seen("C1", 12, "assumed")) == [("C1", "1", "on-paper")]
    assert unseen(length("C1", 4)) == [("C1", "1", "none")]


def test_a_name_or_note_is_no_change_of_the_boat() -> None:
    assert unseen(lambda raw: raw["cables"]["C1"].update(note="Behind the panel.")) == []


def test_who_looked_at_a_panel_looked_at_its_ways() -> None:
    def looked(raw: Raw) -> None:
        raw["panels"]["main"]["evidence"] = {"how": "traced", "by": "technician", "when": "2026-01-15"}

    assert unseen(rating(20)) == [("main/a/1", "1", "none")]
    assert unseen(rating(20), looked) == []
    assert unseen(looked, both(rating(20), looked)) == []
