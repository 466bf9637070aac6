"""Moving: an entry to another file with its comments, and a circuit to another way of a panel. Nothing is lost."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any

from vesselspec.model.items import NO_LABEL, Way
from vesselspec.model.references import Path, Renaming
from vesselspec.model.vessel import Vessel
from vesselspec.record.blocks import Block, blocks, lead
from vesselspec.record.edit import insert_lines
from vesselspec.record.places import Place
from vesselspec.record.renaming import in_entries
from vesselspec.record.rewrite import Edit, EditError, adding, applied, proved, replacing, same, text_of, written
from vesselspec.record.spans import ALIAS, Layout, Node, resolved
from vesselspec.record.yaml import load

#: What may stand behind a collection's name before the line ends: its colon, an anchor.
_OPENING = re.compile(r" *:(?: *[&!][^ \t\r\n]+)?")

# --- an entry to another file ---------------------------------------------------------------------


def to_file(files: Mapping[str, bytes], collection: str, key: str, target: str) -> dict[str, bytes]:
    """Move an entry with its comments to a file, which need not be there yet. Return the files that differ.

    Raises EditError where its lines are not its own, or where it shares an anchor with what stays.
    """
    source = next(file for file, content in files.items() if key in (load(content) or {}).get(collection, {}))
    if source == target:
        raise EditError(f"{key} stands in {target} already.", "Name another file.")
    try:
        return _moved(files, source, collection, key, target)
    except EditError as error:
        raise EditError(f"{source} to {target}: {error.reason}", error.remedy) from None


def _moved(files: Mapping[str, bytes], source: str, collection: str, key: str, target: str) -> dict[str, bytes]:
    content = files[source]
    layout, data = Layout.of(text_of(content)[0]), load(content)
    opening = layout.root.pair(collection) if layout.root is not None else None
    held = opening[1] if opening is not None else None
    found = blocks(layout, resolved(held)) if held is not None else None
    block = next((each for each in found.held if each.key.value == key), None) if found is not None else None
    if opening is None or held is None or found is None or block is None:
        raise EditError(f"The entries of `{collection}` share lines, in braces say.", "Write one on a line first.")
    _stands_alone(layout, held, block)
    first = lead(layout, block.key.line, least=block.first)
    lines = [layout.line(number).rstrip("\r\n") for number in range(first, block.end)]

    def shifted(indent: int) -> Iterator[str]:
        more = indent - held.column
        for line in lines:
            inside = line.lstrip(" ")
            yield " " * (len(line) - len(inside) + more) + inside if inside else ""

    entry = {key: data[collection][key]}
    new_target = insert_lines(files.get(target, b""), collection, shifted, entry)
    edits, wanted = list(_without(layout, opening, block, first)), {**data, collection: dict(data[collection])}
    del wanted[collection][key]
    new_source = applied(content, edits)
    if not wanted[collection] and not proved(new_source, wanted):
        del wanted[collection]
    if not proved(new_source, wanted if wanted else None):
        raise EditError("It cannot be taken out without changing what else the file says.", "Move it by hand.")
    before = Counter(_said(content) + _said(files.get(target, b"")))
    after = Counter([*_said(new_source), *_said(new_target), layout.line(opening[0].line).strip()])
    if before - after:
        raise EditError("A line would be lost.", "Move it by hand.")
    return {source: new_source, target: new_target}


def _said(content: bytes) -> list[str]:
    text = content.decode("utf-8-sig").replace("\r", "\n")
    return [line.strip(" \t") for line in text.split("\n") if line.strip(" \t")]


def _stands_alone(layout: Layout, held: Node, block: Block) -> None:
    """Raise EditError if an alias joins the entry with anything else in its file."""
    inside = {id(node) for node in block.value.walk()}
    for node in layout.root.walk() if layout.root is not None else ():
        if node.kind == ALIAS and (id(node) in inside) != (id(node.target) in inside):
            anchor = node.target.anchor if node.target is not None else None
            raise EditError(
                f"&{anchor or 'x'} joins it with another entry, and an anchor holds within its file only.",
                "Write it out in one of the two first.",
            )
    if ALIAS in (block.value.kind, held.kind):
        raise EditError("It is an alias of another entry.", "Write it out first.")


def _without(layout: Layout, opening: tuple[Node, Node], block: Block, first: int) -> Iterator[Edit]:
    """The edits that take an entry's lines out; a collection that is empty then goes too, or is `{}`."""
    begin, end = layout.start_of(first), layout.start_of(block.end)
    if len(opening[1].pairs) > 1:
        yield Edit(begin, end - begin, "")
        return
    name, line = opening[0], opening[0].line
    bare = layout.line(line).strip() == f"{name.value}:" and lead(layout, line, least=0) == line
    if bare and first == line + 1:
        yield Edit(layout.start_of(line), end - layout.start_of(line), "")
        return
    behind = _OPENING.match(layout.text, name.end)
    yield Edit(behind.end() if behind is not None else name.end, 0, " {}")
    yield Edit(begin, end - begin, "")


# --- a circuit to another way ------------------------------------------------------------------------


def to_way(files: Mapping[str, bytes], vessel: Vessel, was: str, now: str) -> dict[str, bytes]:
    """Land the circuit of one way on another, spare one: its cables' ends and its label. Return the files that differ.

    The way that it leaves becomes spare; the two devices stay what they are. Raises EditError.
    """
    _can_take(vessel, was, now)
    one, two = vessel.ways[was][2], vessel.ways[now][2]
    changed: dict[str, bytes] = {}
    for file in sorted(files):
        edits, wanted = _rewired(files[file], Renaming("ways", was, now), one, two)
        if edits:
            new = applied(files[file], edits)
            if not same(_sorted(load(new)), _sorted(wanted)):
                raise EditError(
                    f"{file}: the circuit cannot be moved without changing something else: an alias stands for both.",
                    "Write the alias out first.",
                )
            changed[file] = new
    return changed


def speaking_of(files: Mapping[str, bytes], way: str) -> Iterator[tuple[Place, str]]:
    """What else refers to a way, besides cables: it speaks of the device, which stays where it is."""
    asked = Renaming("ways", way, way)
    for file in sorted(files):
        data, layout = load(files[file]), None
        for entry, mention in in_entries(data):
            if entry[0] != "cables" and asked.follow(mention) is not None:
                layout = layout or Layout.of(text_of(files[file])[0])
                node = layout.find(*entry, *mention.path)
                if node is not None:
                    yield Place(file, node.line + 1), layout.line(node.line).strip()


def _can_take(vessel: Vessel, was: str, now: str) -> None:
    for each in (was, now):
        if each not in vessel.ways:
            raise EditError(f"{each} is no way of a panel.", "Give two ways, such as ac-main/shore/4 ac-main/shore/13.")
    if was == now:
        raise EditError(f"It is on {now} already.", "Give another way.")
    one, two = vessel.ways[was][2], vessel.ways[now][2]
    landed = {place: [key for key, cable in vessel.cables.items() if place in _ends(cable)] for place in (was, now)}
    if not landed[was]:
        raise EditError(f"No cable lands on {was}: there is no circuit to move.", "Record its cable first.")
    if landed[now]:
        raise EditError(f"{', '.join(landed[now])} lands on {now} already.", "Give a way that is spare.")
    if two.device == "blank":
        raise EditError(f"There is no device in {now}: it is blank.", "Record what was fitted there first.")
    if not two.spare:
        raise EditError(
            f"Nothing says that {now} is spare: a circuit that is not recorded may be on it.",
            "Look on board, and record `spare: true` first.",
        )
    if one.duty != two.duty:
        raise EditError(f"{was} is a {one.duty} and {now} a {two.duty}.", "Record its duty first, if that has changed.")
    _same_poles(vessel, was, now)


def _same_poles(vessel: Vessel, was: str, now: str) -> None:
    """Refuse a way that opens other poles, or belongs to another system: the circuit's cores could not land there."""
    (panel, section, one), (other_panel, other_section, two) = vessel.ways[was], vessel.ways[now]
    systems = vessel.section_system(panel, section), vessel.section_system(other_panel, other_section)
    if None not in systems and systems[0] != systems[1]:
        names = [f"{each.id} ({each.voltage.text})" for each in systems if each is not None]
        raise EditError(
            f"{was} is of the system {names[0]} and {now} of {names[1]}.",
            "A circuit stays on its own system: give a way of it.",
        )
    if one.poles and two.poles and set(one.poles) != set(two.poles):
        raise EditError(
            f"{was} opens {', '.join(one.poles)} and {now} opens {', '.join(two.poles)}.",
            "Give a way with the same poles; one on another line is recorded by hand, core by core.",
        )


def _ends(cable: Any) -> set[str]:
    """The places in which a cable lands, as a whole or with one core."""
    landings = [at for _, core in cable.cores for at in (core.from_, core.to) if at is not None and ":" in at]
    return {cable.from_, cable.to, *(at.partition(":")[0] for at in landings)}


def _rewired(content: bytes, asked: Renaming, one: Way, two: Way) -> tuple[list[Edit], Any]:
    """The edits of one file, and what it is to say."""
    layout, data = Layout.of(text_of(content)[0]), load(content)
    wanted = _copied(data)
    edits: list[Edit] = []
    for entry, mention in in_entries(data):
        landing = asked.follow(mention)
        if entry[0] == "cables" and landing is not None:
            path = (*entry, *mention.path)
            node = layout.find(*path)
            if node is not None:
                edits.append(replacing(layout, resolved(node), landing))
                _put(wanted, path, landing)
    for address, fields in ((asked.was, _left(one, two)), (asked.now, _taken(one))):
        panel, section, way = address.split("/")
        path = ("panels", panel, "sections", section, "ways", way)
        ways = layout.find(*path[:-1])
        pair = resolved(ways).pair(way) if ways is not None else None
        if pair is None:
            continue
        for key, value in fields.items():
            edits.append(_setting(layout, pair, key, value))
            _put(wanted, (*path, key), value)
    return edits, wanted


def _left(one: Way, two: Way) -> dict[str, Any]:
    """What is said of the way that a circuit leaves: it is spare, and its label went along."""
    return {"spare": True, **({"label": two.label or NO_LABEL} if one.label is not None else {})}


def _taken(one: Way) -> dict[str, Any]:
    """What is said of the way that takes it, which was spare."""
    return {"spare": False, **({"label": one.label} if one.label is not None else {})}


def _setting(layout: Layout, pair: tuple[Node, Node], key: str, value: Any) -> Edit:
    """The edit that gives a field of an entry a value."""
    held = pair[1].get(key)
    if held is None:
        return adding(layout, pair, key, value, ("label", "poles", "rating", "name", "formerly"))
    if isinstance(value, str):
        return replacing(layout, resolved(held), value)
    return Edit(held.end - len(held.value), len(held.value), written(value))


def _put(data: Any, path: Path, value: Any) -> None:
    for step in path[:-1]:
        data = data[step]
    data[path[-1]] = value


def _copied(node: Any) -> Any:
    """A copy in which what an alias stands for is written out: a change of one leaves the other."""
    if isinstance(node, Mapping):
        return {key: _copied(value) for key, value in node.items()}
    return [_copied(value) for value in node] if isinstance(node, list) else node


def _sorted(node: Any) -> Any:
    """The same with the fields of every mapping in order of their names: where one was added does not matter."""
    if isinstance(node, Mapping):
        return {key: _sorted(node[key]) for key in sorted(node)}
    return [_sorted(value) for value in node] if isinstance(node, list) else node
