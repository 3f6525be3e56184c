"""The command `nightproof`: mounts the commands, turns errors into messages and exit codes."""

from __future__ import annotations

import os
import sys
from typing import Annotated, Any

import typer
import typer.core

from simulator.app.cli.calendar import calendar
from simulator.app.cli.compare import compare
from simulator.app.cli.lesson import lesson
from simulator.app.cli.light_levels import light_levels
from simulator.app.cli.lighting import lighting
from simulator.app.cli.list_ import list_names
from simulator.app.cli.measure import measure
from simulator.app.cli.new import new
from simulator.app.cli.predict import predict
from simulator.app.cli.report import report
from simulator.app.cli.schema import schema
from simulator.app.cli.show import show
from simulator.app.cli.survey import survey
from simulator.app.cli.sweep import sweep
from simulator.errors import InputError

_BAD_INPUT = 2
_OUR_FAULT = 1
_INTERRUPTED = 130  # 128 + SIGINT, as shells have it


class _Root(typer.core.TyperGroup):
    def invoke(self, ctx: Any) -> Any:
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            raise typer.Exit(_INTERRUPTED) from None


app = typer.Typer(
    name="nightproof",
    cls=_Root,
    help="Predicts, from physics, what a surveillance camera will show and if it can be read.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
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


app.command("predict")(predict)
app.command("compare")(compare)
app.command("sweep")(sweep)
app.command("calendar")(calendar)
app.command("lesson")(lesson)
app.command("lighting")(lighting)
app.command("survey")(survey)
app.command("report")(report)
app.command("light-levels")(light_levels)
app.command("measure")(measure)
app.command("list")(list_names)
app.command("show")(show)
app.add_typer(new, name="new")
app.command("schema")(schema)


def main() -> None:
    """Run the command.

    Exit codes: 0 done, 1 a fault of ours, 2 input that a person can mend, 130 interrupted.
    """
    try:
        app(prog_name="nightproof")
    except InputError as error:
        print(error.text(command_line=True), file=sys.stderr)
        sys.exit(_BAD_INPUT)
    except KeyboardInterrupt:
        sys.exit(_INTERRUPTED)
    except Exception as error:
        if os.environ.get("NIGHTPROOF_DEBUG"):
            raise
        print(
            f"Sorry, nightproof failed by a fault of its own ({type(error).__name__}: {error})."
            " Please report it to the project's issue tracker, with the command and its files;"
            " NIGHTPROOF_DEBUG=1 shows the details.",
            file=sys.stderr,
        )
        sys.exit(_OUR_FAULT)
