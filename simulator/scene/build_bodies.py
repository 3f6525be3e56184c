"""Bodies that stand about, rooms, and a look at what runs through what."""

from __future__ import annotations

import zlib
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.messages import Message
from simulator.scene.bodies.given import read_mesh
from simulator.scene.bodies.things import (
    FRAME_M,
    Interior,
    door,
    fence,
    hedge,
    post,
    shutter,
    tree,
    window,
)
from simulator.scene.build_things import HOLE_TEXELS
from simulator.scene.builder import Builder, named
from simulator.scene.geometry import CLEAR, Card, facing_normal, upright_card
from simulator.scene.holes import cut_hole
from simulator.scene.kernels.patterns import OF_MATERIAL
from simulator.scene.materials import material_names
from simulator.scene.mesh import Mesh, box
from simulator.scene.model_bodies import Block, Body, Facade, Fence, Given, Plant, Post, Room
from simulator.scene.model_things import Ground
from simulator.units import FloatArray

TEXEL_M = 0.01
THIN_M = 0.03
"""Blocks lower than this are paint or mats: flat, and no obstacle to light [m]."""
EVEN = 0.02
"""Most variation of a block whose material has no pattern of its own."""
THROUGH_M = 0.05
"""How deep a body reaches through a wall or another body before it is told [m]."""
NEAR_M = 0.02
"""How near to a wall's plane a lens counts as standing in the wall [m]."""
BEHIND_M = 0.15
"""Farthest behind a window that the front of its wall stands [m]."""
BELOW_M = 0.01
"""How far below the ground a target may reach before it is told [m]."""


def add_body(b: Builder, body: Body) -> None:
    """One thing that stands about."""
    key = f"body.{body.name}"
    if isinstance(body, Block) and body.height_m < THIN_M:
        b.cards.append(_painted_ground(b, body, key))
        return
    mesh = _mesh_of(b, body, key)
    scale = body.scale if isinstance(body, Given) else 1.0
    placed = mesh.placed(np.asarray(body.position_m), body.facing_deg, scale)
    variation = 0.0
    if isinstance(body, Block):
        # what has no pattern of its own is all but even
        own = body.material in OF_MATERIAL
        variation = body.variation if own else min(body.variation, EVEN)
    b.add_plain(replace(placed, name=body.name), body.facing_deg, variation)


def _painted_ground(b: Builder, body: Block, key: str) -> Card:
    """Paint or a mat: a level card that keeps no light from the ground beside it."""
    normal, phi = facing_normal(body.facing_deg), np.radians(body.facing_deg)
    across = np.array([np.cos(phi), np.sin(phi), 0.0])
    middle = np.asarray(body.position_m) + np.array([0.0, 0.0, body.height_m])
    corner = middle - across * (body.width_m / 2.0) - normal * (body.depth_m / 2.0)
    index = b.material(body.material, f"{key}.material")
    return Card(
        body.name, corner, across, normal, body.width_m, body.depth_m,
        np.full((1, 1), index, np.uint8), casts_shadow=False,
        variation=body.variation if body.material in OF_MATERIAL else min(body.variation, EVEN),
    )  # fmt: skip


def _mesh_of(b: Builder, body: Body, key: str) -> Mesh:
    """The body over the origin, looking along -y."""
    if isinstance(body, Given):
        return _given(b, body, key)
    index = b.material(body.material, f"{key}.material")
    seed = zlib.crc32(body.name.encode())
    match body:
        case Block():
            size = (body.width_m, body.depth_m, body.height_m)
            mesh = box(body.name, np.zeros(3), size, material=index)
        case Post():
            lamp = b.material("lamp-glass" if body.kind == "lamp-post" else "plastic-white", key)
            arm = max(body.arm_m, 0.3) if body.kind == "lamp-post" else 0.0
            mesh = post(index, body.height_m, body.diameter_m, arm, lamp)
        case Fence():
            mesh = fence(index, body.width_m, body.height_m, body.gap_m)
        case Plant(kind="hedge"):
            mesh = hedge(index, body.width_m, body.depth_m, body.height_m, seed)
        case Plant():
            bark = b.material("bark", key)
            mesh = tree(index, bark, body.height_m, body.width_m, seed)
        case Facade():
            mesh = _facade(b, body, index, key)
    return mesh


def _facade(b: Builder, body: Facade, index: int, key: str) -> Mesh:
    frame = b.material(body.frame, f"{key}.frame")
    if body.kind == "window":
        sill = b.material("concrete", key)
        return window(frame, index, body.width_m, body.height_m, sill, _room_behind(b, body, key))
    if body.kind == "door":
        return door(frame, index, body.width_m, body.height_m, b.material("chrome-dull", key))
    return shutter(frame, index, body.width_m, body.height_m)


def _room_behind(b: Builder, body: Facade, key: str) -> Interior | None:
    """The room behind a window of glass, its wall opened for it; None where none is seen."""
    pane = b.materials[b.material(body.material, f"{key}.material")]
    if body.room_depth_m == 0.0 or pane.transmittance == 0.0:
        return None
    normal = facing_normal(body.facing_deg)
    foot = np.asarray(body.position_m)
    inner = FRAME_M / 2.0
    size = np.array([body.width_m - FRAME_M, body.height_m - FRAME_M])
    for i, card in enumerate(b.cards):
        behind = float((foot - card.corner_m) @ normal)
        if card.normal @ normal < 1.0 - 1e-6 or not -0.001 <= behind <= BEHIND_M:
            continue
        corner = foot - card.corner_m
        left = float(corner @ card.across) - size[0] / 2.0
        top = float(corner @ card.down) - inner - size[1]
        if min(left, top) < 0.0 or left + size[0] > card.width_m or top + size[1] > card.height_m:
            continue
        b.cards[i] = _opened(card, (left, top, left + size[0], top + size[1]))
        walls, floor, curtain = (
            b.material(name, key) for name in ("plaster-white", "wood", "cotton-undyed")
        )
        return Interior(walls, floor, curtain, behind + 0.01, body.room_depth_m)
    return None


def _opened(card: Card, hole_m: tuple[float, float, float, float]) -> Card:
    """A card with a hole more: left, top, right and bottom from its upper left corner [m]."""
    texel = max(TEXEL_M, max(card.width_m, card.height_m) / HOLE_TEXELS)
    rows, columns = (
        max(old, round(length / texel))
        for old, length in zip(card.texture.shape, (card.height_m, card.width_m), strict=True)
    )
    texture = cv2.resize(card.texture, (columns, rows), interpolation=cv2.INTER_NEAREST)
    cut_hole(texture, hole_m, card.width_m, card.height_m)
    return replace(card, texture=texture)


def _given(b: Builder, body: Given, key: str) -> Mesh:
    known = set(material_names())

    def index_of(name: str | None) -> int:
        return b.material(name if name in known else body.material, f"{key}.material")

    return named(f"{key}.file", lambda: read_mesh(Path(body.file), index_of))


def add_room(b: Builder, room: Room) -> None:
    """Walls that look inwards, ceiling and floor."""
    key = f"room.{room.name}"
    wall = b.material(room.wall_material, f"{key}.wall_material")
    foot, normal = np.asarray(room.position_m), facing_normal(room.facing_deg)
    phi = np.radians(room.facing_deg)
    across = np.array([np.cos(phi), np.sin(phi), 0.0])
    w, d, h = room.width_m, room.depth_m, room.height_m
    sides = {
        "back": (-normal * d / 2.0, room.facing_deg, w),
        "front": (normal * d / 2.0, room.facing_deg + 180.0, w),
        "left": (-across * w / 2.0, room.facing_deg + 90.0, d),
        "right": (across * w / 2.0, room.facing_deg - 90.0, d),
    }
    for name, (away, facing, wide) in sides.items():
        if name in room.without:
            continue
        texture = _wall(room, name, wide, wall)
        centre = foot + away + np.array([0.0, 0.0, h / 2.0])
        b.cards.append(
            upright_card(
                f"{room.name} {name} wall",
                centre,
                wide,
                h,
                texture,
                facing_deg=facing,
                variation=room.variation,
                grain_m=0.3,
            )
        )
    levels = [("ceiling", room.ceiling_material, h)]
    if room.floor_material is not None:
        levels.append(("floor", room.floor_material, 0.003))
    for name, material, z in levels:
        index = b.material(material, f"{key}.{name}_material")
        down = -normal if name == "ceiling" else normal
        corner = foot + np.array([0.0, 0.0, z]) - across * w / 2.0 - down * d / 2.0
        b.cards.append(
            Card(
                f"{room.name} {name}",
                corner,
                across,
                down,
                w,
                d,
                np.full((1, 1), index, np.uint8),
                variation=room.variation,
                grain_m=0.3,
            )
        )


def _wall(room: Room, name: str, wide_m: float, index: int) -> NDArray[np.uint8]:
    gaps = [gap for gap in room.gap if gap.wall == name]
    if not gaps:
        return np.full((1, 1), index, np.uint8)
    rows, columns = round(room.height_m / TEXEL_M), round(wide_m / TEXEL_M)
    texture = np.full((rows, columns), index, np.uint8)
    for gap in gaps:
        top = room.height_m - gap.bottom_m - gap.height_m
        hole_m = (gap.left_m, top, gap.left_m + gap.width_m, top + gap.height_m)
        cut_hole(texture, hole_m, wide_m, room.height_m)
    # a hole up to the corner leaves the first texel: it tells the pattern
    return texture


def tell_clashes(b: Builder) -> None:
    """Say which bodies run through a wall or through each other, whether the lens stands in one of
    them, and which targets reach into the ground."""
    solid = {mesh.card for mesh in b.meshes}
    owner = {i: name for name, cards in b.targets.items() for i in cards}
    clashes: set[tuple[str, str]] = set()
    for k, mesh in enumerate(b.meshes):
        name = owner.get(mesh.card, mesh.name)
        for i, card in enumerate(b.cards):
            if i not in solid and owner.get(i) is None and _pierces(mesh, card):
                clashes.add((name, card.name))
        for other in b.meshes[k + 1 :]:
            second = owner.get(other.card, other.name)
            if second != name and _overlap(mesh, other):
                clashes.add((name, second))
    b.assumptions += [
        Message("assumption.runs-through", {"first": first, "second": second})
        for first, second in sorted(clashes)
    ]
    lens_m = np.array([*b.scene.station.ground_position_m, b.scene.station.height_m])
    around = sorted({*_holding(b, lens_m), *_walls_holding(b, lens_m, solid)})
    b.assumptions += [Message("assumption.lens-inside", {"thing": name}) for name in around]
    ground = any(isinstance(surface, Ground) for surface in b.scene.surface)
    for target in b.scene.target if ground else ():
        cards = [b.cards[i] for i in b.targets.get(target.name, ())]
        low = min((float(card.corners_m[:, 2].min()) for card in cards), default=0.0)
        if low < -BELOW_M:
            b.assumptions.append(
                Message("assumption.below-ground", {"target": target.name, "depth_m": -low})
            )


def _holding(b: Builder, point_m: FloatArray) -> list[str]:
    """Bodies within which a point lies, by their outline in plan."""
    holders = []
    for mesh in b.meshes:
        if np.all((mesh.bounds_m[0] < point_m) & (point_m < mesh.bounds_m[1])):
            outline = cv2.convexHull(mesh.vertices_m[:, :2].astype(np.float32))
            if cv2.pointPolygonTest(outline, [float(v) for v in point_m[:2]], False) > 0:
                holders.append(mesh.name)
    return sorted(set(holders))


def _walls_holding(b: Builder, point_m: FloatArray, solid: set[int]) -> list[str]:
    """Walls within which a point lies."""
    holders = []
    for i, card in enumerate(b.cards):
        at = point_m - card.corner_m
        if i not in solid and abs(float(at @ card.normal)) < NEAR_M:
            u, v = float(at @ card.across) / card.width_m, float(at @ card.down) / card.height_m
            if 0.0 <= u < 1.0 and 0.0 <= v < 1.0:
                rows, columns = card.texture.shape
                if card.texture[int(v * rows), int(u * columns)] != CLEAR:
                    holders.append(card.name)
    return holders


def _pierces(mesh: Mesh, card: Card) -> bool:
    """Whether a body reaches through the opaque part of a card."""
    height = (mesh.vertices_m - card.corner_m) @ card.normal
    if height.max() < THROUGH_M or height.min() > -THROUGH_M:
        return False
    ends = np.concatenate([mesh.triangles[:, [0, 1]], mesh.triangles[:, [1, 2]]])
    ends = ends[(height[ends[:, 0]] > 0.0) != (height[ends[:, 1]] > 0.0)]
    if len(ends) == 0:
        return False
    # where edges of the body cross the plane of the card
    h = height[ends]
    share = (h[:, 0] / (h[:, 0] - h[:, 1]))[:, None]
    crossed = mesh.vertices_m[ends[:, 0]] * (1.0 - share) + mesh.vertices_m[ends[:, 1]] * share
    u = (crossed - card.corner_m) @ card.across / card.width_m
    v = (crossed - card.corner_m) @ card.down / card.height_m
    on = (u >= 0.0) & (u < 1.0) & (v >= 0.0) & (v < 1.0)
    rows, columns = card.texture.shape
    opaque = card.texture[(v[on] * rows).astype(int), (u[on] * columns).astype(int)] != CLEAR
    return bool(np.any(opaque))


def _overlap(one: Mesh, other: Mesh) -> bool:
    """Whether two bodies share ground and height, by their outlines in plan."""
    low = np.maximum(one.bounds_m[0], other.bounds_m[0])
    high = np.minimum(one.bounds_m[1], other.bounds_m[1])
    if np.any(high - low < THROUGH_M):
        return False
    outlines = []
    for mesh in (one, other):
        z = mesh.vertices_m[:, 2]
        part = mesh.vertices_m[(z >= low[2] - 0.1) & (z <= high[2] + 0.1), :2]
        if len(part) < 3:
            return False
        outlines.append(cv2.convexHull(part.astype(np.float32)))
    area, _ = cv2.intersectConvexConvex(*outlines)
    return bool(area > THROUGH_M**2)
