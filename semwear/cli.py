"""The ``semwear`` command: finds the command asked for, and turns errors into one line and an exit status.

Commands live in semwear.commands, one module and one function each of the command's name, and are imported when they
are run, so that ``semwear --help`` is quick.

Exit status: 0 all done, 1 some pictures refused, 2 nothing could be done, 130 stopped by the user.
"""

import importlib
import sys
from importlib.util import find_spec

import typer
from typer.core import TyperCommand, TyperGroup

from semwear import __version__
from semwear.errors import SemwearError

COMMANDS = {
    "measure": "Measure every picture: valley, smear and scuff fractions, grooves, retention, report.",
    "scale": "Only the calibration: pixel size of every picture and where it comes from.",
    "plan": "Start a plan from a folder of pictures, or check one.",
    "compare": "In-track against out-of-track, specimen by specimen, and what the test matrix says.",
    "profile": "Surface height maps: bearing-curve parameters, wear-track depth and volume.",
    "simulate": "Make micrographs with known answers.",
}
"""Every command with one line on what it does, in the order in which work goes."""
NOTHING_DONE, STOPPED = 2, 130


class _LazyGroup(TyperGroup):
    """Commands that are listed by name and imported when they are run."""

    def list_commands(self, ctx) -> list[str]:
        return [name for name in COMMANDS if find_spec(f"semwear.commands.{name}") is not None]

    def get_command(self, ctx, cmd_name: str):
        if cmd_name not in self.list_commands(ctx):
            return None
        return TyperCommand(cmd_name, help=COMMANDS[cmd_name], callback=None)

    def resolve_command(self, ctx, args):
        name, command, rest = super().resolve_command(ctx, args)
        return name, load_command(name) if command is not None else command, rest


def load_command(name: str):
    """Return a command ready to run, made from the function of its name in its module."""
    function = getattr(importlib.import_module(f"semwear.commands.{name}"), name)
    single = typer.Typer(add_completion=False, rich_markup_mode="rich", pretty_exceptions_enable=False)
    single.command(name)(function)
    command = typer.main.get_command(single)
    command.name = name
    return command


app = typer.Typer(cls=_LazyGroup, add_completion=False, no_args_is_help=True, pretty_exceptions_enable=False)


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"semwear {__version__}")
        raise typer.Exit


@app.callback()
def _start(
    version: bool = typer.Option(False, "--version", callback=_show_version, is_eager=True, help="Show the version."),
) -> None:
    """Valley retention, smear and scuff from electron micrographs of honed, run cylinder-liner sections.

    Example: semwear measure session/ --plan plan.xlsx --out results
    """


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and leave with its exit status."""
    try:
        app(args=arguments)
    except SemwearError as error:
        lines = str(error).splitlines() or [type(error).__name__]
        print("semwear: " + "\n  ".join(lines), file=sys.stderr)
        sys.exit(NOTHING_DONE)
    except KeyboardInterrupt:
        print("semwear: stopped", file=sys.stderr)
        sys.exit(STOPPED)
