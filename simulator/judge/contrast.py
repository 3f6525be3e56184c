"""The contrast of the target itself: how much there is, and the same target with ample contrast."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from simulator.camera.in_scene import CameraInScene
from simulator.judge.readers.shapes import inks_lighter
from simulator.judge.target import JudgedTarget, JudgedText
from simulator.scene.geometry import CLEAR
from simulator.scene.materials import Material, material
from simulator.scene.model_targets import Face
from simulator.units import FloatArray

AMPLE_TEXT = 0.7
"""Modulation from which text does not lack contrast: black on white has 0.8 and more."""
AMPLE_BESIDE = 0.5
"""(target - surround) / (target + surround) from which a target stands out by itself: 1 to 3."""
DARK, LIGHT = 0.04, 0.8
"""Reflectances of ample ink and paper."""
LIGHTEST = 0.95


def bolder(
    in_scene: CameraInScene, target: JudgedTarget, light: float, dark: float, own: float
) -> CameraInScene | None:
    """The camera before the same target with ample contrast; None where it has that.

    Text becomes black on white, or white on black where its characters are the lighter; anything
    else becomes three times lighter or darker than what surrounds it. A face stays as it is.

    Parameters
    ----------
    light, dark
        Signal of the lighter and darker part: paper and ink, or target and surround [e-/s].
    own
        Signal of the target [e-/s].
    """
    modulation = (light - dark) / max(light + dark, 1e-12)
    if isinstance(target, JudgedText):
        return (
            None
            if modulation >= AMPLE_TEXT
            else _swapped(in_scene, target, _text(in_scene, target))
        )
    if isinstance(target.entry, Face) or modulation >= AMPLE_BESIDE or own <= 0.0:
        return None
    ring = dark if own >= light else light
    used = _materials(in_scene, target)
    mean = float(np.mean([in_scene.world.materials[i].reflectance.mean() for i in used]))
    factor = 3.0 * ring / own
    if own < ring or factor * mean > LIGHTEST:
        factor = ring / (3.0 * own)
    made = {i: _scaled(in_scene.world.materials[i], factor) for i in used}
    return _swapped(in_scene, target, made)


def _materials(in_scene: CameraInScene, target: JudgedTarget) -> list[int]:
    """Materials that the target's cards show."""
    materials = {int(m) for i in target.indices for m in np.unique(in_scene.world.cards[i].texture)}
    return sorted(materials - {CLEAR})


def _text(in_scene: CameraInScene, target: JudgedText) -> Mapping[int, Material]:
    """New materials for ink and paper of a text."""
    design = target.design
    ink, paper = (LIGHT, DARK) if inks_lighter(design) else (DARK, LIGHT)
    wanted = {material(design.ink).name: ink, material(design.background).name: paper}
    out = {}
    for i in _materials(in_scene, target):
        m = in_scene.world.materials[i]
        if m.name not in wanted:
            continue
        value = wanted[m.name]
        flat: FloatArray = np.full_like(m.reflectance, value)
        sheeting = m.sheeting if value == LIGHT else None
        out[i] = replace(m, reflectance=flat, sheeting=sheeting, sheeting_colour=None, soiling=0.0)
    return out


def _scaled(m: Material, factor: float) -> Material:
    return replace(m, reflectance=np.minimum(m.reflectance * factor, LIGHTEST))


def _swapped(
    in_scene: CameraInScene, target: JudgedTarget, made: Mapping[int, Material]
) -> CameraInScene | None:
    """The same with some materials of the target's cards exchanged, on these cards alone."""
    if not made:
        return None
    key = tuple(
        (old, m.reflectance.tobytes(), m.sheeting, m.soiling) for old, m in sorted(made.items())
    )
    return in_scene.kin(("bolder", target.indices, key), lambda own: _exchanged(own, target, made))


def _exchanged(
    in_scene: CameraInScene, target: JudgedTarget, made: Mapping[int, Material]
) -> CameraInScene:
    world = in_scene.world
    number = {old: len(world.materials) + k for k, old in enumerate(made)}
    cards = list(world.cards)
    for i in target.indices:
        texture = cards[i].texture.copy()
        for old, new in number.items():
            texture[cards[i].texture == old] = new
        cards[i] = replace(cards[i], texture=texture)
    materials = [*world.materials, *made.values()]
    return replace(in_scene, world=replace(world, cards=cards, materials=materials))
