"""Edits of a record's files that touch nothing but what they add: every other byte stays.

The parser only says at which line the new lines belong. What comes out is read again, and unless it says exactly
what the file said before and the new entries, the edit is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from vesselspec.record.rewrite import Edit, EditError, applied, line_ending, proved, text_of, written
from vesselspec.record.spans import Layout
from vesselspec.record.yaml import LINE_BREAK, load

__all__ = ["EditError", "insert", "insert_lines"]

_STEP = 2


def insert(content: bytes, collection: str, entries: Mapping[str, Any]) -> bytes:
    """Add entries (id → plain data) to a collection of a file, after those that are there; return the new content.

    The file may be empty and need not have the collection. Raises EditError where that cannot be done by
    inserting lines alone.
    """
    if not entries:
        return content

    def lines(indent: int) -> Iterator[str]:
        for key, value in entries.items():
            yield from _block(key, value, indent)

    return insert_lines(content, collection, lines, entries)


def insert_lines(
    content: bytes, collection: str, lines: Callable[[int], Iterable[str]], entries: Mapping[str, Any]
) -> bytes:
    """Add the lines of entries, without their endings, to a collection of a file; they must say `entries`.

    `lines` is asked for them with the indentation at which the entries of the collection stand.
    """
    text, _ = text_of(content)
    said = load(content)
    at, indent, opened = _where(Layout.of(text), collection)
    ending = line_ending(text, at)
    inner = indent if opened else indent + _STEP
    added = "".join(line + ending for line in lines(inner))
    if not opened:
        added = " " * indent + f"{collection}:" + ending + added
    if at and not LINE_BREAK.match(text, at - 1):
        added = ending + added  # the file's last line is not ended
    new = applied(content, [Edit(at, 0, added)])
    if not proved(new, _expected(said, collection, entries)):
        raise EditError(
            "The entries cannot be added to the file without changing what else it says.",
            "Put them in by hand, or end the file with an ordinary line of its own.",
        )
    return new


def _expected(said: Any, collection: str, entries: Mapping[str, Any]) -> Any:
    held = dict(said) if isinstance(said, Mapping) else {}
    own = held.get(collection)
    return {**held, collection: {**(own if isinstance(own, Mapping) else {}), **entries}}


def _where(layout: Layout, collection: str) -> tuple[int, int, bool]:
    """Offset at which new lines go, their indentation, and whether the collection is opened there already."""
    root, text = layout.root, layout.text
    if root is None:
        return len(text), 0, False
    if root.kind != "map" or root.flow:
        raise EditError("The file is written in braces.", "Write it with one field on a line, or put it in by hand.")
    held = root.get(collection)
    if held is None:
        return len(text), root.column, False
    if held.empty:
        return _line_after(layout, held.last, len(text)), root.column + _STEP, True
    if held.kind != "map" or held.flow:
        raise EditError(
            f"`{collection}` is written in braces.", "Write it with one entry on a line, or put it in by hand."
        )
    return _line_after(layout, held.last, held.column), held.column, True


def _line_after(layout: Layout, last: int, column: int) -> int:
    """The offset after a line, and after the comments that follow it directly and stand as far in."""
    following = last + 1
    while following < len(layout.starts):
        line = layout.line(following)
        inside = line.lstrip(" ")
        if not inside.startswith("#") or len(line) - len(inside) < column:
            return layout.start_of(following)
        following += 1
    return len(layout.text)


def _block(key: str, value: Any, indent: int, depth: int = 0) -> Iterator[str]:
    """An entry as lines: its fields and the keys of a field one on a line, what is in those in braces."""
    start = " " * indent + f"{written(key)}:"
    if isinstance(value, Mapping) and value and depth <= 1:
        yield start
        for inner, of in value.items():
            yield from _block(inner, of, indent + _STEP, depth + 1)
    else:
        yield f"{start} {written(value)}"
