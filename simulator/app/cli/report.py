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
    logo: Annotated[
        Path | None, typer.Option("--logo", metavar="FILE", help="Your own picture at the top.")
    ] = None,
    appendix: Annotated[
        bool,
        typer.Option("--appendix", help="Write the engineer's appendix as a file of its own."),
    ] = False,
    pdf: PdfOption = False,
) -> None:
    """Write one self-contained document: question, answer, pictures, plan, settings, appendix."""
    from simulator.api.documents import document
    from simulator.report.document_place import check_place, default_path

    path = out or default_path(results)
    replaces = check_place(path, pdf=pdf)
    document(
        results, path, title=title, client=client, author=author, logo=logo, appendix=appendix,
        pdf=pdf,
    )  # fmt: skip
    print(f"report: {path}{' (replaces a former one)' if replaces else ''}")
    if appendix:
        print(f"report: {path.with_stem(f'{path.stem}--engineer')}")
    if pdf:
        print(f"report: {path.with_suffix('.pdf')}")


COMMAND = Command("report", report, 80)
