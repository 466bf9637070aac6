"""Edits of a record's files that touch nothing but what they add: every other byte stays.

The text is not parsed into objects and written again, which would lose some comment or quote sooner or later.
The parser only says at which line the new lines belong. What comes out is read again, and unless it says exactly
what the file said before and the new entries, the edit is refused.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from vesselspec.record.yaml import BOM, LINE_BREAK, YamlError, events, load, resolve

#: Text that needs no quotes: nothing in it has a meaning in YAML, alone or inside braces.
_PLAIN = re.compile(r"([A-Za-z][A-Za-z0-9._/+-]*( [A-Za-z0-9._/+-]+)*|[0-9]{4}-[0-9]{2}-[0-9]{2})\Z")
#: Words that readers of older YAML take for something else.
_WORDS = frozenset(("y", "n", "yes", "no", "on", "off"))
_STEP = 2


class EditError(Exception):
    """The entries cannot be added without changing something else; both sentences are for a terminal."""

    def __init__(self, reason: str, remedy: str) -> None:
        super().__init__(f"{reason} {remedy}")
        self.reason, self.remedy = reason, remedy


def insert(content: bytes, collection: str, entries: Mapping[str, Any]) -> bytes:
    """Add entries (id → plain data) to a collection of a file, after those that are there; return the new content.

    The file may be empty and need not have the collection. Raises EditError where that cannot be done by
    inserting lines alone.
    """
    if not entries:
        return content
    try:
        said = load(content)
    except YamlError as error:
        raise EditError(f"Line {error.line}: {error.found}.", error.remedy or "Correct the file first.") from None
    start = BOM if content.startswith(BOM) else b""
    text = content.removeprefix(BOM).decode()
    at, indent, opened = _where(text, collection)
    ending = _line_ending(text, at)
    lines = [] if opened else [" " * indent + f"{collection}:"]
    inner = indent if opened else indent + _STEP
    lines += [line for key, value in entries.items() for line in _block(key, value, inner)]
    added = "".join(line + ending for line in lines)
    if at and not LINE_BREAK.match(text, at - 1):
        added = ending + added  # the file's last line is not ended
    new = start + (text[:at] + added + text[at:]).encode("utf-8", "surrogatepass")
    if _loaded(new) != _expected(said, collection, entries):
        raise EditError(
            "The entries cannot be added to the file without changing what else it says.",
            "Put them in by hand, or end the file with an ordinary line of its own.",
        )
    return new


def _loaded(content: bytes) -> Any:
    try:
        return load(content)
    except YamlError:
        return None


def _expected(said: Any, collection: str, entries: Mapping[str, Any]) -> Any:
    held = {} if said is None else dict(said)
    return {**held, collection: {**(held.get(collection) or {}), **entries}}


# --- where the lines belong ---------------------------------------------------------------------


@dataclass
class _Node:
    """A node of the file: what it is, the column at which it stands, and the line on which it ends, from 0."""

    kind: str  # block | flow | scalar
    column: int
    last: int
    empty: bool = False
    values: dict[str, _Node] | None = None


def _where(text: str, collection: str) -> tuple[int, int, bool]:
    """Offset at which new lines go, their indentation, and whether the collection is opened there already."""
    root = _tree(text)
    if root is None or root.empty:
        return len(text), 0, False
    if root.kind != "block" or root.values is None:
        raise EditError("The file is written in braces.", "Write it with one field on a line, or put it in by hand.")
    held = root.values.get(collection)
    if held is None:
        return len(text), root.column, False
    starts = [0, *(found.end() for found in LINE_BREAK.finditer(text))]
    if held.empty:
        return _line_after(text, starts, held.last, len(text)), root.column + _STEP, True
    if held.kind != "block" or held.values is None:
        raise EditError(
            f"`{collection}` is written in braces.", "Write it with one entry on a line, or put it in by hand."
        )
    return _line_after(text, starts, held.last, held.column), held.column, True


def _line_after(text: str, starts: list[int], last: int, column: int) -> int:
    """The offset after a line, and after the comments that follow it directly and stand as far in."""
    following = last + 1
    while following < len(starts):
        end = starts[following + 1] if following + 1 < len(starts) else len(text)
        line = text[starts[following] : end]
        inside = line.lstrip(" ")
        if not inside.startswith("#") or len(line) - len(inside) < column:
            return starts[following]
        following += 1
    return len(text)


def _tree(text: str) -> _Node | None:
    stream = events(text)
    for event in stream:
        if type(event).__name__ == "DocumentStartEvent":
            return _node(next(stream), stream)
    return None


def _node(event: Any, stream: Iterator[Any]) -> _Node:
    kind = type(event).__name__
    column = event.start_mark.column
    if kind in ("ScalarEvent", "AliasEvent"):
        return _scalar(event, column)
    is_map = kind == "MappingStartEvent"
    node = _Node("flow" if event.flow_style else "block", column, event.end_mark.line, values={} if is_map else None)
    first = True
    for inner in stream:
        if type(inner).__name__ in ("MappingEndEvent", "SequenceEndEvent"):
            if node.kind == "flow":
                node.last = inner.end_mark.line
            return node
        if first and node.kind == "block":
            node.column, first = inner.start_mark.column, False  # the collection's own mark is that of its anchor
        child = _node(inner, stream)
        if node.values is not None:
            value = _node(next(stream), stream)
            if value.empty:
                value.last = child.last  # its mark may be that of whatever comes next
            node.values[getattr(inner, "value", "")] = value
            child = value
        node.last = max(node.last, child.last)
    return node


def _scalar(event: Any, column: int) -> _Node:
    last = event.end_mark.line
    style = getattr(event, "style", None)
    if style in ("|", ">") and event.end_mark.column == 0 and last > event.start_mark.line:
        last -= 1  # a block of text ends where the next line begins
    empty = style in (None, "") and getattr(event, "value", None) == "" and event.anchor is None
    return _Node("scalar", column, last, empty)


def _line_ending(text: str, at: int) -> str:
    """The line ending of the line before, else of the first line, else the usual one."""
    before = text[max(0, at - 2) : at]
    if before.endswith(("\r\n", "\n", "\r")):
        return before if before == "\r\n" else before[-1]
    found = LINE_BREAK.search(text)
    return found.group() if found is not None else "\n"


# --- how they are written -----------------------------------------------------------------------


def _block(key: str, value: Any, indent: int, depth: int = 0) -> Iterator[str]:
    """An entry as lines: its fields and the keys of a field one on a line, what is in those in braces."""
    start = " " * indent + f"{_flow(key)}:"
    if isinstance(value, Mapping) and value and depth <= 1:
        yield start
        for inner, of in value.items():
            yield from _block(inner, of, indent + _STEP, depth + 1)
    else:
        yield f"{start} {_flow(value)}"


def _flow(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_flow(key)}: {_flow(of)}" for key, of in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_flow, value)) + "]"
    if not isinstance(value, str):
        return json.dumps(value)
    if _PLAIN.match(value) and value.lower() not in _WORDS and resolve(value) == value:
        return value
    return '"' + "".join(map(_escaped, value)) + '"'


def _escaped(char: str) -> str:
    if char in '\\"':
        return f"\\{char}"
    if char.isprintable():
        return char
    return f"\\u{ord(char):04x}" if ord(char) <= 0xFFFF else f"\\U{ord(char):08x}"
