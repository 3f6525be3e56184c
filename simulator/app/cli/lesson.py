"""`nightproof lesson`: a teaching strip in which one thing changes."""

from __future__ import annotations

from typing import Annotated

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import OutOption, PdfOption, SeedOption, SetOption, folder_for


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
    from simulator.studies.folder import check_writable
    from simulator.studies.lessons.catalogue import find_lesson

    found = find_lesson(name)
    folder = folder_for(context, out, "lesson", name)
    check_writable(folder)
    if pdf:
        from simulator.report.document import check_pdf

        check_pdf()
    with progress_line(time_left=True) as progress:
        from simulator.studies.lessons.lesson import teach

        taught = teach(found, seed=seed, sets=sets or [], progress=progress)

        from simulator.report.lessons.page import save_lesson
        from simulator.report.wording.lessons import lesson_words

        written = save_lesson(folder, taught, pdf=pdf)
    for text in lesson_words(taught).shown:
        print(text)
    for path in written:
        print(f"lesson: {path}")
    print(f"result: {folder}")


COMMAND = Command("lesson", lesson, 50)
