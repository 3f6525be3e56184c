"""What is kept on disk between runs: compiled kernels, and arrays that take long to make.

Everything stands below one folder of the user:

    kernels/<key>/             machine code, under a key made of the sources of all kernels
    arrays/<kind>-<key>.npz    arrays, under a key made of all that they are made from
    light/<key>.npz            sky and bounced light of worlds (`scene.radiosity.kept`)
    layers/<key>.npz           layers of whole pictures (`camera.kept_layers`)

A key is a hash of content, so that nothing kept is ever wrong after an edit: it is no longer found.
Files appear whole or not at all (written beside, then renamed), so that several processes may read
and write at once; a file that cannot be read is made anew. Of the arrays and of the kernels'
folders the least recently used ones make room.
"""

from __future__ import annotations

import atexit
import contextlib
import hashlib
import os
import shutil
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # numpy takes a while, and clearing the cache does not need it
    import numpy as np
    from numpy.typing import NDArray

    Arrays = Mapping[str, NDArray[np.generic]]

FOLDER_VARIABLE = "NIGHTPROOF_CACHE_DIR"
"""Environment variable that names the folder of everything that is kept between runs; `off` keeps
nothing."""
OFF = "off"
MOST_BYTES = 300_000_000
"""Arrays kept at most."""
MOST_KERNEL_FOLDERS = 24
"""Versions of the kernels kept at most: each edit makes one, of some megabytes."""
ARRAYS, KERNELS, LIGHT, LAYERS = "arrays", "kernels", "light", "layers"


def base_folders() -> list[Path]:
    """Where things may be kept, the wanted place first; none where nothing is to be kept.

    `NIGHTPROOF_CACHE_DIR` if it is set, else `nightproof` in the user's cache folder
    (`XDG_CACHE_HOME`, `LOCALAPPDATA` or `~/.cache`).
    """
    named = os.environ.get(FOLDER_VARIABLE, "")
    if named.lower() == OFF:
        return []
    bases = [Path(named)] if named else []
    for variable in ("XDG_CACHE_HOME", "LOCALAPPDATA"):
        if os.environ.get(variable):
            bases.append(Path(os.environ[variable]) / "nightproof")
    with contextlib.suppress(RuntimeError):  # no home
        bases.append(Path.home() / ".cache" / "nightproof")
    return bases


def folder_for(name: str) -> Path | None:
    """A folder of this name that exists and can be written to; None where there is none."""
    for base in base_folders():
        folder = base / name
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                return folder
        except OSError:
            continue
    return None


def kernel_folder(key: str) -> Path:
    """Folder for the machine code of a key; a temporary one where nothing is kept."""
    folder = folder_for(f"{KERNELS}/{key}")
    if folder is None:
        folder = Path(tempfile.mkdtemp(prefix="nightproof-kernels-"))
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
        return folder
    with contextlib.suppress(OSError):
        os.utime(folder)
        by_use = sorted(folder.parent.iterdir(), key=lambda path: path.stat().st_mtime)
        for old in by_use[:-MOST_KERNEL_FOLDERS]:
            shutil.rmtree(old, ignore_errors=True)
    return folder


def content_key(*parts: object) -> str:
    """Hash of what something is made from: bytes, files by their content, the rest by `repr`."""
    digest = hashlib.sha256()
    for part in parts:
        if isinstance(part, Path):
            digest.update(part.read_bytes())
        else:
            digest.update(part if isinstance(part, bytes) else repr(part).encode())
        digest.update(b"\0")
    return digest.hexdigest()[:32]


def kept_arrays(kind: str, key: str, make: Callable[[], Arrays]) -> Arrays:
    """Arrays of a key, read if they are kept, else made and kept.

    Parameters
    ----------
    kind
        What they are, as a name of a file.
    key
        `content_key` of all that they are made from, the sources of the code that makes them among
        it.
    make
        Makes them.

    Examples
    --------
    >>> import numpy as np
    >>> key = content_key("an example", 3)
    >>> kept_arrays("examples", key, lambda: {"squares": np.arange(3) ** 2})["squares"].tolist()
    [0, 1, 4]
    """
    folder = folder_for(ARRAYS)
    if folder is None:
        return make()
    file = folder / f"{kind}-{key}.npz"
    arrays = read_arrays(file)
    if arrays is None:
        arrays = make()
        keep_arrays(file, arrays, most=MOST_BYTES)
    return arrays


def read_arrays(file: Path) -> Arrays | None:
    """Arrays of a kept file; None if it is not there or cannot be read, and then it is removed."""
    import numpy as np  # noqa: PLC0415  clearing does not need it

    try:
        with file.open("rb") as handle, np.load(handle, allow_pickle=False) as kept:
            arrays = {name: kept[name] for name in kept.files}
        os.utime(file)  # used just now
    except FileNotFoundError:
        return None
    except Exception:  # whatever a torn or foreign file makes the reader raise
        with contextlib.suppress(OSError):
            file.unlink()
        return None
    return arrays


def keep_arrays(file: Path, arrays: Arrays, *, most: int) -> None:
    """Keep arrays in a file, whole or not at all; others of its folder make room.

    Parameters
    ----------
    most
        Bytes that the folder may hold.
    """
    import numpy as np  # noqa: PLC0415  clearing does not need it

    with contextlib.suppress(OSError):  # a full disk does not stop the work
        handle, part = tempfile.mkstemp(dir=file.parent, prefix=".part-")
        try:
            with os.fdopen(handle, "wb") as out:
                np.savez(out, allow_pickle=False, **arrays)
            Path(part).replace(file)
        finally:
            with contextlib.suppress(OSError):
                Path(part).unlink(missing_ok=True)
        _make_room(file.parent, most)


def _make_room(folder: Path, most: int) -> None:
    """Remove the least recently used files until all together are no larger than allowed."""
    with contextlib.suppress(OSError):
        files = sorted(
            ((path.stat().st_mtime, path.stat().st_size, path) for path in folder.iterdir()),
            reverse=True,
        )
        held = 0
        for _, size, path in files:
            held += size
            if held > most:
                path.unlink(missing_ok=True)


def sizes() -> dict[Path, int]:
    """Bytes kept, by folder: those of the named place if there is one, else of all places."""
    by_part, bases = {}, base_folders()
    if os.environ.get(FOLDER_VARIABLE) and bases and bases[0].is_dir():
        bases = bases[:1]
    for base in bases:
        for name in (KERNELS, ARRAYS, LIGHT, LAYERS):
            folder = base / name
            if folder.is_dir():
                files = [path for path in folder.rglob("*") if path.is_file()]
                by_part[folder] = sum(path.stat().st_size for path in files)
    return by_part


def clear() -> int:
    """Remove all that is kept; what else stands in the folders stays.

    Returns
    -------
    int
        Bytes that were removed.
    """
    before = sizes()
    for folder in before:
        shutil.rmtree(folder, ignore_errors=True)
    return sum(before.values()) - sum(sizes().values())
