"""Cables whose look says AC and that carry DC, or the other way round."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from vesselspec.model.vessel import Vessel
from vesselspec.rules.boat import Boat, kept
from vesselspec.rules.book import COMMON_PRACTICE, Says, Sound, rule
from vesselspec.rules.cores import AC, DC, WORDS, cables_named, enclosures, kinds, worn
from vesselspec.rules.findings import CAUTION, WARNING
from vesselspec.standards import allowed_colours, cited, normalise_colour

_NAMED = {"ac": "AC", "dc": "DC"}


@dataclass(frozen=True, slots=True)
class Disguise:
    """A cable that looks like one kind and carries the other."""

    looks: str  # ac | dc
    carries: str
    #: The colours that make the look; empty where only its type says so, and its ends are marked otherwise.
    colours: tuple[str, ...]
    #: Those of them that are seen only where the sheath ends, on cores that are cut back and without which the
    #: cable would look like what it carries.
    cut_back: tuple[str, ...] = ()


def disguised(boat: Boat) -> Mapping[str, Disguise]:
    """The cables whose landed colours, all together, say the other kind."""
    return kept(boat, "_disguised", lambda each: {k: d for k, d in _disguises(each) if d.colours and not d.cut_back})


def _disguises(boat: Boat) -> Iterator[tuple[str, Disguise]]:
    for cable in worn(boat):
        carried = kinds(boat, cable)
        if len(carried) != 1:
            continue
        (carries,) = carried
        runs, practice = boat.network.runs[cable], boat.vessel.about.practice
        landed = {colour: None for each in worn(boat)[cable] if (colour := each.colour)}
        every = {colour: None for run in runs if run.colour and (colour := normalise_colour(run.colour))}
        seen, look = (_look(practice, set(each)) if len(runs) > 1 else None for each in (landed, every))
        cut_back = tuple(colour for colour in every if colour not in landed) if seen == carries else ()
        if seen not in (None, carries):
            if look == seen or len(every) == len(landed):
                yield cable, Disguise(str(seen), carries, tuple(landed))
        elif look not in (None, carries):
            yield cable, Disguise(str(look), carries, tuple(every), cut_back)
        elif (kind := _type_kind(boat.vessel, cable)) not in (None, carries):
            yield cable, Disguise(str(kind), carries, ())


def _look(practice: str, colours: set[str]) -> str | None:
    """The kind of cable that a set of colours stands for as a whole, where it does for one."""

    def any_of(*functions: str) -> bool:
        return any(colours & set(allowed_colours(practice, function).colours) for function in functions)

    earth, neutral = any_of("protective"), any_of("ac-neutral")
    if neutral and any_of("ac-line-1") and (earth or "red" not in colours):
        return "ac"
    positive = "red" in colours and any_of("dc-negative")
    negative = "yellow" in colours and any_of("dc-positive")
    return "dc" if (positive or negative) and not earth and not neutral else None


def _type_kind(vessel: Vessel, cable: str) -> str | None:
    kind = vessel.cable_type(vessel.cables[cable])
    poles = [str(core.from_ or core.to).rpartition(":")[2] for _, core in kind.cores] if kind is not None else []
    dc = [pole in ("DC+", "DC-") for pole in poles if pole in ("L1", "L2", "L3", "N", "DC+", "DC-")]
    if len(dc) < 2 or len(set(dc)) != 1:
        return None
    return "dc" if dc[0] else "ac"


@rule(
    "cable-of-other-kind",
    WARNING,
    title="A cable looks like AC and carries DC, or the other way round",
    why="Whoever opens the place trusts its look: it is landed on the wrong side of a charger, or touched as if it "
    "were low voltage.",
    remedy="Make every source of both dead and prove it, then exchange the cable for one of its own kind; until then "
    "mark it along its run and at both ends with what it carries.",
    source="as named in the finding",
    needs="the colours of a cable's cores, or its type's, and where they land",
)
def other_kind(boat: Boat) -> Iterator[Says | Sound]:
    """Cables whose colours or usual cores say the other kind."""
    found = dict(_disguises(boat))
    for cable in worn(boat):
        each = found.get(cable)
        if each is None:
            if kinds(boat, cable) and all(core.colour for core in worn(boat)[cable]):
                yield Sound(cable)
            continue
        carried = " and ".join(dict.fromkeys(WORDS[c.function] for c in worn(boat)[cable] if c.function in (*AC, *DC)))
        looks = "an AC supply cable" if each.looks == "ac" else "a DC pair"
        rules = [
            allowed_colours(boat.vessel.about.practice, function)
            for function in (("ac-line-1", "ac-neutral") if each.looks == "ac" else ("dc-positive", "dc-negative"))
        ]
        memory = any(each.from_memory for each in rules)
        usual = boat.vessel.cables[cable].type
        yield Says(
            items=(cable,),
            at=boat.core_at(cable, *(core.run.name for core in worn(boat)[cable])),
            what=f"cable {cable} wears {', '.join(each.colours)}, the look of {looks}, and carries {carried}"
            + (f"; {' and '.join(each.cut_back)} are cut back" if each.cut_back[1:] else "")
            + (f"; {each.cut_back[0]} is cut back" if len(each.cut_back) == 1 else "")
            if each.colours
            else f"cable {cable} is of type {usual}, {looks}, and carries {carried}; only the marks at its ends say so",
            signal_word=None if each.colours and not each.cut_back and not memory else CAUTION,
            source=cited("; ".join(dict.fromkeys(each.source for each in rules)), memory, "part from memory")
            if each.colours
            else COMMON_PRACTICE,
            consequences=tuple(_beside(boat, cable, each)),
        )


def _beside(boat: Boat, cable: str, disguise: Disguise) -> Iterator[str]:
    """The cables of the kind that it looks like at the places where it ends."""
    for place, landed in enclosures(boat).items():
        others = {
            each.cable: None
            for each in landed
            if each.cable != cable
            and each.core.colour in disguise.colours
            and kinds(boat, each.cable) == {disguise.looks}
        }
        if others and any(each.cable == cable for each in landed):
            kind = _NAMED[disguise.looks]
            yield f"at {boat.vessel.name_of(place)} it ends beside {kind} {cables_named(others)} of the same colours"
