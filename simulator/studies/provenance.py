"""What a result can be traced back to: a hash of its inputs and the versions that made it."""

from __future__ import annotations

import hashlib
from importlib.metadata import PackageNotFoundError, version

from simulator.camera.load import Camera
from simulator.scene.load import Scene


def input_hash(scene: Scene, camera: Camera) -> str:
    """SHA-256 over the filled-in scene and camera tables, first 16 hexadecimal digits."""
    text = scene.to_toml() + "\n" + camera.to_toml()
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
