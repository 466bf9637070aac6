"""`vesselspec trace` as its users call it: what it says of the example, its forms, statuses, hostile text, drawings."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest

from vesselspec.cli.main import run

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "example_vessel"
SCHEMA = jsonschema_rs.validator_for(json.loads((ROOT / "schema/trace.schema.json").read_text(encoding="utf-8")))
HOSTILE = "<script>alert(1)</script>[x](http://x)\u202e\x1b[31m\n# heading"

BOAT = """
vessel: {record: 1, name: Boat, practice: north-american}
systems:
  ac: {kind: ac-split-phase, voltage: 120/240 V}
  dc: {kind: dc, voltage: 12 V}
devices:
  shore: {kind: shore-inlet, system: ac}
  generator: {kind: generator, system: ac}
  selector:
    kind: selector
    system: ac
    inputs: [a, b]
    poles: [L1, L2]
    positions: {shore: [a], generator: [b], "off": []}
  bank: {kind: battery-bank, system: dc}
  switch: {kind: switch, system: dc, rating: 100 A}
  charger: {kind: charger, system: ac, dc_system: dc, poles: [L1, L2]}
  earth: {kind: earth-point}
panels:
  main:
    system: ac
    sections: {s: {ways: {"1": {poles: [L1, L2], rating: 20 A, label: Heater}, "2": {poles: [L1], rating: 15 A}}}}
loads:
  heater: {system: ac, poles: [L1, L2]}
  outlet: {system: ac, poles: [L1, N]}
  lamp: {system: dc}
  fan: {system: dc}
cables:
  C1: {from: shore, to: selector/a, size: 6 AWG, label: C1, cores: {black: L1, red: L2, white: N, green: PE}}
  C2: {from: generator, to: selector/b, size: 6 AWG, cores: {black: L1, red: L2, white: N, green: PE}}
  C3: {from: selector/out, to: main/s, size: 6 AWG, cores: {black: L1, red: L2, white: N, green: PE}}
  C4: {from: main/s/1, to: heater, size: 12 AWG, labels: {from: C4, to: none}, cores: {black: L1, red: L2, green: PE}}
  C5: {from: main/s/2, to: outlet, cores: {black: L1, white: N, green: PE}}
  C6: {from: main/s/1, to: charger/ac, cores: {black: L1, red: L2, green: PE}}
  D1: {from: bank, to: switch/line, cores: {red: DC+, black: DC-}}
  D2: {from: switch/load, to: lamp, cores: {red: DC+, black: DC-}}
  D3: {from: charger/dc, to: switch/load, cores: {red: DC+, black: DC-}}
  D4: {from: lamp, to: untraced, cores: {brown: DC+}}
  D5: {from: bank, to: fan, cores: {red: DC+, black: DC-}}
conditions:
  alongside: {running: [shore, charger], positions: {selector: shore}, demand: {heater: 1}}
  sailing: {running: [], positions: {selector: "off"}}
"""


@pytest.fixture
def boat(tmp_path: Path) -> Path:
    """A boat that fits on this page."""
    (tmp_path / "vessel.yaml").write_text(BOAT, encoding="utf-8")
    return tmp_path


def traced(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert run(["trace", *arguments, "--output", "json"]) == 0
    data: dict[str, Any] = json.loads(capsys.readouterr().out)
    SCHEMA.validate(data)
    return data


def text(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert run(["trace", *arguments]) == 0
    return " ".join(capsys.readouterr().out.split())


def path(way: dict[str, Any]) -> list[str]:
    return [hop["item"] for hop in way["path"]]


def test_up_over_all_positions_and_in_a_condition(boat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data = traced(capsys, "heater", str(boat))
    live = {(feed["source"], feed["pole"]): feed for feed in data["up"]["live"]}
    assert sorted(live) == [(source, pole) for source in ("generator", "shore") for pole in ("L1", "L2")]
    assert path(live["shore", "L1"]) == ["C1", "selector", "C3", "main/s/1", "C4"]
    assert live["shore", "L1"]["positions"] == {"selector": ["shore"]}
    hop = live["shore", "L2"]["path"][-1]
    assert hop["labels"] == {"from": "C4", "to": "none"}
    assert hop["cores"] == [{"name": "red", "colour": "red", "size": "12 AWG", "poles": ["L2", "L2"]}]
    now = traced(capsys, "heater", str(boat), "--condition", "alongside")
    assert {feed["source"] for feed in now["up"]["live"]} == {"shore"}
    assert traced(capsys, "heater", str(boat), "--condition", "sailing")["up"]["live"] == []
    assert "that does not make it dead" in text(capsys, "heater", str(boat), "--condition", "sailing")


def test_down_goes_on_through_a_converter(boat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data = traced(capsys, "main/s/1", str(boat), "--condition", "alongside")
    assert {(drain["id"], drain["kind"]) for drain in data["down"]["feeds"]} == {
        ("heater", "load"),
        ("charger", "converter"),
    }
    (charger,) = data["down"]["converters"]
    assert {drain["id"] for drain in charger["feeds"]} == {"lamp", "fan"}
    assert {drain["id"]: drain["runs"] for drain in data["down"]["feeds"]} == {"heater": True, "charger": None}
    assert [drain["id"] for drain in traced(capsys, "main/s/2", str(boat))["down"]["feeds"]] == ["outlet"]


def test_a_converter_is_told_with_what_feeds_it(boat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data = traced(capsys, "lamp", str(boat), "--condition", "alongside")
    assert {feed["source"] for feed in data["up"]["live"]} == {"bank", "charger"}
    (charger,) = data["up"]["converters"]
    assert {feed["source"] for feed in charger["fed_by"]} == {"shore"}
    assert data["unknown"] == ["cable D4: brown at its to end is untraced or cut back"]


def test_opened_what_goes_dead_and_what_stays(boat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    everywhere, alongside, sailing = traced(capsys, "switch", str(boat), "--open")["open"]
    assert (everywhere["condition"], alongside["condition"]) == (None, "alongside")
    assert everywhere["dead"] == alongside["dead"] == []
    assert [place["place"] for place in alongside["at_it"]] == ["switch/line:DC+", "switch/load:DC+"]
    assert alongside["at_it"][1]["from"] == [{"source": "charger", "positions": {}}]
    assert [(gone["place"], gone["dead"]) for gone in sailing["dead"]] == [("lamp", ["DC+"]), ("charger/dc", ["DC+"])]
    (lost,) = traced(capsys, "main/s/1", str(boat), "--open", "--condition", "alongside")["open"]
    assert [gone["place"] for gone in lost["dead"] if gone["kind"] == "load"] == ["heater"]
    assert lost["stops"] == ["charger/dc"]
    assert "STAYS LIVE at it" in text(capsys, "main/s/1", str(boat), "--open")
    (lost,) = traced(capsys, "shore", str(boat), "--open", "--condition", "alongside")["open"]
    assert [gone["place"] for gone in lost["dead"] if gone["kind"] == "load"] == ["heater", "outlet"]


def test_a_pole_that_stays_live_through_the_load_is_told(boat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One core of a 240 V load open: its far end is lifted through the element."""
    file = boat / "vessel.yaml"
    split = BOAT.replace("cores: {black: L1, red: L2, green: PE}}\n  C5", "cores: {black: L1, green: PE}}\n  C5")
    extra = "  C7: {from: main/s/1, to: heater, cores: {red: L2}}\nconditions:"
    file.write_text(split.replace("conditions:", extra), encoding="utf-8")
    (lost,) = traced(capsys, "C7", str(boat), "--open", "--condition", "alongside")["open"]
    assert [gone["place"] for gone in lost["dead"] if gone["kind"] == "load"] == []
    assert lost["beyond_it"][0]["place"] == "heater"
    assert lost["beyond_it"][0]["through_the_load"] == ["L2"]
    assert "L2 through the load itself" in text(capsys, "C7", str(boat), "--open")


@pytest.mark.parametrize(
    ("one", "other", "arguments", "verdict", "shares"),
    [
        ("heater", "outlet", [], "live", []),
        ("heater", "lamp", [], "converter", []),
        ("shore", "outlet", ["--condition", "sailing"], "return", ["N"]),
        ("lamp", "fan", [], "live", ["DC-"]),
        ("earth", "lamp", [], "not", []),
        ("shore:PE", "heater", [], "earth", []),
    ],
)
def test_how_two_items_are_connected(
    one: str,
    other: str,
    arguments: list[str],
    verdict: str,
    shares: list[str],
    boat: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    found = traced(capsys, one, str(boat), "--to", other, *arguments)["to"]
    assert (found["verdict"], found["shares"]) == (verdict, shares)


def test_two_items_in_words(boat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "NOT CONNECTED in any permitted position" in text(capsys, "earth", str(boat), "--to", "lamp")
    assert "NOT CONNECTED in condition sailing" in text(
        capsys, "earth", str(boat), "--to", "lamp", "--condition", "sailing"
    )
    assert "They share a neutral." in text(capsys, "shore", str(boat), "--to", "generator")
    assert "energy passes through charger" in text(capsys, "heater", str(boat), "--to", "lamp")


def test_why_is_told_terminal_by_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    said = text(capsys, "ac-main/inverter/3", str(EXAMPLE), "--why", "--condition", "at-anchor-night")
    assert "ac-main/inverter/3:L1 carries L1 1. L1 of inverter-charger 2. cable C112, core black" in said
    assert "inverter-charger/dc:DC+ carries DC+ 1. DC+ of house-bank" in said
    assert "Down" not in said


def test_the_example_page(capsys: pytest.CaptureFixture[str]) -> None:
    said = text(capsys, "ac-main/inverter/3", str(EXAMPLE))
    assert "source-selector: selector 63 A, at generator or shore" in said
    assert "cable C303, label C303: ac-main/inverter/3 → saloon-outlets; black L1; 14 AWG, 6 m" in said
    assert "prove dead before touching" in said
    assert said.count("cable C113,") == 1  # shared by three sources, told once
    said = text(capsys, "shore-1", str(EXAMPLE), "--open", "--condition", "alongside-winter")
    assert "inverter-charger changes over by itself: pass-through → inverting" in said
    assert "not connected" not in said


def test_what_cannot_be_understood_is_status_2(boat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for arguments, hint in (
        (["heatre"], "Did you mean heater?"),
        (["heater:N"], "heater:L1 or heater:L2"),
        (["heater", "--condition", "alongsid"], "Did you mean alongside?"),
        (["heater", "--to", "selectr"], "Did you mean selector?"),
        (["heater", "--open"], "has no contact that opens"),
        (["heater", "--open", "--to", "lamp"], "--to tells how two items"),
        (["\x1b[31m"], "There is no '\\x1b[31m'"),
    ):
        item, *rest = arguments
        assert run(["trace", item, str(boat), *rest]) == 2
        assert hint in capsys.readouterr().err
    (boat / "vessel.yaml").write_text("vessel: {record: 1}\n", encoding="utf-8")
    assert run(["trace", "heater", str(boat)]) == 2


def test_it_draws_what_it_passes(boat: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out"
    assert run(["trace", "main/s/1", str(boat), "--draw", "--out", str(out)]) == 0
    drawn = (out / "trace-main-s-1.dot").read_text(encoding="utf-8")
    for item in ("cable C4", "cable C1", "selector", "heater"):
        assert item in drawn
    assert "cable D5" not in drawn
    capsys.readouterr()
    assert run(["trace", "heater", str(boat), "--to", "outlet", "--draw", "--out", str(out)]) == 0
    assert (out / "trace-heater-to-outlet.dot").exists()


@pytest.mark.parametrize("arguments", [[], ["--why"], ["--open"], ["--to", "shore"]])
def test_hostile_names_stay_text(arguments: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = json.dumps(HOSTILE)
    (tmp_path / "vessel.yaml").write_text(
        f"""vessel: {{record: 1, name: {said}, practice: north-american}}
systems: {{ac: {{kind: ac-single-phase, voltage: 120 V}}}}
devices:
  shore: {{kind: shore-inlet, system: ac, name: {said}}}
panels: {{p: {{system: ac, name: {said}, sections: {{s: {{ways: {{"1": {{poles: [L1], label: {said}}}}}}}}}}}}}
loads: {{lamp: {{system: ac, name: {said}}}}}
cables:
  C1: {{from: shore, to: p/s, label: {said}, cores: {{black: L1, white: N, green: PE}}}}
  C2: {{from: p/s/1, to: lamp, name: {said}, cores: {{odd: {{from: L1, to: L1, colour: {json.dumps(HOSTILE[:38])}}}}}}}
conditions: {{now: {{running: [shore]}}}}
""",
        encoding="utf-8",
    )
    for form in ("text", "markdown"):
        assert run(["trace", "p/s/1", str(tmp_path), *arguments, "--output", form]) == 0
        out = capsys.readouterr().out
        assert "\x1b[31m" not in out
        assert "\u202e" not in out
        assert "\n# heading" not in out
        if form == "markdown":
            assert "<script" not in out
            assert "[x](" not in out


def test_it_is_the_same_with_files_in_another_order(boat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = traced(capsys, "heater", str(boat))
    other = boat / "other"
    other.mkdir()
    head, cables = BOAT.split("cables:\n")
    cables, conditions = cables.split("conditions:\n")
    lines = "".join(reversed(cables.splitlines(keepends=True)))
    (other / "vessel.yaml").write_text(head + "conditions:\n" + conditions, encoding="utf-8")
    (other / "cables.yaml").write_text("cables:\n" + lines, encoding="utf-8")
    shutil.rmtree(boat / ".git", ignore_errors=True)
    after = traced(capsys, "heater", str(other))
    assert {**after, "state": ""} == {**before, "state": ""}


SPACES = """
spaces: {engine-room: {engine_space: true}, passage: {}, attic: {}}
"""


@pytest.fixture
def berthed(boat: Path) -> Path:
    """The same boat with the heater and the switch in the engine room, which C5 passes."""
    file = boat / "vessel.yaml"
    said = file.read_text(encoding="utf-8")
    said = said.replace("heater: {", "heater: {space: engine-room, ")
    said = said.replace("switch: {", "switch: {space: engine-room, ").replace("C5: {", "C5: {route: [engine-room], ")
    file.write_text(said + SPACES, encoding="utf-8")
    return boat


def test_a_space_is_told_with_all_that_is_in_it(berthed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data = traced(capsys, "engine-room", str(berthed))
    assert data["item_kind"] == "space"
    ac = [{"source": source, "poles": ["L1", "L2"]} for source in ("generator", "shore")]
    dc = [{"source": source, "poles": ["DC+"]} for source in ("bank", "charger")]
    assert [(held["id"], held["kind"], held["ends_here"], held["live"]) for held in data["holds"]] == [
        ("switch", "device", None, dc),
        ("heater", "load", None, ac),
        ("C4", "cable", True, ac),
        ("D1", "cable", True, dc),
        ("D2", "cable", True, dc),
        ("D3", "cable", True, dc),
        ("C5", "cable", False, [{"source": each["source"], "poles": ["L1"]} for each in ac]),
    ]
    assert {feed["source"] for feed in data["up"]["live"]} == {"shore", "generator", "bank", "charger"}
    # What C5 passes on is beyond the space; what else lands on the bar that it comes from is not.
    assert {drain["id"] for drain in data["down"]["feeds"]} == {"heater", "outlet", "lamp", "fan"}
    sailing = traced(capsys, "engine-room", str(berthed), "--condition", "sailing")
    assert {feed["source"] for feed in sailing["up"]["live"]} == {"bank"}
    assert [held["id"] for held in sailing["holds"] if held["live"]] == ["switch", "D1", "D2", "D3"]


def test_a_space_lost_takes_what_is_in_it_and_what_passes(berthed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (lost,) = traced(capsys, "engine-room", str(berthed), "--open", "--condition", "alongside")["open"]
    assert [gone["place"] for gone in lost["dead"]] == ["lamp", "outlet"]
    assert {place["place"] for place in lost["at_it"]} >= {"main/s/1:L1", "main/s/2:L1", "bank:DC+"}
    assert [place["place"] for place in lost["beyond_it"]] == ["fan"]
    assert "engine-room lost, with all that is in it" in text(capsys, "engine-room", str(berthed), "--open")


def test_a_space_in_every_form(berthed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = text(capsys, "engine-room", str(berthed))
    assert "In it: live with DC+ of bank or charger: device switch live with L1, L2 of generator or shore: " in said
    assert "Cables that only pass it: live with L1 of generator or shore: cable C5, labels not recorded:" in said
    assert "nothing is recorded to be in it or to pass it" in text(capsys, "attic", str(berthed))
    assert run(["trace", "engine-room", str(berthed), "--output", "markdown", "--draw", "--out", str(tmp_path)]) == 0
    assert "## Cables that end in it" in capsys.readouterr().out
    drawn = (tmp_path / "trace-engine-room.dot").read_text(encoding="utf-8")
    assert "heater" in drawn
    assert "C5" in drawn
    assert run(["trace", "attic", str(berthed), "--open"]) == 2
    assert "has no contact that opens" in capsys.readouterr().err
    assert traced(capsys, "heater", str(berthed), "--to", "engine-room")["to"]["verdict"] == "live"
    assert run(["trace", "engine-rom", str(berthed)]) == 2
    assert "Did you mean engine-room?" in capsys.readouterr().err
