"""`vesselspec explain`: what a rule says and why."""

from __future__ import annotations

import difflib

import click

from vesselspec.cli.common import page, put
from vesselspec.cli.status import SOUND
from vesselspec.revisions import RevisionError


@click.command("explain")
@click.argument("rule", required=False)
def command(rule: str | None) -> int:
    """Print what RULE guards, why it matters, the usual remedy and its source; without RULE, list all rules."""
    from vesselspec.rules import RULES
    from vesselspec.rules.book import RULE_FAILED
    from vesselspec.rules.concessions import ABOUT

    every = {**RULES, **ABOUT}
    out = page()
    if rule is None:
        for each in sorted(every.values(), key=lambda r: r.id):
            out.line(f"{each.signal_word:<8} {each.id:<32} {each.title}")
        put(out.text())
        return SOUND
    if rule not in every:
        if rule == RULE_FAILED:
            out.wrapped("rule-failed: a rule crashed. That is a fault in this program, not in the boat; exit status 3.")
            put(out.text())
            return SOUND
        near = difflib.get_close_matches(rule, every, n=1)
        hint = f"Did you mean {near[0]}?" if near else "`vesselspec explain` lists all."
        raise RevisionError(f"There is no rule {rule}.", hint)
    each = every[rule]
    out.line(f"{out.word(each.signal_word)} {each.id}")
    out.wrapped(each.title + ".")
    out.line()
    out.wrapped(f"Why:    {each.why}", rest="        ")
    out.wrapped(f"Remedy: {each.remedy}", rest="        ")
    out.wrapped(f"Source: {each.source}.", rest="        ")
    put(out.text())
    return SOUND
