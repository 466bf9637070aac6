"""What each load puts on every source, protective device, switch and bus on its way, in one condition.

Currents add up: a load's share is worked out alone, at its full current, and scaled afterwards. A load hangs on what
*every* way from its source leads through (the dominators of the network as it is switched); how parallel ways divide
a current depends on their impedances, so what lies on only one of them is named and not judged. Line currents of
different phase angle are added as plain numbers, which errs to too much.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from vesselspec.model.devices import Busbar, Charger, InverterCharger, Load, Selector, _InLine
from vesselspec.model.forms import Pairs
from vesselspec.model.items import Condition, Demand
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import LINES, Link, Network
from vesselspec.network.state import State, closed_links
from vesselspec.physics.loads.demand import demands_of, parts_of

#: Sources that act as one, and one of their poles.
Root = tuple[tuple[str, ...], str]


@dataclass(frozen=True, order=True)
class Element:
    """One pole of something with a rating: a source, device, switch, bus, or a cable's core.

    `continuous`: of it, only what loads of three hours or more put on it, which has a limit of its own.
    """

    item: str
    pole: str
    kind: str  # source | breaker | fuse | switch | selector | relay | bus | cable
    core: str = ""
    continuous: bool = False

    @property
    def sources(self) -> tuple[str, ...]:
        """The ids of a source, of which several may stand in parallel."""
        return tuple(self.item.split(" + "))


@dataclass(frozen=True)
class Burden:
    """What one load or charger at its full current puts on each element, in A."""

    load: str
    levels: tuple[tuple[Root, Mapping[Element, float]], ...]  # nearest source first, then what feeds that one
    unknown: tuple[tuple[str, str], ...]  # (item, field that is not recorded): the currents are lower bounds
    parallel: tuple[str, ...]  # where its way divides in parallel
    fed: bool

    @property
    def amps(self) -> Mapping[Element, float]:
        """All elements, on every level."""
        return _sum(amps for _, amps in self.levels)

    def below(self, source: str) -> Mapping[Element, float]:
        """The elements of a source and behind it; what feeds the source itself is left out."""
        last = max((n for n, ((sources, _), _) in enumerate(self.levels) if source in sources), default=-1)
        return _sum(amps for _, amps in self.levels[: last + 1])


def _sum(maps: Iterable[Mapping[Element, float]]) -> Mapping[Element, float]:
    total: dict[Element, float] = {}
    for each in maps:
        for element, amps in each.items():
            total[element] = total.get(element, 0.0) + amps
    return total


def dominators(root: int, successors: Callable[[int], Iterable[int]]) -> dict[int, int]:
    """For each node that the root reaches, the last node before it that every way passes."""
    before: dict[int, list[int]] = {}
    order: list[int] = []
    seen = {root}
    stack: list[tuple[int, Iterator[int]]] = [(root, iter(successors(root)))]
    while stack:
        node, rest = stack[-1]
        following = next(rest, None)
        if following is None:
            order.append(node)
            stack.pop()
            continue
        before.setdefault(following, []).append(node)
        if following not in seen:
            seen.add(following)
            stack.append((following, iter(successors(following))))
    number = {node: place for place, node in enumerate(order)}
    found = {root: root}

    def common(one: int, other: int) -> int:
        while one != other:
            while number[one] < number[other]:
                one = found[one]
            while number[other] < number[one]:
                other = found[other]
        return one

    changed = True
    while changed:
        changed = False
        for node in reversed(order[:-1]):
            new: int | None = None
            for each in before[node]:
                if each in found:
                    new = each if new is None else common(each, new)
            if new is not None and found.get(node) != new:
                found[node] = new
                changed = True
    return found


class Ways:
    """The network as one condition switches it: from each source to everything that hangs on it."""

    def __init__(self, vessel: Vessel, network: Network, condition: Condition, state: State) -> None:
        self.vessel, self.network, self.condition, self.state = vessel, network, condition, state
        self.closed = closed_links(network, condition, state)
        self._trees: dict[Root, dict[int, int]] = {}
        self.ratings: dict[Element, float | None] = {}
        self.cores: dict[Element, int] = {}  # a cable's core → its link

    # Nodes: terminals by number, links after them, the source itself last.

    @cached_property
    def _first_link(self) -> int:
        return len(self.network.terminals)

    @cached_property
    def root(self) -> int:
        """The node of the source itself."""
        return self._first_link + len(self.network.links)

    @property
    def roots(self) -> tuple[Root, ...]:
        """The sources that anything has been worked out for."""
        return tuple(self._trees)

    def link_of(self, node: int) -> Link | None:
        """The link that a node stands for."""
        return self.network.links[node - self._first_link] if self._first_link <= node < self.root else None

    def tree(self, root: Root) -> dict[int, int]:
        """The dominators of everything that a source reaches from one of its poles."""
        if root not in self._trees:
            network, first = self.network, self._first_link
            starts = [
                emission.terminal
                for emission in network.emissions
                if emission.source in root[0]
                and emission.pole == root[1]
                and emission in self.state.at(emission.terminal)
            ]

            def successors(node: int) -> Iterator[int]:
                if node == self.root:
                    yield from starts
                elif node >= first:
                    link = network.links[node - first]
                    yield link.b
                    if not link.one_way:
                        yield link.a
                else:
                    for number in network.at[node]:
                        link = network.links[number]
                        if self.closed[number] and not (link.one_way and link.b == node):
                            yield first + number

            self._trees[root] = dominators(self.root, successors)
        return self._trees[root]

    def chain(self, root: Root, terminal: int) -> list[int]:
        """The nodes that every way from a source to a terminal passes, from the terminal back."""
        tree = self.tree(root)
        nodes: list[int] = []
        node = terminal
        while node in tree and node != self.root:
            nodes.append(node)
            node = tree[node]
        return nodes

    def _joined(self, near: int, far: int) -> bool:
        """Whether two nodes follow each other with nothing between them."""
        link = self.link_of(near) or self.link_of(far)
        terminal = far if self.link_of(near) else near
        if far == self.root:
            return True
        return link is not None and terminal in (link.a, link.b)

    def elements(self, root: Root, terminal: int) -> tuple[list[Element], list[str]]:
        """What has a rating on the way to a terminal, and where the way divides in parallel."""
        found: list[Element] = []
        parallel: list[str] = []
        nodes = self.chain(root, terminal)
        for place, node in enumerate(nodes):
            element = self.element_of(node)
            if element is not None:
                found.append(element)
            following = nodes[place + 1] if place + 1 < len(nodes) else self.root
            if not self._joined(node, following):
                parallel.append(self._named(node))
        return found, parallel

    def _named(self, node: int) -> str:
        link = self.link_of(node)
        return link.item if link is not None else self.network.terminals[node].name

    def element_of(self, node: int) -> Element | None:
        """The element with a rating that a node stands for."""
        vessel, link = self.vessel, self.link_of(node)
        if link is None:
            terminal = self.network.terminals[node]
            if terminal.place in vessel.sections:
                return self._rated(
                    Element(terminal.place, terminal.pole, "bus"), vessel.sections[terminal.place][1].rating_a
                )
            device = vessel.devices.get(terminal.place)
            if isinstance(device, Busbar):
                return self._rated(Element(device.id, terminal.pole, "bus"), device.rating_a)
            return None
        if link.kind == "core":
            run = self.network.core_of.get(node - self._first_link)
            if run is None:
                return None
            pole = self.network.terminals[link.a].pole or self.network.terminals[link.b].pole
            element = Element(link.item, pole, "cable", run.name)
            self.cores[element] = node - self._first_link
            return element
        if link.kind != "contact":
            return None
        pole = self.network.terminals[link.a].pole
        if link.item in vessel.ways:
            way = vessel.ways[link.item][2]
            kind = way.device if way.is_protective else "switch"
            return self._rated(Element(link.item, pole, kind), way.rating_a)
        match vessel.devices.get(link.item):
            case _InLine() as device:
                kind = device.kind if device.kind in ("breaker", "fuse") else "switch"
                return self._rated(Element(device.id, pole, kind), device.rating_a)
            case Selector() as device:
                return self._rated(Element(device.id, pole, "selector"), device.rating_a)
            case InverterCharger() as device:
                return self._rated(Element(device.id, pole, "relay"), device.transfer_a)
            case _:
                return None

    def _rated(self, element: Element, rating: float | None) -> Element:
        self.ratings[element] = rating
        return element

    # --- one load -----------------------------------------------------------------------------------

    def burden(self, item: str) -> Burden:
        """Work out one load or charger at its full current."""
        alone = replace(self.condition, demand=Pairs(((item, Demand(factor=1.0)),)), charging=Pairs())
        found = demands_of(self.vessel, self.network, alone, self.state)
        levels: dict[Root, dict[Element, float]] = {}
        parallel: dict[str, None] = {}
        unknown: dict[tuple[str, str], None] = {}
        for source in found.sources:
            root: Root = (source.sources, source.pole)
            amps = levels[root] = {}
            unknown.update(dict.fromkeys(source.unknown))
            amps[self._rated(self.of_root(root), source.rating_a)] = source.amps
            for draw in source.draws:
                for terminal, share in self._landings(root, draw.item, item):
                    elements, divided = self.elements(root, terminal)
                    parallel.update(dict.fromkeys(divided))
                    for element in elements:
                        amps[element] = amps.get(element, 0.0) + draw.amps * share
        order = self._in_order(item, [(s.sources, s.pole, tuple(d.item for d in s.draws)) for s in found.sources])
        return Burden(
            load=item,
            levels=tuple((root, levels[root]) for root in order),
            unknown=tuple(unknown),
            parallel=tuple(parallel),
            fed=item not in found.unfed and bool(found.sources),
        )

    @staticmethod
    def of_root(root: Root) -> Element:
        """A source's pole as an element."""
        return Element(" + ".join(root[0]), root[1], "source")

    @staticmethod
    def _in_order(item: str, found: list[tuple[tuple[str, ...], str, tuple[str, ...]]]) -> tuple[Root, ...]:
        reached, order = {item}, []
        waiting = list(found)
        while waiting:
            ready = [each for each in waiting if reached.intersection(each[2]) or not each[2]] or waiting
            for each in ready:
                waiting.remove(each)
                reached.update(each[0])
                order.append((each[0], each[1]))
        return tuple(order)

    def _landings(self, root: Root, item: str, load: str) -> list[tuple[int, float]]:
        """The terminals by which something draws from a source's pole, each with its share of the current."""
        weights: dict[int, float] = {}
        device: Load | None = self.vessel.loads.get(item) if item == load else None
        if device is not None:
            for part in parts_of(device, self.vessel.systems.get(device.system or "")):
                for pole in part.poles:
                    self._weigh(weights, root, item, pole, part.amps or 0.0)
        else:
            place = self._inlet(item, root)
            for pole in (*LINES, "DC+"):
                self._weigh(weights, root, place, pole, 1.0)
        total = sum(weights.values())
        return [(terminal, weight / total) for terminal, weight in weights.items()] if total else []

    def _weigh(self, weights: dict[int, float], root: Root, place: str, pole: str, amps: float) -> None:
        terminal = self.network.index.get((place, pole))
        if terminal is not None and any(e.source in root[0] and e.pole == root[1] for e in self.state.at(terminal)):
            weights[terminal] = weights.get(terminal, 0.0) + amps

    def _inlet(self, item: str, root: Root) -> str:
        """The side of a charger or converter by which it draws."""
        device = self.vessel.devices[item]
        if isinstance(device, Charger):
            return f"{item}/ac"
        if isinstance(device, InverterCharger):
            return f"{item}/dc" if root[1] == "DC+" else f"{item}/ac-in"
        return {"inverter": f"{item}/dc", "dc-converter": f"{item}/in"}.get(device.kind, f"{item}/primary")
