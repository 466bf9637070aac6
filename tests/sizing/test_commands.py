"""`vesselspec size` and `vesselspec derive` as they are typed: answers, errors, JSON as published, hostile names."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from tests.report.hostile import hostile, skeleton
from vesselspec.cli.main import COMMANDS, run
from vesselspec.physics.conductors.sizing import size_circuit
from vesselspec.report.derivation import derivation_markdown, derivation_text, quantities
from vesselspec.report.json import dumps
from vesselspec.report.sizing import asked_of, sizing_json, sizing_markdown, sizing_text
from vesselspec.report.terminal import CAUTIONS, CONTROL, Page
from vesselspec.rules.sizing import case_of

from .records import boat_of
from .test_remedies import raw

ROOT = Path(__file__).parents[2]
EXAMPLE = str(ROOT / "example_vessel")
SCHEMAS = {
    name: json.loads((ROOT / "schema" / f"{name}.schema.json").read_text(encoding="utf-8"))
    for name in ("size", "derivation")
}
PUMP = ["size", "--power", "120 W", "--voltage", "12 V", "--dc", "--length", "10.5 ft", "--insulation", "105 degC",
        "--no-engine-space", "--use", "bilge-pump", "--sheath", "--intermittent"]  # fmt: skip


@pytest.fixture(autouse=True)
def _commands(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("size", "derive"):
        monkeypatch.setitem(COMMANDS, name, COMMANDS.get(name, "as it will be called"))


def valid(name: str, text: str) -> Any:
    data = json.loads(text)
    assert [error.message for error in Draft202012Validator(SCHEMAS[name]).iter_errors(data)] == []
    assert jsonschema_rs.validator_for(SCHEMAS[name]).is_valid(data)
    return data


def called(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    status = run(list(arguments))
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def test_a_proposed_circuit(capsys: pytest.CaptureFixture[str]) -> None:
    status, text, errors = called(capsys, *PUMP)
    assert (status, errors) == (0, "")
    assert "Conductor: at least 12 AWG, decided by voltage drop" in text
    assert "Device:    10 A" in text
    flat = " ".join(text.split())
    for caution in CAUTIONS:
        assert caution in flat
    data = valid("size", called(capsys, *PUMP, "--output", "json")[1])
    assert (data["conductor"], data["device_a"], data["decided_by"]) == ("12 AWG", 10.0, ["voltage-drop"])
    markdown = called(capsys, *PUMP, "--output", "markdown")[1]
    assert markdown.startswith("# Size of a conductor")
    assert "at least 12 AWG" in markdown


@pytest.mark.parametrize(
    "arguments",
    [
        ["--current", "12 A", "--voltage", "120/240 V", "--ac", "--frequency", "60 Hz", "--poles", "L1-L2"],
        ["--power", "9 kW", "--voltage", "400/230 V", "--ac", "--poles", "L1-L2-L3", "--practice", "international"],
        ["--current", "40 A", "--voltage", "24 V", "--dc", "--drop", "3 %", "--length", "5 m", "--motor", "--metric"],
        ["--current", "1 A", "--voltage", "12 V", "--dc", "--bundled", "12", "--engine-space"],
        ["--current", "900 A", "--voltage", "12 V", "--dc"],
        ["--current", "9000 A", "--voltage", "120 V", "--ac"],
    ],
)
def test_any_circuit_prints_in_every_form(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    for form in ("text", "markdown", "json"):
        status, out, errors = called(capsys, "size", *arguments, "--output", form)
        assert (status, errors) == (0, "")
        if form == "json":
            valid("size", out)
        else:
            assert "rove dead before touching" in out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "give --power or --current"),
        (["--power", "1 W", "--current", "1 A", "--voltage", "12 V", "--dc"], "one of the two"),
        (["--power", "1500", "--voltage", "12 V", "--dc"], "has no unit"),
        (["--power", "1500 A", "--voltage", "12 V", "--dc"], "unit of current"),
        (["--power", "0 W", "--voltage", "12 V", "--dc"], "above zero"),
        (["--current", "1 A"], "--system"),
        (["--current", "1 A", "--voltage", "12 V"], "--dc or --ac"),
        (["--current", "1 A", "--voltage", "12 V", "--dc", "--length", "0 m"], "above zero"),
        (["--current", "1 A", "--voltage", "12 V", "--dc", "--poles", "L1-N"], "no pole L1"),
        (["--current", "1 A", "--voltage", "120 V", "--ac", "--poles", "L1L2"], "write them with a dash"),
        (["--current", "1 A", "--voltage", "120 V", "--ac", "--poles", "L1-L1"], "write them with a dash"),
        (["--current", "1 A", "--voltage", "120/240 V", "--ac", "--poles", "L1-L2-N"], "two circuits"),
        (["--current", "1 A", "--voltage", "120/160 V", "--ac"], "neither split phase"),
        (["--current", "1 A", "--voltage", "12/24 V", "--dc"], "one voltage"),
        (["--current", "1 A", "--voltage", "12 V", "--dc", "--power-factor", "0.8"], "nothing on DC"),
        (["--current", "1 A", "--voltage", "12 V", "--dc", "--drop", "3"], "has no unit"),
        (["--current", "1 A", "--voltage", "12 V", "--dc", "--drop", "100 %"], "between 0"),
        (["--current", "1 A", "--voltage", "12 V", "--dc", "--drop", "3 %", "--use", "lighting"], "give one"),
        (["--current", "1 A", "--system", "nothing", EXAMPLE], "no system 'nothing'"),
        (["--current", "1 A", "--system", "dc-24", "--dc", EXAMPLE], "says itself"),
        (["--for", "washer", "--power", "1 W", EXAMPLE], "leave out --power"),
        (["--for", "washre", EXAMPLE], "Did you mean washer"),
        (["--for", "no\x1b[31m\nsuch", EXAMPLE], "no load, cable or way"),
        (["--for", "C322", "/nowhere/at/all"], ""),
    ],
)
def test_a_call_that_makes_no_sense_is_one_clear_error(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    status, out, errors = called(capsys, "size", *arguments)
    assert (status, out) == (2, "")
    assert said in errors
    assert errors.count("vesselspec") >= 1
    assert "Traceback" not in errors
    assert "\x1b" not in errors


def test_an_item_of_the_record(capsys: pytest.CaptureFixture[str]) -> None:
    """As found on the example: a 30 A breaker before 14 AWG of 75 °C, which 33 CFR 183.455(c) allows 20 A."""
    data = valid("size", called(capsys, "size", "--for", "washer", EXAMPLE, "--output", "json")[1])
    assert (data["conductor"], data["present_size"], data["device_a"]) == ("10 AWG", "14 AWG", 30.0)
    assert data["decided_by"] == ["device"]
    assert (data["cable"], data["device"]) == ("C322", "ac-galley/galley-shore/4")
    places = [each["place"] for each in data["known"]]
    assert all(re.search(r"\.yaml:[1-9]\d*:\d+$", place) for place in places)
    text = called(capsys, "size", "--for", "C322", EXAMPLE)[1]
    assert "keep 14 AWG with a device of at most 20 A" in " ".join(text.split())
    unknown = valid("size", called(capsys, "size", "--for", "courtesy-lights", EXAMPLE, "--output", "json")[1])
    assert {"item": "D208", "missing": "its size"} in unknown["not_recorded"]
    both = called(capsys, "size", "--for", "washer", EXAMPLE, "--practice", "international", "--output", "json")[1]
    assert valid("size", both)["from_memory"] is True, "IEC 60364-4-43 was not read"
    assert valid("size", both)["circuit"]["practice"] == "international"


def test_every_item_of_the_example_can_be_sized(capsys: pytest.CaptureFixture[str]) -> None:
    from vesselspec.cli.common import read_state
    from vesselspec.rules import Boat

    record = read_state(Path(EXAMPLE), None).record
    assert record.vessel is not None
    boat = Boat(record.vessel, record.places)
    made = 0
    for item in (*record.vessel.loads, *record.vessel.cables, *record.vessel.ways):
        for practice in (None, "international"):
            case = case_of(boat, item, practice)
            if case is not None:
                found = asked_of(boat, case, size_circuit(case.circuit))
                valid_size = sizing_json(found)
                assert jsonschema_rs.validator_for(SCHEMAS["size"]).is_valid(valid_size), item
                made += 1
    assert made > 300


ITEMS = [
    "C322", "washer", "ac-galley/galley-shore/4", "shore-1", "house-bank", "inverter-charger", "ac-main/inverter",
    "dc-main/house", "side-lights", "D208", "D369", "courtesy-lights", "generator-1-breaker", "main-negative-bus",
]  # fmt: skip


@pytest.mark.parametrize("item", ITEMS)
def test_whatever_is_listed_can_be_derived(item: str, capsys: pytest.CaptureFixture[str]) -> None:
    listed = valid("derivation", called(capsys, "derive", item, "-", EXAMPLE, "--output", "json")[1])
    assert listed["can_be_derived"]
    for each in listed["can_be_derived"]:
        status, out, errors = called(capsys, "derive", item, each["quantity"], EXAMPLE, "--output", "json")
        assert (status, errors) == (0, "")
        data = valid("derivation", out)
        assert data["derivations"]
        for number in data["derivations"]:
            assert number["inputs"]
            assert number["steps"] or number["not_recorded"]
            assert (number["low"] is None and number["high"] is None) <= bool(number["not_recorded"])
            for given_ in number["inputs"]:
                assert re.search(r"\.yaml(:\d+:\d+)?$", given_["place"]), given_
        text = called(capsys, "derive", item, each["quantity"], EXAMPLE)[1]
        assert "rove dead before touching" in text


def test_numbers_are_derived_as_printed_elsewhere(capsys: pytest.CaptureFixture[str]) -> None:
    """33 CFR 183.425 Table 5: 14 AWG at 75 °C carries 20 A, a standard rating, so the device is at most 20 A."""
    for quantity in ("ampacity", "device-limit"):
        data = valid("derivation", called(capsys, "derive", "C322", quantity, EXAMPLE, "--output", "json")[1])
        (number,) = data["derivations"]
        assert (number["low"], number["high"], number["unit"]) == (20.0, 20.0, "A")
        assert "33 CFR" in number["steps"][0]["source"]
    data = valid("derivation", called(capsys, "derive", "D208", "ampacity", EXAMPLE, "--output", "json")[1])
    assert data["derivations"][0]["result"].startswith("cannot be derived: its size of D208")
    data = valid("derivation", called(capsys, "derive", "shore-1", "demand", EXAMPLE, "--condition", "alongside-winter",
                                      "--output", "json")[1])  # fmt: skip
    assert {each["of"] for each in data["derivations"]} == {"L1 in alongside-winter", "L2 in alongside-winter"}


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["C322", "colour", EXAMPLE], "There is no quantity"),
        (["C322", "ampacty", EXAMPLE], "Did you mean ampacity"),
        (["C3222", "ampacity", EXAMPLE], "Did you mean"),
        (["C322", "rating", EXAMPLE], "has no rating"),
        (["washer", "current", EXAMPLE, "--condition", "at-sea"], "no operating condition"),
        (["washer", "current", "/nowhere/at/all"], ""),
        (["no\x1b[31m\nsuch", "current", EXAMPLE], "There is no"),
    ],
)
def test_what_cannot_be_derived_is_one_clear_error(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    status, out, errors = called(capsys, "derive", *arguments)
    assert (status, out) == (2, "")
    assert said in errors
    assert "\x1b" not in errors


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(name=hostile(), use=st.sampled_from(("other", "lighting")))
def test_hostile_names_stay_text(name: str, use: str) -> None:
    """A page with a hostile name has the markup of the page with a harmless one."""

    def pages(called_: str) -> tuple[str, str, str, str, str]:
        record = raw()
        record["loads"]["load"] |= {"name": called_, "use": use}
        record["cables"]["X1"]["name"] = called_
        boat = boat_of(record)
        case = case_of(boat, "load")
        assert case is not None
        asked = asked_of(boat, case, size_circuit(case.circuit))
        found = list(quantities()["voltage-drop"].derive(boat, "load", None))
        return (
            sizing_text(Page(width=100, colour=False), asked),
            sizing_markdown(asked),
            dumps(sizing_json(asked)),
            derivation_text(Page(width=100, colour=False), found),
            derivation_markdown("load", found),
        )

    bad, good = pages(name), pages("harmless")
    assert skeleton(bad[1]) == skeleton(good[1])
    assert skeleton(bad[4]) == skeleton(good[4])
    for text in bad:
        assert not CONTROL.search(text)
    valid("size", bad[2])


def test_an_engineer_can_add_a_quantity() -> None:
    from vesselspec.report.derivation import QUANTITIES, quantity

    quantities()
    with pytest.raises(ValueError, match="two quantities"):
        quantity("ampacity", "again")(lambda boat, item, condition: ())
    assert set(QUANTITIES) >= {"ampacity", "device-limit", "voltage-drop", "resistance", "current", "demand", "rating"}
