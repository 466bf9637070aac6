"""Diagrams inside a page: one picture's names never meet another's, and its shapes say which item they are of.

The seam to `draw/`: a shape with `data-item` is live or not as its item is. Where a drawing does not say it itself, the
name that the layout engine gives a node tells it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from markupsafe import Markup

from vesselspec.draw.supply import point_of
from vesselspec.draw.text import clean, name_of
from vesselspec.draw.words import size_of
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import Network
from vesselspec.units import show

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

_SVG = "http://www.w3.org/2000/svg"
#: Pixels of a screen for a point of a drawing: its letters of 10 points are then as large as the text beside it.
_PIXELS = 1.4
#: Letters of what is said of an item. Ours.
_LONGEST = 200
#: What the layout engine draws; the titles that it gives these are names for machines.
_LAID_OUT = ("graph", "cluster", "node", "edge")
_REFERENCE = re.compile(r"url\(#([^)]*)\)")
#: What a picture in the book may hold: shapes and text, nothing that runs or fetches.
_SHAPES = frozenset(
    "a circle clipPath defs desc ellipse g line marker path pattern polygon polyline rect svg symbol text title tspan use".split()  # noqa: E501, SIM905
)


@dataclass(frozen=True)
class Items:
    """What the shapes of a drawing stand for, and where each leads."""

    #: The name of a node in a drawing → the item that it stands for.
    nodes: Mapping[str, str]
    #: What is said of an item whose drawing says nothing itself, and where its entry is.
    says: Callable[[str], str]
    leads: Callable[[str], str]
    #: An item → the cables that end there.
    cables: Mapping[str, Collection[str]]

    @staticmethod
    def of(vessel: Vessel, network: Network, leads: Callable[[str], str]) -> Items:
        """Those of a vessel, for a page from which entries are found by `leads`."""
        places = [path for collection, path, _ in vessel.items() if collection not in ("spaces", "systems")]
        cables: dict[str, set[str]] = {}
        for key, cable in vessel.cables.items():
            for end in (cable.from_, cable.to):
                cables.setdefault(point_of(vessel, end), set()).add(key)

        def says(item: str) -> str:
            cable, device = vessel.cables.get(item), vessel.device(item)
            if cable is not None:
                return f"Cable {vessel.name_of(item)}, {size_of(network, item)}: {cable.from_} to {cable.to}"
            if device is None:
                return vessel.name_of(item)
            space = vessel.spaces.get(device.space or "")
            rating = getattr(device, "rating_a", None)
            words = [f"{vessel.name_of(item)}: {device.title.lower()}"]
            words += [show("current", rating)] if rating is not None else []
            return ", ".join([*words, *([space.name or space.id] if space is not None else [])])

        return Items({name_of(path): path for path in places}, says, leads, cables)


def _attributes(of: Element, prefix: str) -> None:
    """Leave nothing that runs, fetches, or meets a name of another picture."""
    for name, value in list(of.attrib.items()):
        if name == "id":
            of.set(name, f"{prefix}-{value}")
        elif name.startswith("on") or name == "style" or "}" in name or (name == "href" and ":" in value):
            del of.attrib[name]
        elif name == "href" and value.startswith("#"):
            of.set(name, f"#{prefix}-{value[1:]}")
        elif "url(" in value:
            of.set(name, _REFERENCE.sub(rf"url(#{prefix}-\1)", value))


def inline(svg: str, prefix: str, title: str, items: Items) -> Markup:
    """A picture as part of a page: only shapes and text, ids of its own, scaled to the page, called `title`."""
    from xml.etree.ElementTree import ParseError, register_namespace, tostring  # noqa: PLC0415 - for pictures only

    from defusedxml.ElementTree import fromstring  # noqa: PLC0415

    register_namespace("", _SVG)
    try:
        top = fromstring(svg)
    except ParseError:  # a name holds what no picture may hold
        return Markup("<p>This picture cannot be shown.</p>")
    for parent in list(top.iter()):
        for child in list(parent):
            if str(child.tag).removeprefix(f"{{{_SVG}}}") not in _SHAPES:
                parent.remove(child)
    for each in list(top.iter()):
        _attributes(each, prefix)
        own = each.find(f"{{{_SVG}}}title")
        if own is not None and (each is top or each.get("class") in _LAID_OUT):
            each.remove(own)
            if each.get("class") == "node" and (own.text or "") in items.nodes:
                _node(each, items.nodes[own.text or ""], items)
            elif each.get("class") == "edge":
                _edge(each, prefix, items)
    box = top.get("viewBox", "").split()
    if len(box) == 4:
        # As large as its letters need on a screen; the page makes it smaller on paper.
        top.set("width", f"{float(box[2]) * _PIXELS:.0f}")
        top.attrib.pop("height", None)
    linked = any(each.get("href") for each in top.iter())
    # Where conductors are drawn in the colours of their insulation, a dark screen must not turn them into others.
    true = any(each.get("data-kind") == "cable" for each in top.iter())
    for name, value in (
        ("class", "diagram true" if true else "diagram"),
        ("role", "group" if linked else "img"),
        ("aria-label", title),
    ):
        top.set(name, value)
    # The parser has read it and the writer has escaped it: nothing in it is markup but the shapes above.
    return Markup(tostring(top, encoding="unicode"))  # noqa: S704


def _node(node: Element, item: str, items: Items) -> None:
    """A box leads to its item's entry, and each cable that is named in it to the cable's."""
    children = list(node)
    named = [
        child for child in children if child.tag == f"{{{_SVG}}}text" and _first(child) in items.cables.get(item, ())
    ]
    for child in children:
        node.remove(child)
    shapes = _about(node, item, items)
    shapes.extend(child for child in children if child not in named)
    for text in named:
        _about(node, _first(text), items).append(text)


def _edge(edge: Element, prefix: str, items: Items) -> None:
    """A feeder's line is its cable's: the name that the overview gives it ends in the cable's."""
    name = (edge.get("id") or "").removeprefix(f"{prefix}-").partition("_")[2].partition("_")[2]
    if name not in items.nodes:
        return
    children = list(edge)
    for child in children:
        edge.remove(child)
    edge.set("data-item", items.nodes[name])
    _titled(edge, items.says(items.nodes[name]))
    edge.extend(children)


def _about(parent: Element, item: str, items: Items) -> Element:
    """A group for the shapes of an item, as a link where the item has an entry."""
    from xml.etree.ElementTree import SubElement  # noqa: PLC0415

    leads = items.leads(item)
    holder = SubElement(parent, f"{{{_SVG}}}a", {"href": leads}) if leads else parent
    group = SubElement(holder, f"{{{_SVG}}}g", {"data-item": item})
    _titled(group, items.says(item))
    return group


def _titled(group: Element, said: str) -> None:
    from xml.etree.ElementTree import SubElement  # noqa: PLC0415

    SubElement(group, f"{{{_SVG}}}title").text = clean(said, _LONGEST)


def _first(text: Element) -> str:
    """The first word of a line of text."""
    return (text.text or "").strip().split(" ")[0]
