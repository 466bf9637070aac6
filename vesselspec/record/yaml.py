"""YAML 1.2 text to plain data that remembers where every key and value stands.

Only the parser's event stream is used: no tag is ever constructed, plain scalars are resolved by the
YAML 1.2 core schema (so `010` is ten, `no` is a word and a date stays text), and keys are always text.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterator
from typing import Any

#: A file with more nodes than this is refused: a record of 2,000 circuits has about 60,000.
MOST_NODES = 1_000_000
#: Aliases let a few bytes stand for many nodes, and every one of them costs time when a mistake is to be explained.
MOST_ALIASED = 100_000
DEEPEST = 60

Mark = tuple[int, int]


class Map(dict[str, Any]):
    """A mapping; `keys_at` and `values_at` give (line, column), from 1, of each key and value."""

    __slots__ = ("keys_at", "values_at")

    def __init__(self) -> None:
        super().__init__()
        self.keys_at: dict[str, Mark] = {}
        self.values_at: dict[str, Mark] = {}


class Seq(list[Any]):
    """A sequence; `at` gives (line, column), from 1, of each value."""

    __slots__ = ("at",)

    def __init__(self) -> None:
        super().__init__()
        self.at: list[Mark] = []


class YamlError(Exception):
    """The text is not the YAML that a record may hold."""

    def __init__(self, line: int, column: int, found: str, expected: str, remedy: str) -> None:
        super().__init__(found)
        self.line, self.column = line, column
        self.found, self.expected, self.remedy = found, expected, remedy


_NULL = frozenset(("", "~", "null", "Null", "NULL"))
_TRUE = frozenset(("true", "True", "TRUE"))
_FALSE = frozenset(("false", "False", "FALSE"))
_INT = re.compile(r"[-+]?[0-9]{1,18}\Z")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]{1,3})?\Z")
_MAYBE_NUMBER = frozenset("+-.0123456789")
#: What YAML 1.2 does not allow, and U+0085, U+2028 and U+2029: YAML 1.1 parsers break the line there, editors do not.
_NOT_PRINTABLE = re.compile("[^\t\n\r\x20-\x7e\xa0-\u2027\u202a-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]|\ufeff")
_SURROGATE = re.compile("[\ud800-\udfff]")
LINE_BREAK = re.compile("\r\n|\r|\n")
BOM = b"\xef\xbb\xbf"


def resolve(text: str) -> Any:
    """Return the value of a plain scalar by the core schema of YAML 1.2."""
    if text in _NULL:
        return None
    if text[0] in _MAYBE_NUMBER:
        if _INT.match(text):
            return int(text)
        if _FLOAT.match(text):
            number = float(text)
            return number if math.isfinite(number) else text  # no double is that great: it stays as written
        return text
    if text in _TRUE:
        return True
    if text in _FALSE:
        return False
    return text


def load(content: bytes) -> Any:
    """Return the data of the one document in a file: Map, Seq, text, number, true, false or None.

    Raises YamlError for anything a record may not hold.
    """
    return _Composer(_decode(content)).document()


def _decode(content: bytes) -> str:
    content = content.removeprefix(BOM)
    try:
        text = content.decode()
    except UnicodeDecodeError as error:
        raise YamlError(
            *_end_of(content[: error.start].decode()),
            f"byte 0x{content[error.start]:02x} is not UTF-8",
            "UTF-8 text",
            "save the file as UTF-8",
        ) from None
    bad = _NOT_PRINTABLE.search(text)
    if bad:
        raise YamlError(
            *_end_of(text[: bad.start()]),
            f"character U+{ord(bad.group()):04X} is not allowed in YAML",
            "printable text",
            "delete it, or write it as an escape inside double quotes",
        )
    return text


def _end_of(text: str) -> Mark:
    """Return the position just after a text."""
    lines = LINE_BREAK.split(text)
    return len(lines), len(lines[-1]) + 1


def events(text: str) -> Iterator[Any]:
    """The parser's events of a text, each with its marks (line and column from 0). Raises YamlError."""
    from ruamel.yaml.error import YAMLError  # noqa: PLC0415 - 20 ms that `--help` need not pay

    try:
        try:
            from _ruamel_yaml import CParser  # noqa: PLC0415
        except ImportError:  # no C part on this machine: the same events, slower
            from ruamel.yaml import YAML  # noqa: PLC0415

            yield from YAML(typ="safe", pure=True).parse(io.StringIO(text))
            return
        parser = CParser(io.StringIO(text))
        while (event := parser.get_event()) is not None:
            yield event
    except YAMLError as error:
        mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
        said = getattr(error, "problem", None) or str(error).splitlines()[0]
        lines = LINE_BREAK.split(text)
        line, column = (mark.line, mark.column) if mark is not None else (0, 0)
        if line >= len(lines):  # libyaml puts the end of a file on a line of its own
            line, column = len(lines) - 1, len(lines[-1])
        if lines[line][column:].startswith("\t"):
            said = "a tab where only spaces may indent"
        raise YamlError(
            line + 1,
            column + 1,
            f"not YAML: {said}",
            "well-formed YAML",
            "look at the line named and the one before it: indentation, a missing colon, an open bracket or quote",
        ) from None


class _Composer:
    """Turns events into data; one instance for each document."""

    def __init__(self, text: str) -> None:
        self._events = events(text)
        self._anchors: dict[str, tuple[Any, int]] = {}
        self._nodes = 0
        self._aliased = 0

    def document(self) -> Any:
        value: Any = None
        documents = 0
        for event in self._events:
            kind = type(event).__name__
            if kind == "DocumentStartEvent":
                documents += 1
                if documents > 1:
                    raise self._refuse(event, "a second document in one file", "one document", "split the file")
                value = self._node(next(self._events), 0)
        return value

    def _refuse(self, event: Any, found: str, expected: str, remedy: str) -> YamlError:
        mark = event.start_mark
        return YamlError(mark.line + 1, mark.column + 1, found, expected, remedy)

    def _count(self, event: Any, nodes: int, *, aliased: bool = False) -> None:
        self._nodes += nodes
        self._aliased += nodes if aliased else 0
        if self._nodes > MOST_NODES or self._aliased > MOST_ALIASED:
            most, how = (MOST_ALIASED, " behind aliases") if self._aliased > MOST_ALIASED else (MOST_NODES, "")
            raise self._refuse(
                event,
                f"more than {most:,} values{how}",
                "a record of a boat",
                "write the entries out, or split them over several files",
            )

    def _node(self, event: Any, depth: int) -> Any:
        kind = type(event).__name__
        if kind == "AliasEvent":
            if event.anchor not in self._anchors:
                raise self._refuse(
                    event,
                    f"alias *{event.anchor} without its anchor",
                    f"&{event.anchor} before it",
                    "define it first",
                )
            value, nodes = self._anchors[event.anchor]
            self._count(event, nodes, aliased=True)
            return value
        if depth > DEEPEST:
            raise self._refuse(event, f"nested more than {DEEPEST} deep", "a shallow record", "write it flatter")
        if event.tag is not None and event.tag != "!":
            raise self._refuse(event, f"the tag {event.tag}", "plain YAML without tags", "delete the tag")
        before = self._nodes
        self._count(event, 1)
        if kind == "ScalarEvent":
            # Only a plain scalar can be anything but text.
            plain = event.style in (None, "") and event.implicit[0]
            value = resolve(event.value) if plain else event.value
            if event.style == '"' and _SURROGATE.search(value):  # the pure parser lets such an escape pass
                raise self._refuse(event, "half of a surrogate pair", "whole characters", "write the character itself")
        elif kind == "MappingStartEvent":
            value = self._mapping(depth)
        else:
            value = self._sequence(depth)
        if event.anchor:
            self._anchors[event.anchor] = (value, self._nodes - before)
        return value

    def _mapping(self, depth: int) -> Map:
        value = Map()
        for event in self._events:
            kind = type(event).__name__
            if kind == "MappingEndEvent":
                break
            if kind != "ScalarEvent" or event.tag not in (None, "!"):
                raise self._refuse(event, "a key that is not plain text", "a word as key", "write the key as text")
            key = event.value
            mark = event.start_mark
            at = (mark.line + 1, mark.column + 1)
            if key in value:
                line, column = value.keys_at[key]
                raise self._refuse(
                    event,
                    f"the key {key!r} stands here and already at line {line}, column {column}",
                    "each key once",
                    "delete or rename one of the two",
                )
            of = next(self._events)
            value.keys_at[key] = at
            value.values_at[key] = (of.start_mark.line + 1, of.start_mark.column + 1)
            value[key] = self._node(of, depth + 1)
        return value

    def _sequence(self, depth: int) -> Seq:
        value = Seq()
        for event in self._events:
            if type(event).__name__ == "SequenceEndEvent":
                break
            value.at.append((event.start_mark.line + 1, event.start_mark.column + 1))
            value.append(self._node(event, depth + 1))
        return value
