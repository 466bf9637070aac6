"""`vesselspec loads`: what sources carry, what fits on them, the crew's load card, and 24 hours of the batteries."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vesselspec.cli.common import (
    State,
    at_option,
    output_option,
    page,
    put,
    read_state,
    state_of,
    vessel_argument,
    write_files,
)
from vesselspec.cli.loads_asked import days_of, known, quantity, settled, unsettled
from vesselspec.cli.problems import not_understood
from vesselspec.cli.status import FINDINGS, SOUND
from vesselspec.revisions import RevisionError
from vesselspec.revisions.errors import shown

if TYPE_CHECKING:
    from vesselspec.physics.conductors.ampacity import Ampacity
    from vesselspec.report.blocks import Block
    from vesselspec.report.card import Dated
    from vesselspec.report.survey import Subject
    from vesselspec.rules import Boat


@click.command("loads")
@vessel_argument()
@at_option()
@output_option()
@click.option(
    "--condition", "conditions", metavar="ID", multiple=True, help="Only this condition; may be given several times."
)
@click.option("--detail", is_flag=True, help="Every source, neutral, feeder and bus of every condition.")
@click.option("--fit", is_flag=True, help="The best set of loads that --source can run at once.")
@click.option("--card", is_flag=True, help="The crew's load card of --source; with --out as HTML to print.")
@click.option("--energy", is_flag=True, help="24 hours: charge and discharge of every bank, generator hours.")
@click.option("--source", metavar="ID", help="The source, for --fit and --card.")
@click.option("--limit", metavar="CURRENT", help="What the source at hand gives on each line, such as '30 A'.")
@click.option("--every-load", is_flag=True, help="With --fit: every load that the source reaches, listed or not.")
@click.option("--by-demand", is_flag=True, help="With --fit: count demand factors, not full currents.")
@click.option("--day", metavar="DAY", help="With --energy: a day of the record, or 'under-way:6h,at-anchor:18h'.")
@click.option("--charged", metavar="SHARE", default="100 %", show_default=True, help="State of charge at its start.")
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Also write the pages as files.")
def command(
    vessel: Path,
    at: str | None,
    output: str,
    conditions: tuple[str, ...],
    detail: bool,
    fit: bool,
    card: bool,
    energy: bool,
    source: str | None,
    limit: str | None,
    every_load: bool,
    by_demand: bool,
    day: str | None,
    charged: str,
    out: Path | None,
) -> int:
    """Loads of VESSEL (a folder; default: here) in each operating condition, beside what every source can give.

    Alone it adds up every source, panel feeder and bus: an overview of all conditions and what wants attention in
    each; with --condition or --detail in full. --fit finds what can run at once, --card writes the card
    for the crew, --energy follows the batteries through a day.

    Exit status: 0 all within ratings; 1 something over its rating, not everything fits, or a bank does not last;
    2 the record or the call cannot be understood.
    """
    if fit + card + energy > 1:
        raise click.UsageError("--fit, --card and --energy are three different pages; give one of them")
    _refuse(not (fit or card), {"--source": source, "--limit": limit}, "--fit or --card")
    _refuse(not fit, {"--every-load": every_load, "--by-demand": by_demand}, "--fit")
    _refuse(not energy, {"--day": day, "--charged": charged if charged != "100 %" else None}, "--energy")
    if (fit or card) and source is None:
        raise click.UsageError(f"{'--fit' if fit else '--card'} needs --source")
    if detail and (fit or card or energy):
        raise click.UsageError("--detail is for the loads themselves, without --fit, --card and --energy")
    limit_a = None if limit is None else quantity("current", limit, "--limit")
    start = quantity("percent", charged, "--charged")
    if not 0 <= start <= 1:
        raise RevisionError(f"--charged {shown(charged)} is not between 0 and 100 %.", "Write '100 %' for full.")
    dated = _dated(vessel, at) if card else None
    state = read_state(vessel, at) if dated is None else dated[0]
    kind = "fit" if fit else "card" if card else "energy" if energy else "loads"
    if state.record.vessel is None:
        return not_understood(state.name, state.record, output, kind=kind)
    from vesselspec.report import survey as report
    from vesselspec.rules import Boat

    boat = Boat(state.record.vessel, state.record.places)
    subject = report.subject_of(boat.vessel, state.name)
    for name in conditions:
        known("condition", name, boat.vessel.conditions)
    asked = _Asked(boat, subject, conditions)
    if source is not None:
        if fit:
            result = asked.fit(source, limit_a, every_load=every_load, by_demand=by_demand)
        elif dated is not None:
            result = asked.card(source, limit_a, dated[1])
        else:
            raise AssertionError
    elif energy:
        result = asked.energy(day, start)
    else:
        result = asked.loads(detail=detail)
    return result.write(output, out)


def _refuse(when: bool, options: dict[str, Any], needs: str) -> None:
    for name, value in options.items():
        if when and value:
            raise click.UsageError(f"{name} belongs to {needs}")


def _dated(vessel: Path, at: str | None) -> tuple[State, Dated]:
    """The state with its revision and that commit's date: never the clock's."""
    from vesselspec.report.card import Dated
    from vesselspec.revisions import Repository

    if at is not None:
        snapshot = Repository.open(vessel, at=at).snapshot(at)
        commit = snapshot.commit
        date = commit.when.date().isoformat() if commit is not None else "date not known"
        return state_of(snapshot), Dated(snapshot.name, date)
    state = read_state(vessel, None)
    try:
        repository = Repository.open(vessel)
        head, here = repository.snapshot("HEAD"), repository.work_tree()
    except RevisionError:
        return state, Dated("not under version control", "no date")
    if head.commit is None:
        return state, Dated("not under version control", "no date")
    date = head.commit.when.date().isoformat()
    if dict(head.blobs) == dict(here.blobs):
        return state, Dated(head.commit.short, f"of {date}")
    return state, Dated(f"with changes after {head.commit.short}", f"which is of {date}")


@dataclass(frozen=True)
class _Result:
    """A page in every form, and the exit status."""

    name: str
    blocks: list[Block]
    data: dict[str, Any]
    status: int
    more: dict[str, bytes]

    def write(self, output: str, out: Path | None) -> int:
        from vesselspec.report import json
        from vesselspec.report.blocks import as_markdown, as_text

        if out is not None:
            files = {
                f"{self.name}.md": as_markdown(self.blocks).encode(),
                f"{self.name}.json": json.dumps(self.data).encode(),
            }
            write_files(out, {**files, **self.more})
        if output == "json":
            put(json.dumps(self.data))
        else:
            put(as_markdown(self.blocks) if output == "markdown" else as_text(page(), self.blocks))
        return self.status


@dataclass(frozen=True)
class _Asked:
    """What was asked of a boat."""

    boat: Boat
    subject: Subject
    conditions: tuple[str, ...]

    def loads(self, *, detail: bool) -> _Result:
        from vesselspec.physics.loads.loading import loading_of
        from vesselspec.report.loads import loads_blocks, loads_json

        for name in self.conditions:
            settled(self.boat, name)
        vessel = self.boat.vessel
        loadings, not_judged = [], []
        for name in self.conditions or vessel.conditions:
            why = unsettled(self.boat, name)
            if why:
                not_judged.append((name, why))
                continue
            loadings.append(
                loading_of(
                    vessel, self.boat.network, vessel.conditions[name], self.boat.states[name], self.boat.flows[name]
                )
            )
        over = any(each.over or any(feeder.over for feeder in each.feeders) for each in loadings)
        return _Result(
            "loads",
            loads_blocks(self.subject, vessel, loadings, not_judged, detail=detail),
            loads_json(self.subject, vessel, loadings, not_judged),
            FINDINGS if over else SOUND,
            {},
        )

    def fit(self, source: str, limit_a: float | None, *, every_load: bool, by_demand: bool) -> _Result:
        from vesselspec.physics.loads.fit import best_fit
        from vesselspec.physics.loads.offer import offer_of
        from vesselspec.report.fit import fit_blocks, fit_json

        vessel = self.boat.vessel
        results = []
        for name in self._with(source):
            offer = offer_of(
                vessel,
                self.boat.network,
                vessel.conditions[name],
                self.boat.states[name],
                source,
                limit_a=limit_a,
                every_load=every_load,
                by_demand=by_demand,
                carries=self._carries,
            )
            if not (offer.candidates or offer.unjudged) and name not in self.conditions:
                continue  # it runs there and carries nothing, as an inverter does beside shore power
            self._judged(source, offer.limit_a, name, bool(offer.candidates or offer.unjudged))
            results.append((offer, best_fit(offer.candidates, offer.limits)))
        self._judged(source, 0.0, "in which it runs", bool(results))
        return _Result(
            f"fit-{source}",
            fit_blocks(self.subject, vessel, results, by_demand=by_demand),
            fit_json(self.subject, results, by_demand=by_demand),
            FINDINGS if any(fit.left_off or not fit.fits for _, fit in results) else SOUND,
            {},
        )

    def card(self, source: str, limit_a: float | None, dated: Dated) -> _Result:
        from vesselspec.physics.loads.card import card_of
        from vesselspec.report.blocks import as_html
        from vesselspec.report.card import card_blocks, card_json

        vessel, names = self.boat.vessel, self._with(source)
        if len(self.conditions) > 1:
            raise RevisionError("A card is for one condition.", "Give --condition once.")
        for name in names:
            card = card_of(
                vessel,
                self.boat.network,
                vessel.conditions[name],
                self.boat.states[name],
                source,
                limit_a=limit_a,
                carries=self._carries,
            )
            if card.offer.candidates or card.offer.unjudged:
                break  # the first condition in which it carries anything
        self._judged(source, card.offer.limit_a, name, bool(card.offer.candidates or card.offer.unjudged))
        blocks = card_blocks(self.subject, vessel, card, dated)
        title = f"Load card {source}"
        return _Result(
            f"card-{source}",
            blocks,
            card_json(self.subject, card, dated),
            SOUND if card.base is None or card.base.fits else FINDINGS,
            {f"card-{source}.html": as_html(title, blocks).encode()},
        )

    def energy(self, day: str | None, start: float) -> _Result:
        from vesselspec.physics.loads.energy import day_of
        from vesselspec.report.energy import SHORT, energy_blocks, energy_json, verdict
        from vesselspec.report.energy_plot import energy_svg

        vessel = self.boat.vessel
        if day is not None and self.conditions:
            raise RevisionError("--day names its conditions itself.", "Leave --condition out, or --day.")
        days, not_judged = days_of(self.boat, day, self.conditions)
        if not days and not not_judged:
            raise RevisionError("The record has no condition that can be judged.", "Record operating conditions.")
        found = [
            day_of(vessel, self.boat.network, self.boat.states, stretches, start=start, id=name)
            for name, stretches in days
        ]
        pictures = {
            f"energy{'-' + name if name else ''}.svg": energy_svg(
                vessel, each, footer=f"Record: {self.subject.state}"
            ).encode()
            for each in found
            for name in [each.id or ("" if day is not None else each.stretches[0].condition)]
        }
        return _Result(
            "energy",
            energy_blocks(self.subject, vessel, found, not_judged, start=start),
            energy_json(self.subject, found, not_judged, start=start),
            FINDINGS if not_judged or any(verdict(bank) == SHORT for each in found for bank in each.banks) else SOUND,
            pictures,
        )

    def _carries(self, link: int) -> Ampacity | None:
        """What the conductor that is a link may carry."""
        from vesselspec.rules.circuits import ampacity_on

        return ampacity_on(self.boat, link)

    # --- what was asked, checked --------------------------------------------------------------------

    def _with(self, source: str) -> tuple[str, ...]:
        """The conditions that were asked for, or those in which the source runs."""
        vessel = self.boat.vessel
        supplies = ("shore", "generator", "inverter", "battery", "transformer")
        sources = [key for key, device in vessel.devices.items() if device.supply in supplies]
        known("source", source, sources)
        always = vessel.devices[source].supply in ("battery", "transformer")
        running = [key for key, each in vessel.conditions.items() if always or source in each.running]
        for name in self.conditions:
            if name not in running:
                hint = f"It runs in: {', '.join(running)}." if running else "It runs in no condition."
                raise RevisionError(f"{source} does not run in condition {name}.", hint)
        names = self.conditions or tuple(running)
        if not names:
            raise RevisionError(f"{source} runs in no condition.", "Record a condition in which it runs.")
        for name in names:
            settled(self.boat, name)
        return names

    @staticmethod
    def _judged(source: str, limit_a: float | None, condition: str, feeds: bool) -> None:
        if not feeds:
            raise RevisionError(
                f"{source} feeds no load in condition {condition}.",
                "Name the condition in which it does, or --every-load.",
            )
        if limit_a is None:
            raise RevisionError(
                f"{source} has no recorded rating.", "Say what it gives with --limit, for example --limit '30 A'."
            )
