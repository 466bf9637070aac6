"""`vesselspec derive` of faults: by hand, in every form, and one clear error for what is not there."""

from __future__ import annotations

import json
import math
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest

from vesselspec.cli.main import COMMANDS, run
from vesselspec.report.derivation import Derivation, quantities

from .boats import BANK, HEAD, SHORE, boat

ROOT = Path(__file__).parents[2]
SCHEMA = jsonschema_rs.validator_for(json.loads((ROOT / "schema/derivation.schema.json").read_text(encoding="utf-8")))
#: A bank of 12 V and 5 mohm, and a fuse on its post: E / R = 2400 A, and no conductor before the fuse.
FUSED = """
systems:
  dc: {kind: dc, voltage: 12 V}
devices:
  bank: {kind: battery-bank, system: dc, internal_resistance: 5 mohm}
  fuse: {kind: fuse, system: dc, rating: 100 A, family: class-t, interrupting: 2 kA}
  bar: {kind: busbar, system: dc}
cables:
  C0: {from: bank, to: fuse/line, size: 50 mm2, length: 1 m, insulation: 70 degC, cores: {red: DC+}}
  C1: {from: fuse/load, to: bar, size: 10 mm2, length: 2 m, insulation: 70 degC, cores: {red: DC+}}
  C2: {from: bank, to: bar, size: 10 mm2, length: 2 m, insulation: 70 degC, cores: {black: DC-}}
conditions:
  now: {running: []}
"""


def derived(text: str, item: str, quantity: str) -> list[Derivation]:
    return list(quantities()[quantity].derive(boat(text), item, "now"))


@pytest.fixture
def call(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.setitem(COMMANDS, "derive", COMMANDS.get("derive", "as it will be called"))

    def called(text: str, item: str, quantity: str, *options: str) -> tuple[int, str, str]:
        (tmp_path / "vessel.yaml").write_text(HEAD + text, encoding="utf-8")
        status = run(["derive", item, quantity, str(tmp_path), *options])
        captured = capsys.readouterr()
        return status, captured.out, captured.err

    return called


def test_a_bank_gives_its_voltage_over_its_resistance() -> None:
    """12 V / 5 mohm = 2400 A at its posts, largest and smallest alike: there is no conductor."""
    largest, smallest = derived(BANK.replace("short_circuit_current: 2400 A", "internal_resistance: 5 mohm"),
                                "bank", "fault-level")  # fmt: skip
    for each in (largest, smallest):
        assert each.low == each.high == pytest.approx(12 / 0.005, rel=1e-9)
        assert each.unknown == ()
    inputs = {each.name: each.value for each in largest.inputs}
    assert inputs["nominal voltage of bank"] == "12 V"
    assert inputs["internal resistance of bank"] == "5 mΩ"
    assert "of that bank: 2400 A" in [step.text for step in largest.steps]


def test_conductors_on_the_way_are_in_the_sum_and_in_the_inputs() -> None:
    """Cold copper of 1/58 ohm mm²/m gives at least 2 × 2 m × 0.0172 / 10 mm² = 6.9 mohm beside the bank's 5."""
    largest, smallest = derived(BANK, "bar", "fault-level")
    assert largest.high == pytest.approx(12 / (0.005 + 4 * 0.01724 / 10), rel=2e-3)
    assert smallest.high is not None
    assert largest.high is not None
    assert smallest.high < largest.high
    assert {"size of C1", "length of C1"} <= {each.name for each in largest.inputs}


def test_what_is_not_recorded_is_said() -> None:
    largest, smallest = derived(BANK.replace("short_circuit_current: 2400 A", "capacity: 1 Ah"), "bank", "fault-level")
    for each in (largest, smallest):
        assert (each.low, each.high) == (None, None)
        assert each.unknown == (("bank", "its short-circuit current or internal resistance"),)
        assert each.result.startswith("cannot be derived")


def test_a_rating_below_the_fault() -> None:
    (found,) = derived(FUSED, "fuse", "interrupting")
    assert found.low == found.high
    assert found.low is not None
    assert 2000 < found.low < 2400
    assert "it can break 2000 A: below the fault" in found.steps[-1].text
    (enough,) = derived(FUSED.replace("2 kA", "20 kA"), "fuse", "interrupting")
    assert "it can break 2e+04 A: not below the fault" in enough.steps[-1].text
    (published,) = derived(FUSED.replace(", interrupting: 2 kA", ""), "fuse", "interrupting")
    assert published.steps[-1].source, "the breaking capacity of the family has a source"
    (unknown,) = derived(FUSED.replace("family: class-t, interrupting: 2 kA", "family: gG"), "fuse", "interrupting")
    assert unknown.unknown == (("fuse", "its interrupting rating"),)


def test_opening_times_have_their_source() -> None:
    """IEC 60898-1: a breaker of curve C opens within 0.1 s from ten times its rating; 16 A: from 160 A."""
    largest, smallest = derived(SHORE, "panel/main/1", "opening-time")
    assert largest.high == 0.1
    assert smallest.high == 0.1
    bound = next(step for step in largest.steps if step.text.startswith("from 160 A"))
    assert bound.source is not None
    assert "60898" in bound.source
    for each in derived(SHORE.replace("16 A, curve: C", "16 A"), "panel/main/1", "opening-time"):
        assert each.unknown == (("panel/main/1", "its trip curve"),)
        assert (each.low, each.high) == (None, None)


def test_a_bound_from_memory_is_marked_and_not_counted() -> None:
    found = derived(FUSED.replace("family: class-t", "family: blade"), "fuse", "opening-time")
    memory = [step for each in found for step in each.steps if step.from_memory]
    for each in found:
        used = [step for step in each.steps if step.text.startswith("so it has")]
        assert not any(step.from_memory for step in used)
        assert bool(memory) == any("from memory" in note for note in each.notes)


@pytest.mark.parametrize(
    ("text", "item", "quantity"),
    [
        (BANK, "bank", "fault-level"),
        (BANK, "bar", "fault-level"),
        (SHORE, "kettle", "fault-level"),
        (SHORE, "panel/main", "fault-level"),
        (FUSED, "fuse", "fault-level"),
        (FUSED, "fuse", "interrupting"),
        (FUSED, "fuse", "opening-time"),
        (SHORE.replace("supply_fault_current: 1 kA, ", ""), "panel/main/0", "interrupting"),
        (SHORE.replace("supply_fault_current: 1 kA, ", ""), "panel/main/0", "opening-time"),
        (SHORE.replace("supply_fault_current: 1 kA, ", ""), "kettle", "fault-level"),
    ],
)
def test_every_form(call: Any, text: str, item: str, quantity: str) -> None:
    status, out, errors = call(text, item, quantity, "--output", "json")
    assert (status, errors) == (0, "")
    data = json.loads(out)
    SCHEMA.validate(data)
    for each in data["derivations"]:
        assert each["steps"] or each["not_recorded"]
        assert (each["low"] is None and each["high"] is None) <= bool(each["not_recorded"])
        assert each["low"] is None or math.isfinite(each["low"])
        for given in each["inputs"]:
            assert re.search(r"\.yaml(:\d+:\d+)?$", given["place"]), given
    for form in ("text", "markdown"):
        status, out, errors = call(text, item, quantity, "--output", form, "--condition", "now")
        assert (status, errors) == (0, "")
        assert quantity in out


def test_in_words(call: Any) -> None:
    flat = " ".join(call(BANK, "bank", "fault-level")[1].split())
    assert "fault-level of bank, largest, DC+-DC- in now: 2400 A" in flat
    assert "12 V / 2400 A = 5 mohm" in flat


@pytest.mark.parametrize(
    ("item", "quantity", "options", "said"),
    [
        ("bank", "fault-level", ("--condition", "later"), "There is no operating condition 'later'"),
        ("bnak", "fault-level", (), "Did you mean bank"),
        ("bank", "interrupting", (), "has no interrupting"),
        ("bank", "opening-time", (), "has no opening-time"),
        ("bank", "fault-levle", (), "Did you mean fault-level"),
    ],
)
def test_what_is_not_there_is_one_clear_error(
    call: Any, item: str, quantity: str, options: tuple[str, ...], said: str
) -> None:
    status, out, errors = call(BANK, item, quantity, *options)
    assert (status, out) == (2, "")
    assert said in errors
    assert "Traceback" not in errors


def test_registering_does_not_import_the_scientific_libraries() -> None:
    code = (
        "import sys; from vesselspec.report.derivation import quantities; quantities(); "
        "sys.exit('numpy' in sys.modules or 'scipy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False).returncode == 0
