"""Edits of a text, applied and proved: what comes out is read again and must say exactly what it should.

Nothing is parsed into objects and written again, which would lose some comment or quote sooner or later.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from vesselspec.record.spans import ALIAS, MAP, SCALAR, Layout, Node
from vesselspec.record.yaml import BOM, LINE_BREAK, YamlError, load, resolve

#: Text that needs no quotes: nothing in it has a meaning in YAML, alone or inside braces.
_PLAIN = re.compile(
    r"([A-Za-z][A-Za-z0-9._/+-]*( [A-Za-z0-9._/+-]+)*"
    r"|[0-9]{4}-[0-9]{2}-[0-9]{2}"  # a day
    r"|[0-9]+([./][0-9]+)? [A-Za-z][A-Za-z0-9]*)\Z"  # a quantity
)
#: A terminal: its colon has no blank behind it.
_TERMINAL = re.compile(r"[A-Za-z][A-Za-z0-9._/+-]*:[A-Z][A-Z0-9+-]+\Z")
#: Words that readers of older YAML take for something else.
_WORDS = frozenset(("y", "n", "yes", "no", "on", "off"))
_PROPERTIES = re.compile(r"(?:[&!]\S*\s+)*")


class EditError(Exception):
    """The edit cannot be made without changing something else; both sentences are for a terminal."""

    def __init__(self, reason: str, remedy: str) -> None:
        super().__init__(f"{reason} {remedy}")
        self.reason, self.remedy = reason, remedy


@dataclass(frozen=True, order=True)
class Edit:
    """A piece of a text that is put in the place of another: offset and length in characters, and what comes there."""

    at: int
    length: int
    text: str


def text_of(content: bytes) -> tuple[str, bytes]:
    """A file's text, and the byte order mark before it. Raises EditError unless it is YAML that a record may hold."""
    try:
        load(content)
    except YamlError as error:
        raise EditError(f"Line {error.line}: {error.found}.", error.remedy or "Correct the file first.") from None
    mark = BOM if content.startswith(BOM) else b""
    return content.removeprefix(BOM).decode(), mark


def applied(content: bytes, edits: Iterable[Edit]) -> bytes:
    """The content with every edit made. The same edit twice is one; those that overlap are refused."""
    text, mark = text_of(content)
    pieces: list[str] = []
    done = 0
    for edit in sorted(set(edits)):
        if edit.at < done:
            raise EditError("Two changes meet at one place of the file.", "Make them by hand, one after the other.")
        pieces += [text[done : edit.at], edit.text]
        done = edit.at + edit.length
    return mark + ("".join(pieces) + text[done:]).encode("utf-8", "surrogatepass")


def proved(content: bytes, expected: Any, *, ordered: bool = True) -> bool:
    """Whether a file says exactly what is expected, in that order unless order does not matter."""
    try:
        return same(load(content), expected, ordered=ordered)
    except YamlError:
        return False


def same(one: Any, two: Any, *, ordered: bool = True) -> bool:
    """Whether two plain data are equal: unlike Python's `==`, 1 is neither 1.0 nor true, and order may count."""
    if isinstance(one, Mapping) and isinstance(two, Mapping):
        alike = list(one) == list(two) if ordered else one.keys() == two.keys()
        return alike and all(same(value, two[key], ordered=ordered) for key, value in one.items())
    if isinstance(one, list) and isinstance(two, list):
        return len(one) == len(two) and all(same(a, b, ordered=ordered) for a, b in zip(one, two, strict=True))
    return type(one) is type(two) and bool(one == two)


# --- pieces ---------------------------------------------------------------------------------------


def written(value: Any) -> str:
    """Plain data as one line of YAML, quoted only where it must be."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{written(key)}: {written(of)}" for key, of in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(written, value)) + "]"
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


def replacing(layout: Layout, node: Node, new: str) -> Edit:
    """The edit that makes a scalar say something else, in its own quotes where they will do."""
    old, text = node.value, layout.text
    harmless = re.fullmatch(r"[A-Za-z0-9 ._/:+-]+", new) is not None and new.strip() == new
    if node.kind != SCALAR:
        raise EditError(f"Line {node.line + 1} is no plain word.", "Write it out as one, or change it by hand.")
    if node.style == "" and text[node.end - len(old) : node.end] == old:
        plain = written(new) == new or (_TERMINAL.match(new) is not None)
        return Edit(node.end - len(old), len(old), new if plain else written(new))
    quote = node.style if node.style in ("'", '"') else ""
    if quote and harmless and text[node.end - len(old) - 2 : node.end] == f"{quote}{old}{quote}":
        return Edit(node.end - len(old) - 1, len(old), new)
    found = _PROPERTIES.match(text, node.start)
    start = found.end() if found is not None else node.start
    if quote and text[start : start + 1] == quote:
        return Edit(start, node.end - start, written(new))
    inner = text[start : node.end]
    if old.strip() and inner.count(old.strip()) == 1:  # a block of text that is one word
        return Edit(start + inner.index(old.strip()), len(old.strip()), new.strip())
    raise EditError(f"Line {node.line + 1} is written in an unusual way.", "Write it as one plain word first.")


def adding(layout: Layout, pair: tuple[Node, Node], field: str, value: Any, after: Collection[str]) -> Edit:
    """The edit that adds a field to an entry, given by its key and value.

    It comes behind the first fields, as far as they are named in `after`; else before all, and before their comments.
    """
    key, entry = pair
    if entry.kind != MAP:
        what = "is an alias" if entry.kind == ALIAS else "holds no fields"
        raise EditError(f"The entry at line {entry.line + 1} {what}.", "Write it out, field by field.")
    said = f"{written(field)}: {written(value)}"
    if entry.flow:
        last = entry.pairs[-1][1] if entry.pairs else None
        if last is None or last.empty:
            return Edit(entry.end - 1, 0, f", {said}" if last is not None else said)
        return Edit(last.end, 0, f", {said}")
    behind = key if entry.pairs[0][0].line > key.line else None
    for name, held in entry.pairs:
        if name.value not in after or held.block or held.style in ("|", ">"):
            break
        behind = held
    ending = line_ending(layout.text, key.start)
    if behind is None:
        return Edit(entry.pairs[0][0].start, 0, f"{said}{ending}{' ' * entry.column}")
    at = layout.start_of(behind.last + 1)
    if LINE_BREAK.match(layout.text, at - 1) is None:
        return Edit(at, 0, f"{ending}{' ' * entry.column}{said}")
    return Edit(at, 0, f"{' ' * entry.column}{said}{ending}")


def listing(layout: Layout, values: Node, value: Any) -> Edit:
    """The edit that adds a value at the end of a list."""
    if values.kind == ALIAS or not values.items:
        raise EditError(f"The list at line {values.line + 1} is an alias or empty.", "Write it out first.")
    last = values.items[-1]
    if values.flow:
        return Edit(last.end, 0, f", {written(value)}")
    begin = layout.start_of(last.line)
    dash = layout.text[begin : last.start].rstrip(" ")
    if last.kind != SCALAR or last.style in ("|", ">") or dash.strip(" ") != "-":
        raise EditError(f"The list at line {values.line + 1} is written in an unusual way.", "Write it plainly first.")
    said, ending = f"{dash} {written(value)}", line_ending(layout.text, last.start)
    at = layout.start_of(last.last + 1)
    if LINE_BREAK.match(layout.text, at - 1) is None:
        return Edit(at, 0, f"{ending}{said}")
    return Edit(at, 0, f"{said}{ending}")


def line_ending(text: str, at: int) -> str:
    """The line ending of the line before, else of the first line, else the usual one."""
    before = text[max(0, at - 2) : at]
    if before.endswith(("\r\n", "\n", "\r")):
        return before if before == "\r\n" else before[-1]
    earlier = text.rfind("\n", 0, at)
    if earlier > 0 and text[earlier - 1] == "\r":
        return "\r\n"
    if earlier >= 0:
        return "\n"
    found = LINE_BREAK.search(text)
    return found.group() if found is not None else "\n"
