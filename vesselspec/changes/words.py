"""A change told as an electrician would tell it."""

from __future__ import annotations

from vesselspec.changes.compare import ADDED, REMOVED, RENAMED, Change, FieldChange
from vesselspec.model.devices import Device
from vesselspec.model.items import Cable, Way
from vesselspec.model.vessel import Vessel

_THING = {
    "spaces": "space",
    "systems": "system",
    "panels": "panel",
    "sections": "section",
    "ways": "way",
    "cable_types": "cable type",
    "bundles": "bundle",
    "cables": "cable",
    "interlocks": "interlock",
    "conditions": "condition",
    "vessel": "the vessel",
}
#: Kinds of change in the contract: what happened, in one word.
MOVED, REWIRED, RESIZED = "moved", "rewired", "resized"


def kind_of(change: Change) -> str:
    """The kind of a change: added, removed, renamed, moved, rewired, resized or changed."""
    if change.collection == "cables" and change.kind == "changed":
        keys = {each.key for each in change.fields}
        if keys & {"from", "to"}:
            return MOVED
        if any(key.startswith("cores") for key in keys):
            return REWIRED
        if "size" in keys or "type" in keys:
            return RESIZED
    return change.kind


def tell(change: Change, before: Vessel, after: Vessel) -> str:
    """One sentence, without a full stop."""
    vessel = before if change.kind == REMOVED else after
    subject = _subject(change, vessel)
    if change.kind == ADDED:
        return f"{subject} added{_about(change, vessel)}"
    if change.kind == REMOVED:
        return f"{subject} removed{_about(change, vessel)}"
    parts = (
        [_cable_part(each, after.cables[change.id], before, after) for each in change.fields]
        if (change.collection == "cables" and change.id in after.cables)
        else [_part(each) for each in change.fields]
    )
    if change.kind == RENAMED:
        parts.insert(0, f"formerly {change.before_id}")
    return f"{subject}: {'; '.join(parts)}"


def _subject(change: Change, vessel: Vessel) -> str:
    if change.collection == "vessel":
        return "the vessel"
    if change.collection in ("devices", "loads"):
        device: Device | None = vessel.device(change.id)
        thing = "load" if change.collection == "loads" else device.kind.replace("-", " ") if device else "device"
        return f"{thing} {vessel.name_of(change.id)}"
    if change.collection == "cables":
        circuit = _circuit(vessel, vessel.cables.get(change.id))
        return f"cable {change.id}" + (f" ({circuit})" if circuit else "")
    name = vessel.name_of(change.id) if change.collection in ("panels", "ways") else change.id
    return f"{_THING[change.collection]} {name}"


def _circuit(vessel: Vessel, cable: Cable | None) -> str:
    """What a cable feeds: the load or device at one of its ends."""
    if cable is None:
        return ""
    for place in (cable.to, cable.from_):
        head = place.split("/", 1)[0]
        item = vessel.device(head)
        if item is not None:
            return f"to {item.name or head}" if place == cable.to else f"from {item.name or head}"
    return ""


def _about(change: Change, vessel: Vessel) -> str:
    """The few words that place a new or removed entry."""
    if change.collection == "cables":
        cable = vessel.cables[change.id]
        size = next((run for run in (cable.size, getattr(vessel.cable_type(cable), "size", None)) if run), None)
        return f", {size.text + ', ' if size else ''}from {vessel.name_of(cable.from_)} to {vessel.name_of(cable.to)}"
    if change.collection == "ways":
        way: Way = vessel.ways[change.id][2]
        poles = "".join(f" {pole}" for pole in way.poles)
        rating = change.field("rating")
        return f": {way.device}{poles}{', ' + str(rating.after) if rating else ''}"
    said = [f"{each.key} {each.after}" for each in change.fields if each.key in ("power", "rating", "space", "use")]
    return f" ({', '.join(said)})" if said else ""


def _part(each: FieldChange) -> str:
    key, _, inner = each.key.partition("/")
    key = key.replace("_", " ")
    if key == "spare":
        return "now spare" if each.after == "yes" else "no longer spare"
    if "listed" in (each.before, each.after):
        return f"{key}: {inner} {'no longer' if each.after is None else 'also'}"
    if inner:
        key = f"{key} of {inner}"
    if each.before is None:
        return f"{key} is now {each.after}" if each.after is not None else f"{key} changed"
    if each.after is None:
        return f"{key} no longer recorded (was {each.before})"
    return f"{key} {each.after} instead of {each.before}"


def _cable_part(each: FieldChange, cable: Cable, before: Vessel, after: Vessel) -> str:
    if each.key in ("from", "to") and each.before and each.after:
        old, new = before.name_of(each.before), after.name_of(each.after)
        sections = ["/".join(place.split("/")[:2]) for place in (each.before, each.after)]
        across = [place for place in sections if place in before.sections or place in after.sections]
        if len(across) == 2 and across[0] != across[1]:
            return f"moved from section {across[0]}, way {old}, to section {across[1]}, way {new}"
        return f"{each.key} end moved from {old} to {new}"
    if each.key.startswith("cores/"):
        core = each.key.split("/", 1)[1]
        if each.before is None:
            return f"core {core} lands on {each.after}"
        if each.after is None:
            usual = dict(getattr(after.cable_type(cable), "cores", ()) or ()).get(core)
            return f"core {core} {'back as in its type' if usual is not None else 'gone'} (was: {each.before})"
        return f"core {core} lands on {each.after} instead of {each.before}"
    return _part(each)
