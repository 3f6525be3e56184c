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
    from simulator.report.document import render, write_pdf, write_report
    from simulator.report.document_place import check_place

    several = [folders] if isinstance(folders, str | Path) else folders
    path = Path(file)
    check_place(path, pdf=pdf)
    text = render([Path(one) for one in several], title=title, client=client, author=author)
    write_report(path, text)
    if pdf:
        write_pdf(path.with_suffix(".pdf"), text)
    return path
