"""What somebody did on board, told once: several entries that changed for one and the same reason are one act.

Nothing is swallowed: what of a change is no mere echo of the act is told by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from vesselspec.changes.compare import ADDED, CHANGED, Change
from vesselspec.changes.words import MOVED, kind_of, tell
from vesselspec.model.items import Cable
from vesselspec.model.vessel import Vessel

#: One entry was made two.
SPLIT = "split"


@dataclass(frozen=True)
class Act:
    """One thing that was done: its kind, the entry that it is about, one sentence, and all changes that it explains."""

    kind: str
    id: str
    what: str
    of: tuple[Change, ...]


def acts(changes: Iterable[Change], before: Vessel, after: Vessel) -> tuple[Act, ...]:
    """Tell changes as acts, in their order."""
    changes = tuple(changes)
    left = {(change.collection, change.id, change.kind): change for change in changes}
    found: dict[tuple[str, str, str], Act] = {}
    for key, change in list(left.items()):
        if change.collection != "cables" or key not in left:
            continue
        if kind_of(change) == MOVED:
            act = _moved(change, left, before, after)
        elif change.kind == ADDED:
            act = _new_circuit(change, left, before, after) or _split_off(change, before, after)
        else:
            act = None
        if act is not None:
            about = "loads" if act.id in after.loads else "cables"
            left.pop(key, None)
            found[next(k for k in ((about, act.id, ADDED), key) if k in _keys(act))] = act
    for key, change in left.items():
        split = _split_off(change, before, after) if change.kind == ADDED else None
        found[key] = split or Act(kind_of(change), change.id, tell(change, before, after), (change,))
    order = {(change.collection, change.id, change.kind): number for number, change in enumerate(changes)}
    return tuple(found[key] for key in sorted(found, key=lambda key: order[key]))


_Left = dict[tuple[str, str, str], Change]


def _keys(act: Act) -> set[tuple[str, str, str]]:
    return {(change.collection, change.id, change.kind) for change in act.of}


def _moved(change: Change, left: _Left, before: Vessel, after: Vessel) -> Act | None:
    """A circuit moved from one way to another: the label goes along, and the way that it left is spare."""
    ends = [each for each in change.fields if each.key in ("from", "to") and each.before in before.ways]
    if len(ends) != 1 or ends[0].after not in after.ways:
        return None
    was, now = str(ends[0].before), str(ends[0].after)
    told, of = [tell(change, before, after)], [change]
    label = before.ways[was][2].label
    if _fold(left, of, now, {"spare": {None, "no"}, "label": {label}}, to_use=True):
        told.append("its label along" if label and after.ways[now][2].label == label else f"{now} was spare")
    way = after.ways.get(was)
    if way is not None and way[2].spare and _fold(left, of, was, {"spare": {"yes"}, "label": None}, to_use=False):
        told.append(f"{was} left spare")
    stays = [cable.id for cable in _landed(after, was) if cable.id in before.cables]
    if stays:
        told.append(f"{' and '.join(stays)} {'stay' if len(stays) > 1 else 'stays'} on {was}: the circuit is split")
    return Act(SPLIT if stays else MOVED, change.id, "; ".join(told), tuple(of))


def _new_circuit(change: Change, left: _Left, before: Vessel, after: Vessel) -> Act | None:
    """A load that is new, with its one cable from a way that was spare or is new as well."""
    cable = after.cables[change.id]
    ways = [end for end in (cable.from_, cable.to) if end in after.ways]
    loads = [end for end in (cable.from_, cable.to) if ("loads", end, ADDED) in left]
    if len(ways) != 1 or len(loads) != 1:
        return None
    if sum(loads[0] in (each.from_, each.to) for each in after.cables.values()) != 1:
        return None
    load = left.pop(("loads", loads[0], ADDED))
    of = [load, change]
    way = after.ways[ways[0]][2]
    was_spare = _fold(left, of, ways[0], {"spare": {None, "no"}, "label": {way.label}}, to_use=True)
    told = f"{tell(load, before, after)}, with {tell(change, before, after)}"
    return Act(ADDED, load.id, told + (f"; {ways[0]} was spare" if was_spare else ""), tuple(of))


def _fold(left: _Left, of: list[Change], way: str, echoes: dict[str, set[str | None] | None], *, to_use: bool) -> bool:
    """Take what is a mere echo out of the change of a way; return whether it was one. The rest stays to be told."""
    key = ("ways", way, CHANGED)
    change = left.get(key)
    spare = None if change is None else change.field("spare")
    if change is None or spare is None or (spare.after == "yes") == to_use:
        return False

    def is_echo(field: str, now: str | None) -> bool:
        wanted = echoes.get(field, set())
        return wanted is None or now in wanted

    rest = tuple(each for each in change.fields if not is_echo(each.key, each.after))
    of.append(change)
    if rest:
        left[key] = replace(change, fields=rest)
    else:
        del left[key]
    return True


def _split_off(change: Change, before: Vessel, after: Vessel) -> Act | None:
    """A new entry that says what it was part of, while that is still there or has passed its name on to another."""
    said = change.field("formerly")
    collection = before.collection(change.collection) if change.collection not in ("sections", "ways") else {}
    origins = [was for was in (said.after or "").split(", ") if was in collection] if said is not None else []
    if not origins:
        return None
    return Act(SPLIT, change.id, f"{tell(change, before, after)}: split off {' and '.join(origins)}", (change,))


def _landed(vessel: Vessel, place: str) -> Iterator[Cable]:
    return (cable for cable in vessel.cables.values() if place in (cable.from_, cable.to))
