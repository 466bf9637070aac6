"""Records and pictures for the tests of the drawings."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from xml.etree import ElementTree

from vesselspec.draw import Sheet, render
from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import compile_network
from vesselspec.network.graph import Network
from vesselspec.record import read

HERE = Path(__file__).parent
SVG = "{http://www.w3.org/2000/svg}"
FOOTER = "revision 0000000"


def small_files() -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted((HERE / "small").glob("*.yaml"))}


def load(files: Mapping[str, bytes]) -> tuple[Vessel, Network]:
    record = read(files)
    assert record.vessel is not None, record.problems
    return record.vessel, compile_network(record.vessel)


def small() -> tuple[Vessel, Network]:
    return load(small_files())


def picture(sheet: Sheet) -> ElementTree.Element:
    """The rendered SVG; a parse error fails the test."""
    return ElementTree.fromstring(render(sheet.dot))


def texts(svg: ElementTree.Element) -> list[str]:
    return [element.text or "" for element in svg.iter(f"{SVG}text")]


def size(svg: ElementTree.Element) -> tuple[float, float]:
    width, height = (float(svg.attrib[key].removesuffix("pt")) for key in ("width", "height"))
    return width, height


def scale(svg: ElementTree.Element) -> float:
    graph = next(svg.iter(f"{SVG}g"))
    found = re.match(r"scale\(([0-9.]+)", graph.attrib["transform"])
    assert found is not None
    return float(found[1])
