"""`vesselspec guard` with git itself: real hooks, real commits, real merges."""

from __future__ import annotations

import json
import os
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import jsonschema_rs
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from .conftest import Call
from .repositories import ENVIRONMENT, ROOT, git

SOUND = (ROOT / "tests/rules/bases/boat.yaml").read_text(encoding="utf-8")
#: A fan whose live core and neutral are landed the wrong way round.
BAD = """
loads:
  fan: {space: cabin, system: ac, poles: [L1, N], power: 100 W}
cables:
  X1: {type: ac-14, from: ac-panel/shore/3, to: fan, length: 2 m, route: [cabin], label: X1,
       cores: {black: {from: L1, to: N}, white: {from: N, to: L1}}}
"""
#: An empty locker: no more than a NOTICE.
GOOD = "spaces:\n  locker: {name: Locker}\n"
HOOKS = ("pre-commit", "pre-merge-commit")
#: Without a `vesselspec` on the search path, and with git and the usual tools.
BARE_PATH = "/usr/bin:/bin"
ENV = ENVIRONMENT | {"PYTHONPATH": str(ROOT), "COLUMNS": "100"}


def tried(folder: Path, *arguments: str, **more: str) -> tuple[int, str]:
    """Run git; return its status and what it and the hook said."""
    done = subprocess.run(["git", *arguments], cwd=folder, env=ENV | more, capture_output=True, check=False)
    return done.returncode, (done.stdout + done.stderr).decode()


def boat(top: Path, folder: str = ".", *options: str) -> Path:
    """A repository with a sound boat in a folder, committed."""
    (top / folder).mkdir(parents=True, exist_ok=True)
    git(top, "init", "-q", "-b", "main", *options)
    (top / folder / "vessel.yaml").write_text(SOUND, encoding="utf-8")
    git(top, "add", "-A")
    git(top, "commit", "-q", "-m", "The boat")
    return top


def stage(top: Path, name: str, content: str) -> None:
    (top / name).write_text(content, encoding="utf-8")
    git(top, "add", "--", name)


def hooks(top: Path) -> list[Path]:
    return [top / ".git/hooks" / name for name in HOOKS]


def is_guard(text: str) -> bool:
    schema = json.loads((ROOT / "schema/guard.schema.json").read_text(encoding="utf-8"))
    return bool(jsonschema_rs.validator_for(schema).is_valid(json.loads(text)))


# --- what is held back --------------------------------------------------------------------------


def test_a_bad_commit_is_held_back_and_a_sound_one_is_made(call: Call, tmp_path: Path) -> None:
    top = boat(tmp_path)
    assert call("guard", top).status == 0
    stage(top, "old.yaml", BAD)
    status, said = tried(top, "commit", "-m", "Bad")
    assert status == 1
    assert "[DANGER] line-on-neutral   old.yaml:" in said
    assert "vesselspec review HEAD --staged" in said
    assert "--no-verify" in said
    assert tried(top, "commit", "-q", "-a", "-m", "Bad")[0] == 1
    assert git(top, "log", "--format=%s") == "The boat"
    assert call("review", "HEAD", "--staged", top).status == 1
    # What counts is the index: mended on disk is not mended, and spoiled on disk is not spoiled.
    (top / "old.yaml").write_text(GOOD, encoding="utf-8")
    assert tried(top, "commit", "-m", "Bad")[0] == 1
    git(top, "add", "-A")
    (top / "old.yaml").write_text(BAD, encoding="utf-8")
    status, said = tried(top, "commit", "-m", "Sound")
    assert (status, "brings 0 DANGER, 0 WARNING, 0 CAUTION, 1 NOTICE." in said) == (0, True)
    # One file alone, and around it once.
    assert tried(top, "commit", "-m", "Bad", "old.yaml")[0] == 1
    assert tried(top, "commit", "--no-verify", "-a", "-m", "As found on board")[0] == 0
    # What is there already is not held against the next one.
    stage(top, "more.yaml", "spaces:\n  bilge: {name: Bilge}\n")
    assert tried(top, "commit", "-m", "More")[0] == 0


def test_what_cannot_be_understood_is_not_to_be_forced_in(call: Call, tmp_path: Path) -> None:
    top = boat(tmp_path)
    call("guard", top)
    stage(top, "old.yaml", "loads: [\n")
    status, said = tried(top, "commit", "-m", "Broken")
    assert (status != 0, "Mend the record first" in said, "--no-verify" in said) == (True, True, False)


def test_a_folder_renamed_and_edited_is_held_to_what_it_was(call: Call, tmp_path: Path) -> None:
    top = boat(tmp_path, "one")
    (top / "one/old.yaml").write_text(BAD, encoding="utf-8")
    git(top, "add", "-A")
    git(top, "commit", "-q", "-m", "As found")
    call("guard", top)
    git(top, "mv", "one", "uno")
    stage(top, "uno/more.yaml", GOOD)
    status, said = tried(top, "commit", "-m", "Another name")
    assert (status, "brings 0 DANGER, 0 WARNING, 0 CAUTION, 1 NOTICE." in said) == (0, True)


def test_removed_it_holds_nothing_back(call: Call, tmp_path: Path) -> None:
    top = boat(tmp_path)
    before = sorted(path.name for path in (top / ".git/hooks").iterdir())
    call("guard", top)
    assert all(stat.S_IMODE(hook.stat().st_mode) == 0o755 for hook in hooks(top))
    done = call("guard", top, "--remove", "--output", "json")
    assert done.status == 0
    assert is_guard(done.out)
    assert sorted(path.name for path in (top / ".git/hooks").iterdir()) == before
    stage(top, "old.yaml", BAD)
    assert tried(top, "commit", "-m", "Bad")[0] == 0


def test_the_first_commit_is_judged_whole(call: Call, tmp_path: Path) -> None:
    git(tmp_path, "init", "-q")
    stage(tmp_path, "vessel.yaml", SOUND)
    stage(tmp_path, "old.yaml", BAD)
    call("guard", tmp_path)
    assert tried(tmp_path, "commit", "-m", "First")[0] == 1
    done = call("review", "HEAD", "--staged", tmp_path, "--output", "json")
    assert (done.status, done.data["base"]["state"]) == (1, "nothing, no record yet")
    surveyed = call("survey", tmp_path, "--output", "json").data["findings"]
    assert [f["fingerprint"] for f in done.data["findings"]["new"]] == [f["fingerprint"] for f in surveyed]
    stage(tmp_path, "old.yaml", GOOD)
    assert tried(tmp_path, "commit", "-m", "First")[0] == 0


def test_a_record_that_cannot_be_understood_is_held_back_and_its_mending_is_not(call: Call, tmp_path: Path) -> None:
    top = boat(tmp_path)
    stage(top, "old.yaml", BAD)
    git(top, "commit", "-q", "-m", "As found")
    call("guard", top)
    stage(top, "vessel.yaml", "vessel: [\n")
    status, said = tried(top, "commit", "-m", "Broken")
    assert (status, "cannot be understood" in said) == (1, True)
    assert call("guard", "--check", top).status == 2
    git(top, "commit", "-q", "--no-verify", "-m", "Broken")
    stage(top, "vessel.yaml", SOUND + "# mended\n")
    assert tried(top, "commit", "-m", "Mended")[0] == 0


def test_a_merge_answers_for_what_neither_side_had(call: Call, tmp_path: Path) -> None:
    """What the other side has already is not held against it; what only the two together do is."""
    top = boat(tmp_path)
    git(top, "checkout", "-q", "-b", "found")
    stage(top, "old.yaml", BAD)
    git(top, "commit", "-q", "-m", "As found")
    git(top, "checkout", "-q", "main")
    stage(top, "good.yaml", GOOD)
    git(top, "commit", "-q", "-m", "A locker")
    call("guard", top)
    assert tried(top, "merge", "-q", "--no-edit", "found")[0] == 0, "the other side has it"
    git(top, "reset", "-q", "--hard", "HEAD~1")
    git(top, "merge", "-q", "--no-commit", "found")
    done = call("review", "HEAD", "--staged", top, "--output", "json")
    assert (done.status, done.data["findings"]["new"]) == (0, [])
    assert {each["rule"] for each in done.data["findings"]["inherited"]} >= {"line-on-neutral"}
    assert tried(top, "commit", "--no-edit")[0] == 0
    git(top, "reset", "-q", "--hard", "HEAD~1")
    git(top, "checkout", "-q", "-b", "twice", "main~1")
    stage(top, "twice.yaml", GOOD)
    git(top, "commit", "-q", "-m", "A locker with the same id")
    status, said = tried(top, "merge", "--no-edit", "main")
    assert status != 0
    assert "cannot be understood" in said


def test_several_vessels_in_one_repository(call: Call, tmp_path: Path) -> None:
    top = boat(tmp_path, "fleet/one")
    shutil.copytree(top / "fleet/one", top / "fleet/two")
    (top / "notes.txt").write_text("x\n", encoding="utf-8")
    git(top, "add", "-A")
    git(top, "commit", "-q", "-m", "Two boats and notes")
    assert call("guard", top / "fleet/two").status == 0
    stage(top, "fleet/two/old.yaml", BAD)
    stage(top, "fleet/one/good.yaml", GOOD)
    status, said = tried(top / "fleet", "commit", "-m", "Both")
    assert status == 1
    assert "(fleet/one): what is staged brings 0 DANGER, 0 WARNING, 0 CAUTION, 1 NOTICE.\n" in said
    assert "vesselspec review HEAD --staged fleet/two" in said
    done = call("guard", top, "--check", "--output", "json")
    assert is_guard(done.out)
    assert {each["folder"]: each["status"] for each in done.data["vessels"]} == {"fleet/one": 0, "fleet/two": 1}
    git(top, "reset", "-q", "--hard")
    git(top, "mv", "fleet/one", "fleet/renamed")
    assert call("guard", top, "--check").out == "", "a vessel that only moves is the same"
    git(top, "rm", "-rqf", "fleet/two", "notes.txt")
    assert call("guard", top, "--check").out == "fleet/two: the whole record is taken away.\n"
    assert tried(top, "commit", "-q", "-m", "Sold")[0] == 0


def test_linked_work_trees_share_the_guard(call: Call, tmp_path: Path) -> None:
    top = boat(tmp_path / "main")
    git(top, "worktree", "add", "-q", "-b", "side", str(tmp_path / "linked"))
    assert str(top / ".git/hooks/pre-commit") in call("guard", tmp_path / "linked").out
    stage(tmp_path / "linked", "old.yaml", BAD)
    assert tried(tmp_path / "linked", "commit", "-m", "Bad")[0] == 1
    stage(tmp_path / "linked", "old.yaml", GOOD)
    assert tried(tmp_path / "linked", "commit", "-m", "Sound")[0] == 0


# --- where it is not at home --------------------------------------------------------------------


@pytest.mark.parametrize("python", ["/nowhere/python", 'it\'s "a" $(touch x)\n`touch x`'])
def test_without_the_program_nothing_passes_silently(tmp_path: Path, python: str) -> None:
    from vesselspec.cli.hooks import hooks_in, install, script

    top = boat(tmp_path)
    install(hooks_in(top / ".git/hooks"), script(python, "WARNING"))
    stage(top, "good.yaml", GOOD)
    status, said = tried(top, "commit", "-m", "Sound", PATH=BARE_PATH)
    assert status == 1
    assert "vesselspec is not installed here any more" in said
    assert "remove the file .git/hooks/pre-commit" in said
    assert not (top / "x").exists()
    # Found on the search path, it is used.
    (tmp_path / "bin").mkdir()
    program = tmp_path / "bin/vesselspec"
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -P -m vesselspec "$@"\n', encoding="utf-8")
    program.chmod(0o755)
    assert tried(top, "commit", "-m", "Sound", PATH=f"{program.parent}:{BARE_PATH}")[0] == 0


def test_a_repository_cannot_bring_a_program_of_its_own(call: Call, tmp_path: Path) -> None:
    """The hook runs in the top folder, whose files may come from anybody."""
    top = boat(tmp_path)
    call("guard", top)
    for name in ("vesselspec.py", "click.py", "json.py"):
        stage(top, name, "open('ran', 'w').close()\n")
    assert tried(top, "commit", "-m", "Sound")[0] == 0
    assert not (top / "ran").exists()


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    name=st.text(st.sampled_from("ab '\"\n$`;&|*\\#()é-"), min_size=1, max_size=12).map(lambda name: f"x{name}"),
    branch=st.sampled_from(["a;b", "$(touch${IFS}x)", "`touch\u00a0x`", "-x", "é", "::error::"]),
)
@example(name="x' \"\n$(touch x)", branch="$(touch${IFS}x)")
def test_any_name_of_a_folder_and_branch(tmp_path_factory: pytest.TempPathFactory, name: str, branch: str) -> None:
    from vesselspec.cli.main import run

    outer = tmp_path_factory.mktemp("odd")
    top = boat(outer / name / "top", name)
    subprocess.run(["git", "symbolic-ref", "HEAD", f"refs/heads/{branch}"], cwd=top, env=ENVIRONMENT, check=False)
    assert run(["guard", str(top)]) == 0
    stage(top, f"{name}/old.yaml", BAD)
    status, said = tried(top, "commit", "-m", "Bad")
    assert (status, "line-on-neutral" in said) == (1, True)
    assert not list(outer.rglob("x"))


# --- somebody else's hooks ----------------------------------------------------------------------


def test_a_hook_of_somebody_else_is_kept(call: Call, tmp_path: Path) -> None:
    top = boat(tmp_path)
    theirs = hooks(top)[0]
    theirs.write_text("#!/bin/sh\n# vesselspec guard --check\ntouch ran\nexit 0\n", encoding="utf-8")
    theirs.chmod(0o755)
    before = theirs.read_bytes()
    done = call("guard", top)
    assert done.status == 2
    assert "Add this line to it, above any exit: vesselspec guard --check || exit $?" in done.error
    assert not hooks(top)[1].exists()
    assert call("guard", top, "--status").status == 1
    call("guard", top, "--remove")
    assert theirs.read_bytes() == before
    theirs.write_bytes(before.replace(b"exit 0", b"vesselspec guard --check || exit $?"))
    assert call("guard", top).status == 0, "the line is in, so only the other hook is written"
    assert call("guard", top, "--status").status == 0
    program = top / ".git/bin/vesselspec"
    program.parent.mkdir()
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -P -m vesselspec "$@"\n', encoding="utf-8")
    program.chmod(0o755)
    stage(top, "old.yaml", BAD)
    assert tried(top, "commit", "-m", "Bad", PATH=f"{program.parent}:{BARE_PATH}")[0] == 1
    assert (top / "ran").exists()


@pytest.mark.parametrize("kind", ["link", "folder", "dangling", "edited"])
def test_what_is_not_plainly_ours_is_left(call: Call, tmp_path: Path, kind: str) -> None:
    top = boat(tmp_path / "boat")
    hook, target = hooks(top)[0], tmp_path / "target"
    if kind == "edited":
        call("guard", top)
        hook.write_bytes(hook.read_bytes() + b"echo mine\n")
    elif kind == "folder":
        hook.mkdir()
    else:
        hook.symlink_to(target)
        if kind == "link":
            target.write_text("#!/bin/sh\n", encoding="utf-8")
    before = sorted((path.name, path.is_symlink()) for path in (top / ".git/hooks").iterdir())
    content = hook.read_bytes() if kind == "edited" else b""
    assert call("guard", top).status == 2
    assert sorted((path.name, path.is_symlink()) for path in (top / ".git/hooks").iterdir()) == before
    call("guard", top, "--remove")
    assert os.path.lexists(hook)
    if kind == "edited":
        assert hook.read_bytes() == content
        assert "changed by hand" in call("guard", top, "--status").out


def test_a_guard_that_is_not_executable_is_told_and_mended(call: Call, tmp_path: Path) -> None:
    top = boat(tmp_path)
    call("guard", top)
    hooks(top)[0].chmod(0o644)
    done = call("guard", top, "--status")
    assert (done.status, "not executable" in done.out) == (1, True)
    assert call("guard", top, "--fail-on", "CAUTION").status == 0
    assert os.access(hooks(top)[0], os.X_OK)
    assert b"--fail-on CAUTION" in hooks(top)[0].read_bytes()


def test_core_hookspath_is_honoured_inside_and_refused_outside(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    top = boat(tmp_path / "boat")
    git(top, "config", "core.hooksPath", "own hooks")
    assert call("guard", top / ".git/..").status == 0
    assert {path.name for path in (top / "own hooks").iterdir()} == set(HOOKS)
    stage(top, "old.yaml", BAD)
    assert tried(top, "commit", "-m", "Bad")[0] == 1
    for value in ("/dev/null", "../elsewhere", "", ".", str(tmp_path / "elsewhere")):
        git(top, "config", "core.hooksPath", value)
        done = call("guard", top)
        assert (done.status, "which is no folder inside" in done.error) == (2, True), value
    shutil.rmtree(top / ".git/hooks")
    (top / ".git/hooks").symlink_to(tmp_path)
    git(top, "config", "--unset", "core.hooksPath")
    assert "The folder of the hooks leads to" in call("guard", top).error
    (top / ".git/hooks").unlink()
    (top / "link").symlink_to(tmp_path)
    git(top, "config", "core.hooksPath", "link")
    assert call("guard", top).status == 2
    git(top, "config", "--unset", "core.hooksPath")
    everyone = tmp_path / "everyone"
    everyone.write_text(f"[core]\n\thooksPath = {tmp_path}\n", encoding="utf-8")
    monkeypatch.setenv("GIT_CONFIG_GLOBAL", str(everyone))
    done = call("guard", top)
    assert (done.status, "holds for all repositories" in done.error) == (2, True)
    assert not (tmp_path / "pre-commit").exists()
    line = done.error.rpartition("Type: ")[2].split()
    git(top, *line[1:])
    assert call("guard", top).status == 0
    assert hooks(top)[0].exists()


def test_where_no_commit_is_made_there_is_no_guard(call: Call, tmp_path: Path) -> None:
    git(tmp_path, "clone", "-q", "--bare", str(boat(tmp_path / "boat")), str(tmp_path / "bare"))
    for options in ((), ("--status",), ("--remove",), ("--check",)):
        done = call("guard", tmp_path / "bare", *options)
        assert (done.status, "bare repository" in done.error) == (2, True)
    done = call("guard", tmp_path)
    assert (done.status, "not inside a git repository" in done.error) == (2, True)
    assert call("review", "HEAD", "x", "--staged", tmp_path / "boat").status == 2
    assert call("review", "HEAD", "--staged", "--merged-with", "x").status == 2
    done = call("guard", tmp_path / "boat", "--status", "--remove")
    assert (done.status, "one of them" in done.error) == (2, True)
