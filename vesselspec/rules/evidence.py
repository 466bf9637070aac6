"""The record itself: what must not rest on an assumption."""

from __future__ import annotations

from collections.abc import Iterator

from vesselspec.model.devices import Device, Generator, Inverter, InverterCharger, IsolationTransformer, Selector
from vesselspec.model.items import Item
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import COMMON_PRACTICE, Says, Sound, rule
from vesselspec.rules.cores import cables_named, enclosures
from vesselspec.rules.findings import CAUTION, At


@rule(
    "assumed-not-traced",
    CAUTION,
    title="Something that lives depend on is recorded on an assumption",
    why="What this record says of lines on DC terminals, of joined neutrals and of sources that meet is worth no more "
    "than what nobody has looked at.",
    remedy="Make every source dead and prove it, trace it with instrument or eye, and record how it is known.",
    source=COMMON_PRACTICE,
    needs="how an entry is known",
)
def assumed(boat: Boat) -> Iterator[Says | Sound]:
    """Cables at devices with AC and DC sides, joints of neutral and earth in sources, and selectors."""
    for place, landed in enclosures(boat).items():
        if place not in boat.vessel.devices:
            continue
        cables = dict.fromkeys(each.cable for each in landed)
        guessed = [key for key in cables if _how(boat.vessel.cables[key]) == "assumed"]
        if guessed:
            yield Says(
                items=(place, *guessed),
                at=At("cables", guessed[0], ("evidence",)),
                what=f"where {cables_named(guessed)} "
                f"{'lands' if len(guessed) == 1 else 'land'} on {boat.vessel.name_of(place)}, which has AC and DC "
                "terminals, is assumed",
            )
        elif all(_how(boat.vessel.cables[key]) for key in cables):
            yield Sound(place)
    for key, device in boat.vessel.devices.items():
        what = _depends_on(device)
        if what is None or _how(device) is None:
            continue
        if _how(device) == "assumed":
            yield Says(
                items=(key,),
                at=At("devices", key, ("evidence",)),
                what=f"{what} of {boat.vessel.name_of(key)} is assumed",
                arguments=(what,),
            )
        else:
            yield Sound(key)


def _how(item: Item) -> str | None:
    return item.evidence.how if item.evidence is not None else None


def _depends_on(device: Device) -> str | None:
    """What of a device decides whether sources meet or a neutral floats."""
    if isinstance(device, Selector):
        return "the table of positions and poles"
    if isinstance(device, Generator | Inverter | IsolationTransformer) and device.neutral_earth_bond is not None:
        return "the joint of neutral and earth"
    if isinstance(device, InverterCharger) and device.neutral_earth_relay is not None:
        return "the relay between neutral and earth"
    return None
