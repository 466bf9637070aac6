"""Tidying: the same data, the same lines, the same comments beside the same things; done twice it changes nothing."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from tests.changes.boats import REFERRING, TWO_SOURCES
from tests.record.styles import Style
from vesselspec.model.devices import DEVICE_KINDS, LOAD_KINDS
from vesselspec.model.forms import specs
from vesselspec.model.vessel import COLLECTIONS
from vesselspec.record import read
from vesselspec.record.rewrite import same
from vesselspec.record.tidying import field_order, tidied
from vesselspec.record.yaml import load

ROOT = Path(__file__).parents[2]
FILES = sorted([*(ROOT / "example_vessel").glob("*.yaml"), *(ROOT / "tests/data/records").rglob("*.yaml")])


def lines(content: bytes) -> Counter[str]:
    text = content.decode("utf-8-sig").replace("\r", "\n")
    return Counter(line.strip() for line in text.split("\n") if line.strip())


def tidy(text: str) -> str:
    once = tidied(text.encode())
    again = tidied(once.content)
    assert again.content == once.content
    assert again.left == once.left
    return once.content.decode()


@pytest.mark.parametrize("file", FILES, ids=lambda file: f"{file.parent.name}/{file.name}")
def test_the_records_of_the_project(file: Path) -> None:
    before = file.read_bytes()
    after = tidied(before).content
    assert same(load(after), load(before), ordered=False)
    assert lines(after) == lines(before)
    assert tidied(after).content == after


@settings(max_examples=120, deadline=None, phases=(Phase.explicit, Phase.generate))
@given(st.integers(0, 10**9), st.sampled_from([TWO_SOURCES, REFERRING]), st.integers(0, 3))
def test_any_way_of_writing(seed: int, boat: dict[str, Any], shuffles: int) -> None:
    style = Style(seed)

    def shuffled(data: Any, depth: int) -> Any:
        """The same with collections and fields in any order; entries keep theirs."""
        if not isinstance(data, dict):
            return data
        keys = list(data)
        if depth in (0, 2) and shuffles:
            style.of.shuffle(keys)
        return {key: shuffled(data[key], depth + 1) for key in keys}

    files = style.files(shuffled(boat, 0))
    before = read(files)
    assert before.vessel is not None
    made = {name: tidied(content) for name, content in files.items()}
    after = read({name: each.content for name, each in made.items()})
    assert after.vessel == before.vessel
    for name, each in made.items():
        old, new = files[name], each.content
        assert tidied(new).content == new
        assert lines(new) == lines(old)
        assert new.startswith(b"\xef\xbb\xbf") == old.startswith(b"\xef\xbb\xbf")
        if old.count(b"\n") == old.count(b"\r\n"):
            assert new.count(b"\n") == new.count(b"\r\n")
        for collection, entries in load(old).items():
            assert list(load(new)[collection]) == list(entries) or collection == "vessel"
        # A comment at the end of a line is still at the end of that line; one above a key is still above it.
        assert _above(new.decode("utf-8-sig")) == _above(old.decode("utf-8-sig"))


def _above(text: str) -> Counter[tuple[str, str]]:
    rows = [line.strip() for line in re.split("\r?\n", text)]
    return Counter(pair for pair in itertools.pairwise(rows) if pair[0] == "# of what follows" and pair[1])


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("", ""),
        ("\n\n", ""),
        ("# only words  \n\n\n\n# more\n\n", "# only words\n\n# more\n"),
        ("loads:  \n  x: {}\t\n\n\n\n  y: {}  # say \n   ", "loads:\n  x: {}\n\n  y: {}  # say\n"),
        ("loads:\r\n  x: {} \r\n\r\n\r\n", "loads:\r\n  x: {}\r\n"),
        ("loads:\n  x: {}", "loads:\n  x: {}\n"),
        ("\ufeffloads:\n  x: {}", "\ufeffloads:\n  x: {}\n"),
        # collections, with the comments above them
        (
            "loads:\n  x: {}\n\n# the spaces\nspaces:\n  y: {}\n# end\n",
            "# the spaces\nspaces:\n  y: {}\nloads:\n  x: {}\n# end\n",
        ),
        # a heading stays where it is, and so does what lies around it
        ("loads:\n  x: {}\n\n# All spaces\n\nspaces:\n  y: {}\n",) * 2,
        ("# of the loads, or of all\nloads:\n  x: {}\nspaces:\n  y: {}\n",) * 2,
        (
            "# of the file\n\nloads:\n  x: {}\nspaces:\n  y: {}\n",
            "# of the file\n\nspaces:\n  y: {}\nloads:\n  x: {}\n",
        ),
        # fields; entries keep their order
        (
            "loads:\n  z:\n    power: 1 W  # p\n    # as found\n    use: other\n    name: Z\n  a: {use: pump}\n",
            "loads:\n  z:\n    name: Z\n    # as found\n    use: other\n    power: 1 W  # p\n  a: {use: pump}\n",
        ),
        (
            "loads:\n  z:\n    evidence:\n      by: me\n      how: traced\n    note: |\n      one\n\n      two\n"
            "    use: other\n",
            "loads:\n  z:\n    use: other\n    note: |\n      one\n\n      two\n    evidence:\n      how: traced\n"
            "      by: me\n",
        ),
        (
            "loads:\n  z:\n    name: Z\n    note: under its name\n    power: 1 W\n    use: other\n",
            "loads:\n  z:\n    name: Z\n    note: under its name\n    use: other\n    power: 1 W\n",
        ),
        ("loads:\n  z:\n    # of the power, or of z\n    power: 1 W\n    use: other\n",) * 2,
        (
            "loads:\n  z:\n    power: 1 W\n      # further in: of the power\n    use: other\n",
            "loads:\n  z:\n    use: other\n    power: 1 W\n      # further in: of the power\n",
        ),
        # an alias would stand before its anchor
        ("loads:\n  z: &z {use: other}\n  y: *z\nspaces: {}\n", "spaces: {}\nloads:\n  z: &z {use: other}\n  y: *z\n"),
        ("loads:\n  z:\n    note: &n word\n    name: *n\n",) * 2,
        # nothing that could belong to a text is touched
        ("loads:\n  z:\n    note: |+\n      one  \n\n\n",) * 2,
        ("loads:\n  z:\n    note: |\n      no end",) * 2,
        ('loads:\n  z:\n    note: "one\n\n\n      two  \n      three"\n',) * 2,
        ("{loads: {z: {power: 1 W, use: other}}}\n",) * 2,
    ],
)  # fmt: skip
def test_what_it_does_and_does_not(before: str, after: str) -> None:
    assert tidy(before) == after


def test_what_is_left_is_told() -> None:
    text = "loads:\n  z:\n    # of the power, or of z\n    power: 1 W\n    use: other\n"
    assert tidied(text.encode()).left == ((4, "the order of power, use"),)


@pytest.mark.parametrize("collection", COLLECTIONS)
def test_every_field_has_its_place(collection: str) -> None:
    holds = COLLECTIONS[collection]
    classes: list[type[Any]] = [holds] if isinstance(holds, type) else [*DEVICE_KINDS.values(), *LOAD_KINDS.values()]
    for cls in classes:
        assert sorted(set(field_order(cls)) - {"kind"}) == sorted({spec.key for _, spec in specs(cls)} - {"kind"})
