"""The versioned record of a vessel's electrical system, and the judge of every change to it."""

__version__ = "0.1.0"
