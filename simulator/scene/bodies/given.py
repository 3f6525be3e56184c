"""Meshes that a user gives: OBJ, PLY and glTF, read by trimesh; material names map to ours."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from simulator.errors import FileFormatError
from simulator.scene.mesh import Mesh, joined

ENDINGS = (".obj", ".ply", ".glb", ".gltf")
MOST_BYTES = 100_000_000
MOST_TRIANGLES = 500_000
FLAT_DEG = 35.0
"""Edges sharper than this stay edges where the file tells no normals [deg]."""


def read_mesh(path: Path, material: Callable[[str | None], int]) -> Mesh:
    """A body from a file.

    Parameters
    ----------
    path
        OBJ, PLY, glb or gltf; x right, y away, z up.
    material
        Gives the index of a material by the name the file uses, None where it uses none.

    Returns
    -------
    Mesh
        In the units of the file.

    Raises
    ------
    FileFormatError
        If the file is too large, cannot be read, or holds no triangles or places that are no
        numbers.

    References
    ----------
    Wavefront OBJ, PLY and glTF 2.0 as trimesh reads them.
    """
    where = str(path)
    if path.suffix.lower() not in ENDINGS:
        raise FileFormatError(
            "This kind of mesh is not known.", file=where, given=path.suffix or "no ending",
            allowed=", ".join(ENDINGS),
        )  # fmt: skip
    try:
        size = path.stat().st_size
    except OSError as error:
        raise FileFormatError("The mesh cannot be read.", file=where, given=str(error)) from None
    if size > MOST_BYTES:
        raise FileFormatError(
            "The mesh file is too large.", file=where, given=f"{size / 1e6:.0f} MB",
            allowed=f"{MOST_BYTES / 1e6:.0f} MB", fix="reduce its triangles",
        )  # fmt: skip
    try:
        import trimesh  # noqa: PLC0415 only scenes with such a file pay for it

        loaded = trimesh.load_scene(path)
        pieces = loaded.dump()
    except Exception as error:  # the readers raise whatever they meet
        raise FileFormatError(
            "The mesh cannot be read.", file=where, given=f"{type(error).__name__}: {error}",
            allowed="a valid OBJ, PLY or glTF file",
        ) from None  # fmt: skip
    parts = []
    for piece in pieces:
        triangles = np.asarray(getattr(piece, "faces", np.zeros((0, 3))), np.int32)
        if len(triangles) == 0:
            continue
        name = getattr(getattr(piece.visual, "material", None), "name", None)
        smooth = trimesh.graph.smooth_shade(piece, angle=np.radians(FLAT_DEG))
        parts.append(
            Mesh(
                "piece",
                np.asarray(smooth.vertices, np.float64),
                np.asarray(smooth.faces, np.int32),
                np.asarray(smooth.vertex_normals, np.float64),
                np.full(len(smooth.faces), material(name), np.uint8),
            )
        )
    count = sum(len(p.triangles) for p in parts)
    if not 0 < count <= MOST_TRIANGLES:
        raise FileFormatError(
            "The mesh has no triangles, or too many.", file=where, given=count,
            allowed=f"1 to {MOST_TRIANGLES} triangles",
        )  # fmt: skip
    body = joined(path.stem, parts)
    if not np.all(np.isfinite(body.vertices_m)) or np.abs(body.vertices_m).max() > 1e6:
        raise FileFormatError(
            "The mesh has places that are no numbers, or too far away.", file=where,
            allowed="finite coordinates",
        )  # fmt: skip
    return body
