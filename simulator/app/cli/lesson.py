"""`nightproof lesson`: a teaching strip in which one thing changes."""

from __future__ import annotations

from typing import Annotated

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import OutOption, PdfOption, SeedOption, SetOption
from simulator.app.cli.outcome import new_folder


def lesson(
    context: typer.Context,
    name: Annotated[
        str,
        typer.Argument(
            metavar="NAME",
            help="backlight, low-light, motion, pixels, infrared or noise-reduction.",
        ),
    ],
    *,
    sets: SetOption = None,
    seed: SeedOption = 1,
    out: OutOption = None,
    pdf: PdfOption = False,
) -> None:
    """Show what one thing does to the picture: pictures, curve, law, questions and answers."""
    from simulator.app.cli.progress import progress_line
    from simulator.studies.lessons.catalogue import find_lesson

    find_lesson(name)  # told now, not after the imports
    folder = new_folder(context, out, "lesson", name)
    if pdf:
        from simulator.report.document import check_pdf

        check_pdf()
    with progress_line(time_left=True) as progress:
        from simulator.api.teaching import lesson as run

        result = run(name, changes=sets or [], seed=seed, progress=progress)
        result.save(folder, pdf=pdf)
    from simulator.report.wording.lessons import lesson_words

    for text in lesson_words(result).shown:
        print(text)
    for ending in ("html", *(["pdf"] if pdf else [])):
        print(f"lesson: {folder / f'lesson.{ending}'}")
    print(f"result: {folder}")


COMMAND = Command("lesson", lesson, 50)
