"""Promises of the project itself: locked versions fit the ranges, schemas are current, documents name what exists."""

from __future__ import annotations

import importlib.metadata
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from packaging.requirements import Requirement
from packaging.version import Version

from vesselspec.cli.main import COMMANDS
from vesselspec.cli.status import status
from vesselspec.rules import RULES

ROOT = Path(__file__).parents[2]


def project() -> dict[str, object]:
    data = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    found: dict[str, object] = data["project"]
    return found


def test_locked_versions_satisfy_the_published_ranges() -> None:
    locked = dict(
        re.findall(r"^([A-Za-z0-9._-]+)==([^ \\]+)", (ROOT / ".ci/requirements.txt").read_text(encoding="utf-8"), re.M)
    )
    locked = {re.sub(r"[-_.]+", "-", name).lower(): version for name, version in locked.items()}
    dependencies = project()["dependencies"]
    assert isinstance(dependencies, list)
    for text in dependencies:
        requirement = Requirement(text)
        name = re.sub(r"[-_.]+", "-", requirement.name).lower()
        assert Version(locked[name]) in requirement.specifier, text


def test_the_lock_is_made_from_the_published_ranges() -> None:
    wanted = (ROOT / ".ci/requirements.in").read_text(encoding="utf-8").splitlines()
    dependencies = project()["dependencies"]
    assert isinstance(dependencies, list)
    assert [line for line in dependencies if line not in wanted] == []


def test_what_boats_install_is_the_run_time_part_of_the_lock() -> None:
    blocks = {
        name: re.findall(r"^([A-Za-z0-9._-]+)==(\S+) \\\n((?: +--hash=sha256:[0-9a-f]{64}(?: \\)?\n)+)", text, re.M)
        for name in ("requirements.txt", "runtime.txt")
        if (text := (ROOT / ".ci" / name).read_text(encoding="utf-8"))
    }
    assert blocks["runtime.txt"]
    assert set(blocks["runtime.txt"]) <= set(blocks["requirements.txt"])
    named = {re.sub(r"[-_.]+", "-", name).lower() for name, _, _ in blocks["runtime.txt"]}
    dependencies = project()["dependencies"]
    assert isinstance(dependencies, list)
    todo = [Requirement(text) for text in dependencies]
    wanted: set[str] = set()
    while todo:
        name = re.sub(r"[-_.]+", "-", todo.pop().name).lower()
        if name not in wanted:
            wanted.add(name)
            more = map(Requirement, importlib.metadata.requires(name) or ())
            todo += [each for each in more if each.marker is None or each.marker.evaluate({"extra": ""})]
    assert wanted <= named


@pytest.mark.parametrize("file", sorted((ROOT / "schema").glob("*.json")), ids=lambda file: file.name)
def test_published_schemas_satisfy_the_meta_schema(file: Path) -> None:
    """JSON Schema 2020-12 meta-schema, as shipped with a general validator."""
    Draft202012Validator.check_schema(json.loads(file.read_text(encoding="utf-8")))


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_is_in_the_readme_and_has_help(command: str) -> None:
    assert f"vesselspec {command}" in (ROOT / "README.md").read_text(encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "vesselspec", command, "--help"], capture_output=True, text=True, check=True
    )
    assert done.stdout.startswith("Usage: ")


def test_every_link_in_the_documents_leads_somewhere() -> None:
    for document in ("README.md", "DEVELOPERS.md", "CHANGELOG.md", "example_vessel/README.md"):
        text = (ROOT / document).read_text(encoding="utf-8")
        for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", text):
            if "://" not in target:
                assert ((ROOT / document).parent / target).exists(), f"{document}: {target}"


def test_every_dependency_has_its_reason() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    dependencies = project()["dependencies"]
    assert isinstance(dependencies, list)
    for each in dependencies:
        assert f"`{Requirement(each).name}`" in text, each


def test_top_level_is_spare() -> None:
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.split(
        "\n"
    )
    if tracked == [""]:
        pytest.skip("not a git checkout")
    top = {name.split("/")[0] for name in tracked if name}
    allowed = {
        "README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "Makefile", "pyproject.toml",
        "vesselspec", "schema", "tests", "example_vessel",
        ".ci", ".github", ".gitignore", ".gitattributes", ".pre-commit-hooks.yaml",
    }  # fmt: skip
    assert top <= allowed


@pytest.mark.parametrize(
    ("words", "fail_on", "understood", "crashed", "expected"),
    [
        ((), "WARNING", True, False, 0),
        (("NOTICE", "CAUTION"), "WARNING", True, False, 0),
        (("WARNING",), "WARNING", True, False, 1),
        (("DANGER",), "WARNING", True, False, 1),
        (("WARNING",), "DANGER", True, False, 0),
        (("NOTICE",), "NOTICE", True, False, 1),
        (("DANGER",), "WARNING", False, False, 2),
        ((), "WARNING", False, False, 2),
        (("DANGER",), "WARNING", False, True, 3),
        ((), "DANGER", True, True, 3),
    ],
)
def test_exit_status(words: tuple[str, ...], fail_on: str, understood: bool, crashed: bool, expected: int) -> None:
    assert status(words, fail_on=fail_on, understood=understood, rule_failed=crashed) == expected


def test_rule_ids_are_words_of_the_contract() -> None:
    for rule in RULES:
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", rule)
