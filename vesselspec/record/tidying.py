"""A file put in order without a word changed: spacing, the order of collections, the order of fields within an entry.

Comments and order belong to the owner. So entries stay where they stand, in whatever order; what is written in braces
is not touched; and where it is not clear what a comment belongs to, nothing moves past it. Every step is proved: the
same data, and the same lines.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from vesselspec.model.forms import Entries, Nested, specs
from vesselspec.model.items import About, Item
from vesselspec.model.vessel import COLLECTIONS, class_of
from vesselspec.record.blocks import Blocks, blocks
from vesselspec.record.rewrite import line_ending, proved, text_of
from vesselspec.record.spans import MAP, SCALAR, Layout, Node
from vesselspec.record.yaml import load

#: What an entry is comes first; what is said about it comes behind its own fields, what it holds last.
_FIRST = ("kind", "name", "formerly")
_ABOUT = ("note", "photos", "evidence")
_HELD = ("sections", "ways")


@dataclass(frozen=True)
class Tidied:
    """A file put in order, and the lines (from 1) of mappings whose order was left because of what stands in them."""

    content: bytes
    left: tuple[tuple[int, str], ...]


def tidied(content: bytes) -> Tidied:
    """Put a file of a record that can be understood in order. Done twice, it changes nothing more."""
    text, mark = text_of(content)
    said = load(content)

    def encoded(text: str) -> bytes:
        return mark + text.encode("utf-8", "surrogatepass")

    spaced = _spaced(text)
    if not proved(encoded(spaced), said) or _lines(spaced) != _lines(text):
        spaced = text  # an unusual end of a block of text, say
    ordering = _Ordering(spaced, said)
    ordered = _spaced(ordering.text)
    same_lines = Counter(_lines(ordered)) == Counter(_lines(spaced))
    if not proved(encoded(ordered), said, ordered=False) or not same_lines:
        # An alias would stand before its anchor, say.
        return Tidied(encoded(spaced), ((1, "the order of this file"),))
    return Tidied(encoded(ordered), tuple(ordering.left))


def _lines(text: str) -> list[str]:
    """What the lines say, without blanks around them and without empty ones."""
    return [line for each in text.replace("\r", "\n").split("\n") if (line := each.strip(" \t"))]


# --- spacing ----------------------------------------------------------------------------------------


def _spaced(text: str) -> str:
    """Without blanks at the end of lines, without more than one blank line in a row, with one ending at the end."""
    layout = Layout.of(text)
    kept = _within_text(layout)
    out: list[str] = []
    blank = True  # none at the beginning
    for number in range(len(layout.starts)):
        line = layout.line(number)
        if number in kept:
            out.append(line)
            blank = False
            continue
        said = line.rstrip(" \t\r\n")
        ending = line[len(line.rstrip("\r\n")) :]
        if said or (ending and not blank):
            out.append(said + ending)
        blank = not said
    free = _last_is_free(layout, kept)
    while free and out and not out[-1].strip(" \t\r\n"):
        out.pop()
    if free and out and not out[-1].endswith(("\n", "\r")):
        out.append(line_ending(text, len(text)))
    return "".join(out)


def _last_is_free(layout: Layout, kept: set[int]) -> bool:
    """Whether the end of the file is no part of a text."""
    number = len(layout.starts) - 1
    while number > 0 and number not in kept and not layout.line(number).strip(" \t\r\n"):
        number -= 1
    return number not in kept


def _within_text(layout: Layout) -> set[int]:
    """The lines on which a scalar of several lines begins or goes on: blanks at their end may be part of it."""
    kept: set[int] = set()
    for node in layout.root.walk() if layout.root is not None else ():
        if node.kind == SCALAR and node.style in ("|", ">"):
            kept.update(range(node.line, node.last + 1))
        elif node.kind == SCALAR:
            kept.update(range(node.line, node.last))
    return kept


# --- order ------------------------------------------------------------------------------------------


def field_order(cls: type) -> tuple[str, ...]:
    """The fields of an entry in the vocabulary's order: what it is, its own, what is said about it, what it holds."""
    keys = tuple(dict.fromkeys(("kind", *(spec.key for _, spec in specs(cls)))))
    if not issubclass(cls, Item):
        return keys
    own = tuple(key for key in keys if key not in (*_FIRST, *_ABOUT, *_HELD))
    return tuple(key for group in (_FIRST, own, _ABOUT, _HELD) for key in group if key in keys)


def _order_for(node: Node, cls: type) -> tuple[str, ...]:
    """The same for one entry: a note that its owner put directly under its name stays there."""
    order = field_order(cls)
    written = [key.value for key, _ in node.pairs]
    if "note" in written and "note" in order and all(key in _FIRST for key in written[: written.index("note")]):
        begin = [key for key in order if key in _FIRST]
        return (*begin, "note", *(key for key in order if key not in (*begin, "note")))
    return order


@dataclass
class _Ordering:
    """A text with its mappings in order."""

    text: str
    said: Any
    left: list[tuple[int, str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        layout = Layout.of(self.text)
        if layout.root is None or not isinstance(self.said, Mapping) or not self.text.endswith(("\n", "\r")):
            return
        wanted = {id(node): order for node, order in _orders(layout.root, self.said)}
        span = _span(layout, layout.root)
        if span is None:
            return
        first, end = span
        numbers = [*range(first), *self._arranged(layout, layout.root, wanted), *range(end, len(layout.starts))]
        self.text = "".join(map(layout.line, numbers))

    def _arranged(self, layout: Layout, node: Node, wanted: Mapping[int, tuple[str, ...]]) -> list[int]:
        """The line numbers of a mapping's entries, in their order."""
        found = blocks(layout, node)
        if found is None:
            span = _span(layout, node)
            return list(range(*span)) if span is not None else []
        held = list(found.held)
        order = wanted.get(id(node))
        if order is not None:
            place = {key: number for number, key in enumerate(order)}
            better = sorted(held, key=lambda block: place.get(block.key.value, len(place)))
            if better != held:
                if _may_move(found, moved_first=better[0] is not held[0]):
                    held = better
                else:
                    what = ", ".join(block.key.value for block in held[:4])
                    self.left.append((held[0].key.line + 1, f"the order of {what}{' …' if len(held) > 4 else ''}"))
        numbers: list[int] = []
        for block in held:
            inner = _span(layout, block.value)
            if inner is None:
                numbers += range(block.first, block.end)
                continue
            numbers += range(block.first, inner[0])
            numbers += self._arranged(layout, block.value, wanted)
            numbers += range(inner[1], block.end)
        return numbers


def _may_move(found: Blocks, *, moved_first: bool) -> bool:
    return found.clear and not (found.led and moved_first)


def _span(layout: Layout, node: Node) -> tuple[int, int] | None:
    """The lines of a mapping's entries."""
    found = blocks(layout, node) if node.kind == MAP else None
    return (found.held[0].first, found.held[-1].end) if found is not None else None


def _orders(root: Node, said: Mapping[str, Any]) -> Iterator[tuple[Node, tuple[str, ...]]]:
    """Every mapping of a file whose keys have an order, with that order."""
    yield root, ("vessel", *COLLECTIONS)
    for key, value in root.pairs:
        if key.value == "vessel":
            yield value, _order_for(value, About)
        for name, entry in value.pairs if key.value in COLLECTIONS else ():
            raw = said[key.value][name.value]
            if isinstance(raw, Mapping):
                yield from _of_entry(entry, class_of(key.value, raw))


def _of_entry(node: Node, cls: type) -> Iterator[tuple[Node, tuple[str, ...]]]:
    yield node, _order_for(node, cls)
    forms = {spec.key: spec.form for _, spec in specs(cls)}
    for key, value in node.pairs:
        match forms.get(key.value):
            case Nested(of):
                yield from _of_entry(value, of)
            case Entries(of):
                for _, inner in value.pairs:
                    yield from _of_entry(inner, of)
