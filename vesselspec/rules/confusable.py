"""What makes AC and DC look alike: the mistake that must never pass begins with two cables of the same colours."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from vesselspec.model.items import NO_LABEL
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import COMMON_PRACTICE, Lacks, Says, Sound, rule
from vesselspec.rules.cores import AC, AC_LINES, DC, WORDS, Landed, cables_named, enclosures, kinds, worn
from vesselspec.rules.findings import CAUTION, NOTICE, WARNING, At
from vesselspec.rules.looks import disguised
from vesselspec.standards import allowed_colours, figure

#: A conductor of eight times another's area, nine gauges, is not taken for it: common practice, no source.
_TOLD_BY_SIZE = 8.0


# --- the same colour in one enclosure ------------------------------------------------------------------


@rule(
    "ac-and-dc-alike",
    CAUTION,
    title="An AC and a DC conductor wear the same colour in one enclosure",
    why="One is taken for the other: mains voltage on a battery terminal burns or kills, and a line that is taken for "
    "a DC negative is touched.",
    remedy="Re-mark the DC conductor at this end, by sleeve or tape, in a colour that no AC conductor here wears "
    "(yellow for a DC negative), and label both cables.",
    source="as named in the finding",
    needs="the colours of the cores that land in a panel or device with both AC and DC, and the labels at that end",
)
def alike(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Panels and devices in which AC and DC cores land; one finding for each."""
    for place, landed in enclosures(boat).items():
        ac = [each for each in landed if each.core.function in AC and each.cable not in disguised(boat)]
        dc = [each for each in landed if each.core.function in DC and each.cable not in disguised(boat)]
        if not ac or not dc:
            continue
        pairs = [(one, other) for other in dc for one in ac if _confusable(boat, one, other)]
        if pairs:
            yield _says_alike(boat, place, pairs)
            continue
        unknown = [each for each in (*ac, *dc) if each.core.colour is None]
        for each in unknown:
            core = each.core.run.name
            yield Lacks(item=each.cable, at=boat.core_at(each.cable, core), missing=f"the colour of core {core}")
        if not unknown:
            yield Sound(place)


def _confusable(boat: Boat, ac: Landed, dc: Landed) -> bool:
    """The same colour, and rightly so on both: what is wrong for its function is another rule's finding."""
    colour, practice = ac.core.colour, boat.vessel.about.practice
    if colour is None or colour != dc.core.colour or ac.cable == dc.cable:
        return False
    if colour not in allowed_colours(practice, ac.core.function, only_line=True).colours:
        return False
    if colour not in allowed_colours(practice, dc.core.function).colours:
        return False
    one, other = ac.core.run.size, dc.core.run.size
    return one is None or other is None or max(one.mm2, other.mm2) < _TOLD_BY_SIZE * min(one.mm2, other.mm2)


def _says_alike(boat: Boat, place: str, pairs: list[tuple[Landed, Landed]]) -> Says:
    colours = {str(one.core.colour): None for one, _ in pairs}
    told = []
    for colour in colours:
        of = [pair for pair in pairs if pair[0].core.colour == colour]
        told.append(f"{colour} is both {_meaning(one for one, _ in of)} and {_meaning(other for _, other in of)}")
    ac, dc = {one.cable: one for one, _ in pairs}, {other.cable: other for _, other in pairs}
    bare = [[key for key, each in side.items() if each.label == NO_LABEL] for side in (ac, dc)]
    unseen = any(each.label in (None, NO_LABEL) for each in (*ac.values(), *dc.values()))
    first = pairs[0][1]
    return Says(
        items=(place, *ac, *dc),
        at=boat.core_at(first.cable, first.core.run.name),
        what=f"in {boat.vessel.name_of(place)}, {'; '.join(told)}",
        signal_word=WARNING if all(bare) else CAUTION if unseen else NOTICE,
        consequences=(f"neither {cables_named(bare[0])} nor {cables_named(bare[1])} is labelled there",)
        if all(bare)
        else (),
        source=_both_allow(boat.vessel.about.practice, colours),
        arguments=tuple(colours),
    )


def _both_allow(practice: str, colours: Iterable[str]) -> str:
    """The tables that give one colour to both kinds, and which of two for a DC negative keeps them apart."""
    ac, dc = ("na_ac", "na_dc") if practice == "north-american" else ("iso_ac", "iso_dc")
    apart = (
        f"; yellow before black as DC negative: {figure('na_dc_negative_trend').source}" if "black" in colours else ""
    )
    return f"{figure(ac).source}, and {figure(dc).source} both allow it{apart}"


def _meaning(landed: Iterator[Landed]) -> str:
    cables: dict[str, dict[str, None]] = defaultdict(dict)
    for each in landed:
        function = "ac-line-1" if each.core.function in AC_LINES else each.core.function
        cables[function][each.cable] = None
    return " and ".join(f"{WORDS[function]} ({cables_named(of)})" for function, of in cables.items())


# --- AC and DC together along the way ------------------------------------------------------------------


@rule(
    "ac-and-dc-together",
    CAUTION,
    title="AC and DC share a sheath, or a bundle without one between them",
    why="Where insulation chafes or melts, mains voltage comes onto the DC wiring, which nobody insulates or touches "
    "as if it were mains.",
    remedy="Run them apart, or give the AC conductors a sheath of their own along the whole bundle.",
    source=COMMON_PRACTICE,
    needs="where the cores of the cables land, their bundle, and whether they have a sheath",
)
def together(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Cables with cores of both kinds, and bundles with cables of both."""
    bundles: dict[str, list[str]] = defaultdict(list)
    for cable in worn(boat):
        bundle = boat.vessel.cables[cable].bundle
        if bundle is not None and bundle in boat.vessel.bundles:
            bundles[bundle].append(cable)
        if len(kinds(boat, cable)) == 2:
            cores = {
                kind: [each.run.name for each in worn(boat)[cable] if each.function in of]
                for kind, of in (("AC", AC), ("DC", DC))
            }
            told = " and ".join(
                f"{kind} ({'core' if len(names) == 1 else 'cores'} {', '.join(names)})" for kind, names in cores.items()
            )
            yield Says(items=(cable,), at=boat.core_at(cable, *cores["DC"]), what=f"cable {cable} carries {told}")
        elif kinds(boat, cable):
            yield Sound(cable)
    for bundle, cables in sorted(bundles.items()):
        yield from _bundled(boat, bundle, cables)


def _bundled(boat: Boat, bundle: str, cables: list[str]) -> Iterator[Says | Lacks | Sound]:
    sides = [[cable for cable in cables if kinds(boat, cable) == {kind}] for kind in ("ac", "dc")]
    if not all(sides):
        return
    sheaths = [[boat.sheath(boat.vessel.cables[cable]) for cable in side] for side in sides]
    if any(all(each) for each in sheaths):
        yield Sound(bundle)
    elif all(False in each for each in sheaths):
        bare = [
            [cable for cable, sheath in zip(side, each, strict=True) if sheath is False]
            for side, each in zip(sides, sheaths, strict=True)
        ]
        yield Says(
            items=(bundle, *bare[0], *bare[1]),
            at=At("cables", bare[1][0], ("bundle",)),
            what=f"in bundle {bundle} AC {cables_named(bare[0])} and DC {cables_named(bare[1])} lie together "
            "without a sheath",
        )
    else:
        for side, each in zip(sides, sheaths, strict=True):
            for cable, sheath in zip(side, each, strict=True):
                if sheath is None:
                    yield Lacks(item=cable, at=At("cables", cable), missing="whether it has a sheath")
