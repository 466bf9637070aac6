"""`python -m vesselspec`."""

from vesselspec.cli import entry

entry()
