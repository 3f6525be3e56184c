"""`nightproof report`: result folders as one document for a customer."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


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
        typer.Option("--out", metavar="FILE", help="HTML file (default: outputs/report.html)."),
    ] = None,
    pdf: Annotated[
        bool, typer.Option("--pdf", help="Write a PDF beside it (extra `pdf`).")
    ] = False,
) -> None:
    """Write one self-contained document: question, answer, pictures, reasons, appendix."""
    from simulator.report.document import render, write_pdf, write_report

    text = render(results, title=title, client=client, author=author)
    path = out or Path("outputs") / "report.html"
    written = [write_report(path, text)]
    if pdf:
        written.append(write_pdf(path.with_suffix(".pdf"), text))
    for file in written:
        print(f"report: {file}")
