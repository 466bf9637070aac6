"""Twenty-four hours of every bank: one content for terminal, Markdown and JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from vesselspec.model.vessel import Vessel
from vesselspec.physics.loads.battery import Assumed
from vesselspec.physics.loads.energy import BankDay, Day, StretchBalance
from vesselspec.report.blocks import Block, Bullets, Heading, Paragraph, Table
from vesselspec.report.loads import cautions, header
from vesselspec.report.survey import Subject

LASTS, SHORT, BELOW, UNKNOWN = "lasts", "does not last", "below the usual limit", "cannot judge"
HOW = (
    "Each load takes its rated current times demand factor times hours per day, spread evenly over its condition. "
    "Hours per day are those of a whole day in that condition: in half a day of it, half of them. "
    "A charger with hours per day runs them in one piece at the end, which is the hardest on the bank. Discharge is "
    "counted by Peukert's law in its rated form, t = H (C / (I H))^n, where an exponent is known; charging is held "
    "to what the bank accepts. Use of load, duty and time factor as in IMO MEPC.1/Circ.866."
)
LITTLE_CURRENT = "Small steady currents and age are not counted: an old bank holds less than its label says."


def verdict(bank: BankDay) -> str:
    """A bank's day in a word. A usable share from memory alone makes no bank one that does not last."""
    if bank.lasts is False and not bank.firm:
        return BELOW
    return {True: LASTS, False: SHORT, None: UNKNOWN}[bank.lasts]


def _ah(value: float) -> str:
    return f"{value:.0f}"


def _percent(value: float | None) -> str:
    return "?" if value is None else f"{value * 100:.0f} %"


def clock(hours: float) -> str:
    """Hours and minutes."""
    whole, minutes = divmod(round(hours * 60), 60)
    return f"{whole} h {minutes:02d} min"


def title_of(vessel: Vessel, day: Day) -> str:
    """A day by its name in the record, else in the words of --day."""
    plan = vessel.days.get(day.id)
    if plan is None:
        return parts_of_day(day)
    return f"{plan.name} ({plan.id})" if plan.name else plan.id


def parts_of_day(day: Day) -> str:
    """The conditions of a day in the words of --day."""
    return ", ".join(f"{each.condition} {each.hours:g} h" for each in day.stretches)


def bank_sentence(vessel: Vessel, bank: BankDay) -> str:
    """What the day does to a bank, in a sentence or two."""
    name = vessel.name_of(bank.bank.id)
    if bank.bank.capacity_ah is None:
        return f"{name}: CANNOT JUDGE, its capacity is not recorded."
    if bank.bank.low is None:
        return f"{name}: CANNOT JUDGE, its usable share is not recorded and its chemistry gives none."
    low = f"{_percent(bank.bank.low)}{'' if bank.firm_limit else ' (from memory)'}"
    end = f"{_percent(bank.end)} at the end"
    if bank.end is not None and bank.end < bank.start - 0.005:
        end += ", so that the next day begins lower"
    if bank.lasts:
        lowest = min(point.state for point in bank.points)
        return f"{name}: LASTS; never below {_percent(lowest)}, {end}; low limit {low}."
    if bank.low_after_h is None:
        return f"{name}: CANNOT JUDGE; it stays above {low} with what is recorded, but some loads are not."
    when = clock(bank.low_after_h)
    if bank.lasts is None:
        sources = ", ".join(bank.uncounted)
        return (
            f"{name}: CANNOT JUDGE; at its low limit of {low} after {when} if nothing comes from {sources}, "
            "whose output in these conditions is not recorded."
        )
    if not bank.firm:
        return (
            f"{name}: BELOW THE USUAL LIMIT; at {low} after {when}, {end}. Record its usable share to have it judged."
        )
    return f"{name}: DOES NOT LAST; at its low limit of {low} after {when}, {end}."


def _alone(bank: BankDay) -> list[tuple[StretchBalance, ...]]:
    """The times in which nothing charges a bank: stretches that follow each other are one."""
    found: list[tuple[StretchBalance, ...]] = []
    before = False
    for each in bank.stretches:
        if each.alone:
            found.append((*found.pop(), each) if before else (each,))
        before = each.alone
    return found


def alone_sentences(vessel: Vessel, bank: BankDay) -> list[str]:
    """How a bank comes through each time that nothing charges it, such as a night at anchor."""
    found, low = [], bank.bank.low
    for times in _alone(bank):
        begins, ends = times[0].begins, times[-1].ends
        if low is None or begins is None or ends is None or begins - ends < 0.005:
            continue
        names = ", ".join(dict.fromkeys(each.condition for each in times))
        told = f"{vessel.name_of(bank.bank.id)}, {sum(each.hours for each in times):g} h of {names}: "
        told += f"from {_percent(begins)} to {_percent(ends)}"
        limit = f"its low limit of {_percent(low)}{'' if bank.firm_limit else ' (from memory)'}"
        hours, passed = 0.0, None
        for each in times:
            if passed is None and each.low_after_h is not None:
                passed = hours + each.low_after_h
            hours += each.hours
        if begins < low:
            found.append(f"{told}; below {limit} from the beginning")
        elif passed is not None:
            found.append(f"{told}; NOT ENOUGH: at {limit} after {clock(passed)}")
        elif any(each.flows.at_least for each in times):
            found.append(f"{told} or lower, as not every load is recorded")
        else:
            found.append(f"{told}; WORKS, above {limit}")
    return found


def energy_blocks(
    subject: Subject,
    vessel: Vessel,
    days: Sequence[Day],
    not_judged: Sequence[tuple[str, str]] = (),
    *,
    start: float,
) -> list[Block]:
    """The page of one or more days. `not_judged`: days of the record with the reason why they are left out."""
    blocks: list[Block] = [
        Heading(f"24 hours of {subject.vessel}, {subject.state}", 1),
        *cautions(),
        Paragraph(HOW, "note"),
        Paragraph(LITTLE_CURRENT, "note"),
        Paragraph(f"Every bank begins at {_percent(start)}."),
    ]
    for day in days:
        blocks += _day_blocks(vessel, day)
    if not_judged:
        blocks.append(Heading("Days that cannot be judged"))
        blocks.append(Bullets(tuple(f"{name}: {why}" for name, why in not_judged)))
    blocks += _assumed_blocks([each for day in days for each in day.assumed])
    return blocks


def _day_blocks(vessel: Vessel, day: Day) -> list[Block]:
    blocks: list[Block] = [Heading(f"Day: {title_of(vessel, day)}")]
    if day.id:
        blocks.append(Paragraph(parts_of_day(day)))
    if day.banks:
        blocks.append(Bullets(tuple(bank_sentence(vessel, bank) for bank in day.banks)))
        alone = [said for bank in day.banks for said in alone_sentences(vessel, bank)]
        if alone:
            blocks += [Heading("On the bank alone, with nothing that charges it", 3), Bullets(tuple(alone))]
        rows = []
        for bank in day.banks:
            for each in bank.stretches:
                lasts = bank.lasts_h.get(each.condition)
                rows.append(
                    (
                        bank.bank.id,
                        each.condition,
                        f"{each.hours:g}",
                        f"{each.flows.drawn_a:.1f}",
                        ("at least " if each.flows.at_least else "") + _ah(each.loads_ah),
                        _ah(each.given_ah),
                        _ah(each.in_ah),
                        _ah(each.out_ah),
                        _percent(each.ends),
                        "–" if lasts is None else clock(lasts),
                    )
                )
        head = (
            "bank",
            "condition",
            "h",
            "avg A",
            "loads Ah",
            "chargers Ah",
            "into Ah",
            "out of Ah",
            "at its end",
            "full to low",
        )
        blocks.append(Table(head, tuple(rows), right=(2, 3, 4, 5, 6, 7, 8, 9)))
        if any(each.unmet_ah > 1e-9 for bank in day.banks for each in bank.stretches):
            empty = [
                f"{bank.bank.id} is empty in {each.condition}: {each.unmet_ah:.0f} Ah are asked for in vain"
                for bank in day.banks
                for each in bank.stretches
                if each.unmet_ah > 1e-9
            ]
            blocks.append(Bullets(tuple(empty)))
    else:
        blocks.append(Paragraph("Nothing recorded draws from a bank or charges one."))
    hours = [f"{vessel.name_of(key)} runs {value:g} h" for key, value in day.generator_h.items()]
    blocks += [Heading("Generator hours", 3), Bullets(tuple(hours) or ("no generator runs",))]
    said = [
        f"{item} in {condition}: {missing} is not recorded; counted as nothing"
        for condition, item, missing in day.not_counted
    ]
    said += [f"{vessel.name_of(key)}: nothing recorded draws from it or charges it" for key in day.idle]
    if said:
        blocks += [Heading("Not counted", 3), Bullets(tuple(said))]
    return blocks


def _assumed_blocks(assumed: Sequence[Assumed]) -> list[Block]:
    if not assumed:
        return []
    banks: dict[tuple[str, str, str], dict[str, None]] = {}
    for each in assumed:
        source = each.source + ("; a figure from memory never decides alone" if each.from_memory else "")
        key = (each.field, f"{each.value:g} {each.unit}".rstrip(), source)
        banks.setdefault(key, {})[each.item] = None
    said = [
        f"{what} {value} for {', '.join(items)}: {source}" for (what, value, source), items in sorted(banks.items())
    ]
    return [Heading("Figures that the record does not give, by the bank's chemistry"), Bullets(tuple(said))]


# --- JSON ---------------------------------------------------------------------------------------


def _bank_json(bank: BankDay) -> dict[str, Any]:
    return {
        "bank": bank.bank.id,
        "verdict": verdict(bank),
        "capacity_ah": bank.bank.capacity_ah,
        "low_limit": bank.bank.low,
        "start": bank.start,
        "end": None if bank.end is None else round(bank.end, 4),
        "low_after_h": None if bank.low_after_h is None else round(bank.low_after_h, 3),
        "not_recorded_charging": list(bank.uncounted),
        "stretches": [
            {
                "condition": each.condition,
                "hours": each.hours,
                "average_a": round(each.flows.drawn_a, 3),
                "at_least": each.flows.at_least,
                "loads_ah": round(each.loads_ah, 3),
                "chargers_ah": round(each.given_ah, 3),
                "in_ah": round(each.in_ah, 3),
                "out_ah": round(each.out_ah, 3),
                "stored_ah": round(each.stored_ah, 3),
                "taken_ah": round(each.taken_ah, 3),
                "unmet_ah": round(each.unmet_ah, 3),
                "full_to_low_h": _rounded(bank.lasts_h.get(each.condition)),
                "begins": _rounded(each.begins, 4),
                "ends": _rounded(each.ends, 4),
                "low_after_h": _rounded(each.low_after_h),
                "nothing_charges": each.alone,
            }
            for each in bank.stretches
        ],
    }


def _rounded(value: float | None, digits: int = 3) -> float | None:
    return None if value is None else round(value, digits)


def energy_json(
    subject: Subject, days: Sequence[Day], not_judged: Sequence[tuple[str, str]] = (), *, start: float
) -> dict[str, Any]:
    """The days, for machines: schema/loads.schema.json."""
    return {
        **header("energy", subject),
        "start": start,
        "not_judged": [{"day": name, "reason": why} for name, why in not_judged],
        "days": [
            {
                "id": day.id or None,
                "day": [{"condition": each.condition, "hours": each.hours} for each in day.stretches],
                "banks": [_bank_json(bank) for bank in day.banks],
                "generator_h": dict(day.generator_h),
                "idle": list(day.idle),
                "not_counted": [
                    {"condition": condition, "item": item, "missing": missing}
                    for condition, item, missing in day.not_counted
                ],
                "assumed": [
                    {
                        "item": each.item,
                        "field": each.field,
                        "value": each.value,
                        "unit": each.unit,
                        "source": each.source,
                        "from_memory": each.from_memory,
                    }
                    for each in day.assumed
                ],
            }
            for day in days
        ],
    }
