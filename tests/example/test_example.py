"""The example vessel: big enough, valid in every state, and telling the story that the demonstration needs."""

from __future__ import annotations

import datetime
import importlib.util
import os
import re
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from vesselspec.model.devices import (
    Alternator,
    BatteryBank,
    Charger,
    ChargeSplitter,
    DcConverter,
    Generator,
    Inverter,
    InverterCharger,
    Selector,
    ShoreInlet,
    SolarArray,
    SolarController,
)
from vesselspec.model.vessel import Vessel
from vesselspec.record import Record, read
from vesselspec.rules import Boat, Survey, survey

EXAMPLE = Path(__file__).resolve().parents[2] / "example_vessel"
SUPPLIES = (
    ShoreInlet,
    Generator,
    BatteryBank,
    Alternator,
    SolarArray,
    Inverter,
    InverterCharger,
    Charger,
    DcConverter,
    SolarController,
)
HOB, CHARGER, DRYER = "proposal/induction-hob", "proposal/new-charger", "proposal/laundry-dryer"


def _load(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location("example_refit", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # its dataclasses look themselves up there
    spec.loader.exec_module(module)
    return module


refit = _load(EXAMPLE / "refit" / "build.py")


def _read(files: Mapping[str, str]) -> Record:
    return read({name: text.encode() for name, text in files.items()})


def _surveyed(files: Mapping[str, str]) -> Survey:
    record = _read(files)
    assert record.vessel is not None, record.problems
    return survey(Boat(record.vessel, record.places))


def _grave(result: Survey) -> set[tuple[str, str]]:
    return {(each.rule, each.fingerprint) for each in result.findings if each.signal_word in ("DANGER", "WARNING")}


def _git(folder: Path, *arguments: str) -> str:
    environment = {key: value for key, value in os.environ.items() if not key.startswith("GIT_")}
    environment |= {"GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_NOSYSTEM": "1"}
    who = ["-c", "user.name=Technician", "-c", "user.email=technician@example.invalid"]
    done = subprocess.run(
        ["git", *who, *arguments], cwd=folder, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def _commits(folder: Path) -> list[str]:
    return _git(folder, "for-each-ref", "--format=%(refname) %(objectname)").splitlines()


@pytest.fixture(scope="module")
def all_states() -> list[Any]:
    found: list[Any] = refit.states(refit.read_history(), refit.newest_files())
    return found


@pytest.fixture(scope="module")
def vessel() -> Vessel:
    record = _read(refit.newest_files())
    assert record.problems == ()
    assert record.vessel is not None
    return record.vessel


@pytest.fixture(scope="module")
def newest() -> Survey:
    return _surveyed(refit.newest_files())


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("example") / "demo"
    assert refit.main([str(out)]) == 0
    return out


def test_it_is_as_big_as_a_real_boat(vessel: Vessel) -> None:
    assert len(vessel.panels) >= 8
    assert len(vessel.ways) >= 100
    assert len(vessel.cables) >= 140
    assert len(vessel.conditions) >= 5
    assert sum(isinstance(device, SUPPLIES) for device in vessel.devices.values()) >= 14


def test_it_has_what_the_demonstration_shows(vessel: Vessel) -> None:
    devices = vessel.devices.values()
    assert any(isinstance(each, Selector) and {"L1", "L2", "N"} <= set(each.poles) for each in devices)
    assert any(isinstance(each, Selector) and {"1", "2", "both"} <= set(each.table()) for each in devices)
    assert any(isinstance(each, ChargeSplitter) for each in devices)
    assert any(isinstance(each, Generator) and each.auto_start and each.start_switch for each in devices)
    assert any(len({section.system for section in panel.sections}) > 1 for panel in vessel.panels.values())
    assert vessel.interlocks
    assert {way.device for _, _, way in vessel.ways.values()} >= {"breaker", "fuse", "blank"}
    assert any(way.residual_a for _, _, way in vessel.ways.values())


def test_every_state_is_a_valid_record_and_nothing_is_known_before_its_day(all_states: list[Any]) -> None:
    for state in all_states:
        record = _read(state.files)
        assert record.problems == (), state.step.subject
        day = datetime.datetime.fromisoformat(state.step.date).date().isoformat()
        known = [each for text in state.files.values() for each in re.findall(r"when: ([0-9-]{10})", text)]
        assert max(known) <= day, state.step.subject


def test_the_history_spans_years_and_leads_to_the_committed_files(all_states: list[Any]) -> None:
    main = [state for state in all_states if state.branch == "main"]
    years = {state.step.date[:4] for state in main}
    assert len(main) >= 8
    assert len(years) >= 4
    assert main[-1].files == refit.newest_files()
    assert {state.branch for state in all_states} == {"main", HOB, CHARGER, DRYER}


def test_the_newest_state_has_its_inherited_findings_and_no_danger(newest: Survey) -> None:
    assert newest.counts()["DANGER"] == 0
    rules = {finding.rule for finding in newest.findings if finding.signal_word == "WARNING"}
    assert rules >= {"device-above-ampacity", "earth-core-missing", "cable-end-untraced"}
    unknown = {each.item for each in newest.cannot_judge}
    assert unknown >= {"D208", "D366", "D367"}


def test_an_earlier_state_was_dangerous_until_the_slide_was_fitted(all_states: list[Any]) -> None:
    main = [state for state in all_states if state.branch == "main"]
    dangers = [_surveyed(state.files).counts()["DANGER"] for state in main]
    fitted = next(number for number, state in enumerate(main) if "slide" in state.step.subject)
    assert dangers[fitted - 1] > 0
    assert dangers[fitted] == 0


@pytest.mark.parametrize("branch", [HOB, DRYER])
def test_a_sound_proposal_brings_nothing_grave(branch: str, all_states: list[Any], newest: Survey) -> None:
    state = [state for state in all_states if state.branch == branch][-1]
    assert _grave(_surveyed(state.files)) == _grave(newest)


def test_the_hurried_proposal_is_dangerous_twice(all_states: list[Any]) -> None:
    state = [state for state in all_states if state.branch == CHARGER][-1]
    rules = {finding.rule for finding in _surveyed(state.files).findings if finding.signal_word == "DANGER"}
    assert rules >= {"ac-on-dc-terminal", "unsynchronised-sources-joined", "inlet-pins-live"}


def test_both_sound_proposals_merge_cleanly_and_overload_the_shore(demo: Path, tmp_path: Path, newest: Survey) -> None:
    clone = tmp_path / "clone"
    _git(tmp_path, "clone", "--quiet", str(demo), str(clone))
    for branch in (HOB, DRYER):
        _git(clone, "merge", "--quiet", "--no-edit", f"origin/{branch}")
    merged = {path.name: path.read_text(encoding="utf-8") for path in clone.glob("*.yaml")}
    new = _grave(_surveyed(merged)) - _grave(newest)
    assert {rule for rule, _ in new} == {"source-overloaded"}


def test_building_twice_gives_the_same_commits(demo: Path, tmp_path: Path) -> None:
    again = tmp_path / "again"
    assert refit.main([str(again)]) == 0
    assert _commits(again) == _commits(demo)
    assert len(_commits(again)) == 4
    assert _git(again, "status", "--porcelain") == ""
    assert refit.main([str(again)]) == 0  # its own work may be replaced
    assert _commits(again) == _commits(demo)


@pytest.mark.parametrize("kind", ["folder", "repository", "link"])
def test_what_it_did_not_build_is_left_alone(
    kind: str, demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "mine"
    if kind == "link":
        out.symlink_to(demo)
    else:
        out.mkdir()
        (out / "keep.txt").write_text("keep")
        if kind == "repository":
            _git(out, "init", "--quiet")
    assert refit.main([str(out)]) == 2
    assert "left alone" in capsys.readouterr().err
    assert kind == "link" or (out / "keep.txt").read_text() == "keep"
    assert _commits(demo)


def test_a_history_that_does_not_fit_is_refused() -> None:
    files = dict(refit.newest_files())
    files["ac.yaml"] = files["ac.yaml"].replace("auxiliary-mains", "other-mains")
    with pytest.raises(refit.RefitError, match=r"ac\.yaml"):
        refit.states(refit.read_history(), files)
