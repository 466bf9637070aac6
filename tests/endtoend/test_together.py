"""`vesselspec review --merged-with` and `--between`: open changes judged together, and nothing touched."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema_rs
import pytest

from .conftest import Call
from .repositories import CHARGER, DRYER, HOB, ROOT, clone, commit, git, state_of

SMALL = """\
vessel: {record: 1, name: Small, practice: north-american}
systems:
  dc: {kind: dc, voltage: 12 V}
devices:
  bank: {kind: battery-bank, system: dc}
  main-switch: {kind: switch, system: dc, mounted_on: 'bank:DC+', operation: manual, lockable: true}
  panel-fuse: {kind: fuse, system: dc, rating: 30 A, mounted_on: 'main-switch/load:DC+'}
panels:
  main:
    system: dc
    sections:
      a:
        ways:
          "1": {poles: [DC+], rating: 10 A, label: Lights}
          "2": {poles: [DC+], rating: 10 A, label: Spare, spare: true}
loads:
  lights: {system: dc, power: 24 W, use: lighting}
  pump: {system: dc, power: 24 W, use: pump}
  fan: {system: dc, power: 24 W}
"""
CABLES = """\
cables:
  F1: {from: panel-fuse/load, to: main/a, size: 8 AWG, cores: {red: DC+, yellow: {from: 'bank:DC-', to: DC-}}}
  C1: {from: main/a/1, to: lights, size: 14 AWG, cores: {red: DC+, yellow: DC-}}
"""


def cable(key: str, load: str, way: str = "2") -> str:
    return f"cables:\n  {key}: {{from: main/a/{way}, to: {load}, size: 14 AWG, cores: {{red: DC+, yellow: DC-}}}}\n"


def valid(name: str, data: object) -> bool:
    schema = json.loads((ROOT / f"schema/{name}.schema.json").read_text(encoding="utf-8"))
    return bool(jsonschema_rs.validator_for(schema).is_valid(data))


Files = dict[str, str | None]


def pair(folder: Path, one: Files, two: Files) -> Path:
    """A small boat with two open changes."""
    folder.mkdir()
    git(folder, "init", "-q", "-b", "main")
    commit(folder, {"vessel.yaml": SMALL, "cables.yaml": CABLES}, "first")
    for name, files in (("one", one), ("two", two)):
        git(folder, "checkout", "-q", "-b", name, "main")
        commit(folder, files, name)
    git(folder, "checkout", "-q", "main")
    return folder


def test_two_sound_proposals_are_too_much_for_the_inlet_together(call: Call, example: Path) -> None:
    done = call("review", "main", HOB, example, "--merged-with", DRYER, "--output", "json")
    assert done.status == 1
    assert valid("combination", done.data)
    assert {each["rule"] for each in done.data["findings"]["combined"]} == {"source-overloaded"}
    assert done.data["findings"]["ours"] == done.data["findings"]["theirs"] == []
    assert not done.data["clashes"]
    text = call("review", "main", HOB, example, "--merged-with", DRYER)
    assert "only together they bring 0 DANGER, 1 WARNING" in text.out
    assert "prove dead" in text.out


def test_the_merge_says_what_a_review_of_the_real_one_says(call: Call, own: Path) -> None:
    together = call("review", "main", HOB, own, "--merged-with", DRYER, "--output", "json").data
    git(own, "checkout", "-q", "-b", "both", HOB)
    git(own, "merge", "-q", "-m", "both", DRYER)
    real = call("review", "main", "both", own, "--output", "json").data["findings"]["new"]
    found = [each["fingerprint"] for group in together["findings"].values() for each in group]
    assert sorted(found) == sorted(each["fingerprint"] for each in real)


def test_changes_side_by_side_conflict_and_are_told_by_entry(call: Call, example: Path) -> None:
    done = call("review", "main", HOB, example, "--merged-with", CHARGER, "--output", "json")
    assert (done.status, done.data["clashes"]) == (1, True)
    assert valid("combination", done.data)
    (met,) = done.data["conflicts"]
    assert met["file"] == "ac.yaml"
    assert any("Induction hob" in sentence for sentence in met["ours"])
    assert any("House charger" in sentence for sentence in met["theirs"])
    assert all(each["differs_in"] == [] for each in done.data["changed_by_both"])


def test_every_pair_of_several(call: Call, example: Path, tmp_path: Path) -> None:
    branches = ("--between", HOB, "--between", DRYER, "--between", CHARGER)
    done = call("review", "main", example, *branches, "--output", "json", "--out", tmp_path)
    assert done.status == 1
    assert valid("pairs", done.data)
    assert {(each["one"], each["other"]): each["clashes"] for each in done.data["pairs"]} == {
        (HOB, DRYER): False,
        (HOB, CHARGER): True,
        (DRYER, CHARGER): False,
    }
    same = call("review", "main", HOB, example, *branches[2:], "--output", "json")
    assert same.out == done.out
    assert sorted(path.name for path in tmp_path.iterdir()) == ["pairs.json", "pairs.md"]
    text = call("review", "main", example, *branches)
    assert "3 of 3 pairs do not go together." in text.out
    assert ") by itself brings 4 DANGER, 2 WARNING" in " ".join(text.out.split())


def test_what_both_add_at_one_spot_is_judged_with_both_kept(call: Call, tmp_path: Path) -> None:
    added = [cable(key, load).removeprefix("cables:\n") for key, load in (("C2", "pump"), ("C3", "fan"))]
    one, two = ({"cables.yaml": CABLES + each} for each in added)
    repository = pair(tmp_path / "r", {**one}, {**two})
    done = call("review", "main", "one", repository, "--merged-with", "two", "--output", "json")
    assert (done.status, done.data["clashes"]) == (1, True)
    assert "way-with-two-cables" in {each["rule"] for each in done.data["findings"]["combined"]}
    assert "with both kept, only together they bring" in done.data["verdict"]
    text = call("review", "main", "one", repository, "--merged-with", "two")
    assert "keep both" in text.out


def test_what_both_change_on_lines_side_by_side_is_judged_entry_by_entry(call: Call, tmp_path: Path) -> None:
    """Two ways next to each other, and two fields of one entry that share a line."""
    first, second = "rating: 10 A, label: Lights", "rating: 10 A, label: Spare, spare: true"
    one = SMALL.replace(first, "rating: 15 A, label: Lights").replace(
        "system: dc, rating: 30 A", "system: dc, rating: 40 A"
    )
    two = SMALL.replace(second, "rating: 5 A, label: Pump").replace(
        "rating: 30 A, mounted", "rating: 30 A, name: Fuse, mounted"
    )
    repository = pair(tmp_path / "r", {"vessel.yaml": one}, {"vessel.yaml": two, "two.yaml": cable("C2", "pump")})
    done = call("review", "main", "one", repository, "--merged-with", "two", "--output", "json")
    assert (done.status, done.data["clashes"]) == (1, True)
    assert [each["file"] for each in done.data["conflicts"]] == ["vessel.yaml"]
    assert [(each["id"], each["differs_in"]) for each in done.data["changed_by_both"]] == [("panel-fuse", [])]
    assert "with both kept" in done.data["verdict"]
    text = call("review", "main", "one", repository, "--merged-with", "two").out
    assert "keep both" in text
    # What is found stands where the side that brought it has it.
    git(repository, "checkout", "-q", "one")
    both = (repository / "vessel.yaml").read_text(encoding="utf-8").replace(second, "rating: 5 A, label: Pump")
    both = both.replace("rating: 40 A, mounted", "rating: 40 A, name: Fuse, mounted")
    commit(repository, {"vessel.yaml": both, "two.yaml": cable("C2", "pump")}, "by hand")
    by_hand = call("review", "main", "HEAD", repository, "--output", "json").data["findings"]["new"]
    found = [each["fingerprint"] for group in done.data["findings"].values() for each in group]
    assert sorted(found) == sorted(each["fingerprint"] for each in by_hand)


def test_a_field_that_both_change_is_named(call: Call, tmp_path: Path) -> None:
    def rated(rating: str) -> Files:
        return {
            "vessel.yaml": SMALL.replace('"1": {poles: [DC+], rating: 10 A', f'"1": {{poles: [DC+], rating: {rating}')
        }

    repository = pair(tmp_path / "r", rated("15 A"), rated("5 A"))
    done = call("review", "main", "one", repository, "--merged-with", "two", "--output", "json")
    assert done.status == 1
    assert [(each["id"], each["differs_in"]) for each in done.data["changed_by_both"]] == [("main/a/1", ["rating"])]
    assert "rating 15 A instead of 10 A" in done.data["changed_by_both"][0]["ours"]
    assert "rating 5 A instead of 10 A" in done.data["changed_by_both"][0]["theirs"]


def test_an_id_used_by_both_is_no_record_together(call: Call, tmp_path: Path) -> None:
    repository = pair(tmp_path / "r", {"one.yaml": cable("C2", "pump")}, {"two.yaml": cable("C2", "fan")})
    done = call("review", "main", "one", repository, "--merged-with", "two", "--output", "json")
    assert (done.status, done.data["clashes"], done.data["conflicts"]) == (1, True, [])
    assert any("C2" in each["found"] for each in done.data["problems"])
    assert "cannot be understood as a record" in done.data["verdict"]
    assert done.data["changed_by_both"][0]["differs_in"] == ["to"]


def test_two_cables_on_one_way(call: Call, tmp_path: Path) -> None:
    repository = pair(tmp_path / "r", {"one.yaml": cable("C2", "pump")}, {"two.yaml": cable("C3", "fan")})
    done = call("review", "main", "one", repository, "--merged-with", "two", "--output", "json", "--fail-on", "NOTICE")
    assert done.status == 1
    assert "way-with-two-cables" in {each["rule"] for each in done.data["findings"]["combined"]}
    assert done.data["verdict"].startswith("The two do not go together: only together")
    lesser = call("review", "main", "one", repository, "--merged-with", "two")
    assert (lesser.status, "The two go together, and only together they bring" in lesser.out) == (0, True)


def test_an_isolation_point_that_the_other_side_takes_out(call: Call, tmp_path: Path) -> None:
    lines = SMALL.splitlines(keepends=True)
    without = "".join(line for line in lines if "main-switch:" not in line)
    without = without.replace("main-switch/load:DC+", "bank:DC+")
    repository = pair(tmp_path / "r", {"one.yaml": cable("C2", "pump")}, {"vessel.yaml": without})
    for ours, theirs in (("one", "two"), ("two", "one")):
        done = call("review", "main", ours, repository, "--merged-with", theirs, "--output", "json")
        assert [(each["panel"], each["point"]) for each in done.data["isolation"]] == [("main", "main-switch")]
        assert done.data["isolation"][0]["needed_by"].startswith("one ")
        assert done.status == 1


def test_changes_that_go_together_pass(call: Call, tmp_path: Path) -> None:
    repository = pair(tmp_path / "r", {"one.yaml": cable("C2", "pump")}, {"words.txt": "x"})
    done = call("review", "main", "one", repository, "--merged-with", "two")
    assert done.status == 0
    assert "Together the two bring nothing that neither brings alone." in done.out
    assert call("review", "main", repository, "--between", "one", "--between", "two").status == 0


def test_a_side_that_cannot_be_understood_is_told(call: Call, tmp_path: Path) -> None:
    repository = pair(tmp_path / "r", {"one.yaml": "cables: [\n"}, {"two.yaml": cable("C2", "pump")})
    done = call("review", "main", "one", repository, "--merged-with", "two", "--output", "json")
    assert (done.status, done.data["understood"]) == (2, False)
    assert done.data["problems"][0]["place"]["file"] == "one.yaml"


def test_only_what_is_committed_is_merged(call: Call, tmp_path: Path) -> None:
    repository = pair(tmp_path / "r", {"one.yaml": cable("C2", "pump")}, {"two.yaml": cable("C3", "fan", "1")})
    git(repository, "checkout", "-q", "one")
    assert call("review", "main", ".", repository, "--merged-with", "two").status == 0
    (repository / "one.yaml").write_text(cable("C2", "fan"), encoding="utf-8")
    done = call("review", "main", ".", repository, "--merged-with", "two")
    assert done.status == 2
    assert "Commit them, or name HEAD" in done.error
    assert call("review", "main", "HEAD", repository, "--merged-with", "two").status == 0


def test_nothing_is_written_and_nothing_is_left_behind(
    call: Call, own: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    beside = tmp_path / "temporary"
    beside.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(beside))
    before = state_of(own)
    counted = git(own, "count-objects", "-v"), git(own, "for-each-ref")
    for other in (DRYER, CHARGER):
        call("review", "main", HOB, own, "--merged-with", other)
    call("review", "main", own, "--between", HOB, "--between", DRYER)
    call("survey", "--commits", f"main~3..{HOB}", own)
    assert state_of(own) == before
    assert (git(own, "count-objects", "-v"), git(own, "for-each-ref")) == counted
    assert list(beside.iterdir()) == []


def test_a_bare_repository_and_one_without_the_branches(call: Call, example: Path, tmp_path: Path) -> None:
    bare = clone(example, tmp_path / "bare", "--bare", branches=False)
    assert call("review", "main", HOB, bare, "--merged-with", DRYER).status == 1
    assert call("review", "main", HOB, bare, "--merged-with", "nowhere").status == 2


@pytest.mark.parametrize("ref", ["-x", "--upload-pack=x", "a:b", "", "main..x", "a\nb"])
def test_hostile_revisions_are_refused(call: Call, example: Path, ref: str) -> None:
    for arguments in ((f"--merged-with={ref}",), (f"--between={ref}", "--between=main")):
        done = call("review", "main", HOB, example, *arguments)
        assert (done.status, done.out) == (2, "")
        assert done.error.startswith("vesselspec: ")


def test_too_few_and_too_many_and_contradicting_options(call: Call, example: Path) -> None:
    assert call("review", "main", example, "--between", HOB).status == 2
    many = [word for n in range(13) for word in ("--between", f"b{n}")]
    assert call("review", "main", example, *many).status == 2
    assert call("review", "main", HOB, example, "--merged-with", DRYER, "--direct").status == 2
    assert call("review", "main", HOB, example, "--merged-with", DRYER, "--between", CHARGER).status == 2
