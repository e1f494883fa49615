"""The command line: a thin door. Commands are imported when they are asked for."""

from __future__ import annotations

import sys
from importlib import import_module

import click

from boscage import __version__
from boscage.errors import BoscageError, InputError

INTERRUPTED = 130
COMMANDS = {
    "demo": "copy the sample ranch to a folder and run the whole job on it",
    "check": "read every input and say what is usable, doubtful or wrong",
    "scout": "rule out, score and rank sites, and print the field sheets",
    "rig": "fit the best ring to the trees of a stem list or of ranked sites, and list the gear",
    "pack": "list what goes in, with masses, and put it on the carriers in the fewest trips",
    "drop": "brief a helicopter drop: drop points, loads, flights, hazards, daylight",
    "report": "account for what was done, caught and covered, from the log; masked by default",
    "share": "write the ranch for phones and other programs, in full or masked",
    "desk": "open the desktop window on all of it",
}


class _LazyGroup(click.Group):
    """A group that lists its commands without importing them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = import_module(f"boscage.cli.{cmd_name}").command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.command(cls=_LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="boscage")
@click.option("--debug", is_flag=True, help="Show the full trace of an error.")
def group(debug: bool) -> None:
    """Choose places for live-capture sets of feral swine in timber, offline, from a ranch's own layers.

    Begin with `boscage demo`, then copy the plan file it leaves and put your own layers in it.
    Exit status: 0 done; 2 something given is wrong; 3 nothing fits; 1 a fault of the program.
    """


def main(argv: list[str] | None = None) -> int:
    """Run one command; turns every error into one plain line and an exit status."""
    words = sys.argv[1:] if argv is None else argv
    try:
        status = group.main(args=words, prog_name="boscage", standalone_mode=False)
    except (Exception, KeyboardInterrupt) as error:
        expected = isinstance(error, click.ClickException | click.exceptions.Exit | click.Abort | KeyboardInterrupt)
        if "--debug" in words and not expected:
            raise
        return _explain(error)
    return status if isinstance(status, int) else 0


def _explain(error: BaseException) -> int:
    """Say on standard error what went wrong; returns the exit status."""
    if isinstance(error, click.exceptions.Exit):
        return int(error.exit_code)
    status = 1
    if isinstance(error, click.exceptions.NoArgsIsHelpError):
        text, status = (error.ctx.get_help() if error.ctx else ""), 2
    elif isinstance(error, click.ClickException):
        text, status = f"boscage: {error.format_message()}", 2
    elif isinstance(error, click.Abort | KeyboardInterrupt):
        text, status = "\nboscage: stopped; nothing was left half written.", INTERRUPTED
    elif isinstance(error, BoscageError):
        text, status = f"boscage: {error}", 2 if isinstance(error, InputError) else 1
    elif isinstance(error, BrokenPipeError):
        text = ""
    else:
        text = f"boscage: a fault of the program: {type(error).__name__}: {error}. --debug shows more."
    if text:
        click.echo(text, err=True)
    return status


if __name__ == "__main__":
    sys.exit(main())
