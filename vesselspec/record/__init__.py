"""From the files of a record to a typed vessel, with the place of every word in them."""

from vesselspec.record.places import Place, Places
from vesselspec.record.problems import Problem
from vesselspec.record.read import Record, read

__all__ = ["Place", "Places", "Problem", "Record", "read"]
