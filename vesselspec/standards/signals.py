"""Signal words, gravest first, as signs and labels use them. Source: ANSI Z535.4, figure `ansi_signal_words`."""

from typing import Final

DANGER: Final = "DANGER"
WARNING: Final = "WARNING"
CAUTION: Final = "CAUTION"
NOTICE: Final = "NOTICE"
SIGNAL_WORDS: Final = (DANGER, WARNING, CAUTION, NOTICE)
