"""Where each core of a cable lands, said or implied, for drawing."""

from __future__ import annotations

from dataclasses import dataclass

from vesselspec.model.items import FREE, UNTRACED
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import CoreRun, Network


@dataclass(frozen=True)
class End:
    """One end of a core. `place` is empty where it lands nowhere; `words` then say why."""

    place: str
    pole: str
    words: str = ""


@dataclass(frozen=True)
class Wire:
    """One core with both its ends."""

    run: CoreRun
    from_: End
    to: End

    @property
    def ends(self) -> tuple[End, End]:
        """Both ends, the from end first."""
        return self.from_, self.to

    @property
    def colour(self) -> str:
        """The colour of its insulation, as the record has it."""
        return self.run.colour or self.run.name

    @property
    def poles(self) -> str:
        """The pole that it joins, or from → to where they differ."""
        return self.poles_seen(from_end=True)

    def poles_seen(self, *, from_end: bool) -> str:
        """The pole that it joins; where they differ, that at the end named first."""
        poles = [end.pole or end.words for end in (self.ends if from_end else self.ends[::-1])]
        return poles[0] if poles[0] == poles[1] else " → ".join(poles)


def wires(vessel: Vessel, network: Network) -> dict[str, tuple[Wire, ...]]:
    """The cores of every cable with their ends, worked out once for a network: every panel's sheet asks for them."""
    store = network.__dict__
    if "drawn_wires" not in store:
        store["drawn_wires"] = _wires(vessel, network)
    found: dict[str, tuple[Wire, ...]] = store["drawn_wires"]
    return found


def _wires(vessel: Vessel, network: Network) -> dict[str, tuple[Wire, ...]]:
    return {
        key: tuple(
            Wire(
                run,
                _end(vessel, network, run.core.from_ or run.core.to, cable.from_),
                _end(vessel, network, run.core.to or run.core.from_, cable.to),
            )
            for run in network.runs.get(key, ())
        )
        for key, cable in vessel.cables.items()
    }


def _end(vessel: Vessel, network: Network, said: str | None, place: str) -> End:
    if said == FREE:
        return End("", "", "cut back and insulated")
    if said is None or said == UNTRACED or (place == UNTRACED and ":" not in said):
        return End("", "", "untraced")
    at, _, pole = said.rpartition(":")
    at = at or place
    if (at, pole) in network.index:
        return End(at, pole)
    if at in vessel.ways and vessel.ways[at][2].device != "blank":
        panel, section, _way = vessel.ways[at]
        bar = f"{panel.id}/{section.id}"
        if (bar, pole) in network.index:
            return End(bar, pole)
    return End("", "", f"{at}:{pole} is not in the record")


def head_of(place: str) -> str:
    """The device, load or panel that a place belongs to."""
    return place.split("/", 1)[0]


def section_of(vessel: Vessel, place: str) -> str:
    """The section that a way or section address belongs to; empty for any other place."""
    if place in vessel.ways:
        return place.rsplit("/", 1)[0]
    return place if place in vessel.sections else ""
