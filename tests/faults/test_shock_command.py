"""`vesselspec shock` as others call it: statuses, forms, places, hostile words."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import click
import jsonschema_rs
import pytest
from click.testing import CliRunner

from vesselspec.cli.shock import command
from vesselspec.revisions import RevisionError

from .boats import BANK, HEAD, SHORE
from .test_shock import BONDED, INVERTER, NO_SHORE_EARTH, SPLIT, TWO_CORES

ROOT = Path(__file__).parents[2]
SCHEMA = jsonschema_rs.validator_for(json.loads((ROOT / "schema/shock.schema.json").read_text(encoding="utf-8")))
DANGEROUS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufeff]")


def call(*arguments: str) -> tuple[int, str]:
    """The status and the output; a call that cannot be understood is status 2."""
    result = CliRunner().invoke(command, arguments, standalone_mode=False)
    if isinstance(result.exception, click.ClickException):
        return result.exception.exit_code, result.exception.format_message()
    if isinstance(result.exception, RevisionError):
        return 2, f"{result.exception.reason} {result.exception.remedy}"
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
    assert call(vessel(INVERTER))[0] == 0  # live pins, and no deficiency
    assert call(vessel(TWO_CORES))[0] == 1
    assert call("panel/main/0", vessel(TWO_CORES))[0] == 0
    assert call("panel/main/1", vessel(TWO_CORES))[0] == 1
    assert call("kettle", vessel(TWO_CORES))[0] == 1
    for output in ("text", "markdown", "json"):
        assert call(vessel("nonsense: 1\n"), "--output", output)[0] == 2


def test_names_that_are_not_there(vessel: Any) -> None:
    status, said = call("kettel", vessel(SHORE))
    assert (status, "Did you mean kettle?" in said) == (2, True)
    assert call(vessel(SHORE), "--condition", "nowhere")[0] == 2


@pytest.mark.parametrize(
    "text",
    [SHORE, TWO_CORES, NO_SHORE_EARTH.replace("conditions:", BONDED), SPLIT, INVERTER, BANK, "", "nonsense: 1\n"],
)
def test_json_satisfies_its_schema(vessel: Any, text: str) -> None:
    _, output = call(vessel(text), "--output", "json")
    data = json.loads(output)
    SCHEMA.validate(data)
    assert (data["format"], data["kind"]) == (1, "shock")


def test_the_page_says_what_is_live_and_why_in_all_forms(vessel: Any) -> None:
    _, text = call(vessel(TWO_CORES))
    flat = " ".join(text.split())
    assert "STAYS LIVE if a line touches the case of kettle" in flat
    assert "kettle stands at 230 V: through a person 128 to 383 mA wet (fibrillation possible at worst)" in flat
    assert "WARNING earth-core-missing" in flat
    assert "from memory, and deciding nothing" in flat
    _, markdown = call(vessel(TWO_CORES), "--output", "markdown")
    assert "### STAYS LIVE if a line touches the case of kettle" in markdown
    (entry,) = [e for e in json.loads(call(vessel(TWO_CORES), "--output", "json")[1])["entries"] if e["counts"]]
    assert entry["touch_v"] == [230.0, 230.0]
    assert entry["wet_ma"] == pytest.approx([127.778, 383.333], abs=1e-3)
    assert [finding["rule"] for finding in entry["findings"]] == ["earth-core-missing"]


def test_only_one_condition(vessel: Any) -> None:
    two = TWO_CORES + "  off: {running: []}\n"
    assert call(vessel(two), "--condition", "off")[0] == 0
    assert call(vessel(two), "--condition", "now")[0] == 1


def test_no_word_of_the_record_is_obeyed(vessel: Any) -> None:
    evil = TWO_CORES.replace("kettle: {", 'kettle: {name: "a\\e[31m\\u202eb <b>|`x`", ')
    for output in ("text", "markdown"):
        assert not DANGEROUS.search(call(vessel(evil), "--output", output)[1])
    assert "<b>" not in call(vessel(evil), "--output", "markdown")[1]


def test_dc_is_left_out_with_a_reason_and_above_the_craft_standard_named_as_not_judged(vessel: Any) -> None:
    high = BANK.replace("voltage: 12 V}", "voltage: 12 V}\n  drive: {kind: dc, voltage: 400 V}")
    for text, expected in ((BANK, []), (high, [{"system": "drive", "nominal_v": 400}])):
        data = json.loads(call(vessel(text), "--output", "json")[1])
        SCHEMA.validate(data)
        assert data["dc_not_judged"] == expected
        assert any("ISO 10133:2012" in told for told in data["worked_out"])
    for form in ("text", "markdown"):
        page = " ".join(call(vessel(high), "--output", form)[1].split())
        assert "Take every fault in it for deadly" in page
        assert "Take every fault in it for deadly" not in " ".join(call(vessel(BANK), "--output", form)[1].split())
