"""Layers of whole pictures kept on disk between runs, under a hash of all that they show.

A layer knows nothing of shutter, gain, noise or processing: a prediction that differs from an
earlier one in those alone takes its light from there.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

import numpy as np

from simulator.bounded import Bounded
from simulator.disk_cache import LAYERS, folder_for, keep_arrays, read_arrays
from simulator.kernels import sources_key
from simulator.scene.kernels.bodies import PackedBodies
from simulator.scene.kernels.pack import PackedLights, PackedScene, PackedView
from simulator.scene.kernels.radiance import Layer, Sampling, trace_layer
from simulator.scene.radiosity.field import is_rough
from simulator.units import FloatArray

VERSION = 1
"""Raised whenever the same inputs give another layer by a change outside the kernels' files."""
MOST_BYTES = 500_000_000
"""Layers kept on disk, all together: some ten pictures of two megapixels."""

_KEEPING: ContextVar[bool] = ContextVar("keeping", default=False)


@contextmanager
def keeping_layers() -> Iterator[None]:
    """Within it, layers of pictures are taken from disk where they are kept, and are kept.

    For a picture that is asked for once; a search would fill the disk with what nobody asks again.
    """
    before = _KEEPING.set(True)
    try:
        yield
    finally:
        _KEEPING.reset(before)


def traced_layer(
    grid: Sampling,
    scene: PackedScene,
    lights: PackedLights,
    view: PackedView,
    *,
    mode: int,
    fine: int,
    weights: FloatArray,
    interpolated: bool,
) -> Layer:
    """As `trace_layer`, from disk where it is kept."""

    def traced() -> Layer:
        return trace_layer(
            grid, scene, lights, view, mode=mode, fine=fine, weights=weights,
            interpolated=interpolated,
        )  # fmt: skip

    folder = folder_for(LAYERS) if _KEEPING.get() and not is_rough() else None
    if folder is None:
        return traced()
    digest = hashlib.blake2b(digest_size=16)
    for part in (
        VERSION, sources_key(), tuple(grid), mode, fine, interpolated, weights, view,
        scene.cards, _of_bodies(scene.bodies), _of_lights(lights),
    ):  # fmt: skip
        _add(digest, part)
    file = folder / f"{digest.hexdigest()}.npz"
    known = read_arrays(file)
    if known is not None:
        return Layer(*(np.asarray(known[name], np.float32) for name in Layer._fields))
    made = traced()
    keep_arrays(file, made._asdict(), most=MOST_BYTES)
    return made


def _add(digest: hashlib.blake2b, part: object) -> None:
    """Add numbers, arrays, and tuples of them to a hash."""
    if isinstance(part, np.ndarray):
        digest.update(f"{part.dtype}{part.shape}".encode())
        digest.update(np.ascontiguousarray(part).tobytes() if part.size else b"")
    elif isinstance(part, tuple):
        for one in part:
            _add(digest, one)
    else:
        digest.update(part if isinstance(part, bytes) else repr(part).encode())


def _of_bodies(bodies: PackedBodies | None) -> tuple[object, ...]:
    """What tells bodies apart for a layer."""
    if bodies is None:
        return ()
    meshes = tuple((m.name, m.card, m.group, m.inside, m.content) for m in bodies.meshes)
    return (meshes, bodies.shift_m, bodies.panes)


_HASHED: Bounded[tuple[PackedLights, bytes]] = Bounded(1)
"""The lights whose hash was made last, with it: of one picture all layers have the same."""


def _of_lights(lights: PackedLights) -> bytes:
    """A hash of lights with their sky and bounced light."""
    known = _HASHED.get(id(lights))
    if known is None:
        digest = hashlib.blake2b(digest_size=16)
        _add(digest, lights)
        # what a hash is known by is held so that its number is not reused
        known = _HASHED.put(id(lights), (lights, digest.digest()))
    return known[1]
