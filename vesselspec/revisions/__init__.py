"""The record of a vessel as git holds it, or as it lies on disk: read, never touched."""

from vesselspec.revisions.disk import read_folder
from vesselspec.revisions.errors import RevisionError
from vesselspec.revisions.find import find_vessel
from vesselspec.revisions.history import Step
from vesselspec.revisions.place import below_top
from vesselspec.revisions.repository import Repository
from vesselspec.revisions.scratch import Merged, Scratch
from vesselspec.revisions.staged import STAGED, Staged, staged
from vesselspec.revisions.values import WORK_TREE, Commit, Problem, Snapshot

__all__ = [
    "STAGED",
    "WORK_TREE",
    "Commit",
    "Merged",
    "Problem",
    "Repository",
    "RevisionError",
    "Scratch",
    "Snapshot",
    "Staged",
    "Step",
    "below_top",
    "find_vessel",
    "read_folder",
    "staged",
]
