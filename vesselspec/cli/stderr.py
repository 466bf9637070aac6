"""Words to whoever runs the command: standard error, which is never part of a result."""

from __future__ import annotations

import click


def tell(text: str) -> None:
    """Print a text with nothing in it that a terminal or the log of a hosted CI would obey, whoever wrote it."""
    from vesselspec.report.terminal import clean, no_commands

    click.echo(no_commands(clean(text)), err=True)
