"""What commands of studies do alike: the place of a result, its folder, its JSON, Ctrl-C."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from simulator.app.cli.options import folder_for

if TYPE_CHECKING:
    from simulator.api.shown import Reported
    from simulator.scene.load import Scene


def new_folder(context: typer.Context, out: Path | None, *parts: str) -> Path:
    """The result folder, as `folder_for` names it; refused now where it cannot be written later."""
    from simulator.studies.folder import check_names_folder, check_writable

    folder = folder_for(context, out, *parts)
    check_names_folder(folder)
    check_writable(folder)
    return folder


def at_time(scene: Scene, at: str | None, place: str | None, timezone: str | None) -> Scene:
    """The scene under the sky of --at, if it was given."""
    if at is None:
        if place is not None or timezone is not None:
            raise typer.BadParameter("--place and --timezone belong to --at")
        return scene
    from simulator.studies.calendar.sky import parse_place, time_zone
    from simulator.studies.outside import at_moment

    return at_moment(
        scene, at, place=None if place is None else parse_place(place),
        zone=None if timezone is None else time_zone(timezone),
    )  # fmt: skip


def print_json(result: Reported) -> None:
    """Print a result as its verdict.json holds it."""
    from simulator.report.record import json_text

    typer.echo(json_text(result.to_dict()), nl=False)


@contextmanager
def kept_points(folder: Path) -> Iterator[Path]:
    """File of the points that are done: it stays after Ctrl-C, and goes when all is written."""
    from simulator.studies.kept import kept_file

    keep = kept_file(folder)
    try:
        yield keep
    except KeyboardInterrupt:
        print(
            f"Interrupted. The points that are done stay in {keep};"
            " the same command with --resume goes on.",
            file=sys.stderr,
        )
        raise
    keep.unlink(missing_ok=True)


def print_study(result: Reported, folder: Path, *, as_json: bool) -> None:
    """Print the answer of a study and its tables, or its JSON."""
    if as_json:
        print_json(result)
        return
    record = result.to_dict()
    print(record["answer"])
    for table in record.get("tables", []):
        _print_table(table)
    print(f"result: {folder}")


def _print_table(table: Mapping[str, Any]) -> None:
    """Caption, head and rows of a table of verdict.json, in aligned lines."""
    rows = [table["head"], *table["rows"]]
    wide = [max(len(row[k]) for row in rows) for k in range(len(table["head"]))]
    print(f"{table['caption']}:")
    for row in rows:
        cells = (f"{cell:<{width}}" for cell, width in zip(row, wide, strict=True))
        print(f"  {'  '.join(cells)}".rstrip())
