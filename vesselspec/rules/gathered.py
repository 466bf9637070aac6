"""Many items in the same plight told as one finding, where the cause lies before them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from vesselspec.model.vessel import natural
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import Says

#: From so many on, items of one section in the same plight are told as one: the cause lies before them.
MANY = 3


def section_of(boat: Boat, item: str) -> str:
    """The section of a panel that a load or device is wired to by one of its cables; empty where there is none."""
    landing = (cable for at in (item, f"{item}/ac", f"{item}/ac-in") for cable in boat.cables_at.get(at, ()))
    for cable in landing:
        for end in (boat.vessel.cables[cable].from_, boat.vessel.cables[cable].to):
            if end in boat.vessel.ways:
                return end.rpartition("/")[0]
    return ""


def gathered(boat: Boat, told: Iterable[tuple[str, Says]], what: str) -> Iterator[Says]:
    """Statements about many items of one section as one; `what` has the places {items} and {section}.

    Each comes with the item that it is about. Statements with other arguments stay apart.
    """
    groups: dict[tuple[str, tuple[str, ...]], list[tuple[str, Says]]] = {}
    for item, says in told:
        section = section_of(boat, item)
        groups.setdefault((section or item, says.arguments), []).append((item, says))
    for (section, arguments), alike in groups.items():
        if len(alike) < MANY or section not in boat.vessel.sections:
            yield from (says for _, says in alike)
            continue
        items = tuple(sorted((item for item, _ in alike), key=natural))
        named = ", ".join(items)
        yield replace(
            alike[0][1],
            items=(section, *items),
            group=(section,),
            culprits=items,
            arguments=arguments,
            at=boat.at(section),
            what=what.format(items=f"{len(items)} loads ({named})", section=boat.vessel.name_of(section)),
        )
