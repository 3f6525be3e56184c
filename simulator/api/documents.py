"""Result folders as one document for a customer, as a function."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path


def document(
    folders: Sequence[str | Path] | str | Path,
    file: str | Path,
    *,
    title: str,
    client: str = "",
    author: str = "",
    pdf: bool = False,
    logo: str | Path | None = None,
    appendix: bool = False,
) -> Path:
    """Write one self-contained document: question, answer, pictures, reasons, appendix.

    Parameters
    ----------
    folders
        Result folders, in the order of the document.
    file
        HTML file to write; an earlier document of ours is replaced.
    title
        Title of the document.
    client, author
        For whom it is, and who prepared it.
    pdf
        Whether a PDF of the same name is written, too (extra `pdf`).
    logo
        Picture file of your own that stands at the top.
    appendix
        Whether the engineer's appendix is a file of its own, FILE--engineer.html, instead of
        standing behind a divider.

    Returns
    -------
    pathlib.Path
        The HTML file.

    Raises
    ------
    InputError
        For a folder that holds no result, or a PDF that cannot be made.
    OutputError
        If it cannot be written there, or another file is in the way.

    References
    ----------
    The appendix of the document names the models that were used and their sources.

    Examples
    --------
    >>> from simulator import document
    >>> document("nowhere", "report.html", title="A gate by night")
    Traceback (most recent call last):
    simulator.errors.InputError: This is not a result of nightproof: it holds no verdict.json.
    ...
    """
    from simulator.errors import InputError
    from simulator.report.document import Part, render, write_pdf, write_report
    from simulator.report.document_place import check_place

    several = [folders] if isinstance(folders, str | Path) else folders
    path = Path(file)
    parts: list[tuple[Path, Part]] = [(path, "customer" if appendix else "whole")]
    if appendix:
        parts.append((path.with_stem(f"{path.stem}--engineer"), "engineer"))
    for place, _ in parts:
        check_place(place, pdf=pdf)
    texts: dict[Path, str] = {}
    for place, part in parts:
        text = render(
            [Path(one) for one in several], title=title, client=client, author=author, part=part,
            logo=None if logo is None else Path(logo),
        )  # fmt: skip
        write_report(place, text)
        texts[place] = text
    if pdf:
        try:
            for place, text in texts.items():
                write_pdf(place.with_suffix(".pdf"), text)
        except InputError as error:
            raise InputError(
                f"{error.problem} The HTML file is written all the same: {path}",
                argument=error.argument, given=error.given, allowed=error.allowed, fix=error.fix,
            ) from None  # fmt: skip
    return path
