"""Panels drawn conductor by conductor: what is on the picture is what is in the record."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element, fromstring

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.browser import browser
from vesselspec.draw.schematic import panel_schematics
from vesselspec.draw.symbols import SYMBOLS, symbol_of
from vesselspec.model.vessel import Vessel, build_vessel
from vesselspec.network.compile import compile_network
from vesselspec.record import read
from vesselspec.revisions import read_folder
from vesselspec.standards import insulation_hex

ROOT = Path(__file__).parents[2]
SVG = "{http://www.w3.org/2000/svg}"


def vessel_of(record: dict[str, Any]) -> Vessel:
    return build_vessel({"record": 1, "name": "Example", "practice": "north-american"}, record)


def pictures(vessel: Vessel, panel: str) -> dict[str, Element]:
    network = compile_network(vessel)
    return {each.name: fromstring(each.svg) for each in panel_schematics(vessel, network, panel)}


def words(picture: Element) -> list[str]:
    return [each.text or "" for each in picture.iter(f"{SVG}text")]


def example(folder: str) -> Vessel:
    found = read(read_folder(ROOT / folder).files).vessel
    assert found is not None
    return found


RECORD: dict[str, Any] = {
    "systems": {
        "ac": {"kind": "ac-split-phase", "voltage": "120/240 V", "frequency": "60 Hz"},
        "dc": {"kind": "dc", "voltage": "12 V"},
    },
    "devices": {"shore": {"kind": "shore-inlet", "system": "ac"}},
    "panels": {
        "box": {
            "name": "Box",
            "sections": {
                "one": {
                    "system": "ac",
                    "ways": {
                        "1": {"poles": ["L1", "L2"], "rating": "30 A", "duty": "main"},
                        "2": {"poles": ["L1"], "rating": "15 A", "label": "Heater"},
                        "3": {"poles": ["L2"], "rating": "15 A", "spare": True},
                        "4": {"device": "blank"},
                    },
                },
                "two": {"system": "ac", "ways": {"1": {"device": "fuse", "poles": ["L2"], "rating": "10 A"}}},
            },
        }
    },
    "loads": {"heater": {"system": "ac", "poles": ["L1", "N"], "use": "space-heating", "name": "Cabin heater"}},
    "cables": {
        "C1": {"from": "shore", "to": "box/one/1", "cores": {"black": "L1", "red": "L2", "white": "N", "green": "PE"}},
        "C2": {
            "from": "box/one/2",
            "to": "heater",
            "size": "14 AWG",
            "length": "3 m",
            "cores": {"black": "L1", "white": {"from": "box/two:N", "to": "N"}, "green-yellow": "PE"},
        },
        "C3": {"from": "box/two/1", "to": "untraced", "cores": {"red": {"from": "L2", "to": "untraced"}}},
    },
}


def test_every_core_from_its_bar_through_the_device_to_its_far_end() -> None:
    one = pictures(vessel_of(RECORD), "box")["schematic-box-one"]
    said = words(one)
    assert {"L1", "L2", "N", "PE"} <= set(said), "the bars are named"
    assert {"black L1", "red L2", "white N", "green PE", "green-yellow PE"} <= set(said)
    assert {"C2", "14 AWG, 3 m", "Heater", "breaker L1 15 A", "spare: nothing connected", "blank"} <= set(said)
    assert "Cabin heater" in said
    assert "feeds this panel: shore" in said
    # A dot for every core that lands on this section's bars and for the spare's pole; the stray neutral has none.
    assert len([each for each in one.iter(f"{SVG}circle") if each.get("fill") == "#000"]) == 4 + 2 + 1
    assert "! white core of C2 lands on bar N of section two" in " ".join(said)


def test_what_nobody_has_traced_is_said() -> None:
    two = pictures(vessel_of(RECORD), "box")["schematic-box-two"]
    assert "not traced" in words(two)
    assert "untraced" in words(two), "at the end of the core"


def test_cores_wear_their_own_colours() -> None:
    one = pictures(vessel_of(RECORD), "box")["schematic-box-one"]
    strokes = Counter(each.get("stroke") for each in one.iter(f"{SVG}path"))
    for colour in ("red", "green", "green-yellow", "white"):
        assert all(strokes[each] for each in insulation_hex(colour)), colour


@pytest.mark.parametrize("folder", ["example_vessel", "tests/data/european"])
def test_every_way_and_every_cable_at_a_panel_is_drawn_once(folder: str) -> None:
    vessel = example(folder)
    for panel in vessel.panels.values():
        drawn: Counter[tuple[str, str]] = Counter()
        for picture in pictures(vessel, panel.id).values():
            for group in picture.iter(f"{SVG}g"):
                if group.get("data-kind") in ("way", "cable"):
                    drawn[group.get("data-kind") or "", group.get("data-item") or ""] += 1
        ways = {f"{panel.id}/{section.id}/{way.id}" for section in panel.sections for way in section.ways}
        ends = {key for key, c in vessel.cables.items() if panel.id in (c.from_.split("/")[0], c.to.split("/")[0])}
        assert ways <= {item for kind, item in drawn if kind == "way"}
        assert ends <= {item for kind, item in drawn if kind == "cable"}
        assert max(drawn.values()) == 1


def test_every_kind_of_device_has_a_symbol_that_the_legend_names() -> None:
    vessel = example("example_vessel")
    for item in (*vessel.devices.values(), *vessel.loads.values()):
        assert symbol_of(item) in SYMBOLS
    legend = words(pictures(vessel, "dc-main")["schematic-dc-main-house-1"])
    assert {"circuit breaker", "lamp"} <= set(legend)


def test_links_lead_where_they_are_told() -> None:
    vessel = vessel_of(RECORD)
    found = panel_schematics(vessel, compile_network(vessel), "box", leads=lambda place: f"x/{place}.html")
    links = {each.get("href") for each in fromstring(found[0].svg).iter(f"{SVG}a")}
    assert links == {"x/C1.html", "x/C2.html", "x/shore.html", "x/heater.html"}


@settings(deadline=None)
@given(st.text(min_size=1, max_size=80).filter(lambda text: text.strip()))
def test_no_name_becomes_markup(name: str) -> None:
    raw = {**RECORD, "loads": {"heater": {**RECORD["loads"]["heater"], "name": name[:80]}}}
    plain = {**RECORD, "loads": {"heater": {**RECORD["loads"]["heater"], "name": "x"}}}

    def tags(record: dict[str, Any]) -> Counter[str]:
        found = pictures(vessel_of(record), "box")["schematic-box-one"]
        return Counter(each.tag for each in found.iter() if each.tag != f"{SVG}text")

    assert tags(raw) == tags(plain)


def test_in_a_browser_no_words_lie_over_others(tmp_path: Path) -> None:
    """Every picture of both boats, in a browser's letters: no text meets another, and none leaves the sheet."""
    browser.chromium()
    drawn = []
    for folder in ("example_vessel", "tests/data/european"):
        vessel = example(folder)
        network = compile_network(vessel)
        drawn += [each.svg for panel in vessel.panels for each in panel_schematics(vessel, network, panel)]
    page = tmp_path / "all.html"
    look = """<script>
      const bad = [];
      for (const svg of document.querySelectorAll('svg')) {
        const all = [...svg.querySelectorAll('text')].filter(t => !t.closest('.when-live'));
        const sheet = svg.getBoundingClientRect(), unit = sheet.width / svg.viewBox.baseVal.width;
        const boxes = all.map(t => t.getBoundingClientRect());
        boxes.forEach((a, i) => {
          if (a.x < sheet.x || a.right > sheet.right || a.bottom > sheet.bottom) bad.push('off: ' + all[i].textContent);
          for (let j = i + 1; j < boxes.length; j++) {
            const b = boxes[j];
            const x = Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x);
            const y = Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y);
            if (x > unit && y > 3.2 * unit) bad.push(all[i].textContent + ' | ' + all[j].textContent);
          }
        });
      }
      document.title = 'bad: ' + bad.length + ' ' + bad.slice(0, 8).join('; ');
    </script>"""
    page.write_text(f"<!DOCTYPE html><meta charset=utf-8><body>{''.join(drawn)}{look}</body>", encoding="utf-8")
    seen = browser.look(tmp_path, "--dump-dom", page.as_uri())
    title = re.search(r"<title>(bad:.*?)</title>", seen.stdout, re.DOTALL)
    assert title and title[1].startswith("bad: 0"), title and title[1]
