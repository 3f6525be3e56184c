"""Predicts, from physics, what a surveillance camera will show and whether it can be read."""

from __future__ import annotations

import os
from importlib import import_module
from typing import TYPE_CHECKING, Any

# threads that wait give their processor up: on a busy machine spinning takes several times as long
os.environ.setdefault("OMP_WAIT_POLICY", "passive")

if TYPE_CHECKING:
    from simulator.camera.load import Camera as Camera
    from simulator.report.prediction import predict as predict
    from simulator.scene.load import Scene as Scene

    __version__: str

__all__ = ["Camera", "Scene", "__version__", "predict"]

_HOMES = {
    "Camera": "simulator.camera.load",
    "Scene": "simulator.scene.load",
    "predict": "simulator.report.prediction",
}


def __getattr__(name: str) -> Any:
    # loaded on first use, so that `nightproof --help` does not wait for numpy
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    if name == "__version__":
        from importlib.metadata import PackageNotFoundError, version  # noqa: PLC0415

        try:
            return version("nightproof")
        except PackageNotFoundError:
            return "not installed"
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
