"""Parts that vehicles share: wheels, arches, lamps, mirrors, seats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from simulator.scene.bodies.shell import revolved
from simulator.scene.mesh import (
    DRAWN,
    Mesh,
    box,
    grid_triangles,
    joined,
    of_grid,
    of_triangles,
    smooth_normals,
)
from simulator.scene.targets.sketch import Sketch
from simulator.units import FloatArray


@dataclass(frozen=True)
class Materials:
    """Indices into the scene's material list."""

    paint: int
    glass: int
    plastic: int
    rubber: int
    lamp: int
    chrome: int
    red: int
    amber: int
    under: int
    seat: int


def outward(mesh: Mesh) -> Mesh:
    """The same closed body with all triangles turned outwards."""
    middle = mesh.vertices_m.mean(axis=0)
    a, b, c = (mesh.vertices_m[mesh.triangles[:, k]] - middle for k in range(3))
    if np.einsum("ij,ij->", a, np.cross(b, c)) >= 0.0:
        return mesh
    return replace(mesh, triangles=mesh.triangles[:, ::-1].copy(), normals=-mesh.normals)


def slab(material: int, foot_m: Sequence[float], size_m: tuple[float, float, float]) -> Mesh:
    """A plain box on the middle of its lower side (3,) [m]."""
    return box("slab", np.asarray(foot_m, float), size_m, material=material)


def ellipsoid(
    material: int, centre_m: Sequence[float], radii_m: Sequence[float], *, power: float = 2.0
) -> Mesh:
    """A rounded lump; a power above 2 makes it boxy."""
    rows, columns = 16, 28
    v = np.linspace(1e-3, np.pi - 1e-3, rows)
    u = np.linspace(0.0, 2.0 * np.pi, columns, endpoint=False)
    e = 2.0 / power

    def bent(t: FloatArray) -> FloatArray:
        return np.asarray(np.sign(t) * np.abs(t) ** e)

    ring, up = bent(np.sin(v))[:, None], bent(np.cos(v))[:, None]
    points = np.stack(
        [ring * bent(np.cos(u)), ring * bent(np.sin(u)), np.broadcast_to(up, (rows, columns))], 2
    )
    points = points * np.asarray(radii_m) + np.asarray(centre_m)
    mesh = of_triangles(
        "lump", points.reshape(-1, 3), grid_triangles(rows, columns, around=True), material
    )
    return outward(mesh)


def wheel(m: Materials, x: float, y: float, radius: float, width: float, side: float) -> Mesh:
    """A tyre with a rim; `side` is 1 on the right, -1 on the left."""
    r, w = radius, width / 2.0
    tyre = [(-w * 0.75, r * 0.66), (-w, r * 0.80), (-w * 0.95, r * 0.94), (-w * 0.7, r * 0.99),
            (-w * 0.3, r), (w * 0.3, r), (w * 0.7, r * 0.99), (w * 0.95, r * 0.94), (w, r * 0.80),
            (w * 0.78, r * 0.665), (w * 0.55, r * 0.65)]  # fmt: skip
    rim = [(w * 0.55, r * 0.65), (w * 0.45, r * 0.55), (w * 0.5, r * 0.2), (w * 0.62, 0.001)]
    centre = (x, y, radius)
    around = revolved("tyre", [(side * a, b) for a, b in tyre], centre, m.rubber, steps=48)
    disc = revolved("rim", [(side * a, b) for a, b in rim], centre, m.chrome, steps=48)
    local = (disc.vertices_m - np.asarray(centre)) / r
    places = np.stack([local[:, 1] / 1.4 + 0.5, local[:, 2] / 1.4 + 0.5], axis=1)
    disc = replace(
        disc,
        materials=np.full(len(disc.triangles), DRAWN, np.uint8),
        places=places,
        texture=_spokes(m),
    )
    parts = [around, disc]
    start = np.cumsum([0] + [len(p.vertices_m) for p in parts])
    del start
    return joined("wheel", [_sided(p, side) for p in parts])


def _sided(mesh: Mesh, side: float) -> Mesh:
    """Turned so that the front of its triangles looks out for a body on that side."""
    a, b, c = (mesh.vertices_m[mesh.triangles[:, k]] for k in range(3))
    face = np.cross(b - a, c - a)
    middle = (a + b + c) / 3.0
    centre = mesh.vertices_m.mean(axis=0) - np.array([side * 0.05, 0.0, 0.0])
    if np.einsum("ij,ij->", face, middle - centre) >= 0.0:
        return mesh
    return replace(mesh, triangles=mesh.triangles[:, ::-1].copy(), normals=-mesh.normals)


def _spokes(m: Materials):  # type: ignore[no-untyped-def]
    s = Sketch(1.4, 1.4, -0.7, texel_m=0.01, fill=m.chrome)
    for k in range(5):
        a = 2.0 * np.pi * (k + 0.5) / 5.0
        b0, b1 = a - 0.36, a + 0.36
        s.polygon(
            [(0.24 * np.cos(a), 0.24 * np.sin(a)), (0.56 * np.cos(b0), 0.56 * np.sin(b0)),
             (0.60 * np.cos(a), 0.60 * np.sin(a)), (0.56 * np.cos(b1), 0.56 * np.sin(b1))],
            m.under,
        )  # fmt: skip
    s.disc(0.0, 0.0, 0.09, m.plastic)
    return s.texture[::-1].copy()


def arch_liner(m: Materials, x: float, y: float, z: float, radius: float, side: float) -> Mesh:
    """The dark drum behind a wheel, open to the outside."""
    turn = np.linspace(-0.35, np.pi + 0.35, 24)
    rim = [(0.0, radius), (-side * 0.42, radius), (-side * 0.42, 0.001)]
    points = np.array([[(a, r * np.cos(t), r * np.sin(t)) for t in turn] for a, r in rim])
    return of_grid("arch", points + np.array([x, y, z]), m.under)


def lamp_bowl(
    m: Materials, centre_m: Sequence[float], radius: float, towards: float = -1.0
) -> Mesh:
    """A reflector that opens along y (-1 to the front), dark around it."""
    t = np.linspace(0.05, 1.0, 6)
    turn = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
    ring, deep = radius * t, -towards * radius * 0.8 * (1.0 - t**2)
    points = np.stack(
        [
            ring[:, None] * np.cos(turn),
            np.broadcast_to(deep[:, None], (len(t), len(turn))),
            ring[:, None] * np.sin(turn),
        ],
        axis=2,
    ) + np.asarray(centre_m)
    triangles = grid_triangles(len(t), 24, around=True)
    vertices = points.reshape(-1, 3)
    return Mesh(
        "bowl", vertices, triangles, smooth_normals(vertices, triangles),
        np.full(len(triangles), m.chrome, np.uint8),
    )  # fmt: skip


def mirror(
    m: Materials,
    side: float,
    centre_m: Sequence[float],
    radii_m: Sequence[float],
    *,
    plastic: bool = False,
) -> Mesh:
    """An outside mirror and its foot."""
    x, y, z = centre_m
    shell = m.plastic if plastic else m.paint
    head = ellipsoid(shell, (side * (x + radii_m[0] * 0.55), y, z), radii_m, power=3.5)
    foot = slab(m.plastic, (side * (x - 0.03), y, z - 0.07), (0.14, 0.05, 0.04))
    return joined("mirror", [head, foot])


def seat(m: Materials, x: float, y: float, *, lift_m: float = 0.0) -> Mesh:
    """A front seat: cushion and back."""
    back = ellipsoid(m.seat, (x, y + 0.16, 0.80 + lift_m), (0.24, 0.10, 0.34), power=4.0)
    cushion = ellipsoid(m.seat, (x, y - 0.12, 0.45 + lift_m), (0.25, 0.28, 0.10), power=4.0)
    return joined("seat", [back, cushion])


def tube(
    material: int,
    points_m: Sequence[Sequence[float] | FloatArray],
    radius_m: float | Sequence[float],
    *,
    around: int = 14,
) -> Mesh:
    """A round bar through points, its ends closed; the radius may change from point to point."""
    p = np.asarray(points_m, float)
    r = np.broadcast_to(np.asarray(radius_m, float), (len(p),))
    along = np.gradient(p, axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    # one direction across, carried along the way without a twist
    across = np.zeros_like(p)
    carried = np.eye(3)[int(np.argmin(np.abs(along[0])))]
    for k, way in enumerate(along):
        carried = carried - way * (carried @ way)
        carried = carried / max(float(np.linalg.norm(carried)), 1e-9)
        across[k] = carried
    other = np.cross(along, across)
    p = np.concatenate([p[:1], p, p[-1:]])
    r = np.concatenate([[1e-4], r, [1e-4]])
    across = np.concatenate([across[:1], across, across[-1:]])
    other = np.concatenate([other[:1], other, other[-1:]])
    turn = np.linspace(0.0, 2.0 * np.pi, around, endpoint=False)
    ring = (
        across[:, None] * np.cos(turn)[None, :, None] + other[:, None] * np.sin(turn)[None, :, None]
    )
    return outward(of_grid("tube", p[:, None] + r[:, None, None] * ring, material, around=True))


def headrest(m: Materials, x: float, y: float, z: float) -> Mesh:
    """A headrest."""
    return ellipsoid(m.seat, (x, y, z), (0.13, 0.05, 0.09), power=3.5)
