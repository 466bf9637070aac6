"""Neutral and earth: joined once for each source, at that source, and nowhere on board on plain shore power."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from vesselspec.model.devices import InverterCharger, Selector
from vesselspec.network.bonds import PRIMARY, Bond, Met, Neutrals, neutrals_of
from vesselspec.network.graph import LINES, Emission
from vesselspec.network.reach import Needs, Witness, agree
from vesselspec.network.state import closed_links
from vesselspec.network.zones import components
from vesselspec.rules.boat import Boat, kept
from vesselspec.rules.book import Lacks, Says, Sound, rule
from vesselspec.rules.findings import WARNING
from vesselspec.rules.potentials import Pair, joints, meetings

_SOURCE = "46 CFR 183.376(a) (one connection to ground); ABYC E-11 (joined at the source of power, quoted publicly)"


def neutrals(boat: Boat) -> Neutrals:
    """The neutrals of a boat and their joints with earth, worked out once."""
    return kept(boat, "_neutrals", lambda each: neutrals_of(each.vessel, each.network))


@dataclass(frozen=True)
class Surplus:
    """Joints of one source's neutral with earth that can be made at the same time, and are one too many.

    One joint on plain shore power, whose own is ashore; two of any other source.
    """

    emission: Emission
    met: tuple[Met, ...]
    needs: Needs

    @property
    def extra(self) -> Bond:
        """The joint that is too many: not the source's own, and a cable before a device."""
        others = [each.bond for each in self.met if each.bond.item != self.emission.source]
        return min(others or [each.bond for each in self.met], key=lambda bond: not bond.core)


def surplus(boat: Boat) -> tuple[Surplus, ...]:
    """Every joint too many, over all permitted positions; the one that needs the fewest positions of each kind."""
    facts = neutrals(boat)
    found: dict[tuple[Emission, frozenset[Bond]], Surplus] = {}
    for emission in facts.emissions:
        met = [each for each in facts.met(emission) if not each.bond.on_case]
        if emission.supply == PRIMARY:
            continue
        if emission.supply == "shore":
            sets: list[tuple[tuple[Met, ...], Needs]] = [((each,), each.needs) for each in met]
        else:
            sets = [
                ((one, two), needs)
                for number, one in enumerate(met)
                for two in met[number + 1 :]
                if (one.bond.neutral, one.bond.earth) != (two.bond.neutral, two.bond.earth)
                and (needs := agree(one.needs, two.needs)) is not None
            ]
        for each, needs in sets:
            key = (emission, frozenset(one.bond for one in each))
            if key not in found or len(needs) < len(found[key].needs):
                found[key] = Surplus(emission, each, needs)
    return tuple(found.values())


@rule(
    "neutral-earth-joined-twice",
    WARNING,
    title="Neutral and earth can be joined in a second place",
    why="Part of the neutral current returns through earth conductors, cases and the hull: residual-current devices "
    "trip or are blinded, metal corrodes, and on shore power the water around the boat can carry a current that "
    "paralyses a swimmer.",
    remedy="Make every source dead and prove it. Leave one joint for each source, at that source; let the selector "
    "or relay open the neutral of every source that it disconnects.",
    source=_SOURCE,
    needs="sources with their neutral-earth bonds and relays, selectors with their poles, neutrals core by core",
    guards_life=True,
)
def joined_twice(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """A bond on board while on shore, or a second bond of another source, over every permitted set of positions."""
    bypassed = neutrals(boat).bypassed(boat.network).keys()
    bridges = kept(boat, "_joints", joints).keys() & boat.vessel.cables.keys()
    told: dict[str, list[tuple[Surplus, tuple[str, ...]]]] = {}
    faulty: set[str] = set()
    unknown: dict[str, dict[str, None]] = {}
    for each in surplus(boat):
        if bypassed & {one.bond.item for one in each.met} or _items(boat, each) & bridges or _with_lines(boat, each):
            continue  # one mistake, told as an isolation transformer that isolates nothing, or as sources joined
        unsaid = [one.bond.item for one in each.met if not one.bond.certain]
        if unsaid:
            unknown.setdefault(each.emission.source, {}).update(dict.fromkeys(unsaid))
            continue
        culprit, words = _culprit(boat, each)
        told.setdefault(culprit, []).append((each, words))
        faulty.add(each.emission.source)
    for culprit, several in told.items():
        yield _too_many(boat, culprit, several)
    lacking = dict.fromkeys(item for source, items in unknown.items() if source not in faulty for item in items)
    yield from (_unsaid(boat, item) for item in lacking)
    for emission in neutrals(boat).emissions:
        if emission.supply != PRIMARY and emission.source not in faulty | unknown.keys():
            yield Sound(emission.source)


def joined_with_lines(boat: Boat, pairs: Collection[Pair]) -> tuple[str, ...]:
    """What sources that are joined in all their lines do to the earth, in words: said of the joint of the lines."""
    found = [each for each in surplus(boat) if (pair := _with_lines(boat, each)) is not None and pair in pairs]
    names = sorted({boat.vessel.name_of(one.bond.item) for each in found for one in each.met})
    return (f"neutral and earth are then joined in a second place too, in {' or '.join(names)}",) if names else ()


def _with_lines(boat: Boat, each: Surplus) -> Pair | None:
    """The pair of sources whose lines are joined wherever their neutrals are, so that mending the one mends the other.

    The contacts of the joint of their lines are between the neutrals too, and no position joins the neutrals alone.
    """
    groups = {e.source: e.group for e in boat.network.emissions if e.pole in LINES}
    own = groups.get(each.emission.source, "")
    others = {groups.get(one.bond.item, "") for one in each.met} - {own}
    if len(others) != 1 or not own or "" in others:
        return None
    pair = (min(own, *others), max(own, *others))
    met = kept(boat, "_meetings", lambda of: meetings(of.reach)).get(pair, [])
    if not met or neutrals(boat).escape(each.needs, [one.needs for one in met]) is not None:
        return None
    apart = _held_apart_by(boat, pair)
    return pair if apart and apart <= _items(boat, each) else None


def _held_apart_by(boat: Boat, pair: Pair) -> set[str]:
    """The contacts at the joint of the lines of two sources: of a section those on the way, else the joint's own."""
    for joint, pairs in kept(boat, "_joints", joints).items():
        for way in (way for of, way, _ in pairs if of == pair):
            links = (boat.network.links[step.link] for step in way.steps if step.link >= 0)
            contacts = {link.item for link in links if link.kind == "contact"}
            return {item for item in contacts if joint in (item, item.rpartition("/")[0])}
    return set()


def _items(boat: Boat, each: Surplus) -> set[str]:
    """What the neutral passes on its way to the joints."""
    ways = (neutrals(boat).way(one.arrival, one.bond.neutral) for one in each.met)
    return {boat.network.links[step.link].item for way in ways for step in way.steps}


def _too_many(boat: Boat, culprit: str, several: list[tuple[Surplus, tuple[str, ...]]]) -> Says:
    facts = neutrals(boat)
    best, words = min(several, key=lambda one: (one[0].emission.supply != "shore", len(one[0].needs)))
    sources = sorted({each.emission.source for each, _ in several})
    made = dict.fromkeys(one.bond for each, _ in several for one in each.met)
    cores = [bond.core for bond in made if bond.item == culprit and bond.core]
    shore = best.emission.supply == "shore"
    where = " and ".join(dict.fromkeys(_where(boat, one.bond) for one in best.met))
    said = (
        f"on shore power from {boat.vessel.name_of(best.emission.source)}, whose neutral is earthed ashore, neutral "
        f"and earth are also joined {where}"
        if shore
        else f"while {boat.vessel.name_of(best.emission.source)} feeds, neutral and earth are joined {where}"
    )
    witness: list[str] = []
    for one in best.met:
        witness += boat.told(facts.way(one.arrival, one.bond.neutral))
        witness.append(f"where neutral and earth are joined {_where(boat, one.bond)}")
    others = [boat.vessel.name_of(source) for source in sources if source != best.emission.source]
    consequences = [f"the same holds for {', '.join(others)}"] if others else []
    now = [key for key in boat.vessel.conditions if any(_holds(boat, key, each) for each, _ in several)]
    if now:
        consequences.append("so in operating condition " + ", ".join(now))
    return Says(
        items=tuple(dict.fromkeys((culprit, *sources, *(bond.item for bond in made)))),
        at=boat.core_at(culprit, *cores) if culprit in boat.vessel.cables else boat.at(culprit),
        what=said + "".join(f"; {word}" for word in words),
        witness=tuple(witness),
        positions=boat.positions(best.needs),
        consequences=tuple(consequences),
        arguments=tuple(sorted(cores)),
    )


def _where(boat: Boat, bond: Bond) -> str:
    if bond.core:
        return f"by cable {bond.item}, core {bond.core}"
    return f"in {boat.vessel.name_of(bond.item)}"


def _culprit(boat: Boat, each: Surplus) -> tuple[str, tuple[str, ...]]:
    """What to change: a cable that makes the joint, what should have opened the neutral, or the joint itself."""
    extra = each.extra
    if extra.core:
        return extra.item, ()
    arrival = next(one.arrival for one in each.met if one.bond == extra)
    return left_joined(boat, neutrals(boat).way(arrival, extra.neutral)) or (extra.item, ())


def left_joined(boat: Boat, way: Witness) -> tuple[str, tuple[str, ...]] | None:
    """What on the way of a neutral should have kept it apart, and in which words."""
    network = boat.network
    for step in way.steps:
        link = network.links[step.link]
        device = boat.vessel.devices.get(link.item)
        if not link.guards and link.kind == "joint":
            if isinstance(device, Selector):
                return link.item, (f"{boat.vessel.name_of(link.item)} leaves the neutrals of its inputs joined",)
            if isinstance(device, InverterCharger):
                return link.item, (f"the neutrals of {boat.vessel.name_of(link.item)} are common",)
    for step in way.steps:
        link = network.links[step.link]
        sections = {network.terminals[end].place for end in (link.a, link.b)} & boat.vessel.sections.keys()
        if len(sections) > 1 and link.kind == "joint":
            return link.item, (f"sections {' and '.join(sorted(sections))} share a neutral bar",)
        if len(sections) > 1 and link.kind == "core" and not has_line(boat, link.item):
            return link.item, (f"cable {link.item}, core {link.core}, joins the neutral bars of two sections",)
    bars = [place for step in way.steps if (place := network.terminals[step.end].place) in boat.vessel.sections]
    return (bars[-1], (f"their neutrals meet on the bar of section {bars[-1]}",)) if bars else None


def has_line(boat: Boat, cable: str) -> bool:
    """Whether a cable has a line among its cores."""
    links = (boat.network.links[run.link] for run in boat.network.runs.get(cable, ()) if run.link >= 0)
    return any(boat.network.terminals[link.a].pole in LINES for link in links)


def _neutral_parts(boat: Boat, condition: str) -> tuple[int, ...]:
    """The neutral conductors that are joined in a condition."""

    def work(_: Boat) -> tuple[int, ...]:
        network = neutrals(boat).network
        closed = closed_links(network, boat.vessel.conditions[condition], boat.states[condition])
        pairs = ((link.a, link.b) for link, on in zip(network.links, closed, strict=True) if on)
        return components(len(network.terminals), pairs)

    return kept(boat, f"_neutral_parts:{condition}", work)


def _made(boat: Boat, condition: str, emission: Emission, bond: Bond) -> bool:
    """Whether a source's neutral is joined with earth by a bond as the boat lies in a condition."""
    part, positions = _neutral_parts(boat, condition), boat.states[condition].positions
    stands = all(positions.get(choice) in states for choice, states in bond.guards)
    return stands and part[emission.terminal] == part[bond.neutral]


def _holds(boat: Boat, condition: str, each: Surplus) -> bool:
    live = boat.states[condition].at(each.emission.terminal)
    running = any(one.source == each.emission.source for one in live)
    return running and all(_made(boat, condition, each.emission, one.bond) for one in each.met)


def _unsaid(boat: Boat, item: str) -> Lacks:
    if isinstance(boat.vessel.devices.get(item), InverterCharger):
        return Lacks(item=item, at=boat.at(item), missing="whether a relay joins neutral and earth while it inverts")
    return Lacks(item=item, at=boat.at(item), missing="whether neutral and earth are joined in it")


# --- none at all ---------------------------------------------------------------------------------


def unearthed(boat: Boat, emission: Emission, *, certain: bool) -> tuple[Needs, Witness] | None:
    """Positions in which a source feeds some load while its neutral is joined with no earth, and the way to it.

    With `certain` only joints that the record is sure of count; without it those count too of which it says nothing.
    """
    facts = neutrals(boat)
    earthed = [each.needs for each in facts.met(emission) if _earths(each.bond, certain)]
    for load in boat.vessel.loads:
        for pole in LINES:
            terminal = boat.network.index.get((load, pole))
            for arrival in boat.reach.at(terminal) if terminal is not None else ():
                if arrival.emission.source == emission.source and arrival.emission.pole in LINES:
                    found = facts.escape(arrival.needs, earthed)
                    if found is not None and terminal is not None:
                        return found, boat.reach.witness(arrival, terminal)
    return None


@rule(
    "neutral-earth-not-joined",
    WARNING,
    title="A source feeds loads while its neutral is joined with no earth",
    why="A line that touches a case then drives no fault current: no breaker opens, no residual-current device trips, "
    "and the case stays live until somebody touches it.",
    remedy="Join neutral and earth at the source, and only there; where a relay or selector chooses the source, see "
    "that the joint comes with it.",
    source=_SOURCE,
    needs="sources on board with their neutral-earth bonds and relays, neutrals core by core",
    guards_life=True,
)
def not_joined(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Generators, inverters and transformer secondaries with no bond in some permitted set of positions."""
    for emission in neutrals(boat).emissions:
        key = emission.source
        if emission.supply in ("shore", PRIMARY) or not _feeds(boat, key):
            continue
        found = unearthed(boat, emission, certain=False)
        now = [name for name in boat.vessel.conditions if _floats(boat, name, emission)]
        if found is None and not now:
            if unearthed(boat, emission, certain=True) is None:
                yield Sound(key)
            else:
                yield _unsaid(boat, key)
            continue
        consequences = ("so in operating condition " + ", ".join(now),) if now else ()
        yield Says(
            items=(key,),
            at=boat.at(key),
            what=f"{boat.vessel.name_of(key)} can feed loads while its neutral is joined with earth nowhere",
            witness=boat.told(found[1]) if found is not None else (),
            positions=boat.positions(found[0]) if found is not None else (),
            consequences=consequences,
        )


def _feeds(boat: Boat, source: str) -> bool:
    return any(
        arrival.emission.source == source and arrival.emission.pole in LINES
        for load in boat.vessel.loads
        for pole in LINES
        if (terminal := boat.network.index.get((load, pole))) is not None
        for arrival in boat.reach.at(terminal)
    )


def _floats(boat: Boat, condition: str, emission: Emission) -> bool:
    """Whether a source feeds a load in a condition and no joint with earth is made there, a possible one included."""
    state = boat.states[condition]
    if state.gaps or state.unsettled:
        return False
    fed = any(
        each.source == emission.source and each.pole in LINES
        for load in boat.vessel.conditions[condition].demand
        for pole in LINES
        if (terminal := boat.network.index.get((load[0], pole))) is not None
        for each in state.at(terminal)
    )
    bonds = (bond for bond in neutrals(boat).bonds if _earths(bond, certain=False))
    return fed and not any(_made(boat, condition, emission, bond) for bond in bonds)


def _earths(bond: Bond, certain: bool) -> bool:
    """Whether a joint counts as earthing a neutral: a case that is tied to it does not."""
    return not bond.on_case and (bond.certain or not certain)
