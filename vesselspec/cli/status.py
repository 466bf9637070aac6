"""The exit status: a contract with everything that calls this program."""

from __future__ import annotations

from collections.abc import Iterable

SOUND, FINDINGS, NOT_UNDERSTOOD, OUR_BUG = 0, 1, 2, 3


def status(signal_words: Iterable[str], *, fail_on: str, understood: bool = True, rule_failed: bool = False) -> int:
    """Return the exit status of a survey or review.

    Our own bug outweighs everything, for then the rest is not to be trusted; a record that cannot be
    understood outweighs its findings.
    """
    from vesselspec.standards.signals import SIGNAL_WORDS

    if rule_failed:
        return OUR_BUG
    if not understood:
        return NOT_UNDERSTOOD
    counting = SIGNAL_WORDS[: SIGNAL_WORDS.index(fail_on) + 1]
    return FINDINGS if any(word in counting for word in signal_words) else SOUND
