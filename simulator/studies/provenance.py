"""What a result can be traced back to: a hash of its inputs and the versions that made it."""

from __future__ import annotations

import hashlib
from importlib.metadata import PackageNotFoundError, version

from simulator.camera.load import Camera
from simulator.scene.load import Scene

RUN = "run.json"
"""File beside the inputs of a result that says what was asked of them."""


def input_hash(scene: Scene, camera: Camera) -> str:
    """SHA-256 over what scene and camera say, the first 16 hexadecimal digits.

    Names and places of files do not count; a photograph counts by its content.
    """
    text = f"{scene.content_hash}\n{camera.content_hash}"
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def versions() -> dict[str, str]:
    """Versions of this package and of the libraries that shape the numbers."""
    out = {}
    for name in ("nightproof", "numpy", "scipy", "opencv-python-headless", "numba"):
        try:
            out[name] = version(name)
        except PackageNotFoundError:
            out[name] = "unknown"
    return out
