"""What to tell about a revision that is not there."""

from __future__ import annotations

import shlex

from vesselspec.revisions.errors import RevisionError, shown
from vesselspec.revisions.runner import Runner

_PREFIXES = ("refs/heads/", "refs/tags/", "refs/remotes/")
_SUGGESTED = 3

UNSHALLOW = "git fetch --unshallow"


def check_spelling(ref: str) -> None:
    """Refuse what is no revision, before git sees it."""
    if not ref.strip():
        raise RevisionError("The revision is empty.", "Name a branch, a tag or a commit id.")
    if ref.startswith("-"):
        raise RevisionError(
            f"{shown(ref)} is no revision: it begins with a dash.", "Name a branch, a tag or a commit id."
        )
    if ":" in ref:
        # 'commit:path', ':/text' and ':path' name files, searches and the index.
        raise RevisionError(
            f"{shown(ref)} is no revision of the whole repository: it holds a colon.",
            "Name a branch, a tag or a commit id, without a path.",
        )
    if not ref.isprintable():
        raise RevisionError(
            f"{shown(ref)} is no revision: it holds a character that cannot be printed.",
            "Name a branch, a tag or a commit id.",
        )


def unknown(runner: Runner, ref: str, *, is_shallow: bool) -> RevisionError:
    """Build the error for a revision that git does not know."""
    names = _names(runner)
    if not names and runner.run("rev-list", "--max-count=1", "--all", "HEAD", "--").status != 0:
        return RevisionError(
            "The repository has no commits yet.", "Commit the vessel folder first: git add . && git commit"
        )
    if ".." in ref:
        return RevisionError(f"{shown(ref)} is a range, not one revision.", "Name both ends one by one.")
    # What a shallow clone lacks is an ancestor; the branch that it is counted from is spelled rightly.
    counted = is_shallow and any(mark in ref for mark in "~^")
    remedy = "" if counted else _similar(ref, names)
    if not remedy or is_shallow:
        # A shallow clone is one of a single branch as a rule: a branch with a similar name says little.
        remedy = " ".join(filter(None, (remedy, _fetch(runner, is_shallow=is_shallow))))
    return RevisionError(f"The revision {shown(ref)} is not known in this repository.", remedy)


def ambiguous(ref: str) -> RevisionError:
    """Build the error for an abbreviated id that fits several objects."""
    return RevisionError(f"{shown(ref)} is the beginning of several ids.", "Give more digits of the id.")


def no_common_ancestor(a: str, b: str, *, is_shallow: bool) -> RevisionError:
    """Build the error for two revisions without a merge base."""
    if is_shallow:
        return RevisionError(
            f"The common ancestor of {shown(a)} and {shown(b)} is not in this shallow clone.",
            f"Fetch the rest of the history. Type: {UNSHALLOW}",
        )
    return RevisionError(
        f"{shown(a)} and {shown(b)} have no common ancestor.",
        "Check that both are revisions of the same record.",
    )


def _names(runner: Runner) -> list[str]:
    out = runner.run("for-each-ref", "--format=%(refname)", *_PREFIXES).checked()
    refs = out.decode("utf-8", "replace").splitlines()
    return [ref.removeprefix(prefix) for ref in refs for prefix in _PREFIXES if ref.startswith(prefix)]


def _similar(ref: str, names: list[str]) -> str:
    from difflib import get_close_matches  # noqa: PLC0415  # only when something went wrong

    ends_alike = [name for name in names if name.endswith("/" + ref)]
    close = get_close_matches(ref, names, n=_SUGGESTED)
    found = list(dict.fromkeys([*ends_alike, *close]))[:_SUGGESTED]
    return f"Did you mean {' or '.join(shown(name) for name in found)}?" if found else ""


def _fetch(runner: Runner, *, is_shallow: bool) -> str:
    remotes = runner.run("config", "--get-regexp", "--name-only", "-z", r"^remote\..*\.url$").out
    names = [name.removesuffix(".url")[7:] for name in remotes.decode("utf-8", "replace").split("\0") if name]
    if not names or not names[0].isprintable():
        return "List what there is with: git branch --all, git tag, git log"
    remote = "origin" if "origin" in names else names[0]
    # A clone of one branch or of little depth fetches no other branch unless each is asked for.
    line = [*(UNSHALLOW if is_shallow else "git fetch").split(), "--tags", remote]
    line.append(f"+refs/heads/*:refs/remotes/{remote}/*")
    return f"It may not have been fetched. Type: {shlex.join(line)}"
