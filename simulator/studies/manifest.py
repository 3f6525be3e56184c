"""Which files of a result folder a run wrote, so that a later run replaces these and no others."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path, PurePosixPath

from simulator.reading import is_file

NAME = "manifest.json"
"""File that lists the others: name below the folder and SHA-256 of each."""


def _hash(file: Path) -> str:
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def write_manifest(folder: Path) -> None:
    """List every file below a folder in its manifest."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    listed = {path.relative_to(folder).as_posix(): _hash(path) for path in files}
    table = {"schema_version": 1, "written_by": "nightproof", "files": listed}
    (folder / NAME).write_text(json.dumps(table, indent=2) + "\n", encoding="utf-8")


def read_manifest(folder: Path) -> dict[str, str] | None:
    """Hash by name of the files that a run wrote into a folder; None where none did."""
    try:
        table = json.loads((folder / NAME).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return None
    files = table.get("files") if isinstance(table, dict) else None
    if not isinstance(files, dict) or table.get("written_by") != "nightproof":
        return None
    if not all(isinstance(v, str) and _is_below(k) for k, v in files.items()):
        return None
    return files


def _is_below(name: str) -> bool:
    path = PurePosixPath(name)
    return bool(path.parts) and not path.is_absolute() and ".." not in path.parts


def _is_own(folder: Path, name: str) -> bool:
    """Whether a file stands in the folder itself, not behind a link."""
    file = folder / name
    return is_file(file) and file.resolve() == folder.resolve() / name


def written(folder: Path, listed: Mapping[str, str]) -> list[str]:
    """Names of the listed files that are still there as the run wrote them."""
    return [n for n, digest in listed.items() if _is_own(folder, n) and _hash(folder / n) == digest]


def changed(folder: Path, listed: Mapping[str, str]) -> list[str]:
    """Names of the listed files that somebody changed since the run wrote them."""
    as_written = set(written(folder, listed))
    return [name for name in listed if os.path.lexists(folder / name) and name not in as_written]


def in_the_way(folder: Path, news: Sequence[str], olds: Sequence[str]) -> list[str]:
    """What stands where new files or their folders must go and is none of the old files."""
    files = []
    for name in news:
        if name not in olds and os.path.lexists(folder / name):
            files.append(name)
        for parent in PurePosixPath(name).parents[:-1]:
            place = folder / parent
            if os.path.lexists(place) and (place.is_symlink() or not place.is_dir()):
                files.append(str(parent))
    return list(dict.fromkeys(files))


def move(names: Sequence[str], source: Path, target: Path) -> None:
    """Move files from one folder into another on the same disk, all of them or none."""
    done: list[str] = []
    try:
        for name in names:
            (target / name).parent.mkdir(parents=True, exist_ok=True)
            (source / name).rename(target / name)
            done.append(name)
    except BaseException:
        for name in reversed(done):
            (target / name).rename(source / name)
        raise


def remove_empty_below(folder: Path, names: Sequence[str]) -> None:
    """Remove the folders that hold nothing any more now that these files are gone."""
    inner = {parent for name in names for parent in PurePosixPath(name).parents if parent.parts}
    for path in sorted(inner, key=lambda p: -len(p.parts)):
        with suppress(OSError):
            (folder / path).rmdir()
