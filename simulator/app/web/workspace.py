"""Files that a page brings along: checked, of bounded size and number, named by their content."""

from __future__ import annotations

import hashlib
import io
import tempfile
from pathlib import Path
from typing import Any

from PIL import Image as PillowImage, ImageOps

from simulator.app.web.view import MOST_TEXT, View
from simulator.errors import FileFormatError, InputError
from simulator.light.photometric_file import parse_photometric_file
from simulator.scene.targets.photograph import is_deep

MOST_PHOTO_BYTES = 12_000_000
MOST_PHOTO_PX = 40_000_000
MOST_HELD_BYTES = 200_000_000
"""All photos together; the oldest make room."""
KINDS = ("scene", "camera", "light", "photo")


class Workspace:
    """The folder of a page's files; nothing outside it is read or written.

    Parameters
    ----------
    folder
        A folder that is there, or None for a temporary one that goes with the program.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._temporary = None if folder else tempfile.TemporaryDirectory(prefix="nightproof-web-")
        self.folder = Path(folder or self._temporary.name).resolve()  # type: ignore[union-attr]

    def take(self, kind: str, name: str, body: bytes) -> dict[str, Any]:
        """What a page gets for a file that it opens.

        Parameters
        ----------
        kind
            One of `KINDS`: a scene, a camera, a lamp's photometric file, or a photo of the site.
        name
            What it was called; only its stem is told again.
        body
            Its bytes.

        Raises
        ------
        InputError
            For a file of another kind, or that is at fault.
        """
        stem = Path(name.replace("\\", "/")).stem[:60] or kind
        if kind == "photo":
            return self._photo(stem, body)
        if kind not in KINDS:
            raise InputError("There is no such kind of file.", given=kind, allowed=str(KINDS))
        text = _text(body)
        if not text.strip():
            raise InputError("This file is empty.", given=stem, fix="open another one")
        if kind == "light":
            photometric = parse_photometric_file(text)
            return {"kind": kind, "name": stem, "text": text, "told": type(photometric).__name__}
        given = {f"{kind}_text": text, kind: stem}
        view = View.of(given)
        scene, camera = view.opened(self.folder)
        one = camera if kind == "camera" else scene
        return {"kind": kind, "name": stem, "text": text, "told": one.model.title}

    def _photo(self, stem: str, body: bytes) -> dict[str, Any]:
        """A photo of the site, written anew from its pixels alone."""
        if len(body) > MOST_PHOTO_BYTES:
            raise InputError(
                "This photo is too large.", given=f"{len(body) / 1e6:.1f} MB",
                allowed=f"at most {MOST_PHOTO_BYTES / 1e6:.0f} MB", fix="make it smaller",
            )  # fmt: skip
        name = f"{hashlib.sha256(body).hexdigest()[:20]}.png"
        path = self.folder / name

        try:
            with PillowImage.open(io.BytesIO(body), formats=("PNG", "JPEG")) as picture:
                if picture.width * picture.height > MOST_PHOTO_PX:
                    raise InputError(
                        "This photo has too many pixels.",
                        given=f"{picture.width} x {picture.height}",
                        allowed=f"at most {MOST_PHOTO_PX / 1e6:.0f} million",
                    )  # fmt: skip
                if is_deep(picture, body):
                    raise InputError(
                        "This photo has more than 8 bits a channel.", given=stem,
                        allowed="PNG or JPEG of 8 bits a channel", fix="save it again with 8 bits",
                    )  # fmt: skip
                upright = ImageOps.exif_transpose(picture)
                upright.convert("RGB").save(path)
                shape = upright.height / upright.width
        except (OSError, SyntaxError, ValueError) as error:
            if isinstance(error, InputError):
                raise
            raise FileFormatError(
                "This is no picture.", given=stem, allowed="PNG or JPEG",
                fix="save the photo as PNG or JPEG",
            ) from None  # fmt: skip
        self._make_room(path)
        return {"kind": "photo", "name": stem, "file": name, "shape": shape}

    def _make_room(self, newest: Path) -> None:
        files = sorted(self.folder.glob("*.png"), key=lambda path: path.stat().st_mtime)
        held = sum(path.stat().st_size for path in files)
        for path in files:
            if held <= MOST_HELD_BYTES or path == newest:
                break
            held -= path.stat().st_size
            path.unlink(missing_ok=True)

    def close(self) -> None:
        """Remove a temporary folder."""
        if self._temporary is not None:
            self._temporary.cleanup()


def _text(body: bytes) -> str:
    if len(body) > MOST_TEXT:
        raise InputError(
            "This file is too large.", given=f"{len(body) / 1e3:.0f} kB",
            allowed=f"at most {MOST_TEXT / 1e3:.0f} kB",
        )  # fmt: skip
    try:
        return body.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise FileFormatError(
            "This is no text.", allowed="a text file in UTF-8", fix="save it as UTF-8"
        ) from None
