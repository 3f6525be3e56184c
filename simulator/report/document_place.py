"""Where a document goes: a name after what it reports, and nothing foreign overwritten."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from simulator.errors import OutputError

MARK = "Predicted with nightproof"
"""Stands near the top of every document."""
HEAD_BYTES = 65_536
ENDINGS = (".html", ".htm")


def default_path(folders: Sequence[Path]) -> Path:
    """HTML file after the first result folder, and how many more the document holds."""
    first = folders[0].resolve().name
    rest = f"--and-{len(folders) - 1}-more" if len(folders) > 1 else ""
    return Path("outputs") / f"report--{first}{rest}.html"


def check_place(path: Path, *, pdf: bool = False) -> bool:
    """Make sure that a document, and its PDF, overwrites nothing but a former document.

    A PDF counts as one where the HTML file of the same name beside it is one.

    Returns
    -------
    Whether a former document is replaced.

    Raises
    ------
    OutputError
        If something else is in the way.
    """
    if path.suffix.lower() not in ENDINGS:
        raise OutputError(
            "The document is an HTML file.", file=path,
            given=path.suffix or "a name without ending",
            fix=f"name it {path.stem}.html; --pdf writes a PDF beside it",
        )  # fmt: skip
    former = _is_document(path)
    files = [path, *([path.with_suffix(".pdf")] if pdf else [])]
    for file in files:
        if file.exists() and not former:
            raise OutputError(
                "Something else is in the way, which stays untouched.",
                file=file,
                given="a folder" if file.is_dir() else "a file that is no document of nightproof",
                allowed="a new file, or an earlier document of nightproof",
                fix="name another file with --out",
            )
    return former


def _is_document(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return MARK.encode() in file.read(HEAD_BYTES)
    except OSError:
        return False
