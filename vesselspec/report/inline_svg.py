"""A drawing as part of a page: only shapes and letters are taken over, no id, no link, no style, no script."""

from __future__ import annotations

import re
from html import escape
from typing import TYPE_CHECKING, Any

from vesselspec.report.terminal import one_line

if TYPE_CHECKING:
    from markupsafe import Markup

_SVG = "{http://www.w3.org/2000/svg}"
_SHAPES = frozenset(("g", "path", "polygon", "polyline", "ellipse", "text"))
_LETTERS = ("text-anchor", "font-family", "font-weight", "font-style", "font-size")
_INK = ("fill", "stroke", "stroke-width", "stroke-dasharray", "fill-opacity", "stroke-opacity")
_ATTRIBUTES = frozenset(("transform", "points", "d", "x", "y", "cx", "cy", "rx", "ry", *_LETTERS, *_INK))
#: Numbers, colours, names of faces: nothing that could name another place.
_VALUE = re.compile(r"(?!.*url)[-A-Za-z0-9#.,+()% ]*", re.IGNORECASE)
_SCALE = re.compile(r"scale\(([0-9.]+)")
#: Of the drawing's own size: letters of 10 pt are still read at this.
_LEAST, _MOST = 0.85, 1.35
_PX_PER_PT = 96 / 72


def inline(svg: bytes, alt: str) -> Markup:
    """The drawing for a page, with `alt` for who cannot see it. Raises ValueError for what is no drawing of ours."""
    from defusedxml.ElementTree import fromstring  # noqa: PLC0415 - only pages with pictures need it
    from markupsafe import Markup  # noqa: PLC0415

    try:
        root = fromstring(svg)
    except Exception as error:  # whatever the parser or its guard has against it
        raise ValueError(f"no drawing: {error}") from error
    box = root.get("viewBox", "")
    numbers = box.split()
    if root.tag != f"{_SVG}svg" or len(numbers) != 4 or not _VALUE.fullmatch(box):
        raise ValueError("no drawing: it has no viewBox")
    wide = float(numbers[2]) * _PX_PER_PT / _scale(root)
    style = f"width:100%;min-width:{wide * _LEAST:.0f}px;max-width:{wide * _MOST:.0f}px"
    said = escape(one_line(alt))
    inside = "".join(_element(child) for child in root)
    return Markup(f'<svg viewBox="{box}" role="img" aria-label="{said}" style="{style}">{inside}</svg>')  # noqa: S704


def _scale(root: Any) -> float:
    """How much smaller the drawing was made to fit its sheet."""
    first = next(iter(root.findall(f"{_SVG}g")), None)
    found = _SCALE.search(first.get("transform", "")) if first is not None else None
    return float(found[1]) if found is not None and float(found[1]) > 0 else 1.0


def _element(element: Any) -> str:
    tag = element.tag.removeprefix(_SVG) if isinstance(element.tag, str) else ""
    if tag not in _SHAPES:
        return ""
    said = "".join(
        f' {name}="{escape(value)}"'
        for name, value in element.attrib.items()
        if name in _ATTRIBUTES and _VALUE.fullmatch(value)
    )
    letters = escape(one_line(element.text or "")) if tag == "text" else ""
    return f"<{tag}{said}>{letters}{''.join(_element(child) for child in element)}</{tag}>"
