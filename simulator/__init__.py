"""Predicts, from physics, what a surveillance camera will show and whether it can be read.

Scenes and cameras are `Scene` and `Camera`; every study is a function whose result saves itself
with `save(folder)`: `predict`, `quick`, `compare`, `sweep`, `lighting`, `specify`, `calendar`,
`survey`, `light_levels`, `film`, `lesson`, `measure`, `show`; `rerun` makes one again. The physics
stands in `light`, `scene`, `camera`, `judge` and `bench`. What a person can fix is an `InputError`.
"""

from __future__ import annotations

import os
import sys
from typing import Any

import lazy_loader

# threads that wait give their processor up: on a busy machine spinning takes several times as long
os.environ.setdefault("OMP_WAIT_POLICY", "passive")

# matrix products differ in their last digits with the number of threads that share them, and the
# small ones here are slower by many: one thread each, whatever the environment says
os.environ.update(dict.fromkeys(("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1"))
if "numpy" in sys.modules:  # it has read the environment already
    from threadpoolctl import threadpool_limits

    threadpool_limits(1, "blas")

# the names of `__init__.pyi` are loaded on first use: `nightproof --help` does not wait for numpy
_load, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from importlib.metadata import PackageNotFoundError, version  # noqa: PLC0415

        try:
            return version("nightproof")
        except PackageNotFoundError:
            return "not installed"
    return _load(name)
