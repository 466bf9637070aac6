"""The lines that belong to each entry of a mapping written with one entry on a line, its comments among them.

What stands directly above a key belongs to it. Comments that stand further in than the key belong to the entry before.
A comment with a blank line beneath, or with a rule drawn in it (`# --- shore ---`), is a heading: it belongs to no
entry, and what lies around it is not moved.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from vesselspec.record.spans import MAP, Layout, Node

#: A comment with a rule drawn in it.
_RULED = re.compile(r" *#.*([-=*~#_])\1{2,}")


@dataclass(frozen=True)
class Block:
    """One entry of a mapping: its key and value, and its lines, from `first` up to and without `end`."""

    key: Node
    value: Node
    first: int
    end: int


@dataclass(frozen=True)
class Blocks:
    """The entries of a mapping in the order written. They lie one behind the other."""

    held: tuple[Block, ...]
    #: Whether it is clear to which entry every comment between them belongs.
    clear: bool
    #: Whether comments stand directly above the first entry: they may be about it, or about all.
    led: bool


def blocks(layout: Layout, node: Node) -> Blocks | None:
    """The entries of a mapping by lines; None where they do not have lines of their own."""
    if node.kind != MAP or node.flow or not node.pairs:
        return None
    for key, _ in node.pairs:
        if layout.text[layout.start_of(key.line) : key.start].strip(" "):
            return None  # `- key:`, `? key`, `--- key:`
    ends = [_own_end(layout, value, node.column) for _, value in node.pairs]
    firsts = [lead(layout, node.pairs[0][0].line, 0)]
    clear = True
    for end, (key, _) in zip(ends, node.pairs[1:], strict=False):
        between = [layout.line(number).strip() for number in range(end, key.line)]
        if any(line and not line.startswith("#") for line in between):
            return None
        # A heading: a comment, and a blank line somewhere beneath it.
        said = [bool(line) for line in between]
        clear = clear and (True not in said or False not in said[said.index(True) :])
        clear = clear and not any(map(_RULED.match, between))
        firsts.append(end)
    held = (Block(key, value, first, end) for (key, value), first, end in zip(node.pairs, firsts, ends, strict=True))
    return Blocks(tuple(held), clear, led=firsts[0] < node.pairs[0][0].line)


def _own_end(layout: Layout, value: Node, column: int) -> int:
    """The line behind an entry: behind its text, and behind comments that stand further in than its key."""
    end = number = value.last + 1
    while number < len(layout.starts):
        line = layout.line(number)
        inside = line.lstrip(" ")
        if inside.strip() and not (inside.startswith("#") and len(line) - len(inside) > column):
            break
        number += 1
        end = number if inside.strip() else end
    return end


def lead(layout: Layout, line: int, least: int) -> int:
    """The first of the comment lines directly above a line."""
    while line > least and (above := layout.line(line - 1).lstrip(" ")).startswith("#") and not _RULED.match(above):
        line -= 1
    return line
