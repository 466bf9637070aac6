"""Diagrams inside a page: one picture's names never meet another's, and its shapes say which item they are of.

The seam to `draw/`: a shape with `data-item` is live or not as its item is. Where a drawing does not say it itself, the
name that the layout engine gives a node tells it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING

from markupsafe import Markup

from vesselspec.draw.text import name_of
from vesselspec.model.vessel import Vessel

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

_SVG = "http://www.w3.org/2000/svg"
#: Pixels of a screen for a point of a drawing: its letters of 10 points are then as large as the text beside it.
_PIXELS = 1.4
#: What the layout engine draws; the titles that it gives these are names for machines.
_LAID_OUT = ("graph", "cluster", "node", "edge")
_REFERENCE = re.compile(r"url\(#([^)]*)\)")
#: What a picture in the book may hold: shapes and text, nothing that runs or fetches.
_SHAPES = frozenset(
    "a circle clipPath defs desc ellipse g line marker path pattern polygon polyline rect svg symbol text title tspan use".split()  # noqa: E501, SIM905
)


def names_of_nodes(vessel: Vessel) -> dict[str, str]:
    """The name of a node in a drawing → the item that it stands for."""
    return {name_of(path): path for collection, path, _ in vessel.items() if collection not in ("spaces", "systems")}


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


def inline(svg: str, prefix: str, title: str, nodes: Mapping[str, str]) -> Markup:
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
    for each in top.iter():
        own = each.find(f"{{{_SVG}}}title")
        if own is not None and (each is top or each.get("class") in _LAID_OUT):
            if each.get("class") == "node" and (own.text or "") in nodes:
                each.set("data-item", nodes[own.text or ""])
            each.remove(own)
        _attributes(each, prefix)
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
