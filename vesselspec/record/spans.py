"""Where everything in a file stands: its YAML as a tree of nodes with their offsets, for edits of the text itself.

Only the parser's event stream is used, as for reading. Offsets count characters of the text without its byte order
mark; lines and columns count from 0.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from vesselspec.record.yaml import LINE_BREAK, events

MAP, SEQ, SCALAR, ALIAS = "map", "seq", "scalar", "alias"


@dataclass
class Node:
    """A node of a file. `start` is that of its anchor, if it has one; `end` is behind its last character."""

    kind: str
    start: int
    end: int
    #: Where it stands; of a block collection, where its first key or dash stands.
    column: int
    line: int
    #: The line on which its text ends. Blank lines behind a block of text (`|`) count as part of it.
    last: int
    #: Of a collection: whether it is written in braces or brackets.
    flow: bool = False
    #: Of a scalar: '' plain, or its quote, or '|' or '>'.
    style: str = ""
    value: str = ""
    anchor: str | None = None
    #: Of an alias, the node that it stands for.
    target: Node | None = None
    pairs: list[tuple[Node, Node]] = field(default_factory=list)
    items: list[Node] = field(default_factory=list)
    _by_key: dict[str, tuple[Node, Node]] = field(default_factory=dict, repr=False, compare=False)

    @property
    def empty(self) -> bool:
        """Whether nothing at all is written: a key with no value."""
        return self.kind == SCALAR and self.style == "" and self.value == "" and self.anchor is None

    @property
    def block(self) -> bool:
        """Whether it is a collection with an entry on a line."""
        return self.kind in (MAP, SEQ) and not self.flow

    def pair(self, key: str) -> tuple[Node, Node] | None:
        """The key and the value of a mapping's entry."""
        if len(self._by_key) != len(self.pairs):
            self._by_key = {pair[0].value: pair for pair in self.pairs}
        return self._by_key.get(key)

    def get(self, key: str) -> Node | None:
        """The value of a mapping's entry."""
        found = self.pair(key)
        return found[1] if found is not None else None

    def walk(self) -> Iterator[Node]:
        """This node and everything inside it, without what aliases stand for."""
        yield self
        for key, value in self.pairs:
            yield key
            yield from value.walk()
        for item in self.items:
            yield from item.walk()


@dataclass(frozen=True)
class Layout:
    """A text, where its lines begin, and its tree (None where it holds nothing)."""

    text: str
    starts: tuple[int, ...]
    root: Node | None

    @classmethod
    def of(cls, text: str) -> Layout:
        """Lay out a text. Raises YamlError."""
        starts = (0, *(found.end() for found in LINE_BREAK.finditer(text)))
        return cls(text, starts, _Reader(text, starts).document())

    def line(self, number: int) -> str:
        """A line with its ending; empty behind the last one."""
        return self.text[self.start_of(number) : self.start_of(number + 1)]

    def start_of(self, number: int) -> int:
        """The offset of a line; the end of the text behind the last one."""
        return self.starts[number] if number < len(self.starts) else len(self.text)

    def find(self, *path: str | int) -> Node | None:
        """The node at a path of keys and numbers. Aliases are followed."""
        node = self.root
        for step in path:
            node = _step(resolved(node), step) if node is not None else None
        return node


def _step(node: Node, step: str | int) -> Node | None:
    if isinstance(step, str):
        return node.get(step)
    return node.items[step] if step < len(node.items) else None


def resolved(node: Node) -> Node:
    """The node itself, or what it is an alias of."""
    return node.target if node.target is not None else node


class _Reader:
    def __init__(self, text: str, starts: tuple[int, ...]) -> None:
        self._length, self._starts = len(text), starts
        self._events = events(text)
        self._anchors: dict[str, Node] = {}

    def document(self) -> Node | None:
        for event in self._events:
            if type(event).__name__ == "DocumentStartEvent":
                root = self._node(next(self._events))
                for _ in self._events:
                    pass  # to the end, so that what is wrong there is told
                return None if root.empty else root
        return None

    def _offset(self, mark: Any) -> int:
        start = self._starts[mark.line] if mark.line < len(self._starts) else self._length
        return min(start + int(mark.column), self._length)

    def _node(self, event: Any) -> Node:
        kind = type(event).__name__
        begin, finish = event.start_mark, event.end_mark
        node = Node(SCALAR, self._offset(begin), self._offset(finish), begin.column, begin.line, finish.line)
        node.anchor = event.anchor
        if kind == "AliasEvent":
            node.kind, node.target = ALIAS, self._anchors.get(event.anchor)
            node.anchor = None
            return node
        if event.anchor:
            self._anchors[event.anchor] = node
        if kind == "ScalarEvent":
            node.style, node.value = event.style or "", event.value
            if node.style in ("|", ">") and finish.column == 0 and finish.line > begin.line:
                node.last -= 1  # a block of text ends where the next line begins
            return node
        node.kind, node.flow = MAP if kind == "MappingStartEvent" else SEQ, bool(event.flow_style)
        self._inside(node)
        return node

    def _inside(self, node: Node) -> None:
        first = True
        for event in self._events:
            if type(event).__name__ in ("MappingEndEvent", "SequenceEndEvent"):
                if node.flow:
                    node.last, node.end = event.end_mark.line, self._offset(event.end_mark)
                return
            if first and not node.flow:
                node.column, first = event.start_mark.column, False  # the collection's own mark is its anchor's
            child = self._node(event)
            if node.kind == MAP:
                key, child = child, self._node(next(self._events))
                if child.empty:  # its mark may be that of whatever comes next
                    child.start = child.end = key.end
                    child.line = child.last = key.last
                node.pairs.append((key, child))
            else:
                node.items.append(child)
            node.last, node.end = max(node.last, child.last), max(node.end, child.end)
