"""Labels that lead the wrong way: on cables, and beside the ways of a panel."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

from vesselspec.model.items import NO_LABEL, UNTRACED, Cable
from vesselspec.rules.boat import Boat, kept
from vesselspec.rules.book import COMMON_PRACTICE, Lacks, Says, Sound, rule
from vesselspec.rules.cores import cables_named
from vesselspec.rules.findings import CAUTION, NOTICE, At


def _plain(text: str) -> str:
    """A label without what nobody tells apart."""
    return "".join(char for char in text.casefold() if char.isalnum())


def _written(cable: Cable) -> dict[str, str]:
    """What is written on a cable, by the end that says it first."""
    found: dict[str, str] = {}
    for end, place in (("from", cable.from_), ("to", cable.to)):
        label = cable.label_at(end)
        if label not in (None, NO_LABEL) and place != UNTRACED and _plain(str(label)):
            found.setdefault(_plain(str(label)), str(label))
    return found


@rule(
    "cable-label-misleads",
    CAUTION,
    title="A cable wears another cable's name, or two wear the same",
    why="The next person opens the breaker that the label leads to, and works on a cable that is still live.",
    remedy="Trace both cables, then label each at both ends with its own id.",
    source=COMMON_PRACTICE,
    needs="what is written on the ends of the cables",
)
def cable_misleads(boat: Boat) -> Iterator[Says | Sound]:
    """Labels that are another cable's id, and labels that are on several cables of different circuits."""
    cables = boat.vessel.cables
    ids = {_plain(key): key for key in cables}
    wearing: dict[str, list[str]] = defaultdict(list)
    wrong: dict[tuple[str, str], list[str]] = defaultdict(list)
    for key, cable in cables.items():
        for plain in _written(cable):
            other = ids.get(plain)
            if other is None or other == key:
                wearing[plain].append(key)
            else:
                wrong[min(key, other), max(key, other)].append(key)
    for pair, wearers in wrong.items():
        first = wearers[0]
        other = pair[1] if first == pair[0] else pair[0]
        what = f"cable {first} is labelled {other}, which is another cable"
        if len(wearers) == 2:
            what = f"cables {pair[0]} and {pair[1]} wear each other's names"
        yield Says(items=(first, other), at=At("cables", first, (_field(cables[first]),)), what=what)
    led = {key for pair in wrong for key in pair}
    for plain, wearers in wearing.items():
        apart = [key for key in wearers if _ends(cables[key]) != _ends(cables[wearers[0]])]
        if apart:
            said = _written(cables[wearers[0]])[plain]
            yield Says(
                items=tuple(wearers),
                at=At("cables", apart[0], (_field(cables[apart[0]]),)),
                what=f"{cables_named(wearers)} all wear the label {said}",
                signal_word=NOTICE,
            )
            led.update(wearers)
    yield from (Sound(key) for key, cable in cables.items() if key not in led and _written(cable))


def _ends(cable: Cable) -> frozenset[str]:
    """The items at the ends of a cable: the plus and the minus of one circuit may share a label."""
    return frozenset(place.split("/", 1)[0] for place in (cable.from_, cable.to))


def _field(cable: Cable) -> str:
    return "labels" if cable.labels is not None else "label"


def mislabelled(boat: Boat) -> Mapping[str, tuple[str, list[str]]]:
    """Ways whose label names what is on other ways: that item, and those ways."""
    return {path: wrong for path, wrong in kept(boat, "_way_labels", _way_labels).items() if wrong is not None}


def _way_labels(boat: Boat) -> dict[str, tuple[str, list[str]] | None]:
    """Every way whose label names one load or device: None where it is right."""
    vessel = boat.vessel
    named: dict[str, set[str]] = defaultdict(set)
    for key, item in (*vessel.loads.items(), *vessel.devices.items()):
        for word in (key, item.name or key):
            named[_plain(word)].add(key)
    feeds, fed = _feeds(boat)
    found: dict[str, tuple[str, list[str]] | None] = {}
    for path, (_, _, way) in vessel.ways.items():
        plain = _plain(way.label or "")
        meant = named.get(plain, set())
        if len(meant) != 1 or way.duty == "main":
            continue
        (key,) = meant
        elsewhere = sorted(fed.get(key, ()))
        if path in elsewhere:
            found[path] = None
        elif any(plain in _plain(word) for own in feeds.get(path, ()) for word in (own, _name(boat, own))):
            found[path] = None  # the short word for what it feeds: "Instruments" for the flybridge instruments
        elif elsewhere and (feeds.get(path) or not boat.cables_at.get(path)):
            found[path] = (key, elsewhere)
    return found


def _feeds(boat: Boat) -> tuple[Mapping[str, set[str]], Mapping[str, set[str]]]:
    """The loads and devices that a cable joins to each way, and the ways that each of them is joined to."""
    feeds: dict[str, set[str]] = defaultdict(set)
    fed: dict[str, set[str]] = defaultdict(set)
    for cable in boat.vessel.cables.values():
        for near, far in ((cable.from_, cable.to), (cable.to, cable.from_)):
            head = far.split("/", 1)[0]
            if near in boat.vessel.ways and boat.vessel.device(head) is not None:
                feeds[near].add(head)
                fed[head].add(near)
    return feeds, fed


@rule(
    "way-label-misleads",
    CAUTION,
    title="A way is labelled with what is on another way",
    why="Whoever switches it off believes that the load is dead, and it is not.",
    remedy="Trace what each of the two ways feeds, then label both.",
    source=COMMON_PRACTICE,
    needs="the labels of the ways and the names of what they feed",
)
def way_misleads(boat: Boat) -> Iterator[Says | Sound]:
    """Ways whose label is the name of a load or device that a cable joins to another way."""
    vessel, wrong = boat.vessel, mislabelled(boat)
    feeds, _ = _feeds(boat)
    yield from (Sound(path) for path in kept(boat, "_way_labels", _way_labels) if path not in wrong)
    told: set[str] = set()
    for path, (key, elsewhere) in wrong.items():
        label, other = vessel.ways[path][2].label, elsewhere[0]
        own = f"feeds {', '.join(sorted(feeds[path]))}" if feeds.get(path) else "has no cable on it"
        what = f"way {path} is labelled {label} and {own}; {key} is on way {', '.join(elsewhere)}"
        if other in wrong and wrong[other][1] == [path] and elsewhere == [other]:
            if other in told:
                continue
            what = f"ways {path} and {other} wear each other's labels: {label} and {vessel.ways[other][2].label}"
        told.add(path)
        yield Says(items=(path, *elsewhere), at=boat.at(path, "label"), what=what)


def _name(boat: Boat, key: str) -> str:
    item = boat.vessel.device(key)
    return item.name or "" if item is not None else ""


@rule(
    "way-unlabelled",
    NOTICE,
    title="Ways of a panel carry no label",
    why="In an emergency nobody finds the switch of what burns, and the next person guesses what a way feeds.",
    remedy="Trace what each of them feeds and label it.",
    source=COMMON_PRACTICE,
    needs="the words beside the ways of a panel, or that there are none",
)
def way_unlabelled(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Branch ways in use, panel by panel; mains and spares are left out."""
    by_panel: dict[str, list[str]] = defaultdict(list)
    for path, (panel, _, way) in boat.vessel.ways.items():
        if way.device != "blank" and way.duty == "branch" and not way.spare:
            by_panel[panel.id].append(path)
    for key, paths in by_panel.items():
        labels = {path: boat.vessel.ways[path][2].label for path in paths}
        bare = [path for path, label in labels.items() if label == NO_LABEL]
        unknown = [path for path, label in labels.items() if label is None]
        if bare:
            yield Says(
                items=(key, *bare),
                at=boat.at(bare[0], "label"),
                what=f"{'way' if len(bare) == 1 else 'ways'} {_short(bare)} of {boat.vessel.name_of(key)} "
                f"{'carries' if len(bare) == 1 else 'carry'} no label",
            )
        if unknown:
            yield Lacks(item=key, at=boat.at(key), missing=f"what is written beside {_short(unknown)}")
        if not bare and not unknown:
            yield Sound(key)


def _short(paths: list[str]) -> str:
    """Ways without the name of their panel, which stands beside them."""
    return ", ".join(path.partition("/")[2] for path in paths)
