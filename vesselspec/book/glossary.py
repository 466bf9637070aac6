"""The words of the book, for readers who do not have the trade's."""

from __future__ import annotations

from vesselspec.standards import figure

#: Trade and standard words as the record uses them; where neither has one, the word is ours.
WORDS: tuple[tuple[str, str], ...] = (
    ("AC, DC", "Alternating current, as from shore, generator or inverter; direct current, as from batteries."),
    ("bar", "A piece of metal inside a panel that many conductors land on: a line bar, a neutral bar, an earth bar."),
    ("bonding", "Conductors that join metal parts so that none can stand at another voltage than the next."),
    ("breaker, fuse", "Devices that open by themselves on too much current; a breaker can be closed again."),
    ("cable, core", "A cable has cores; each core is one conductor with its own colour, from one terminal to another."),
    (
        "colours",
        "The colour of a core's insulation as found on board. Alike colours can mean different things: see poles.",
    ),
    ("concession", "A recorded acceptance of one finding: reason, by which role, since when and until when."),
    ("converter", "What turns one supply into another: charger, inverter, inverter-charger, DC-DC converter."),
    ("dead, live", "Without and with voltage. By the record only: nothing is dead until it has been proved dead."),
    ("demand factor", "The share of a load's rating that counts at the same time as the others in a condition."),
    ("device", "Anything with terminals: source, converter, protective device, switch, bar, meter."),
    ("duty", "Of a way: main where it feeds its section, branch where the section feeds it."),
    ("earth, PE", "The protective conductor, which carries current only when something is wrong."),
    ("evidence", "How an entry is known: measured, traced, labelled, documented or assumed; by which role, and when."),
    ("far end", "Where a cable goes that begins at a way, or where one comes from that ends there."),
    ("finding", "One rule's statement about one place, with a signal word."),
    ("interlock", "A mechanism that lets only one of several breakers be closed at a time."),
    ("isolation sheet", "The page for making one place dead in order, and for proving it."),
    ("load", "Something that uses electricity."),
    ("load card", "A page for the crew: what can run together on one source."),
    ("neutral, N", "The conductor on which an AC line's current comes back."),
    ("not recorded", "Nobody has written it down. It is not guessed, and what depends on it is not judged."),
    ("operating condition", "A named state of the boat: what runs, where switches stand, what each load draws."),
    ("panel, section, way", "An enclosure; a separately fed set of bars in it; one numbered position with its device."),
    ("pole", "L1, L2, L3, N and PE of AC; DC+ and DC- of DC: what a terminal is meant to carry."),
    ("potential", "What a source puts on a terminal, such as line 1 of the shore supply."),
    ("prove dead", "Measure with a tester that was tried on a known supply just before, and is tried again after."),
    ("rating", "The largest current, voltage or power that a device is made for."),
    ("residual current", "Current that does not come back where it should: leakage. A device can open on it."),
    ("revision", "One state of the record in its repository, with its date and who made it."),
    ("selector", "A switch that takes its supply from one of several sources."),
    ("space", "A compartment of the boat, with what makes it hard on cables or dangerous."),
    ("spare", "Known to have nothing connected. Prove it before use."),
    ("survey", "The judgement of one revision of the record. It does not replace a survey of the boat."),
    ("system", "One voltage system on board, such as DC 24 V or AC 120/240 V."),
    ("untraced", "Nobody has followed this end to where it lands. It may be live."),
)


def signal_words() -> tuple[tuple[str, str], ...]:
    """The signal words with the meaning that the standard on safety signs gives them."""
    rows = figure("ansi_signal_words").data["rows"]
    return tuple(
        (
            row["word"],
            f"injury: {row['injury']}; how certain: {row['certainty']}" + (f"; {row['use']}" if "use" in row else ""),
        )
        for row in rows
    )


def signal_word_source() -> str:
    """Where their meaning is from."""
    return str(figure("ansi_signal_words").source)
