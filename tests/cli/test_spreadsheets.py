"""`export` and `import` as their users run them."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import jsonschema_rs
import openpyxl
import pytest

from vesselspec.cli.main import run
from vesselspec.record.yaml import load

ROOT = Path(__file__).parents[2]
BOAT = (ROOT / "tests/rules/bases/boat.yaml").read_text(encoding="utf-8")
LOADS = "Description;Location;Watts;Poles\nBread oven;Cabin;1500;L1/N\nFan;Attic;40;L1/N\n"
CABLES = "Wire No.,From,To,Gauge,Length (ft)\nK1,ac-panel/shore/3,outlets,12,7.5\nK2,ac-panel/shore/9,outlets,12,7.5\n"

Call = Callable[..., tuple[int, str, str]]


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.delenv("VESSELSPEC_TRACEBACK", raising=False)

    def called(*arguments: str | Path) -> tuple[int, str, str]:
        capsys.readouterr()
        status = run([str(each) for each in arguments])
        said = capsys.readouterr()
        return status, said.out, said.err

    return called


@pytest.fixture
def boat(tmp_path: Path) -> Path:
    folder = tmp_path / "boat"
    folder.mkdir()
    (folder / "vessel.yaml").write_text(BOAT, encoding="utf-8")
    (tmp_path / "loads.csv").write_text(LOADS, encoding="utf-8")
    (tmp_path / "wires.csv").write_text(CABLES, encoding="utf-8")
    return folder


def files(folder: Path) -> dict[str, str]:
    return {file.name: file.read_text(encoding="utf-8") for file in folder.iterdir()}


def test_export_writes_one_workbook_or_a_file_a_table(call: Call, boat: Path, tmp_path: Path) -> None:
    status, out, err = call("export", boat, "--out", tmp_path / "x")
    assert (status, out, err) == (0, f"{tmp_path / 'x' / 'schedules.xlsx'}\n", "")
    book = openpyxl.load_workbook(tmp_path / "x/schedules.xlsx")
    assert book.sheetnames == ["About", "Panel ac-panel", "Panel dc-panel", "Cables", "Loads", "Devices"]
    assert book["About"]["B3"].value == "work tree, in no git repository"
    assert "prove dead before touching" in str(book["About"]["B4"].value)
    status, out, err = call("export", boat, "--out", tmp_path / "x", "--as", "csv")
    assert status == 0
    names = ["about.csv", "panel-ac-panel.csv", "panel-dc-panel.csv", "cables.csv", "loads.csv", "devices.csv"]
    assert out == "".join(f"{tmp_path / 'x' / name}\n" for name in names)


def test_export_tells_machines_what_it_wrote(call: Call, boat: Path, tmp_path: Path) -> None:
    schema = json.loads((ROOT / "schema/export.schema.json").read_text(encoding="utf-8"))
    validator = jsonschema_rs.Draft202012Validator(schema)
    for form in ("csv", "xlsx"):
        status, out, _ = call("export", boat, "--out", tmp_path / form, "--as", form, "--output", "json")
        validator.validate(said := json.loads(out))
        assert status == 0
        assert {Path(each["file"]).name for each in said["files"]} == {
            each.name for each in (tmp_path / form).iterdir()
        }
        assert sum(len(each["tables"]) for each in said["files"]) == 6
    (boat / "bad.yaml").write_text("loads: {a: {power: 5}}\n", encoding="utf-8")
    status, out, _ = call("export", boat, "--out", tmp_path / "none", "--output", "json")
    validator.validate(json.loads(out))
    assert status == 2 and not (tmp_path / "none").exists()
    assert call("export", boat, "--out", tmp_path / "none")[0] == 2
    assert call("export", boat, "--at", "nowhere")[0] == 2


def test_export_of_an_older_state_says_which(call: Call, boat: Path, tmp_path: Path) -> None:
    for command in (["init", "-q"], ["add", "."], ["-c", "user.name=a", "-c", "user.email=a@b", "commit", "-qm", "x"]):
        subprocess.run(["git", "-C", boat, *command], check=True)
    (boat / "vessel.yaml").write_text(BOAT.replace("name: Example", "name: Other"), encoding="utf-8")
    assert call("export", boat, "--at", "HEAD", "--as", "csv", "--out", tmp_path / "x")[0] == 0
    about = (tmp_path / "x/about.csv").read_text(encoding="utf-8")
    assert "Vessel,Example" in about and " of 20" in about
    assert call("export", boat, "--as", "csv", "--out", tmp_path / "y")[0] == 0
    assert "CHANGED since" in (tmp_path / "y/about.csv").read_text(encoding="utf-8")


def test_import_shows_and_writes_nothing_until_told(call: Call, boat: Path, tmp_path: Path) -> None:
    before = files(boat)
    status, out, err = call("import", tmp_path / "loads.csv", boat, "--kind", "loads", "--on", "2026-03-14")
    assert (status, err) == (1, "")
    assert "A Description  is name, by its heading" in out
    assert "C Watts        is power in W, by its heading" in out
    assert 'loads.csv:3:B Location "Attic": the record has no such space; `space` stays unknown.' in out
    assert out.endswith("2 loads would go into loads.yaml.\n  bread-oven, fan\nNothing was written; --write does it.\n")
    assert files(boat) == before


def test_import_writes_and_a_second_time_finds_all_there(call: Call, boat: Path, tmp_path: Path) -> None:
    arguments = ("import", tmp_path / "loads.csv", boat, "--kind", "loads", "--on", "2026-03-14", "--write")
    assert call(*arguments)[0] == 1
    assert files(boat)["vessel.yaml"] == BOAT
    known = {"how": "documented", "when": "2026-03-14"}
    text = files(boat)["loads.yaml"]
    assert text.startswith("loads:\n  bread-oven:\n    name: Bread oven\n    space: cabin\n    poles: [L1, ")
    assert load(text.encode())["loads"] == {
        "bread-oven": {
            "name": "Bread oven",
            "space": "cabin",
            "poles": ["L1", "N"],
            "power": "1500 W",
            "note": "From loads.csv, row 2.",
            "evidence": known,
        },
        "fan": {
            "name": "Fan",
            "poles": ["L1", "N"],
            "power": "40 W",
            "note": 'From loads.csv, row 3. Not understood there: Location "Attic".',
            "evidence": known,
        },
    }
    after = files(boat)
    status, out, _ = call(*arguments)
    assert "2 in the record already and the same." in out and "Nothing would be added." in out
    assert (status, files(boat)) == (1, after)
    assert call("survey", boat)[0] in (0, 1)


def test_import_into_a_file_that_is_there_keeps_it(call: Call, boat: Path, tmp_path: Path) -> None:
    own = "# ours\nloads:\n  lamp: {power: 5 W}  # bright\ncables: {}\n"
    (boat / "own.yaml").write_text(own, encoding="utf-8")
    call("import", tmp_path / "loads.csv", boat, "--kind", "loads", "--to-file", "own.yaml", "--write")
    text = files(boat)["own.yaml"]
    assert text.startswith("# ours\nloads:\n  lamp: {power: 5 W}  # bright\n  bread-oven:\n")
    assert text.endswith("cables: {}\n")


def test_what_must_be_settled_first_stops_the_writing(call: Call, boat: Path, tmp_path: Path) -> None:
    status, out, _ = call("import", tmp_path / "wires.csv", boat, "--kind", "cables", "--write")
    assert status == 2
    assert "column D (Gauge) has no unit for 2 bare numbers; none is guessed" in " ".join(out.split())
    assert out.endswith("Nothing was written.\n")
    assert "cables.yaml" not in files(boat)
    status, out, _ = call("import", tmp_path / "wires.csv", boat, "--kind", "cables", "--unit", "size=AWG", "--write")
    assert status == 1
    assert "wires.csv:3:B From" in out and "no place is made up" in out
    assert "K2" not in files(boat)["cables.yaml"]


def test_json_follows_its_schema(call: Call, boat: Path, tmp_path: Path) -> None:
    schema = json.loads((ROOT / "schema/import.schema.json").read_text(encoding="utf-8"))
    validator = jsonschema_rs.Draft202012Validator(schema)
    for arguments in (
        (tmp_path / "loads.csv", boat, "--kind", "loads"),
        (tmp_path / "wires.csv", boat, "--kind", "cables"),
        (tmp_path / "wires.csv", boat, "--kind", "cables", "--unit", "size=AWG", "--write"),
        (tmp_path / "wires.csv", boat, "--kind", "cables", "--unit", "size=AWG"),
    ):
        _, out, _ = call("import", *arguments, "--output", "json")
        validator.validate(json.loads(out))
        assert json.loads(out)["written"] is ("--write" in arguments)
    assert json.loads(out)["same"] == ["K1"]
    (boat / "bad.yaml").write_text("loads: {a: {power: 5}}\n", encoding="utf-8")
    status, out, _ = call("import", tmp_path / "loads.csv", boat, "--kind", "loads", "--output", "json")
    assert (status, json.loads(out)["understood"]) == (2, False)
    validator.validate(json.loads(out))


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["nowhere.csv"], "'nowhere.csv' cannot be read"),
        (["."], "cannot be read"),
        (["loads.csv", "--unit", "power"], "an equals sign"),
        (["loads.csv", "--unit", "power=W", "--unit", "power=kW"], "given twice"),
        (["loads.csv", "--column", "Weight=power"], "no column has this heading"),
        (["loads.csv", "--to-file", "../x.yaml"], "no name of a .yaml file"),
        (["loads.csv", "--to-file", "x.txt"], "no name of a .yaml file"),
        (["loads.csv", "--sheet", "A"], "text has no sheets"),
        (["loads.csv", "--on", "yesterday"], "is not a day"),
        (["empty.csv"], "it is empty"),
    ],
)
def test_a_call_that_makes_no_sense_is_told(
    call: Call, boat: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], said: str
) -> None:
    (tmp_path / "empty.csv").write_bytes(b"")
    monkeypatch.chdir(tmp_path)
    before = files(boat)
    status, out, err = call("import", arguments[0], boat, "--kind", "loads", *arguments[1:], "--write")
    assert (status, out) == (2, "")
    assert said in err and "Traceback" not in err
    assert files(boat) == before


def test_hostile_headings_and_cells_command_no_terminal(call: Call, boat: Path, tmp_path: Path) -> None:
    (tmp_path / "x.csv").write_text("Name,Power,\x1b[2J\nA\x1b[31mB,9 W,x\nC,\x1b]0;x\x07,y\n", encoding="utf-8")
    for more in ([], ["--output", "json"]):
        _, out, _ = call("import", tmp_path / "x.csv", boat, "--kind", "loads", *more)
        assert "\x1b" not in out and "\x07" not in out


def test_a_link_in_the_place_of_the_file_is_not_followed(call: Call, boat: Path, tmp_path: Path) -> None:
    (tmp_path / "elsewhere.yaml").write_text("", encoding="utf-8")
    (boat / "loads.yaml").symlink_to(tmp_path / "elsewhere.yaml")
    status, _, _ = call("import", tmp_path / "loads.csv", boat, "--kind", "loads", "--write")
    assert status == 2
    assert (tmp_path / "elsewhere.yaml").read_text(encoding="utf-8") == ""


def test_the_example_goes_out_and_comes_in_again(call: Call, tmp_path: Path) -> None:
    folder = tmp_path / "boat"
    shutil.copytree(ROOT / "example_vessel", folder)
    assert call("export", folder, "--out", tmp_path)[0] == 0
    for kind in ("loads", "cables"):
        status, out, _ = call("import", tmp_path / "schedules.xlsx", folder, "--kind", kind)
        assert status == 0, out
        assert "Nothing would be added." in out
