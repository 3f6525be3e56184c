"""`nightproof report`: result folders as one document for a customer."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import PdfOption


def report(
    results: Annotated[
        list[Path], typer.Argument(metavar="RESULT...", help="Result folders, in order.")
    ],
    *,
    title: Annotated[str, typer.Option("--title", help="Title of the document.")],
    client: Annotated[str, typer.Option("--client", help="For whom it is.")] = "",
    author: Annotated[str, typer.Option("--author", help="Who prepared it.")] = "",
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", metavar="FILE", help="HTML file (default: outputs/report--RESULT.html)."
        ),
    ] = None,
    pdf: PdfOption = False,
) -> None:
    """Write one self-contained document: question, answer, pictures, reasons, appendix."""
    from simulator.errors import InputError
    from simulator.report.document import render, write_pdf, write_report
    from simulator.report.document_place import check_place, default_path

    path = out or default_path(results)
    replaces = check_place(path, pdf=pdf)
    text = render(results, title=title, client=client, author=author)
    write_report(path, text)
    print(f"report: {path}{' (replaces a former one)' if replaces else ''}")
    if pdf:
        try:
            print(f"report: {write_pdf(path.with_suffix('.pdf'), text)}")
        except InputError as error:
            raise InputError(
                f"{error.problem} The HTML file is written all the same: {path}",
                key=error.key, given=error.given, allowed=error.allowed, fix=error.fix,
            ) from None  # fmt: skip


COMMAND = Command("report", report, 80)
