"""Result folders that appear whole or not at all."""

from __future__ import annotations

import errno
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from simulator.errors import OutputError
from simulator.reading import plainly
from simulator.studies import leftovers, manifest


def _refuse(path: Path, problem: str, given: object, fix: str) -> OutputError:
    return OutputError(
        problem,
        file=path,
        given=given,
        allowed="a new folder, an empty one, or an earlier result of nightproof",
        fix=fix,
    )


def _check_target(path: Path) -> None:
    try:
        if not path.exists():
            return
        if not path.is_dir():
            raise _refuse(path, "A file is in the way.", "a file", "name another folder")
        listed = manifest.read_manifest(path)
        if any(path.iterdir()) and listed is None:
            raise _refuse(
                path,
                "This folder holds something else, which stays untouched.",
                f"a folder that is not empty and has no {manifest.NAME} of nightproof",
                "name another folder",
            )
        if changes := manifest.changed(path, listed or {}):
            raise _refuse(
                path,
                "Files of the earlier result were changed since, and would be lost.",
                ", ".join(changes),
                "name another folder, or move these files elsewhere",
            )
    except OSError as error:
        raise _cannot_write(path, error) from None


def _cannot_write(path: Path, error: OSError) -> OutputError:
    return _refuse(
        path,
        "The result cannot be written here.",
        plainly(error),
        "name a folder that you may write to, with room on the disk",
    )


FILE_ENDINGS = (
    ".png", ".jpg", ".jpeg", ".tif", ".tiff", ".svg", ".pdf", ".html", ".htm", ".json", ".csv",
    ".nc", ".toml", ".txt", ".md", ".zip",
)  # fmt: skip
"""Names that end so are meant for a file."""


def check_names_folder(path: Path) -> None:
    """Refuse a name of a file where a folder is to be written.

    Raises
    ------
    OutputError
        If it ends as the name of a file does, and is no folder already.
    """
    if path.suffix.lower() in FILE_ENDINGS and not path.is_dir():
        raise OutputError(
            "This is the name of a file, and the result is a folder.",
            file=path,
            given=path.name,
            allowed="the name of a folder: picture, sheet, verdict and inputs are written into it",
            fix=f"leave out {path.suffix}",
        )


def refuse_overwriting(file: Path, overwrite: bool, how: str) -> None:
    """Make sure that a file of the user is replaced only where he says so.

    Parameters
    ----------
    how
        What is to be said for it to be replaced.

    Raises
    ------
    OutputError
        If there is a file of that name.
    """
    if file.exists() and not overwrite:
        raise OutputError(
            "There is a file of that name.", file=file, given=str(file),
            fix=f"choose another name, or say {how}",
        )  # fmt: skip


@contextmanager
def whole_file(path: Path, problem: str, *, parents: bool = False) -> Iterator[Path]:
    """A file that appears whole or not at all: yields where to write, and renames at the end.

    Parameters
    ----------
    path
        The file; whatever stands there is replaced.
    problem
        What the message says if it cannot be written.
    parents
        Whether missing folders are made.

    Raises
    ------
    OutputError
        With `problem`, if it cannot be written there.
    """
    part = leftovers.sibling(path, "part")  # a name that nobody can have laid a link under
    try:
        if parents:
            path.parent.mkdir(parents=True, exist_ok=True)
        leftovers.clear_away(path)
        with part.open("xb"), leftovers.held(part):
            yield part
            part.replace(path)
    except OSError as error:
        raise OutputError(
            problem,
            file=path,
            given=plainly(error),
            fix="choose another place",
        ) from None
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _make_parents(parent: Path) -> list[Path]:
    """Create missing parents; return those created, innermost first."""
    missing = []
    while not parent.exists():
        missing.append(parent)
        parent = parent.parent
    created: list[Path] = []
    try:
        for folder in reversed(missing):
            folder.mkdir()
            created.insert(0, folder)
    except OSError:
        _remove_empty(created)
        raise
    return created


def _remove_empty(folders: list[Path]) -> None:
    for folder in folders:
        try:
            folder.rmdir()
        except OSError:
            return


def _is_about(error: OSError, folder: Path) -> bool:
    """Whether an error is about writing into a folder, not a fault of the code that writes."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EACCES):
        return True
    named = (error.filename, error.filename2)
    return any(isinstance(n, str | Path) and folder.name in Path(n).parts for n in named)


def check_writable(path: str | Path) -> None:
    """Make sure, before a long computation, that a result can be written to `path`.

    Nothing is left behind.

    Raises
    ------
    OutputError
        If `path` is taken by something else or its parent cannot be written.
    """
    target = Path(path).resolve()
    leftovers.clear_away(target)
    _check_target(target)
    created: list[Path] = []
    try:
        created = _make_parents(target.parent)
        trial = leftovers.sibling(target, "trial")
        trial.mkdir()
        trial.rmdir()
    except OSError as error:
        raise _cannot_write(target, error) from None
    finally:
        _remove_empty(created)


def _put_in_place(made: Path, target: Path) -> None:
    """Give a finished folder its name; of an earlier result only its own files are replaced.

    The manifest comes last: `leftovers` finishes or undoes what a killed run had begun.
    """
    if not target.exists():
        made.rename(target)
        return
    news = [path.relative_to(made).as_posix() for path in made.rglob("*") if path.is_file()]
    news.sort(key=lambda name: name == manifest.NAME)
    olds = manifest.written(target, manifest.read_manifest(target) or {})
    if (target / manifest.NAME).is_file():
        olds.append(manifest.NAME)
    if foreign := manifest.in_the_way(target, news, olds):
        raise _refuse(
            target,
            "Files that no run of nightproof wrote are in the way; they stay untouched.",
            ", ".join(foreign),
            "name another folder, or move these files elsewhere",
        )
    old = leftovers.sibling(target, "old", leftovers.token_of(made))
    old.mkdir()
    manifest.move(olds, target, old)
    try:
        manifest.move(news, made, target)
    except BaseException:
        manifest.move(olds, old, target)
        manifest.remove_empty_below(target, news)
        shutil.rmtree(old, ignore_errors=True)
        raise
    manifest.remove_empty_below(target, olds)
    shutil.rmtree(old, ignore_errors=True)  # nothing but files that a run wrote
    shutil.rmtree(made, ignore_errors=True)


@contextmanager
def result_folder(path: str | Path) -> Iterator[Path]:
    """Temporary folder beside `path` to write into; it takes the name `path` when all went well.

    If the block raises, the temporary folder and any parents made for it are removed and whatever
    stood at `path` stays. Of an earlier result the files that its manifest lists are replaced; all
    others beside them stay. An empty folder is used, anything else is refused, and so is an earlier
    result whose own files were changed since.

    Yields
    ------
    pathlib.Path
        The folder to write into.

    Raises
    ------
    OutputError
        If `path` is taken by something else or cannot be written.
    """
    target = Path(path).resolve()
    leftovers.clear_away(target)
    _check_target(target)
    created: list[Path] = []
    made = leftovers.sibling(target, "part")
    try:
        created = _make_parents(target.parent)
        made.mkdir()
    except OSError as error:
        _remove_empty(created)
        raise _cannot_write(target, error) from None
    try:
        with leftovers.held(made):
            yield made
            manifest.write_manifest(made)
            _check_target(target)
            _put_in_place(made, target)
    except BaseException as error:
        shutil.rmtree(made, ignore_errors=True)
        _remove_empty(created)
        if isinstance(error, OSError) and _is_about(error, made):
            raise _cannot_write(target, error) from None
        raise
