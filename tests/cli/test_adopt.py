"""Taking over an old boat: adopt, a clean survey, a new defect, the day it runs out; and what adopt never does."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest

from vesselspec.cli.main import run
from vesselspec.rules import RULES
from vesselspec.rules.book import Rule

ROOT = Path(__file__).parents[2]
#: The sound boat of the rules' cases, its two spare ways in use.
BOAT = re.sub(
    r", spare: true}(?=  # ac-panel/shore/[34]\n)",
    "}",
    (ROOT / "tests/rules/bases/boat.yaml").read_text(encoding="utf-8"),
)
#: A breaker twice too large for two cables, and no label on one: what an old boat has.
OLD = """
loads:
  fan: {space: cabin, system: ac, poles: [L1, N], power: 100 W}
cables:
  X1: {type: ac-14, from: ac-panel/shore/3, to: fan, length: 2 m, route: [cabin], label: X1}
  X2: {type: ac-14, from: ac-panel/shore/4, to: fan, length: 2 m, route: [cabin], label: none}
"""
REVERSED = OLD.replace("label: X1}", "label: X1,\n       cores: {black: {from: L1, to: N}, white: {from: N, to: L1}}}")
ON, LATER = "2026-06-01", "2027-06-02"

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


def boat(folder: Path, old: str = OLD, **more: str) -> Path:
    folder.mkdir()
    (folder / "vessel.yaml").write_text(BOAT, encoding="utf-8")
    (folder / "old.yaml").write_text(old, encoding="utf-8")
    for name, text in more.items():
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8", newline="")
    return folder


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def survey(call: Call, folder: Path, *arguments: str) -> tuple[int, Any]:
    status, out, _ = call("survey", folder, "--output", "json", *arguments)
    schema = json.loads((ROOT / "schema/survey.schema.json").read_text(encoding="utf-8"))
    assert jsonschema_rs.validator_for(schema).is_valid(json.loads(out))
    return status, json.loads(out)


def test_from_an_old_boat_to_the_day_it_runs_out(call: Call, tmp_path: Path) -> None:
    folder = boat(tmp_path / "boat")
    assert survey(call, folder, "--on", ON)[0] == 1
    before = contents(folder)
    status, out, error = call("adopt", folder, "--by", "surveyor", "--on", ON)
    assert (status, error) == (0, "")
    assert "2 findings accepted in concessions.yaml until 2027-06-01 by surveyor." in out
    assert {name: text for name, text in contents(folder).items() if name != "concessions.yaml"} == before

    status, data = survey(call, folder, "--on", ON)
    assert status == 0
    assert data["counts"]["WARNING"] == 0
    assert data["accepted"]["WARNING"] == 2
    assert data["on"] == ON
    accepted = [each["concession"] for each in data["findings"] if each["concession"]]
    assert {each["state"] for each in accepted} == {"accepted"}
    assert {(each["accepted_by"], each["until"], each["verified"]) for each in accepted} == {
        ("surveyor", "2027-06-01", None)
    }
    # NOTICE is below the threshold: nobody had to accept it.
    assert [each["rule"] for each in data["findings"] if not each["concession"]] == ["cable-end-unlabelled"]

    # A new defect, of the same rule and the same culprit.
    more = OLD + "  X3: {type: ac-14, from: ac-panel/shore/3, to: fan, length: 2 m, route: [cabin], label: X3}\n"
    (folder / "old.yaml").write_text(more, encoding="utf-8")
    status, data = survey(call, folder, "--on", ON)
    assert status == 1
    counting = {(each["rule"], *each["items"]) for each in data["findings"] if not each["concession"]}
    assert ("device-above-ampacity", "ac-panel/shore/1", "X3") in counting
    assert ("concession-grown", "concessions/device-above-ampacity.ac-panel.shore.1") in counting

    # It is mended; a year goes by.
    (folder / "old.yaml").write_text(OLD, encoding="utf-8")
    assert survey(call, folder, "--on", ON)[0] == 0
    status, data = survey(call, folder, "--on", LATER)
    assert status == 1
    assert "concession-out-of-date" in {each["rule"] for each in data["findings"]}
    # Adopting again does not renew it: somebody has to look.
    written = contents(folder)
    status, out, _ = call("adopt", folder, "--by", "surveyor", "--on", LATER)
    assert status == 1
    assert "does not hold for it" in out
    assert contents(folder) == written


def test_twice_changes_nothing(call: Call, tmp_path: Path) -> None:
    folder = boat(tmp_path / "boat")
    call("adopt", folder, "--by", "surveyor", "--on", ON)
    once = contents(folder)
    times = {path.name: path.stat().st_mtime_ns for path in folder.iterdir()}
    status, out, _ = call("adopt", folder, "--by", "owner", "--on", ON, "--reason", "other")
    assert (status, contents(folder)) == (0, once)
    assert "nothing was written" in out
    assert {path.name: path.stat().st_mtime_ns for path in folder.iterdir()} == times


def test_the_threshold_says_what_is_accepted(call: Call, tmp_path: Path) -> None:
    folder = boat(tmp_path / "boat")
    assert call("adopt", folder, "--by", "surveyor", "--on", ON, "--fail-on", "NOTICE")[0] == 0
    assert survey(call, folder, "--on", ON, "--fail-on", "NOTICE")[0] == 0
    assert survey(call, folder, "--on", ON)[1]["accepted"]["NOTICE"] == 1


def test_what_guards_life_is_listed_and_never_accepted(call: Call, tmp_path: Path) -> None:
    folder = boat(tmp_path / "boat", REVERSED)
    status, out, _ = call("adopt", folder, "--by", "surveyor", "--on", ON, "--fail-on", "NOTICE")
    assert status == 1
    assert "cannot be accepted" in out
    assert "[DANGER] line-on-neutral" in out
    assert "line-on-neutral" not in (folder / "concessions.yaml").read_text(encoding="utf-8")
    status, data = survey(call, folder, "--on", ON)
    assert status == 1
    assert data["counts"]["DANGER"] >= 1
    assert data["accepted"]["DANGER"] == 0


def test_a_dry_run_prints_what_git_can_apply_and_writes_nothing(call: Call, tmp_path: Path) -> None:
    held = (
        "# kept\nconcessions:\n  X2: {fingerprint: 3fa94c01d27be865, reason: x, accepted_by: x, date: 2026-01-01,\n"
        "       until: 2026-12-31}  # why\n"
    )
    folder = boat(tmp_path / "boat", concessions=held)
    before = contents(folder)
    status, out, error = call("adopt", folder, "--by", "surveyor", "--on", ON, "--dry-run")
    assert (status, contents(folder)) == (0, before)
    assert "would be accepted" in error
    subprocess.run(["git", "apply", "-"], input=out.encode(), cwd=folder, check=True)
    applied = contents(folder)
    shutil.rmtree(folder)
    call("adopt", boat(folder, concessions=held), "--by", "surveyor", "--on", ON)
    assert contents(folder) == applied


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
@pytest.mark.parametrize("last", ["", "\n", "\n\n# the end\n"])
def test_what_stands_in_the_file_keeps_every_byte(call: Call, tmp_path: Path, ending: str, last: str) -> None:
    held = (
        "# Words before.\nconcessions:\n\n    lights:   # odd but mine\n        { rule: 'cable-end-unlabelled',\n"
        "          items: [ \"X2\" ], reason: 'it''s so', accepted_by: \"owner\", date: 2026-01-01, until: 2026-12-31 }"
    ) + last
    held = held.replace("\n", ending)
    folder = boat(tmp_path / "boat", concessions=held)
    (folder / "concessions.yaml").chmod(0o640)
    assert call("adopt", folder, "--by", "surveyor", "--on", ON)[0] == 0
    after = (folder / "concessions.yaml").read_bytes().decode()
    at = next(n for n in range(len(after)) if after[:n] + after[n + len(after) - len(held) :] == held)
    assert "device-above-ampacity" in after[at : at + len(after) - len(held)]
    assert (folder / "concessions.yaml").stat().st_mode & 0o777 == 0o640
    assert survey(call, folder, "--on", ON)[1]["accepted"] == {"DANGER": 0, "WARNING": 2, "CAUTION": 0, "NOTICE": 1}


@pytest.mark.parametrize(
    "held", ["concessions: {}\n", "vessel: {}\n", "concessions:\n  one: {}\n", "loads: [\n", "concessions: !x\n"]
)
def test_a_file_that_cannot_be_added_to_is_left_alone(call: Call, tmp_path: Path, held: str) -> None:
    folder = boat(tmp_path / "boat", concessions=held)
    before = contents(folder)
    status, out, error = call("adopt", folder, "--by", "surveyor", "--on", ON)
    assert status == 2
    assert "concessions.yaml" in out + error
    assert contents(folder) == before


def test_a_link_is_never_written_through(call: Call, tmp_path: Path) -> None:
    folder = boat(tmp_path / "boat")
    victim = tmp_path / "victim.yaml"
    victim.write_text("loads: {}\n", encoding="utf-8")
    (folder / "concessions.yaml").symlink_to(victim)
    assert call("adopt", folder, "--by", "surveyor", "--on", ON)[0] == 2
    assert victim.read_text(encoding="utf-8") == "loads: {}\n"
    assert (folder / "concessions.yaml").is_symlink()


@pytest.mark.parametrize("there", ["file", "link", "folder"])
def test_what_appears_or_changes_meanwhile_is_not_lost(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, there: str
) -> None:
    folder = boat(tmp_path / "boat")
    target = folder / "concessions.yaml"
    fsync = os.fsync

    def meanwhile(handle: int) -> None:
        fsync(handle)
        if there == "file":
            target.write_text("# mine\n", encoding="utf-8")
        elif there == "link":
            target.symlink_to(tmp_path / "nowhere")
        else:
            target.mkdir()

    monkeypatch.setattr(os, "fsync", meanwhile)
    status, _, error = call("adopt", folder, "--by", "surveyor", "--on", ON)
    assert status == 2
    assert "It was left as it is." in error
    assert not (tmp_path / "nowhere").exists()
    assert there != "file" or target.read_text(encoding="utf-8") == "# mine\n"
    assert {path.name for path in folder.iterdir()} == {"vessel.yaml", "old.yaml", "concessions.yaml"}
    if there == "file":
        target.write_text("# mine\n", encoding="utf-8")
        monkeypatch.setattr(os, "fsync", lambda handle: target.write_text("# other\n", encoding="utf-8"))
        assert call("adopt", folder, "--by", "surveyor", "--on", ON)[0] == 2
        assert target.read_text(encoding="utf-8") == "# other\n"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), "--by"),
        (("--by", " "), "must say something"),
        (("--by", "x" * 81), "concessions/"),
        (("--by", "x", "--until", "2026-05-31"), "within 5 years"),
        (("--by", "x", "--until", "2031-06-02"), "within 5 years"),
        (("--by", "x", "--until", "tomorrow"), "is not a day"),
        (("--by", "x", "--until", "2026-02-30"), "is not a day"),
        (("--by", "x", "--reason", "r" * 1001), "concessions/"),
    ],
)
def test_calls_that_are_refused(call: Call, tmp_path: Path, arguments: tuple[str, ...], said: str) -> None:
    folder = boat(tmp_path / "boat")
    status, out, error = call("adopt", folder, "--on", ON, *arguments)
    assert (status, out) == (2, "")
    assert said in error
    assert not (folder / "concessions.yaml").exists()


def test_a_rule_that_crashes_writes_nothing(call: Call, tmp_path: Path) -> None:
    folder = boat(tmp_path / "boat")
    RULES["test-rule"] = Rule("test-rule", "WARNING", "t", "w", "r", "s", lambda boat: 1 / 0)  # type: ignore[arg-type, return-value]
    try:
        status, _, error = call("adopt", folder, "--by", "surveyor", "--on", ON)
    finally:
        del RULES["test-rule"]
    assert status == 3
    assert "Nothing was written" in error
    assert not (folder / "concessions.yaml").exists()


HOSTILE = "\x1b[31m# red\x07 `code` <script>&lt; | ** \u202e " + '"quoted" it\'s: {a, b}\n\n- [ ] # x'


def test_hostile_words_are_only_words(call: Call, tmp_path: Path) -> None:
    folder = boat(tmp_path / "boat")
    assert call("adopt", folder, "--by", "a\x1b[2J | b", "--reason", HOSTILE, "--on", ON)[0] == 0
    written = (folder / "concessions.yaml").read_text(encoding="utf-8")
    assert "\x1b" not in written
    for output in ("text", "markdown"):
        status, out, _ = call("survey", folder, "--on", ON, "--output", output)
        assert status == 0
        assert not {char for char in out if not char.isprintable() and char != "\n"}
        assert "<script>" not in out or output == "text"
    row = next(line for line in out.splitlines() if line.startswith("| WARNING"))
    assert row.replace("\\|", "").count("|") == 4
    data = survey(call, folder, "--on", ON)[1]
    assert {each["concession"]["reason"] for each in data["findings"] if each["concession"]} == {HOSTILE.strip()}
