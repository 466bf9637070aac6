"""A record that cannot be understood: every command says why, in the form asked for, and ends in exit status 2."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema_rs
import pytest

from vesselspec.cli.main import COMMANDS, run

SCHEMAS = Path(__file__).parents[2] / "schema"
BAD = "vessel: {record: 1, name: X, practice: north-american}\nloads: {lamp: {powr: 5 W}}\n"

#: Command → the arguments that it needs besides the vessel, and the schema that holds what it prints as JSON.
ASKED = {
    "survey": ((), "survey"),
    "unknowns": ((), "unknowns"),
    "isolate": (("lamp",), "not-understood"),
    "trace": (("lamp",), "not-understood"),
    "shock": ((), "shock"),
    "expand": (("lamp",), "not-understood"),
    "loads": ((), "loads"),
    "faults": ((), "faults"),
    "size": (("--for", "lamp"), "not-understood"),
    "derive": (("lamp", "ampacity"), "not-understood"),
    "handover": (("--out", "book"), "handover"),
    "labels": ((), "not-understood"),
    "export": (("--out", "lists"), "export"),
    "import": (("list.csv", "--kind", "loads"), "import"),
    "rename": (("lamp", "lantern"), "edit"),
    "move": (("lamp", "other.yaml"), "edit"),
    "tidy": ((), "edit"),
}
#: Commands that print no JSON of one state, or read no record.
OTHERS = {"review", "guard", "adopt", "explain", "logbook", "record-change", "draw", "new"}


@pytest.fixture
def there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "vessel.yaml").write_text(BAD, encoding="utf-8")
    (tmp_path / "list.csv").write_text("name\nlamp\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_every_command_is_here() -> None:
    assert ASKED.keys() | OTHERS == set(COMMANDS)


@pytest.mark.parametrize("command", ASKED)
def test_json_says_why(there: Path, command: str, capsys: pytest.CaptureFixture[str]) -> None:
    arguments, schema = ASKED[command]
    assert run([command, *arguments, "--output", "json"]) == 2
    data = json.loads(capsys.readouterr().out)
    assert data["understood"] is False
    assert [problem["place"]["line"] for problem in data["problems"]] == [2]
    published = json.loads((SCHEMAS / f"{schema}.schema.json").read_text(encoding="utf-8"))
    assert [error.message for error in jsonschema_rs.validator_for(published).iter_errors(data)] == []
    assert {each.name for each in there.iterdir()} == {"vessel.yaml", "list.csv"}, "nothing is written"


@pytest.mark.parametrize("command", [name for name in ASKED if name not in {"export", "handover", "import"}])
def test_text_says_why(there: Path, command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([command, *ASKED[command][0]]) == 2
    said = capsys.readouterr().out
    assert "vessel.yaml:2:" in said
    assert "powr" in said
    assert "1 problem." in said
