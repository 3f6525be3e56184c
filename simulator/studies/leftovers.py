"""What a run that was killed leaves beside its result: cleared away, or brought back, by the next.

A run writes into `.NAME.part-TOKEN` and, where an earlier result is replaced, keeps its files
in `.NAME.old-TOKEN` until it is done. It holds a lock on the first, which the system takes away
from a process that ends; whatever nobody holds is left over.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from simulator.studies import manifest


def sibling(path: Path, what: str, token: str = "") -> Path:
    """A name beside a path that nobody can foresee."""
    return path.with_name(f".{path.name}.{what}-{token or secrets.token_hex(8)}")


def token_of(path: Path) -> str:
    """The last part of a name that `sibling` made."""
    return path.name.rpartition("-")[2]


@contextmanager
def held(path: Path) -> Iterator[None]:
    """Hold a file or folder, so that no other run takes it for left over."""
    number = _locked(path)
    try:
        yield
    finally:
        if number is not None:
            os.close(number)


def clear_away(target: Path) -> None:
    """Remove what killed runs left beside a path; an earlier result that one of them had begun to
    replace is brought back.

    Parameters
    ----------
    target
        The result folder, or the file.
    """
    with contextlib.suppress(OSError):
        for part in sorted(target.parent.glob(f".{_escaped(target.name)}.part-*")):
            number = _locked(part)
            if number is None:
                continue
            try:
                old = sibling(target, "old", token_of(part))
                if old.is_dir():
                    _settle(part, old, target)
                _remove(part)
            finally:
                os.close(number)


def _settle(part: Path, old: Path, target: Path) -> None:
    """Finish a replacement whose last file was in place, undo any other.

    The manifest is the last file to be moved: while it lies in `part`, some new file may be missing
    in the target.
    """
    listed = manifest.read_manifest(part)
    if (part / manifest.NAME).exists() and listed is not None:
        back = [n for n in listed if (target / n).is_file() and not (part / n).exists()]
        manifest.move(back, target, part)
        manifest.remove_empty_below(target, back)
        kept = [p.relative_to(old).as_posix() for p in old.rglob("*") if p.is_file()]
        manifest.move([n for n in kept if not os.path.lexists(target / n)], old, target)
    _remove(old)


def _remove(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path, ignore_errors=True)
    else:
        with contextlib.suppress(OSError):
            path.unlink()


def _escaped(name: str) -> str:
    return "".join(f"[{c}]" if c in "*?[" else c for c in name)


if sys.platform == "win32":  # pragma: no cover

    def _locked(path: Path) -> int | None:
        return None  # folders cannot be locked: nothing is taken for left over
else:
    import fcntl

    def _locked(path: Path) -> int | None:
        """Number of the opened and locked file or folder; None where somebody holds it."""
        try:
            number = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_CLOEXEC)
        except OSError:
            return None
        try:
            fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.close(number)
            return None
        return number
