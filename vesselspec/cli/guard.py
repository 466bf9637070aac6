"""`vesselspec guard`: have every commit of a repository judged before it is made."""

from __future__ import annotations

import datetime
import sys
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

import click

from vesselspec.cli.common import fail_on_option, on_option, page, put
from vesselspec.cli.status import FINDINGS, SOUND
from vesselspec.revisions.errors import shown

if TYPE_CHECKING:
    from vesselspec.cli.hooks import Hook
    from vesselspec.revisions import Repository


@click.command("guard")
@click.argument("vessel", type=click.Path(path_type=Path), default=Path())
@click.option("--status", is_flag=True, help="Say whether the guard is in place; exit status 1 if not.")
@click.option("--remove", is_flag=True, help="Take the guard's hooks away, and only those.")
@click.option("--check", is_flag=True, help="Judge what is staged now, as the hooks do.")
@click.option(
    "--output",
    type=click.Choice(["text", "json"]),
    default="text",
    show_default=True,
    help="Form of the result on standard output.",
)
@fail_on_option()
@on_option()
def command(vessel: Path, status: bool, remove: bool, check: bool, output: str, fail_on: str, on: datetime.date) -> int:
    """Put a guard on the repository of VESSEL (a folder; default: here): git hooks that judge before each commit.

    What is staged is judged, not the files on disk, in every vessel of the repository that a commit changes. A commit
    with a new finding at or above --fail-on is held back; git's own --no-verify goes round the guard. What a rebase
    makes, or others push, passes no hook: let the host judge that too.

    One hook runs before a commit, one before the commit of a merge. A hook of somebody else is never touched: it is
    told with the line that it needs. The hooks are on this machine only and are no part of the record.
    """
    from vesselspec.revisions import Repository

    if status + remove + check > 1:
        raise click.UsageError("--status, --remove and --check ask for different things: give one of them.")
    repository = Repository.open(vessel, folder=PurePosixPath())
    if check:
        return _check(repository, on, fail_on, output)
    from vesselspec.cli import hooks
    from vesselspec.report import json
    from vesselspec.revisions.hooks import hook_folder

    folder = hook_folder(repository)
    if remove:
        hooks.remove(hooks.hooks_in(folder))
    elif not status:
        hooks.install(hooks.hooks_in(folder), hooks.script(sys.executable or "", fail_on))
    there = hooks.hooks_in(folder)
    if output == "json":
        from vesselspec.report.guard import guard_json

        put(json.dumps(guard_json((hook.name, str(hook.file), hook.state.value, hook.runs) for hook in there)))
    else:
        put("".join(f"{_told(hook)}\n" for hook in there))
    return SOUND if remove or all(hook.runs for hook in there) else FINDINGS


def _check(repository: Repository, on: datetime.date, fail_on: str, output: str) -> int:
    """Judge what is staged and print it. Most commits of a repository of more than records end here soon."""
    from vesselspec.revisions import staged

    index = staged(repository)
    if output == "text" and not any(index.vessels()):
        return SOUND
    from vesselspec.cli.staged import judge_staged
    from vesselspec.report import json
    from vesselspec.report.guard import guard_json, guard_text

    found = judge_staged(index, on, fail_on)
    put(guard_text(page(), found) if output == "text" else json.dumps(guard_json((), found)))
    return max((each.status for each in found), default=SOUND)


def _told(hook: Hook) -> str:
    from vesselspec.cli.hooks import CALL, State

    says = {
        State.ABSENT: "no guard",
        State.OURS: "guarded",
        State.EDITED: "guarded, by a hook that was changed by hand",
        State.CALLING: "guarded, by a line in somebody else's hook",
        State.OTHER: f"NOT guarded: a hook of somebody else without the line: {CALL} || exit $?",
    }[hook.state]
    if not hook.runs and hook.state not in (State.ABSENT, State.OTHER):
        says = "NOT guarded: the hook is not executable, so git passes it over"
    return f"{hook.name}: {says}: {shown(str(hook.file))}"
