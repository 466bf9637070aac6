"""How far a long command is, told to a person who waits at a terminal."""

from __future__ import annotations

import sys
import time

#: Seconds after which a person who waits is told how far it is.
_PATIENCE = 1.0


class Progress:
    """One line on standard error that tells a person who waits how far it is."""

    def __init__(self) -> None:
        self._since = time.monotonic()
        self._shown = False
        self._seen = sys.stderr is not None and sys.stderr.isatty()

    def tell(self, words: str) -> None:
        """Show how far it is, once somebody has waited for a while."""
        if self._seen and time.monotonic() - self._since > _PATIENCE:
            sys.stderr.write(f"\r\x1b[K{words} …")
            sys.stderr.flush()
            self._shown = True

    def clear(self) -> None:
        """Remove the line."""
        if self._shown:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()
            self._shown = False
