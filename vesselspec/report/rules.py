"""The rule book for readers: one page a rule, made from the rule, its example and its figures."""

from __future__ import annotations

from typing import Any

from vesselspec.report.markdown import escape
from vesselspec.report.survey import FORMAT
from vesselspec.report.terminal import Page
from vesselspec.rules import RULES, SIGNAL_WORDS, Rule
from vesselspec.rules.book import COMMON_PRACTICE
from vesselspec.rules.catalogue import OWN, PRACTICE, PUBLISHED, Counts, count, subject_of
from vesselspec.rules.examples import BOAT, Example, examples
from vesselspec.standards import Figure, figure

_LAID_OVER = (
    "The lines are laid over a small boat that is otherwise in order: shore inlet and generator on a selector, an AC "
    "panel with a section behind it and one behind an inverter-charger, one battery with its fuse and switch, a DC "
    "bar and a DC panel."
)


def meaning(signal_word: str) -> str:
    """What a signal word stands for, and where that is laid down."""
    signs = figure("ansi_signal_words")
    row = next(row for row in signs.data["rows"] if row["word"] == signal_word)
    injury, certainty = str(row["injury"]), str(row["certainty"])
    if injury.startswith("none"):
        said = f"no injury; {injury.removeprefix('none').strip(' ()')}"
    else:
        said = f"{injury} {certainty.split(',', maxsplit=1)[0]} follow if it is not avoided"
    return f"{said} ({signs.source.split(' (')[0]})"


def acceptance(rule: Rule) -> str:
    """Whether a finding can be accepted by a concession."""
    if rule.id not in RULES:
        return "No: it is about a concession itself."
    if rule.guards_life:
        return "No: it guards life. A finding is mended, or mitigated until it is; it is never accepted."
    return "Yes, by a concession with its reason, by whom, and until when."


def standing(rule: Rule) -> str:
    """What stands behind a rule, in words."""
    if rule.source == COMMON_PRACTICE:
        return "common practice, no source: trade knowledge for which no published text was found"
    return rule.source


def figures_of(rule: Rule) -> tuple[Figure, ...]:
    """The published figures that a rule decides by."""
    example = examples().get(rule.id)
    return tuple(figure(key) for key in example.figures) if example is not None else ()


def _figure_line(each: Figure) -> str:
    return f"{each.title} ({each.source}{'; from memory' if each.from_memory and 'memory' not in each.source else ''})"


def ranked(rules: dict[str, Rule]) -> list[Rule]:
    """All rules, those that guard life and the gravest first."""
    return sorted(rules.values(), key=lambda r: (not r.guards_life, SIGNAL_WORDS.index(r.signal_word), r.id))


# --- terminal --------------------------------------------------------------------------------------


def rule_text(page: Page, rule: Rule) -> str:
    """One rule for a terminal."""
    page.line(f"{page.word(rule.signal_word)} {rule.id}")
    page.wrapped(rule.title + ".")
    page.line()
    told = [
        ("Means", f"{meaning(rule.signal_word)}."),
        ("Why", rule.why),
        ("Remedy", rule.remedy),
        ("Source", f"{standing(rule)}."),
        ("Accept", acceptance(rule)),
        ("Needs", f"{rule.needs}."),
    ]
    for name, text in told:
        page.wrapped(f"{name + ':':<8}{text}", rest=" " * 8)
    for number, each in enumerate(figures_of(rule)):
        page.wrapped(_figure_line(each) + ".", first="Figures:  - " if not number else " " * 8 + "  - ", rest=" " * 12)
    example = examples().get(rule.id)
    if example is not None:
        page.line()
        _example_text(page, example)
    return page.text()


def _example_text(page: Page, example: Example) -> None:
    if example.none:
        page.wrapped(f"No example: {example.none}")
        return
    page.wrapped(f"Found: {example.about}")
    for line in example.bad.splitlines():
        page.line(f"    {line}")
    page.line()
    page.wrapped("In order:")
    for line in example.good.splitlines():
        page.line(f"    {line}")
    page.line()
    page.wrapped(_LAID_OVER if example.on == BOAT else f"The lines are all there is (on {example.on}).")


# --- Markdown --------------------------------------------------------------------------------------


def rule_markdown(rule: Rule) -> str:
    """One rule as a Markdown page."""
    lines = [f"# {escape(rule.title)}", "", f"**{rule.signal_word}** `{rule.id}`", ""]
    told = [
        ("Signal word", f"{rule.signal_word} means {meaning(rule.signal_word)}."),
        ("Why", rule.why),
        ("Remedy", rule.remedy),
        ("Source", f"{standing(rule)}."),
        ("Can it be accepted", acceptance(rule)),
        ("What the record must hold", f"{rule.needs}."),
    ]
    for name, text in told:
        lines += [f"**{name}:** {escape(text)}", ""]
    held = figures_of(rule)
    if held:
        lines += ["**Figures that it decides by:**", "", *(f"- {escape(_figure_line(each))}" for each in held), ""]
    example = examples().get(rule.id)
    if example is not None and example.none:
        lines += ["## Example", "", f"None. {escape(example.none)}", ""]
    elif example is not None:
        lines += ["## Example", "", escape(example.about), "", "```yaml", example.bad.rstrip(), "```", ""]
        lines += ["In order:", "", "```yaml", example.good.rstrip(), "```", ""]
        lines += [escape(_LAID_OVER if example.on == BOAT else f"The lines are all there is (on {example.on})."), ""]
    return "\n".join(lines)


def counted(counts: Counts) -> tuple[str, str, str]:
    """The rule book in three sentences: signal words, what stands behind the rules, subjects."""
    words = ", ".join(f"{many} {word}" for word, many in counts.by_word.items())
    subjects = "; ".join(f"{subject} {many}" for subject, many in counts.by_subject.items() if many)
    published, practice, own = (counts.by_standing[each] for each in (PUBLISHED, PRACTICE, OWN))
    return (
        f"{counts.rules} rules: {words}; {counts.guards_life} guard life, and a finding of these is never accepted.",
        f"{published} stand on a published source, {practice} on common practice without one, {own} on the record or a "
        "rating itself.",
        f"By subject: {subjects}.",
    )


def listed_text(page: Page, rules: dict[str, Rule]) -> str:
    """All rules for a terminal, a line each, and how many there are of each kind."""
    width = max(map(len, rules))
    for each in sorted(rules.values(), key=lambda r: r.id):
        page.line(
            f"{each.signal_word:<8} {each.id:<{width}}  {each.title}{' (guards life)' if each.guards_life else ''}"
        )
    page.line()
    for sentence in counted(count(rules.values())):
        page.wrapped(sentence)
    return page.text()


def index_markdown(rules: dict[str, Rule]) -> str:
    """All rules as a Markdown table that leads to their pages."""
    lines = [
        "# Rules",
        "",
        *(f"- {escape(sentence)}" for sentence in counted(count(rules.values()))),
        "",
        "Those that guard life come first.",
        "",
    ]
    lines += ["| rule | signal word | what | guards life | subject | source |", "|---|---|---|---|---|---|"]
    for each in ranked(rules):
        life = "yes" if each.guards_life else " "
        page = f"[{each.id}]({each.id}.md)"
        told = (each.signal_word, escape(each.title), life, subject_of(each), escape(each.source))
        lines.append(f"| {page} | {' | '.join(told)} |")
    lines.append("")
    return "\n".join(lines)


# --- JSON ------------------------------------------------------------------------------------------


def rules_json(rules: list[Rule]) -> dict[str, Any]:
    """For machines: schema/explain.schema.json. The counts are those of the rules that are told."""
    counts = count(rules)
    return {
        "format": FORMAT,
        "kind": "explain",
        "rules": [_rule_json(each) for each in rules],
        "counts": {
            "rules": counts.rules,
            "signal_words": dict(counts.by_word),
            "subjects": dict(counts.by_subject),
            "published": counts.by_standing[PUBLISHED],
            "common_practice": counts.by_standing[PRACTICE],
            "own": counts.by_standing[OWN],
            "guards_life": counts.guards_life,
        },
    }


def _rule_json(rule: Rule) -> dict[str, Any]:
    example = examples().get(rule.id)
    shown = example is not None and not example.none
    return {
        "rule": rule.id,
        "signal_word": rule.signal_word,
        "title": rule.title,
        "subject": subject_of(rule),
        "means": meaning(rule.signal_word),
        "why": rule.why,
        "remedy": rule.remedy,
        "source": rule.source,
        "common_practice": COMMON_PRACTICE in rule.source,
        "guards_life": rule.guards_life,
        "can_be_accepted": rule.id in RULES and not rule.guards_life,
        "needs": rule.needs,
        "figures": [
            {"id": each.id, "title": each.title, "source": each.source, "from_memory": each.from_memory}
            for each in figures_of(rule)
        ],
        "example": {"about": example.about, "on": example.on, "bad": example.bad, "good": example.good}
        if example is not None and shown
        else None,
    }
