"""A change told as an electrician would tell it."""

from __future__ import annotations

from vesselspec.changes.compare import ADDED, REMOVED, RENAMED, Change, FieldChange
from vesselspec.model.concessions import Concession
from vesselspec.model.devices import Device
from vesselspec.model.items import SPARE, UNTRACED, Cable, Way
from vesselspec.model.vessel import Vessel
from vesselspec.rules.mitigation import in_words

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
    "days": "day",
    "concessions": "concession",
    "vessel": "the vessel",
}
#: Fields that say something about an entry and nothing about the boat.
SAID_ABOUT = frozenset(("name", "formerly", "note", "photos", "evidence"))
#: Kinds of change in the contract: what happened, in one word.
MOVED, REWIRED, RESIZED = "moved", "rewired", "resized"


def kind_of(change: Change) -> str:
    """The kind of a change: added, removed, renamed, moved, rewired, resized or changed."""
    if change.collection == "cables" and change.kind == "changed":
        # What was not known before, or is not any more, was not touched on board for all that is recorded.
        keys = {each.key for each in change.fields if {each.before, each.after}.isdisjoint((None, UNTRACED))}
        if keys & {"from", "to"}:
            return MOVED
        if any(each.key.startswith("cores") for each in change.fields):
            return REWIRED
        if keys & {"size", "type"}:
            return RESIZED
    return change.kind


def tell(change: Change, before: Vessel, after: Vessel) -> str:
    """One sentence, without a full stop."""
    vessel = before if change.kind == REMOVED else after
    subject = _subject(change, vessel)
    if change.kind == ADDED:
        return f"{subject} added{about(change, vessel)}"
    if change.kind == REMOVED:
        return f"{subject} removed{about(change, vessel)}"
    # What is on board comes first, what is only said about it last.
    fields = sorted(change.fields, key=lambda each: each.key.split("/", maxsplit=1)[0] in SAID_ABOUT)
    parts = (
        [*_resized(change, before, after), *(_cable_part(e, after.cables[change.id], before, after) for e in fields)]
        if (change.collection == "cables" and change.id in after.cables)
        else [_part(each) for each in fields]
    )
    if change.kind == RENAMED:
        parts.insert(0, f"formerly {change.before_id}")
    return f"{subject}: {'; '.join(parts)}"


def _subject(change: Change, vessel: Vessel) -> str:
    if change.collection == "vessel":
        return "the vessel"
    if change.collection in ("devices", "loads"):
        device: Device | None = vessel.device(change.id)
        thing = "load" if change.collection == "loads" else _spoken_title(device) if device else "device"
        return f"{thing} {vessel.name_of(change.id)}"
    if change.collection == "cables":
        circuit = _circuit(vessel, vessel.cables.get(change.id))
        return f"cable {change.id}" + (f" ({circuit})" if circuit else "")
    name = vessel.name_of(change.id) if change.collection in ("panels", "ways") else change.id
    return f"{_THING[change.collection]} {name}"


def _spoken_title(device: Device) -> str:
    """A kind of device inside a sentence: its title, small where it is not written in capitals."""
    title: str = getattr(type(device), "title", type(device).__name__)
    return title if title[1:2].isupper() else title[0].lower() + title[1:]


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


def about(change: Change, vessel: Vessel) -> str:
    """The few words that place a new or removed entry."""
    if change.collection == "cables":
        cable = vessel.cables[change.id]
        size = _size(cable, vessel)
        return f", {size + ', ' if size else ''}from {vessel.name_of(cable.from_)} to {vessel.name_of(cable.to)}"
    if change.collection == "concessions":
        return _conceded(vessel.concessions[change.id], gone=change.kind == REMOVED)
    if change.collection == "ways":
        way: Way = vessel.ways[change.id][2]
        poles = "".join(f" {pole}" for pole in way.poles)
        rating = next((f", {_either(each)}" for each in change.fields if each.key == "rating"), "")
        return f": {way.device.replace('-', ' ')}{poles}{rating}"
    spoken = {"space": "in", "use": "use", "power": "power", "rating": "rating"}
    said = [f"{spoken[each.key]} {_either(each)}" for each in change.fields if each.key in spoken]
    return f" ({', '.join(said)})" if said else ""


def _conceded(concession: Concession, *, gone: bool) -> str:
    """What a concession accepts, until when, by whom and why."""
    what = concession.rule or (
        f"finding {concession.fingerprint}" if concession.fingerprint else "nothing that it names"
    )
    what += f" of {', '.join(concession.items)}" if concession.items else ""
    verb = "accepted" if gone else "accepts"
    kept = f"; until then {in_words(concession.mitigation)}" if concession.mitigation is not None else ""
    return f": {verb} {what} until {concession.until}, by {concession.accepted_by}: “{concession.reason}”{kept}"


def _either(each: FieldChange) -> str:
    return each.after or each.before or "nothing"


#: How a field is spoken of where its key does not say it.
_SPOKEN = {
    "positions": "position",
    "charging": "charging stage",
    "cores": "core",
    "engine_space": "engine space",
    "interrupting": "interrupting rating",
    "residual_current": "rated residual current",
    "formerly": "earlier id",
    "photos": "photograph",
    "joints": "joint",
    "poles": "pole",
    "inputs": "input",
    "outputs": "output",
    "secondary_poles": "secondary pole",
    "date": "accepted on",
}


def _part(each: FieldChange) -> str:
    key, _, inner = each.key.partition("/")
    if "listed" in (each.before, each.after):
        return _list_part(key, inner, gone=each.after is None)
    if key == "covers":
        return f"no longer covers finding {inner}" if each.after is None else f"covers finding {inner} ({each.after})"
    if key == "fitted":
        return "now recorded: nothing fitted" if each.after else "what is fitted is no longer recorded"
    if key == "spare":
        return "now spare" if each.after == "yes" else "no longer spare"
    if key == "demand":
        if each.before is None:
            return f"now counts {inner} at {each.after}"
        if each.after is None:
            return f"no longer counts {inner} (was {each.before})"
    spoken = _SPOKEN.get(key, key.replace("_", " ")) if inner or key != "formerly" else "earlier ids"
    if inner:
        spoken = f"{spoken} of {inner}"
    was, now = (
        f"“{said}”" if key in ("note", "reason") and said is not None else said for said in (each.before, each.after)
    )
    if was is None:
        return f"{spoken} recorded: {now}" if now is not None else f"{spoken} changed"
    if now is None:
        return f"{spoken} no longer recorded (was {was})"
    if {was, now} == {"yes", "no"}:
        return f"{spoken}: {now}, was {was}"
    return f"{spoken} {now} instead of {was}"


def _list_part(key: str, value: str, *, gone: bool) -> str:
    if key == "items":
        return f"{'no longer' if gone else 'also'} on {value}"
    if key == "running":
        return f"{value} {'no longer' if gone else 'also'} running"
    if key == "only_from":
        return f"may {'no longer' if gone else 'also'} be fed from {value}"
    if key == "between":
        return f"{'no longer' if gone else 'also'} holds {value}"
    if key == "fitted":
        return f"{value.replace('-', ' ')} {'no longer' if gone else 'now'} fitted"
    if key == "poles":
        return f"pole {value} {'gone' if gone else 'added'}"
    spoken = _SPOKEN.get(key, key.replace("_", " "))
    return f"{spoken} {value} {'no longer recorded' if gone else 'added'}"


def _cable_part(each: FieldChange, cable: Cable, before: Vessel, after: Vessel) -> str:
    if each.key in ("from", "to") and each.before and each.after:
        if UNTRACED in (each.before, each.after):
            if each.after == UNTRACED:
                return f"{each.key} end no longer traced (was {before.name_of(each.before)})"
            return f"{each.key} end traced to {after.name_of(each.after)}"
        return _moved(each.key, each.before, each.after, before, after)
    if each.key.startswith("cores/"):
        core = each.key.split("/", 1)[1]
        usual = dict(getattr(after.cable_type(cable), "cores", ()) or ()).get(core)
        if each.after is None:
            return f"core {core} {'back as in its type' if usual is not None else 'gone'} (was: {each.before})"
        instead = f" instead of {each.before}" if each.before is not None else ""
        if not instead and usual is not None:
            instead = " instead of as in its type"
        return f"core {core} {_lies(each.after)}{instead}"
    return _part(each)


def _moved(end: str, was: str, now: str, before: Vessel, after: Vessel) -> str:
    # A renamed place is already called by its name of now, which only the later state knows.
    known = was in before.ways or before.device(was.split("/", maxsplit=1)[0]) is not None
    old, new = (before if known else after).name_of(was), after.name_of(now)
    ways, sections = (*before.ways, *after.ways), (*before.sections, *after.sections)
    one, two = ("/".join(place.split("/")[:2]) for place in (was, now))
    if one != two and one in sections and two in sections:
        way_one, way_two = (f", way {name}" if at in ways else "" for at, name in ((was, old), (now, new)))
        return f"moved from section {one}{way_one}, to section {two}{way_two}"
    return f"{end} end moved from {old} to {new}"


def _resized(change: Change, before: Vessel, after: Vessel) -> list[str]:
    """The size of a cable where it is another only through its type."""
    was, now = before.cables.get(change.before_id), after.cables[change.id]
    if was is None or change.field("size") is not None or change.field("type") is None:
        return []
    one, two = _size(was, before), _size(now, after)
    return [f"{two} instead of {one}"] if one and two and one != two else []


def _size(cable: Cable, vessel: Vessel) -> str:
    """The size of a cable as it is written, its own or its type's; empty where neither says it."""
    size = cable.size or getattr(vessel.cable_type(cable), "size", None)
    return size.text if size is not None else ""


def _lies(landing: str) -> str:
    """What is said of a core that is spare, free, untraced or lands somewhere."""
    first = landing.split(",", maxsplit=1)[0]
    return f"is {landing}" if first in (SPARE, UNTRACED) or first.startswith("colour ") else f"lands on {landing}"
