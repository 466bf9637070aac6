"""How a printed number came about: its inputs with their places, the formula with numbers, the sources, the result.

A quantity is entered in `QUANTITIES` with `@quantity`. Its function takes a boat, an item and the name of a condition
(or None for all) and yields derivations; it yields none for an item that has no such quantity.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from vesselspec.physics.conductors.sizing import Step
from vesselspec.report.markdown import escape, quoted
from vesselspec.report.sizing import step_json
from vesselspec.report.terminal import CAUTIONS, Page
from vesselspec.rules import Boat
from vesselspec.rules.findings import At
from vesselspec.standards import cited

FORMAT = 1
#: Modules that enter quantities; importing them fills the registry.
MODULES = (
    "vesselspec.report.conductor_quantities",
    "vesselspec.report.current_quantities",
    "vesselspec.report.drop_quantities",
    "vesselspec.report.demand_quantities",
    "vesselspec.report.fault_quantities",
)


@dataclass(frozen=True)
class Input:
    """A figure that went in: its name, its value as text, the item that gives it and where that stands.

    `value` is None where it is not recorded.
    """

    name: str
    value: str | None
    item: str
    place: str


@dataclass(frozen=True)
class Derivation:
    """One number. `low` and `high` are in `unit`, equal where all is known; None where nothing bounds it."""

    item: str
    quantity: str
    of: str  # which of several: a core, a pole, a condition
    low: float | None
    high: float | None
    unit: str
    inputs: tuple[Input, ...]
    steps: tuple[Step, ...]
    unknown: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def result(self) -> str:
        """The number in words."""
        if self.low is None and self.high is None:
            return "cannot be derived: " + (
                "; ".join(f"{what} of {item}" for item, what in self.unknown) or "no figure"
            )
        if self.low == self.high:
            return f"{self.low:.4g} {self.unit}"
        if self.high is None:
            return f"at least {self.low:.4g} {self.unit}"
        if self.low is None:
            return f"at most {self.high:.4g} {self.unit}"
        return f"{self.low:.4g} to {self.high:.4g} {self.unit}"


Derive = Callable[[Boat, str, str | None], Iterable[Derivation]]


@dataclass(frozen=True)
class Quantity:
    """A quantity that can be asked for."""

    id: str
    title: str
    derive: Derive
    #: Whether it depends on the operating condition.
    in_condition: bool


QUANTITIES: dict[str, Quantity] = {}


def quantity(id: str, title: str, *, in_condition: bool = False) -> Callable[[Derive], Derive]:
    """Enter a function in the registry."""

    def enter(derive: Derive) -> Derive:
        if id in QUANTITIES:
            raise ValueError(f"two quantities are called {id}")
        QUANTITIES[id] = Quantity(id, title, derive, in_condition)
        return derive

    return enter


def quantities() -> dict[str, Quantity]:
    """Every quantity."""
    for module in MODULES:
        importlib.import_module(module)
    return QUANTITIES


def input_at(boat: Boat, name: str, value: str | None, item: str, *fields: str, at: At | None = None) -> Input:
    """An input with its place in the record."""
    return Input(name, value, item, str(boat.place(at if at is not None else boat.at(item, *fields))))


def derivable(boat: Boat, item: str) -> list[Quantity]:
    """The quantities that an item has."""
    return [each for each in quantities().values() if any(True for _ in each.derive(boat, item, None))]


def derivation_text(page: Page, found: list[Derivation]) -> str:
    """Derivations for a terminal."""
    told: set[str] = set()
    for each in found:
        of = f", {each.of}" if each.of else ""
        page.wrapped(f"{each.quantity} of {each.item}{of}: {each.result}")
        for given in each.inputs:
            value = "not recorded" if given.value is None else given.value
            page.wrapped(f"{given.name}: {value}   ({given.item}, {given.place})", first="  · ", rest="    ")
        for number, step in enumerate(each.steps, 1):
            page.wrapped(_said(step), first=f"  {number}. ", rest="     ")
        for item, what in each.unknown:
            page.wrapped(f"not recorded: {what} of {item}", first="  ? ", rest="    ")
        for note in each.notes:
            if note not in told:
                page.wrapped(note, first="  - ", rest="    ")
        if told & set(each.notes):
            page.line("  - and as noted above")
        told.update(each.notes)
        page.line()
    for caution in CAUTIONS:
        page.wrapped(caution)
    return page.text()


def _said(step: Step) -> str:
    return step.text + (f" [{cited(step.source, step.from_memory)}]" if step.source else "")


def derivation_markdown(item: str, found: list[Derivation]) -> str:
    """Derivations as Markdown."""
    lines = [f"# Derivations for {escape(item)}", "", *quoted(CAUTIONS)]
    for each in found:
        of = f", {each.of}" if each.of else ""
        lines += [f"## {escape(each.quantity + of)}: {escape(each.result)}", ""]
        for given in each.inputs:
            value = "not recorded" if given.value is None else given.value
            lines.append(f"- {escape(given.name)}: {escape(value)} ({escape(f'{given.item}, {given.place}')})")
        lines += [f"- **not recorded:** {escape(f'{what} of {item}')}" for item, what in each.unknown]
        lines.append("")
        lines += [f"{number}. {escape(_said(step))}" for number, step in enumerate(each.steps, 1)]
        lines += ["", *(f"{escape(note)}\n" for note in each.notes)]
    return "\n".join(lines) + "\n"


def derivation_json(item: str, found: list[Derivation]) -> dict[str, Any]:
    """Derivations, for machines: schema/derivation.schema.json."""
    return {
        "format": FORMAT,
        "kind": "derivation",
        "item": item,
        "can_be_derived": None,
        "derivations": [
            {
                "quantity": each.quantity,
                "of": each.of,
                "low": each.low,
                "high": each.high,
                "unit": each.unit,
                "result": each.result,
                "inputs": [{"name": x.name, "value": x.value, "item": x.item, "place": x.place} for x in each.inputs],
                "steps": [step_json(step) for step in each.steps],
                "not_recorded": [{"item": item, "missing": what} for item, what in each.unknown],
                "notes": list(each.notes),
            }
            for each in found
        ],
        "cautions": list(CAUTIONS),
    }


def derivable_text(page: Page, item: str, found: list[Quantity]) -> str:
    """What can be derived for an item, for a terminal."""
    page.wrapped(f"Of {item} can be derived:")
    for each in found:
        when = " (in each operating condition)" if each.in_condition else ""
        page.wrapped(f"{each.id}: {each.title}{when}", first="  ", rest="    ")
    if not found:
        page.line("  nothing")
    return page.text()


def derivable_markdown(item: str, found: list[Quantity]) -> str:
    """The same as Markdown."""
    lines = [f"# What can be derived for {escape(item)}", ""]
    lines += [f"- `{each.id}`: {escape(each.title)}" for each in found] or ["nothing"]
    return "\n".join(lines) + "\n"


def derivable_json(item: str, found: list[Quantity]) -> dict[str, Any]:
    """The same, for machines."""
    return {
        **derivation_json(item, []),
        "can_be_derived": [
            {"quantity": each.id, "title": each.title, "in_condition": each.in_condition} for each in found
        ],
    }
