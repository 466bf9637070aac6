"""What keeps the boat's earth and neutral apart from the shore's, and where AC earth meets DC negative."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TypedDict

from vesselspec.model.devices import EarthPoint, GalvanicIsolator, Generator, IsolationTransformer, ShoreInlet
from vesselspec.network.graph import Link
from vesselspec.network.reach import Step
from vesselspec.network.zones import components
from vesselspec.rules.boat import Boat
from vesselspec.rules.bonds import has_line, left_joined, neutrals
from vesselspec.rules.book import COMMON_PRACTICE, Lacks, Says, Sound, rule
from vesselspec.rules.earth import earth_parts, steps_between
from vesselspec.rules.findings import CAUTION, NOTICE, WARNING, At

_METAL = ("steel", "aluminium")


class _Weight(TypedDict, total=False):
    """What of a finding depends on the hull."""

    signal_word: str
    consequences: tuple[str, ...]


@rule(
    "isolation-bypassed",
    WARNING,
    title="A conductor joins the two sides of an isolation transformer",
    why="The boat's neutral is then the shore's again: a joint of neutral and earth on board sends current through "
    "the hull and the water, and the transformer protects nobody.",
    remedy="Make every source dead and prove it, and take the conductor out that by-passes the transformer.",
    source=COMMON_PRACTICE,
    needs="the neutrals at both sides of every isolation transformer, core by core",
    guards_life=True,
)
def bypassed(boat: Boat) -> Iterator[Says | Sound]:
    """The primary's neutral reaches the secondary's in some permitted set of positions."""
    facts = neutrals(boat)
    found = facts.bypassed(boat.network)
    for key, device in boat.vessel.devices.items():
        has_neutral = (f"{key}/primary", "N") in boat.network.index
        if isinstance(device, IsolationTransformer) and has_neutral and key not in found:
            yield Sound(key)
    for key, (arrival, end) in found.items():
        way = facts.way(arrival, end)
        cables = [link for step in way.steps if (link := boat.network.links[step.link]).kind == "core"]
        added = next((link for link in cables if not has_line(boat, link.item)), None)
        through = None if added is not None else left_joined(boat, way)
        culprit, words = through or ((added or cables[-1]).item, ())
        yield Says(
            items=(culprit, key) if culprit != key else (key,),
            at=boat.at(culprit),
            what=f"the neutral of the primary of {boat.vessel.name_of(key)} comes to that of its secondary"
            + (f": {words[0]}" if words else f" by cable {culprit}"),
            witness=boat.told(way),
            positions=boat.positions(way.needs),
        )


@rule(
    "isolation-earth-passed",
    CAUTION,
    title="The shore's earth is joined to the boat's past an isolation transformer",
    why="The transformer keeps the shore's neutral away and lets the galvanic current through: metal under water "
    "corrodes as if it were not there, and a hull of metal is all metal under water. A fault ashore that lifts the "
    "shore's earth lifts the boat's with it.",
    remedy="Open the earth at the transformer where local codes allow it, or put a galvanic isolator into it.",
    source=COMMON_PRACTICE,
    needs="whether each isolation transformer passes the earth, and the earth cores on both its sides",
)
def earth_passed(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """A way for the earth from an inlet to the secondary that no galvanic isolator stands in."""
    inlets, isolators = list(_inlets(boat).values()), frozenset(_isolators(boat))
    part = earth_parts(boat, isolators)
    for key, device in boat.vessel.devices.items():
        if not isinstance(device, IsolationTransformer):
            continue
        primary, secondary = (boat.network.index.get((f"{key}/{side}", "PE")) for side in ("primary", "secondary"))
        from_shore = any(boat.reach.at(n) for n in boat.network.transformers[key][0])
        if primary is None or secondary is None or not from_shore:
            continue
        start = next((n for n in inlets if part[n] == part[secondary]), None)
        if start is None:
            if device.earth_through is None:
                yield Lacks(item=key, at=boat.at(key), missing="whether it passes the shore's earth through")
            else:
                yield Sound(key)
            continue
        steps = steps_between(boat, start, secondary, isolators)
        through = any(boat.network.links[step.link].item == key for step in steps)
        supply = {step.link for step in steps_between(boat, start, primary, isolators)}
        culprit = key if through else _beyond(boat, steps, supply).item
        by = "it" if through else f"cable {culprit}"
        yield Says(
            items=(key,) if through else (culprit, key),
            at=boat.at(culprit, *(("earth_through",) if through else ())),
            what=f"{boat.vessel.name_of(key)} stands between shore and boat, and {by} joins their earths with no "
            "galvanic isolator between them",
            witness=boat.way_told(start, steps),
            **_by_hull(boat),
        )


def _by_hull(boat: Boat) -> _Weight:
    """Galvanic current eats a metal hull itself: there it is more than a notice."""
    hull = boat.vessel.about.hull
    if hull in _METAL:
        return {"consequences": (f"the hull is of {hull}: all of it lies in the way of that current",)}
    unsaid = ("what the hull is of is not recorded; of steel or aluminium this would be a caution",)
    return {"signal_word": NOTICE, "consequences": () if hull is not None else unsaid}


def _beyond(boat: Boat, steps: Iterable[Step], meant: set[int]) -> Link:
    """The first core on a way that is not among those meant to be there; else its first core."""
    cores = [step.link for step in steps if boat.network.links[step.link].kind == "core"]
    return boat.network.links[next((number for number in cores if number not in meant), cores[0])]


def _inlets(boat: Boat) -> dict[str, int]:
    """The earth terminal of every shore inlet."""
    return {key: boat.network.index[key, "PE"] for key, d in boat.vessel.devices.items() if isinstance(d, ShoreInlet)}


def _isolators(boat: Boat) -> dict[str, tuple[int, int]]:
    """The two earth terminals of every galvanic isolator: shore side and boat side."""
    index = boat.network.index
    return {
        key: (index[f"{key}/shore", "PE"], index[f"{key}/boat", "PE"])
        for key, device in boat.vessel.devices.items()
        if isinstance(device, GalvanicIsolator)
    }


# --- galvanic isolators --------------------------------------------------------------------------


@rule(
    "galvanic-isolator-bypassed",
    CAUTION,
    title="The shore's earth comes to the boat's earth past the galvanic isolator",
    why="The galvanic current takes the way around: the isolator protects nothing, and metal under water corrodes.",
    remedy="Land the shore's earth on the isolator alone, and everything on board behind it.",
    source=COMMON_PRACTICE,
    needs="galvanic isolators and the earth cores of every inlet and panel",
)
def isolator_bypassed(boat: Boat) -> Iterator[Says | Sound]:
    """An inlet's earth that reaches the boat side of an isolator without passing one."""
    isolators = _isolators(boat)
    without = frozenset(isolators)
    part = earth_parts(boat, without)
    for inlet, start in _inlets(boat).items() if isolators else ():
        around = [k for k, (_, inside) in isolators.items() if part[inside] == part[start] and not _reversed(boat, k)]
        if not around:
            yield Sound(inlet)
            continue
        own = [key for key in around if part[isolators[key][0]] == part[start]]
        around.sort(key=lambda each: bool(_cores_at(boat, isolators[each][0])))  # one that nothing lands on is meant
        key, begin = (own[0], isolators[own[0]][0]) if own else (around[0], start)
        steps = steps_between(boat, begin, isolators[key][1], without)
        ends = [end for both in isolators.values() for end in both]
        first = _beyond(boat, steps, {link for end in ends for link in boat.network.at[end]})
        yield Says(
            items=(first.item, key, inlet),
            at=boat.core_at(first.item, first.core),
            what=f"the earth of {boat.vessel.name_of(inlet)} comes to the boat's earth "
            + (f"around {boat.vessel.name_of(key)}" if own else f"without passing {boat.vessel.name_of(key)}")
            + f", by cable {first.item}, core {first.core}",
            witness=boat.way_told(begin, steps),
            arguments=(first.core,),
            **_by_hull(boat),
        )


def _reversed(boat: Boat, key: str) -> bool:
    """Whether an isolator has a core on both sides, and an inlet on its boat side only."""
    part = earth_parts(boat, frozenset(_isolators(boat)))
    inlets = {part[end] for end in _inlets(boat).values()}
    outside, inside = _isolators(boat)[key]
    return part[inside] in inlets and part[outside] not in inlets and bool(_cores_at(boat, outside))


@rule(
    "galvanic-isolator-useless",
    NOTICE,
    title="A galvanic isolator does not stand in the shore's earth",
    why="It is counted on to stop galvanic current and stops none.",
    remedy="Put it into the shore's earth, its shore side towards the inlet, before anything on board; or take it out.",
    source=COMMON_PRACTICE,
    needs="galvanic isolators and the cores on both their sides",
)
def isolator_useless(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """An isolator the wrong way round, fed by no inlet, or before a transformer that passes no earth."""
    isolators = _isolators(boat)
    part = earth_parts(boat, frozenset(isolators))
    inlets = {part[end] for end in _inlets(boat).values()}
    for key, (outside, inside) in isolators.items():
        name = boat.vessel.name_of(key)
        loose = [
            boat.network.links[n].item for end in (outside, inside) for n in _cores_at(boat, end) if _loose(boat, n)
        ]
        before = [each for each in boat.network.transformers if _ends_at(boat, each, inside)]
        if part[outside] in inlets and before:
            yield Says(
                items=(key, before[0]),
                at=boat.at(key),
                what=f"{name} stands before {boat.vessel.name_of(before[0])}, which passes no earth to the boat",
            )
        elif part[outside] in inlets:
            yield Sound(key)
        elif loose:
            yield Lacks(item=loose[0], at=boat.at(loose[0]), missing="where its untraced cores land")
        elif _reversed(boat, key):
            yield Says(items=(key,), at=boat.at(key), what=f"the shore's earth comes to the boat side of {name}")
        elif part[inside] not in inlets and (not inlets or any(_cores_at(boat, n) for n in _inlets(boat).values())):
            yield Says(items=(key,), at=boat.at(key), what=f"no inlet's earth comes to the shore side of {name}")


def _ends_at(boat: Boat, transformer: str, earth: int) -> bool:
    """Whether an earth leads to the primary of a transformer that passes none, and not to its secondary."""
    device = boat.vessel.devices[transformer]
    primary, secondary = (boat.network.index.get((f"{transformer}/{s}", "PE")) for s in ("primary", "secondary"))
    part = earth_parts(boat)
    return (
        isinstance(device, IsolationTransformer)
        and device.earth_through is False
        and primary is not None
        and secondary is not None
        and part[primary] == part[earth] != part[secondary]
    )


def _cores_at(boat: Boat, terminal: int) -> list[int]:
    return [number for number in boat.network.at[terminal] if boat.network.links[number].kind == "core"]


def _loose(boat: Boat, number: int) -> bool:
    link = boat.network.links[number]
    return any(boat.network.terminals[end].loose for end in (link.a, link.b))


# --- AC earth and DC negative --------------------------------------------------------------------


@rule(
    "earth-and-negative-apart",
    CAUTION,
    title="The AC earth and a battery's negative are not joined",
    why="When AC touches DC wiring, inside a charger say, no breaker opens: the whole DC system stands at mains "
    "voltage.",
    remedy="Join the earth bar and the main DC negative at one point. Where the DC system floats on purpose, see that "
    "its isolation is watched.",
    source=COMMON_PRACTICE,
    needs="AC earths, battery negatives and what joins them, core by core",
)
def earth_apart(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Battery banks whose negative no conductor joins with the earth of the AC system. A metal hull may float."""
    network = boat.network
    earths = [
        end
        for key, device in boat.vessel.devices.items()
        if isinstance(device, ShoreInlet | Generator) and (end := network.index.get((key, "PE"))) is not None
    ]
    if not earths or boat.vessel.about.hull in _METAL:
        return
    part = _parts(boat, "PE", "DC-")
    joined = {part[end] for end in earths}
    apart = [key for key, negative in _banks(boat) if part[negative] not in joined]
    yield from (Sound(key) for key, _ in _banks(boat) if key not in apart)
    traced = len(apart) == len(_banks(boat)) and any(isinstance(d, EarthPoint) for d in boat.vessel.devices.values())
    if apart and not traced:  # the record has no earths, or joins other banks with them: more likely left out
        yield from (Lacks(item=key, at=boat.at(key), missing="what joins its negative with earth") for key in apart)
    elif apart and boat.vessel.about.hull is None:  # one of metal may float
        yield Lacks(item="vessel", at=At("", "vessel"), missing="what the hull is of", stops=tuple(apart))
    elif apart:
        yield Says(
            items=tuple(apart),
            at=boat.at(apart[0]),
            what=f"no conductor joins the negative of {', '.join(map(boat.vessel.name_of, apart))} with the AC earth",
        )


@rule(
    "earth-and-negative-joined-twice",
    NOTICE,
    title="DC negative and earth are joined in more than one place",
    why="Part of the DC return current flows through the earthing and bonding conductors all the time, and metal "
    "under water corrodes.",
    remedy="Leave one joint, where it can be seen, and take the others out.",
    source=COMMON_PRACTICE,
    needs="what joins DC negatives and earths, core by core",
)
def earth_twice(boat: Boat) -> Iterator[Says | Sound]:
    """Joints of one DC negative with one earth at several places. All engine blocks count as one."""
    network = boat.network
    negatives, earths = _parts(boat, "DC-"), earth_parts(boat)
    banks = {negatives[end]: key for key, end in _banks(boat)}
    joints: dict[tuple[int, int], dict[tuple[str, str], tuple[str, str]]] = {}
    for link in network.links:
        ends = {network.terminals[end].pole: end for end in (link.a, link.b)}
        if ends.keys() == {"PE", "DC-"} and negatives[ends["DC-"]] in banks:
            place = network.terminals[ends["PE"]].place
            device = boat.vessel.devices.get(place)
            block = isinstance(device, EarthPoint) and device.duty == "engine-block"
            pair = (negatives[ends["DC-"]], earths[ends["PE"]])
            where = ("", "") if block else (place, network.terminals[ends["DC-"]].place)
            joints.setdefault(pair, {}).setdefault(where, (link.item, place))
    for (negative, _), places in joints.items():
        if len(places) == 1:
            yield Sound(next(iter(places.values()))[0])
            continue
        said = [f"at {boat.vessel.name_of(place)} by {item}" for item, place in places.values()]
        items = tuple(sorted({item for item, _ in places.values()}))
        yield Says(
            items=items,
            at=boat.at(items[0]),
            what=f"the negative of {boat.vessel.name_of(banks[negative])} is joined with earth in {len(places)} "
            f"places: {' and '.join(said)}",
        )


def _banks(boat: Boat) -> list[tuple[str, int]]:
    return [(e.source, e.terminal) for e in boat.network.emissions if e.supply == "battery" and e.pole == "DC-"]


def _parts(boat: Boat, *poles: str) -> tuple[int, ...]:
    """What the conductors of these poles join."""
    network = boat.network
    ends = [terminal.pole in poles for terminal in network.terminals]
    return components(len(ends), ((link.a, link.b) for link in network.links if ends[link.a] and ends[link.b]))
