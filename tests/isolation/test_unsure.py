"""Records with a hole in them, each of the kind that has hurt somebody: the sheet must refuse it or say it aloud."""

from __future__ import annotations

import pytest

from tests.isolation.test_sheets import EXAMPLE, opened, sheet
from vesselspec.cli.main import run
from vesselspec.isolation import Sheet
from vesselspec.record import read
from vesselspec.revisions import read_folder
from vesselspec.rules import Boat


def damaged(*edits: tuple[str, str, str]) -> Boat:
    """The example with passages of its files replaced."""
    files = dict(read_folder(EXAMPLE).files)
    for name, old, new in edits:
        said = files[name].decode()
        assert said.count(old) == 1, (name, old)
        files[name] = said.replace(old, new).encode()
    record = read(files)
    assert record.vessel is not None, record.problems
    return Boat(record.vessel, record.places)


def entry(name: str, key: str) -> str:
    """The text of one entry of the example: its first line and all that is indented further."""
    said = (EXAMPLE / name).read_text(encoding="utf-8")
    first, *rest = said[said.index(f"  {key}: ") :].splitlines(keepends=True)
    more = []
    for line in rest:
        if not line.startswith("   "):
            break
        more.append(line)
    return "".join((first, *more))


def hazards(found: Sheet) -> str:
    return "\n".join(f"{each.says} → {each.check}" for each in found.hazards)


def refusals(found: Sheet) -> str:
    return "\n".join(f"{each.says} → {each.check}" for each in found.refusals)


CABLES = "cables-ac.yaml"
C102 = "  C102: {"


def test_an_untraced_end_in_a_panel_refuses() -> None:
    boat = damaged((CABLES, C102, "  C901: {from: ac-main/inverter/10, to: untraced, cores: {red: L2}}\n" + C102))
    assert not sheet(boat, "ac-main").declared
    assert not sheet(boat, "ac-main/inverter/2").declared, "the cover that comes off is the same"
    assert "C901" in refusals(sheet(boat, "ac-main"))
    assert sheet(boat, "ac-galley").declared
    assert "untraced elsewhere on board: C901" in hazards(sheet(boat, "ac-galley"))


def test_a_second_inlet_on_the_same_section_is_unplugged_too() -> None:
    inlet = "  shore-3: {kind: shore-inlet, space: aft-deck, system: ac-120-240, rating: 50 A}\n  shore-2:\n"
    cable = "  C901: {type: ac-6-4, from: shore-3, to: ac-main/shore-and-generator, length: 5 m}\n"
    found = sheet(damaged(("sources.yaml", "  shore-2:\n", inlet), (CABLES, C102, cable + C102)), "ac-main")
    assert {("shore-1", "unplug"), ("shore-3", "unplug")} <= set(opened(found))
    assert any(step.says.startswith("shore-3: unplug") for step in found.steps)


def test_an_inlet_of_which_no_cable_is_recorded_is_kept_off_all_the_same() -> None:
    inlet = "  shore-3: {kind: shore-inlet, space: aft-deck, system: ac-120-240, rating: 50 A}\n  shore-2:\n"
    found = sheet(damaged(("sources.yaml", "  shore-2:\n", inlet)), "ac-main")
    assert ("shore-3", "unplug") in opened(found)
    assert "no conductor from it recorded: shore-3" in hazards(found)


def test_a_generator_without_a_recorded_start_battery() -> None:
    boat = damaged(
        ("sources.yaml", "    start_battery: generator-start-bank\n    start_switch: generator-start-switch\n", "")
    )
    found = sheet(boat, "generator-1")
    assert "start battery switch of generator-1 (Generator 1, 12 kVA) is not recorded" in hazards(found)
    assert any("Take the negative cable off the start battery (not recorded)" in step.says for step in found.steps)
    assert found.stays_live[0].sources == ()


@pytest.mark.parametrize(("lock", "held"), [("lockable: false, ", "nothing can lock it"), ("", "if it can be locked")])
def test_a_start_switch_that_no_lock_is_known_to_hold(lock: str, held: str) -> None:
    old = (
        "name: Generator 1 start battery switch, space: engine-room, system: dc-12, poles: [DC+],\n     rating: 300 A, "
    )
    found = sheet(damaged(("dc.yaml", f"{old}lockable: true, ", old + lock)), "generator-1")
    (said,) = (step.says for step in found.steps if step.at == "generator-start-switch")
    assert held in said
    assert "take the negative cable off generator-start-bank" in said


def test_a_breaker_of_unknown_poles_is_no_barrier() -> None:
    way = '"1":  {label: Main,                    poles: [L1, L2], rating: 50 A,'
    found = sheet(damaged(("ac.yaml", way, '"1":  {label: Main, rating: 50 A,')), "ac-main/inverter")
    assert "which poles it opens is not recorded: ac-main/inverter/1" in hazards(found)
    assert "ac-main/inverter/1" not in {step.at for step in found.steps}


@pytest.mark.parametrize("place", ["pilothouse-combined", "pilothouse-combined/ac", "pilothouse-inverter", "C116"])
def test_an_inverter_of_unknown_feed_refuses(place: str) -> None:
    """No DC cable recorded is no proof that there is none."""
    found = sheet(damaged(("cables-dc.yaml", entry("cables-dc.yaml", "D113"), "")), place)
    assert not found.declared
    assert "what feeds pilothouse-inverter is not recorded" in refusals(found)
    assert "pilothouse-inverter" in {supply.id for supply in found.supplies if supply.reaches}


@pytest.mark.parametrize("place", ["ac-main", "ac-main/inverter", "C113"])
def test_an_inverter_charger_does_not_feed_itself(place: str) -> None:
    """Its charger makes its own DC terminals live; the battery that nobody recorded is there with shore unplugged."""
    found = sheet(damaged(("cables-dc.yaml", entry("cables-dc.yaml", "D112"), "")), place)
    assert not found.declared
    assert "what feeds inverter-charger is not recorded" in refusals(found)


def test_a_converter_of_unknown_feed_stays_live_beside_another_place() -> None:
    found = sheet(damaged(("cables-dc.yaml", entry("cables-dc.yaml", "D113"), "")), "pilothouse-combined/dc-24")
    assert found.declared
    assert "pilothouse-combined/ac" in {each.place for each in found.stays_live}


def test_what_only_an_exclusive_choice_keeps_away_is_told_with_a_barrier() -> None:
    boat = damaged()
    generator = sheet(boat, "generator-1")
    assert "only source-selector keeps shore-1 (Shore inlet 1, 120/240 V 50 A) away" in hazards(generator)
    assert "generator-1-breaker" in {step.at for step in generator.steps if step.group.startswith("Open the local")}
    section = sheet(boat, "ac-main/shore-and-generator")
    assert "only the transfer relay of inverter-charger keeps its output away" in hazards(section)
    # The whole panel's sheet makes all of them dead: nothing is left to stick.
    assert "sticks" not in hazards(sheet(boat, "ac-main"))


def test_what_safety_depends_on_and_goes_dead_is_told() -> None:
    said = hazards(sheet(damaged(), "pilothouse-combined"))
    assert "safety depends on it, and it goes dead with this: horn, steering-control" in said
    assert "safety depends" not in hazards(sheet(damaged(), "C204"))


@pytest.mark.parametrize("form", ["text", "markdown", "html"])
def test_what_to_know_stands_before_what_to_do(form: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["isolate", "ac-main", str(EXAMPLE), "--output", form]) == 0
    page = " ".join(capsys.readouterr().out.split())
    told = ("STAYS LIVE IN THE SAME ENCLOSURE: nothing that is recorded.", "Check first", "Tell everybody on board")
    places = [page.index(each) for each in told]
    assert places == sorted(places)
