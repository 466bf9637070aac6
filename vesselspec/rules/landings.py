"""Where cores land: neutrals on the wrong bar, earths that are missing, ends that nobody traced, labels."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from vesselspec.model.devices import Charger, Inverter, InverterCharger, Load
from vesselspec.model.items import NO_LABEL, UNTRACED, Cable
from vesselspec.network.graph import LINES
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import COMMON_PRACTICE, Lacks, Says, Sound, rule
from vesselspec.rules.cores import AC_LINES, WORDS, worn
from vesselspec.rules.findings import CAUTION, NOTICE, SIGNAL_WORDS, WARNING, At
from vesselspec.rules.gathered import gathered
from vesselspec.rules.looks import disguised


@rule(
    "neutral-on-other-section",
    WARNING,
    title="A circuit's neutral lands on another section's bar",
    why="Its current returns through a neutral that its own source does not own: residual-current devices trip or "
    "are blinded, and with that section's main open the neutral floats up to mains voltage.",
    remedy="Make every source of both sections dead and prove it, then move the neutral to the bar of the section "
    "that feeds its line.",
    source=COMMON_PRACTICE,
    needs="on which bar each neutral lands; which sections share a bar",
)
def neutral_on_other_section(boat: Boat) -> Iterator[Says | Sound]:
    """An inverter load's neutral on the shore section's bar, say."""
    network = boat.network
    for cable, runs in network.runs.items():
        lines: dict[str, None] = {}
        neutrals: list[tuple[str, str]] = []
        for run in runs:
            if run.link < 0:
                continue
            link = network.links[run.link]
            for number in (link.a, link.b):
                terminal = network.terminals[number]
                section = "/".join(terminal.place.split("/")[:2])
                if section not in boat.vessel.sections:
                    continue
                if terminal.pole in LINES:
                    lines[section] = None
                elif terminal.pole == "N" and terminal.place == section:
                    neutrals.append((run.name, section))
        if lines and neutrals:
            yield Sound(cable)
        for core, bar in neutrals:
            if lines and _bar(boat, bar) not in {_bar(boat, line) for line in lines}:
                own = next(iter(lines))
                yield Says(
                    items=(cable,),
                    at=boat.core_at(cable, core),
                    what=f"cable {cable} takes its line from section {own} and returns its neutral, core {core}, "
                    f"to the bar of section {bar}",
                    witness=(
                        f"line from {own}",
                        f"cable {cable} to {boat.vessel.name_of(boat.vessel.cables[cable].to)}",
                        f"core {core} to {bar}:N",
                    ),
                    arguments=(core,),
                )


def _bar(boat: Boat, section: str) -> str:
    """The section that owns the neutral bar of a section: itself, or the one whose bar it shares."""
    seen = {section}
    while True:
        panel, here = boat.vessel.sections[section]
        owner = f"{panel.id}/{here.neutral_bar}"
        if here.neutral_bar is None or owner not in boat.vessel.sections or owner in seen:
            return section
        seen.add(owner)
        section = owner


@rule(
    "earth-core-missing",
    WARNING,
    title="An AC device has no earth",
    why="When its insulation fails, its case stays live until somebody touches it: no breaker opens without an earth.",
    remedy="Run an earth core with the supply cable and land it at both ends.",
    source="46 CFR 183.372 (enclosures and frames grounded)",
    needs="the earth core of every supply cable at both ends; what is double insulated",
    guards_life=True,
)
def earth_missing(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """AC loads, chargers and inverters that need an earth and have no core on it."""
    told: list[tuple[str, Says]] = []
    for key, device in (*boat.vessel.devices.items(), *boat.vessel.loads.items()):
        places: tuple[str, ...]
        if isinstance(device, Load):
            places = () if device.double_insulated else (key,)
        elif isinstance(device, Charger):
            places = (f"{key}/ac",)
        elif isinstance(device, InverterCharger):
            places = (f"{key}/ac-in", f"{key}/ac-out")
        elif isinstance(device, Inverter):
            places = (f"{key}/ac",)
        else:
            continue
        for place in places:
            for said in _without_earth(boat, key, place):
                if isinstance(said, Says):
                    told.append((place, said))
                else:
                    yield said
    yield from gathered(boat, told, "no earth core lands on {items} that {section} feeds")


def _without_earth(boat: Boat, key: str, place: str) -> Iterator[Says | Lacks | Sound]:
    network = boat.network
    earth = network.index.get((place, "PE"))
    lines = [n for pole in LINES if (n := network.index.get((place, pole))) is not None]
    fed = [number for line in lines for number in network.at[line] if network.links[number].kind == "core"]
    if earth is None or not fed:
        return
    earths = [n for n in network.at[earth] if network.links[n].kind == "core"]
    for number in earths:
        link = network.links[number]
        far = network.terminals[link.other(earth)]
        if far.loose:
            yield Lacks(item=link.item, at=At("cables", link.item), missing=f"where {far.loose} lands", stops=(place,))
        else:
            yield Sound(place)
            return
    if earths:
        return
    cables = dict.fromkeys(network.links[number].item for number in fed)
    untraced = [c for c in cables if _has_untraced(boat.vessel.cables[c], boat)]
    if untraced:
        yield Lacks(
            item=untraced[0], at=At("cables", untraced[0]), missing="where its untraced cores land", stops=(place,)
        )
        return
    first = next(iter(cables))
    yield Says(
        items=(first, key),
        at=At("cables", first, ("cores",)),
        what=f"no earth core lands on {boat.vessel.name_of(key)}, which cable {', '.join(cables)} feeds",
    )


def _has_untraced(cable: Cable, boat: Boat) -> bool:
    return any(UNTRACED in (core.from_, core.to) for _, core in boat.vessel.cores_of(cable))


@rule(
    "cable-end-untraced",
    CAUTION,
    title="Nobody knows where a cable ends",
    why="It may be live from a place that no switch named here opens, and no isolation can be proved while it lies "
    "in a panel.",
    remedy="Treat it as live. Trace it with a tone or by eye along its whole run, then record or remove it.",
    source=COMMON_PRACTICE,
    needs="both ends of every cable and core",
)
def untraced(boat: Boat) -> Iterator[Says | Sound]:
    """Cables with an untraced end, and cores of which one landing is not known."""
    for key, cable in boat.vessel.cables.items():
        ends = [end for end, place in (("from", cable.from_), ("to", cable.to)) if place == UNTRACED]
        cores = [
            name for name, core in boat.vessel.cores_of(cable) if UNTRACED in (core.from_, core.to) and len(ends) != 2
        ]
        if not ends and not cores:
            yield Sound(key)
            continue
        known = cable.to if "from" in ends else cable.from_
        what = (
            f"neither end of cable {key} is traced"
            if len(ends) == 2
            else f"the {ends[0]} end of cable {key}, whose other end is at {boat.vessel.name_of(known)}, is not traced"
            if ends
            else f"core {', '.join(cores)} of cable {key} is not traced"
        )
        live = _can_be_live(boat, key, [] if ends else cores)
        yield Says(
            items=(key,),
            at=At("cables", key, (ends[0],) if ends else ()),
            what=what,
            signal_word=WARNING if live else None,
            consequences=(f"it can be live from {', '.join(live)}",) if live else (),
            arguments=tuple(sorted((*ends, *cores))),
        )


def _can_be_live(boat: Boat, cable: str, cores: list[str]) -> list[str]:
    """What can make a cable live, or those of its cores."""
    found: dict[str, None] = {}
    for run in boat.network.runs.get(cable, ()):
        if run.link >= 0 and (not cores or run.name in cores):
            for arrival in boat.reach.at(boat.network.links[run.link].a):
                if arrival.emission.pole in (*LINES, "DC+"):
                    found[boat.vessel.name_of(arrival.emission.source)] = None
    return sorted(found)


@rule(
    "cable-end-unlabelled",
    NOTICE,
    title="A cable end carries no label",
    why="The next person cannot tell what it feeds and will guess.",
    remedy="Label both ends with the cable's id.",
    source=COMMON_PRACTICE,
    needs="what is written on both ends of every cable",
)
def unlabelled(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Ends that somebody looked at and found bare; unrecorded labels cannot be judged."""
    for key, cable in boat.vessel.cables.items():
        bare, unknown = [], []
        for end, place in (("from", cable.from_), ("to", cable.to)):
            label = cable.label_at(end) if place != UNTRACED else ""  # nobody has seen that end
            if label == NO_LABEL:
                bare.append((end, place))
            elif label is None:
                unknown.append(end)
        if bare:
            where = " and ".join(f"at {boat.vessel.name_of(place)}" for _, place in bare)
            field = "labels" if cable.labels is not None else "label"
            yield Says(
                items=(key,),
                at=At("cables", key, (field,)),
                what=f"cable {key} has no label {where}",
                arguments=tuple(end for end, _ in bare),
            )
        elif unknown:
            yield Lacks(item=key, at=At("cables", key), missing="what is written on its ends")
        elif UNTRACED not in (cable.from_, cable.to):
            yield Sound(key)


@rule(
    "core-colour-contradicts",
    WARNING,
    title="A core's colour says something else than it carries",
    why="The next person trusts the colour: a white that is live or a green that carries current kills.",
    remedy="Re-mark the core at both ends in the colour of its function, or exchange the conductor.",
    source="as named in the finding",
    needs="the colour of every core and where it lands; the vessel's practice",
)
def colours(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Colour by function under the vessel's practice."""
    from vesselspec.standards import allowed_colours, cited  # noqa: PLC0415 - reads a data file

    practice = boat.vessel.about.practice
    for cable, cores in worn(boat).items():
        if cable in disguised(boat):
            continue  # told once, of the cable as a whole
        lines = [each.function for each in cores if each.function in AC_LINES]
        amiss: list[_Contradiction] = []
        for each in cores:
            core, function, known = each.run.name, each.function, each.colour
            if not function:
                continue
            if known is None:
                yield Lacks(item=cable, at=boat.core_at(cable, core), missing=f"the colour of core {core}")
                continue
            yield Sound(cable)  # unless one of its cores is amiss or unknown
            allowed = allowed_colours(practice, function, only_line=len(lines) == 1)
            if known in allowed.colours or (
                function == "bonding"
                and _to_negative(boat, each.run.link)
                and known in allowed_colours(practice, "dc-negative").colours
            ):
                continue  # a conductor from negative to earth may wear either's colour
            taken = [
                other
                for other in ("ac-line-1", "ac-neutral", "protective", "dc-positive", "dc-negative")
                if other != function
                and not (other == "protective" and function == "bonding")
                and known in allowed_colours(practice, other).colours
            ]
            if function in AC_LINES and any(known in allowed_colours(practice, line).colours for line in AC_LINES):
                taken = []  # a line's colour, of another line
            wears = (
                f"is {known} and carries {WORDS[function]}"
                + (f"; {known} stands for {WORDS[taken[0]]}" if taken else "")
                + f"; expected {' or '.join(allowed.colours[:4])}"
            )
            word = WARNING if taken and not allowed.from_memory else CAUTION if taken else NOTICE
            amiss.append(
                _Contradiction(core, word, wears, cited(allowed.source, allowed.from_memory, "part from memory"))
            )
        if amiss:
            yield _contradicting(boat, cable, amiss)


@dataclass(frozen=True)
class _Contradiction:
    """What a core wears in contradiction to what it carries, in words."""

    core: str
    signal_word: str
    wears: str
    source: str


def _contradicting(boat: Boat, cable: str, amiss: list[_Contradiction]) -> Says:
    """The cores of one cable that contradict, the gravest first: whoever re-marks one re-marks all."""
    first, *others = sorted(amiss, key=lambda each: SIGNAL_WORDS.index(each.signal_word))
    return Says(
        items=(cable, *(f"{cable}:{each.core}" for each in amiss)),
        group=(cable,),
        at=boat.core_at(cable, first.core),
        what=f"core {first.core} of cable {cable} {first.wears}",
        source="; ".join(dict.fromkeys(each.source for each in (first, *others))),
        signal_word=first.signal_word,
        consequences=tuple(f"core {each.core} {each.wears}" for each in others),
        measure=float(len(amiss)),
    )


def _to_negative(boat: Boat, link: int) -> bool:
    """Whether a core lands on a DC negative at one of its ends."""
    return any(
        boat.network.terminals[n].pole == "DC-" for n in (boat.network.links[link].a, boat.network.links[link].b)
    )


@rule(
    "way-with-two-cables",
    NOTICE,
    title="Two cables are landed on one way",
    why="Opening the way kills more than its label says, and a terminal made for one conductor holds two.",
    remedy="Give the second cable a way of its own, or join the two at a terminal block and say so on the label.",
    source=COMMON_PRACTICE,
    needs="which cables land on every way",
)
def two_cables(boat: Boat) -> Iterator[Says | Sound]:
    """More than one cable on the outer terminals of a way."""
    for path in boat.vessel.ways:
        cables = dict.fromkeys(
            boat.network.links[number].item
            for terminal in boat.network.places.get(path, ())
            for number in boat.network.at[terminal]
            if boat.network.links[number].kind == "core"
        )
        if len(cables) == 1:
            yield Sound(path)
        if len(cables) > 1:
            yield Says(
                items=(path, *cables),
                at=boat.at(path),
                what=f"way {boat.vessel.name_of(path)} has {len(cables)} cables on it: {', '.join(cables)}",
            )
