"""The record against itself: references that lead nowhere, and entries that nothing refers to."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator
from typing import Any

from vesselspec.model.devices import EarthPoint, Selector
from vesselspec.model.forms import ListOf, Nested, Reference, specs
from vesselspec.model.items import Item
from vesselspec.network.graph import Unlanded
from vesselspec.network.state import CLOSED, OPEN
from vesselspec.physics.steady.charging import ChargingSource
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import Says, Sound, rule
from vesselspec.rules.findings import NOTICE, WARNING, At


def _references(item: Item) -> Iterator[tuple[tuple[str, ...], str, tuple[str, ...]]]:
    """Yield (field path, id referred to, collections it may be in) of everything an entry refers to."""
    for name, key, form in _referring(type(item)):
        yield from _in(form, getattr(item, name), (key,))


_REFERRING: dict[type, tuple[tuple[str, str, Any], ...]] = {}


def _referring(cls: type) -> tuple[tuple[str, str, Any], ...]:
    """(attribute, key, form) of the fields of a class that can refer to something, themselves or inside."""
    if cls not in _REFERRING:
        _REFERRING[cls] = tuple((name, spec.key, spec.form) for name, spec in specs(cls) if _refers(spec.form))
    return _REFERRING[cls]


def _refers(form: Any) -> bool:
    if isinstance(form, ListOf):
        return _refers(form.of)
    return isinstance(form, Reference) or (isinstance(form, Nested) and bool(_referring(form.of)))


def _in(form: Any, value: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], str, tuple[str, ...]]]:
    if value is None:
        return
    if isinstance(form, Reference):
        yield path, value, form.collections
    elif isinstance(form, ListOf):
        for each in value:
            yield from _in(form.of, each, path)
    elif isinstance(form, Nested):
        for name, key, inner in _referring(form.of):
            yield from _in(inner, getattr(value, name), (*path, key))


def _near(word: str, choices: list[str]) -> str | None:
    near = difflib.get_close_matches(word, choices, n=1, cutoff=0.6)
    return f"Did you mean `{near[0]}`?" if near else None


@rule(
    "dangling-reference",
    WARNING,
    title="The record refers to something that is not in it",
    why="What hangs on that reference is missing from the network: neither its dangers nor its loads are judged.",
    remedy="Correct the spelling, or add the missing entry.",
    source="this program",
    needs="nothing more than the entries themselves",
)
def dangling(boat: Boat) -> Iterator[Says | Sound]:
    """Ids, places and terminals that do not exist."""
    vessel = boat.vessel
    for collection, path, item in vessel.items():
        yield Sound(path)
        for fields, target, collections in _references(item):
            if not any(target in vessel.collection(name) for name in collections):
                known = [key for name in collections for key in vessel.collection(name)]
                yield Says(
                    items=(path,),
                    at=At(collection, path, fields),
                    what=f"{path} refers to {target} as its {'/'.join(fields)}; there is no such entry in "
                    + " or ".join(collections),
                    remedy=_near(target, known),
                    arguments=("/".join(fields), target),
                )
    yield from _off_terminals(boat)
    yield from _in_conditions(boat)
    yield from _in_interlocks(boat)
    yield from _in_selectors(boat)
    for path, (panel, section) in vessel.sections.items():
        if section.neutral_bar is not None and f"{panel.id}/{section.neutral_bar}" not in vessel.sections:
            yield Says(
                items=(path,),
                at=boat.at(path, "neutral_bar"),
                what=f"section {path} shares the neutral bar of {section.neutral_bar}, which {panel.id} does not have",
                arguments=("neutral_bar", section.neutral_bar),
            )


def _off_terminals(boat: Boat) -> Iterator[Says]:
    """Ends and cores that cannot land where they are said to; the cores of one end that fail alike are one slip."""
    vessel = boat.vessel
    alike: dict[tuple[str, str, str], list[Unlanded]] = {}
    for each in boat.network.unlanded:
        cable = vessel.cables.get(each.cable)
        own = "" if cable is None else cable.from_ if each.end == "from" else cable.to
        place = each.said.rpartition(":")[0] or own
        if each.clash or place in boat.systemless or place.rpartition("/")[0] in boat.systemless:
            continue  # AC among DC terminals, or no system on record: told as that
        alike.setdefault((each.cable, each.end, place if each.core else f"={each.said}"), []).append(each)
    for (key, end, _), found in alike.items():
        first, cores = found[0], [each.core for each in found if each.core]
        fields = ("cores", cores[0]) if cores else (end,)
        at = boat.core_at(key, *cores) if cores else boat.at(key, *fields)
        if key in vessel.devices:
            at = boat.at(key, "mounted_on")
        who = f"{'core' if len(cores) == 1 else 'cores'} {' and '.join(cores)}" if cores else f"its {end} end"
        said, poles = " and ".join(each.said for each in found), " or ".join(each.pole for each in found)
        reason = re.sub(r"( no (?:terminal|bar) )[A-Z0-9+-]+", rf"\g<1>{poles}", first.reason) if cores else ""
        yield Says(
            items=(key,),
            at=at,
            what=f"{key}: {who} cannot land on {said}: {reason or first.reason}",
            arguments=(*cores, end, first.said) if cores else ("", end, first.said),
        )


def _in_conditions(boat: Boat) -> Iterator[Says]:
    vessel = boat.vessel
    for key, condition in vessel.conditions.items():
        for load, _ in condition.demand:
            if load not in vessel.loads and load not in vessel.devices:
                yield Says(
                    items=(key,),
                    at=At("conditions", key, ("demand", load)),
                    what=f"condition {key} counts {load}, which is neither a load nor a device",
                    remedy=_near(load, [*vessel.loads, *vessel.devices]),
                    arguments=("demand", load),
                )
        for source, _ in condition.charging:
            if not isinstance(vessel.devices.get(source), ChargingSource):
                charging = [name for name, device in vessel.devices.items() if isinstance(device, ChargingSource)]
                yield Says(
                    items=(key,),
                    at=At("conditions", key, ("charging", source)),
                    what=f"condition {key} gives a charging stage for {source}, which charges nothing or is not there",
                    remedy=_near(source, charging),
                    arguments=("charging", source),
                )
        for place, word in condition.positions:
            choice = boat.network.choices.get(place)
            if choice is not None:
                allowed: tuple[str, ...] = choice.states
            elif place in vessel.ways or place in vessel.devices:
                allowed = (OPEN, CLOSED)
            else:
                yield Says(
                    items=(key,),
                    at=At("conditions", key, ("positions", place)),
                    what=f"condition {key} gives a position for {place}, which has none or is not there",
                    remedy=_near(place, [*boat.network.choices, *vessel.ways, *vessel.devices]),
                    arguments=("positions", place),
                )
                continue
            if word not in allowed:
                yield Says(
                    items=(key, place),
                    at=At("conditions", key, ("positions", place)),
                    what=f"condition {key} puts {place} to {word}; it has {', '.join(allowed)}",
                    remedy=_near(word, list(allowed)),
                    arguments=("positions", word),
                )


def _in_selectors(boat: Boat) -> Iterator[Says]:
    for key, device in boat.vessel.devices.items():
        if not isinstance(device, Selector):
            continue
        for position, inputs in device.positions:
            for name in inputs:
                if name not in device.inputs:
                    yield Says(
                        items=(key,),
                        at=boat.at(key, "positions", position),
                        what=f"position {position} of {key} connects {name}, which is none of its inputs "
                        f"({', '.join(device.inputs)})",
                        remedy=_near(name, list(device.inputs)),
                        arguments=("positions", position, name),
                    )


def _in_interlocks(boat: Boat) -> Iterator[Says]:
    switches = {link.switch for link in boat.network.links} if boat.vessel.interlocks else set()
    for key, lock in boat.vessel.interlocks.items():
        for member in lock.between:
            if member not in switches:
                yield Says(
                    items=(key,),
                    at=boat.at(key, "between"),
                    what=f"interlock {key} holds {member}, which is no breaker or switch with contacts",
                    remedy=_near(member, [*boat.vessel.ways, *boat.vessel.devices]),
                    arguments=(member,),
                )


@rule(
    "unused-id",
    NOTICE,
    title="Nothing refers to this entry",
    why="It is either not connected on board or its connection is not recorded; both mislead.",
    remedy="Record what it is connected to, mark a way as `spare: true`, or delete the entry.",
    source="this program",
    needs="nothing more than the entries themselves",
)
def unused(boat: Boat) -> Iterator[Says | Sound]:
    """Spaces, systems, types and bundles that nothing names; devices, loads and ways without a cable."""
    from vesselspec.rules.labels import mislabelled  # noqa: PLC0415 - no other rule here needs it

    vessel = boat.vessel
    meant = {each.meant for each in boat.network.unlanded}  # a slip of the pen, told as such
    named: set[tuple[str, str]] = set()
    for _, _, item in vessel.items():
        for _, target, collections in _references(item):
            named.update((name, target) for name in collections)
    for name in ("spaces", "systems", "cable_types", "bundles"):
        for key in vessel.collection(name):
            yield Sound(f"{name}/{key}")
            if (name, key) not in named:
                yield Says(items=(f"{name}/{key}",), at=At(name, key), what=f"nothing refers to {name}/{key}")
    for collection in ("devices", "loads"):
        for key, device in vessel.collection(collection).items():
            yield Sound(key)
            if not _reached(boat, key) and key not in meant and not isinstance(device, EarthPoint):
                yield Says(items=(key,), at=At(collection, key), what=f"no cable lands on {vessel.name_of(key)}")
    for path, (_, _, way) in vessel.ways.items():
        if way.device == "blank" or way.spare:
            continue
        yield Sound(path)
        if not _reached(boat, path) and path not in mislabelled(boat):
            yield Says(
                items=(path,),
                at=boat.at(path),
                what=f"no cable lands on way {vessel.name_of(path)}, and it is not marked as spare",
            )


def _reached(boat: Boat, head: str) -> bool:
    """Whether something is connected there, or a cable ends there whose cores nobody recorded."""
    return (
        _connected(boat, head)
        or head in boat.cables_at
        or any(place.startswith(f"{head}/") for place in boat.cables_at)
    )


def _connected(boat: Boat, head: str) -> bool:
    for terminal in boat.network.within(head):
        for number in boat.network.at[terminal]:
            link = boat.network.links[number]
            if link.kind == "core":
                return True
            far = boat.network.terminals[link.other(terminal)].place.split("/", 1)[0]
            if link.kind == "joint" and far != head.split("/", 1)[0]:
                return True  # bolted to something else
    return False
