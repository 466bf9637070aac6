"""The `vesselspec` command: finds the subcommand's file, and turns every failure into words and a status."""

from __future__ import annotations

import gc
import importlib
import os
import sys
from typing import Any

import click

from vesselspec import __version__
from vesselspec.cli.status import NOT_UNDERSTOOD, OUR_BUG
from vesselspec.cli.stderr import tell

#: Commands by what they are for, in the order in which the help lists them; a command's module has its name.
GROUPS = {
    "Judge": {
        "survey": "judge one state of the record",
        "review": "judge a change between two states",
        "guard": "have every commit judged before it is made",
        "adopt": "accept an old boat's findings for a while, so that only new ones count",
        "unknowns": "list what is not recorded, to be found out on board",
        "explain": "print what a rule says and why",
    },
    "Before a panel is opened": {
        "isolate": "work out how a place is made dead, and prove it",
        "trace": "say what feeds an item, what it feeds, and what goes dead with it open",
        "logbook": "tell the history of an item, a panel or the boat",
        "shock": "find where one further failure leaves metal live",
        "expand": "print an item terminal by terminal",
    },
    "Work out": {
        "loads": "say what sources carry, what fits, and how long batteries last",
        "faults": "work out fault levels and what has to stop them",
        "size": "size a conductor and its device, derived line by line",
        "derive": "say how a printed number came about",
    },
    "Hand over": {
        "handover": "write the boat as pages to read without a network, and to print",
        "record-change": "write a change down for the next technician, beside the record",
        "draw": "draw the sources and panels",
        "labels": "make labels for cables, ways, panels and devices, to print",
        "export": "write panel schedules, cables, loads and devices as spreadsheets",
    },
    "Keep the record": {
        "new": "start the record of a vessel",
        "import": "take in a list of loads or cables, shown before anything is written",
        "rename": "give an entry another id, everywhere at once",
        "move": "put an entry into another file, or a circuit on another way",
        "tidy": "put the files in order without changing what they say",
    },
}
#: Command → what it does.
COMMANDS = {name: what for commands in GROUPS.values() for name, what in commands.items()}
#: Commands whose name cannot be that of a module.
_MODULES = {"import": "importing", "record-change": "record_change"}


class _Commands(click.Group):
    """Loads a command's module when it is asked for, so that `--help` stays fast."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"vesselspec.cli.{_MODULES.get(cmd_name, cmd_name)}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        widest = max(map(len, COMMANDS))
        for title, commands in GROUPS.items():
            with formatter.section(title):
                formatter.write_dl([(name.ljust(widest), what) for name, what in commands.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            import difflib

            near = difflib.get_close_matches(args[0], COMMANDS, n=1)
            raise click.UsageError(
                f"there is no command {args[0]!r}" + (f"; did you mean {near[0]!r}?" if near else "")
            ) from error


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="vesselspec")
def main() -> None:
    """The record of a vessel's whole AC and DC electrical system, and the judge of every change to it.

    Exit status: 0 sound; 1 findings at or above the threshold; 2 the record or the call cannot be understood;
    3 a fault in this program.

    The record may be wrong: prove dead before touching. Local codes and licensed practice come first.
    """


def entry() -> None:
    """Run the command line and exit."""
    # One short run that keeps nearly all it makes: looking for cycles to free costs a sixth of it and frees nothing.
    gc.disable()
    sys.exit(run(sys.argv[1:]))


def run(arguments: list[str]) -> int:
    """Run the command line; return the exit status. No input ends in a traceback."""
    from vesselspec.revisions.errors import RevisionError

    try:
        result: Any = main.main(arguments, prog_name="vesselspec", standalone_mode=False)
    except RevisionError as error:
        tell(f"vesselspec: {error.reason}\n  {error.remedy}")
        return NOT_UNDERSTOOD
    except click.UsageError as error:
        where = error.ctx.command_path if error.ctx is not None else "vesselspec"
        tell(f"{where}: {error.format_message()}\n  See: {where} --help")
        return NOT_UNDERSTOOD
    except click.ClickException as error:
        tell(f"vesselspec: {error.format_message()}")
        return NOT_UNDERSTOOD
    except (click.Abort, KeyboardInterrupt):
        tell("vesselspec: stopped")
        return NOT_UNDERSTOOD
    except Exception as error:
        if os.environ.get("VESSELSPEC_TRACEBACK"):
            raise
        tell(
            f"vesselspec: a fault in this program: {type(error).__name__}: {error}\n"
            "  Nothing above may be relied on. Set VESSELSPEC_TRACEBACK=1 and run again to see where."
        )
        return OUR_BUG
    return result if isinstance(result, int) else 0
