"""The rule book audits itself: every rule says all that a reader needs, and stands on what it names."""

from __future__ import annotations

import json
import re
from collections import Counter
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from vesselspec.cli.main import run
from vesselspec.report.json import dumps
from vesselspec.report.rules import figures_of, meaning, rules_json
from vesselspec.rules import RULES, SIGNAL_WORDS
from vesselspec.rules.book import COMMON_PRACTICE, rule
from vesselspec.rules.catalogue import OWN as OWN_STANDING
from vesselspec.rules.catalogue import PRACTICE, count, standing_of, subject_of
from vesselspec.rules.catalogue import SUBJECTS as TITLES
from vesselspec.rules.concessions import ABOUT
from vesselspec.rules.examples import examples
from vesselspec.rules.findings import DANGER
from vesselspec.standards import SUBJECTS, figures

from .helpers import CASES, load
from .test_cases import IDS

ROOT = Path(__file__).parents[2]
_PUBLISHED = re.compile(r"\b(CFR|IEC|NFPA|ABYC|ISO|UL|IMO|ANSI|SAE)\b")
#: What a rule may stand on besides a published text and common practice.
OWN = {
    "this program",
    "the bar's own rating",
    "the relay's own rating",
    "the inverter's own rating",
    "as named in the finding",
    "voltage drop limits of the vessel's practice",
    "electric load analysis counts every load",
    "electric load analysis over demand factors; the source's own rating",
    "electric load analysis over demand factors; the bank's rated capacity",
    "electric load analysis; the inverter's own short-time rating",
}
#: Rules whose published source asks for something and gives no figure.
WITHOUT_FIGURE = {
    "earth-core-missing",
    "inlet-pins-live",
    "line-on-neutral",
    "neutral-fused-alone",
    "unsynchronised-sources-joined",
}


def test_the_number_of_rules_is_pinned() -> None:
    assert len(RULES) == len(IDS) == len(list(CASES.glob("*.yaml")))


def test_no_two_rules_share_a_title_or_a_reason() -> None:
    for said in ("title", "why"):
        assert [text for text, n in Counter(getattr(each, said) for each in RULES.values()).items() if n > 1] == []


@pytest.mark.parametrize("key", sorted(RULES))
def test_every_rule_has_all_that_a_reader_needs(key: str) -> None:
    each = RULES[key]
    for text in (each.title, each.why, each.remedy, each.source, each.needs):
        assert len(text) > 5
    assert not each.needs.endswith(".")
    assert key in examples()
    cases = load(CASES / f"{key}.yaml")
    assert cases["good"]
    assert cases["bad"]
    assert each.guards_life or each.signal_word != DANGER


def test_a_rule_cannot_be_entered_without_its_needs() -> None:
    with pytest.raises(TypeError, match="needs"):
        rule("x", DANGER, title="t", why="w", remedy="r", source="s")  # type: ignore[call-arg]


@pytest.mark.parametrize("key", sorted(RULES))
def test_a_rule_stands_on_a_published_text_or_says_that_it_is_practice(key: str) -> None:
    source = RULES[key].source
    assert _PUBLISHED.search(source) or COMMON_PRACTICE in source or source in OWN


def test_every_own_source_and_exception_is_in_use() -> None:
    assert {each.source for each in RULES.values()} >= OWN
    assert RULES.keys() >= WITHOUT_FIGURE


@pytest.mark.parametrize("key", sorted(RULES))
def test_a_published_figure_that_a_rule_cites_is_in_the_data(key: str) -> None:
    held = figures_of(RULES[key])  # raises where there is none of that id
    cited = re.findall(r"\d+ CFR [\d.()a-z-]+|IEC \d+[\d-]*|NFPA \d+|ABYC E-\d+", RULES[key].source)
    if key in WITHOUT_FIGURE:
        assert not held
    elif _PUBLISHED.search(RULES[key].source):
        assert any(each.source.startswith(ref) for ref in cited for each in held)
    assert not held or any(not each.from_memory for each in held), "a figure from memory decides nothing alone"


def test_every_figure_that_a_rule_asks_for_in_the_code_is_there() -> None:
    known = {key for subject in SUBJECTS for key in figures(subject)}
    for path in (ROOT / "vesselspec" / "rules").glob("*.py"):
        asked = re.findall(r'\bfigure\(\s*"([^"]+)"', path.read_text(encoding="utf-8"))
        assert set(asked) <= known, path


def test_the_book_is_counted_in_every_way() -> None:
    every = {**RULES, **ABOUT}
    counts = count(every.values())
    for parts in (counts.by_word, counts.by_subject, counts.by_standing):
        assert sum(parts.values()) == counts.rules == len(every)
        assert all(parts.values())
    assert counts.by_word["DANGER"] == list(IDS.values()).count("DANGER")
    assert counts.guards_life == sum(each.guards_life for each in every.values())
    alone = {key for key, each in every.items() if each.source == COMMON_PRACTICE}
    assert {key for key, each in every.items() if standing_of(each) == PRACTICE} <= alone
    assert {key for key, each in RULES.items() if standing_of(each) == OWN_STANDING} <= {
        key for key, each in RULES.items() if each.source in OWN
    }


def test_every_file_of_rules_has_a_subject() -> None:
    assert {subject_of(each) for each in (*RULES.values(), *ABOUT.values())} == TITLES.keys()


# --- explain ---------------------------------------------------------------------------------------


def test_explain_says_what_a_signal_word_means() -> None:
    """ANSI Z535.4-2007 clause 4.14."""
    told = {word: meaning(word) for word in SIGNAL_WORDS}
    assert told["DANGER"].startswith("death or serious injury will follow if it is not avoided")
    assert told["WARNING"].startswith("death or serious injury could follow if it is not avoided")
    assert told["CAUTION"].startswith("minor or moderate injury could follow if it is not avoided")
    assert told["NOTICE"].startswith("no injury; ")


@pytest.mark.parametrize("key", sorted(RULES))
def test_explain_tells_whether_a_finding_can_be_accepted(key: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["explain", key]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert ("Accept: No: it guards life." in printed) == RULES[key].guards_life
    assert ("Accept: Yes, by a concession" in printed) != RULES[key].guards_life
    assert RULES[key].needs in printed
    assert examples()[key].about in printed


def test_explain_json_is_as_published(capsys: pytest.CaptureFixture[str]) -> None:
    schema = Draft202012Validator(json.loads((ROOT / "schema/explain.schema.json").read_text(encoding="utf-8")))
    data = json.loads(dumps(rules_json([*RULES.values(), *ABOUT.values()])))
    assert [error.message for error in schema.iter_errors(data)] == []
    assert [each["rule"] for each in data["rules"]] == [*RULES, *ABOUT]
    assert {each["can_be_accepted"] for each in data["rules"] if each["rule"] in ABOUT} == {False}
    assert {each["can_be_accepted"] for each in data["rules"] if each["signal_word"] == DANGER} == {False}
    for arguments, many in ((["explain"], len(RULES) + len(ABOUT)), (["explain", "inlet-pins-live"], 1)):
        assert run([*arguments, "--output", "json"]) == 0
        shown = json.loads(capsys.readouterr().out)
        assert shown["counts"]["rules"] == many
        schema.validate(shown)
        assert len(shown["rules"]) == many


def test_explain_writes_a_page_for_every_rule_and_an_index(tmp_path: Path) -> None:
    assert run(["explain", "--output", "markdown", "--out", str(tmp_path)]) == 0
    assert {path.name for path in tmp_path.iterdir()} == {"index.md", *(f"{key}.md" for key in (*RULES, *ABOUT))}
    index = (tmp_path / "index.md").read_text(encoding="utf-8")
    assert set(re.findall(r"\]\(([^)]+)\)", index)) == {f"{key}.md" for key in (*RULES, *ABOUT)}
    for key, each in RULES.items():
        page = (tmp_path / f"{key}.md").read_text(encoding="utf-8")
        assert page.startswith("# ")
        assert f"**{each.signal_word}** `{key}`" in page
        example = examples()[key]
        assert example.none or f"```yaml\n{example.bad.rstrip()}\n```" in page
