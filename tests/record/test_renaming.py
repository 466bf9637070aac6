"""Renaming: every reference follows, the boat stays the same, and so does every other byte."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from tests.changes.boats import REFERRING, TWO_SOURCES, edited
from tests.record.styles import Style
from vesselspec.changes import compare
from vesselspec.changes.compare import RENAMED, called
from vesselspec.model.references import Renaming
from vesselspec.model.vessel import Vessel
from vesselspec.record import Record, read
from vesselspec.record.edit import EditError
from vesselspec.record.renaming import Renamed, rename, renaming
from vesselspec.record.yaml import load
from vesselspec.revisions import read_folder
from vesselspec.rules import Boat, survey

ROOT = Path(__file__).parents[2]
NEW = "zz-9"
#: What the vocabulary's other boat does not refer to: a concession with everything, a day.
MORE: dict[str, Any] = {
    **REFERRING,
    "days": {"day-one": {"parts": [{"condition": "alongside-state", "time": "24 h"}]}},
    "concessions": {
        "one": {
            "rule": "unused-id",
            "items": ["panel-one/shore-section/30", "spaces/saloon-space", "W6", "alongside-state", "changeover-one"],
            "reason": "W6 of panel-one/shore-section/30",
            "accepted_by": "surveyor",
            "date": "2026-03-14",
            "until": "2026-09-30",
            "mitigation": {
                "open": ["panel-one/shore-section/30"],
                "locked": {"changeover-one": "shore", "slide-one": "panel-one/shore-section/20"},
            },
        }
    },
}


def vessel(record: Record) -> Vessel:
    assert record.vessel is not None, record.problems
    return record.vessel


def renamed(files: Mapping[str, bytes], said: str, new: str = NEW) -> tuple[Renaming, Renamed]:
    asked = renaming(vessel(read(files)), said, new)
    return asked, rename(files, asked)


def one_rename(files: Mapping[str, bytes], said: str, before: Vessel | None = None) -> tuple[Vessel, Renaming]:
    """Rename, and check by the comparison of revisions that nothing else has happened."""
    before = before if before is not None else vessel(read(files))
    asked = renaming(before, said, NEW)
    done = rename(files, asked)
    after = vessel(read({**files, **done.files}))
    found = compare(before, after)
    assert [(each.kind, each.collection, each.id, each.before_id, each.fields) for each in found] == [
        (RENAMED, asked.collection, asked.now, asked.was, ())
    ]
    return after, asked


def every(files: Mapping[str, bytes]) -> list[str]:
    return [f"{collection}/{path}" for collection, path, _ in vessel(read(files)).items()]


def record_files(name: str) -> dict[str, bytes]:
    folder = ROOT / ("example_vessel" if name == "example_vessel" else f"tests/data/records/{name}")
    return dict(read_folder(folder).files)


RECORDS = sorted(path.name for path in (ROOT / "tests/data/records").iterdir())


Found = set[tuple[str, str, tuple[str, ...], tuple[str, ...]]]


def found_by(of: Vessel) -> Found:
    """What the survey finds and what it cannot judge, without places."""
    made = survey(Boat(of, read({}).places))
    found = {(each.rule, each.signal_word, each.items, each.culprits) for each in made.findings}
    return found | {(each.rule, "", (each.item,), (each.missing,)) for each in made.cannot_judge}


def by_names_of_now(found: Found, asked: Renaming) -> Found:
    """The same in a set of names; the order of items follows their names."""
    names = {f"{asked.collection}/{asked.was}": f"{asked.collection}/{asked.now}"}
    if asked.alone:
        names[asked.was] = asked.now

    own = [re.escape(each.rpartition("/")[2]) for each in (asked.was, asked.now)]
    either = re.compile(rf"(?<![\w.+-])({'|'.join(own)})(?![\w+-]|\.\w)")

    def now(words: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(sorted(called(word, names) for word in words))

    def missing(words: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(" ".join(sorted(re.split("[ ,]+", either.sub("*", word)))) for word in words)

    return {
        (rule, word, now(items), now(more) if word else missing(more))  # what is missing is told in words
        for rule, word, items, more in found
    }


@pytest.mark.parametrize("name", RECORDS)
def test_every_id_of_the_test_records(name: str) -> None:
    files = record_files(name)
    before = vessel(read(files))
    found = found_by(before)
    for said in every(files):
        after, asked = one_rename(files, said, before)
        assert by_names_of_now(found_by(after), asked) == by_names_of_now(found, asked), said


def test_every_id_of_a_boat_in_which_everything_is_referred_to() -> None:
    files = Style(0, aliases=False).files(MORE)
    before = vessel(read(files))
    found = found_by(before)
    for said in every(files):
        after, asked = one_rename(files, said, before)
        assert by_names_of_now(found_by(after), asked) == by_names_of_now(found, asked), said


def test_no_reference_is_forgotten() -> None:
    """Searched for as plain text, which knows nothing of the vocabulary: the old id is left in free text alone."""
    files = Style(0, aliases=False).files(MORE)
    for said in every(files):
        asked, done = renamed(files, said)
        if asked.was.isdigit() or asked.collection in ("concessions", "days"):
            continue
        data = [load(content) for content in {**files, **done.files}.values()]
        alike = re.compile(rf"{re.escape(asked.was)}(?![A-Za-z0-9._+-])")
        left = [(path, word) for each in data for path, word in _words(each, ()) if alike.match(word)]
        assert [each for each in left if {"formerly", "reason"}.isdisjoint(each[0])] == [], said


def _words(data: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], str]]:
    """Every key and every text, with the keys that lead to it."""
    if isinstance(data, Mapping):
        for key, value in data.items():
            yield (*path, key), key
            yield from _words(value, (*path, key))
    elif isinstance(data, list):
        for value in data:
            yield from _words(value, path)
    elif isinstance(data, str):
        yield path, data


def test_a_sample_of_the_example_vessel() -> None:
    """Every 120th entry; the whole of it takes minutes (VESSELSPEC_EVERY_ID=1)."""
    files = record_files("example_vessel")
    before = vessel(read(files))
    for said in every(files)[:: 1 if "VESSELSPEC_EVERY_ID" in os.environ else 120]:
        one_rename(files, said, before)


def test_the_survey_of_the_example_vessel_stays_the_same() -> None:
    files = record_files("example_vessel")
    before = vessel(read(files))
    found = found_by(before)
    for said in ("ac-main", "source-selector"):
        after, asked = one_rename(files, said, before)
        assert by_names_of_now(found_by(after), asked) == by_names_of_now(found, asked), said


# --- every other byte -------------------------------------------------------------------------------

_ADDED = re.compile(r"(,? ?(?<!\w)formerly: \[[^]]*\]|(?<=[\]\w\"']), [\w/.-]+(?=\]))")


@settings(max_examples=80, deadline=None, phases=(Phase.explicit, Phase.generate))
@given(st.integers(0, 10**9), st.sampled_from([MORE, TWO_SOURCES]), st.data())
def test_any_way_of_writing(seed: int, boat: dict[str, Any], data: st.DataObject) -> None:
    files = Style(seed).files(boat)
    said = data.draw(st.sampled_from(every(files)))
    try:
        asked, done = renamed(files, said)
    except EditError as refused:
        assert "alias" in refused.reason or "unusual" in refused.reason  # only what stands for two things at once
        return
    one_rename(files, said)
    for name, new in done.files.items():
        old = files[name]
        assert new.startswith(b"\xef\xbb\xbf") == old.startswith(b"\xef\xbb\xbf")
        assert new.count(b"#") == old.count(b"#")
        endings = b"\r\n" in old
        assert (new.count(b"\n") == new.count(b"\r\n")) is endings or b"\n" not in new
        own, was = (each.rpartition("/")[2] for each in (asked.now, asked.was))
        kept = [line for line in new.decode().split("\n") if not re.fullmatch(r" *formerly: \[.*\]\r?", line)]
        back = [_ADDED.sub("", line).replace(own, was) for line in kept]
        there = [_ADDED.sub("", line) for line in old.decode().split("\n")]
        assert [re.sub(r"\{ *\}", "{}", line) for line in back] == [re.sub(r"\{ *\}", "{}", line) for line in there]


# --- what is refused and what is told ------------------------------------------------------------------

BOAT: dict[str, Any] = edited(
    REFERRING,
    lambda raw: (
        raw["cables"]["W1"].update(formerly=["C17"], label="W1", note="W1 runs beside W2."),
        raw["spaces"].update(W1={}),
    ),
)


@pytest.mark.parametrize(
    ("said", "new", "reason"),
    [
        ("nothing", "x", "There is no nothing"),
        ("W1", "x", "W1 can mean several entries"),
        ("cables/W1", "W1", "called W1 already"),
        ("cables/W1", "W2", "There is cables/W2 already"),
        ("cables/W1", "heater-one", "There is loads/heater-one already"),
        ("W2", "C17", "W1 was called C17 once"),
        ("heater-one", "C17", "W1 was called C17 once"),
        ("W2", "untraced", "meaning of its own"),
        ("W2", "a b", "cannot be an id"),
        ("W2", "", "cannot be an id"),
        ("W2", "a/b", "cannot be an id"),
        ("panel-one/shore-section/10", "panel-one/inverter-section/99", "`vesselspec move`"),
        ("panel-one/shore-section/10", "20", "There is ways/panel-one/shore-section/20 already"),
        ("panel-one/shore-section", "inverter-section", "already"),
    ],
)
def test_ids_that_cannot_be_had(said: str, new: str, reason: str) -> None:
    with pytest.raises(EditError) as refused:
        renamed(Style(1).files(BOAT), said, new)
    assert reason in refused.value.reason
    assert refused.value.remedy


def test_an_own_earlier_id_can_be_had_again() -> None:
    files = Style(1).files(BOAT)
    assert one_rename(files, "cables/W1")
    _, done = renamed(files, "cables/W1", "C17")
    assert vessel(read({**files, **done.files})).cables["C17"].formerly == ("C17", "W1")


def test_a_reference_that_led_nowhere_is_not_caught() -> None:
    boat = edited(REFERRING, lambda raw: raw["cables"]["W6"].update({"to": "boiler"}))
    with pytest.raises(EditError) as refused:
        renamed(Style(2).files(boat), "heater-one", "boiler")
    assert "cables/W6/to says boiler" in refused.value.reason


def test_words_are_told_and_left() -> None:
    files = {
        "vessel.yaml": b"vessel: {record: 1, name: W1, practice: north-american}\n",
        "cables.yaml": b"# W1 to W19\ncables:\n  W1: {from: untraced, to: untraced, label: W1, formerly: [W0]}  # W1!\n"
        b"  W2:\n    from: untraced\n    to: untraced\n    note: Beside W1.\n",
        "spaces.yaml": b"spaces: {W1-room: {}, x: {name: xW1}}\n",
    }
    _, done = renamed(files, "W1", "W3")
    assert done.references == 0
    assert [(str(place), line) for place, line in done.left] == [
        ("cables.yaml:1:3", "# W1 to W19"),
        ("cables.yaml:3:45", "W3: {from: untraced, to: untraced, label: W1, formerly: [W0, W1]}  # W1!"),
        ("cables.yaml:3:72", "W3: {from: untraced, to: untraced, label: W1, formerly: [W0, W1]}  # W1!"),
        ("cables.yaml:7:18", "note: Beside W1."),
    ]


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (
            "  a:\n    kind: switch\n    name: N  # n\n    system: x\n",
            "  b:\n    kind: switch\n    name: N  # n\n    formerly: [a]\n    system: x\n",
        ),
        (
            "  a:  # c\n    # of kind\n    system: x\n    kind: switch\n",
            "  b:  # c\n    formerly: [a]\n    # of kind\n    system: x\n    kind: switch\n",
        ),
        ("  a: {kind: switch}", "  b: {kind: switch, formerly: [a]}"),
        ("  a: {kind: switch,\n      system: x,}\n", "  b: {kind: switch,\n      system: x, formerly: [a],}\n"),
        ("  'a':\n    kind: switch", "  'b':\n    kind: switch\n    formerly: [a]"),
        (
            "  a:\n    formerly:\n    - z  # old\n    kind: switch\n",
            "  b:\n    formerly:\n    - z  # old\n    - a\n    kind: switch\n",
        ),
        ('  "\\x61": {kind: switch, formerly: ["z"]}\n', '  b: {kind: switch, formerly: ["z", a]}\n'),
    ],
)  # fmt: skip
def test_where_the_earlier_id_goes(before: str, after: str) -> None:
    files = {
        "vessel.yaml": b"vessel: {record: 1, name: x, practice: north-american}\n",
        "devices.yaml": f"devices:\n{before}".encode(),
    }
    _, done = renamed(files, "a", "b")
    assert done.files["devices.yaml"].decode() == f"devices:\n{after}"
