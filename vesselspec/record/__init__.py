"""From the files of a record to a typed vessel, with the place of every word in them."""

from vesselspec.record.merge import merge
from vesselspec.record.places import Place, Places
from vesselspec.record.problems import Problem
from vesselspec.record.read import Memory, Record, entries_of, read

__all__ = ["Memory", "Place", "Places", "Problem", "Record", "entries_of", "merge", "read"]
