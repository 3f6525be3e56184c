"""What a file of this folder says to be a command."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import typer


class Command(NamedTuple):
    """A command: its name, what runs (or the commands below it), and its place in the help."""

    name: str
    runs: Callable[..., Any] | typer.Typer
    place: int
