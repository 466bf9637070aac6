"""What other programs are handed, from the command line: paths of the repository, exit status, files."""

from __future__ import annotations

import json
import os
import re
import shutil
from pathlib import Path
from typing import Any
from xml.dom import minidom

import jsonschema_rs
import pytest

from .conftest import Call
from .repositories import CHARGER, ROOT, commit, git

FORMS = ("sarif", "annotations", "junit")
FILES = {"sarif": "sarif", "annotations": "annotations.txt", "junit": "junit.xml"}
_SARIF = json.loads((ROOT / "tests/data/schemas/sarif-schema-2.1.0.json").read_text(encoding="utf-8"))
VALID_SARIF = jsonschema_rs.Draft4Validator(_SARIF)


def uris(data: Any) -> set[str]:
    results = data["runs"][0]["results"]
    return {each["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] for each in results}


@pytest.fixture
def harbour(example: Path, tmp_path: Path) -> Path:
    """A repository with the example vessel in a folder below its top, and a branch that breaks it."""
    top = tmp_path / "harbour"
    shutil.copytree(example, top / "boats/plain one", ignore=shutil.ignore_patterns(".git"))
    git(top, "init", "-q", "-b", "main")
    commit(top, {"README": "boats\n"})
    git(top, "checkout", "-q", "-b", "proposal")
    loads = (top / "boats/plain one/loads.yaml").read_text(encoding="utf-8")
    changed = loads + "\n  second-kettle: {system: ac-120-240, poles: [L1, N], power: 1500 W}\n"
    commit(top, {"boats/plain one/loads.yaml": changed})
    return top


def test_paths_are_those_of_the_repository_wherever_one_stands(
    call: Call, harbour: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    boat = harbour / "boats/plain one"
    for at in ((), ("--at", "main")):
        for stand, named in ((harbour, "boats/plain one"), (boat, "."), (boat.parent, "plain one")):
            monkeypatch.chdir(stand)
            done = call("survey", named, *at, "--output", "annotations")
            files = re.findall(r"file=([^,]*),", done.out)
            assert files
            assert all((harbour / each).is_file() for each in files)
            data = call("survey", named, *at, "--output", "sarif").data
            VALID_SARIF.validate(data)
            assert all(each.startswith("boats/plain%20one/") for each in uris(data))
    done = call("review", "main", "proposal", boat, "--output", "annotations")
    assert "boats/plain one/loads.yaml" in done.out
    assert "file=boats/plain one/" in done.out


def test_outside_of_a_repository_paths_are_those_of_the_vessel(call: Call, example: Path, tmp_path: Path) -> None:
    shutil.copytree(example, tmp_path / "boat", ignore=shutil.ignore_patterns(".git"))
    assert "file=ac.yaml,line=" in call("survey", tmp_path / "boat", "--output", "annotations").out


@pytest.mark.parametrize("form", FORMS)
def test_the_exit_status_does_not_hang_on_the_form(call: Call, example: Path, form: str, tmp_path: Path) -> None:
    assert call("survey", example, "--output", form).status == call("survey", example).status == 1
    assert call("survey", example, "--output", form, "--fail-on", "DANGER").status == 0
    assert call("review", "main", CHARGER, example, "--output", form).status == 1
    assert call("review", "main", "main", example, "--output", form).status == 0
    boat = tmp_path / "boat"
    shutil.copytree(example, boat, ignore=shutil.ignore_patterns(".git"))
    (boat / "loads.yaml").write_text("loads: {lamp: {power: 1500}}\n", encoding="utf-8")
    done = call("survey", boat, "--output", form)
    assert (done.status, done.error) == (2, "")
    assert "loads.yaml" in done.out


def test_files_are_what_is_printed(call: Call, example: Path, tmp_path: Path) -> None:
    for kind, arguments in (("survey", ("survey", example)), ("review", ("review", "main", CHARGER, example))):
        call(*arguments, "--out", tmp_path)
        for form, suffix in FILES.items():
            written = (tmp_path / f"{kind}.{suffix}").read_text(encoding="utf-8")
            assert written == call(*arguments, "--output", form).out
            assert str(example) not in written
            assert os.fspath(tmp_path) not in written
    VALID_SARIF.validate(json.loads((tmp_path / "review.sarif").read_text(encoding="utf-8")))


def test_the_demo_in_every_form(call: Call, example: Path) -> None:
    """The hurried proposal: four DANGERs, each with its way through the files."""
    data = call("review", "main", CHARGER, example, "--output", "sarif").data
    VALID_SARIF.validate(data)
    grave = [each for each in data["runs"][0]["results"] if each.get("rank") == 100.0]
    assert {each["baselineState"] for each in grave} == {"new"}
    assert len(grave) == 4
    steps = [step for each in grave for step in each["codeFlows"][0]["threadFlows"][0]["locations"]]
    assert len(steps) > 20
    assert all("region" in step["location"]["physicalLocation"] for step in steps)
    lines = call("review", "main", CHARGER, example, "--output", "annotations").out.splitlines()
    assert len(lines) == 10
    assert [line.split(",title=")[1].split("::")[0].split()[0] for line in lines[:4]] == ["DANGER"] * 4
    root = minidom.parseString(call("review", "main", CHARGER, example, "--output", "junit").out).documentElement
    assert root is not None
    assert len([each for each in root.getElementsByTagName("failure") if each.getAttribute("type") == "DANGER"]) == 4
