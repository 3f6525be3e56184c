"""`nightproof trial-reading`: show your own viewers plates, and fit the person to them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import SeedOption

if TYPE_CHECKING:
    from simulator.studies.trial_reading import TrialPlate

ANSWERS = "answers.csv"
NOTHING = "?"
"""Stands in the sheet for a plate of which nothing could be told."""


def trial_reading(
    folder: Annotated[Path, typer.Argument(help="Folder for pictures, answers and viewer file.")],
    *,
    plates: Annotated[int, typer.Option(min=4, max=400, help="Plates to show.")] = 32,
    title: Annotated[str, typer.Option(help="Who the viewers are.")] = "our viewers",
    ask: Annotated[
        bool,
        typer.Option(
            "--ask/--no-ask",
            help="Ask for the answers here; if not, they are taken from answers.csv.",
        ),
    ] = True,
    seed: SeedOption = 0,
) -> None:
    """Show your viewers random plates; what they read becomes a reader for your predictions.

    Open the pictures at the display your viewers work at, enlarged as they like. Type what each
    plate says; leave the line empty where nothing can be told. An interrupted test goes on where it
    stopped.
    """
    from simulator.app.cli.progress import progress_line
    from simulator.judge.readers.viewer import viewer_text
    from simulator.studies.folder import whole_file
    from simulator.studies.trial_reading import fit_viewer, trial_plates

    with progress_line() as progress:
        made = trial_plates(plates, seed=seed, say=progress)
        known = _prepared(folder, made)
    if ask:
        _ask(folder, made, known)
    missing = [n for n in range(len(made)) if n not in known]
    if missing:
        typer.echo(
            f"{len(missing)} of {len(made)} plates have no answer yet: fill in"
            f" {folder / ANSWERS} and run this again with --no-ask"
        )
        return
    with progress_line() as progress:
        viewer = fit_viewer(made, [known[n] for n in range(len(made))], say=progress)
    file = folder / "viewers.toml"
    spread = {"efficiency": viewer.efficiency[1], "contrast_noise": viewer.contrast_noise[1]}
    with whole_file(file, "The viewer file cannot be written.") as part:
        part.write_text(viewer_text(viewer.model(title), spread), encoding="utf-8")
    typer.echo(
        f"{viewer.plates_read} of {viewer.plates} plates read;"
        f" the standard viewer would have read {viewer.expected:.1f}"
    )
    typer.echo(f"efficiency in noise {viewer.efficiency[0]:.2f} ± {viewer.efficiency[1]:.2f}")
    typer.echo(
        f"noise of their own {viewer.contrast_noise[0]:.2f} ± {viewer.contrast_noise[1]:.2f}"
        " of the contrast"
    )
    typer.echo(f"result: {file}")
    typer.echo(f"use it: nightproof predict SCENE CAMERA --set task.reader={file}")


def _name(n: int) -> str:
    return f"plate-{n + 1:03d}.png"


def _prepared(folder: Path, made: list[TrialPlate]) -> dict[int, str]:
    """Write the pictures and the sheet for answers; return the answers that are there."""
    from simulator.errors import OutputError
    from simulator.reading import plainly
    from simulator.report.pictures import write_png
    from simulator.studies.answer_sheet import read_answers

    try:
        folder.mkdir(parents=True, exist_ok=True)
        for n, plate in enumerate(made):
            write_png(folder / _name(n), plate.shown, {})
    except OSError as error:
        raise OutputError(
            "The pictures cannot be written.", file=folder, given=plainly(error),
            fix="name a folder that can be written to",
        ) from None  # fmt: skip
    sheet = folder / ANSWERS
    if not sheet.exists():
        _write_sheet(folder, len(made), {})
    names = {_name(n): n for n in range(len(made))}
    answers = read_answers(sheet, names)
    return {names[name]: "" if said == NOTHING else said for name, said in answers.items()}


def _ask(folder: Path, made: list[TrialPlate], known: dict[int, str]) -> None:
    for n in range(len(made)):
        if n not in known:
            question = f"{folder / _name(n)} says"
            known[n] = typer.prompt(question, default="", show_default=False).strip()
            _write_sheet(folder, len(made), known)


def _write_sheet(folder: Path, count: int, known: dict[int, str]) -> None:
    from simulator.studies.answer_sheet import sheet_of_answers
    from simulator.studies.folder import whole_file

    names = [_name(n) for n in range(count)]
    text = sheet_of_answers(names, {names[n]: said or NOTHING for n, said in known.items()})
    with whole_file(folder / ANSWERS, "The answers cannot be written.") as part:
        part.write_text(text, encoding="utf-8")


COMMAND = Command("trial-reading", trial_reading, 105)
