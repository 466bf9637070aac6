"""The compiled network: terminals, the links between them, and what the sources put on them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from vesselspec.model.items import Cable, Core
from vesselspec.units import Size

LINES = ("L1", "L2", "L3")
#: Pole of the loose end of a core that is untraced or cut back: it is meant to carry nothing known.
OPEN_END = ""


@dataclass(frozen=True, slots=True)
class Terminal:
    """A point where conductors land. `system` and `pole` say what it is meant to carry."""

    place: str
    pole: str
    system: str | None
    #: For the loose end of a core: its cable's words, such as "black at its to end".
    loose: str = ""

    @property
    def name(self) -> str:
        """The terminal as the record writes it."""
        return f"{self.place} {self.loose}" if self.loose else f"{self.place}:{self.pole}"


#: A choice and those of its states in which a link conducts.
Guard = tuple[str, frozenset[str]]


@dataclass(frozen=True, slots=True)
class Link:
    """A conducting connection of two terminals: a core, a contact, or a fixed joint.

    `switch` is the place whose open or closed position it follows; `guards` are the exclusive choices
    (selector position, interlock, transfer relay) that must stand right for it to conduct.
    """

    a: int
    b: int
    kind: str  # core | contact | joint
    item: str
    core: str = ""
    switch: str | None = None
    guards: tuple[Guard, ...] = ()
    protective: bool = False
    one_way: bool = False

    def other(self, terminal: int) -> int:
        """The terminal at the far end."""
        return self.b if terminal == self.a else self.a


@dataclass(frozen=True, slots=True)
class Emission:
    """One potential that a source puts on a terminal, in the states that its guards allow."""

    source: str
    supply: str  # shore | generator | inverter | transformer | battery | charging
    group: str  # sources of one group run in step with each other
    terminal: int
    pole: str
    system: str | None
    volts: float
    guards: tuple[Guard, ...] = ()


@dataclass(frozen=True, slots=True)
class Choice:
    """A set of states of which exactly one holds at a time.

    Units that run in step stand in one state together: each of them has the same choice, known by the first.
    """

    id: str
    kind: str  # selector | interlock | transfer
    states: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CoreRun:
    """One core after expansion: the link that it makes, or -1 where it lands on nothing at both ends."""

    cable: Cable
    name: str
    core: Core
    link: int
    colour: str | None
    size: Size | None


@dataclass(frozen=True, slots=True)
class Unlanded:
    """A landing that names no terminal: the mistake is in the record, not on board."""

    cable: str
    core: str  # empty where the whole end is meant
    end: str  # from | to
    said: str
    reason: str
    #: Where an AC core is said to end among DC terminals only, or the other way round: that place.
    clash: str = ""
    pole: str = ""
    #: The device, load or panel that is probably meant where there is none of that name.
    meant: str = ""


@dataclass(frozen=True)
class Network:
    """A vessel compiled to terminals and links. Order is fixed by the record's ids."""

    terminals: tuple[Terminal, ...]
    links: tuple[Link, ...]
    emissions: tuple[Emission, ...]
    #: Selector, interlock or transfer relay → its choice; guards name the choice by its id.
    choices: Mapping[str, Choice]
    cores: tuple[CoreRun, ...]
    unlanded: tuple[Unlanded, ...]
    index: Mapping[tuple[str, str], int]
    #: isolation transformer → terminals of its primary and secondary lines.
    transformers: Mapping[str, tuple[tuple[int, ...], tuple[int, ...]]]

    @cached_property
    def together(self) -> Mapping[str, tuple[str, ...]]:
        """The places that stand in each choice, by its id: one, or all units that run in step."""
        found: dict[str, list[str]] = {}
        for key, choice in self.choices.items():
            found.setdefault(choice.id, []).append(key)
        return {choice: tuple(keys) for choice, keys in found.items()}

    @cached_property
    def at(self) -> tuple[tuple[int, ...], ...]:
        """The links at each terminal."""
        lists: list[list[int]] = [[] for _ in self.terminals]
        for number, link in enumerate(self.links):
            lists[link.a].append(number)
            if link.b != link.a:
                lists[link.b].append(number)
        return tuple(map(tuple, lists))

    @cached_property
    def between(self) -> Mapping[tuple[int, int], tuple[int, ...]]:
        """The links between each two terminals, earth left out: it is no way for a working current."""
        earth = [terminal.pole == "PE" for terminal in self.terminals]
        found: dict[tuple[int, int], list[int]] = {}
        for number, link in enumerate(self.links):
            if link.a != link.b and not earth[link.a] and not earth[link.b]:
                ends = (link.a, link.b) if link.a < link.b else (link.b, link.a)
                found.setdefault(ends, []).append(number)
        return {ends: tuple(numbers) for ends, numbers in found.items()}

    @cached_property
    def core_of(self) -> Mapping[int, CoreRun]:
        """The core behind each link that is one."""
        return {run.link: run for run in self.cores if run.link >= 0}

    @cached_property
    def runs(self) -> Mapping[str, tuple[CoreRun, ...]]:
        """The cores of each cable."""
        found: dict[str, list[CoreRun]] = {}
        for run in self.cores:
            found.setdefault(run.cable.id, []).append(run)
        return {cable: tuple(runs) for cable, runs in found.items()}

    @cached_property
    def places(self) -> Mapping[str, tuple[int, ...]]:
        """The terminals of each place."""
        found: dict[str, list[int]] = {}
        for number, terminal in enumerate(self.terminals):
            found.setdefault(terminal.place, []).append(number)
        return {place: tuple(numbers) for place, numbers in found.items()}

    @cached_property
    def _within(self) -> Mapping[str, tuple[int, ...]]:
        found: dict[str, list[int]] = {}
        for place, numbers in self.places.items():
            parts = place.split("/")
            for depth in range(1, len(parts) + 1):
                found.setdefault("/".join(parts[:depth]), []).extend(numbers)
        return {place: tuple(numbers) for place, numbers in found.items()}

    def within(self, head: str) -> tuple[int, ...]:
        """Every terminal of a device, panel or section, or of a place inside it."""
        return self._within.get(head, ())
