"""`nightproof explain`: what a key of a file or of a result means."""

from __future__ import annotations

from typing import Annotated

import typer

from simulator.app.cli.command import Command


def explain(
    key: Annotated[
        str,
        typer.Argument(
            metavar="KEY",
            help="Key of a scene, camera, site or verdict.json, its last part, or a short name.",
        ),
    ],
) -> None:
    """Say what KEY means, in which unit, what is allowed there and what its default is."""
    from simulator.api.explaining import explain as run

    last = ""
    for entry in run(key):
        text = entry.text()
        if text != last:
            print(text)
        last = text


COMMAND = Command("explain", explain, 125)
"""Beside `schema`, which tells all keys at once."""
