"""The judged target as it lies in the picture: box, characters, patch to trace finely."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from simulator.camera.in_scene import CameraInScene
from simulator.camera.pipeline import State
from simulator.camera.region_plan import RegionPlan
from simulator.camera.rolling import seen_px
from simulator.errors import GeometryError
from simulator.judge.lighting import contributions
from simulator.scene.geometry import CLEAR, Card
from simulator.scene.kernels.radiance import surfaces_at
from simulator.scene.model import Plate, Target
from simulator.scene.model_targets import Parcel, Sign
from simulator.scene.radiosity.field import is_rough
from simulator.scene.targets.boards import (
    label_corner_m,
    label_design,
    label_layout,
    sign_design,
    sign_layout,
)
from simulator.scene.targets.plate import Cell, PlateDesign, cell_corners_m, layout, plate_design
from simulator.units import FloatArray

PAD_PX = 10
"""Room around the target for the memory of demosaic, noise reduction and sharpening [px]."""
FINE_MM = 2.5
"""Samples on a plate lie no farther apart than this [mm]: a fraction of a stroke."""
PLATE_STROKES_MM = (7.0, 14.0)
"""Strokes of number plates; other lettering is sampled in proportion to its own stroke."""
MIN_SPLIT, MAX_SPLIT = 3, 16
MAX_FINE_SAMPLES = 4_000_000
ROUGH_SPLIT, MAX_ROUGH_SAMPLES = 2, 250_000
"""How coarsely a search may sample what is large in the picture."""
HIDDEN_GRID = 12
HIDDEN_REFUSED = 0.9


@dataclass(frozen=True)
class JudgedTarget:
    """A target in the picture.

    `card` is its main card and `indices` all its cards in the world; `corners_px` (4, 2) of the
    main card, or of the board with text, are upper left, upper right, lower right, lower left;
    `box_px` the whole pixels that hold it, x0, y0, x1, y1, within the picture.
    """

    entry: Target
    card: Card
    card_index: int
    indices: tuple[int, ...]
    corners_px: FloatArray
    box_px: tuple[int, int, int, int]
    depth_m: float
    distance_m: float

    @property
    def place_px(self) -> FloatArray:
        """Middle (2,) of the main card, or of the board, in the picture [px]."""
        return np.asarray(self.corners_px.mean(axis=0))


@dataclass(frozen=True)
class JudgedText(JudgedTarget):
    """A target with text: plate, sign or labelled parcel.

    `board_m` is the place of the board on its card: left, top, width, height [m]; `cells` are
    measured from the card's corner, `cells_px` (n, 4, 2) their corners in the picture.
    """

    design: PlateDesign
    board_m: tuple[float, float, float, float]
    cells: list[Cell]
    cells_px: FloatArray

    @property
    def character_height_px(self) -> float:
        """Mean height of the characters [px]."""
        down = self.cells_px[:, 3] - self.cells_px[:, 0]
        return float(np.linalg.norm(down, axis=1).mean())


class Lettering(NamedTuple):
    design: PlateDesign
    cells: list[Cell]
    corner_m: tuple[float, float]


def text_of(entry: Target) -> str | None:
    """The text of a target, or None if it bears none."""
    if isinstance(entry, Plate | Sign):
        return entry.text
    return (entry.label or None) if isinstance(entry, Parcel) else None


def lettering_of(entry: Target) -> Lettering:
    """Design, characters and place on its card of a target with text."""
    if isinstance(entry, Plate):
        return Lettering(plate_design(entry.design), layout(entry), (0.0, 0.0))
    if isinstance(entry, Sign):
        return Lettering(sign_design(entry), sign_layout(entry), (0.0, 0.0))
    assert isinstance(entry, Parcel)
    return Lettering(label_design(entry), label_layout(entry), label_corner_m(entry))


def plate_scale(design: PlateDesign) -> float:
    """Size of a lettering beside that of plates: 1 for their strokes, in proportion beyond."""
    low, high = PLATE_STROKES_MM
    return design.stroke_mm / float(np.clip(design.stroke_mm, low, high))


def _position_key(entry: Target) -> str:
    """Dotted key of what places a target."""
    carried = getattr(entry, "carries", None)
    return f"target.{carried or entry.name}.position_m"


def _refuse_unseen(in_scene: CameraInScene, entry: Target, indices: tuple[int, ...]) -> None:
    """Refuse a target behind the camera or turned away."""
    cards = [in_scene.world.cards[i] for i in indices]
    position = getattr(entry, "position_m", None)
    if any(np.any(in_scene.view.project(card.corners_m)[1] <= 0.0) for card in cards):
        raise GeometryError(
            "The target is behind the camera.",
            key=_position_key(entry),
            given=None if position is None else list(position),
            allowed="a place in front of the lens",
            fix="move the target along +y, or aim the station at it",
        )
    if not any(_faces(in_scene, card) for card in cards):
        raise GeometryError(
            "The target is turned away from the camera.",
            key=f"target.{entry.name}.facing_deg",
            given=entry.facing_deg,
            allowed="a facing that shows its front (0 looks back at the camera)",
        )


def _faces(in_scene: CameraInScene, card: Card) -> bool:
    return float((in_scene.view.position_m - card.centre_m) @ card.normal) > 0.0


def _whole_box(corners_px: FloatArray) -> tuple[int, int, int, int]:
    low = np.floor(corners_px.min(axis=0)).astype(int)
    high = np.ceil(corners_px.max(axis=0)).astype(int)
    return (int(low[0]), int(low[1]), int(high[0]), int(high[1]))


def _outside(in_scene: CameraInScene, entry: Target, corners_px: FloatArray) -> GeometryError:
    (left, top), (right, bottom) = corners_px.min(axis=0), corners_px.max(axis=0)
    position = getattr(entry, "position_m", None)
    return GeometryError(
        "The target is outside the frame.",
        key=_position_key(entry),
        given=None if position is None else list(position),
        allowed=f"a place whose picture lies within {in_scene.view.width_px} x"
        f" {in_scene.view.height_px} px;"
        f" it falls at x {left:.0f} to {right:.0f}, y {top:.0f} to {bottom:.0f}",
        fix="aim the station at it (station.aim_m) or use a shorter focal length",
    )


def find_target(in_scene: CameraInScene, entry: Target) -> JudgedTarget:
    """Where a target lies in the picture; part of it may lie outside.

    Raises
    ------
    GeometryError
        If it is behind the camera, turned away, wholly outside the picture or hidden.
    """
    indices = tuple(in_scene.world.targets[entry.name])
    _refuse_unseen(in_scene, entry, indices)
    seen = [i for i in indices if _faces(in_scene, in_scene.world.cards[i])]
    corners = in_scene.view.project(
        np.concatenate([opaque_corners_m(in_scene.world.cards[i]) for i in seen])
    )[0]
    x0, y0, x1, y1 = _whole_box(corners)
    box = (
        max(0, x0),
        max(0, y0),
        min(in_scene.view.width_px, x1),
        min(in_scene.view.height_px, y1),
    )
    if box[0] >= box[2] or box[1] >= box[3]:
        raise _outside(in_scene, entry, corners)
    _refuse_hidden(in_scene, entry, _position_key(entry))
    card = in_scene.world.cards[seen[0]]
    return JudgedTarget(
        entry,
        card,
        seen[0],
        indices,
        in_scene.view.project(card.corners_m)[0],
        box,
        float(in_scene.view.project(card.centre_m)[1]),
        float(np.linalg.norm(in_scene.view.position_m - card.centre_m)),
    )


def find_text(in_scene: CameraInScene, entry: Target, *, hidden: bool = False) -> JudgedText:
    """Where the text of a target lies in the picture, as the shutter records it: all inside.

    Parameters
    ----------
    hidden
        Whether it may stand behind other things.

    Raises
    ------
    GeometryError
        If it is behind the camera, turned away, outside the picture or hidden.
    """
    index = in_scene.world.targets[entry.name][0]
    card = in_scene.world.cards[index]
    _refuse_unseen(in_scene, entry, (index,))
    design, cells, (left, top) = lettering_of(entry)
    wide, high = design.width_mm / 1000.0, design.height_mm / 1000.0
    board = Cell("", left, top, wide, high)

    def seen(cell: Cell) -> FloatArray:
        places = in_scene.view.project(cell_corners_m(card, cell))[0]
        return seen_px(in_scene, card.group, card.centre_m, places)

    corners = seen(board)
    low, upper = corners.min(axis=0), corners.max(axis=0)
    if low.min() < 0.0 or upper[0] > in_scene.view.width_px or upper[1] > in_scene.view.height_px:
        raise _outside(in_scene, entry, corners)
    if not hidden:
        _refuse_hidden(in_scene, entry, _position_key(entry))
    return JudgedText(
        entry,
        card,
        index,
        (index,),
        corners,
        _whole_box(corners),
        float(in_scene.view.project(card.centre_m)[1]),
        float(np.linalg.norm(in_scene.view.position_m - card.centre_m)),
        design,
        (left, top, wide, high),
        cells,
        np.stack([seen(cell) for cell in cells]),
    )


def opaque_corners_m(card: Card) -> FloatArray:
    """Corners (4, 3) of the smallest upright part of a card that holds all it shows [m]."""
    shown = card.texture != CLEAR
    if not np.any(shown):
        return card.corners_m
    rows, columns = shown.shape
    down, across = np.flatnonzero(shown.any(axis=1)), np.flatnonzero(shown.any(axis=0))
    left, right = across[0] / columns * card.width_m, (across[-1] + 1) / columns * card.width_m
    top, bottom = down[0] / rows * card.height_m, (down[-1] + 1) / rows * card.height_m
    return np.stack(
        [card.point_m(*p) for p in ((left, top), (right, top), (right, bottom), (left, bottom))]
    )


def card_grid(card: Card, count: int) -> FloatArray:
    """World points (n, 3) on the opaque parts of a card, of a grid of count x count."""
    steps = (np.arange(count) + 0.5) / count
    u, v = (a.ravel() for a in np.meshgrid(steps, steps))
    rows, columns = card.texture.shape
    opaque = card.texture[(v * rows).astype(int), (u * columns).astype(int)] != CLEAR
    points = (
        card.corner_m
        + u[:, None] * card.width_m * card.across
        + v[:, None] * card.height_m * card.down
    )
    return np.asarray(points[opaque])


def hidden_share(in_scene: CameraInScene, entry: Target) -> tuple[float, str]:
    """Share of a target that other things hide, and the name of what hides most of it.

    Cards that face the camera count by the area they would cover in the picture.
    """
    indices = in_scene.world.targets[entry.name]
    hidden, whole = 0.0, 0.0
    blockers: dict[int, float] = {}
    for index in indices:
        card = in_scene.world.cards[index]
        if not _faces(in_scene, card):
            continue
        points = card_grid(card, HIDDEN_GRID)
        corners = in_scene.view.project(card.corners_m)[0]
        each = polygon_area(corners) / HIDDEN_GRID**2
        if points.size == 0 or not np.isfinite(each):
            continue
        seen = surfaces_at(
            in_scene.view.project(points)[0], in_scene.packed_scene, in_scene.packed_view
        )
        others = seen[~np.isin(seen, indices)]
        hidden += each * others.size
        whole += each * seen.size
        for other in np.unique(others):
            blockers[int(other)] = blockers.get(int(other), 0.0) + each * np.sum(others == other)
    if not blockers or whole <= 0.0:
        return 0.0, ""
    most = max(blockers, key=lambda i: blockers[i])
    name = (
        in_scene.world.cards[most].name if 0 <= most < len(in_scene.world.cards) else "the ground"
    )
    return hidden / whole, name


def polygon_area(corners_px: FloatArray) -> float:
    """Area of a polygon (n, 2) by the shoelace formula."""
    x, y = corners_px[:, 0], corners_px[:, 1]
    return 0.5 * abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))))


def _refuse_hidden(in_scene: CameraInScene, entry: Target, key: str) -> None:
    share, name = hidden_share(in_scene, entry)
    if share >= HIDDEN_REFUSED:
        position = getattr(entry, "position_m", None)
        raise GeometryError(
            f"The target is hidden: '{name}' stands before it.",
            key=key,
            given=None if position is None else list(position),
            allowed="a place that the camera can see",
            fix=f"move the target or '{name}', or the camera",
        )


def plan_region(
    in_scene: CameraInScene, state: State, target: JudgedText, min_split: int = MIN_SPLIT
) -> RegionPlan:
    """The patch around a text: padded, and fine enough for its strokes."""
    smear = np.abs(in_scene.smear_px(state.exposure.shutter_s, target.card.centre_m)).max(axis=0)
    grow = np.ceil(smear / 2.0).astype(int) + PAD_PX
    x0, y0, x1, y1 = target.box_px
    box = (x0 - grow[0], y0 - grow[1], x1 + grow[0], y1 + grow[1])
    pixel_mm = 1000.0 / in_scene.view.pixels_per_m(target.depth_m)
    fine_mm = FINE_MM * plate_scale(target.design)
    split = int(np.clip(np.ceil(pixel_mm / fine_mm), min_split, MAX_SPLIT))
    wavelength = mean_wavelength_nm(in_scene, state, target)
    area = (box[2] - box[0]) * (box[3] - box[1])
    least, most = min_split, MAX_FINE_SAMPLES
    if is_rough():
        least, most = min(min_split, ROUGH_SPLIT), MAX_ROUGH_SAMPLES
    while split > least and area * split**2 > most:
        split -= 1
    return RegionPlan(
        (int(box[0]), int(box[1]), int(box[2]), int(box[3])),
        int(smear.max() / 2.0) + 3 + in_scene.blur_at(target.depth_m, wavelength).reach_px(),
        split,
        target.card.centre_m,
        wavelength,
    )


def main_material(card: Card) -> int:
    """The material that the middle row of a card shows most, or the whole card."""
    middle = card.texture[card.texture.shape[0] // 2]
    opaque = middle[middle != CLEAR]
    if opaque.size == 0:
        opaque = card.texture[card.texture != CLEAR]
    return int(np.bincount(opaque.ravel()).argmax()) if opaque.size else 0


def mean_wavelength_nm(in_scene: CameraInScene, state: State, target: JudgedTarget) -> float:
    """Mean wavelength of the light on the target [nm], by how much each light gives there."""
    material = main_material(target.card)
    total, weight = 0.0, 0.0
    for row in contributions(
        in_scene, state.mode, target.card.centre_m, target.card.normal, material, target.card_index
    ):
        if row.electrons_per_s > 0.0:
            total += row.electrons_per_s * in_scene.wavelength_nm(state.mode, row.light, material)
            weight += row.electrons_per_s
    return total / weight if weight > 0.0 else 550.0
