"""What somebody did on board, told once: several entries that changed for one and the same reason are one act.

Nothing is swallowed: what of a change is no mere echo of the act is told by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from vesselspec.changes.act import Act, Key, Left
from vesselspec.changes.compare import ADDED, CHANGED, REMOVED, Change
from vesselspec.changes.replaced import head, other_run, panel, replaced
from vesselspec.changes.words import MOVED, kind_of, tell
from vesselspec.model.items import Cable
from vesselspec.model.vessel import Vessel

#: One entry was made two.
SPLIT = "split"


def acts(changes: Iterable[Change], before: Vessel, after: Vessel) -> tuple[Act, ...]:
    """Tell changes as acts, in their order."""
    changes = tuple(changes)
    left = {(change.collection, change.id, change.kind): change for change in changes}
    found: dict[Key, Act] = {}
    for key, change in list(left.items()):
        if change.kind == ADDED and key in left and change.field("formerly") is None:
            act = _in_place(change, left, before, after)
            found |= {} if act is None else {key: act}
    for key, change in list(left.items()):
        if key[0] == "panels" and change.kind in (ADDED, REMOVED):
            found[key] = panel(left.pop(key), left, before, after)
        elif key[0] in ("devices", "loads") and change.kind in (ADDED, REMOVED):
            found[key] = _fitted(left.pop(key), left, before, after)
    for key, change in list(left.items()):
        if change.collection != "cables" or key not in left:
            continue
        act = None
        if kind_of(change) == MOVED:
            act = _moved(change, left, before, after)
        elif change.kind in (ADDED, REMOVED):
            act = _run(change, left, before, after)
        if act is not None:
            found[key] = act
            left.pop(key, None)
    for key, change in left.items():
        split = _split_off(change, before, after) if change.kind == ADDED else None
        found[key] = split or Act(kind_of(change), change.id, (tell(change, before, after),), (change,))
    order = {(change.collection, change.id, change.kind): number for number, change in enumerate(changes)}
    return tuple(found[key] for key in sorted(found, key=lambda key: order[key]))


def _in_place(new: Change, left: Left, before: Vessel, after: Vessel) -> Act | None:
    """A new entry that took the place of one that is gone, and where it counts."""
    if new.collection == "cables":
        return other_run(new, left, before, after)
    if new.collection not in ("devices", "loads", "panels"):
        return None
    act = replaced(new, left, before, after)
    if act is None:
        return None
    of = list(act.of)
    now, was = _counted(new, left, of), _counted(act.of[1], left, of)
    if now == [said.replace("it ran", "it runs").replace("counted at", "counts at") for said in was]:
        counted = ["in every condition as the old one"] if now else []
    else:
        counted = [*now, *(f"the old one: {said}" for said in was)]
    return replace(act, told=(*act.told, *counted), of=tuple(of))


#: Field of a way → what it says now where it only follows from the act; None for whatever it says.
_Echoes = dict[str, set[str | None] | None]


def _moved(change: Change, left: Left, before: Vessel, after: Vessel) -> Act | None:
    """A circuit moved from one way to another: the label goes along, and the way that it left is spare."""
    ends = [each for each in change.fields if each.key in ("from", "to") and _in_panel(each.before, before)]
    if len(ends) != 1 or not _in_panel(ends[0].after, after):
        return None
    was, now = str(ends[0].before), str(ends[0].after)
    told, of = [tell(change, before, after)], [change]
    label = before.ways[was][2].label if was in before.ways else None
    if _fold(left, of, now, {"spare": {None, "no"}, "label": {label}}, to_use=True):
        told.append("its label along" if label and after.ways[now][2].label == label else f"{now} was spare")
    way = after.ways.get(was)
    if way is not None and way[2].spare and _fold(left, of, was, {"spare": {"yes"}, "label": None}, to_use=False):
        told.append(f"{was} left spare")
    stays = [cable.id for cable in _landed(after, was) if cable.id in before.cables] if was in before.ways else []
    if stays:
        told.append(f"{' and '.join(stays)} {'stay' if len(stays) > 1 else 'stays'} on {was}: the circuit is split")
    return Act(SPLIT if stays else MOVED, change.id, tuple(told), tuple(of))


def _in_panel(place: str | None, vessel: Vessel) -> bool:
    return place in vessel.ways or place in vessel.sections


def _fitted(item: Change, left: Left, before: Vessel, after: Vessel) -> Act:
    """A device or load that is new or gone, with the cables that came or went with it, their ways, where it counts."""
    new = item.kind == ADDED
    vessel = after if new else before
    split = _split_off(item, before, after) if new else None
    of, told = [item], [split.what if split is not None else tell(item, before, after)]
    for key, change in list(left.items()):
        cable = vessel.cables.get(change.id) if key[0] == "cables" and change.kind == item.kind else None
        if cable is None or item.id not in (head(cable.from_), head(cable.to)):
            continue
        if split is None and _split_off(change, before, after) is not None:
            continue  # a new load on a part of an old circuit: the part is told by itself
        ends = [head(end) for end in (cable.from_, cable.to)]
        if any((holder, end, item.kind) in left for holder in ("devices", "loads") for end in ends):
            continue  # it leads on to another that is new as well, and is told with that one
        run = _run(left.pop(key), left, before, after)
        told.append(f"with {run.what}")
        of += run.of
    counted = _counted(item, left, of)
    return Act(split.kind if split is not None else item.kind, item.id, (*told, *counted), tuple(of))


def _run(change: Change, left: Left, before: Vessel, after: Vessel) -> Act:
    """A cable that is new or gone, with the ways at its ends that were spare or are left so."""
    new = change.kind == ADDED
    cable = (after if new else before).cables[change.id]
    of, spare = [change], []
    for end in (cable.from_, cable.to):
        if new and end in after.ways:
            echoes: _Echoes = {"spare": {None, "no"}, "label": {after.ways[end][2].label}}
            spare += [f"{end} was spare"] if _fold(left, of, end, echoes, to_use=True) else []
        elif end in after.ways and after.ways[end][2].spare:
            echoes = {"spare": {"yes"}, "label": None}
            spare += [f"{end} left spare"] if _fold(left, of, end, echoes, to_use=False) else []
    split = _split_off(change, before, after) if new else None
    if split is not None:
        return Act(SPLIT, change.id, (*split.told, *spare), tuple(of))
    return Act(change.kind, change.id, (tell(change, before, after), *spare), tuple(of))


def _counted(item: Change, left: Left, of: list[Change]) -> list[str]:
    """The conditions in which a device or load that came or went is counted, or was; the rest of them stays."""
    told: dict[str, list[str]] = {}
    for key, change in list(left.items()):
        own = [e for e in change.fields if e.key in (f"running/{item.id}", f"demand/{item.id}")]
        own = [each for each in own if (each.before is None) == (item.kind == ADDED)]
        if change.collection != "conditions" or change.kind != CHANGED or not own:
            continue
        of.append(replace(change, fields=tuple(own)))
        rest = tuple(each for each in change.fields if each not in own)
        if rest:
            left[key] = replace(change, fields=rest)
        else:
            del left[key]
        share = next((each.after or each.before for each in own if each.key.startswith("demand/")), None)
        words = ["runs" if item.kind == ADDED else "ran"] if len(own) > (share is not None) else []
        words += [f"{'counts' if item.kind == ADDED else 'counted'} at {share}"] if share is not None else []
        told.setdefault(" and ".join(words), []).append(change.id)
    return [f"in {', '.join(conditions)} it {words}" for words, conditions in told.items()]


def _fold(left: Left, of: list[Change], way: str, echoes: _Echoes, *, to_use: bool) -> bool:
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
    of.append(replace(change, fields=tuple(each for each in change.fields if each not in rest)))
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
    return Act(SPLIT, change.id, (f"{tell(change, before, after)}: split off {' and '.join(origins)}",), (change,))


def _landed(vessel: Vessel, place: str) -> Iterator[Cable]:
    return (cable for cable in vessel.cables.values() if place in (cable.from_, cable.to))
