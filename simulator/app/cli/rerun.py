"""`nightproof rerun`: a prediction once more from its folder, compared byte by byte."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from simulator.app.cli.command import Command

_DIFFERS = 3


def rerun(
    result: Annotated[
        Path, typer.Argument(metavar="RESULT", help="Folder that `nightproof predict` wrote.")
    ],
    *,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Keep the new result there (default: nowhere)."),
    ] = None,
) -> None:
    """Make a prediction again from its own folder and compare the bytes.

    Ends with 0 if they are identical, with 3 if not, and says which version or input differs.
    """
    from simulator.app.cli.progress import progress_line

    with progress_line() as progress:
        if out is not None:
            from simulator.studies.folder import check_writable

            check_writable(out)
        from simulator.api.again import rerun as run

        again = run(result, out, progress)
    if again.identical:
        print(f"identical: all {again.compared} files have the same bytes")
        return
    print(f"different: {', '.join(again.differing)}")
    for reason in again.reasons or ("no version or input differs: please report this",):
        print(f"because:   {reason}")
    raise typer.Exit(_DIFFERS)


COMMAND = Command("rerun", rerun, 85)
"""Beside `report`, which also starts from a result."""
