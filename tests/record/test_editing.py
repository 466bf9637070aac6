"""Edits that add entries: what they add is there, and every byte that was there is still there, in its place."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.record.edit import EditError, insert
from vesselspec.record.yaml import YamlError, load

ENTRY: dict[str, Any] = {"reason": "as found", "until": "2027-03-14", "covers": {"0123456789012345": {"measure": 1.5}}}


def added(before: bytes, after: bytes) -> bytes:
    """What stands in the later text and not in the earlier one, which must be one piece."""
    start = 0
    while start < len(before) and before[start] == after[start]:
        start += 1
    piece = after[start : start + len(after) - len(before)]
    assert after[:start] + after[start + len(piece) :] == before
    return piece


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("", "concessions:\n  new: 1\n"),
        ("# only words\n", "# only words\nconcessions:\n  new: 1\n"),
        ("# no end", "# no end\nconcessions:\n  new: 1\n"),
        ("loads: {x: {}}  # say\n", "loads: {x: {}}  # say\nconcessions:\n  new: 1\n"),
        ("concessions:\n", "concessions:\n  new: 1\n"),
        ("concessions: # none yet\nloads: {}\n", "concessions: # none yet\n  new: 1\nloads: {}\n"),
        (
            "concessions:\n    one: {b: 2}  # why\n    # of one\n\n# of loads\nloads: {}\n",
            "concessions:\n    one: {b: 2}  # why\n    # of one\n    new: 1\n\n# of loads\nloads: {}\n",
        ),
        ("concessions:\n  one: {b: 2}", "concessions:\n  one: {b: 2}\n  new: 1\n"),
        ("concessions:\r\n  one:\r\n    b: 2\r\n", "concessions:\r\n  one:\r\n    b: 2\r\n  new: 1\r\n"),
        (
            "concessions:\n  one:\n    note: |\n      x\n      y\n\nloads: {}\n",
            "concessions:\n  one:\n    note: |\n      x\n      y\n\n  new: 1\nloads: {}\n",
        ),
        ("  concessions:\n    one: {}\n", "  concessions:\n    one: {}\n    new: 1\n"),
        ("---\nloads: {}\n", "---\nloads: {}\nconcessions:\n  new: 1\n"),
        (
            "concessions:\n  one: &x\n    b: 2\n  two: *x\n",
            "concessions:\n  one: &x\n    b: 2\n  two: *x\n  new: 1\n",
        ),
        ("\ufeffloads: {}\n", "\ufeffloads: {}\nconcessions:\n  new: 1\n"),
    ],
)
def test_where_lines_go(before: str, after: str) -> None:
    assert insert(before.encode(), "concessions", {"new": 1}).decode() == after


@pytest.mark.parametrize(
    "content",
    [
        b'{"concessions": {}}\n',
        b"concessions: {}\n",
        b"concessions: {one: {}}\n",
        b"concessions: ~\n",
        b"concessions: words\n",
        b"concessions: []\n",
        b"- a\n",
        b"concessions:\n  new: {}\n",  # there already
        b"loads:\n  x:\n    note: |\n      no line ending",  # which would become part of the text
        b"loads: {}\n...\n",
        b"a: [\n",
        b"a: \xff\n",
        b"a: !x b\n",
    ],
)
def test_what_cannot_be_done_by_adding_lines_is_refused(content: bytes) -> None:
    with pytest.raises(EditError) as refused:
        insert(content, "concessions", {"new": {"a": 1}})
    assert refused.value.reason.endswith(".")
    assert refused.value.remedy


def test_nothing_to_add_changes_nothing() -> None:
    assert insert(b"\xff", "concessions", {}) == b"\xff"


# --- any file ---------------------------------------------------------------------------------------

KEYS = st.sampled_from(["a", "one", "C1", '"2"', "'x y'", "concession", "new-1"])
COMMENTS = st.sampled_from(["", "  # why", " # 'quoted", ' # "x: {', "  #"])
SCALARS = st.sampled_from(
    ["1", "x", "words of more", '"quo\\"ted # no"', "'it''s'", "2026-03-14", "~", "", "{a: 1, b: [x, 'y']}",
     "[1,\n       2]", "|\n         block\n         # no comment", ">-\n         folded\n\n         more",
     "|+\n         kept\n\n", "first\n         second",
     "{a: 1,\n       # inside\n       b: 2}", '"two\n         lines"']
)  # fmt: skip
BETWEEN = st.sampled_from(
    ["", "", "", "\n", "# far left\n", "  # at the entry\n", "      # far in\n", "\n# next\n", "   \n"]
)


@st.composite
def files(draw: st.DrawFn) -> bytes:
    """A file with collections, comments, quotes and blocks, and any line ending."""
    text = draw(st.sampled_from(["", "# head\n", "\n\n", "---\n", "# head\n---\n"]))
    names = draw(st.lists(st.sampled_from(["loads", "concessions", "cables", "spaces"]), unique=True, max_size=3))
    for name in names:
        indent = " " * draw(st.sampled_from([1, 2, 4]))
        text += f"{name}:{draw(COMMENTS)}\n"
        for key in draw(st.lists(KEYS, unique=True, max_size=3)):
            text += draw(BETWEEN) + f"{indent}{key}:"
            if draw(st.booleans()):
                text += f" {draw(SCALARS)}{draw(COMMENTS)}\n"
            else:
                text += draw(COMMENTS) + "\n"
                for field in draw(st.lists(KEYS, unique=True, min_size=1, max_size=3)):
                    text += draw(BETWEEN) + f"{indent}  {field}: {draw(SCALARS)}{draw(COMMENTS)}\n"
        text += draw(BETWEEN)
    if draw(st.booleans()):
        text = text.rstrip("\n")
    return text.replace("\n", draw(st.sampled_from(["\n", "\n", "\r\n"]))).encode()


PLAIN: st.SearchStrategy[Any] = st.recursive(
    st.one_of(
        st.booleans(),
        st.integers(-(10**9), 10**9),
        st.floats(0, 1e6, allow_nan=False).map(lambda value: round(value, 4)),
        st.text(st.characters(exclude_categories=["Cs"]), max_size=20),
        st.sampled_from(["no", "012", "1e3", "0123456789012345", "2026-03-14", "a: b", "#x", "- x", "~", "é", "a, b"]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(st.sampled_from("ab1~-: "), max_size=4), inner, max_size=3)
    ),
    max_leaves=6,
)


@settings(max_examples=400, deadline=None)
@given(files(), st.dictionaries(st.sampled_from(["new", "10", "x.y"]), PLAIN, min_size=1, max_size=2))
def test_everything_outside_the_insertion_stays(content: bytes, entries: dict[str, Any]) -> None:
    try:
        said = load(content) or {}
    except YamlError:
        with pytest.raises(EditError):
            insert(content, "concessions", entries)
        return
    try:
        made = insert(content, "concessions", entries)
    except EditError:
        return
    piece = added(content, made)
    assert piece
    assert load(made) == {**said, "concessions": {**(said.get("concessions") or {}), **entries}}
    if b"\r\n" in content:
        assert piece.count(b"\n") == piece.count(b"\r\n")


@settings(max_examples=200, deadline=None)
@given(files())
def test_most_files_are_taken(content: bytes) -> None:
    """What is refused has a reason that can be named."""
    try:
        said = load(content) or {}
    except YamlError:
        return
    try:
        insert(content, "concessions", {"new": ENTRY})
    except EditError:
        held = said.get("concessions", {})
        unended = not content.endswith(b"\n")
        assert unended or not isinstance(held, dict) or not held
