"""What nobody has recorded, as work: ranked by what it keeps from being judged, grouped by where one has to go."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from vesselspec.model.items import UNTRACED
from vesselspec.model.vessel import Vessel, natural
from vesselspec.record import Place
from vesselspec.rules.boat import Boat, kept
from vesselspec.rules.book import RULES
from vesselspec.rules.findings import NOTICE, SIGNAL_WORDS, At, Survey
from vesselspec.rules.missing import Kind, kind_of
from vesselspec.rules.photographs import NAMED_ALONE, named
from vesselspec.rules.potentials import FOLLOW_CORES, NO_CORES

ASSUMED = "whether it is as recorded"
#: Where what is found out at a desk stands, not on board.
CONDITIONS, ELSEWHERE = "Operating conditions", "Anywhere on board"


@dataclass(frozen=True)
class Unknown:
    """One thing to find out: for an item, what is missing, and which rules wait for it, the gravest first."""

    item: str
    name: str
    place: Place
    where: str
    kind: Kind
    missing: tuple[str, ...]
    rules: tuple[str, ...]
    #: Pictures that are there and may show it: the item's own, else those of the panels that hold or receive it.
    photos: tuple[str, ...] = ()

    @property
    def guards_life(self) -> bool:
        """Whether a rule that guards life waits for it."""
        return any(RULES[rule].guards_life for rule in self.rules)

    @property
    def signal_word(self) -> str:
        """The gravest that a rule could say which waits for it."""
        return min((RULES[rule].signal_word for rule in self.rules), key=SIGNAL_WORDS.index, default=NOTICE)

    @property
    def order(self) -> tuple[object, ...]:
        """What holds back the gravest rules first, then what holds back the most."""
        return not self.guards_life, SIGNAL_WORDS.index(self.signal_word), -len(self.rules), natural(self.item)


@dataclass(frozen=True)
class Stop:
    """Somewhere on board with all that is to be found out there."""

    where: str
    unknowns: tuple[Unknown, ...]


def unknowns_of(boat: Boat, survey: Survey) -> tuple[Unknown, ...]:
    """Everything that is not recorded and that somebody could find out, the most pressing first."""
    waiting: dict[tuple[str, str], dict[str, set[str]]] = {}
    places: dict[str, Place] = {}
    for item, missing, place, rules in _all(boat, survey):
        of_item = waiting.setdefault((item, kind_of(missing).key), {})
        of_item.setdefault(missing, set()).update(rules)
        places.setdefault(item, place)
    found = []
    for (item, _), phrases in waiting.items():
        waits = tuple(sorted(set().union(*phrases.values()), key=_gravest))
        kind = kind_of(next(iter(phrases)))
        name, where = called(boat.vessel, item), where_of(boat.vessel, item)
        photos = pictures_of(boat, item)
        found.append(Unknown(item, name, places[item], where, kind, tuple(phrases), waits, photos))
    return tuple(sorted(found, key=lambda each: each.order))


def stops_of(unknowns: tuple[Unknown, ...]) -> tuple[Stop, ...]:
    """The same, gathered by where one has to go; first where the most pressing is."""
    found: dict[str, list[Unknown]] = {}
    for each in unknowns:
        found.setdefault(each.where, []).append(each)
    return tuple(Stop(where, tuple(held)) for where, held in found.items())


def _gravest(rule: str) -> tuple[bool, int, str]:
    return not RULES[rule].guards_life, SIGNAL_WORDS.index(RULES[rule].signal_word), rule


def _all(boat: Boat, survey: Survey) -> Iterator[tuple[str, str, Place, tuple[str, ...]]]:
    """(item, what is missing, place, rules that wait): what rules lack, ends that nobody traced, what is assumed."""
    for each in survey.cannot_judge:
        yield each.item, each.missing, each.place, (each.rule,)
    for key, cable in boat.vessel.cables.items():
        ends = [end for end, place in (("from", cable.from_), ("to", cable.to)) if place == UNTRACED]
        cores = [name for name, core in boat.vessel.cores_of(cable) if UNTRACED in (core.from_, core.to)]
        waits = ("cable-end-untraced", *FOLLOW_CORES)
        for end in ends:
            yield key, f"where its {end} end lands", boat.place(At("cables", key, (end,))), waits
        for name in cores if not ends else ():
            yield key, f"where core {name} lands", boat.place(At("cables", key, ("cores", name))), waits
    for key in boat.coreless:
        yield key, NO_CORES, boat.place(At("cables", key)), FOLLOW_CORES
    for key, lacking in boat.systemless.items():
        yield from ((key, missing, boat.place(boat.at(key)), FOLLOW_CORES) for missing in lacking)
    for collection, path, item in boat.vessel.items():
        if item.evidence is not None and item.evidence.how == "assumed":
            named = path if collection in NAMED_ALONE else f"{collection}/{path}"
            yield named, ASSUMED, boat.place(At(collection, path, ("evidence",))), ()


def pictures_of(boat: Boat, item: str) -> tuple[str, ...]:
    """Pictures that may show an item before a cover comes off."""
    vessel = boat.vessel
    shown = kept(boat, "_pictures", _pictures)
    if item in shown:
        return shown[item]
    cable = vessel.cables.get(item)
    places = (item,) if cable is None else (cable.from_, cable.to)
    holders = ("/".join(place.split("/")[:depth]) for place in places for depth in (3, 2, 1))
    return tuple(dict.fromkeys(photo for holder in holders for photo in shown.get(holder, ())))


def _pictures(boat: Boat) -> dict[str, tuple[str, ...]]:
    """Entry → its pictures that are there."""
    found: dict[str, dict[str, None]] = {}
    for each in named(boat):
        if each.is_picture and each.path in (boat.names or ()):
            found.setdefault(each.item, {})[each.path] = None
    return {item: tuple(paths) for item, paths in found.items()}


def called(vessel: Vessel, item: str) -> str:
    """How somebody finds an item on board: a cable by its ends, anything else by its name."""
    cable = vessel.cables.get(item)
    if cable is None:
        return vessel.name_of(item)
    return f"cable {vessel.name_of(item)}, {vessel.name_of(cable.from_)} to {vessel.name_of(cable.to)}"


def where_of(vessel: Vessel, item: str) -> str:
    """Where one has to go for an item: the panel that it is in or ends at, else its space."""
    if item in vessel.conditions or item.startswith("days/"):
        return CONDITIONS
    cable = vessel.cables.get(item)
    places = (item,) if cable is None else (cable.from_, cable.to)
    for place in places:
        panel = vessel.panels.get(place.split("/", 1)[0])
        if panel is not None:
            space = vessel.space_of(panel.id)
            return vessel.name_of(panel.id) + (f", {space.name or space.id}" if space is not None else "")
    for place in places:
        space = vessel.space_of(place)
        if space is not None:
            return space.name or space.id
    return ELSEWHERE
