"""Moving an entry to another file keeps every line; moving a circuit changes its cables and two ways, nothing else."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from tests.changes.boats import REFERRING, TWO_SOURCES, edited
from tests.record.styles import Style
from vesselspec.changes import compare
from vesselspec.changes.acts import acts
from vesselspec.model.vessel import Vessel
from vesselspec.record import read
from vesselspec.record.edit import EditError
from vesselspec.record.moving import speaking_of, to_file, to_way
from vesselspec.record.yaml import load

HEAD = "vessel: {record: 1, name: Moving, practice: north-american}\n"


def vessel(files: Mapping[str, bytes]) -> Vessel:
    found = read(files)
    assert found.vessel is not None, found.problems
    return found.vessel


def lines(*contents: bytes) -> Counter[str]:
    text = "\n".join(content.decode("utf-8-sig").replace("\r", "\n") for content in contents)
    return Counter(line.strip() for line in text.split("\n") if line.strip())


# --- to another file --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("source", "source_after", "target", "target_after"),
    [
        # the comments above it, at its end and further in go along; the heading stays
        (
            "loads:\n  a: {}\n\n  # --- all these ---\n\n  # of b\n  b: {use: pump}  # b\n    # of b too\n"
            "  # of c\n  c: {}\n",
            "loads:\n  a: {}\n\n  # --- all these ---\n\n  # of c\n  c: {}\n",
            "",
            "loads:\n  # of b\n  b: {use: pump}  # b\n    # of b too\n",
        ),
        (
            "loads:\n  # ----- pumps -----\n  b: {use: pump}\n  c: {}\n",
            "loads:\n  # ----- pumps -----\n  c: {}\n",
            "",
            "loads:\n  b: {use: pump}\n",
        ),
        # the other file's indentation and line endings
        (
            "loads:\n  a: {}\n  b:\n    use: pump\n\n    note: |\n      one\n\n        two\n",
            "loads:\n  a: {}\n",
            "spaces: {}\r\nloads:\r\n    z: {}\r\n# end\r\n",
            "spaces: {}\r\nloads:\r\n    z: {}\r\n    b:\r\n      use: pump\r\n\r\n      note: |\r\n        one\r\n\r\n"
            "          two\r\n# end\r\n",
        ),
        # the last of its collection
        ("spaces: {}\nloads:\n  b: {}\n", "spaces: {}\n", "spaces: {}", "spaces: {}\nloads:\n  b: {}\n"),
        ("loads:  # all\n  b: {}\n", "loads: {}  # all\n", "", "loads:\n  b: {}\n"),
        ("loads:\n  b: {}", "", "", "loads:\n  b: {}\n"),
        ("# of all\nloads:\n  # of b\n  b: {}\n", "# of all\nloads: {}\n", "", "loads:\n  # of b\n  b: {}\n"),
    ],
)  # fmt: skip
def test_where_its_lines_go(source: str, source_after: str, target: str, target_after: str) -> None:
    files = {"vessel.yaml": HEAD.encode(), "one.yaml": source.encode()}
    if target:
        files["two.yaml"] = target.encode()
    new = to_file(files, "loads", "b", "two.yaml")
    assert new["one.yaml"].decode() == source_after
    assert new["two.yaml"].decode() == target_after
    assert vessel({**files, **new}) == vessel(files)


@pytest.mark.parametrize(
    ("source", "reason"),
    [
        ("loads: {b: {}}\n", "share lines"),
        ("loads:\n  a: &x {}\n  b: *x\n", "joins it with another entry"),
        ("loads:\n  b: &x {}\n  a: *x\n", "joins it with another entry"),
        ("loads:\n  b: {poles: &x [L1]}\n  a: {poles: *x}\n", "joins it with another entry"),
        ("loads: &x\n  b: {}\n", None),
        ("loads:\n  b: {poles: &x [L1], note: word}\n", None),
    ],
)
def test_what_cannot_be_taken_out(source: str, reason: str | None) -> None:
    files = {"vessel.yaml": HEAD.encode(), "one.yaml": source.encode()}
    if reason is None:
        assert vessel({**files, **to_file(files, "loads", "b", "two.yaml")}) == vessel(files)
        return
    with pytest.raises(EditError) as refused:
        to_file(files, "loads", "b", "two.yaml")
    assert reason in refused.value.reason


def test_the_same_file_is_no_move() -> None:
    with pytest.raises(EditError) as refused:
        to_file({"vessel.yaml": HEAD.encode() + b"loads:\n  b: {}\n"}, "loads", "b", "vessel.yaml")
    assert "already" in refused.value.reason


@settings(max_examples=120, deadline=None, phases=(Phase.explicit, Phase.generate))
@given(st.integers(0, 10**9), st.sampled_from([TWO_SOURCES, REFERRING]), st.data())
def test_any_way_of_writing(seed: int, boat: dict[str, Any], data: st.DataObject) -> None:
    files = Style(seed).files(boat)
    before = vessel(files)
    entries = [(name, key) for name, key, _ in before.items() if name not in ("sections", "ways")]
    collection, key = data.draw(st.sampled_from(entries))
    target = data.draw(st.sampled_from([*files, "new/file.yaml"]))
    try:
        new = to_file(files, collection, key, target)
    except EditError as refused:
        told = ("already", "share lines", "joins it", "without changing", "alias", "unusual")
        assert any(word in refused.reason for word in told), refused.reason
        return
    assert vessel({**files, **new}) == before
    (source,) = set(new) - {target}
    lost = lines(files[source], files.get(target, b"")) - lines(*new.values())
    assert all(load(line.encode()).keys() == {collection} for line in lost), lost
    for name, content in new.items():
        if name in files and files[name].count(b"\n") == files[name].count(b"\r\n"):
            assert content.count(b"\n") == content.count(b"\r\n")


# --- to another way ---------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(12))
def test_a_circuit_goes_to_a_spare_way(seed: int) -> None:
    files = Style(seed, aliases=False).files(TWO_SOURCES)
    before = vessel(files)
    after = vessel({**files, **to_way(files, before, "main/a/1", "main/b/2")})
    assert after.cables["C1"].from_ == "main/b/2"
    left, taken = after.ways["main/a/1"][2], after.ways["main/b/2"][2]
    assert (left.spare, left.label, taken.spare, taken.label) == (True, "Spare", False, "Heater")
    assert (left.rating_a, taken.rating_a) == (15, 15)
    (act,) = acts(compare(before, after), before, after)
    assert (act.kind, act.id) == ("moved", "C1")
    assert len(act.of) == 3


def test_its_label_and_its_cores_go_along() -> None:
    text = (
        HEAD
        + """systems:
  ac: {kind: ac-single-phase, voltage: 120 V, frequency: 60 Hz}
panels:
  main:
    system: ac
    sections:
      a:
        ways:
          "1": {poles: [L1], label: Heater}  # one
          "2":  # two
            poles: [L1]
            # spare since the refit
            spare: true
loads:
  heater: {system: ac}
interlocks:
  slide: {between: [main/a/1, main/a/2]}
cables:
  C1:
    from: main/a/1
    to: heater
    formerly: [C9]
    cores: {black: {from: "main/a/1:L1", to: L1}, white: {from: 'main/a:N', to: N}}
conditions:
  home:
    running: []
    positions: {main/a/1: open, slide: main/a/1}
"""
    )
    files = {"vessel.yaml": text.encode()}
    new = to_way(files, vessel(files), "main/a/1", "main/a/2")["vessel.yaml"].decode()
    wanted = text.replace("from: main/a/1\n", "from: main/a/2\n").replace('"main/a/1:L1"', '"main/a/2:L1"')
    wanted = wanted.replace("label: Heater}", "label: none, spare: true}").replace("spare: true\nl", "spare: false\nl")
    wanted = wanted.replace("poles: [L1]\n", "poles: [L1]\n            label: Heater\n")
    assert new == wanted
    told = [(place.line, line) for place, line in speaking_of({"vessel.yaml": new.encode()}, "main/a/1")]
    assert [line.split(":")[0] for _, line in told] == ["slide", "positions", "positions"][: len(told)]
    assert len(told) >= 2


def _with_other_ways(raw: dict[str, Any]) -> None:
    more = {"3": {"device": "blank"}, "4": {}, "5": {"poles": ["L1", "N"], "spare": True}}
    raw["panels"]["main"]["sections"]["a"]["ways"].update(more)
    raw["systems"]["dc"] = {"kind": "dc", "voltage": "12 V"}
    raw["panels"]["low"] = {"system": "dc", "sections": {"a": {"ways": {"1": {"poles": ["DC+"], "spare": True}}}}}


@pytest.mark.parametrize(
    ("was", "now", "reason"),
    [
        ("main/a/1", "main/a/9", "main/a/9 is no way"),
        ("heater", "main/b/2", "heater is no way"),
        ("main/a/1", "main/a/1", "on main/a/1 already"),
        ("main/a/2", "main/b/2", "No cable lands on main/a/2"),
        ("main/a/1", "main/b/1", "C2 lands on main/b/1 already"),
        ("main/a/1", "main/a/3", "it is blank"),
        ("main/a/1", "main/a/4", "Nothing says that main/a/4 is spare"),
        ("main/a/main", "main/a/2", "is a main"),
        ("main/a/1", "main/a/5", "main/a/1 opens L1 and main/a/5 opens L1, N"),
        ("main/a/1", "low/a/1", "and low/a/1 of dc (12 V)"),
    ],
)
def test_where_a_circuit_cannot_go(was: str, now: str, reason: str) -> None:
    boat = edited(
        TWO_SOURCES,
        _with_other_ways,
    )
    files = Style(3).files(boat)
    with pytest.raises(EditError) as refused:
        to_way(files, vessel(files), was, now)
    assert reason in refused.value.reason
    assert refused.value.remedy
