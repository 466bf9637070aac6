"""The one exception of this package, and how untrusted text is shown in it."""


class RevisionError(Exception):
    """A revision, a repository or a vessel folder that cannot be read; both sentences are for a terminal."""

    def __init__(self, reason: str, remedy: str) -> None:
        super().__init__(f"{reason} {remedy}")
        self.reason = reason
        self.remedy = remedy


def shown(text: str, limit: int = 200) -> str:
    """Make untrusted text safe inside a sentence: quoted, one line, nothing that a terminal obeys."""
    safe = "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)
    return f"'{safe}'" if len(safe) <= limit else f"'{safe[:limit]}…'"
