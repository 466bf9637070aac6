"""The record itself: what must not rest on an assumption."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

from vesselspec.model.devices import Device, Generator, Inverter, InverterCharger, IsolationTransformer, Selector
from vesselspec.model.items import Item
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import COMMON_PRACTICE, Lacks, Open, Says, Sound, rule
from vesselspec.rules.cores import cables_named, enclosures
from vesselspec.rules.findings import CAUTION, NOTICE, At
from vesselspec.rules.past import SEEN, Altered, Past, holders

_MOST_NAMED = 6
#: What is not judged where nobody looked back: no entry by itself, but the record as a whole.
_RECORD = "record"


@rule(
    "assumed-not-traced",
    CAUTION,
    title="Something that lives depend on is recorded on an assumption",
    why="What this record says of lines on DC terminals, of joined neutrals and of sources that meet is worth no more "
    "than what nobody has looked at.",
    remedy="Make every source dead and prove it, trace it with instrument or eye, and record how it is known.",
    source=COMMON_PRACTICE,
    needs="how an entry is known",
)
def assumed(boat: Boat) -> Iterator[Says | Sound]:
    """Cables at devices with AC and DC sides, joints of neutral and earth in sources, and selectors."""
    for place, landed in enclosures(boat).items():
        if place not in boat.vessel.devices:
            continue
        cables = dict.fromkeys(each.cable for each in landed)
        guessed = [key for key in cables if _how(boat.vessel.cables[key]) == "assumed"]
        if guessed:
            yield Says(
                items=(place, *guessed),
                at=At("cables", guessed[0], ("evidence",)),
                what=f"where {cables_named(guessed)} "
                f"{'lands' if len(guessed) == 1 else 'land'} on {boat.vessel.name_of(place)}, which has AC and DC "
                "terminals, is assumed",
            )
        elif all(_how(boat.vessel.cables[key]) for key in cables):
            yield Sound(place)
    for key, device in boat.vessel.devices.items():
        what = _depends_on(device)
        if what is None or _how(device) is None:
            continue
        if _how(device) == "assumed":
            yield Says(
                items=(key,),
                at=At("devices", key, ("evidence",)),
                what=f"{what} of {boat.vessel.name_of(key)} is assumed",
                arguments=(what,),
            )
        else:
            yield Sound(key)


def _how(item: Item) -> str | None:
    return item.evidence.how if item.evidence is not None else None


def _depends_on(device: Device) -> str | None:
    """What of a device decides whether sources meet or a neutral floats."""
    if isinstance(device, Selector):
        return "the table of positions and poles"
    if isinstance(device, Generator | Inverter | IsolationTransformer) and device.neutral_earth_bond is not None:
        return "the joint of neutral and earth"
    if isinstance(device, InverterCharger) and device.neutral_earth_relay is not None:
        return "the relay between neutral and earth"
    return None


#: Fields that decide what is connected with what: by them alone the rules of DANGER find what they find.
WIRING = frozenset(
    {
        "array_system",
        "between",
        "cores",
        "dc_system",
        "device",
        "earth_through",
        "from",
        "in_system",
        "inputs",
        "isolated",
        "mounted_on",
        "neutral",
        "neutral_bar",
        "neutral_earth_bond",
        "neutral_earth_relay",
        "out_system",
        "outputs",
        "poles",
        "positions",
        "secondary_poles",
        "secondary_system",
        "synchronised",
        "system",
        "to",
        "type",
    }
)


@rule(
    "evidence-older-than-change",
    NOTICE,
    title="Something was changed after its evidence was given",
    why="The entry still bears the evidence of the time before: it looks known, and what is there now is only what "
    "somebody wrote.",
    remedy="Look at it on board as it is now, and record how it is known and since when.",
    source=COMMON_PRACTICE,
    needs="evidence with its day, and the record's history (`survey --history`)",
)
def older(boat: Boat) -> Iterator[Says | Lacks | Sound | Open]:
    """One finding for each panel or space, and one more for what decides what is connected."""
    past = boat.past
    if past is None:
        yield Open(_RECORD)
        return
    entries = {(collection, path): item for collection, path, item in boat.vessel.items() if collection in SEEN}
    known = {key: next((e for at in holders(*key) if (e := entries[at].evidence)), None) for key in entries}
    altered = {(each.collection, each.path): each for each in past.altered}
    unknown = [
        path
        for (collection, path), evidence in known.items()
        if evidence is not None and (collection, path) not in altered and _before(past, evidence.when)
    ]
    if unknown:
        since = f"its history before {past.begins}" if past.begins else past.missing
        yield Lacks(item=_RECORD, at=At("vessel", _RECORD), missing=since, stops=tuple(unknown))
    yield from (Sound(path) for (_, path), evidence in known.items() if evidence is not None and path not in unknown)
    groups: dict[tuple[str, bool], list[Altered]] = {}
    for each in altered.values():
        wiring = not WIRING.isdisjoint(field.partition("/")[0] for field in each.fields)
        groups.setdefault((_where(boat, each), wiring), []).append(each)
    for (where, wiring), every in groups.items():
        yield _changed(boat, where, wiring, every)


def _before(past: Past, day: datetime.date | None) -> bool:
    """Whether it is not known what was changed after a day."""
    return bool(past.missing) or (past.begins is not None and (day is None or day < past.begins))


def _where(boat: Boat, each: Altered) -> str:
    """The panel that an entry is in or lands in, else its space; empty where neither is known."""
    cable = boat.vessel.cables.get(each.path)
    places = (each.path,) if cable is None else (cable.from_, cable.to)
    for place in places:
        if place.split("/", 1)[0] in boat.vessel.panels:
            return place.split("/", 1)[0]
    spaces = (boat.vessel.space_of(place) for place in places)
    return next((f"spaces/{space.id}" for space in spaces if space is not None), "")


def _changed(boat: Boat, where: str, wiring: bool, every: list[Altered]) -> Says:
    first = every[0]
    items = tuple(each.path for each in every)
    told = [_told(each) for each in every]
    shown = ", ".join(f"{each.path} ({_fields(each)})" for each in every[:_MOST_NAMED])
    shown += f" and {len(items) - _MOST_NAMED} more" if items[_MOST_NAMED:] else ""
    place = boat.vessel.name_of(where.removeprefix("spaces/"))
    return Says(
        items=items,
        at=At(first.collection, first.path),
        what=told[0]
        if len(every) == 1
        else f"{f'at {place}, ' if where else ''}{len(every)} entries were changed after their evidence: {shown}",
        signal_word=CAUTION if wiring else None,
        consequences=() if len(every) == 1 else tuple(told),
        arguments=("wiring" if wiring else "other",),
        group=(where,) if where else (),
        culprits=items,
    )


def _told(each: Altered) -> str:
    by = f"{each.revision} of {each.day}" if each.revision else "files that are not committed"
    when = f" on {each.evidence.when}" if each.evidence.when is not None else ""
    return f"{each.path} was {each.evidence.how}{when}, and {by} changed its {_fields(each)} after that"


def _fields(each: Altered) -> str:
    return ", ".join(dict.fromkeys(field.partition("/")[0].replace("_", " ") for field in each.fields))
