"""Whatever the files hold, reading them ends in a vessel or in problems whose places lie inside them."""

from __future__ import annotations

import random
import re
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.model.vessel import COLLECTIONS
from vesselspec.record import Place, Record, read
from vesselspec.record.yaml import Map, Seq, YamlError, load
from vesselspec.report import expansion
from vesselspec.rules import Boat, survey
from vesselspec.rules.book import failed

from .mutations import TEXTS, as_yaml, muddled, plain, spoilt

EXAMPLE = Path(__file__).parents[2] / "example_vessel"
BOM = b"\xef\xbb\xbf"
SCRAPS = st.sampled_from(
    [
        "vessel:", "loads:", "cables:", " ", "  ", "\n", "\n  ", "\t", "\r", "\r\n", "- ", "{", "}", "[", "]", ",",
        ": ", "? ", "|", "|-\n", ">", "&a ", "*a", "!!str ", "'", '"', "\\", "#", "a", "b", "%YAML 1.2\n", "%TAG",
        "---", "...", "~", "1", "1e9", "0x1f", "é", "\ufeff", "\u2028", "\x85", "\x00", "\x1b", "<<", "@", "`", "\\x41",
        "\\ud800", "\\U0001F600", "=", "\U0001f600", "\u202e",
    ]
)  # fmt: skip


def lines_of(content: bytes) -> list[str]:
    return re.split("\r\n|\r|\n", content.removeprefix(BOM).decode("utf-8", "replace"))


def checked(files: Mapping[str, bytes]) -> Record:
    """Read files that may hold anything, and check what must be true of every result."""
    record = read(files)
    assert (record.vessel is None) is bool(record.problems)
    assert list(record.problems) == sorted(record.problems)
    assert len(set(record.problems)) == len(record.problems)
    for problem in record.problems:
        place = problem.place
        assert problem.found
        assert problem.remedy
        assert place.file in files or place == Place("vessel.yaml")
        if place.line:
            lines = lines_of(files[place.file])
            assert 1 <= place.line <= len(lines)
            assert 1 <= place.column <= len(lines[place.line - 1]) + 1
        else:
            assert place.column == 0
    return record


@settings(max_examples=80, deadline=None)
@given(st.binary(max_size=120), st.booleans())
def test_any_bytes(content: bytes, with_mark: bool) -> None:
    checked({"vessel.yaml": BOM + content if with_mark else content, "b.yaml": content})


@settings(max_examples=80, deadline=None)
@given(st.lists(SCRAPS, max_size=30).map("".join))
def test_text_that_looks_like_yaml(text: str) -> None:
    checked({"vessel.yaml": text.encode()})


def _outcome(content: bytes) -> Any:
    try:
        return load(content)
    except YamlError:
        return YamlError


@settings(max_examples=60, deadline=None)
@given(st.lists(SCRAPS, max_size=20).map("".join))
def test_no_text_means_two_things(text: str) -> None:
    """Without its part in C the parser is slower and stricter with tabs; what both accept is the same to both."""
    content = f"a: 1\nb: {text}\n".encode()
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(sys.modules, "_ruamel_yaml", None)
        slow = _outcome(content)
    fast = _outcome(content)
    assert YamlError in (slow, fast) or slow == fast


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(sorted(TEXTS)), st.data())
def test_fixtures_with_scraps_in_them(name: str, data: st.DataObject) -> None:
    content = TEXTS[name]
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(content)))
        end = start + data.draw(st.integers(0, 5))
        content = content[:start] + data.draw(SCRAPS).encode() + content[end:]
    checked({"vessel.yaml": content})


@settings(max_examples=60, deadline=None)
@given(spoilt(), spoilt())
def test_spoilt_fixtures(one: dict[str, Any], two: dict[str, Any]) -> None:
    checked({"vessel.yaml": as_yaml(one), "sub/two.yaml": as_yaml(two)})


@settings(max_examples=60, deadline=None)
@given(muddled())
def test_nonsense_that_is_well_formed_is_compiled_judged_and_expanded(data: dict[str, Any]) -> None:
    record = checked({"vessel.yaml": as_yaml(data)})
    if record.vessel is not None:
        boat = Boat(record.vessel, record.places)
        found = survey(boat)
        assert list(failed(found)) == []
        for finding in found.findings:
            assert finding.place.file == "vessel.yaml"
        for item in expansion.known(boat):
            assert expansion.expand(boat, item) is not None


def _keys(node: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    found = [path] if path else []
    inner: list[Any] = list(node.items()) if isinstance(node, Map) else []
    if isinstance(node, Seq):
        inner = list(enumerate(node))
    for key, value in inner:
        found += _keys(value, (*path, key))
    return found


def _example_files() -> dict[str, bytes]:
    return {file.relative_to(EXAMPLE).as_posix(): file.read_bytes() for file in sorted(EXAMPLE.rglob("*.yaml"))}


RECORDS = [*({"vessel.yaml": text} for text in TEXTS.values()), _example_files()]


@pytest.mark.parametrize("files", RECORDS, ids=[*TEXTS, "example"])
def test_every_key_is_found_where_it_stands(files: dict[str, bytes]) -> None:
    record = read(files)
    assert record.vessel is not None
    seen = 0
    for file, content in files.items():
        lines = lines_of(content)
        data = load(content) or Map()
        for collection in COLLECTIONS:
            for key, *fields in _keys(data[collection]) if collection in data else ():
                place = record.places.of(collection, str(key), *fields)
                assert place.file == file
                rest = lines[place.line - 1][place.column - 1 :]
                last = [key, *fields][-1]
                if isinstance(last, str):
                    assert re.match(rf"(['\"]?){re.escape(last)}\1\s*:", rest), (place, last)
                else:
                    assert rest
                seen += 1
    for collection, path, _ in record.vessel.items():
        if collection in ("sections", "ways"):
            place = record.places.of(collection, path)
            rest = lines_of(files[place.file])[place.line - 1][place.column - 1 :]
            assert re.match(rf"(['\"]?){re.escape(path.rsplit('/', 1)[1])}\1\s*:", rest)
    assert seen


def test_places_of_what_is_not_written() -> None:
    places = read({"vessel.yaml": TEXTS["13-as-found"]}).places
    assert places.of("cables", "C99") == Place("vessel.yaml")
    assert places.of("ways", "main/nowhere/1") == places.of("panels", "main", "sections")
    assert places.of("cables", "C1", "length") == places.of("cables", "C1")
    assert places.of("cables", "C1", "cores", "white", "from").line == places.of("cables", "C1", "cores", "white").line


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(range(len(RECORDS))), st.randoms(use_true_random=False))
def test_files_and_order_make_no_difference(number: int, chance: random.Random) -> None:
    """The owner may keep the entries in any file and order: the vessel is the same, and so is what it equals."""
    whole = read(RECORDS[number])
    entries: list[tuple[str, str, Any]] = []
    header: Any = None
    for content in RECORDS[number].values():
        data = load(content) or {}
        header = data.get("vessel", header)
        entries += [(name, key, entry) for name in COLLECTIONS for key, entry in data.get(name, {}).items()]
    chance.shuffle(entries)
    files: dict[str, dict[str, Any]] = {"vessel.yaml": {}}
    for name, key, entry in entries:
        file = chance.choice(["vessel.yaml", "a.yaml", "sub/b.yaml", "z.yaml"])
        files.setdefault(file, {}).setdefault(name, {})[key] = entry
    files["vessel.yaml"]["vessel"] = header
    split = read({file: as_yaml(data) for file, data in files.items()})
    assert split.problems == ()
    assert split.vessel == whole.vessel
    assert whole.vessel is not None
    assert split.vessel is not None
    for name in COLLECTIONS:
        assert list(split.vessel.collection(name)) == list(whole.vessel.collection(name))


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(sorted(TEXTS)), st.data())
def test_every_change_of_a_value_makes_another_vessel(name: str, data: st.DataObject) -> None:
    """A field that the typed model forgot would be invisible to a review."""
    whole = read({"vessel.yaml": TEXTS[name]}).vessel
    raw = plain(name)
    collection = data.draw(st.sampled_from([key for key in raw if key != "vessel"]))
    key = data.draw(st.sampled_from(sorted(raw[collection])))
    entry = raw[collection][key]
    field = data.draw(st.sampled_from(["note", "name", "evidence", "photos", "formerly"]))
    entry[field] = {
        "note": "Changed.",
        "name": "Changed",
        "evidence": {"how": "assumed", "by": "surveyor"},
        "photos": ["photos/changed.jpg"],
        "formerly": ["changed"],
    }[field]
    changed = read({"vessel.yaml": as_yaml(raw)})
    assert changed.problems == ()
    assert changed.vessel != whole
