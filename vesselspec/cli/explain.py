"""`vesselspec explain`: what a rule says and why."""

from __future__ import annotations

import difflib
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vesselspec.cli.common import output_option, page, put, write_files
from vesselspec.cli.status import SOUND
from vesselspec.revisions import RevisionError

if TYPE_CHECKING:
    from vesselspec.rules import Rule


@click.command("explain")
@click.argument("rule", required=False)
@output_option()
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Also write one page a rule, and an index.")
def command(rule: str | None, output: str, out: Path | None) -> int:
    """Print what RULE guards, why it matters, its remedy and its source; without RULE, list and count all rules.

    With RULE also: what its signal word means, whether a finding of it can be accepted, what the record must hold for
    it to judge, the published figures that it decides by, and an example of what it finds and of the same in order.
    """
    from vesselspec.report import json
    from vesselspec.report import rules as report
    from vesselspec.rules import RULES
    from vesselspec.rules.book import RULE_FAILED
    from vesselspec.rules.concessions import ABOUT

    if rule == RULE_FAILED:
        put("rule-failed: a rule crashed. That is a fault in this program, not in the boat; exit status 3.\n")
        return SOUND
    every = {**RULES, **ABOUT}
    chosen = list(every.values()) if rule is None else [_named(rule, every)]
    if out is not None:
        pages = {f"{each.id}.md": report.rule_markdown(each).encode() for each in chosen}
        write_files(out, {**pages, "index.md": report.index_markdown(every).encode()} if rule is None else pages)
    if output == "json":
        put(json.dumps(report.rules_json(chosen)))
    elif output == "markdown":
        put(report.index_markdown(every) if rule is None else report.rule_markdown(chosen[0]))
    else:
        put(report.listed_text(page(), every) if rule is None else report.rule_text(page(), chosen[0]))
    return SOUND


def _named(rule: str, rules: dict[str, Rule]) -> Rule:
    if rule not in rules:
        near = difflib.get_close_matches(rule, rules, n=1)
        hint = f"Did you mean {near[0]}?" if near else "`vesselspec explain` lists all."
        raise RevisionError(f"There is no rule {rule}.", hint)
    return rules[rule]
