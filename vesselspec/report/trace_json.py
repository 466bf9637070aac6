"""A trace for machines: schema/trace.schema.json."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from vesselspec.report.trace import CAUTIONS, Trace, runs
from vesselspec.report.trace_items import hop_json
from vesselspec.report.trace_space import held_json
from vesselspec.tracing import Between, Down, Lost, Subject, Up
from vesselspec.tracing.between import Tie
from vesselspec.tracing.chain import Chain
from vesselspec.tracing.down import Drain
from vesselspec.tracing.lost import Stays
from vesselspec.tracing.up import Feed

FORMAT = 1


def trace_json(trace: Trace) -> dict[str, Any]:
    """A trace, for machines: schema/trace.schema.json."""
    up, down, lost, tied = trace.up, trace.down, trace.lost, trace.between
    return {
        "format": FORMAT,
        "kind": "trace",
        "vessel": trace.boat.vessel.about.name,
        "state": trace.state,
        "item": trace.subject.item,
        "item_kind": trace.subject.kind,
        "condition": trace.wiring.condition or None,
        "holds": None if trace.held is None else held_json(trace.held),
        "up": None if up is None else _up_json(trace, up),
        "down": None if down is None else _down_json(trace, down),
        "open": None if lost is None else [_lost_json(trace, each) for each in lost],
        "to": None if tied is None or trace.other is None else _between_json(trace, trace.other, tied),
        "unknown": list(trace.unknown),
        "cautions": list(CAUTIONS),
    }


def _chain_json(trace: Trace, chain: Chain) -> dict[str, Any]:
    terminals = trace.wiring.network.terminals
    return {
        "from": terminals[chain.start].name,
        "to": terminals[chain.end].name,
        "positions": {choice: sorted(states) for choice, states in chain.needs},
        "path": [hop_json(trace.boat, trace.wiring, hop) for hop in chain.hops],
    }


def _feed_json(trace: Trace, feed: Feed) -> dict[str, Any]:
    e = feed.emission
    return {"source": e.source, "supply": e.supply, "pole": e.pole, **_chain_json(trace, feed.chain)}


def _up_json(trace: Trace, up: Up) -> dict[str, Any]:
    terminals = trace.wiring.network.terminals
    return {
        "live": [_feed_json(trace, feed) for feed in up.hot],
        "returns": [_feed_json(trace, feed) for feed in up.back],
        "through_earth": [{"source": source, "pole": pole} for source, pole in up.through_earth],
        "converters": [
            {
                "id": key,
                "output": terminals[terminal].name,
                "fed_by": [_feed_json(trace, feed) for feed in feeds],
            }
            for (key, terminal), feeds in up.fed_by.items()
        ],
        "complete": up.complete,
    }


def _drain_json(trace: Trace, drain: Drain) -> dict[str, Any]:
    return {
        "id": drain.item,
        "kind": drain.kind,
        "runs": runs(trace, drain),
        **_chain_json(trace, drain.chain),
    }


def _down_json(trace: Trace, down: Down) -> dict[str, Any]:
    return {
        "fed": down.fed,
        "feeds": [_drain_json(trace, drain) for drain in down.drains],
        "converters": [
            {"id": key, "feeds": [_drain_json(trace, drain) for drain in drains]}
            for key, drains in down.through.items()
        ],
    }


def _lost_json(trace: Trace, lost: Lost) -> dict[str, Any]:
    def stays(each: Iterable[Stays]) -> list[dict[str, Any]]:
        return [
            {
                "place": s.place,
                "poles": list(s.poles),
                "through_the_load": list(s.lifted),
                "from": [
                    {
                        "source": feed.emission.source,
                        "positions": {choice: sorted(states) for choice, states in feed.chain.needs},
                    }
                    for feed in s.feeds
                ],
            }
            for s in each
        ]

    terminals = trace.boat.network.terminals
    return {
        "condition": lost.condition or None,
        "dead": [
            {"place": g.place, "kind": g.kind, "dead": list(g.lost), "stays_live": list(g.staying)} for g in lost.gone
        ],
        "terminals": [terminals[t].name for t in sorted(lost.terminals)],
        "at_it": stays(lost.own),
        "beyond_it": stays(lost.stays),
        "changes": [{"item": key, "from": was, "to": now} for key, was, now in lost.changes],
        "stops": list(lost.stopped),
        "assumed_live": list(lost.assumed),
    }


def _between_json(trace: Trace, other: Subject, found: Between) -> dict[str, Any]:
    def ties(each: Iterable[Tie]) -> list[dict[str, Any]]:
        return [{"poles": list(tie.poles), "backwards": tie.backwards, **_chain_json(trace, tie.chain)} for tie in each]

    return {
        "item": other.item,
        "item_kind": other.kind,
        "verdict": found.verdict,
        "shares": list(found.shared),
        "converters": list(found.converters),
        "ties": ties(found.ties),
        "through_earth": ties(found.through_earth),
        "complete": found.complete,
    }
