"""The schema in an editor: what a YAML language server completes, explains and marks with it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from vesselspec.model.devices import DEVICE_KINDS

from . import server
from .server import Editor

ROOT = Path(__file__).parents[2]
SCHEMA = ROOT / "schema/record.schema.json"


@pytest.fixture(scope="module")
def editor(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Editor]:
    server.require()
    with Editor(SCHEMA, tmp_path_factory.mktemp("boat")) as found:
        yield found


def marks(editor: Editor, text: str) -> list[tuple[int, str]]:
    """What is marked: the line, counted from 1, and the words."""
    return sorted((each["range"]["start"]["line"] + 1, each["message"]) for each in editor.open("marks.yaml", text))


def completed(editor: Editor, text: str) -> dict[str, dict[str, Any]]:
    """What is offered where the text has a ‸."""
    line, at = _caret(text)
    editor.open("complete.yaml", text.replace("‸", ""))
    return editor.complete(line, at)


def explained(editor: Editor, text: str) -> str:
    """What is shown over the word after the ‸, without the schema's name."""
    line, at = _caret(text)
    editor.open("explain.yaml", text.replace("‸", ""))
    return editor.hover(line, at + 1).split("\n\nSource:")[0]


def _caret(text: str) -> tuple[int, int]:
    before = text.split("‸", maxsplit=1)[0].split("\n")
    return len(before) - 1, len(before[-1])


@pytest.mark.parametrize("file", sorted((ROOT / "example_vessel").glob("*.yaml")), ids=lambda file: file.name)
def test_nothing_is_marked_in_the_example(editor: Editor, file: Path) -> None:
    assert editor.open(file.name, file.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("name", ["sources.yaml", "loads.yaml"])
def test_every_field_of_the_example_is_explained(editor: Editor, name: str) -> None:
    """Over every key that stands on a line of its own are a title and a sentence; of many ids one is looked at."""
    text = (ROOT / "example_vessel" / name).read_text(encoding="utf-8")
    editor.open(name, text)
    keys: dict[str, tuple[int, int]] = {}
    for number, line in enumerate(text.splitlines()):
        if found := re.match(r"( *)([a-z][\w-]*):( |$)", line):
            keys.setdefault("an id" if len(found[1]) == 2 else found[2], (number, len(found[1]) + 1))
    assert len(keys) > 1
    for at in keys.values():
        shown = editor.hover(*at)
        assert re.match(r"#### \S.*\n\n\w.+", shown), (at, shown)


def test_a_device_kind_is_completed_with_what_it_is(editor: Editor) -> None:
    offered = completed(editor, "devices:\n  shore-1:\n    kind: ‸\n")
    assert set(offered) == set(DEVICE_KINDS)
    assert offered["shore-inlet"]["documentation"].startswith("A shore power inlet")


def test_the_kind_decides_which_fields_are_offered(editor: Editor) -> None:
    inlet = completed(editor, "devices:\n  shore-1:\n    kind: shore-inlet\n    ‸\n")
    bank = completed(editor, "devices:\n  bank:\n    kind: battery-bank\n    ‸\n")
    assert {"name", "system", "rating"} <= set(inlet)
    assert "max_discharge" in set(bank) - set(inlet)
    assert "kind" not in inlet


def test_the_poles_are_offered_for_a_core(editor: Editor) -> None:
    offered = completed(editor, "cables:\n  C1:\n    cores:\n      black: ‸\n")
    assert {"L1", "N", "PE", "DC+", "spare", "untraced"} <= set(offered)


def test_a_field_is_explained_with_an_example(editor: Editor) -> None:
    shown = explained(editor, "loads:\n  heater:\n    ‸power: 1500 W\n")
    assert shown.startswith("#### Power\n\nRated power")
    assert "1500 W" in shown


@pytest.mark.parametrize(
    ("text", "title", "words"),
    [
        ("devices:\n  ‸shore-1: {kind: shore-inlet}\n", "Device", "A shore power inlet"),
        ("loads:\n  a:\n    ‸kind: load\n", "Kind", "`load` if left out"),
        ("cables:\n  C1:\n    cores:\n      ‸black: L1\n", "Core", "Where it lands at both ends"),
        ("cables:\n  C1:\n    cores:\n      ‸black: {from: L1}\n", "Core", "One conductor of a cable"),
        ("panels:\n  p:\n    sections:\n      s:\n        ways:\n          ‸w: {}\n", "Way", "One numbered position"),
        ("conditions:\n  c:\n    demand:\n      ‸heater: 0.5\n", "Demand", ""),
    ],
)
def test_ids_and_alternatives_are_explained_too(editor: Editor, text: str, title: str, words: str) -> None:
    shown = explained(editor, text)
    assert shown.startswith(f"#### {title}\n\n")
    assert words in shown


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("loads:\n  a:\n    system: ac\n    power: 1500\n", "Expected a power with its unit, such as 1500 W."),
        ("loads:\n  a:\n    system: ac\n    power: 1500 V\n", "Expected a power with its unit, such as 1500 W."),
        ("cables:\n  C:\n    length: 3\n", "Expected a length with its unit, such as 7.5 m."),
        ("cables:\n  C:\n    size: 12\n", "Expected a conductor size with its unit, such as 12 AWG."),
        ("cables:\n  C:\n    cores: {black: L4}\n", "Expected a pole: L1 L2 L3 N PE DC+ DC-; `spare` or `untraced`"),
        ("cables:\n  C 1: {}\n", "Expected an id: letters, digits and . _ + - after a letter or digit"),
        ("loads:\n  a:\n    system: 12\n", "Expected an id: letters, digits"),
        ("loads:\n  a:\n    powr: 5 W\n", "Property powr is not allowed."),
        ("devices:\n  a:\n    kind: shore\n", "Value is not accepted. Valid values: "),
        ("devices:\n  a:\n    name: A\n", 'Missing property "kind".'),
    ],
)
def test_a_mistake_is_marked_in_words_at_its_line(editor: Editor, text: str, expected: str) -> None:
    found = marks(editor, text)
    line = text.rstrip("\n").count("\n") + 1
    assert any(said.startswith(expected) and at in (line, line - 1) for at, said in found), found
    assert not any("does not match the pattern" in said for _, said in found)


def test_the_words_for_editors_leave_what_is_allowed_as_it_is() -> None:
    """Only words are added; alternatives that became one type list have keywords of different types."""
    from vesselspec.model.schema import record_schema

    published, plain = json.loads(SCHEMA.read_text(encoding="utf-8")), record_schema()
    words = {"errorMessage", "patternErrorMessage", "markdownDescription"}
    merged = 0

    def same(one: Any, two: Any) -> None:
        nonlocal merged
        if isinstance(one, dict) and "anyOf" in two and "anyOf" not in one:
            merged += 1
            types = [branch.pop("type") for branch in two.pop("anyOf") for branch in [dict(branch)]]
            assert one["type"] == types == ["string", "object"]
        elif isinstance(one, dict):
            assert set(one) - words == set(two)
            for key in two:
                same(one[key], two[key])
        elif isinstance(one, list):
            assert len(one) == len(two)
            for left, right in zip(one, two, strict=True):
                same(left, right)
        else:
            assert one == two

    same(published, plain)
    assert merged == 2  # the power of a load and of receptacles
