"""The command line: one file a command, each thin, loaded only when it is called."""

from vesselspec.cli.main import entry

__all__ = ["entry"]
