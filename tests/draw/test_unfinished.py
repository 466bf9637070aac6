"""A record that is not finished, or wrong, can still be drawn: what is missing is said."""

from __future__ import annotations

from vesselspec.draw import neighbourhood, overview, overview_sheets, panel_sheets

from .helpers import load, picture, texts

RECORD = b"""
vessel: {record: 1, name: Unfinished, practice: international}
systems:
  dc: {kind: dc, voltage: 12 V}
devices:
  selector: {kind: selector, inputs: [a]}
  fuse: {kind: fuse, system: dc, mounted_on: "nothing:DC+"}
  two: {kind: fuse, system: dc, mounted_on: "p/s:DC+"}
panels:
  p:
    sections:
      s: {ways: {"1": {device: blank}, "2": {}, "3": {poles: [L3], spare: true}}}
      t: {system: dc, ways: {"1": {poles: [DC+]}}}
  empty: {sections: {none: {}}}
cables:
  A: {from: nowhere, to: p/s/9}
  B: {from: p/s/1, to: p/s/2, cores: {red: L1}}
  C: {from: untraced, to: untraced, cores: {red: DC+, blue: spare}}
  D: {from: p/t/1, to: p/t/1, cores: {red: DC+, blue: {from: "p/t:DC-", to: "p/t:DC+"}}}
  E: {from: selector, to: p/s/3, cores: {brown: L3}}
  F: {from: selector/out, to: fuse/line, cores: {red: {from: "p/t:DC+", to: DC+}}}
  G: {from: p/t, to: gone/x, cores: {red: DC+}}
  H: {from: p, to: p/t, cores: {green: PE}}
"""


def test_every_drawing_of_an_unfinished_record() -> None:
    vessel, network = load({"vessel.yaml": RECORD})
    items = [*vessel.cables, *vessel.devices, *vessel.ways, *vessel.sections, *vessel.panels]
    sheets = [overview(vessel, network), *overview_sheets(vessel, network)]
    sheets += [sheet for panel in vessel.panels for sheet in panel_sheets(vessel, network, panel)]
    sheets += [neighbourhood(vessel, network, [item], marks={item: "changed"}) for item in items]
    sheets.append(neighbourhood(vessel, network, items, marks={}))
    for sheet in sheets:
        assert texts(picture(sheet))


def test_what_is_not_recorded_is_said() -> None:
    vessel, network = load({"vessel.yaml": RECORD})
    said = " ".join(text for sheet in panel_sheets(vessel, network, "p") for text in texts(picture(sheet)))
    for words in (
        "system not recorded",
        "rating not recorded",
        "(label not recorded)",
        "marked spare",
        "size not recorded",
        "which is not in the record",
    ):
        assert words in said
    assert all(cable in said for cable in ("A", "B", "D", "E", "F", "G", "H"))


def test_an_empty_vessel() -> None:
    vessel, network = load({"vessel.yaml": RECORD.partition(b"systems:")[0]})
    assert texts(picture(overview(vessel, network)))
    assert texts(picture(neighbourhood(vessel, network, [], marks={})))
