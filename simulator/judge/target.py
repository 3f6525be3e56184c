"""The judged plate as it lies in the picture: box, characters, patch to trace finely."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.camera.patch import PatchPlan
from simulator.camera.pipeline import State
from simulator.camera.rig import Rig
from simulator.errors import GeometryError
from simulator.judge.lighting import contributions
from simulator.scene.geometry import Card
from simulator.scene.model import Plate
from simulator.scene.radiance import surfaces_at
from simulator.scene.targets.plate import Cell, PlateDesign, cell_corners_m, layout, plate_design
from simulator.units import FloatArray

PAD_PX = 10
"""Room around the plate for the memory of demosaic, noise reduction and sharpening [px]."""
FINE_MM = 2.5
"""Samples on the plate lie no farther apart than this [mm]: a fraction of a stroke."""
MIN_SPLIT, MAX_SPLIT = 3, 16
MAX_FINE_SAMPLES = 4_000_000
HIDDEN_GRID = 12
HIDDEN_REFUSED = 0.9


@dataclass(frozen=True)
class JudgedPlate:
    """A plate in the picture.

    `corners_px` (4, 2) of the plate and `cells_px` (n, 4, 2) of its characters, each upper left,
    upper right, lower right, lower left.
    """

    plate: Plate
    design: PlateDesign
    card: Card
    card_index: int
    cells: list[Cell]
    corners_px: FloatArray
    cells_px: FloatArray
    depth_m: float
    distance_m: float

    @property
    def character_height_px(self) -> float:
        """Mean height of the characters [px]."""
        down = self.cells_px[:, 3] - self.cells_px[:, 0]
        return float(np.linalg.norm(down, axis=1).mean())

    @property
    def box_px(self) -> tuple[int, int, int, int]:
        """Whole pixels that hold the plate: x0, y0, x1, y1."""
        low = np.floor(self.corners_px.min(axis=0)).astype(int)
        high = np.ceil(self.corners_px.max(axis=0)).astype(int)
        return (int(low[0]), int(low[1]), int(high[0]), int(high[1]))


def find_plate(rig: Rig, plate: Plate) -> JudgedPlate:
    """Where the plate lies in the picture.

    Raises
    ------
    GeometryError
        If it is behind the camera, turned away, outside the picture.
    """
    card = rig.world.cards[rig.world.plates[plate.name]]
    key = f"target.{plate.name}.position_m"
    given = list(plate.position_m)
    corners, depths = rig.view.project(card.corners_m)
    if np.any(depths <= 0.0):
        raise GeometryError(
            "The target is behind the camera.",
            key=key,
            given=given,
            allowed="a place in front of the lens",
            mend="move the target along +y, or aim the station at it",
        )
    to_camera = rig.view.position_m - card.centre_m
    if float(to_camera @ card.normal) <= 0.0:
        raise GeometryError(
            "The target is turned away from the camera.",
            key=f"target.{plate.name}.facing_deg",
            given=plate.facing_deg,
            allowed="a facing that shows its front (0 looks back at the camera)",
        )
    width, height = rig.view.width_px, rig.view.height_px
    low, high = corners.min(axis=0), corners.max(axis=0)
    if low.min() < 0.0 or high[0] > width or high[1] > height:
        raise GeometryError(
            "The target is outside the frame.",
            key=key,
            given=given,
            allowed=f"a place whose picture lies within {width} x {height} px;"
            f" it falls at x {low[0]:.0f} to {high[0]:.0f}, y {low[1]:.0f} to {high[1]:.0f}",
            mend="aim the station at it (station.aim_m) or use a shorter focal length",
        )
    _refuse_hidden(rig, plate, key)
    cells = layout(plate)
    cells_px = np.stack([rig.view.project(cell_corners_m(card, cell))[0] for cell in cells])
    return JudgedPlate(
        plate,
        plate_design(plate.design),
        card,
        rig.world.plates[plate.name],
        cells,
        corners,
        cells_px,
        float(rig.view.project(card.centre_m)[1]),
        float(np.linalg.norm(to_camera)),
    )


def hidden_share(rig: Rig, plate: Plate) -> tuple[float, str]:
    """Share of a plate that other things hide, and the name of what hides most of it."""
    index = rig.world.plates[plate.name]
    steps = (np.arange(HIDDEN_GRID) + 0.5) / HIDDEN_GRID
    u, v = np.meshgrid(steps, steps)
    card = rig.world.cards[index]
    points = (
        card.corner_m
        + u[..., None] * card.width_m * card.across
        + v[..., None] * card.height_m * card.down
    )
    xy, _ = rig.view.project(points)
    found = surfaces_at(xy.reshape(-1, 2), rig.packed_cards, rig.packed_view)
    others = found[found != index]
    if others.size == 0:
        return 0.0, ""
    most = int(np.bincount(others).argmax())
    name = rig.world.cards[most].name if most < len(rig.world.cards) else "the ground"
    return others.size / found.size, name


def _refuse_hidden(rig: Rig, plate: Plate, key: str) -> None:
    share, name = hidden_share(rig, plate)
    if share >= HIDDEN_REFUSED:
        raise GeometryError(
            f"The target is hidden: '{name}' stands before it.",
            key=key,
            given=list(plate.position_m),
            allowed="a place that the camera can see",
            mend=f"move the target or '{name}', or the camera",
        )


def plan_patch(
    rig: Rig, state: State, target: JudgedPlate, min_split: int = MIN_SPLIT
) -> PatchPlan:
    """The patch around a plate: padded, and fine enough for its strokes."""
    smear = np.abs(rig.smear_px(state.exposure.shutter_s, target.card.centre_m)).max(axis=0)
    grow = np.ceil(smear / 2.0).astype(int) + PAD_PX
    x0, y0, x1, y1 = target.box_px
    box = (x0 - grow[0], y0 - grow[1], x1 + grow[0], y1 + grow[1])
    pixel_mm = 1000.0 / rig.view.pixels_per_m(target.depth_m)
    split = int(np.clip(np.ceil(pixel_mm / FINE_MM), min_split, MAX_SPLIT))
    wavelength = _wavelength(rig, state, target)
    area = (box[2] - box[0]) * (box[3] - box[1])
    while split > min_split and area * split**2 > MAX_FINE_SAMPLES:
        split -= 1
    return PatchPlan(
        (int(box[0]), int(box[1]), int(box[2]), int(box[3])),
        int(smear.max() / 2.0) + 3 + rig.blur_at(target.depth_m, wavelength).reach_px(),
        split,
        target.card.centre_m,
        wavelength,
    )


def _wavelength(rig: Rig, state: State, target: JudgedPlate) -> float:
    """Mean wavelength of the light on the plate [nm], by how much each light gives there."""
    middle = target.card.texture[target.card.texture.shape[0] // 2]
    material = int(np.bincount(middle).argmax())
    total, weight = 0.0, 0.0
    for row in contributions(
        rig, state.mode, target.card.centre_m, target.card.normal, material, target.card_index
    ):
        if row.electrons_per_s > 0.0:
            total += row.electrons_per_s * rig.wavelength_nm(state.mode, row.light, material)
            weight += row.electrons_per_s
    return total / weight if weight > 0.0 else 550.0
