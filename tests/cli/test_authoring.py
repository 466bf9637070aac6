"""The commands that edit a record, as their user sees them: new, rename, move, tidy."""

from __future__ import annotations

import itertools
import json
import os
import pty
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest

from tests.cli.test_adopt import boat as old_boat
from vesselspec.cli.main import run
from vesselspec.model.items import SYSTEM_POLES
from vesselspec.record import read
from vesselspec.record.starting import SYSTEMS, Start, is_dc, start
from vesselspec.record.tidying import tidied
from vesselspec.revisions import read_folder
from vesselspec.rules import Boat, survey
from vesselspec.standards import PRACTICES

ROOT = Path(__file__).parents[2]
SCHEMA = jsonschema_rs.validator_for(json.loads((ROOT / "schema/edit.schema.json").read_text(encoding="utf-8")))

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
    """The example vessel, in a repository of its own, all committed."""
    folder = tmp_path / "boat"
    shutil.copytree(ROOT / "example_vessel", folder, ignore=shutil.ignore_patterns("refit", "drawings", "*.md"))
    for arguments in (["init", "-q"], ["add", "-A"], ["commit", "-qm", "all"]):
        git(folder, *arguments)
    return folder


def git(folder: Path, *arguments: str) -> str:
    names = ["-c", "user.name=a", "-c", "user.email=a@b", "-c", "commit.gpgsign=false", "-c", "core.autocrlf=false"]
    done = subprocess.run(["git", *names, *arguments], cwd=folder, check=True, capture_output=True, text=True)
    return done.stdout


def held(folder: Path) -> dict[str, bytes]:
    return dict(read_folder(folder).files)


def as_json(out: str) -> Any:
    SCHEMA.validate(json.loads(out))
    return json.loads(out)


# --- rename -----------------------------------------------------------------------------------------


def test_rename_writes_tells_and_is_one_act_in_a_review(call: Call, boat: Path) -> None:
    before = held(boat)
    status, out, err = call("rename", "ac-main", "main-panel", boat)
    assert (status, err) == (0, "")
    assert out.startswith("ac-main is main-panel now: 22 references followed, 3 files.\nWritten: ac.yaml, ")
    changed = {name for name, text in held(boat).items() if text != before[name]}
    assert changed == {"ac.yaml", "cables-ac.yaml", "cables-earth.yaml"}
    status, out, _ = call("review", "HEAD", ".", boat, "--output", "json")
    found = json.loads(out)
    assert [each["kind"] for each in found["changes"]] == ["renamed"]


def test_a_dry_run_is_a_diff_that_git_applies(call: Call, boat: Path) -> None:
    before = held(boat)
    status, out, err = call("rename", "C204", "C999", boat, "--dry-run")
    assert status == 0
    assert held(boat) == before
    assert "C204 would be C999 now" in err
    assert "These words still say C204" in err
    subprocess.run(["git", "apply", "-"], cwd=boat, input=out.encode(), check=True)
    applied = held(boat)
    git(boat, "checkout", "-q", ".")
    call("rename", "C204", "C999", boat)
    assert held(boat) == applied


@pytest.mark.parametrize("host", ["", "true"])
def test_a_diff_is_exact_except_where_a_hosted_ci_would_obey_it(
    call: Call, boat: Path, monkeypatch: pytest.MonkeyPatch, host: str
) -> None:
    for sign in ("GITHUB_ACTIONS", "TF_BUILD"):
        monkeypatch.delenv(sign, raising=False)
    monkeypatch.setenv("CI", host)
    file = boat / "cables-ac.yaml"
    text = file.read_text(encoding="utf-8")
    at = text.index("  C204:")
    file.write_text(f"{text[:at]}  # ##[error]\n  # a\ttab\n{text[at:]}", encoding="utf-8")
    git(boat, "commit", "-qam", "Comments")
    _, out, _ = call("rename", "C204", "C999", boat, "--dry-run")
    assert ("##[" in out) is not bool(host)
    if not host:
        subprocess.run(["git", "apply", "-"], cwd=boat, input=out.encode(), check=True)


def test_rename_never_writes_over_what_git_does_not_hold(call: Call, boat: Path) -> None:
    with (boat / "cables-ac.yaml").open("a", encoding="utf-8") as file:
        file.write("# mine\n")
    before = held(boat)
    status, out, err = call("rename", "C204", "C999", boat)
    assert (status, out) == (2, "")
    assert "'cables-ac.yaml': changed since the last commit. Nothing was written." in err
    assert held(boat) == before
    assert call("rename", "C204", "C999", boat, "--overwrite-uncommitted")[0] == 0
    assert held(boat)["cables-ac.yaml"].endswith(b"# mine\n")


def test_so_does_import_and_only_into_files_of_the_record(call: Call, boat: Path, tmp_path: Path) -> None:
    (tmp_path / "list.csv").write_text("Description,Power (W)\nAnchor ball light,30\n", encoding="utf-8")
    command = ("import", tmp_path / "list.csv", boat, "--kind", "loads", "--write")
    assert "no name of a .yaml file" in call(*command, "--to-file", "loads.yml")[2]
    with (boat / "loads.yaml").open("a", encoding="utf-8") as file:
        file.write("# mine\n")
    before = held(boat)
    status, _, err = call(*command)
    assert status == 2
    assert "'loads.yaml': changed since the last commit" in err
    assert held(boat) == before
    assert call(*command, "--overwrite-uncommitted")[0] == 0
    assert b"Anchor ball light" in held(boat)["loads.yaml"]


def test_rename_in_json(call: Call, boat: Path) -> None:
    found = as_json(call("rename", "C204", "C999", boat, "--output", "json")[1])
    assert (found["command"], found["written"]) == ("rename", True)
    assert [(each["file"], each["is_new"]) for each in found["files"]] == [("cables-ac.yaml", False)]
    assert found["left"][0]["place"]["file"] == "cables-ac.yaml"


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ("C204", "C205", "There is cables/C205 already"),
        ("C204", "a b", "a b cannot be an id"),
        ("nothing", "x", "There is no nothing"),
        ("C204", "C017", "C114 was called C017 once"),
        ("C204", "\x1b[2J", "cannot be an id"),
    ],
)
def test_what_rename_refuses(call: Call, boat: Path, old: str, new: str, reason: str) -> None:
    before = held(boat)
    status, out, err = call("rename", old, new, boat)
    assert (status, out) == (2, "")
    assert reason in err
    assert "\x1b" not in err
    assert "[2J" not in err or "\\u001b" in err
    assert held(boat) == before


def test_concessions_follow_a_rename(call: Call, tmp_path: Path) -> None:
    folder = old_boat(tmp_path / "old")
    on = ("--on", "2026-06-01", "--output", "json")
    call("adopt", folder, "--by", "surveyor", "--on", "2026-06-01")
    accepted = json.loads(call("survey", folder, *on)[1])["accepted"]
    assert accepted["WARNING"] == 2
    for old, new in (
        ("X1", "Y1"),
        ("ac-panel", "main"),
        ("main/shore/3", "33"),
        ("cabin", "saloon"),
        ("fan", "blower"),
    ):
        status, _, err = call("rename", old, new, folder)
        assert (status, err) == (0, "")
        found = json.loads(call("survey", folder, *on)[1])
        assert found["accepted"] == accepted
        assert {each["rule"] for each in found["findings"] if not each["concession"]} == {"cable-end-unlabelled"}


@pytest.mark.skipif(sys.platform == "win32", reason="needs a terminal")
@pytest.mark.parametrize(("answer", "status"), [("y", 0), ("n", 2), ("", 2)])
def test_on_a_terminal_it_asks_before_it_writes_over(boat: Path, answer: str, status: int) -> None:
    with (boat / "cables-ac.yaml").open("a", encoding="utf-8") as file:
        file.write("# mine\n")
    before = held(boat)
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "vesselspec", "rename", "C204", "C999", str(boat)],
        stdin=theirs, stdout=subprocess.PIPE, stderr=theirs, cwd=ROOT,
    )  # fmt: skip
    os.close(theirs)
    os.write(ours, f"{answer}\n".encode())
    process.communicate(timeout=60)
    os.close(ours)
    assert process.returncode == status
    assert (held(boat) == before) is (status == 2)


@pytest.mark.parametrize("command", [("rename", "a", "b"), ("tidy",), ("move", "a", "--to-file", "x.yaml")])
def test_a_record_that_cannot_be_understood_is_not_edited(call: Call, tmp_path: Path, command: tuple[str, ...]) -> None:
    (tmp_path / "vessel.yaml").write_text("vessel: {record: 1}\nloads: {a: {power: 3}}\n", encoding="utf-8")
    status, out, _ = call(*command, tmp_path)
    assert status == 2
    assert "vessel.yaml:1" in out
    found = as_json(call(*command, tmp_path, "--output", "json")[1])
    assert found["understood"] is False
    assert found["problems"]


def test_a_link_in_the_record_is_refused(call: Call, boat: Path, tmp_path: Path) -> None:
    (boat / "cables-ac.yaml").rename(tmp_path / "elsewhere.yaml")
    (boat / "cables-ac.yaml").symlink_to(tmp_path / "elsewhere.yaml")
    before = (tmp_path / "elsewhere.yaml").read_bytes()
    status, out, _ = call("rename", "C204", "C999", boat)
    assert status == 2
    assert "symbolic link" in out
    assert (tmp_path / "elsewhere.yaml").read_bytes() == before


# --- move -------------------------------------------------------------------------------------------


def test_move_to_a_file_changes_nothing_in_a_review(call: Call, boat: Path) -> None:
    status, out, err = call("move", "C204", "--to-file", "cables/heaters.yaml", boat)
    assert (status, err) == (0, "")
    assert out == "cables/C204 stands in cables/heaters.yaml now.\nWritten: cables-ac.yaml, cables/heaters.yaml.\n"
    found = json.loads(call("review", "HEAD", ".", boat, "--output", "json")[1])
    assert found["changes"] == []
    assert as_json(call("move", "C205", "--to-file", "cables/heaters.yaml", boat, "--output", "json",
                        "--overwrite-uncommitted")[1])["written"]  # fmt: skip


def test_move_of_a_circuit_is_one_act_in_a_review(call: Call, boat: Path) -> None:
    status, out, err = call("move", "ac-main/inverter/8", "ac-main/shore-and-generator/14", boat)
    assert (status, err) == (0, "")
    assert "moved from section ac-main/inverter" in out
    found = json.loads(call("review", "HEAD", ".", boat, "--output", "json")[1])
    assert [each["kind"] for each in found["changes"]] == ["moved"]


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        (("C204", "--to-file", "../out.yaml"), "cannot be a file of this record"),
        (("C204", "--to-file", "/tmp/out.yaml"), "cannot be a file of this record"),
        (("C204", "--to-file", ".hidden.yaml"), "cannot be a file of this record"),
        (("C204", "--to-file", "x.txt"), "cannot be a file of this record"),
        (("C204", "--to-file", "cables-ac.yaml"), "stands in cables-ac.yaml already"),
        (("nothing", "--to-file", "x.yaml"), "There is no 'nothing'"),
        (("ac-main/inverter", "--to-file", "x.yaml"), "Move the whole panel"),
        (("C204", "C205"), "C204 is no way of a panel"),
        (("ac-main/inverter/8", "ac-main/inverter/9"), "lands on ac-main/inverter/9 already"),
    ],
)
def test_what_move_refuses(call: Call, boat: Path, arguments: tuple[str, ...], reason: str) -> None:
    before = held(boat)
    status, out, err = call("move", *arguments, boat)
    assert (status, out) == (2, "")
    assert reason in err
    assert held(boat) == before


@pytest.mark.parametrize("words", [("C204",), ("a", "b", "c", "d"), ("a", "b", "c", "--to-file", "x.yaml")])
def test_move_says_how_it_is_called(call: Call, words: tuple[str, ...]) -> None:
    status, _, err = call("move", *words)
    assert status == 2
    assert "ITEM WHERE [VESSEL], or ITEM --to-file FILE [VESSEL]" in err


def test_a_folder_of_another_vessel_takes_nothing(call: Call, boat: Path) -> None:
    (boat / "tender").mkdir()
    (boat / "tender/vessel.yaml").write_text("", encoding="utf-8")
    status, _, err = call("move", "C204", "--to-file", "tender/x.yaml", boat)
    assert status == 2
    assert "belongs to another vessel" in err


# --- tidy -------------------------------------------------------------------------------------------


def test_the_example_vessel_is_tidy(call: Call, boat: Path) -> None:
    assert call("tidy", "--check", boat) == (0, "", "All is in order.\n")


def test_tidy_checks_writes_and_then_has_nothing_to_do(call: Call, boat: Path) -> None:
    untidy = b"# of loads\r\nloads:\r\n  zz:  \r\n    power: 1 W\r\n    use: other\r\n\r\n\r\n"
    (boat / "more.yaml").write_bytes(untidy)
    git(boat, "add", "-A")
    git(boat, "commit", "-qm", "more")
    status, out, err = call("tidy", "--check", boat)
    assert status == 1
    assert "+    use: other" in out
    assert "1 of 13 files would be put in order." in err
    assert (boat / "more.yaml").read_bytes() == untidy
    found = as_json(call("tidy", "--check", boat, "--output", "json")[1])
    assert (found["written"], [each["file"] for each in found["files"]]) == (False, ["more.yaml"])
    status, out, _ = call("tidy", boat)
    assert (status, out) == (0, "1 of 13 files was put in order.\nWritten: more.yaml.\n")
    assert (boat / "more.yaml").read_bytes() == (
        b"# of loads\r\nloads:\r\n  zz:\r\n    use: other\r\n    power: 1 W\r\n"
    )
    assert call("tidy", "--check", boat)[0] == 0


# --- new --------------------------------------------------------------------------------------------


def test_new_starts_a_record_that_can_be_used(call: Call, tmp_path: Path) -> None:
    folder = tmp_path / "boats/one two"
    status, out, err = call(
        "new", folder, "--name", 'Plain: "Start"', "--practice", "north-american", "--system", "dc-12",
        "--shore", "ac-120:30 A", "--shore", "ac-120-240", "--battery", "dc-12:400 Ah", "--panel", "dc-12",
    )  # fmt: skip
    assert (status, err) == (0, "")
    assert "0 DANGER, 0 WARNING" in " ".join(out.split())
    assert f"  git init '{folder}' && git -C '{folder}' add ." in out
    record = read(held(folder))
    assert record.vessel is not None
    assert record.vessel.about.name == 'Plain: "Start"'
    assert sorted(record.vessel.systems) == ["ac-120", "ac-120-240", "dc-12"]
    assert b"    rating: 30 A\n" in held(folder)["sources.yaml"]
    assert not (folder / ".git").exists()
    assert call("survey", folder)[0] == 0
    assert call("tidy", "--check", folder)[0] == 0
    # Nothing is written over, and nothing is nested.
    before = held(folder)
    status, _, err = call("new", folder, "--name", "x", "--practice", "international")
    assert status == 2
    assert "holds vessel.yaml, sources.yaml, panels.yaml, cables.yaml already" in err
    status, _, err = call("new", folder / "in", "--name", "x", "--practice", "international")
    assert status == 2
    assert "lies in the folder of another vessel" in err
    assert held(folder) == before
    assert not (folder / "in").exists()


def test_new_in_json_and_only_to_look(call: Call, tmp_path: Path) -> None:
    found = as_json(
        call("new", tmp_path / "b", "--name", "B", "--practice", "international", "--dry-run", "--output", "json")[1]
    )
    assert (found["written"], len(found["files"]), found["then"][1:]) == (
        False,
        4,
        [f"vesselspec unknowns {tmp_path / 'b'}", f"vesselspec survey {tmp_path / 'b'}"],
    )
    assert not (tmp_path / "b").exists()


@pytest.mark.parametrize("practice", PRACTICES)
def test_no_beginning_is_dangerous(practice: str) -> None:
    """Every system, with and without inlet, bank and panel, sizes known and not: nothing that needs mending."""
    for system, known, panel in itertools.product(SYSTEMS, (True, False), (True, False)):
        inlets = ((system, "30 A" if known else None),) * 2 if not is_dc(system) else ()
        banks = ((system, "400 Ah" if known else None),) * 2 if is_dc(system) else ()
        made = start(Start("x", practice, (system,), inlets, banks, (system,) * panel))
        record = read(made)
        assert record.vessel is not None, record.problems
        found = survey(Boat(record.vessel, record.places))
        assert {each.signal_word for each in found.findings} <= {"NOTICE"}
        assert all(tidied(content).content == content for content in made.values())
    assert {kind for kind, _, _ in SYSTEMS.values()} == set(SYSTEM_POLES)


def test_every_panel_that_is_asked_for_is_there() -> None:
    made = start(Start("x", "international", ("dc-12", "ac-230"), panels=("ac-230", "dc-12")))
    record = read(made)
    assert record.vessel is not None, record.problems
    assert [(panel.id, panel.system) for panel in record.vessel.panels.values()] == [
        ("panel-1", "ac-230"),
        ("panel-2", "dc-12"),
    ]


def test_what_the_comments_show_can_be_taken_as_it_stands() -> None:
    """Every commented example is what the record can hold."""
    made = start(
        Start("x", "north-american", ("dc-12", "ac-120"), (("ac-120", None),), (("dc-12", None),), ("ac-120",))
    )
    files = {}
    for name, content in made.items():
        lines = []
        for line in content.decode().split("\n"):
            inside = line.lstrip(" ").removeprefix("# ").removeprefix("  ") if '# "' in line or '#   "' in line else ""
            bare = line.replace("# ", "", 1) if line.lstrip().startswith("# ") and ":" in line else line
            example = line.lstrip().startswith("# ") and (": {" in line or line.rstrip().endswith(":"))
            if inside:
                lines.append("          " + inside.strip())
            elif "In the place of" in line:
                continue
            elif "ways: {}" in line:
                lines.append(line.replace(" {}", ""))
            else:
                lines.append(bare if example else line)
        files[name] = "\n".join(lines).replace("\nspaces:", "\nspaces:").encode()
    record = read(files)
    assert record.vessel is not None, record.problems
    assert set(record.vessel.spaces) == {"engine-room", "galley"}
    assert set(record.vessel.ways) == {"main-panel/main/1", "main-panel/main/2"}
    assert set(record.vessel.cables) == {"C101"}
    assert record.vessel.devices["shore-1"].evidence is not None


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        (("--practice", "international"), "Give --name and --practice"),
        (("--name", "x", "--practice", "other"), "other"),
        (("--name", " ", "--practice", "international"), "--name must be"),
        (("--name", "a\nb", "--practice", "international"), "--name must be"),
        (("--name", "x", "--practice", "international", "--shore", "dc-12"), "dc-12 is a DC system"),
        (("--name", "x", "--practice", "international", "--battery", "ac-230"), "ac-230 is an AC system"),
        (("--name", "x", "--practice", "international", "--shore", "ac-9"), "'ac-9' is none of"),
        (("--name", "x", "--practice", "international", "--shore", "ac-230:30"), "needs a number and its unit"),
        (("--name", "x", "--practice", "international", "--shore", "ac-230:30 A}\nx: {"), "needs a number"),
    ],
)
def test_what_new_refuses(call: Call, tmp_path: Path, arguments: tuple[str, ...], reason: str) -> None:
    status, out, err = call("new", tmp_path / "b", *arguments)
    assert (status, out) == (2, "")
    assert reason in err
    assert not (tmp_path / "b").exists()


def test_new_beside_files_that_do_not_fit(call: Call, tmp_path: Path) -> None:
    (tmp_path / "notes.yaml").write_text("- a list\n", encoding="utf-8")
    status, _, err = call("new", tmp_path, "--name", "x", "--practice", "international")
    assert status == 2
    assert "notes.yaml" in err
    assert [each.name for each in tmp_path.iterdir()] == ["notes.yaml"]


@pytest.mark.skipif(sys.platform == "win32", reason="needs a terminal")
def test_new_asks_on_a_terminal(tmp_path: Path) -> None:
    ours, theirs = pty.openpty()
    answers = ["Asked", "international", "dc-9 x", "dc-12 ac-230", "1", "thirty", "30 A", "1", "", "dc-12"]
    process = subprocess.Popen(
        [sys.executable, "-m", "vesselspec", "new", str(tmp_path / "b")],
        stdin=theirs, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT,
    )  # fmt: skip
    os.close(theirs)
    os.write(ours, "".join(f"{answer}\n" for answer in answers).encode())
    out, err = process.communicate(timeout=60)
    os.close(ours)
    assert process.returncode == 0, err.decode()
    assert b"The record of Asked is started" in out
    assert b"'dc-9' is none of" in err
    made = held(tmp_path / "b")
    assert b"system: ac-230\n    rating: 30 A" in made["sources.yaml"]
    assert b"# capacity:" in made["sources.yaml"]
    assert b"system: dc-12" in made["panels.yaml"]
