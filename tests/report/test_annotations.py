"""Workflow commands: read back as a hosted CI reads them, at most ten, gravest first, in paths of the repository."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.report.annotations import MOST, command, workflow_commands
from vesselspec.report.terminal import one_line
from vesselspec.rules import SIGNAL_WORDS

from .hostile import hostile
from .outcomes import FOLDER, OUTCOMES, hostile_outcome

_HEX = re.compile("%([0-9A-F]{2})")
Command = tuple[str, dict[str, str], str]


def read(line: str) -> Command:
    """One command, read character by character: name, properties up to the next two colons, message."""
    assert line.startswith("::")
    name, rest = line[2:].split(" ", 1)
    head, message = rest.split("::", 1)
    properties = dict(each.split("=", 1) for each in head.split(","))
    return name, {key: _decoded(value) for key, value in properties.items()}, _decoded(message)


def _decoded(text: str) -> str:
    """One pass, so that an escaped escape stays one."""
    return _HEX.sub(lambda found: chr(int(found[1], 16)), text)


def _read(text: str) -> list[Command]:
    assert text.endswith("\n")
    return [read(line) for line in text[:-1].split("\n")]


@given(title=hostile(), file=hostile(), paragraphs=st.lists(hostile(), min_size=1, max_size=3))
def test_any_text_reads_back_as_a_terminal_may_show_it(title: str, file: str, paragraphs: list[str]) -> None:
    line = command("error", message=paragraphs, title=title, file=file, line="3")
    name, properties, message = read(line)
    assert name == "error"
    assert properties == {"file": one_line(file), "line": "3", "title": one_line(title)}
    assert message == "\n".join(one_line(each) for each in paragraphs)
    assert len(line.splitlines()) == 1


def test_the_escapes_are_these() -> None:
    line = command("notice", message=["100 % of a, b: c", "::error::x"], title="a:b,c%d")
    assert line == "::notice title=a%3Ab%2Cc%25d::100 %25 of a, b: c%0A::error::x"


@pytest.mark.parametrize("name", OUTCOMES)
def test_every_outcome_ends_on_a_line_that_counts_all_of_it(name: str) -> None:
    outcome = OUTCOMES[name]
    *shown, last = _read(workflow_commands(outcome))
    assert len(shown) < MOST
    assert last[:2] == ("notice", {"title": outcome.title})
    assert last[2].startswith(outcome.summary)
    there = len(outcome.problems) + len(outcome.counting) + sum(not f.accepted for f in outcome.inherited)
    hidden = re.search(r"(\d+) more not shown here", last[2])
    assert len(shown) + (int(hidden[1]) if hidden else 0) == there
    for _, properties, _ in shown:
        if "file" in properties:
            assert properties["file"].startswith(FOLDER + "/") or outcome.folder == "."


def test_the_gravest_come_first_and_what_is_accepted_not_at_all() -> None:
    outcome = OUTCOMES["survey with concessions"]
    *shown, last = _read(workflow_commands(outcome))
    words = [properties["title"].split()[0] for _, properties, _ in shown]
    assert words == sorted(words, key=SIGNAL_WORDS.index)
    levels = {"DANGER": "error", "WARNING": "error", "CAUTION": "warning", "NOTICE": "notice"}
    assert [name for name, _, _ in shown] == [levels[word] for word in words]
    assert "device-above-ampacity" not in str(shown)
    assert "Accepted for a while: 1." in last[2]


def test_ten_at_most() -> None:
    outcome = OUTCOMES["survey"]
    many = replace(outcome, findings=outcome.findings[:1] * 40)
    lines = _read(workflow_commands(many))
    assert len(lines) == MOST
    assert lines[-1][2].endswith("31 more not shown here; `vesselspec survey` tells all.")


def test_what_is_inherited_is_only_noted() -> None:
    *shown, _ = _read(workflow_commands(OUTCOMES["review of nothing"]))
    assert shown
    assert {name for name, _, _ in shown} == {"notice"}
    assert all(properties["title"].startswith("Inherited ") for _, properties, _ in shown)


def test_a_problem_of_an_earlier_state_is_at_no_line_of_this_one() -> None:
    (problem, _) = _read(workflow_commands(OUTCOMES["review before not understood"]))
    assert problem[1] == {"title": "record-not-understood"}
    (problem, _) = _read(workflow_commands(OUTCOMES["survey not understood"]))
    assert (problem[1]["file"], problem[1]["line"]) == (f"{FOLDER}/more.yaml", "2")


@settings(max_examples=40, deadline=None)
@given(words=st.lists(hostile(70), min_size=4, max_size=4))
def test_no_text_of_a_record_becomes_a_command(words: list[str]) -> None:
    plain = _read(workflow_commands(hostile_outcome(["x"] * 4)))
    found = _read(workflow_commands(hostile_outcome(words)))
    assert [(name, list(properties)) for name, properties, _ in found] == [
        (name, list(properties)) for name, properties, _ in plain
    ]
