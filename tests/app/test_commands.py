"""A command is one file: what lies in the folder of commands is mounted."""

from __future__ import annotations

import sys

import pytest
import typer
from typer.testing import CliRunner

from simulator.app import cli

WAVE = '''
import typer

from simulator.app.cli.command import Command


def wave(name: str) -> None:
    """Wave to somebody."""
    typer.echo(f"hello {name}")


COMMAND = Command("wave", wave, 15)
'''


@pytest.mark.invariant
def test_a_file_is_a_command(tmp_path, monkeypatch):
    (tmp_path / "wave.py").write_text(WAVE)
    monkeypatch.setattr(cli, "__path__", [*cli.__path__, str(tmp_path)])
    try:
        found = cli._commands()
    finally:
        sys.modules.pop("simulator.app.cli.wave", None)
    names = [command.name for command in found]
    # between predict and compare, as its place says
    assert names[:3] == ["predict", "wave", "compare"]
    app = typer.Typer()
    app.command("wave")(found[1].runs)
    assert CliRunner().invoke(app, ["you"]).output == "hello you\n"


@pytest.mark.invariant
def test_commands_have_names_and_places_of_their_own():
    found = cli._commands()
    assert len({command.name for command in found}) == len(found) >= 14
    assert len({command.place for command in found}) == len(found)
