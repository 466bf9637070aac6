"""`vesselspec faults` as others call it: statuses, forms, names that are not there, hostile words."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import click
import jsonschema_rs
import pytest
from click.testing import CliRunner

from vesselspec.cli.faults import command

from .boats import BANK, HEAD, SHORE

ROOT = Path(__file__).parents[2]
SCHEMA = jsonschema_rs.validator_for(json.loads((ROOT / "schema/faults.schema.json").read_text(encoding="utf-8")))
WEAK = SHORE.replace("2.5 mm2, length: 10 m", "2.5 mm2, length: 300 m")
DANGEROUS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufeff]")


def call(*arguments: str) -> tuple[int, str]:
    """The status and the output; a call that cannot be understood is status 2."""
    result = CliRunner().invoke(command, arguments, standalone_mode=False)
    if isinstance(result.exception, click.ClickException):
        return result.exception.exit_code, result.exception.format_message()
    if result.exception is not None:
        raise result.exception
    return result.return_value, result.output


@pytest.fixture
def vessel(tmp_path: Path) -> Any:
    def write(text: str) -> str:
        (tmp_path / "vessel.yaml").write_text(HEAD + text, encoding="utf-8")
        return str(tmp_path)

    return write


def test_statuses(vessel: Any) -> None:
    assert call(vessel(SHORE))[0] == 0
    assert call(vessel(WEAK))[0] == 1
    assert call(vessel(WEAK), "--fail-on", "DANGER")[0] == 0
    assert call(vessel("nonsense: 1\n"))[0] == 2
    assert call(vessel("nonsense: 1\n"), "--output", "json")[0] == 2


@pytest.mark.parametrize(
    "text", [SHORE, WEAK, BANK, BANK.replace("short_circuit_current: 2400 A", "capacity: 1 Ah"), ""]
)
def test_json_satisfies_its_schema(vessel: Any, text: str) -> None:
    _, output = call(vessel(text), "--output", "json")
    data = json.loads(output)
    SCHEMA.validate(data)
    assert data["format"] == 1


def test_json_of_a_record_that_cannot_be_understood(vessel: Any) -> None:
    data = json.loads(call(vessel("nonsense: 1\n"), "--output", "json")[1])
    SCHEMA.validate(data)
    assert not data["understood"]


def test_json_of_the_example() -> None:
    status, output = call(str(ROOT / "example_vessel"), "--output", "json")
    data = json.loads(output)
    SCHEMA.validate(data)
    assert status == 0
    every = [fault for each in data["conditions"] for place in each["places"] for fault in place["faults"]]
    assert len(every) > 1000
    assert all(fault["derivation"] for fault in every)
    for fault in every:
        largest, smallest = fault["largest"], fault["smallest"]
        if largest["at_most_a"] is not None:
            assert largest["at_least_a"] <= largest["at_most_a"] * (1 + 1e-6)
            assert smallest["amps"] is None or smallest["amps"] <= largest["at_most_a"] * (1 + 1e-5)
        assert largest["known"] or largest["missing"]
        assert smallest["amps"] is not None or smallest["missing"]


def test_figures_in_text_and_markdown(vessel: Any) -> None:
    for form in ("text", "markdown"):
        _, output = call(vessel(BANK), "--output", form)
        assert "2400 A" in output
        assert "1009 A" in output
        assert "prove dead" in output
    _, output = call(vessel(BANK))
    assert "12 V / 2400 A = 5 mohm" in output


def test_one_place_and_one_condition(vessel: Any) -> None:
    _, output = call(vessel(SHORE), "--place", "panel", "--output", "json")
    places = {place["place"] for place in json.loads(output)["conditions"][0]["places"]}
    assert places == {"panel/main", "panel/main/0", "panel/main/1"}
    _, kettle = call(vessel(SHORE), "--place", "kettle", "--condition", "now")
    assert "kettle" in kettle
    assert "largest: 230 V" in kettle


@pytest.mark.parametrize(("option", "word"), [("--place", "kettel"), ("--condition", "nwo")])
def test_a_name_that_is_not_there(vessel: Any, option: str, word: str) -> None:
    status, message = call(vessel(SHORE), option, word)
    assert status == 2
    assert "did you mean" in message


def test_a_vessel_without_conditions(vessel: Any) -> None:
    text = BANK.partition("conditions:")[0]
    for form in ("text", "markdown"):
        status, output = call(vessel(text), "--output", form)
        assert status == 0
        assert "No operating condition is recorded" in output


def test_hostile_words_stay_words(vessel: Any) -> None:
    text = SHORE.replace("duty: main,", 'duty: main, label: "\\e[31m|<b>`# x\\u202e",')
    for form in ("text", "markdown", "json"):
        _, output = call(vessel(text), "--output", form)
        assert not DANGEROUS.search(output)
        assert form == "json" or "<b>" not in output or form == "text"


def test_the_same_record_gives_the_same_output(vessel: Any) -> None:
    assert call(vessel(WEAK), "--output", "json") == call(vessel(WEAK), "--output", "json")
