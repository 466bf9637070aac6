"""The example vessel's repository, built once, and a way to call the command line."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest

from vesselspec.cli.main import run

from .repositories import ROOT, build, clone, state_of


@dataclass(frozen=True)
class Called:
    """What a call gave."""

    status: int
    out: str
    error: str

    @property
    def data(self) -> Any:
        return json.loads(self.out)


Call = Callable[..., Called]


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    """Call the command line in this process."""
    monkeypatch.setenv("VESSELSPEC_TRACEBACK", "1")  # a fault of the program is to be seen, not told
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.delenv("NO_COLOR", raising=False)

    def called(*arguments: str | Path) -> Called:
        capsys.readouterr()
        status = run([str(each) for each in arguments])
        said = capsys.readouterr()
        return Called(status, said.out, said.err)

    return called


@pytest.fixture(scope="session")
def example(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """The repository of the example vessel. No test changes it, which is checked at the end."""
    out = tmp_path_factory.mktemp("endtoend") / "boat"
    build(out)
    before = state_of(out)
    yield out
    assert state_of(out) == before


@pytest.fixture
def own(example: Path, tmp_path: Path) -> Path:
    """A clone of the example for a test that changes something."""
    return clone(example, tmp_path / "own")


@pytest.fixture(scope="session")
def is_review() -> Callable[[Any], bool]:
    """Whether data is as schema/review.schema.json says."""
    schema = json.loads((ROOT / "schema/review.schema.json").read_text(encoding="utf-8"))
    validator = jsonschema_rs.validator_for(schema)
    return lambda data: bool(validator.is_valid(data))
