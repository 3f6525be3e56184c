"""The command `nightproof`: mounts the commands, turns errors into messages and exit codes."""

from __future__ import annotations

import logging
import os
import shutil
import sys
from importlib import import_module
from io import TextIOWrapper
from pkgutil import iter_modules
from typing import Annotated, Any

import typer
import typer.core

from simulator.app.cli.command import Command
from simulator.app.cli.interrupt import INTERRUPTED, Interrupts, end
from simulator.errors import InputError, shortened

_BAD_INPUT = 2
_OUR_FAULT = 1


class _Root(typer.core.TyperGroup):
    def invoke(self, ctx: Any) -> Any:
        try:
            return super().invoke(ctx)
        except (KeyboardInterrupt, typer.Abort):  # a question is left by Ctrl-C, or without answer
            raise typer.Exit(INTERRUPTED) from None


app = typer.Typer(
    name="nightproof",
    cls=_Root,
    help="Predicts, from physics, what a surveillance camera will show and if it can be read.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={
        "help_option_names": ["-h", "--help"],
        "show_default": True,
        "max_content_width": shutil.get_terminal_size().columns,
    },
)


def _print_version(wanted: bool) -> None:
    if wanted:
        from simulator import __version__

        typer.echo(f"nightproof {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    _version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_print_version, is_eager=True, help="Show the version and exit."
        ),
    ] = False,
) -> None:
    pass


HELPERS = frozenset(
    {
        "command",
        "completing",
        "interrupt",
        "new_camera",
        "options",
        "outcome",
        "progress",
        "verdict_text",
    }
)
"""Files of this folder that are no commands; what they import takes a while."""


def _commands() -> list[Command]:
    """The command of every other file of this folder, as the help lists them."""
    names = sorted({module.name for module in iter_modules(__path__)} - HELPERS)
    commands = [import_module(f"{__name__}.{name}").COMMAND for name in names]
    return sorted(commands, key=lambda command: command.place)


for _command in _commands():
    if isinstance(_command.runs, typer.Typer):
        app.add_typer(_command.runs, name=_command.name)
    else:
        app.command(_command.name)(_command.runs)


def main() -> None:
    """Run the command; SIGTERM ends it as Ctrl-C does.

    Exit codes: 0 done, 1 a fault of ours, 2 input that a person can fix, 130 interrupted.
    """
    for stream in (sys.stdout, sys.stderr):  # a terminal of few letters shows ? for the others
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")
    # it tells where it keeps its fonts where there is no home; faults of it are still told
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    with Interrupts() as interrupts:
        try:
            _run(interrupts)
        except SystemExit as code:
            if code.code == INTERRUPTED and interrupts.heard.is_set():
                end()
            raise


def _run(interrupts: Interrupts) -> None:
    """The command, its errors as messages and exit codes."""
    try:
        app(prog_name="nightproof")
    except InputError as error:
        print(error.text(command_line=True), file=sys.stderr)
        sys.exit(_BAD_INPUT)
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)
    except MemoryError:
        print(
            "This computer has not enough memory for what was asked.\n"
            "  fix:     ask for fewer pixels, points, frames or workers",
            file=sys.stderr,
        )
        sys.exit(_BAD_INPUT)
    except Exception as error:
        if interrupts.heard.is_set():  # what compiled code makes of an interrupt, while it loads
            sys.exit(INTERRUPTED)
        if os.environ.get("NIGHTPROOF_DEBUG"):
            raise
        line = shortened(f"{type(error).__name__}: {error}", 300)
        print(
            f"Sorry, nightproof failed by a fault of its own ({line})."
            " Please report it to the project's issue tracker, with the command and its files;"
            " NIGHTPROOF_DEBUG=1 shows the details.",
            file=sys.stderr,
        )
        sys.exit(_OUR_FAULT)
