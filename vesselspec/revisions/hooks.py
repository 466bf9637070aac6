"""Where git looks for the hooks of one repository. Only asked; nothing is written here."""

from __future__ import annotations

import shlex
from pathlib import Path

from vesselspec.revisions.errors import RevisionError, shown
from vesselspec.revisions.repository import Repository

#: Settings that hold for this repository only. What holds for a whole machine or user is none of its hooks.
_OWN = ("local", "worktree")


def hook_folder(repository: Repository) -> Path:
    """The folder of this repository's own hooks, links resolved; it need not be there yet.

    Linked work trees share it. Raises RevisionError where commits are not made at all, or where git takes the hooks
    from a folder that other repositories may use as well.
    """
    place = repository.place
    if place.work_tree is None:
        raise RevisionError(
            "A bare repository has no commits made in it, so there is nothing to guard.",
            "Guard each clone, and let the host judge what is proposed.",
        )
    own_hooks = str(place.common_dir / "hooks")
    setting_line = (
        f"git config core.hooksPath {shlex.quote(own_hooks)}" if own_hooks.isprintable() else "git help config"
    )
    remedy = f"Let this repository have hooks of its own. Type: {setting_line}"
    scope, named = _setting(repository)
    if not scope:
        folder = (place.common_dir / "hooks").resolve()
        setting, own = f"The folder of the hooks leads to {shown(str(folder))}", place.common_dir
    else:
        setting = f"Git's setting core.hooksPath ({scope}) is {shown(named)}"
        if scope not in _OWN:
            raise RevisionError(
                f"{setting}: it holds for all repositories, and a guard is for one.",
                remedy,
            )
        folder = (place.work_tree / named).resolve()
        own = place.work_tree
    homes = (own.resolve(), place.common_dir.resolve())
    inside = any(folder.is_relative_to(home) for home in homes) and folder not in homes
    if not inside or (scope and not named):
        raise RevisionError(
            f"{setting}, which is no folder inside this repository.",
            remedy,
        )
    return folder


def _setting(repository: Repository) -> tuple[str, str]:
    """Scope and value of core.hooksPath: what counts last, without what this program or its caller sets for a call."""
    out = repository.git.run("config", "--show-scope", "--type=path", "--get-all", "-z", "core.hooksPath").out
    words = out.decode("utf-8", "surrogateescape").split("\0")
    found = [(scope, value) for scope, value in zip(words[::2], words[1::2], strict=False) if scope != "command"]
    return found[-1] if found else ("", "")
