"""What hosts and the pre-commit framework read: sound by published schemas, safe for proposals from strangers."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest
from ruamel.yaml import YAML

ROOT = Path(__file__).parents[2]
FILES = [*sorted((ROOT / ".github/workflows").iterdir()), ROOT / "example_vessel/.github/workflows/review.yml"]
SCHEMA = ROOT / "tests/data/schemas/github-workflows.json"

each_file = pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(ROOT)))


def loaded(file: Path) -> Any:
    return YAML(typ="safe", pure=True).load(file)


def steps(file: Path) -> Iterator[dict[str, Any]]:
    for job in loaded(file)["jobs"].values():
        yield from job.get("steps", ())


@each_file
def test_workflows_satisfy_the_published_schema(file: Path) -> None:
    validator = jsonschema_rs.validator_for(json.loads(SCHEMA.read_text(encoding="utf-8")))
    assert [error.message for error in validator.iter_errors(loaded(file))] == []


@each_file
def test_workflows_may_read_and_nothing_else(file: Path) -> None:
    text, data = file.read_text(encoding="utf-8"), loaded(file)
    assert data["permissions"] == {"contents": "read"}
    assert not any("permissions" in job for job in data["jobs"].values())
    assert "secrets" not in text
    assert "pull_request_target" not in data["on"]


@each_file
def test_actions_are_pinned_by_their_whole_hash(file: Path) -> None:
    used = re.findall(r"uses: *(\S+)(.*)", file.read_text(encoding="utf-8"))
    assert used
    for action, comment in used:
        if action.startswith("actions/"):
            assert re.fullmatch(r"actions/[a-z-]+@[0-9a-f]{40}", action)
            assert re.fullmatch(r" # v\d+\.\d+\.\d+", comment)
        else:
            assert re.fullmatch(r"(\.|OWNER/vesselspec)/\.github/workflows/review\.yml(@0{40})?", action)


@each_file
def test_nothing_from_an_event_is_pasted_into_a_shell(file: Path) -> None:
    for step in steps(file):
        assert "${{" not in step.get("run", "")
        if step.get("uses", "").startswith("actions/checkout@"):
            assert step["with"]["persist-credentials"] is False


def test_the_example_calls_with_inputs_that_are_there() -> None:
    inputs = loaded(ROOT / ".github/workflows/review.yml")["on"]["workflow_call"]["inputs"]
    required = {name for name, each in inputs.items() if each.get("required")}
    for file in FILES:
        for job in loaded(file)["jobs"].values():
            if "uses" in job:
                assert required <= set(job["with"]) <= set(inputs)


def test_the_hook_file_is_sound_for_the_framework() -> None:
    file = ROOT / ".pre-commit-hooks.yaml"
    subprocess.run([sys.executable, "-m", "pre_commit", "validate-manifest", str(file)], check=True)
    (hook,) = loaded(file)
    assert hook["always_run"] is True
    assert hook["pass_filenames"] is False
