"""The command line as others call it: exit statuses, what goes where, hostile words, odd surroundings."""

from __future__ import annotations

import json
import os
import pty
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec import __version__
from vesselspec.cli.main import COMMANDS, run
from vesselspec.cli.status import status
from vesselspec.record import Record, read
from vesselspec.report import survey as report
from vesselspec.report.terminal import Page
from vesselspec.rules import RULES, Boat, survey
from vesselspec.rules.book import Rule, Says
from vesselspec.rules.findings import DANGER, At
from vesselspec.standards.signals import SIGNAL_WORDS

ROOT = Path(__file__).parents[2]
RECORDS = ROOT / "tests/data/records"
HEAD = "vessel: {record: 1, name: X, practice: north-american}\n"
COMMAND = [sys.executable, "-c", "from vesselspec.cli import entry; entry()"]

#: Controls, and characters that hide text or turn its direction.
DANGEROUS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufeff]")


@pytest.fixture(autouse=True)
def _plain_surroundings(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("NO_COLOR", "VESSELSPEC_TRACEBACK", "PYTHONIOENCODING"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("COLUMNS", "100")


@pytest.fixture
def rule_of_ours() -> Iterator[dict[str, Any]]:
    """A rule whose judgement a test may set; it is taken out of the book again."""
    holder: dict[str, Any] = {"judge": lambda boat: ()}
    RULES["test-rule"] = Rule(
        "test-rule", DANGER, "t", "w", "r", "s", lambda boat: list(holder["judge"](boat)), needs="n", guards_life=True
    )
    yield holder
    del RULES["test-rule"]


def vessel(folder: Path, text: str = "", **more: str) -> str:
    folder.mkdir(exist_ok=True)
    (folder / "vessel.yaml").write_text(HEAD + text, encoding="utf-8")
    for name, said in more.items():
        (folder / f"{name}.yaml").write_text(said, encoding="utf-8")
    return str(folder)


def called(*arguments: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    env = {key: value for key, value in os.environ.items() if not key.startswith(("PYTHON", "NO_COLOR", "COV"))}
    return subprocess.run(
        [*COMMAND, *arguments], capture_output=True, env={**env, **environment}, cwd=ROOT, timeout=60, check=False
    )


# --- exit status -----------------------------------------------------------------------------------


@pytest.mark.parametrize("fail_on", SIGNAL_WORDS)
@pytest.mark.parametrize("word", SIGNAL_WORDS)
def test_the_threshold_counts_itself_and_what_is_graver(fail_on: str, word: str) -> None:
    counts = SIGNAL_WORDS.index(word) <= SIGNAL_WORDS.index(fail_on)
    assert status([word], fail_on=fail_on) == int(counts)
    assert status([], fail_on=fail_on) == 0
    assert status([word], fail_on=fail_on, understood=False) == 2
    assert status([word], fail_on=fail_on, understood=False, rule_failed=True) == 3


@pytest.mark.parametrize("fail_on", [word.lower() for word in SIGNAL_WORDS])
@pytest.mark.parametrize("word", SIGNAL_WORDS)
def test_the_threshold_on_the_command_line(
    tmp_path: Path, rule_of_ours: dict[str, Any], fail_on: str, word: str, capsys: pytest.CaptureFixture[str]
) -> None:
    rule_of_ours["judge"] = lambda boat: [Says(items=("X",), at=At("", ""), what="it is so", signal_word=word)]
    expected = int(SIGNAL_WORDS.index(word) <= SIGNAL_WORDS.index(fail_on.upper()))
    assert run(["survey", vessel(tmp_path), "--fail-on", fail_on]) == expected
    assert f"[{word}] test-rule   vessel.yaml" in capsys.readouterr().out


def test_warnings_count_unless_said_otherwise(tmp_path: Path, rule_of_ours: dict[str, Any]) -> None:
    for word, expected in (("DANGER", 1), ("WARNING", 1), ("CAUTION", 0), ("NOTICE", 0)):
        says = Says(items=("X",), at=At("", ""), what="so", signal_word=word)
        rule_of_ours["judge"] = lambda boat, says=says: [says]
        assert run(["survey", vessel(tmp_path)]) == expected


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["survey", "{sound}"], 0),
        (["survey", "{sound}/vessel.yaml"], 0),
        (["survey", "{sound}/parts"], 0),
        (["survey", "{sound}", "--brief"], 0),
        (["survey", str(RECORDS / "13-as-found")], 1),
        (["survey", str(RECORDS / "13-as-found"), "--fail-on", "DANGER"], 0),
        (["survey", "{broken}"], 2),
        (["survey", "{empty}"], 2),
        (["survey", "{empty}/nowhere"], 2),
        (["survey", "{sound}", "--at", "HEAD"], 2),
        (["survey", "{sound}", "--fail-on", "GRAVE"], 2),
        (["survey", "{sound}", "--output", "xml"], 2),
        (["survey", "{sound}", "--no-such-option"], 2),
        (["survey", "{sound}", "{sound}"], 2),
        (["expand", "lamp", "{sound}"], 0),
        (["expand", "lamb", "{sound}"], 2),
        (["expand", "lamp", "{broken}"], 2),
        (["expand"], 2),
        (["explain"], 0),
        (["explain", "dangling-reference"], 0),
        (["explain", "rule-failed"], 0),
        (["explain", "dangling"], 2),
        (["no-such-command"], 2),
        ([], 2),
        (["--help"], 0),
        (["--version"], 0),
    ],
)
def test_exit_status(tmp_path: Path, arguments: list[str], expected: int, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "sound/parts").mkdir(parents=True)
    places = {
        "sound": vessel(tmp_path / "sound", "loads: {lamp: {}}\n"),
        "broken": vessel(tmp_path / "broken", "loads: {lamp: {powr: 5 W}}\n"),
        "empty": str(tmp_path / "empty"),
    }
    (tmp_path / "empty").mkdir()
    assert run([argument.format(**places) for argument in arguments]) == expected
    out, err = capsys.readouterr()
    assert "Traceback" not in err
    if expected == 2 and "{broken}" not in arguments:
        assert out == ""
        assert err
    else:
        assert out
        assert err == ""


def test_a_rule_that_crashes_is_our_fault_and_the_others_go_on(
    tmp_path: Path, rule_of_ours: dict[str, Any], capsys: pytest.CaptureFixture[str]
) -> None:
    def crash(boat: Boat) -> Iterator[Says]:
        raise ZeroDivisionError("\x1b[31mred")

    rule_of_ours["judge"] = crash
    assert run(["survey", vessel(tmp_path, "loads: {lamp: {system: gone}}\n"), "--fail-on", "DANGER"]) == 3
    out, err = capsys.readouterr()
    assert "the rule test-rule failed (ZeroDivisionError: \\u001b[31mred)" in " ".join(out.split())
    assert "dangling-reference" in out
    assert err == ""


def test_any_other_crash_is_told_without_a_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def crash(*_: object) -> None:
        raise KeyError("lamp")

    monkeypatch.setattr("vesselspec.cli.survey.read_state", crash)
    assert run(["survey", vessel(tmp_path)]) == 3
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("vesselspec: a fault in this program: KeyError: 'lamp'\n")
    monkeypatch.setenv("VESSELSPEC_TRACEBACK", "1")
    with pytest.raises(KeyError):
        run(["survey", vessel(tmp_path)])


# --- words of help ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([name, "--help"]) == 0
    out, err = capsys.readouterr()
    assert out.startswith(f"Usage: vesselspec {name} ")
    assert err == ""
    assert max(map(len, out.splitlines())) <= 100


def test_help_lists_every_command_and_the_exit_statuses(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["-h"]) == 0
    out = capsys.readouterr().out
    for name, what in COMMANDS.items():
        assert re.search(rf"^  {name} +{what}$", out, re.MULTILINE)
    assert "Exit status: 0 sound;" in out
    assert run(["--version"]) == 0
    assert capsys.readouterr().out == f"vesselspec, version {__version__}\n"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["surveu"], "vesselspec: there is no command 'surveu'; did you mean 'survey'?\n"),
        (["xyzzy"], "vesselspec: there is no command 'xyzzy'\n"),
        (["explain", "dangling-refrence"], "Did you mean dangling-reference?"),
        (["expand", "lamb", "."], "Did you mean lamp?"),
        (["survey", "nowhere"], "'nowhere' does not exist or cannot be read."),
        (["survey", "--brif"], "--brief"),
    ],
)
def test_what_is_misspelt_is_suggested(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: list[str],
    said: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(vessel(tmp_path / "v", "loads: {lamp: {}}\n"))
    assert run(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err


@pytest.mark.parametrize(
    "arguments",
    [
        ["isolate", "{}", "."],
        ["trace", "{}", "."],
        ["expand", "{}", "."],
        ["derive", "{}", "-", "."],
        ["size", "--for", "{}", "."],
        ["shock", "{}", "."],
        ["labels", "--grid", "{}", "."],
        ["draw", "--panel", "{}", "."],
        ["loads", "--fit", "--source", "{}", "."],
        ["explain", "{}"],
        ["import", "{}", ".", "--kind", "loads"],
        ["isolate", "lamp", ".", "--compare", "{}"],
        ["survey", "--{}"],
        ["{}"],
    ],
)
def test_no_word_of_a_call_is_obeyed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Words come from branches, files and issues: no message hands on what a terminal or a hosted CI obeys."""
    monkeypatch.chdir(vessel(tmp_path, "loads: {lamp: {}}\n"))
    assert run([each.format("x\x1b]0;owned\x07\n::error::\u202ey") for each in arguments]) == 2
    said = "".join(capsys.readouterr())
    assert not DANGEROUS.search(said)
    assert not re.search(r"^\s*::", said, re.MULTILINE)
    assert "owned" in said


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes in a folder here")
@pytest.mark.parametrize(
    "arguments", [["import", "pipe", ".", "--kind", "loads"], ["isolate", "lamp", ".", "--compare", "pipe"]]
)
def test_a_pipe_is_not_waited_for(tmp_path: Path, arguments: list[str]) -> None:
    place = vessel(tmp_path, "loads: {lamp: {}}\n")
    os.mkfifo(tmp_path / "pipe")
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run([*COMMAND, *arguments], capture_output=True, env=env, cwd=place, timeout=60, check=False)
    assert (done.returncode, done.stdout) == (2, b"")


# --- machine-readable output -----------------------------------------------------------------------


def survey_validator() -> jsonschema_rs.Draft202012Validator:
    return jsonschema_rs.Draft202012Validator(json.loads((ROOT / "schema/survey.schema.json").read_text()))


@pytest.mark.parametrize("case", ["sound", "findings", "not-understood"])
def test_json_follows_its_schema(tmp_path: Path, case: str, capsys: pytest.CaptureFixture[str]) -> None:
    place = {
        "sound": vessel(tmp_path / "a"),
        "findings": str(RECORDS / "13-as-found"),
        "not-understood": vessel(tmp_path / "b", "loads: {lamp: {powr: 5 W}, lamp 2: {}}\n", sub="loads: {lamp: {}}\n"),
    }[case]
    expected = {"sound": 0, "findings": 1, "not-understood": 2}[case]
    assert run(["survey", place, "--output", "json", "--out", str(tmp_path / "out")]) == expected
    out, err = capsys.readouterr()
    assert err == ""
    data = json.loads(out)
    assert [error.message for error in survey_validator().iter_errors(data)] == []
    assert data["understood"] is (expected != 2)
    assert bool(data["findings"]) is (expected == 1)
    assert [problem["place"]["line"] for problem in data["problems"]] == ([2, 2, 2] if expected == 2 else [])
    assert sum(data["counts"].values()) == len(data["findings"])
    assert json.loads((tmp_path / "out/survey.json").read_text(encoding="utf-8")) == data
    assert run(["survey", place, "--output", "markdown"]) == expected
    assert (tmp_path / "out/survey.md").read_text(encoding="utf-8") == capsys.readouterr().out


@pytest.mark.parametrize("name", sorted(folder.name for folder in RECORDS.iterdir()))
def test_json_of_every_fixture_follows_its_schema_and_is_repeatable(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["survey", str(RECORDS / name), "--output", "json"]) in (0, 1)
    first = capsys.readouterr().out
    assert survey_validator().is_valid(json.loads(first))
    assert run(["survey", str(RECORDS / name), "--output", "json"]) in (0, 1)
    assert capsys.readouterr().out == first


# --- hostile words in the record -------------------------------------------------------------------

EVIL = "\u061ca\x1b[31mb\x9b31mc\u202ed\u2066e\x07f\x7fg\u200bh\u2028i\x00j"
NAMES = f"loads: {{lamp: {{name: {json.dumps(EVIL)}}}}}\nspaces: {{s: {{note: {json.dumps(EVIL)}}}}}\n"


@pytest.mark.parametrize("output", ["text", "markdown"])
@pytest.mark.parametrize("more", ["", f"loads: {{{json.dumps(EVIL)}: {{}}}}\n", f"cables: {{C: {json.dumps(EVIL)}}}\n"])
def test_no_control_character_of_a_record_comes_out(
    tmp_path: Path, output: str, more: str, capsys: pytest.CaptureFixture[str]
) -> None:
    place = vessel(tmp_path / "v", NAMES, more=more)
    run(["survey", place, "--output", output, "--fail-on", "DANGER"])
    run(["expand", "lamp", place])
    out, err = capsys.readouterr()
    assert "31m" in out
    assert not DANGEROUS.search(out)
    assert not DANGEROUS.search(err)


def test_no_control_character_of_a_file_name_comes_out(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    place = Path(vessel(tmp_path / "v"))
    (place / "a\x1b[31m\u202eb\nc.yaml").write_text("loads: []\n")
    for output in ("text", "markdown"):
        assert run(["survey", str(place), "--output", output]) == 2
        out, err = capsys.readouterr()
        assert not DANGEROUS.search(out + err)
        assert not any(line.startswith("c.yaml") for line in out.splitlines())


def test_no_control_character_comes_out_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["survey", vessel(tmp_path / "v", NAMES), "--output", "json"])
    out = capsys.readouterr().out
    assert not DANGEROUS.search(out)
    assert EVIL in json.loads(out)["findings"][0]["message"]  # a machine gets the very words


SCRAPS = st.sampled_from(
    [
        "<img src=x onerror=y>", "<b>", "</b>", "<!--", "-->", "](http://a.example)", "![x](y)", "[x]: y", "[", "]",
        "(", ")", "`", "``", "**", "__", "~~", "|", "\n", "\r\n", "# ", "\n# ", "\n> ", "\n- ", "\n1. ", "\n---\n",
        "\n==\n",
        "&lt;", "&#60;", "&", "\\", "\\<", "javascript:x", "https://a.example", "mailto:a@b.example", "@a", "$x$", "a",
        "é", " ", "\t", "\u2028", "\x00", "x", "1", ".", "www.a.example",
    ]
)  # fmt: skip
WORDS = st.lists(SCRAPS, min_size=1, max_size=12).map("".join) | st.text(
    st.characters(exclude_categories=["Cs"]), min_size=1, max_size=60
)


def _record(name: str, label: str) -> Record:
    data = {
        "vessel": {"record": 1, "name": name[:120], "practice": "north-american"},
        "systems": {"ac": {"kind": "ac-single-phase", "voltage": "120 V"}},
        "loads": {"lamp": {"name": name[:120], "system": "ac", "note": label}},
        "panels": {"p": {"system": "ac", "sections": {"s": {"ways": {"1": {"label": label[:80], "poles": ["L1"]}}}}}},
        "cables": {
            "C": {"from": "p/s/1", "to": "lamp", "label": label[:80], "cores": {"black": {"colour": label[:40]}}}
        },
    }
    text = re.sub(
        r"\\ud[89ab]..\\ud[c-f]..", lambda pair: str(json.loads(f'"{pair.group()}"')), json.dumps(data)
    )  # YAML knows no surrogate pairs
    return read({"vessel.yaml": text.encode()})


def _markdown(record: Record) -> str:
    assert record.vessel is not None
    found = survey(Boat(record.vessel, record.places))
    return report.survey_markdown(report.subject_of(record.vessel, "work tree"), found)


def live(markdown: str) -> str:
    """What a reader of Markdown takes for more than plain characters: escapes and code spans are taken out."""
    left, at = "", 0
    while at < len(markdown):
        run_of = re.match(r"`+", markdown[at:])
        if re.match(r"\\[!-/:-@\[-`{-~]", markdown[at:]):
            at += 2
        elif run_of and (end := re.search(rf"(?<!`){run_of.group()}(?!`)", markdown[at + run_of.end() :])):
            at += run_of.end() + end.end()
        else:
            left += markdown[at]
            at += 1
    return left


@settings(max_examples=60, deadline=None)
@given(WORDS, WORDS)
def test_no_word_of_a_record_becomes_markup(name: str, label: str) -> None:
    markdown = _markdown(_record(name, label))
    plain = _markdown(_record("plain", "word"))
    assert not DANGEROUS.search(markdown)
    # The same lines of our own, whatever the words are: none was added, none became a heading or list.
    starts = [re.match(r"#* |> |- |\d+\. |\||\*\*|`|$|", line) for line in markdown.splitlines()]
    wanted = [re.match(r"#* |> |- |\d+\. |\||\*\*|`|$|", line) for line in plain.splitlines()]
    assert [m and m.group() for m in starts] == [m and m.group() for m in wanted]
    bare = live(markdown)
    assert not re.search(r"[<`\[\]]|://|[^*]\*[^*]|~~", bare)
    assert not re.search(r"&(?!amp;|lt;|gt;|#64;|#58;|#46;)", bare)


@settings(max_examples=40, deadline=None)
@given(WORDS, WORDS)
def test_no_word_of_a_record_moves_the_terminal(name: str, label: str) -> None:
    record = _record(name, label)
    assert record.vessel is not None
    found = survey(Boat(record.vessel, record.places))
    text = report.survey_text(
        Page(width=80, colour=False), report.subject_of(record.vessel, "work tree"), found, full=True
    )
    assert not DANGEROUS.search(text)
    assert "\r" not in text


@pytest.mark.parametrize(
    "word", ["www.a.example", "WWW.a.example", "https://a.example", "a@b.example", "mailto:a@b.example"]
)
def test_no_address_becomes_a_link_by_itself(word: str) -> None:
    markdown = live(_markdown(_record(word, word)))
    assert not re.search(r"www\.|://|@", markdown, re.IGNORECASE)


# --- surroundings ----------------------------------------------------------------------------------


def on_a_terminal(*arguments: str, **environment: str) -> bytes:
    """Run on a pseudo-terminal and return what it would show."""
    leader, follower = pty.openpty()
    try:
        env = {**os.environ, "TERM": "xterm", "COLUMNS": "100", **environment}
        if "NO_COLOR" not in environment:
            env.pop("NO_COLOR", None)
        process = subprocess.Popen([*COMMAND, *arguments], stdout=follower, stderr=follower, env=env, cwd=ROOT)
        os.close(follower)
        shown = b""
        try:
            while chunk := os.read(leader, 65536):
                shown += chunk
        except OSError:  # the other end was closed
            pass
        process.wait(timeout=60)
        return shown
    finally:
        os.close(leader)


def test_colour_only_where_a_person_looks_and_has_not_refused_it() -> None:
    found = str(RECORDS / "13-as-found")
    assert b"\x1b[1;30;43m WARNING \x1b[0m" in on_a_terminal("survey", found)
    for environment in ({"NO_COLOR": "1"}, {"NO_COLOR": ""}, {"TERM": "dumb"}):
        shown = on_a_terminal("survey", found, **environment)
        assert b"[WARNING]" in shown
        assert b"\x1b" not in shown
    piped = called("survey", found)
    assert (piped.returncode, piped.stderr) == (1, b"")
    assert b"[WARNING]" in piped.stdout
    assert b"\x1b" not in piped.stdout


def test_an_ascii_terminal(tmp_path: Path) -> None:
    place = vessel(tmp_path / "v", "loads: {lamp: {name: Écran 😀}}\n")
    done = called("survey", place, PYTHONIOENCODING="ascii")
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"(\\xc9cran \\U0001f600)" in done.stdout


def test_json_on_an_ascii_terminal(tmp_path: Path) -> None:
    place = vessel(tmp_path / "v", "loads: {lamp: {name: Écran 😀}}\n")
    done = called("survey", place, "--output", "json", PYTHONIOENCODING="ascii")
    assert "Écran 😀" in json.loads(done.stdout)["findings"][0]["message"]


def piped_to_nobody(*arguments: str) -> tuple[int, bytes]:
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = subprocess.run(
            [*COMMAND, *arguments], stdout=writer, stderr=subprocess.PIPE, cwd=ROOT, timeout=60, check=False
        )
    finally:
        os.close(writer)
    return done.returncode, done.stderr


def test_a_reader_that_has_gone_is_no_fault(tmp_path: Path) -> None:
    for place in (vessel(tmp_path / "sound"), str(RECORDS / "13-as-found")):
        result, said = piped_to_nobody("survey", place)
        assert said == b""
        assert result in (0, 1)


def test_a_sound_record_stays_sound_when_the_reader_has_gone(tmp_path: Path) -> None:
    assert piped_to_nobody("survey", vessel(tmp_path / "v"))[0] == 0


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")
def test_a_full_disk_is_told_in_one_line(tmp_path: Path) -> None:
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [*COMMAND, "survey", vessel(tmp_path / "v")],
            stdout=full,
            stderr=subprocess.PIPE,
            cwd=ROOT,
            timeout=60,
            check=False,
        )
    assert done.returncode == 2
    assert b"Standard output cannot be written" in done.stderr
    assert b"fault in this program" not in done.stderr


def test_no_standard_output_at_all(tmp_path: Path) -> None:
    command = " ".join(shlex.quote(word) for word in [*COMMAND, "survey", vessel(tmp_path / "v")])
    done = subprocess.run(["sh", "-c", f"{command} >&-"], stderr=subprocess.PIPE, cwd=ROOT, timeout=60, check=False)
    assert done.returncode == 0
    assert done.stderr == b""


def test_the_language_and_folder_make_no_difference(tmp_path: Path) -> None:
    found = str(RECORDS / "06-panels")
    usual = called("survey", found)
    other = subprocess.run(
        [*COMMAND, "survey", found],
        capture_output=True,
        env={"PATH": os.environ["PATH"], "LC_ALL": "C", "PYTHONPATH": str(ROOT)},
        cwd=tmp_path,
        timeout=60,
        check=False,
    )
    assert (other.returncode, other.stderr) == (usual.returncode, b"")
    assert other.stdout.splitlines()[2:8] == usual.stdout.splitlines()[2:8]


@pytest.mark.parametrize("form", ["sarif", "annotations", "junit"])
def test_a_machine_form_tells_of_one_state(form: str, capsys: pytest.CaptureFixture[str]) -> None:
    for words in (
        ["survey", "--commits", "HEAD~1..HEAD"],
        ["review", "HEAD~1", "HEAD", "--merged-with", "HEAD"],
        ["review", "HEAD~1", "--between", "HEAD", "--between", "HEAD~1"],
    ):
        assert run([*words, "--output", form]) == 2
        assert "use json" in capsys.readouterr().err
